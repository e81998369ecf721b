"""From a mix to what a scale can weigh: whole steps of it, and no less of anything than can be dispensed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from itertools import product

import numpy as np

from ..colorimetry.colour_difference import delta_e_2000
from ..recipes.scale_resolution import weighed_std
from .pigment_model import Palette
from .search import USUAL_LIMITS, Limits, Mix, Target, Vessel, aim_of, keeps_to, weighed


def dispensed(
    palette: Palette,
    target: Target,
    vessel: Vessel,
    mix: Mix,
    grams: float,
    scale_g: float,
    least_g: Mapping[str, float] | None = None,
    limits: Limits = USUAL_LIMITS,
) -> Mix:
    """The mix as it can be weighed: of all ways to round its amounts the one whose colour comes nearest.

    Parameters
    ----------
    grams : the pot; amounts of a mix are for 1 g of it
    scale_g : the scale's step
    least_g : thing -> g, the smallest amount that can be dispensed, where that is more than a step of the scale

    limits : that rounding may not break

    Returns
    -------
    Mix, whose amounts times `grams` are whole steps of the scale; things of which nothing is left are gone
    """
    things = list(mix.amounts)
    if not things:
        return weighed(palette, target, vessel, {})
    ways = [_ways(mix.amounts[thing] * grams, scale_g, (least_g or {}).get(thing, 0.0)) for thing in things]
    amounts = np.array(list(product(*ways))).reshape(-1, len(things)) / grams
    places = np.tile([vessel.things.index(thing) for thing in things], (len(amounts), 1))
    shares = vessel.shares(amounts, places.astype(int))
    distance = delta_e_2000(palette.labs(shares), aim_of(palette, target))
    allowed = keeps_to(palette, limits, shares) & vessel.holds(amounts)
    # Where even the least is too much, the least it is: the mix kept to the limits before it was rounded.
    best = amounts[int(np.argmin(np.where(allowed, distance, np.inf)))] if allowed.any() else amounts[0]
    kept = {thing: float(amount) for thing, amount in zip(things, best, strict=True) if amount > 0}
    return weighed(palette, target, vessel, kept, _share_std(palette, vessel, kept, grams, scale_g))


def on_steps(grams: float, scale_g: float, least_g: float) -> float:
    """The weight nearest to a wanted one that can be weighed and dispensed, g; 0 where nothing is nearer than that."""
    return min(_ways(grams, scale_g, least_g), key=lambda weight: abs(weight - grams))


def _ways(wanted: float, step: float, least: float) -> list[float]:
    """The weights next to the wanted one, g; below the least that can be dispensed there is that, and nothing."""
    smallest = math.ceil(max(least, step) / step - 1e-9) * step
    below = math.floor(wanted / step + 1e-9) * step
    return [below, below + step] if below >= smallest else [0.0, smallest]


def _share_std(
    palette: Palette, vessel: Vessel, things: Iterable[str], grams: float, scale_g: float
) -> dict[str, float]:
    """pigment -> % of the whole, one standard deviation, from weighing what is put in."""
    own = np.zeros(len(palette.pigments))
    for thing in things:
        own = np.hypot(own, vessel.content[vessel.things.index(thing)] * weighed_std(scale_g) / grams)
    return dict(zip(palette.pigments, own.tolist(), strict=True))
