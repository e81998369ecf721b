"""What a difference of two colours must know of their errors, and how sure it then is.

Propagation follows JCGM 100:2008: what two colours share cancels in their difference. It does not matter whether they
were measured now, in one photo or in several, or months ago.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ..arrays import Array
from .intervals import interval_of_difference

INK_REACH = 23.0  # CIELAB units over which the ink error of two colours stays alike; no source
FEWEST_SHARED = 12  # patches that two cards must have in common for their patterns to be compared; no source

Covariance = Array
Pattern = dict[str, tuple[float, float, float]]


@dataclass(frozen=True)
class Errors:
    """What a difference must know of one colour's error, whether it was measured now or long ago."""

    parts: dict[str, Covariance]  # (3, 3) each, read-only
    shared: Array  # (3, n) ΔLab for each independent error that all strips of its photos share
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


def shared_errors(
    ones: Sequence[Measured],
    others: Sequence[Measured],
    kin: Array | float = 1.0,
    between_photos: float = 1.0,
) -> Array:
    """(n, m, 3, 3) covariance of the errors of each of n colours with those of m: half of what cancels between them.

    Of a colour with itself all cancels; of two it is what `covariance_of_difference` leaves out of the sum of both.

    Parameters
    ----------
    kin : (n, m) or a number, 0..1: how much of the ink error two colours share that are of unlike pigments
    between_photos : 0..1: how much of what one photo shares with another is believed
    """
    a, b = (_stacked(colours) for colours in (ones, others))
    way = a.lab[:, None] - b.lab[None]
    alike = np.exp(-(way**2).sum(axis=-1) / (2 * INK_REACH**2))
    together = np.array([[one.errors.photos == other.errors.photos for other in others] for one in ones])
    itself = np.array([[one.name == other.name and one.lab == other.lab for other in others] for one in ones])
    same = np.where(together, 1.0, between_photos * alike * _patterns(ones, others))
    apart = np.asarray(kin)[..., None, None] * (a.ink[:, None] + b.ink[None]) + a.card[:, None] + b.card[None]
    found = (alike * same)[..., None, None] * apart / 2
    found += np.where(together, 0.0, same)[..., None, None] * (a.eye[:, None] + b.eye[None]) / 2
    for i, j in zip(*np.nonzero(together), strict=True):
        one, other = ones[i].errors, others[j].errors
        differing = one.shared - other.shared
        found[i, j] += (one.of("fit", "eye") + other.of("fit", "eye") - differing @ differing.T) / 2
        if itself[i, j]:
            found[i, j] = one.covariance
    return found


@dataclass(frozen=True)
class _Stacked:
    """Of n colours what their errors have in common with others."""

    lab: Array  # (n, 3)
    eye: Array  # (n, 3, 3)
    ink: Array  # (n, 3, 3)
    card: Array  # (n, 3, 3)


def _stacked(colours: Sequence[Measured]) -> _Stacked:
    errors = [colour.errors for colour in colours]
    return _Stacked(
        np.array([colour.lab for colour in colours]),
        np.array([each.of("eye") for each in errors]),
        np.array([each.of("ink") for each in errors]),
        np.array([each.of("card") for each in errors]),
    )


def _patterns(ones: Sequence[Measured], others: Sequence[Measured]) -> Array:
    """(n, m) how alike the patterns are that the photos of each pair leave; both windows of a photo leave the same."""
    known: dict[tuple[tuple[str, ...], tuple[str, ...]], float] = {}
    found = np.zeros((len(ones), len(others)))
    for i, one in enumerate(ones):
        for j, other in enumerate(others):
            pair = one.errors.photos, other.errors.photos
            if pair not in known:
                known[pair] = known[pair[::-1]] = _same_pattern(one.errors.pattern, other.errors.pattern)
            found[i, j] = known[pair]
    return found


def interval(one: Measured, other: Measured, level: float = 0.95) -> tuple[float, float]:
    """Interval of the true CIEDE2000 between two colours."""
    return interval_of_difference(np.array(one.lab), np.array(other.lab), covariance_of_difference(one, other), level)


def interval_to(one: Measured, target: Array, level: float = 0.95) -> tuple[float, float]:
    """Interval of the true CIEDE2000 between a colour and a target known exactly."""
    return interval_of_difference(np.array(one.lab), target, one.errors.covariance, level)


def _same_pattern(one: Pattern, other: Pattern) -> float:
    """0..1: how alike the errors are that two balances leave on the same patches."""
    names = sorted(set(one) & set(other))
    if len(names) < FEWEST_SHARED:
        return 0.0
    a, b = (np.array([pattern[name] for name in names]).ravel() for pattern in (one, other))
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(np.clip((a @ b) / size, 0, 1)) if size > 0 else 1.0
