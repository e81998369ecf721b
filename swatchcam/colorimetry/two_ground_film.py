"""A film as two grounds tell it: what lies over dark and over light cloth -> what more passes would show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from .kubelka_munk import Surface, film_reflectance

FAINTEST, BRIGHTEST = 1e-4, 0.9999  # reflectances beyond have no film that makes them
OPAQUE = 1 - 1e-9  # tanh of b S X, at which a film is thick enough for any purpose
# Dried ink as smooth as it gets, and which shares of its mirror a film on cloth may have; from memory, no source.
SMOOTH, GLOSS = Surface(0.025, 0.25), (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class Film:
    """A film as two grounds tell it; scalars or arrays, one for each wavelength."""

    a: Array  # 1 + K/S
    b: Array  # sqrt(a² - 1)
    sx: Array  # scatter times thickness

    def over(self, ground: ArrayLike, passes: int = 1) -> Array:
        """Reflectance of so many films over a ground, 0..1."""
        return film_reflectance((self.a - 1) * self.sx, self.sx, passes, ground)


def film_of(over: ArrayLike, ground: ArrayLike, over_other: ArrayLike, other: ArrayLike) -> Film:
    """The film that shows these reflectances over these two grounds; all 0..1, broadcast together.

    Kubelka's R (a - Rg + c) = 1 - Rg (a - c), with c = b coth(b S X), is linear in a and c: two grounds give both.
    A pair that no film can make (noise) gives the nearest that one can.

    Source
    ------
    Kubelka 1948, doi:10.1364/JOSA.38.000448.
    """
    r1, r2 = (np.clip(np.asarray(r, dtype=float), FAINTEST, BRIGHTEST) for r in (over, over_other))
    g1, g2 = np.asarray(ground, dtype=float), np.asarray(other, dtype=float)
    # a (R + Rg) + c (R - Rg) = 1 + R Rg, twice, by Cramer's rule; the determinant is 2 (r2 g1 - r1 g2).
    sum1, sum2, apart1, apart2 = r1 + g1, r2 + g2, r1 - g1, r2 - g2
    determinant = sum1 * apart2 - sum2 * apart1
    determinant = np.where(np.abs(determinant) < 1e-12, 1e-12, determinant)
    a = ((1 + r1 * g1) * apart2 - (1 + r2 * g2) * apart1) / determinant
    c = ((1 + r2 * g2) * sum1 - (1 + r1 * g1) * sum2) / determinant
    a = np.maximum(a, 1 + 1e-9)
    b = np.sqrt(a * a - 1)
    through = np.clip(b / np.maximum(c, 1e-9), 1e-9, OPAQUE)
    return Film(a, b, np.arctanh(through) / b)


def surface_of(share: float, over_dark: Array) -> Surface:
    """A surface with such a share of the smooth one's mirror; not much of the darkest that is seen is mirrored."""
    return Surface(min(share * SMOOTH.k1, float(over_dark.min()) / 2), share * SMOOTH.k2)


def ratios_of_passes(rows: Array, surface: Surface, counts: Sequence[int], weights: Array) -> Array:
    """(counts, n) contrast ratios of so many passes, by (81,) weights.

    `rows` are (4, n, 81) reflectances: inked dark and light cloth, and both bare.
    """
    over_dark, over_light = surface.inside(rows[:2])
    dark, light = np.clip(rows[2:], FAINTEST, BRIGHTEST)
    film = film_of(over_dark, dark, over_light, light)
    seen = [[surface.outside(film.over(ground, count)) @ weights for ground in (dark, light)] for count in counts]
    return np.array([y_dark / y_light for y_dark, y_light in seen])
