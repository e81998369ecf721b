"""What one drop of a bottle weighs: counted onto a scale until it shows enough to tell."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..errors import UsageError
from .numbers import NUMBER, check_number, number_of
from .scale_resolution import weighed_std

CALIBRATED = re.compile(rf"(?P<count>\d{{1,6}})\s*drops?\s*(?:=|are|weighs?)?\s*{NUMBER}\s*g", re.I)
STEPS = 10  # of the scale, that the drops move it at least: their weight is then known to 4 %
# Of a single calibrated drop: 'not above 15 %' in normal use (USP 1101), all of it taken as each drop's own.
DROP_SCATTER = 0.15
# By which two people, or two days, differ (UNC School of Pharmacy names the cause, no figure): no source.
HAND = 0.04


@dataclass(frozen=True)
class Drops:
    """The drops of one bottle."""

    grams: float  # one drop
    std: float  # relative standard deviation that all drops of the bottle share: that of its calibration


def parse_drops(text: str, scale_g: float) -> Drops:
    """ "200 drops = 10.2 g", counted onto a scale with this step -> Drops.

    Raises
    ------
    UsageError
        It cannot be read, or moved the scale by too few steps to tell anything.
    """
    found = CALIBRATED.fullmatch(" ".join(text.split()))
    count, grams = (int(found["count"]), number_of(found[2])) if found else (0, 0.0)
    if not count or not grams:
        raise UsageError("drops-unreadable", "write-drops", typed=text.strip()[:40])
    return counted_drops(count, grams, scale_g)


def counted_drops(count: int, grams: float, scale_g: float) -> Drops:
    """So many drops that weighed so much on a scale with this step -> Drops.

    Raises
    ------
    UsageError
        They moved the scale by too few steps to tell anything, or no drop weighs that.
    """
    check_number(scale_g, "scale-step", 1e-4, 100)
    if grams < STEPS * scale_g * (1 - 1e-9):
        enough = STEPS * scale_g
        raise UsageError("drops-too-few", "count-more-drops", drops=count, grams=grams, step=scale_g, enough=enough)
    each = grams / count
    check_number(each, "drop-grams", 1e-3, 1)
    own = DROP_SCATTER / count**0.5
    return Drops(each, ((weighed_std(scale_g) / grams) ** 2 + own**2 + HAND**2) ** 0.5)
