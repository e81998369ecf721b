"""Light in ink: a film on cloth, or ink that has become one with the cloth.

Two theories, both of Kubelka and Munk. The film keeps absorption K and scatter S apart and lies over a ground that
shows through; the single constant is the ratio K/S of a layer so thick that no ground shows. Both are told of the
light inside the layer: its surface throws some back on the way in, and some on the way out (Saunderson).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array

TINY = 1e-12
HALVINGS = 40  # of the logarithm of absorption: how exactly it is found


@dataclass(frozen=True)
class Surface:
    """What the surface of a layer does with light."""

    k1: float  # share of the light that is thrown back from outside
    k2: float  # share of the light coming from inside that is thrown back inside

    def outside(self, inner: ArrayLike) -> Array:
        """Reflectance seen from outside, any shape, for that within the layer; its mirror reflection is left in.

        Source
        ------
        Saunderson 1942, doi:10.1364/JOSA.32.000727.
        """
        inside = np.asarray(inner, dtype=float)
        return np.asarray(self.k1 + (1 - self.k1) * (1 - self.k2) * inside / (1 - self.k2 * inside))

    def inside(self, outer: ArrayLike) -> Array:
        """Reflectance within the layer for that seen from outside, any shape: the inverse of `outside`."""
        seen = np.asarray(outer, dtype=float) - self.k1
        return np.asarray(seen / ((1 - self.k1) * (1 - self.k2) + self.k2 * seen))


def film_reflectance(k: ArrayLike, s: ArrayLike, thickness: ArrayLike, under: ArrayLike) -> Array:
    """Reflectance within a film, over a ground.

    Parameters
    ----------
    k, s, thickness, under : arrays, broadcast together
        Absorption and scatter of the film per unit of thickness, not below 0, the thickness, and the reflectance
        0..1 of the ground.

    Returns
    -------
    (...) array, 0..1

    Source
    ------
    Kubelka 1948, doi:10.1364/JOSA.38.000448, in a form that also holds without scatter, absorption or thickness:
    both sides of the fraction are divided by the hyperbolic cotangent.
    """
    absorbed, scattered = np.asarray(k, dtype=float), np.asarray(s, dtype=float)
    ground, depth = np.asarray(under, dtype=float), np.asarray(thickness, dtype=float)
    rate = np.sqrt(absorbed * (absorbed + 2 * scattered))
    # tanh(b S X) / (b S); with nothing absorbed it tends to the thickness.
    reach = np.where(rate > TINY, np.tanh(rate * depth) / np.maximum(rate, TINY), depth)
    lost = scattered + absorbed
    return np.asarray((ground + (scattered - lost * ground) * reach) / (1 + (lost - scattered * ground) * reach))


def log_absorption(reflectance: Array, seen: Callable[[Array], Array], faintest: float, deepest: float) -> Array:
    """The natural logarithm of the absorption, within bounds, of which so much is seen; (81,) as `reflectance`.

    `seen` turns absorption into reflectance, which falls with it; nothing else about it is asked.
    """
    low, high = np.full(len(reflectance), np.log(faintest)), np.full(len(reflectance), np.log(deepest))
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        darker = seen(np.exp(middle)) < reflectance
        low, high = np.where(darker, low, middle), np.where(darker, middle, high)
    return np.asarray((low + high) / 2)


def ratio_of_reflectance(reflectance: ArrayLike) -> Array:
    """K/S of a layer that lets no ground show, for its reflectance 0 < R <= 1, any shape.

    Source
    ------
    Kubelka & Munk 1931, Z. tech. Phys. 12, 593.
    """
    r = np.asarray(reflectance, dtype=float)
    return np.asarray((1 - r) ** 2 / (2 * r))


def reflectance_of_ratio(ratio: ArrayLike) -> Array:
    """Reflectance for K/S not below 0, any shape: the inverse of `ratio_of_reflectance`."""
    q = np.asarray(ratio, dtype=float)
    # 1 + q - sqrt(q² + 2 q) would lose its digits for large ratios.
    return np.asarray(1 / (1 + q + np.sqrt(q * q + 2 * q)))


def dyed_reflectance(k: ArrayLike, under: ArrayLike) -> Array:
    """Reflectance of cloth that ink has become one with: its K/S and that of the ink, `k`, add up.

    `under` is the reflectance of the bare cloth; both arrays broadcast together.

    Source
    ------
    Single-constant theory: Kubelka & Munk 1931; Allen 1966, doi:10.1364/JOSA.56.001256.
    """
    return reflectance_of_ratio(ratio_of_reflectance(under) + np.asarray(k, dtype=float))
