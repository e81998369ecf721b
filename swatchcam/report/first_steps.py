"""Where a studio stands: which card values are used, how much the library holds, and the one next step."""

from __future__ import annotations

from collections import defaultdict
from typing import TypedDict

from ..cards.collection import CARD, kept_cards
from ..cards.values import PHOTOGRAPHED
from ..errors import SwatchcamError
from ..library.connection import find_place
from ..library.library import Library, open_library
from ..messages.surface import TERMINAL
from ..recipes.recipe import is_clear_base
from .library_text import held_text

STEPS = {
    "card": (
        "Print a card: swatchcam card print",
        "Is it printed? Lay it on the cloth, a strip in each window, take a photo, and: swatchcam check PHOTO",
    ),
    "strip": (
        "Lay the card on the cloth, a strip in each window, and take a photo.",
        "Compare the two strips:  swatchcam check PHOTO",
        "Keep today's strip:      swatchcam keep PHOTO --shade NAME",
    ),
    "series": (
        "Make a test series of each pigment, so that swatchcam can find recipes:",
        "swatchcam pigment series PHOTO --pigment NAME --load left=0.1 --load right=0.4",
    ),
    "mix": (
        "Check today's strip:      swatchcam check PHOTO --shade NAME",
        "Correct a pot that is off: swatchcam mix correct PHOTO --shade NAME --in-pot 480",
    ),
}


class _Contents(TypedDict):
    place: str
    shades: int
    batches: int
    records: int
    test_series: bool  # whether a batch tells what one pigment does


class _Standing(TypedDict):
    cards: dict[str, str]  # name of a card's values -> its design, and whether nobody measured it
    library: _Contents | None
    refused: SwatchcamError | None  # why the library cannot be read
    next: str | None  # one of STEPS


def first_steps_dict() -> _Standing:
    """What is there and what to do next; nothing is made, and what cannot be read is told, not raised."""
    cards = {
        kept.name: f"{kept.design or '?'}{', never measured' * (kept.grade == PHOTOGRAPHED)}"
        for kept in kept_cards()
        if kept.own and kept.kind == CARD
    }
    library, refusal = None, None
    try:
        place = find_place()
        library = _contents(open_library()) if place.file is None or place.file.exists() else None
    except SwatchcamError as error:
        refusal = error
    return {
        "cards": cards,
        "library": library,
        "refused": refusal,
        "next": None if refusal else _next(bool(cards), library),
    }


def _contents(library: Library) -> _Contents:
    """How much is in a library, and whether some batch tells what one pigment does."""
    shades, batches, records = library.counts()
    recipes = [batch.recipe for batch in library.batches() if batch.recipe]
    alone = any(sum(not is_clear_base(part.what) for part in recipe.parts) == 1 for recipe in recipes)
    place = str(library.place)
    return {"place": place, "shades": shades, "batches": batches, "records": records, "test_series": alone}


def _next(card: bool, library: _Contents | None) -> str:
    if library is None or not library["records"]:
        return "strip" if card else "card"
    return "mix" if library["test_series"] else "series"


def first_steps_text(facts: _Standing) -> str:
    """The same for a person, in a few lines."""
    lines = [_card_line(facts["cards"]), *_library_lines(facts["library"], facts["refused"]), ""]
    steps = STEPS.get(facts["next"] or "", ())
    lines += ["What to do next:", *(f"  {step}" for step in steps), ""] if steps else []
    return "\n".join([*lines, "All commands: swatchcam --help", "Handbook:     swatchcam handbook"])


def _card_line(cards: dict[str, str]) -> str:
    if not cards:
        return "Card:    not measured yet: you can compare strips, but not trust a colour's own numbers"
    of = defaultdict[str, list[str]](list)
    for name, design in cards.items():
        of[design].append(name)
    told = [
        f"{' or '.join(names)} ({design}{', name one with --card' * (len(names) > 1)})" for design, names in of.items()
    ]
    return f"Card:    {', '.join(told)}"


def _library_lines(library: _Contents | None, refusal: SwatchcamError | None) -> list[str]:
    if refusal is not None:
        return [f"Library: {TERMINAL.problem(refusal)}", f"         {TERMINAL.remedy(refusal)}"]
    if library is None:
        return ["Library: none yet; it is made when you keep a first strip"]
    held = held_text(library["shades"], library["batches"], library["records"])
    return [f"Library: {held} in {library['place']}"]
