"""The colour of an ink at every strength: a film over its cloth, absorbing and scattering so many times as much.

A thicker film and more of every pigment in the same film move a colour along one and the same curve; a photo of one
strip cannot tell them apart. What is not known of ink and cloth turns the curve a little: `StrengthCurve.doubts`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from .colour_difference import delta_e_2000
from .kubelka_munk import Surface, dyed_reflectance, film_reflectance, log_absorption
from .spectra import reflectance_to_lab

REACH, STEPS = 1.5, 61  # natural logarithm of the strength: as far as the curve goes either way; points on it
FINE = 1501  # points of it among which the nearest is sought
FAINTEST, DEEPEST = 1e-5, 300.0  # absorption of a film: none is less or more
DARKEST, BRIGHTEST = 1e-4, 0.9999  # reflectance within a film
# What is not known of an ink on cloth: mean and standard deviation. Wide, common sense, no source: logarithm of the
# film's scatter, share of the ink that sank into the cloth and dyed it, the surface from outside and from inside.
SCATTER, SUNK, OUTSIDE, INSIDE = (np.log(0.03), 0.8), (0.15, 0.1), (0.025, 0.01), (0.25, 0.12)
# What the recovered reflectance and the theory leave open turns the curve by so much, of its length; from build
# strips (`tests.benchmarks.strips`).
TURN = 0.06
TURN_UNMEASURED = 0.3  # where the card was never measured, so that the reflectance is hardly known; no source


@dataclass(frozen=True)
class StrengthCurve:
    """CIELAB along the logarithm of strength, and how far the curve may turn."""

    at: Array  # (STEPS,) natural logarithms of strength
    lab: Array  # (STEPS, 3)
    turned: Array  # (doubts, STEPS, 3) CIELAB more for one standard deviation of each doubt, none at strength 1

    def labs(self, strength: Array) -> Array:
        """(n,) natural logarithms of strength -> (n, 3) CIELAB."""
        return _along(self.at, self.lab, strength)

    def doubts(self, strength: Array) -> Array:
        """(n,) -> (n, 3, doubts) what CIELAB moves by for one standard deviation of each doubt."""
        return np.stack([_along(self.at, moved, strength) for moved in self.turned], axis=-1)

    def slope(self, strength: float) -> Array:
        """(3,) change of CIELAB with the logarithm of strength."""
        low, high = self.labs(np.array([strength - 0.02, strength + 0.02]))
        return np.asarray((high - low) / 0.04)


def place_on(curve: StrengthCurve, lab: Array) -> tuple[float, float]:
    """Where the curve comes nearest to a (3,) CIELAB: the natural logarithm of strength there, and CIEDE2000 left."""
    at = np.linspace(curve.at[0], curve.at[-1], FINE)
    apart = delta_e_2000(curve.labs(at), lab)
    best = int(np.argmin(apart))
    return float(at[best]), float(apart[best])


def curve_over_cloth(reflectance: Array, cloth: Array, turn: float = TURN) -> StrengthCurve:
    """The curve through an ink's reflectance (81,) on cloth of reflectance (81,), D65 and 10 degrees.

    `turn` is how far it may turn for what is not known of the reflectance, as a part of its length.

    Source
    ------
    Kubelka 1948, doi:10.1364/JOSA.38.000448 (film over a ground); Saunderson 1942, doi:10.1364/JOSA.32.000727; what
    sank in after the single-constant theory of Kubelka & Munk 1931. Strength as the common factor of absorption and
    scatter: ISO 787-24 and DIN 55986, from memory.
    """
    at = np.linspace(-REACH, REACH, STEPS)
    usual = _labs(reflectance, cloth, at, np.zeros(4))
    moved = [_labs(reflectance, cloth, at, unit) - usual for unit in np.eye(4)]
    moved = [each - each[STEPS // 2] for each in moved]
    return StrengthCurve(at, usual, np.array([*moved, *_turns(at, usual, turn)]))


def _turns(at: Array, lab: Array, turn: float) -> list[Array]:
    """The curve turned about strength 1 by a part of its length, along each axis of CIELAB."""
    length = np.linalg.norm(lab - lab[STEPS // 2], axis=1, keepdims=True) * np.sign(at)[:, None]
    return [turn * length * unit for unit in np.eye(3)]


def _labs(reflectance: Array, cloth: Array, at: Array, doubt: Array) -> Array:
    """(n, 3) CIELAB at strengths, with (4,) standard deviations of what is not known."""
    scatter = float(np.exp(SCATTER[0] + doubt[0] * SCATTER[1]))
    sunk = max(SUNK[0] + doubt[1] * SUNK[1], 0.0)
    surface = Surface(OUTSIDE[0] + doubt[2] * OUTSIDE[1], INSIDE[0] + doubt[3] * INSIDE[1])
    ground = np.clip(cloth, DARKEST, BRIGHTEST)

    def seen(absorption: Array, strength: Array | float) -> Array:
        film = film_reflectance(absorption * strength, scatter * strength, 1.0, ground)
        return (1 - sunk) * surface.outside(film) + sunk * dyed_reflectance(absorption * strength, ground)

    found = log_absorption(reflectance, lambda absorption: seen(absorption, 1.0), FAINTEST, DEEPEST)
    return reflectance_to_lab(seen(np.exp(found), np.exp(at)[:, None]))


def _along(at: Array, values: Array, where: Array) -> Array:
    return np.stack([np.interp(where, at, column) for column in values.T], axis=-1)
