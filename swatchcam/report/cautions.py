"""What to take care of: in full the first time, later one line that names where to read it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING

from ..library.records import HEAT_SET, State
from ..recipes.recipe import Recipe
from ..recipes.safety import COUNTED, FIXER, HEAT, INK, LINES, POWDER, care_lines, named_in, subjects_of
from ..text import listed

if TYPE_CHECKING:
    from ..library.library import Library

CHAPTERS = {HEAT: "heat", POWDER: "pigments"}  # where the lines are; all others stand in the chapter of recipes
NOBODY: frozenset[str] = frozenset()
NAMED = (FIXER, POWDER, HEAT)  # in a heading: what comes in now and then


def heat_in(states: Iterable[State]) -> set[str]:
    """HEAT if one of these strips was heat-set."""
    return {HEAT} if any(state.name == HEAT_SET for state in states) else set()


def care_of_recipes(recipes: Iterable[Recipe | None], subjects: Collection[str] = ()) -> list[str]:
    """The lines on what is in these recipes, and on further subjects."""
    return list(care_lines(named_in(part.what for recipe in recipes if recipe for part in recipe.parts) | {*subjects}))


def first_time(library: Library | None, lines: Iterable[str], own: int = 0) -> bool:
    """Whether the library has nothing yet of what one of these lines is about, besides this page's `own`."""
    from ..library.search import handled  # a check that asks no library does not load the database

    asked = [subject for subject in subjects_of(lines) if subject in COUNTED]
    before = handled(library, asked) if library and asked else Counter[str]()
    return any(before[subject] <= own for subject in asked)


def care_text(lines: Sequence[str], known: Collection[str] = NOBODY) -> str:
    """The lines as they stand below an amount; on subjects that are `known` only where they are to be read."""
    short = [subject for subject in subjects_of(lines) if subject in known]
    hidden = {line for subject in short for line in LINES[subject]}
    told = [f"  - {line}" for line in lines if line not in hidden]
    return "\n".join((["Take care:", *told] if told else []) + _references(short))


def care_heading(lines: Sequence[str]) -> str:
    """What a page folds the lines under: "Caution: ink, fixer and heat"."""
    there = [subject for subject in subjects_of(lines) if subject in (INK, *NAMED)]
    return f"Caution: {listed(there)}" if {*there} & {*NAMED} else "Caution"


def _references(subjects: Iterable[str]) -> list[str]:
    chapters = dict[str, list[str]]()
    for subject in subjects:
        chapters.setdefault(CHAPTERS.get(subject, "recipe"), []).append(subject)
    return [f"Take care with {listed(each)}: swatchcam handbook {chapter}" for chapter, each in chapters.items()]
