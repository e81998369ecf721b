"""What screens show: sRGB to XYZ and CIELAB and back. Everything broadcasts over (..., 3)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array, Mask
from .cielab import adapt, lab_to_xyz, white_point, xyz_to_lab

# From the primaries of IEC 61966-2-1 and white D65; the standard prints the same to four digits.
SRGB_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)


XYZ_TO_SRGB = np.linalg.inv(SRGB_TO_XYZ)


GAMUT_SLACK = 1e-4  # coded sRGB; white itself must not fall out of gamut by rounding


def decode_srgb(code: ArrayLike) -> Array:
    """Coded sRGB 0..1 -> linear light 0..1, any shape; below 0 the straight part goes on.

    Source
    ------
    IEC 61966-2-1.
    """
    code = np.asarray(code, dtype=float)
    return np.where(code <= 0.04045, code / 12.92, ((np.maximum(code, 0.04045) + 0.055) / 1.055) ** 2.4)


def encode_srgb(linear: ArrayLike) -> Array:
    """Linear light 0..1 -> coded sRGB 0..1, any shape, not clipped; the inverse of `decode_srgb`."""
    linear = np.asarray(linear, dtype=float)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055)


def srgb_to_xyz(rgb: ArrayLike) -> Array:
    """(..., 3) coded sRGB 0..1 -> (..., 3) XYZ under D65, 2 degrees, Y = 100 for white."""
    result: Array = 100 * decode_srgb(rgb) @ SRGB_TO_XYZ.T
    return result


def xyz_to_srgb(xyz: ArrayLike) -> Array:
    """(..., 3) XYZ under D65, 2 degrees -> (..., 3) coded sRGB, below 0 or above 1 where out of gamut."""
    return encode_srgb(np.asarray(xyz, dtype=float) / 100 @ XYZ_TO_SRGB.T)


def lab_to_srgb(lab: ArrayLike, illuminant: str = "D65", observer: int = 10) -> tuple[Array, Mask]:
    """(..., 3) CIELAB -> (..., 3) coded sRGB 0..1 that looks about alike on a screen, and (...) whether sRGB holds it.

    Raises
    ------
    UsageError
        No white point is known for this illuminant and observer.
    """
    white = white_point(illuminant, observer)
    rgb = xyz_to_srgb(adapt(lab_to_xyz(lab, white), white, white_point("D65", 2)))
    inside = np.all((rgb >= -GAMUT_SLACK) & (rgb <= 1 + GAMUT_SLACK), axis=-1)
    return np.clip(rgb, 0, 1), inside


def srgb_to_lab(rgb: ArrayLike, illuminant: str = "D65", observer: int = 10) -> Array:
    """(..., 3) coded sRGB 0..1 -> (..., 3) CIELAB that looks about alike; the inverse of `lab_to_srgb` in its gamut.

    Raises
    ------
    UsageError
        No white point is known for this illuminant and observer.

    Source
    ------
    IEC 61966-2-1 to XYZ under D65 and 2 degrees; from its white to the other one by `adapt`.
    """
    white = white_point(illuminant, observer)
    return xyz_to_lab(adapt(srgb_to_xyz(rgb), white_point("D65", 2), white), white)
