"""Whether a series of single measurements is in control: Shewhart's chart of individuals and moving ranges.

ISO 7870-2, from memory: its text was not at hand. The constants follow from the normal distribution.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..errors import UsageError
from ..messages.message import Message, finding

D2 = 2 / math.sqrt(math.pi)  # mean of the range of two, in standard deviations
D3 = math.sqrt(2 - 4 / math.pi)  # standard deviation of that range
TO_LIMIT = 3 / D2  # 2.66, of the mean range
D4 = 1 + 3 * D3 / D2  # 3.267, of the mean range

LEAST = 5  # points; from fewer no limits are drawn: they would move with every new one; no source
SETTLED = 20  # points; below, limits are provisional. Common practice, no source
RUN = 7  # points in a row
TOUCH = 1e-9  # part of the largest value; nearer is as good as equal


@dataclass(frozen=True)
class Signal:
    """A point that chance alone hardly explains."""

    index: int  # of the value, from 0; of a run, its last
    what: Message

    @property
    def of_ranges(self) -> bool:
        """Whether it shows in the ranges between neighbours, not in the values."""
        return self.what.code == "point-far-from-last"


@dataclass(frozen=True)
class Chart:
    """Values in the order in which they were measured, and what chance would keep them within."""

    values: tuple[float, ...]
    centre: float
    lower: float | None  # None from too few points
    upper: float | None
    ranges: tuple[float, ...]  # between neighbours: one fewer than values
    range_centre: float
    range_upper: float | None
    signals: tuple[Signal, ...]
    provisional: bool

    @property
    def basis(self) -> Message:
        """What the limits rest on."""
        count = len(self.values)
        if self.lower is None:
            return finding("points-too-few", count=count, least=LEAST)
        if self.provisional:
            return finding("limits-provisional", count=count, settled=SETTLED)
        return finding("limits-settled", count=count)


def chart(values: Sequence[float]) -> Chart:
    """The chart of a series: limits at the mean ± 2.66 mean ranges, and every point that breaks a rule.

    Raises
    ------
    UsageError
        There is no value, or one is not a number.

    Source
    ------
    ISO 7870-2, from memory; Shewhart 1931, Economic Control of Quality of Manufactured Product.
    """
    series = np.array(values, dtype=float)
    if not series.size or not np.isfinite(series).all():
        raise UsageError("values-make-no-chart", "give-values-in-order")
    ranges = np.abs(np.diff(series))
    centre, spread = float(series.mean()), float(ranges.mean()) if ranges.size else 0.0
    reach, top = (TO_LIMIT * spread, D4 * spread) if series.size >= LEAST else (math.inf, math.inf)
    return Chart(
        values=tuple(series.tolist()),
        centre=centre,
        lower=_drawn(centre - reach),
        upper=_drawn(centre + reach),
        ranges=tuple(ranges.tolist()),
        range_centre=spread,
        range_upper=_drawn(top),
        signals=tuple(sorted(_signals(series.tolist(), centre, reach, top), key=lambda signal: signal.index)),
        provisional=series.size < SETTLED,
    )


def _drawn(limit: float) -> float | None:
    return limit if math.isfinite(limit) else None


def _signals(values: list[float], centre: float, reach: float, top: float) -> Iterator[Signal]:
    touch = TOUCH * max(abs(value) for value in values)
    yield from _points(values, centre, reach + touch, top + touch)
    for index, way, count in _runs([_way(value - centre, touch) for value in values], RUN):
        yield Signal(index, finding("points-on-one-side", first=index + 2 - count, last=index + 1, above=way > 0))
    # Seven points that rise have six steps between them.
    for index, way, count in _runs([_way(other - one, touch) for one, other in pairwise(values)], RUN - 1):
        yield Signal(index + 1, finding("points-in-a-row", first=index + 2 - count, last=index + 2, rising=way > 0))


def _points(values: list[float], centre: float, reach: float, top: float) -> Iterator[Signal]:
    for index, value in enumerate(values):
        if abs(value - centre) > reach:
            yield Signal(index, finding("point-beyond-limit", point=index + 1, above=value > centre))
    for index, (one, other) in enumerate(pairwise(values), start=1):
        if abs(other - one) > top:
            yield Signal(index, finding("point-far-from-last", point=index + 1))


def _way(difference: float, touch: float) -> int:
    return int(difference > touch) - int(difference < -touch)


def _runs(ways: Sequence[int], least: int) -> Iterator[tuple[int, int, int]]:
    """(last index, way, length) of each stretch that goes the same way at least so often; 0 is no way."""
    start = 0
    for index, way in enumerate(ways):
        if way != ways[start]:
            start = index
        ends = index + 1 == len(ways) or ways[index + 1] != way
        if way and ends and index + 1 - start >= least:
            yield index, way, index + 1 - start
