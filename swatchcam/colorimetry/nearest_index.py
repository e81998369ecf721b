"""The records nearest to a colour in CIEDE2000, exactly, without looking at each of a million.

CIEDE2000 is no metric (it breaks the triangle inequality), so no tree of distances can be trusted with it. Records
lie in cells instead, and for each cell a bound is worked out below which no record in it can be.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Array
from ..errors import UsageError
from .colour_difference import delta_e_2000, vividness

Whole = NDArray[np.int64]

CELL = 50  # records in a cell; smaller cells are bounded more tightly, but there are more of them
FIRST, MOST = 16, 512  # cells looked into at a time: few at first, for they may hold the answer
FARTHEST = 1000.0  # CIELAB; no colour lies beyond
DIGITS = 9  # decimals of a difference: equal colours must come out equal, whatever the order of the arithmetic
SLACK = 4e-9  # of a bound, for rounding
BLUE = 275.0  # degrees; the hue about which CIEDE2000 turns its axes


class Index:
    """Records by colour, in cells of neighbours."""

    def __init__(self, labs: ArrayLike, numbers: ArrayLike) -> None:
        """Sort (n, 3) CIELAB and their (n,) whole numbers into cells.

        Raises
        ------
        UsageError
            A colour is not three numbers, or there are not as many numbers as colours.
        """
        labs, ids = _colours(labs, 2), np.asarray(numbers, dtype=np.int64)
        if ids.shape != labs.shape[:1]:
            raise UsageError("numbers-unlike-colours", "give-a-number-for-each", colours=len(labs), numbers=ids.size)
        order, self._starts = _tiles(labs)
        self._labs, self._numbers = labs[order], ids[order]
        if labs.size:
            self._low = np.minimum.reduceat(self._labs, self._starts[:-1])
            self._high = np.maximum.reduceat(self._labs, self._starts[:-1])

    def __len__(self) -> int:
        return len(self._labs)

    def nearest(self, lab: ArrayLike, count: int) -> list[tuple[int, float]]:
        """The records nearest to a (3,) CIELAB: (number, CIEDE2000), the nearest first, then the smaller number.

        Raises
        ------
        UsageError
            The colour is not three numbers, or `count` is below 1.
        """
        if count < 1:
            raise UsageError("none-asked-for", "ask-for-one-or-more", count=count)
        place = _colours(lab, 1)
        numbers, apart = np.empty(0, dtype=np.int64), np.empty(0)
        for cells, bounds in self._by_bound(place):
            hopeful = cells[bounds <= apart[-1]] if len(apart) == count else cells
            if not hopeful.size:
                break
            more, how_far = self._look(hopeful, place)
            numbers, apart = _ranked(np.append(numbers, more), np.append(apart, how_far), count)
        return list(zip(numbers.tolist(), apart.tolist(), strict=True))

    def within(self, lab: ArrayLike, radius: float) -> list[tuple[int, float]]:
        """Every record no further from a (3,) CIELAB than `radius`, in CIEDE2000; in order as from `nearest`.

        Raises
        ------
        UsageError
            The colour is not three numbers, or the radius is below 0.
        """
        if not radius >= 0:
            raise UsageError("radius-below-zero", "give-a-difference", radius=str(radius))
        place = _colours(lab, 1)
        found = [self._look(cells[bounds <= radius], place) for cells, bounds in self._by_bound(place, radius)]
        numbers = np.concatenate([np.empty(0, dtype=np.int64), *(numbers for numbers, _ in found)])
        apart = np.concatenate([np.empty(0), *(apart for _, apart in found)])
        inside = apart <= radius
        ranked = _ranked(numbers[inside], apart[inside], len(apart))
        return list(zip(*(values.tolist() for values in ranked), strict=True))

    def _by_bound(self, place: Array, radius: float = np.inf) -> Iterator[tuple[Whole, Array]]:
        """Cells that may hold a record within the radius and their bounds, the lowest first, some at a time."""
        if not len(self):
            return
        bounds = lower_bounds(place, self._low, self._high)
        order = np.argsort(bounds)
        start, size = 0, FIRST
        while start < len(order) and bounds[order[start]] <= radius:
            cells = order[start : start + size]
            yield cells, bounds[cells]
            start, size = start + size, min(2 * size, MOST)

    def _look(self, cells: Whole, place: Array) -> tuple[Whole, Array]:
        """Numbers and exact differences of all records in these cells."""
        starts, ends = self._starts[cells], self._starts[cells + 1]
        sizes = ends - starts
        members = np.repeat(ends - np.cumsum(sizes), sizes) + np.arange(sizes.sum())
        return self._numbers[members], np.round(delta_e_2000(self._labs[members], place), DIGITS)


def lower_bounds(lab: ArrayLike, low: ArrayLike, high: ArrayLike) -> Array:
    """No colour between `low` and `high` is nearer to `lab` than this, in CIEDE2000.

    Parameters
    ----------
    lab : (3,) CIELAB
    low, high : (n, 3) least and greatest L*, a*, b* of each cell

    Returns
    -------
    (n,)

    Notes
    -----
    With x = ΔC'/S_C and y = ΔH'/S_H the square of CIEDE2000 is (ΔL/S_L)² + x² + y² + R_T x y.

    1. As 2 |x y| <= x² + y², the last three are at least (1 - |R_T|/2) (x² + y²).
    2. T <= 1 + 0.17 + 0.24 + 0.32 + 0.20 = 1.93 < 3, so S_H = 1 + 0.015 C' T <= 1 + 0.045 C' = S_C, and
       x² + y² >= (ΔC'² + ΔH'²) / S_C².
    3. ΔC'² + ΔH'² is (C1' - C2')² + 4 C1' C2' sin²(Δh/2) = |z1' - z2'|², for z' = a' + i b. Both colours of a pair
       are stretched by the same G, so this is ((1 + G) Δa)² + Δb², at least ((1 + least G) least Δa)² + least Δb².
    4. G falls with the mean C*: the least G goes with the largest C* in the cell, the largest with the least.
       C' <= |((1 + largest G) largest |a|, largest |b|)|.
    5. S_L rises with the distance of the mean L* from 50, so it is largest at an end of the interval of mean L*;
       S_C rises with the mean C'.
    6. |R_T| rises with the mean C', and falls with the distance of the mean hue from 275 degrees.
    """
    lab, low, high = (np.asarray(values, dtype=float) for values in (lab, low, high))
    gap, far = np.maximum(np.maximum(low - lab, lab - high), 0), np.maximum(np.abs(low), np.abs(high))
    near = np.maximum(np.maximum(low, -high), 0)
    chroma, least, most = (np.hypot(values[..., 1], values[..., 2]) for values in (lab, near, far))
    stretch = 1.5 - 0.5 * vividness((chroma + most) / 2), 1.5 - 0.5 * vividness((chroma + least) / 2)
    vivid = (np.hypot(stretch[1] * lab[1], lab[2]) + np.hypot(stretch[1] * far[:, 1], far[:, 2])) / 2
    turn = 2 * vividness(vivid) * _blueness(lab, low, high, stretch)
    colour = (1 - turn / 2) * ((stretch[0] * gap[:, 1]) ** 2 + gap[:, 2] ** 2) / (1 + 0.045 * vivid) ** 2
    dark = np.maximum((lab[0] + low[:, 0] - 100) ** 2, (lab[0] + high[:, 0] - 100) ** 2) / 4
    lightness = gap[:, 0] / (1 + 0.015 * dark / np.sqrt(20 + dark))
    bound: Array = np.maximum((1 - SLACK) * np.sqrt(lightness**2 + colour) - SLACK, 0)
    return bound


def _blueness(lab: Array, low: Array, high: Array, stretch: tuple[Array, Array]) -> Array:
    """(n,) the largest |R_T| / (2 R_C), 0 to 1: that of the mean hue nearest to 275 degrees that a pair can have.

    Seen from white, a cell that is stretched by every G it may be lies inside a circle, and that within some degrees
    of the circle's middle. The mean hue is halfway between such a hue and that of `lab`. Where the two may be opposite
    it can be anything, and 1 is right as an upper bound of sin 60 degrees.
    """
    ends = [np.minimum(low[:, 1] * stretch[0], low[:, 1] * stretch[1])]
    ends.append(np.maximum(high[:, 1] * stretch[0], high[:, 1] * stretch[1]))
    middle = (ends[0] + ends[1]) / 2 + 1j * (low[:, 2] + high[:, 2]) / 2
    radius = np.hypot(ends[1] - ends[0], high[:, 2] - low[:, 2]) / 2
    given = [scale * lab[1] + 1j * lab[2] for scale in stretch]
    moved, away = _angle(given[1] * given[0].conj()), _angle(middle * given[0].conj())
    distance = np.abs(middle)
    wide = np.degrees(np.arctan2(radius, np.sqrt(np.maximum(distance**2 - radius**2, 0))))
    # The query's own hue moves with G too, if little.
    spread = (wide + np.abs(moved)) / 2
    anything = (radius >= distance) | (np.abs(away) + 2 * spread >= 179)
    mean = _angle(given[0]) + (away + moved) / 2
    off = np.maximum(np.abs((mean - BLUE + 180) % 360 - 180) - spread, 0) / 25
    return np.where(anything, 1.0, np.sin(np.radians(60) * np.exp(-off * off)))


def _angle(values: NDArray[np.complex128]) -> Array:
    return np.degrees(np.arctan2(values.imag, values.real))


def _tiles(labs: Array) -> tuple[Whole, Whole]:
    """The order that puts neighbours together, and where each cell of about `CELL` starts (and the last one ends).

    Slabs of L* with equally many records, each cut into columns of a*, each into cells of b*: however the colours
    crowd, a cell is never full.
    """
    count = len(labs)
    side = max(1, round((count / CELL) ** (1 / 3)))
    order = place = np.arange(count)
    for axis in range(3):
        order = order[np.lexsort((labs[order, axis], place * side**axis // max(count, 1)))]
    cells = side**3
    return order, -(-np.arange(cells + 1) * count // cells)


def _ranked(numbers: Whole, apart: Array, count: int) -> tuple[Whole, Array]:
    order = np.lexsort((numbers, apart))[:count]
    return numbers[order], apart[order]


def _colours(lab: ArrayLike, dimensions: int) -> Array:
    """CIELAB as floats, (3,) or (n, 3).

    Raises
    ------
    UsageError
        Not three numbers each, or no colour.
    """
    colours = np.asarray(lab, dtype=float)
    if dimensions == 2 and not colours.size:
        return colours.reshape(0, 3)
    if colours.ndim != dimensions or colours.shape[-1] != 3 or not (np.abs(colours) <= FARTHEST).all():
        raise UsageError("numbers-no-colours", "give-colours", farthest=FARTHEST)
    return colours
