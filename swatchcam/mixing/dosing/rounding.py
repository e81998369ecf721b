"""From a mix of any amounts to what can be put in: of all ways to weigh and count it, the one that lands surest.

A way is judged by where its amounts lie and by how far the tools may be off: half a step of the scale, the scatter of
drops, what a bottle's calibration and the making of a pre-mix are off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import inf, log

import numpy as np

from ...arrays import Array, Mask
from ...colorimetry.colour_difference import delta_e_2000
from ...colorimetry.intervals import unit_metric
from ...recipes.dosing import Dose, Tools, doses_near
from ...recipes.premix import BATCH_STEPS
from ..pigment_model import Palette
from ..search import USUAL_LIMITS, Limits, Mix, Target, Vessel, aim_of, keeps_to, weighed

WAYS = 6  # of each thing that are tried together with those of the others; more bring nothing; from build studios
# CIEDE2000 that each pre-mix must bring that is still to be made; and part of the pot from which on the ink that goes
# into it counts for more, in proportion. Common sense, no source.
WORTH_MAKING, MUCH_INK = 0.15, 0.5
STEP = 0.02  # of an amount, by which slopes are told


@dataclass(frozen=True)
class _Tried:
    """All ways to put in a mix, as numbers: m of them, of k things."""

    ways: list[tuple[Dose | None, ...]]
    amounts: Array  # (m, k) g of pigment for 1 g of the pot
    std: Array  # (m, k) one standard deviation of each, the same unit
    brought: Array  # (m,) binder that pre-mixes bring along
    to_make: Array  # (m,) pre-mixes that are still to be made


def dispensed(
    palette: Palette,
    target: Target,
    vessel: Vessel,
    mix: Mix,
    grams: float,
    tools: Tools,
    limits: Limits = USUAL_LIMITS,
) -> Mix:
    """The mix as it can be put in: of all ways the one whose colour is to be expected nearest.

    Parameters
    ----------
    grams : the pot; amounts of a mix are for 1 g of it
    limits : that rounding may not break

    Returns
    -------
    Mix with its doses; things of which nothing is left are gone
    """
    things = list(mix.amounts)
    if not things:
        return replace(weighed(palette, target, vessel, {}), exact=mix.expected)
    tried = _tried([_ways_of(thing, mix.amounts[thing] * grams, tools) for thing in things], grams)
    places = np.tile([vessel.things.index(thing) for thing in things], (len(tried.ways), 1)).astype(int)
    shares = vessel.shares(tried.amounts, places, tried.brought)
    allowed = keeps_to(palette, limits, shares, vessel.base) & (fits := _fits(vessel, tried))
    if not fits.any():  # no more goes into a pot than it has room for
        return replace(weighed(palette, target, vessel, {}), exact=mix.expected)
    scores = _expected(palette, target, vessel, mix, shares, tried) + _making(tried, tools, grams)
    # Where even the least is too much, the least it is: the mix kept to the limits before it was rounded.
    scores = np.where(allowed, scores, np.inf) if allowed.any() else np.where(fits, shares.sum(axis=1), np.inf)
    best = int(np.argmin(scores))
    doses = {thing: dose for thing, dose in zip(things, tried.ways[best], strict=True) if dose}
    kept = {thing: dose.pigment_g / grams for thing, dose in doses.items()}
    std = share_std(palette, vessel, doses, grams)
    found = weighed(palette, target, vessel, kept, std, float(tried.brought[best]))
    return replace(found, doses=tuple(doses.values()), exact=mix.expected)


def likeliest(thing: str, wanted_g: float, tools: Tools) -> Dose | None:
    """The dose of one thing that comes nearest to a weight of it; None where nothing is nearer than that."""
    ways = _ways_of(thing, wanted_g, tools)
    one = next((dose for dose in ways if dose), None)
    return one if one and (None not in ways or one.pigment_g < 2 * wanted_g) else None


def _ways_of(thing: str, wanted_g: float, tools: Tools) -> list[Dose | None]:
    """The likeliest doses of one thing; None, nothing of it, where even the smallest is more than is wanted."""
    ways = doses_near(thing, wanted_g, tools)
    found = sorted(ways, key=lambda dose: log(dose.pigment_g / wanted_g) ** 2 + dose.std**2)
    nothing: list[Dose | None] = [None] if wanted_g < min((dose.pigment_g for dose in found), default=inf) else []
    return [*nothing, *found[:WAYS]]


def _tried(ways: Sequence[Sequence[Dose | None]], grams: float) -> _Tried:
    """Every combination of the ways of each thing."""
    several = list(product(*ways))

    def each(of) -> Array:  # type: ignore[no-untyped-def]
        return np.array([[0.0 if dose is None else of(dose) for dose in way] for way in several], dtype=float)

    amounts = each(lambda dose: dose.pigment_g / grams)
    return _Tried(
        several,
        amounts,
        amounts * each(lambda dose: dose.std),
        each(lambda dose: dose.binder_g / grams).sum(axis=1),
        each(lambda dose: dose.to_make).sum(axis=1),
    )


def _fits(vessel: Vessel, tried: _Tried) -> Mask:
    """(m,) whether all that is put in has room in the pot."""
    put_in = tried.amounts.sum(axis=1) + tried.brought
    return np.asarray(put_in <= (1.0 if vessel.grows else vessel.room) + 1e-9)


def _expected(palette: Palette, target: Target, vessel: Vessel, mix: Mix, shares: Array, tried: _Tried) -> Array:
    """(m,) CIEDE2000 from the target that is to be expected of each way.

    To first order about the mix, for all ways together: the winner is predicted in full afterwards.
    """
    aim = aim_of(palette, target)
    metric = unit_metric(np.array(mix.predicted.lab))
    distance = delta_e_2000(palette.labs(shares), aim)
    slopes = _slopes(palette, vessel, mix) @ metric.T
    by_tools = (tried.std**2 @ (slopes**2).sum(axis=1)) if len(slopes) else 0.0
    of_ink = np.trace(metric @ mix.predicted.ink @ metric.T)
    return np.asarray(np.sqrt(distance**2 + of_ink + by_tools))


def _making(tried: _Tried, tools: Tools, grams: float) -> Array:
    """(m,) what making the pre-mixes of each way must be worth, CIEDE2000: for a small pot they take much ink."""
    takes = BATCH_STEPS * tools.scale_g / (MUCH_INK * grams)
    return np.asarray(WORTH_MAKING * max(takes, 1.0) * tried.to_make)


def _slopes(palette: Palette, vessel: Vessel, mix: Mix) -> Array:
    """(k, 3) change of a mix's Lab with each of its amounts."""
    amounts = np.array(list(mix.amounts.values()))
    steps = STEP * np.diag(amounts)
    places = np.tile([vessel.things.index(thing) for thing in mix.amounts], (len(amounts) + 1, 1)).astype(int)
    labs = palette.labs(vessel.shares(np.vstack([amounts, amounts + steps]), places))
    return np.asarray((labs[1:] - labs[0]) / (STEP * amounts)[:, None])


def share_std(palette: Palette, vessel: Vessel, doses: dict[str, Dose], grams: float) -> dict[str, float]:
    """pigment -> % of the whole, one standard deviation, from the tools with which it is put in."""
    own = np.zeros(len(palette.pigments))
    for thing, dose in doses.items():
        own = np.hypot(own, vessel.content[vessel.things.index(thing)] * dose.pigment_g * dose.std / grams)
    return dict(zip(palette.pigments, own.tolist(), strict=True))
