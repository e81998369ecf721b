"""The grey scale for change in colour: what a fastness test would grade a difference, from 5 (none) down to 1.

The standards' texts were not at hand. The steps of ISO 105-A02:1993 were read in two independent excerpts. The formula
of ISO 105-A05:1996 is from memory, and agrees with two public implementations; the ranges of its grades are from
memory, and each limit is the middle between two neighbouring steps of A02.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from ..errors import UsageError
from .cielab import lab_to_lch
from .colour_difference import delta_lch

BLUE = 280.0  # degrees; about this hue chroma and hue are weighed otherwise
HALVING = 3.4  # dE_F of grade 3: from here a grade less for every doubling


@dataclass(frozen=True)
class GreyGrade:
    """One grade of a grey scale: the CIELAB difference of its pair of greys, and from which difference on it is given.

    The difference is dE_F for change in colour, dE_GS for staining (`colorimetry.staining`).
    """

    grade: str
    nominal: float  # CIELAB, ISO 105-A02 or A03
    tolerance: float  # CIELAB, how far a printed scale may be off
    start: float  # inclusive; it ends where the next one starts


A02_STEPS = (
    GreyGrade("5", 0.0, 0.2, 0.0),
    GreyGrade("4-5", 0.8, 0.2, 0.4),
    GreyGrade("4", 1.7, 0.3, 1.25),
    GreyGrade("3-4", 2.5, 0.35, 2.1),
    GreyGrade("3", 3.4, 0.4, 2.95),
    GreyGrade("2-3", 4.8, 0.5, 4.1),
    GreyGrade("2", 6.8, 0.6, 5.8),
    GreyGrade("1-2", 9.6, 0.7, 8.2),
    GreyGrade("1", 13.6, 1.0, 11.6),
)
GRADES = tuple(step.grade for step in A02_STEPS)  # from no change to a great one


def grey_scale_difference(lab_original: ArrayLike, lab_tested: ArrayLike) -> Array:
    """dE_F of ISO 105-A05, which the grade is read from.

    Parameters
    ----------
    lab_original, lab_tested : (..., 3) arrays, broadcast together
        CIELAB under D65 and 10 degrees, before and after.

    Returns
    -------
    (...) array, CIELAB units; of greys the difference in lightness. It is not quite the same the other way round.

    Source
    ------
    ISO 105-A05:1996, from memory.
    """
    original, tested = lab_to_lch(lab_original), lab_to_lch(lab_tested)
    lightness, chroma, hue = np.moveaxis(delta_lch(lab_tested, lab_original), -1, 0)
    mean_chroma = (original[..., 1] + tested[..., 1]) / 2
    from_blue = _from_blue(original[..., 2], tested[..., 2])
    shift = chroma * mean_chroma * np.exp(-((from_blue / 30) ** 2)) / 100
    chroma_f = (chroma - shift) / (1 + (mean_chroma / 50) ** 2)
    hue_f = (hue - shift) / (1 + (mean_chroma / 100) ** 2)
    result: Array = np.sqrt(lightness**2 + chroma_f**2 + hue_f**2)
    return result


def _from_blue(one: Array, other: Array) -> Array:
    """Degrees, 0 to 180, from blue to the hue halfway between two; of opposite hues the middle above the smaller."""
    middle = (one + other) / 2
    middle = np.where(np.abs(one - other) > 180, middle + 180, middle) % 360
    away = np.abs(middle - BLUE)
    return np.minimum(away, 360 - away)


def grey_scale_rating(difference: ArrayLike) -> Array:
    """dE_F -> GSc, the grade as a number between the steps, 5 down to 1.

    Source
    ------
    ISO 105-A05:1996, from memory.
    """
    difference = np.asarray(difference, dtype=float)
    small = 5 - difference / 1.7
    large = 5 - np.log2(np.maximum(difference, HALVING) / 0.85)
    return np.maximum(np.where(difference <= HALVING, small, large), 1)


def grade(difference: float, steps: Sequence[GreyGrade] = A02_STEPS) -> str:
    """A difference -> "5", "4-5", "4" ... "1"; dE_F, unless the steps are those of another scale.

    Raises
    ------
    UsageError
        Not a number, or below 0.
    """
    if not difference >= 0:
        raise UsageError("difference-without-grade", "give-a-difference", difference=difference)
    return next(step.grade for step in reversed(steps) if difference >= step.start)


def grades_within(low: float, high: float, steps: Sequence[GreyGrade] = A02_STEPS) -> tuple[str, ...]:
    """The grades that a difference known to lie between `low` and `high` may have, the best first; as of `grade`.

    Near a limit between two grades the printed one is a matter of chance: this says which others are as good.

    Raises
    ------
    UsageError
        The ends are no numbers, below 0, or the wrong way round.
    """
    best, worst = GRADES.index(grade(low, steps)), GRADES.index(grade(high, steps))
    if low > high:
        raise UsageError("nothing-between", "smaller-number-first", low=low, high=high)
    return GRADES[best : worst + 1]
