"""The grey scale for staining: how much of a print came off on a white cloth, from 5 (nothing) down to 1.

The standards' texts were not at hand. The formula was read in public code that names EN ISO 105-A04:1999, and gives
the grade at all nine nominal steps of ISO 105-A03, which came from another source. The steps were read in public code
that tabulates GB/T 251-2008, the Chinese adoption of A03.
"""

from __future__ import annotations

from math import exp

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from .grey_scale import GRADES, GreyGrade, grade, grades_within

CHROMATIC = 0.4  # of a change of chroma and hue, the part that does not count as staining
PALE = 4.0  # ratings above it fall in proportion to the difference
FALL = 0.23  # of the rating, for every unit of dE_GS there
TOP, LOG_FALL = 6.1, 1.45  # of the rating elsewhere: where dE_GS is 1, and for each unit of ln(dE_GS)


def _start(rating: float) -> float:
    """The dE_GS that has this rating."""
    return (5 - rating) / FALL if rating > PALE else exp((TOP - rating) / LOG_FALL)


# Each grade holds the ratings up to a quarter above and below itself: 4.25 to 4.74 is 4-5.
_HALFWAY = (4.75, 4.25, 3.75, 3.25, 2.75, 2.25, 1.75, 1.25)
_STARTS = (0.0, *(_start(rating) for rating in _HALFWAY))
_NOMINAL = (0.0, 2.2, 4.3, 6.0, 8.5, 12.0, 16.9, 24.0, 34.1)
_TOLERANCES = (0.2, 0.3, 0.3, 0.4, 0.5, 0.7, 1.0, 1.5, 2.0)
A03_STEPS = tuple(
    GreyGrade(*step) for step in zip(GRADES, _NOMINAL, _TOLERANCES, _STARTS, strict=True)
)  # GB/T 251-2008; the limits from the formula


def staining_difference(lab_unstained: ArrayLike, lab_stained: ArrayLike) -> Array:
    """dE_GS of ISO 105-A04, which the grade is read from.

    Parameters
    ----------
    lab_unstained, lab_stained : (..., 3) arrays, broadcast together
        CIELAB under D65 and 10 degrees, of the white cloth as it was and as it became.

    Returns
    -------
    (...) array, CIELAB units; the same the other way round. A grey stain counts in full; one that changes
    only chroma and hue counts 60 %.

    Source
    ------
    Public code that names EN ISO 105-A04:1999; the standard's text was not seen.
    """
    delta = np.asarray(lab_stained, dtype=float) - np.asarray(lab_unstained, dtype=float)
    lightness, chromatic = np.abs(delta[..., 0]), np.hypot(delta[..., 1], delta[..., 2])
    result: Array = np.hypot(lightness, chromatic) - CHROMATIC * chromatic
    return result


def staining_rating(difference: ArrayLike) -> Array:
    """dE_GS -> SSR, the grade as a number between the steps, 5 down to 1; it isn't limited, so it can fall below 1.

    Source
    ------
    As of `staining_difference`. At dE_GS 4.26, where its two parts meet, it falls from 4.02 to 4.00.
    """
    difference = np.asarray(difference, dtype=float)
    strong = TOP - LOG_FALL * np.log(np.maximum(difference, 1.0))
    return np.where(strong > PALE, 5 - FALL * difference, strong)


def staining_grade(difference: float) -> str:
    """dE_GS -> "5", "4-5", "4" ... "1".

    Raises
    ------
    UsageError
        Not a number, or below 0.
    """
    return grade(difference, A03_STEPS)


def staining_grades_within(low: float, high: float) -> tuple[str, ...]:
    """The grades that a dE_GS known to lie between `low` and `high` may have, the best first.

    Raises
    ------
    UsageError
        The ends are no numbers, below 0, or the wrong way round.
    """
    return grades_within(low, high, A03_STEPS)
