"""What a difference of two colours must know of their errors, and how sure it then is.

Propagation follows JCGM 100:2008: what two colours share cancels in their difference. It does not matter whether they
were measured now, in one photo or in several, or months ago.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from .uncertainty import interval_of_difference

INK_REACH = 23.0  # CIELAB units over which the ink error of two colours stays alike

Covariance = NDArray[np.float64]
Pattern = dict[str, tuple[float, float, float]]


@dataclass(frozen=True)
class Errors:
    """What a difference must know of one colour's error, whether it was measured now or long ago."""

    parts: dict[str, Covariance]  # (3, 3) each, read-only
    shared: NDArray[np.float64]  # (3, n) ΔLab for each independent error that all drawdowns of its photos share
    pattern: Pattern  # patch -> ΔLab that the first photo's fit leaves on it
    photos: tuple[str, ...]  # equal where two colours come from the same photos

    @property
    def covariance(self) -> Covariance:
        """(3, 3) of Lab, all parts."""
        return self.of(*self.parts)

    def of(self, *names: str) -> Covariance:
        """(3, 3) of Lab, these parts."""
        return np.sum([self.parts[name] for name in names], axis=0)


class Measured(Protocol):
    """A colour that was measured, now or long ago."""

    @property
    def name(self) -> str:
        """What it is called in its photo."""

    @property
    def lab(self) -> tuple[float, float, float]:
        """CIELAB."""

    @property
    def errors(self) -> Errors:
        """How far off it may be."""


def covariance_of_difference(one: Measured, other: Measured) -> Covariance:
    """(3, 3) of Lab one minus Lab other: what both share cancels.

    In the same photos fit and eye cancel as far as both colours depend on them alike, and the ink error as far as the
    colours are alike; between photos as far as both balances leave the same pattern of errors on the card (same
    phone, same light).
    """
    way = np.array(one.lab) - np.array(other.lab)
    alike = float(np.exp(-(way @ way) / (2 * INK_REACH**2)))
    a, b = one.errors, other.errors
    own = a.of("noise", "light") + b.of("noise", "light")
    if a.photos == b.photos:
        differing = a.shared - b.shared
        systematic, same = differing @ differing.T, 1.0
    else:
        same = alike * _same_pattern(a.pattern, b.pattern)
        systematic = a.of("fit") + b.of("fit") + (1 - same) * (a.of("eye") + b.of("eye"))
    apart = a.of("ink", "card") + b.of("ink", "card")
    return own + systematic + (1 - alike * same) * apart


def interval(one: Measured, other: Measured, level: float = 0.95) -> tuple[float, float]:
    """Interval of the true CIEDE2000 between two colours."""
    return interval_of_difference(np.array(one.lab), np.array(other.lab), covariance_of_difference(one, other), level)


def interval_to(one: Measured, target: NDArray[np.float64], level: float = 0.95) -> tuple[float, float]:
    """Interval of the true CIEDE2000 between a colour and a target known exactly."""
    return interval_of_difference(np.array(one.lab), target, one.errors.covariance, level)


def _same_pattern(one: Pattern, other: Pattern) -> float:
    """0..1: how alike the errors are that two balances leave on the same patches."""
    names = sorted(set(one) & set(other))
    if len(names) < 12:
        return 0.0
    a, b = (np.array([pattern[name] for name in names]).ravel() for pattern in (one, other))
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(np.clip((a @ b) / size, 0, 1)) if size > 0 else 1.0
