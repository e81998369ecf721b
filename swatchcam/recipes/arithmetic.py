"""Recipes put together, and parts of them taken: what is in a pot after something was poured in or out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from ..errors import UsageError
from ..text import key
from .numbers import check_number
from .recipe import BINDER, GRAMS, NO_BASE, Part, Recipe
from .scale_resolution import on_scale, weighed_std

DIGITS = 4  # decimals of grams: far below any scale, and short enough to be read
# A pot may seem so much fuller than its recipe makes: relative, and standard deviations of what was weighed.
SCANT, SURE = 1e-4, 2.0


def weighed(grams: Mapping[str, float], scale_g: float) -> Recipe:
    """What a scale of such a step weighs: name -> g, the clear base among them or not; nothing is left out."""
    return Recipe(tuple(Part(what, g, GRAMS, g, weighed_std(scale_g)) for what, g in grams.items() if g > 0))


def filled_up(pigments: Mapping[str, float], whole_g: float, scale_g: float) -> Recipe:
    """Pigments, name -> g, and as much clear base as makes the whole, in steps of the scale; 0 g where none does."""
    binder = on_scale(max(whole_g - sum(pigments.values()), 0.0), scale_g)
    base = Part(BINDER, binder, GRAMS, binder, weighed_std(scale_g)) if binder else NO_BASE
    return Recipe((base, *weighed(pigments, scale_g).parts))


def together(*recipes: Recipe) -> Recipe:
    """What is in a pot into which all of them went.

    The weights' errors add as independent ones, but for what doses from one bottle or pre-mix share.
    """
    parts: dict[str, Part] = {}
    for part in (part for recipe in recipes for part in recipe.parts):
        known = parts.get(key(part.what))
        parts[key(part.what)] = _in_grams(part) if known is None else _sum(known, part)
    return Recipe(tuple(parts.values()))


def part_of(recipe: Recipe, grams: float) -> Recipe:
    """So many grams of a mixed pot: every part in the same ratio, and as sure as it was.

    Raises
    ------
    UsageError
        That is no weight, or surely more than was mixed.
    """
    check_number(grams, "ink-in-pot", 1e-3, 1e6)
    factor = grams / recipe.grams
    if grams > recipe.grams * (1 + SCANT) + SURE * _weighing_std(recipe):
        raise UsageError("pot-heavier-than-recipe", "weigh-or-correct-recipe", grams=grams, recipe_grams=recipe.grams)
    scaled = (_scaled(part, factor) for part in recipe.parts)
    return Recipe(tuple(part for part in scaled if part.grams > 0 or part.what == BINDER))


def _weighing_std(recipe: Recipe) -> float:
    """How far, g, a weighing of the whole pot may be from the sum of its parts, on the scale that they were put on."""
    each = [part.grams_std for part in recipe.parts]
    return math.hypot(*each, max(each, default=0.0))  # the whole is read once more


def _in_grams(part: Part) -> Part:
    return replace(part, amount=part.grams, unit=GRAMS)


def _scaled(part: Part, factor: float) -> Part:
    grams = round(part.grams * factor, DIGITS)
    if part.what == BINDER and not grams:
        return NO_BASE
    std, common = part.grams_std * factor, part.common * factor
    return Part(part.what, grams, GRAMS, grams, std, part.number, part.source, common)


def _sum(one: Part, other: Part) -> Part:
    grams, number = round(one.grams + other.grams, DIGITS), one.number or other.number
    # What was weighed as it is takes nothing from what the doses of one bottle share.
    if one.source and other.source and key(one.source) != key(other.source):
        return Part(one.what, grams, GRAMS, grams, math.hypot(one.grams_std, other.grams_std), number)
    own = one.grams_std**2 - one.common**2 + other.grams_std**2 - other.common**2
    common, source = one.common + other.common, one.source or other.source
    return Part(one.what, grams, GRAMS, grams, math.sqrt(max(own, 0.0) + common**2), number, source, common)
