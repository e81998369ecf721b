"""Whether a colour can be had from the pigments at hand, how it holds under another light, and what else would help."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from ..colorimetry.cielab import lab_to_lch, xyz_to_lab
from ..colorimetry.colour_difference import delta_e_2000, describe_difference
from ..colorimetry.spectra import xyz_weights
from ..text import listed
from .pigment_model import Palette
from .search import Limits, Mix, Target, Vessel, aim_of, mixes

# No source for these but where one is named.
HIT = 1.0  # CIEDE2000; nearer than this the theory sees no way to come nearer worth looking for
STRONGER = 3.0  # times the limit that is tried to see whether a stronger load would help
HELPS = 0.6  # of the distance that must be left at most for it to be worth saying
BLACK_L, BLACK_C = 28.0, 10.0  # L* below which and C* below which a colour is called black; common practice, no source
LIGHTS = ("A", "LED-B3")


@dataclass(frozen=True)
class Reach:
    """How near the pigments at hand come to a target."""

    distance: float  # CIEDE2000 of the nearest mix
    hit: bool
    needs: tuple[str, ...]  # what would be needed to come nearer, in words


def reach_of(palette: Palette, target: Target, vessel: Vessel, limits: Limits, best: Mix) -> Reach:
    """What the best mix that keeps to the limits means."""
    if best.distance <= HIT:
        return Reach(best.distance, True, ())
    aim = aim_of(palette, target)
    needs = [_stronger(palette, target, vessel, limits, best), _bottles(palette, target, vessel, limits, best)]
    needs = [need for need in (*needs, _black(aim)) if need]
    return Reach(best.distance, False, tuple(needs or _another(aim, best)))


def _stronger(palette: Palette, target: Target, vessel: Vessel, limits: Limits, best: Mix) -> str:
    more = Limits(STRONGER * limits.most, {name: STRONGER * most for name, most in limits.each.items()}, limits.things)
    nearest = min([best, *mixes(palette, target, vessel, more)], key=lambda mix: mix.distance)
    if nearest.distance > HELPS * best.distance:
        return ""
    over = [f"{share:.2g} % of {name}" for name, share in nearest.shares.items() if share > limits.each.get(name, 100)]
    load = listed(over) if over else f"about {nearest.load:.2g} % of pigment"
    return (
        f"a stronger load: {load} would come to {nearest.distance:.1f}, but that is more than the limit, and costs rub"
        " and wash fastness"
    )


def _bottles(palette: Palette, target: Target, vessel: Vessel, limits: Limits, best: Mix) -> str:
    """Whether one pigment more in the same pot would help."""
    if len(vessel.things) <= limits.things:
        return ""
    more = mixes(palette, target, vessel, replace(limits, things=limits.things + 1))
    nearest = min([best, *more], key=lambda mix: mix.distance)
    if nearest.distance > HELPS * best.distance:
        return ""
    return f"{len(nearest.amounts)} pigments ({listed(sorted(nearest.amounts))}) would come to {nearest.distance:.1f}"


def _black(aim: Array) -> str:
    lightness, chroma, _ = lab_to_lch(aim)
    if lightness > BLACK_L or chroma > BLACK_C:
        return ""
    return (
        "a ready-mixed black: a full black takes so much pigment before it stops being grey that ready-mixed ink is the"
        " usual answer (common practice, no source)"
    )


def _another(aim: Array, best: Mix) -> list[str]:
    words = describe_difference(aim, np.array(best.predicted.lab))
    return [f"another pigment: the target is {listed(words)} than anything these give"] if words else []


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
