"""How certain a colour difference is: intervals that hold the true value as often as they claim.

A colour difference is never below zero, so noise alone makes two equal colours look different. First-order
propagation does not know that; the intervals here ask instead which true differences would make what was seen.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from .colour_difference import delta_e_2000

Formula = Callable[[ArrayLike, ArrayLike], Array]


STILL = 1e-3  # part of the noise: how exactly the ends of an interval are sought


MAX_STEPS = 60


NO_NOISE = 1e-9  # CIEDE2000


PLASTIC = 1.324717957244746  # x^3 = x + 1: multiples of 1/x and 1/x^2 fill a square evenly


def interval_of_difference(
    lab: ArrayLike,
    target: ArrayLike,
    covariance: ArrayLike,
    level: float = 0.95,
    draws: int = 2000,
    formula: Formula = delta_e_2000,
) -> tuple[float, float]:
    """Interval of the true difference, by default CIEDE2000, between two colours of which one or both were measured.

    A true difference belongs to the interval if it would give a measured one as small, and one as large, as this
    often enough. Of all colours that far from the target it is tried at the likeliest one, given what was measured.
    Below what noise alone gives at this level only "as large" is asked, with the whole of 1 - level: so the interval
    is never empty, starts at 0 unless the difference stands out from the noise, and never ends below the noise,
    however equal the two colours look.

    Parameters
    ----------
    lab, target : (3,) CIELAB
    covariance : (3, 3) of lab - target
    level : how often the interval shall hold the truth
    draws : points that stand for the noise
    formula : (..., 3) CIELAB and the target's -> (...) difference, 0 for equal colours and about a length near them

    Returns
    -------
    low, high : in units of the formula; the same for the same input

    Source
    ------
    Neyman 1937, doi:10.1098/rsta.1937.0005 (the construction); the change from one-sided to two-sided is chosen by
    the true value and not by the measured one, for the reason in Feldman & Cousins 1998,
    doi:10.1103/PhysRevD.57.3873.
    """
    lab, target = np.asarray(lab, dtype=float), np.asarray(target, dtype=float)
    noise, measured = scatter(covariance, draws), float(formula(lab, target))
    alone = quantile(formula(target + noise, target), level)
    if alone <= NO_NOISE:
        return measured, measured
    metric = unit_metric((lab + target) / 2, formula)
    likeliest, reach = _likeliest_way(lab - target, metric, np.asarray(covariance, dtype=float))

    def size(at: float) -> float:
        return float(formula(target + likeliest(at), target))

    def short_of(at: float, share: float) -> float:
        """How far the measured difference falls short of this quantile of what would be seen."""
        return quantile(formula(target + likeliest(at) + noise, target), share) - measured

    tail, fine = (1 - level) / 2, (STILL * alone, STILL * min(reach, 1.0))
    edge = _crossing(lambda at: size(at) - alone, 0.0, 1.0, fine)
    low = _crossing(lambda at: short_of(at, level if at < edge else 1 - tail), 0.0, 1.0, fine)
    high = _crossing(lambda at: short_of(at, tail), edge, max(edge, 1.0) + reach, fine)
    return size(low), size(high)


def radius_of_lab(lab: ArrayLike, covariance: ArrayLike, level: float = 0.95, draws: int = 2000) -> float:
    """CIEDE2000 around a measured (3,) CIELAB within which the true one lies this often; covariance (3, 3)."""
    lab = np.asarray(lab, dtype=float)
    return quantile(delta_e_2000(lab + scatter(covariance, draws), lab), level)


def scatter(covariance: ArrayLike, draws: int) -> Array:
    """(draws, 3) points of a normal distribution about 0, the same at every call."""
    values, axes = np.linalg.eigh(np.asarray(covariance, dtype=float))
    # A difference may be sure in some direction: a root by Cholesky would refuse that.
    noise: Array = _normal(draws) @ (axes * np.sqrt(np.maximum(values, 0))).T
    return noise


@lru_cache(maxsize=4)
def _normal(draws: int) -> Array:
    """(draws, 3) points of the unit normal distribution, spread more evenly than random ones; read-only.

    Equal steps and the multiples of two irrational numbers fill a cube: quantiles come out four times as exact.
    """
    count = np.arange(draws)
    cube = np.stack([(count + 0.5) / draws, (count / PLASTIC + 0.5) % 1, (count / PLASTIC**2 + 0.5) % 1], axis=-1)
    # The inverse of the normal distribution, summed up: the standard library's takes longer to import than this.
    z = np.linspace(-6, 6, 6001)
    density = np.exp(-z * z / 2)
    share = (np.cumsum(density) - density / 2) / density.sum()
    normal = np.interp(cube, share, z)
    normal.setflags(write=False)
    return normal


def unit_metric(lab: Array, formula: Formula = delta_e_2000) -> Array:
    """(3, 3) that turns a small difference in CIELAB around here into a vector about as long as the formula says."""
    one, two, three = np.eye(3) / 2
    ways = np.array([one, two, three, one + two, one + three, two + three])
    squares = formula(lab + ways, lab - ways) ** 2
    metric = np.diag(squares[:3])
    for (i, j), square in zip(((0, 1), (0, 2), (1, 2)), squares[3:], strict=True):
        metric[i, j] = metric[j, i] = (square - squares[i] - squares[j]) / 2
    values, axes = np.linalg.eigh(metric)
    root: Array = np.sqrt(np.maximum(values, 1e-6 * values.max()))[:, None] * axes.T
    return root


def _likeliest_way(difference: Array, metric: Array, covariance: Array) -> tuple[Callable[[float], Array], float]:
    """The likeliest true difference of each size, given a measured one, as a way from 0 (at 0) through it (at 1).

    Least squares under a constraint on the size: along the principal axes of the noise, seen in units of CIEDE2000,
    the parts that are known well stay, and those that are not give way. Also how far beyond 1 the noise reaches.
    """
    variances, axes = np.linalg.eigh(metric @ covariance @ metric.T)
    parts = axes.T @ (metric @ difference)
    widest = float(np.sqrt(variances[-1]))
    # With nothing at all along the widest axis the way would end; a tenth of the noise changes nothing else.
    parts[-1] = np.copysign(max(abs(parts[-1]), widest / 10), parts[-1])
    shares = np.maximum(variances / variances[-1], 1e-6)
    back = np.linalg.inv(metric) @ axes
    reach = 2.5 * widest / abs(parts[-1])
    return lambda at: back @ (parts * at / (shares + at * (1 - shares))), float(reach)


def quantile(values: Array, share: float) -> float:
    """Same as np.quantile, which takes longer than the colour differences themselves."""
    place = share * (len(values) - 1)
    below = min(int(place), len(values) - 2)
    low, high = np.partition(values, (below, below + 1))[below : below + 2]
    return float(low + (place - below) * (high - low))


def _crossing(rising: Callable[[float], float], start: float, end: float, fine: tuple[float, float]) -> float:
    """Where a rising function crosses or jumps over 0: not below `start`, but beyond `end` if need be.

    False position with the Illinois rule, until the value is as near to 0 as fine[0] or the place known to fine[1].
    """
    at_start, at_end = rising(start), rising(end)
    if at_start >= 0:
        return start
    for _ in range(MAX_STEPS):
        if at_end >= 0:
            break
        start, at_start, end = end, at_end, 2 * end
        at_end = rising(end)
    else:
        return end
    last = 0
    for _ in range(MAX_STEPS):
        middle = (start * at_end - end * at_start) / (at_end - at_start)
        value = rising(middle)
        if abs(value) <= fine[0] or end - start <= fine[1] * end:
            break
        side = 1 if value > 0 else -1
        if side > 0:
            end, at_end, at_start = middle, value, at_start / (2 if last == side else 1)
        else:
            start, at_start, at_end = middle, value, at_end / (2 if last == side else 1)
        last = side
    return middle
