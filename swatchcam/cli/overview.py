"""All commands in one list by task, each in a printmaker's words: what `swatchcam --help` shows."""

from __future__ import annotations

SECTIONS: dict[str, dict[str, str]] = {
    "Measure": {
        "check": "Is today's strip the same as the last batch or the target?",
        "measure": "Measure the colours of the strips in a photo",
        "opacity": "See if an ink covers dark cloth, and in how many passes",
        "near": "Find the shades nearest to a colour",
    },
    "Cards and pigment rows": {
        "card print": "Print the card that goes in every photo, or a pigment row",
        "card import": "Import a spectrophotometer's readings",
        "card learn": "Learn a print or pigment row beside a measured card",
        "card list": "List your cards and pigment rows, and which is in use",
        "card use": "Say which card's values to use, for all photos or one print",
        "card test": "Test whether your card measures right",
        "card show": "List the colours of a card or a pigment row",
        "card remove": "Remove a card or a pigment row; its files are kept",
    },
    "Library": {
        "keep": "Keep a strip with its batch and recipe, to find it again",
        "shade list": "List your shades, or find some of them",
        "shade show": "Look up a shade: batches, recipes, how well they matched",
        "shade set": "Give a shade a target or tags, rename or merge it",
        "shade page": "Make a web page of your shades",
        "shade cards": "Make shade cards for the wall",
        "batch": "Look up a batch, or correct its recipe, ink, day or name",
        "record": "Look up one measured strip, or correct its details",
        "remove": "Remove a measured strip, a shade, a proposal or a pigment",
        "undo": "See what was changed, and undo it",
    },
    "Mix": {
        "mix recipe": "Find a recipe for a colour",
        "mix correct": "Find out what to add to a pot that is off, or how to thin one",
        "mix again": "Mix a shade again, and use up what is left of old pots",
        "mix use-up": "Use up leftovers of any shade",
        "mix predictions": "See how well earlier recipes and corrections came out",
        "amount": "Work out how much ink to mix for a run",
        "pigment list": "List your pigments: strength, limits, lots",
        "pigment show": "Look up what one pigment does, from weak to strong",
        "pigment set": "Note a pigment's limit, price or new bottle (lot)",
        "pigment series": "Keep a test series of one pigment, from weak to strong",
        "shelf list": "See what is left: pots, pre-mixes, pigments",
        "shelf weigh": "Note what is left of a pot, or what was taken out",
        "shelf pre-mix": "Work out a pre-mix, and put it on the shelf",
    },
    "Studio": {
        "studio": "Say once what you weigh and count with, and what is usual",
        "handbook": "Read the handbook, chapter by chapter",
        "serve": "Open the page that your phone uses",
        "library where": "See where the library is and how much is in it",
        "library fill": "Measure and keep a whole folder of photos",
        "library export": "Write a table of everything, for other programs",
        "library backup": "Back up everything into one file",
        "library restore": "Bring back a backup",
        "library verify": "Check that no photo or record is damaged",
        "library upgrade": "Bring an old library up to date",
    },
}


def in_group(group: str) -> list[tuple[str, str]]:
    """(command, words) of the commands of one group, in the order of the list."""
    return [each for commands in SECTIONS.values() for each in commands.items() if each[0].startswith(f"{group} ")]
