"""Pigments in a layer of ink: from shares to reflectance, and how that moves with everything that is not known.

What is not known is one vector of numbers, so that it can be estimated together: of each pigment the logarithm of its
absorption at NODES wavelengths, of its scatter, and of the share at which it has lost half its strength by crowding;
of the studio the binder's scatter, the surface's two terms, and the cloth. Where strips are seen in two states, such as
air-dried and heat-set, or on two cloths, what the later one adds to each of these numbers is not known either: the
vector is twice as long.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..colorimetry.kubelka_munk import Surface, dyed_reflectance, film_reflectance
from ..colorimetry.spectra import tables, xyz_weights
from ..measurement.error_budget import lab_slope

FILM, DYED, SUNK = "film", "dyed", "sunk"  # over the cloth; one with it; a film of which a part has sunk in
NODES = 21  # 380 to 780 nm in steps of 20
SCATTERED = 550.0  # nm; where a pigment's scatter is told
STEP = 1e-5  # relative, of derivatives


@dataclass(frozen=True)
class Slopes:
    """How m layers move, in reflectance (c = 81) or in what was made of it, such as CIELAB (c = 3)."""

    theta: Array  # (m, c, unknowns)
    strength: Array  # (m, c) with the logarithm of the film's thickness
    shares: Array  # (m, c, pigments) with each share, for 1 %


@dataclass(frozen=True)
class Layer:
    """Layers of these pigments over one cloth."""

    pigments: tuple[str, ...]
    kind: str  # FILM, DYED or SUNK
    cloth: Array  # (81,) the cloth as it is thought to be, within the layer; read-only
    two_states: bool = False  # whether strips are seen in a later state, too, or on another cloth
    later_cloth: Array | None = None  # (81,) that other cloth; read-only

    @property
    def of_one_state(self) -> int:
        """How many numbers describe one state."""
        return len(self.pigments) * (NODES + 2) + NODES + 3 + (self.kind == SUNK)

    @property
    def unknowns(self) -> int:
        """How many numbers are not known."""
        return self.of_one_state * (1 + self.two_states)

    def at(self, theta: Array, later: bool = False) -> Array:
        """(of_one_state,) the numbers of the earlier state, or of the later one."""
        own = theta[: self.of_one_state]
        return own + theta[self.of_one_state :] if later and self.two_states else own

    def absorption_of(self, pigment: int) -> slice:
        """Where the logarithms of a pigment's absorption stand, at NODES, for 1 % in a film of thickness 1."""
        return slice(pigment * (NODES + 2), pigment * (NODES + 2) + NODES)

    def scatter_of(self, pigment: int) -> int:
        """Where the logarithm of a pigment's scatter stands, for 1 % in a film of thickness 1."""
        return pigment * (NODES + 2) + NODES

    def crowding_of(self, pigment: int) -> int:
        """Where the logarithm of the share stands, %, at which a pigment has half its strength."""
        return pigment * (NODES + 2) + NODES + 1

    @property
    def ground(self) -> slice:
        """Where the logarithm of what the cloth is off by stands, at NODES."""
        start = len(self.pigments) * (NODES + 2)
        return slice(start, start + NODES)

    @property
    def binder(self) -> int:
        """Where the logarithm of the binder's scatter stands; after it k1 and k2 of the surface, and of what sank in.

        That is the log-odds of the share of the area where ink did; it is there in SUNK only.
        """
        return len(self.pigments) * (NODES + 2) + NODES

    def like(self, other: Layer) -> bool:
        """Whether the numbers of one are numbers of the other."""
        mine, its = ((one.pigments, one.kind, one.two_states, one.later_cloth is None) for one in (self, other))
        return mine == its

    @cached_property
    def between(self) -> Array:
        """(81, NODES) what values at the nodes are multiplied with to stand at every wavelength."""
        grid = tables().wavelengths
        nodes = np.linspace(grid[0], grid[-1], NODES)
        return np.array([np.interp(grid, nodes, unit) for unit in np.eye(NODES)]).T

    def reflectance(self, theta: Array, shares: Array, strength: Array | float = 1.0, later: bool = False) -> Array:
        """(m, 81) seen from outside, of layers with shares (m, pigments), %, `strength` times as thick as usual."""
        theta = self.at(theta, later)
        cloth = self._cloth(theta, later)
        k, s, _ = self._coefficients(theta, shares)
        thick = np.reshape(strength, (-1, 1))
        return self._outside(theta, thick * k, thick * s, cloth)

    def slopes(
        self,
        theta: Array,
        shares: Array,
        strength: Array | float = 1.0,
        through: Array | None = None,
        later: bool = False,
    ) -> Slopes:
        """How that reflectance moves; or (m, c, 81) `through` it, such as `lab_slopes`: faster than afterwards."""
        theta = self.at(theta, later)
        cloth = self._cloth(theta, later)
        k, s, each = self._coefficients(theta, shares)
        way = np.broadcast_to(np.eye(len(self.cloth)), (len(k), *2 * k.shape[1:])) if through is None else through
        thick = np.reshape(strength, (-1, 1))
        all_k, all_s, under = thick * k, thick * s, np.broadcast_to(cloth, k.shape)
        by_k = thick * _slope(lambda moved: self._outside(theta, moved, all_s, cloth), all_k)
        by_s = thick * _slope(lambda moved: self._outside(theta, all_k, moved, cloth), all_s)
        by_cloth = _slope(lambda moved: self._outside(theta, all_k, all_s, moved), under)

        def seen(moving: Array) -> Array:
            return np.asarray((way @ moving[:, :, None])[:, :, 0])

        slope = np.zeros((*way.shape[:2], self.unknowns))
        in_shares = np.zeros((*way.shape[:2], len(self.pigments)))
        for p, (own_k, own_s, half) in enumerate(each):
            working, gain, loss = _crowded(shares[:, p, None], half)
            slope[:, :, self.absorption_of(p)] = (way * (by_k * working * own_k)[:, None]) @ self.between
            slope[:, :, self.scatter_of(p)] = seen(by_s * working * own_s)
            unit = by_k * own_k + by_s * own_s
            slope[:, :, self.crowding_of(p)] = seen(unit * loss)
            in_shares[:, :, p] = seen(unit * gain)
        slope[:, :, self.ground] = (way * (by_cloth * cloth)[:, None]) @ self.between
        slope[:, :, self.binder] = seen(by_s * np.exp(theta[self.binder]))
        for place in range(self.binder + 1, self.of_one_state):
            step = STEP * np.eye(len(theta))[place]
            more, less = (self._outside(theta + sign * step, all_k, all_s, cloth) for sign in (1, -1))
            slope[:, :, place] = seen((more - less) / (2 * STEP))
        if self.two_states and later:  # what the later state adds counts there as much as what was before
            slope[:, :, self.of_one_state :] = slope[:, :, : self.of_one_state]
        return Slopes(slope, seen(by_k * k + by_s * s), in_shares)

    def _coefficients(self, theta: Array, shares: Array) -> tuple[Array, Array, list[tuple[Array, Array, float]]]:
        """(m, 81) absorption and scatter of the layers, and (81,), (81,) and half-strength share of each pigment."""
        size = len(shares), len(self.cloth)
        k, s = np.zeros(size), np.full(size, np.exp(theta[self.binder]))
        each = []
        for p in range(len(self.pigments)):
            own_k = np.exp(self.between @ theta[self.absorption_of(p)])
            own_s = np.exp(theta[self.scatter_of(p)]) * SCATTERED / tables().wavelengths
            half = float(np.exp(theta[self.crowding_of(p)]))
            working = _crowded(shares[:, p, None], half)[0]
            k, s = k + working * own_k, s + working * own_s
            each.append((own_k, own_s, half))
        return k, s, each

    def _cloth(self, theta: Array, later: bool) -> Array:
        """(81,) within the layer; `theta` (of_one_state,) is that of the state."""
        own = self.later_cloth if later and self.later_cloth is not None else self.cloth
        return np.asarray(own * np.exp(self.between @ theta[self.ground]))

    def _outside(self, theta: Array, k: Array, s: Array, cloth: Array) -> Array:
        """(..., 81) seen from outside, of a layer of absorption and scatter k and s, over that cloth."""
        seen = Surface(*theta[self.binder + 1 : self.binder + 3]).outside(self.inner(k, s, cloth))
        if self.kind != SUNK:
            return seen
        sunk = 1 / (1 + np.exp(-theta[self.binder + 3]))
        return np.asarray((1 - sunk) * seen + sunk * dyed_reflectance(k, cloth))

    def inner(self, k: Array, s: Array, cloth: Array) -> Array:
        """(..., 81) reflectance within a layer of absorption and scatter k and s, over that cloth."""
        return dyed_reflectance(k, cloth) if self.kind == DYED else film_reflectance(k, s, 1.0, cloth)


def lab_slopes(reflectance: Array) -> Array:
    """(m, 81) -> (m, 3, 81) change of CIELAB with reflectance; D65, 10 degrees."""
    weights = xyz_weights()
    return np.asarray(lab_slope(np.maximum(reflectance @ weights, 1e-4), weights.sum(axis=0)) @ weights.T)


def _crowded(share: Array, half: float) -> tuple[Array, Array, Array]:
    """What of a share works, its slope with the share, and with the logarithm of `half`."""
    rest = 1 / (1 + share / half)
    return share * rest, rest**2, share * share / half * rest**2


def _slope(formula, at: Array) -> Array:  # type: ignore[no-untyped-def]
    above, below = at + np.maximum(at * STEP, 1e-9), np.maximum(at - np.maximum(at * STEP, 1e-9), 0)
    return np.asarray((formula(above) - formula(below)) / (above - below))
