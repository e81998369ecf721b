"""The phone's tone curve: what it did to the light beyond the file's own coding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry.srgb import decode_srgb, encode_srgb

CURVE_PRIOR = 0.15 / np.arange(1, 6) ** 1.5  # of the coded range, for the curve's five sine terms; no source


@dataclass(frozen=True)
class Tone:
    """The phone's tone curve beyond the file's own coding, and the veil of flare under everything.

    With u = the sRGB coding of the file's linear light, scene light = decode(u + Σ terms_k sin(k π u)) - flare.
    """

    terms: tuple[float, ...]
    flare: float  # linear, of full scale

    def apply(self, light: NDArray[np.floating]) -> Array:
        """File's linear light -> scene light, same shape, above zero."""
        return np.maximum(self.unbend(waves(light)), 1e-5)

    def unbend(self, seen: Array) -> Array:
        """From `waves` of the light, which stay the same while terms are tried; may fall below zero."""
        return decode_srgb(seen @ np.array((1.0, *self.terms))) - self.flare

    def table(self, decode: NDArray[np.float32]) -> NDArray[np.float32]:
        """(levels, 3) code value -> scene light, from the file's own table."""
        return self.apply(decode).astype(np.float32)


def waves(light: NDArray[np.floating]) -> Array:
    """(...) linear light -> (..., 1 + terms): u, then sin(k π u)."""
    u = encode_srgb(np.asarray(light, dtype=float))
    k = np.arange(1, len(CURVE_PRIOR) + 1)
    return np.concatenate([u[..., None], np.sin(np.pi * u[..., None] * k)], axis=-1)
