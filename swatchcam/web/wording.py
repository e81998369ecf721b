"""What the program says of its commands -> what a person sees on the page.

The refusals of the library and the mixing table name options and commands, for they were written for a terminal. On a
phone these become the fields and pages of the same use; what only the studio's computer can do is said to be its work.
"""

from __future__ import annotations

import re

# Whole phrases first: their command is not what the page would have one do.
PHRASES = (
    (r"Both --target and --against were given\.", "Both numbers and another photo were given."),
    (r"Give a --target or another photo with --against\.", "Type the numbers that are wanted, or choose a shade."),
    (r"Say with --load left=[\d.]+ --load right=[\d.]+", "Do that on the studio's computer"),
    (
        r"Say with --cup how much you mixed, and with --scale how fine your scale is\.",
        "Mix more, or use a finer scale.",
    ),
    (r"Say it with --load left=[\d.]+ --load right=[\d.]+", "Say it on the studio's computer."),
    (r" or ask with --unknown", " or tick that nobody knows what is in the pot"),
    (
        r"if the recipe is wrong, ask with --unknown",
        "if the recipe is wrong, tick that nobody knows what is in the pot",
    ),
    (r", or say --unknown", ", or tick that nobody knows what is in the pot"),
    (r"Leave out --keep: there is nothing to mix\.", "There is nothing to mix."),
    (r"Of --motif and --area (\w+) were given\.", r"Of the motif's width and height and its area \1 were given."),
    (r"Give one: --motif 30x40 \(cm, width x height\), or --area 1200\.", "Fill in one: 30 and 40 cm, or 1200 cm²."),
    (
        r"Best give what a run has used \(--used '120 g for 40'\), else --ink-volume, or --mesh with --thread\.",
        "Best say what an earlier run took, else the mesh's ink volume, or mesh and thread.",
    ),
    (r"Say the day from which it is in use: --since \S+", "Say on the studio's computer from which day it is in use."),
    (r"[^.;:]*--(?:replace|output)[^.;]*", "That is done on the studio's computer"),
    (r"Give a larger --max-load,", "Allow more pigment,"),
    (r"Give --target L,a,b or PHOTO:left, --record or --shade", "Choose a shade, or type the numbers"),
    (r"Name the batch with --batch, or the strip with --strip", "Choose the batch, or the strip"),
    (r"leave --card away", "leave that field empty"),
    (r"for example --card (\S+)\.", r"for example \1."),
    (r"Name the values of the card in the photo with --card", "Choose the card in the photo"),
    (r'Name it: --shade "river blue"', "Type its name."),
    (r"is named twice with --leftover", "is named twice"),
    (r"Say it: swatchcam shade batch [^;]*", "Keep a strip of that batch with its recipe"),
    (r"Say what was in one: swatchcam shade batch .*", "Keep a strip of one with its recipe."),
    (r"put the recipe right with 'swatchcam shade batch'", "put the recipe right on the page of its batch"),
    # Photos and texts: a phone names no file, and lies in no folder.
    (r"Name each photo once\.", "Choose each photo once."),
    (r"Check its name(?:, folder and permissions| and folder)\.", "Look at it, and send it once more."),
)
OPTIONS = {
    "shade": "shade",
    "batch": "batch",
    "record": "record",
    "against-target": "target",
    "target": "numbers",
    "state": "what was done to the strip",
    "after-heat": "as it is going to be once heat-set",
    "card": "card in the photo",
    "cloth": "cloth",
    "scale": "scale",
    "choice": "choice",
    "strip": "strip",
    "library": "library",
}
# What a command is for -> the page of that use.
PAGES = {
    "keep": "the page 'Photo'",
    "shade list": "the page 'Shades'",
    "shade show": "the shade's page",
    "shade target": "the shade's page",
    "library log": "the page 'Changes'",
    "library remove": "the record's page",
    "library amend": "the record's page",
    "check": "the page 'Photo'",
    "mix correct": "the page 'Pot'",
    "mix predictions": "the page 'Pot'",
    "pigment list": "the page 'Pot'",
}
GROUPS = "amount|card|check|keep|library|measure|mix|near|opacity|pigment|row|serve|shade"
NAMED = rf"swatchcam ((?:{GROUPS})\b(?: [a-z]+)?)"
COMMAND = re.compile(rf"""(with )?'{NAMED}[^']*'|: {NAMED}(?: (?:"[^"]*"|[^\s;]+))*""")
PLAIN_WORD = re.compile(r"[a-z][a-z'-]*(?=[ ,:;?!]|\.?$|\. )")
FINE = re.compile(r"\b[0-9]+\.[0-9]{3,}(?= g\b)")
OPTION = re.compile(r"--([a-z][a-z-]*)")


def on_page(sentence: str) -> str:
    """The sentence as it is right on a page."""
    for pattern, words in PHRASES:
        sentence = re.sub(pattern, words, sentence)
    parts, end = [], 0
    for command in COMMAND.finditer(sentence):
        parts += [OPTION.sub(_field, sentence[end : command.start()]), _page(command)]
        end = command.end()
    found = "".join([*parts, OPTION.sub(_field, sentence[end:])])
    # The name of a file keeps its first letter, and so does what is quoted.
    return found[:1].upper() + found[1:] if PLAIN_WORD.match(found) else found


def rounded(recipe: str) -> str:
    """A recipe's words without digits of grams that no scale shows: two decimals, or two digits of less than 0.1 g."""
    return FINE.sub(lambda found: f"{float(found[0]):{'.2f' if float(found[0]) >= 0.1 else '.2g'}}", recipe)


def _page(found: re.Match[str]) -> str:
    """The page of a command's use; what has none is still done on the studio's computer."""
    command = found[2] or found[3]
    page = PAGES.get(command) or PAGES.get(command.partition(" ")[0])
    if page is None:
        said = found[0].removeprefix("with ").removeprefix(": ").strip("'.")
        lead = "with " if found[1] else ": " if found[3] else ""
        return f"{lead}'{said}' on the studio's computer"
    if found[3]:
        return f" on {page}."
    return f"on {page}" if found[1] else page


def _field(found: re.Match[str]) -> str:
    name = found[1]
    return f"the field '{OPTIONS[name]}'" if name in OPTIONS else found[0]
