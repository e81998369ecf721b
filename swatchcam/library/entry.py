"""What a person says of a strip that is kept: shade, batch, state, cloth, recipe and so on, as it was typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from ..errors import UsageError
from ..recipes.film_weight import Coat, parse_coat
from ..recipes.let_down import parse_let_down
from ..recipes.measures import NONE, Measures
from ..recipes.recipe import SCALE_G, TIP_G, Recipe, parse_recipe
from .records import AIR_DRIED, DRY, State, parse_state


@dataclass(frozen=True)
class Entry:
    """What a person says of a strip; what is left empty is copied from the shade's last record."""

    shade: str
    batch: str = ""  # by default the day it was measured
    state: State = DRY
    mark: str = ""
    cloth: str = ""
    mesh: str = ""
    squeegee: str = ""
    light: str = ""
    measured: str = ""  # ISO date; by default the day the photo was taken, else today
    notes: str = ""
    mixed: str = ""  # ISO date
    ink: str = ""
    recipe: Recipe | None = None
    batch_notes: str = ""
    coat: Coat | None = None  # wet ink on this strip by weight
    let_down: float = 0.0  # parts of clear base to one part of the pot's ink
    take_over: bool = True  # what is left empty from the shade's last record


def entry_of(
    shade: str,
    state: str = AIR_DRIED,
    mark: str = "",
    light: str = "",
    recipe: str = "",
    scale: float | None = None,
    drop: float | None = None,
    tip: float = TIP_G,
    coat: str = "",
    let_down: str = "",
    measures: Measures = NONE,
    **rest: Any,
) -> Entry:
    """What a person typed -> Entry; `recipe` may be the name of a text file.

    Where nobody said the `scale`, it is the studio's for a recipe, and for a coat what its digits tell. `measures` are
    the studio's scale, bottles and spoon.

    Raises
    ------
    UsageError
        A state, a recipe, a coat or a let-down that cannot be read.
    """
    step = next(one for one in (scale, measures.scale_g, SCALE_G) if one is not None)
    tidy: dict[str, Any] = {name: single_spaced(value) for name, value in rest.items()}
    return Entry(
        shade,
        state=parse_state(state),
        mark=single_spaced(mark),
        light=light,
        recipe=recipe_of(recipe, step, drop, tip, measures=measures) if recipe.strip() else None,
        coat=parse_coat(coat, scale) if coat.strip() else None,
        let_down=parse_let_down(let_down),
        **tidy,
    )


def recipe_of(
    text: str,
    scale: float = SCALE_G,
    drop: float | None = None,
    tip: float = TIP_G,
    *,
    measures: Measures = NONE,
) -> Recipe:
    """A recipe as it was typed, or that in the text file of this name.

    Raises
    ------
    UsageError
        As `parse_recipe`; or there is no such file.
    """
    try:
        written = Path(text).read_text(encoding="utf-8-sig") if Path(text).is_file() else text
    except (OSError, ValueError):  # too long for a name, or no text in the file
        written = text
    if written == text and Path(text).suffix.lower() in (".txt", ".md", ".csv"):
        raise UsageError("recipe-file-missing", "check-the-recipe-file", file=text)
    return parse_recipe(written, scale, drop, tip, measures=measures)


def day_of(text: str, what: str) -> str:
    """A day as ISO 8601 has it; "" stays.

    Raises
    ------
    UsageError
        It is none; `what` was done on it: mixed, measured, first used.
    """
    if not text:
        return ""
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise UsageError("day-unreadable", "write-the-day", typed=text, what=what) from None


def single_spaced(text: str) -> str:
    """The text on one line, with single blanks."""
    return " ".join(text.split())
