"""The light falling on the card, read from its bare white: a smooth surface, and the white that can be trusted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..geometry.rectify import FlatCard

TWO_CODES = 0.021  # relative, of 8 bits at white; JPEG puts as much beside vivid ink, and nothing is dirty there
STD_OF_MAD = 1.4826  # standard deviation over median absolute deviation, of a normal distribution
# No source for these.
MAX_ORDER = 4  # total degree of the polynomial
FAR = 3.5  # robust standard deviations off the widest field: dirt or glare
ROUNDS = 6  # in which such white is left out, at most
SIMPLER = 1.03  # so much worse the simplest order may be than the best, by leave-one-out
ALIKE_CELLS = 6.0  # white cells that err together (paper, shading the polynomial cannot follow): so many count as one


@dataclass(frozen=True)
class Field:
    """The light falling on the card: a smooth surface per channel, log light = polynomial in x and y."""

    coefficients: Array  # (terms, 3), read-only
    covariance: Array  # (terms, terms), of the log, one channel; read-only
    order: int
    size_mm: tuple[float, float]
    doubt: float = 0.0  # relative; a phone that brightened places by themselves did so in the ink too
    tint: float = 0.0  # relative, of each channel by itself; where two lights mix the ink meets another mixture

    def at(self, points: Array) -> Array:
        """(..., 2) mm -> (..., 3) light on white, scene linear."""
        return np.exp(terms(points, self.order, self.size_mm) @ self.coefficients)

    def relative_std(self, points: Array) -> Array:
        """(..., 2) mm -> (...) relative standard uncertainty of the light there."""
        basis = terms(points, self.order, self.size_mm)
        return np.sqrt(np.einsum("...i,ij,...j->...", basis, self.covariance, basis) + self.doubt**2)

    def std_between(self, points: Array, others: Array) -> Array:
        """(..., 2) mm each -> (...) relative standard uncertainty of the light there against that at the others."""
        apart = terms(points, self.order, self.size_mm) - terms(others, self.order, self.size_mm)
        return np.sqrt(np.einsum("...i,ij,...j->...", apart, self.covariance, apart) + self.doubt**2)


def terms(points: Array, order: int, size_mm: tuple[float, float]) -> Array:
    """(..., 2) mm -> (..., terms) of a polynomial of total degree `order` around the card's middle."""
    x = 2 * points[..., 0] / size_mm[0] - 1
    y = (2 * points[..., 1] - size_mm[1]) / size_mm[0]
    return np.stack([x ** (n - k) * y**k for n in range(order + 1) for k in range(n + 1)], axis=-1)


def trusted_white(card: FlatCard) -> tuple[NDArray[np.int64], int]:
    """Indices of the white cells without dirt or glare, and the order of the smoothest field that explains them."""
    log = np.log(np.maximum(card.white_rgb, 1e-4))
    size = card.pose.design.size_mm
    rows = np.arange(len(log))
    widest = terms(card.white_at, MAX_ORDER, size)
    for _ in range(ROUNDS):
        coefficients = np.linalg.lstsq(widest[rows], log[rows], rcond=None)[0]
        off = np.abs(log - widest @ coefficients).max(axis=1)
        limit = max(FAR * STD_OF_MAD * float(np.median(off[rows])), TWO_CODES)
        kept = np.flatnonzero(off < limit)
        if len(kept) < 0.5 * len(log) or np.array_equal(kept, rows):
            break
        rows = kept
    scores = [_leave_one_out(terms(card.white_at[rows], order, size), log[rows]) for order in range(1, MAX_ORDER + 1)]
    order = next(i + 1 for i, score in enumerate(scores) if score <= SIMPLER * min(scores))
    return rows, order


def _leave_one_out(basis: Array, log: Array) -> float:
    q, _ = np.linalg.qr(basis)
    off = log - q @ (q.T @ log)
    leverage = (q**2).sum(axis=1, keepdims=True)
    return float(np.sqrt(((off / (1 - leverage)) ** 2).mean()))


def fit_field(at: Array, log_white: Array, order: int, size: tuple[float, float]) -> Field:
    """The light field through log light (n, 3) at points (n, 2) mm."""
    basis = terms(at, order, size)
    coefficients = np.asarray(np.linalg.lstsq(basis, log_white, rcond=None)[0], dtype=np.float64)
    off = log_white - basis @ coefficients
    covariance = np.asarray(ALIKE_CELLS * float((off**2).mean()) * np.linalg.inv(basis.T @ basis), dtype=np.float64)
    for array in (coefficients, covariance):
        array.setflags(write=False)
    return Field(coefficients, covariance, order, size)
