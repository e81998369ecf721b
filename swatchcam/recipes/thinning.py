"""A pot that is too strong: a fresh pot with a little of the strong ink beside topping up the strong pot.

Pigment cannot be taken out again, but clear base can always be added. Topping up makes ink that nobody asked for; so
the fresh pot is the usual way, and the two are alike only when all of the strong ink is needed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from ..errors import UsageError
from .numbers import check_number
from .recipe import BINDER, GRAMS, SCALE_G, Part, Recipe
from .scale_resolution import on_scale, weighed_std


class Advice(StrEnum):
    """Which of the two ways to take."""

    FRESH_POT = "fresh-pot"  # it takes less clear base and keeps strong ink
    EITHER = "either"  # all of the strong ink is needed, so both are the same
    MIX_THE_REST = "mix-the-rest"  # even all of the strong ink makes less than is wanted


@dataclass(frozen=True)
class Road:
    """One way to thin a pot, as the scale can weigh it; pot and left over together hold all that went in."""

    ink_g: float  # of the strong ink
    binder_g: float  # of fresh clear base
    factor: float  # by which the shares are multiplied
    pot: Recipe  # the ink that was wanted
    left: Recipe | None  # what is left: of the strong ink, or of the thinned one


@dataclass(frozen=True)
class Thinning:
    """Both ways."""

    fresh: Road
    topped: Road
    most_g: float  # all the strong ink, thinned
    short_g: float  # what is missing of the wanted amount; 0 if it can be made
    alike: bool  # all of the strong ink is needed, so that both ways are one
    scale_g: float  # the step on which all is weighed

    @property
    def advice(self) -> Advice:
        """Which way to take."""
        if self.short_g > 0:
            return Advice.MIX_THE_REST
        either = self.alike or self.topped.left is None or self.fresh.left is None
        return Advice.EITHER if either else Advice.FRESH_POT


def thin(strong: Recipe, factor: float, wanted_g: float, scale_g: float = SCALE_G) -> Thinning:
    """Thin a pot with clear base until its shares are `factor` times what they are.

    Parameters
    ----------
    strong : all that is in the pot
    factor : above 0 and below 1
    wanted_g : how much of the thinned ink is needed
    scale_g : the scale's step

    Raises
    ------
    UsageError
        A number makes no sense, or there is less strong ink to weigh than the scale can tell.
    """
    if not 0 < factor < 1:
        raise UsageError("factor-does-not-thin", "give-a-factor-below-one", factor=factor)
    check_number(scale_g, "scale-step", 1e-4, 100)
    check_number(wanted_g, "wanted-grams", scale_g, 1e6)
    most = strong.grams / factor
    fresh = _fresh(strong, factor, min(wanted_g, most), scale_g)
    topped = _topped(strong, factor, wanted_g, scale_g)
    alike, short = most <= wanted_g + scale_g / 2, max(wanted_g - most, 0.0)
    return Thinning(fresh, topped, most, short, alike, scale_g)


def _fresh(strong: Recipe, factor: float, wanted_g: float, scale_g: float) -> Road:
    """Strong ink into a fresh pot of clear base."""
    whole = strong.grams
    ink = min(on_scale(wanted_g * factor, scale_g), whole)
    # The last of the pot goes in unweighed: less than a step of the scale would be left over.
    ink = whole if whole - ink < scale_g else ink
    if ink <= 0:
        least = scale_g / factor
        raise UsageError("strong-ink-below-scale", "make-more-or-finer-scale", grams=wanted_g * factor, least=least)
    binder = on_scale(ink * (1 / factor - 1), scale_g)
    if binder <= 0:
        raise UsageError("clear-base-below-scale", "leave-pot-or-finer-scale", grams=ink * (1 / factor - 1))
    used = _part_of(strong, ink / whole, 0.0 if ink == whole else scale_g)
    left = None if ink == whole else _part_of(strong, 1 - ink / whole, scale_g)
    return Road(ink, binder, ink / (ink + binder), _with_binder(used, binder, scale_g), left)


def _topped(strong: Recipe, factor: float, wanted_g: float, scale_g: float) -> Road:
    """Clear base into the strong pot."""
    whole = strong.grams
    binder = on_scale(whole * (1 / factor - 1), scale_g)
    total, thinned = whole + binder, _with_binder(strong, binder, scale_g)
    share = min(wanted_g / total, 1.0)
    # What is within half a step of the wanted amount is all of it.
    share = 1.0 if total - wanted_g < scale_g / 2 else share
    left = _part_of(thinned, 1 - share, scale_g) if share < 1 else None
    return Road(whole, binder, whole / total, _part_of(thinned, share, scale_g if left else 0.0), left)


def _part_of(recipe: Recipe, share: float, scale_g: float) -> Recipe:
    """What is in that share of a pot; `scale_g` is the step of the scale that it was weighed out on, 0 if it was not.

    An error of the weight belongs to each part by its share of the whole. That they err together is left out.
    """
    whole, std = recipe.grams, weighed_std(scale_g)
    return Recipe(
        tuple(
            _grams(part, share * part.grams, math.hypot(share * part.grams_std, part.grams / whole * std))
            for part in recipe.parts
        )
    )


def _with_binder(recipe: Recipe, binder_g: float, scale_g: float) -> Recipe:
    """The pot after fresh clear base was weighed into it."""
    if binder_g <= 0:
        return recipe
    std, parts = weighed_std(scale_g), []
    for part in recipe.parts:
        more = part.what == BINDER
        parts.append(_grams(part, part.grams + binder_g, math.hypot(part.grams_std, std)) if more else part)
    if any(part.what == BINDER for part in parts):
        return Recipe(tuple(parts))
    return Recipe((Part(BINDER, binder_g, GRAMS, binder_g, std), *parts))


def _grams(part: Part, grams: float, std: float) -> Part:
    return replace(part, amount=grams, unit=GRAMS, grams=grams, grams_std=std)
