"""A pre-mix of pigment and clear base: how to weigh what is too little for the scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import UsageError
from .numbers import check_number
from .scale_resolution import on_scale, tidied

STRENGTHS = (0.1, 0.01)  # part of pigment in a pre-mix
DOSE_STEPS = 10  # of the scale, that a dose of pre-mix fills at least: it is rounded by 5 % at most
BATCH_STEPS = 20  # that the pigment fills of which a pre-mix is made; no source
SPARE = 1.2  # so many times of what is needed is made of a pre-mix; common practice, no source


@dataclass(frozen=True)
class LetDown:
    """A pre-mix of pigment and clear base, to weigh what is too little for the scale."""

    share: float  # part of pigment in it
    grams: float  # of the pre-mix that hold the wanted pigment, as the scale can weigh them
    pigment_g: float  # what these hold
    binder_g: float
    make_pigment_g: float  # of which to make the pre-mix
    make_binder_g: float


def let_down_of(pigment_g: float, scale_g: float, least_g: float = 0.0) -> LetDown:
    """How much of a 10 % pre-mix, or of a 1 % one where that is too little, holds so much pigment.

    The pre-mix itself is made large enough that its own rounding is small.

    Raises
    ------
    UsageError
        A number makes no sense, or even of a 1 % pre-mix there is too little to weigh.
    """
    check_number(pigment_g, "pigment-grams", 1e-6, 1e5)
    check_number(scale_g, "scale-step", 1e-4, 100)
    check_number(least_g, "least-grams", 0, 1000)
    dose, batch = max(least_g, DOSE_STEPS * scale_g), max(least_g, BATCH_STEPS * scale_g)
    share = next((share for share in STRENGTHS if pigment_g / share >= dose), STRENGTHS[-1])
    grams = on_scale(pigment_g / share, scale_g)
    if grams < max(least_g, scale_g):
        raise UsageError("pigment-below-pre-mix", "larger-pot-or-finer-scale", grams=pigment_g, percent=100 * share)
    # Some more than is needed: the whole may grow, and not all of a pre-mix leaves its jar.
    pigment = tidied(math.ceil(max(batch, SPARE * grams * share) / scale_g - 1e-9) * scale_g, scale_g)
    return LetDown(
        share, grams, grams * share, grams * (1 - share), pigment, on_scale(pigment * (1 / share - 1), scale_g)
    )
