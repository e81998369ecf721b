"""Whether a colour can be had from the pigments at hand, how it holds under another light, and what else would help."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from ..colorimetry.cielab import lab_to_lch, xyz_to_lab
from ..colorimetry.colour_difference import delta_e_2000, describe_difference
from ..colorimetry.spectra import xyz_weights
from .pigment_model import Palette
from .search import Limits, Mix, Target, Vessel, aim_of, mixes

# No source for these but where one is named.
HIT = 1.0  # CIEDE2000; nearer than this the theory sees no way to come nearer worth looking for
STRONGER = 3.0  # times the limit that is tried to see whether a stronger load would help
HELPS = 0.6  # of the distance that must be left at most for it to be worth saying
BLACK_L, BLACK_C = 28.0, 10.0  # L* below which and C* below which a colour is called black; common practice, no source
LIGHTS = ("A", "LED-B3")


class Means(StrEnum):
    """What may bring a pot nearer than the pigments at hand and their limits do."""

    STRONGER_LOAD = "stronger-load"  # than the limits allow; costs rub and wash fastness
    MORE_PIGMENTS = "more-pigments"  # of those at hand, in one pot
    READY_BLACK = "ready-mixed-black"
    ANOTHER_PIGMENT = "another-pigment"


@dataclass(frozen=True)
class Need:
    """What would be needed to come nearer to a target."""

    means: Means
    nearest: float | None = None  # CIEDE2000 that it would come to, where that can be told
    load: float | None = None  # % of all pigment then, of a stronger load
    over: Mapping[str, float] = field(default_factory=dict)  # pigment -> % of it, of those beyond their own limit
    pigments: tuple[str, ...] = ()  # that go into the pot, of more pigments
    direction: tuple[str, ...] = ()  # which way the target lies from all mixes, as `describe_difference` says it


@dataclass(frozen=True)
class Reach:
    """How near the pigments at hand come to a target."""

    distance: float  # CIEDE2000 of the nearest mix
    hit: bool
    needs: tuple[Need, ...]


def reach_of(palette: Palette, target: Target, vessel: Vessel, limits: Limits, best: Mix) -> Reach:
    """What the best mix that keeps to the limits means."""
    if best.distance <= HIT:
        return Reach(best.distance, True, ())
    aim = aim_of(palette, target)
    tried = (
        _stronger(palette, target, vessel, limits, best),
        _bottles(palette, target, vessel, limits, best),
        None if best.amounts.keys() & limits.ready else _black(aim),
    )
    needs = [need for need in tried if need]
    return Reach(best.distance, False, tuple(needs or _another(aim, best)))


def _stronger(palette: Palette, target: Target, vessel: Vessel, limits: Limits, best: Mix) -> Need | None:
    # A ready-mixed ink may fill the pot as it is.
    each = {name: most if name in limits.ready else STRONGER * most for name, most in limits.each.items()}
    more = replace(limits, most=STRONGER * limits.most, each=each)
    nearest = min([best, *mixes(palette, target, vessel, more)], key=lambda mix: mix.distance)
    if nearest.distance > HELPS * best.distance:
        return None
    shares = {name: share for name, share in nearest.shares.items() if name not in limits.ready}
    over = {name: share for name, share in shares.items() if share > limits.each.get(name, 100)}
    return Need(Means.STRONGER_LOAD, nearest.distance, sum(shares.values()), over)


def _bottles(palette: Palette, target: Target, vessel: Vessel, limits: Limits, best: Mix) -> Need | None:
    """Whether one pigment more in the same pot would help."""
    if len(vessel.things) <= limits.things:
        return None
    more = mixes(palette, target, vessel, replace(limits, things=limits.things + 1))
    nearest = min([best, *more], key=lambda mix: mix.distance)
    if nearest.distance > HELPS * best.distance:
        return None
    return Need(Means.MORE_PIGMENTS, nearest.distance, pigments=tuple(sorted(nearest.amounts)))


def _black(aim: Array) -> Need | None:
    """A full black takes so much pigment before it stops being grey that ready-mixed ink is common practice."""
    lightness, chroma, _ = lab_to_lch(aim)
    return None if lightness > BLACK_L or chroma > BLACK_C else Need(Means.READY_BLACK)


def _another(aim: Array, best: Mix) -> list[Need]:
    direction = describe_difference(aim, np.array(best.predicted.lab))
    return [Need(Means.ANOTHER_PIGMENT, direction=direction)] if direction else []


def metameric_shift(sample: ArrayLike, target: ArrayLike, light: str) -> float:
    """CIEDE2000 that a mix and its target, reflectances (81,), differ by under a light if they match under D65.

    Source
    ------
    CIE 15:2018, clause 9, special metamerism index with the multiplicative correction; 10 degrees. From memory.
    """
    first, other = xyz_weights(), xyz_weights(light)
    one, two = np.asarray(sample, dtype=float), np.asarray(target, dtype=float)
    correction = (two @ first) / (one @ first)
    white = other.sum(axis=0)
    return float(delta_e_2000(xyz_to_lab(one @ other * correction, white), xyz_to_lab(two @ other, white)))
