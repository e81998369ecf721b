"""Two pots by their strips: how far the shade differs, and how much stronger or thicker one is.

A thicker film looks like a stronger ink, so what the strips show is split: along the curve of strength it is strength
or film, across it shade. All strips are weighed together as one linear Gaussian model about the curve: of each strip
the logarithm of its film, of the second pot its strength and its shade, of the curve how it may turn, and of the
photos their errors as far as strips share them (Tarantola 2005, Inverse Problem Theory, 3.2.3). Strips of one pot in
unlike films so show by themselves which way the curve goes.

Source
------
The field's terms are relative strength, and residual colour difference at equal strength: ISO 18314-2, DIN 55986,
from memory. Strength is told by the least CIEDE2000 that is left; criteria disagree once the shade differs
(`tests/reference/tinting_strength.csv`), which CRITERION allows for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erfc, exp, pi, sqrt

import numpy as np

from ..arrays import Array, Mask, triple
from .colour_difference import delta_e_2000
from .error_covariance import Errors, Measured, positive, shared_errors, square
from .intervals import interval_of_difference, unit_metric
from .strength_curve import StrengthCurve

Lab = tuple[float, float, float]

ROUNDS = 6
WIDE, WIDE_STRENGTH = 30.0, 1.0  # nothing is known beforehand of colours, CIELAB, and of ln strength; no source
LEAST = 1e-4  # CIELAB squared; no variance is less
# How far strength is off, at least, and for each unit of CIEDE2000 in shade over what one of ln strength moves the
# colour by; from build strips (`tests.benchmarks.strips`).
LEAST_STRENGTH, CRITERION = 0.008, 0.2
BASE, TIMES, ACROSS, FILMS = slice(0, 3), 3, slice(4, 6), 6  # where the unknowns stand; after the films the doubts


@dataclass(frozen=True)
class Film:
    """What is known of a strip's film beforehand: the natural logarithm of its thickness over the usual one."""

    std: float
    mean: float = 0.0  # other than 0 where it was weighed


@dataclass(frozen=True)
class Relative:
    """The natural logarithm of how much stronger or thicker, and its standard deviation."""

    value: float
    std: float


@dataclass(frozen=True)
class Split:
    """The second pot against the first."""

    shade: float  # CIEDE2000 at equal strength, that of the second pot's strips
    low: float  # 95 % interval of it
    high: float
    at_equal_strength: tuple[Lab, Lab]  # CIELAB of the second pot and of the first
    strips: Relative  # the second pot's strips on average: stronger or thicker
    pots: Relative  # the ink in the second pot: stronger, the scatter of films counted
    sensitivity: float  # CIEDE2000 for one of ln strength
    doubt: tuple[float, ...]  # of each strip: how likely it is, 0..1, to lie so far from what the others tell


def split(first: Sequence[Measured], second: Sequence[Measured], curve: StrengthCurve, films: Sequence[Film]) -> Split:
    """Weigh the strips of two pots together.

    Parameters
    ----------
    first, second : strips of each pot, on one cloth and in one state; D65 and 10 degrees
    curve : of the first pot's ink
    films : of each strip, those of the first pot first
    """
    strips = [*first, *second]
    count, of_second = len(strips), np.arange(len(strips)) >= len(first)
    seen = np.array([strip.lab for strip in strips])
    mean, variance = _beforehand(curve, films)
    x, noise = mean, _noise(strips, seen)
    for _ in range(ROUNDS):
        at = x[FILMS : FILMS + count] + x[TIMES] * of_second
        across = _across(curve, float(x[TIMES]), seen[of_second].mean(axis=0))
        slope = _slopes(curve, at, of_second, across)
        predicted = curve.labs(at) + x[BASE] + of_second[:, None] * (across @ x[ACROSS])
        predicted = predicted + curve.doubts(at) @ x[FILMS + count :]
        off = (seen - predicted).ravel() + slope @ (x - mean)
        weight = np.asarray(np.linalg.inv(slope @ (variance[:, None] * slope.T) + noise))
        gain = variance[:, None] * slope.T @ weight
        x = mean + gain @ off
        # What of an ink's error two strips share goes by their shade: along the curve, its doubts count.
        noise = _noise(strips, seen - curve.labs(at) + curve.labs(np.zeros(1)))
    covariance = np.diag(variance) - gain @ slope * variance
    told = weight @ off
    return _told(curve, x, covariance, across, of_second, [_doubt(told, weight, place) for place in range(count)])


def _told(
    curve: StrengthCurve, x: Array, covariance: Array, across: Array, of_second: Mask, doubt: Sequence[float]
) -> Split:
    here = curve.labs(x[TIMES : TIMES + 1])[0] + x[BASE]
    there = here + across @ x[ACROSS]
    shade = float(delta_e_2000(there, here))
    low, high = interval_of_difference(there, here, across @ covariance[ACROSS, ACROSS] @ across.T)
    sensitivity = float(np.linalg.norm(unit_metric(here) @ curve.slope(float(x[TIMES]))))
    contrast = np.zeros(len(x))
    contrast[TIMES] = 1.0
    contrast[FILMS : FILMS + len(of_second)] = np.where(of_second, 1 / of_second.sum(), -1 / (~of_second).sum())
    unsure = LEAST_STRENGTH**2 + (CRITERION * shade / max(sensitivity, 1e-3)) ** 2
    return Split(
        shade,
        low,
        high,
        (triple(there), triple(here)),
        Relative(float(contrast @ x), sqrt(contrast @ covariance @ contrast + unsure)),
        Relative(float(x[TIMES]), sqrt(covariance[TIMES, TIMES] + unsure)),
        sensitivity,
        tuple(doubt),
    )


def _beforehand(curve: StrengthCurve, films: Sequence[Film]) -> tuple[Array, Array]:
    """Mean and variance of the unknowns: base colour, strength, shade, films, doubts of the curve."""
    doubts = len(curve.turned)
    variance = [WIDE**2] * 3 + [WIDE_STRENGTH**2] + [WIDE**2] * 2 + [film.std**2 for film in films] + [1.0] * doubts
    return np.array([0.0] * FILMS + [film.mean for film in films] + [0.0] * doubts), np.array(variance)


def _across(curve: StrengthCurve, strength: float, lab: Array) -> Array:
    """(3, 2) from units of CIEDE2000 to CIELAB, the two ways across the curve."""
    metric = unit_metric(lab)
    along = metric @ curve.slope(strength)
    return np.asarray(np.linalg.solve(metric, np.linalg.svd(along[None])[2][1:].T))


def _slopes(curve: StrengthCurve, at: Array, of_second: Mask, across: Array) -> Array:
    """(3 n, unknowns) change of the CIELAB of n strips."""
    count = len(at)
    along = np.array([curve.slope(float(each)) for each in at])
    slope = np.zeros((count, 3, FILMS + count + len(curve.turned)))
    slope[:, :, BASE] = np.eye(3)
    slope[of_second, :, TIMES] = along[of_second]
    slope[of_second, :, ACROSS] = across
    slope[range(count), :, range(FILMS, FILMS + count)] = along
    slope[:, :, FILMS + count :] = curve.doubts(at)
    return slope.reshape(3 * count, -1)


def _doubt(told: Array, weight: Array, place: int) -> float:
    """How likely a strip is to lie so far from what all others tell of it: chi-square, three degrees of freedom.

    Source
    ------
    Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 5.4.2, for one that is left out.
    """
    own = slice(3 * place, 3 * place + 3)
    size = float(told[own] @ np.linalg.solve(weight[own, own], told[own]))
    return erfc(sqrt(size / 2)) + sqrt(2 * size / pi) * exp(-size / 2)


def _noise(strips: Sequence[Measured], level: Array) -> Array:
    """(3 n, 3 n) covariance of the strips' errors, of which alike inks share most; `level` (n, 3) at one strength."""
    moved = [_AtEqualStrength(strip, triple(lab)) for strip, lab in zip(strips, level, strict=True)]
    return positive(square(shared_errors(moved, moved)), LEAST)


@dataclass(frozen=True)
class _AtEqualStrength:
    """A strip as it would look at the strength of the first pot."""

    strip: Measured
    lab: Lab

    @property
    def name(self) -> str:
        return self.strip.name

    @property
    def errors(self) -> Errors:
        return self.strip.errors
