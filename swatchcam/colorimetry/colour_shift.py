"""How one colour moved from one measurement to another: lightness, chroma and hue, its grade, and how sure all is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Array
from .cielab import Lab
from .colour_difference import NEAR_NEUTRAL, delta_e_2000
from .error_covariance import Measured, covariance_of_difference
from .grey_scale import grade, grades_within, grey_scale_difference
from .intervals import interval_of_difference, quantile, scatter

BEYOND_CHANCE = 7.815  # 95 % of chi-square with three degrees of freedom (Pearson 1900)
TAILS = 0.025, 0.975
DRAWS = 2000  # pairs of colours before and after; no source


@dataclass(frozen=True)
class Range:
    """A number and the 95 % interval of the true one."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Shift:
    """How one colour moved; after minus before."""

    before: Lab
    after: Lab
    covariance: Array  # (3, 3) of the shift of Lab, read-only
    lightness: Range  # ΔL*
    chroma: Range  # ΔC*
    hue: Range | None  # degrees, above 0 if the hue angle rises; None where a colour is too near grey to have a hue
    ciede2000: Range
    real: bool  # more than chance explains, at 95 %
    grade: str  # grey scale for change in colour, ISO 105-A05
    grades: tuple[str, ...]  # those that it may be, the best first


def shift(before: Measured, after: Measured) -> Shift:
    """How a colour moved from one measurement to another, and how sure that is."""
    return shift_between(before.lab, after.lab, covariance_of_difference(after, before))


def shift_between(before: Lab, after: Lab, covariance: Array) -> Shift:
    """The same of two colours, and the (3, 3) covariance of the difference between them, read-only from now on."""
    covariance.setflags(write=False)
    start, end = np.array(before), np.array(after)
    ends = end + scatter(covariance, DRAWS)
    low, high = interval_of_difference(end, start, covariance)
    distance = Range(float(delta_e_2000(end, start)), low, high)
    best, worst = interval_of_difference(end, start, covariance, formula=_faded)
    return Shift(
        before=before,
        after=after,
        covariance=covariance,
        lightness=_range(end[0] - start[0], ends[:, 0] - start[0]),
        chroma=_range(_chroma(end) - _chroma(start), _chroma(ends) - _chroma(start)),
        hue=_turn(start, end, ends),
        ciede2000=distance,
        real=stands_out(end - start, covariance),
        grade=grade(float(_faded(end, start))),
        grades=grades_within(best, worst),
    )


def _range(value: float | Array, draws: Array) -> Range:
    low, high = (quantile(draws, tail) for tail in TAILS)
    return Range(float(value), low, high)


def _chroma(lab: Array) -> Array:
    return np.asarray(np.hypot(lab[..., 1], lab[..., 2]))


def _turn(start: Array, end: Array, ends: Array) -> Range | None:
    """Degrees from one hue to the other, the short way round."""
    if min(_chroma(start), _chroma(end)) < NEAR_NEUTRAL:
        return None
    way = _plane(end) * _plane(start).conj()
    angle = float(np.degrees(np.angle(way)))
    # Draws are told from the measured angle, so that none is torn off at 180 degrees.
    return _range(angle, angle + np.degrees(np.angle(_plane(ends) * _plane(start).conj() * way.conj())))


def _plane(lab: Array) -> NDArray[np.complex128]:
    return np.asarray(lab[..., 1] + 1j * lab[..., 2])


def stands_out(delta: Array, covariance: Array) -> bool:
    """Whether no shift at all lies outside the 95 % ellipsoid of a (3,) shift with this (3, 3) covariance."""
    variances, axes = np.linalg.eigh(covariance)
    along = axes.T @ delta
    # Without any noise the smallest shift is real, and none is not.
    return bool((along**2 / np.maximum(variances, 1e-12)).sum() > BEYOND_CHANCE)


def _faded(after: ArrayLike, before: ArrayLike) -> Array:
    """dE_F of ISO 105-A05, its arguments in the order of the other formulas."""
    return grey_scale_difference(before, after)
