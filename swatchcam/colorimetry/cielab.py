"""XYZ, CIELAB, and the whites they are relative to.

Plain numpy: a measurement calls these tens of thousands of times, and importing a colour library alone takes
longer than the rest of it. The tests hold every formula here to published numbers and to two such libraries.
XYZ has Y = 100 for the perfect diffuser. Everything broadcasts over (..., 3).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Array
from ..errors import UsageError

Lab = tuple[float, float, float]  # L*, a*, b*


Complex = NDArray[np.complex128]


# ASTM E308, Y = 100. CIE 15 rounds some of them otherwise; with these the published examples come out to the digit.
WHITE_POINTS = {
    ("A", 2): (109.850, 100.0, 35.585),
    ("A", 10): (111.144, 100.0, 35.200),
    ("C", 2): (98.074, 100.0, 118.232),
    ("C", 10): (97.285, 100.0, 116.145),
    ("D50", 2): (96.422, 100.0, 82.521),
    ("D50", 10): (96.720, 100.0, 81.427),
    ("D65", 2): (95.047, 100.0, 108.883),
    ("D65", 10): (94.811, 100.0, 107.304),
}


BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


BEND = 6 / 29  # CIE 15: where the cube root of CIELAB turns into a straight line


def white_point(illuminant: str = "D65", observer: int = 10) -> Array:
    """(3,) XYZ of the perfect diffuser, Y = 100.

    Raises
    ------
    UsageError
        No white point is known for this illuminant and observer.

    Source
    ------
    ASTM E308, table 5.
    """
    try:
        return np.array(WHITE_POINTS[illuminant, observer])
    except (KeyError, TypeError):
        raise UsageError(
            "white-point-unknown", "choose-a-known-illuminant", illuminant=illuminant, observer=observer
        ) from None


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike) -> Array:
    """(..., 3) XYZ -> (..., 3) CIELAB relative to the (3,) XYZ of white.

    Source
    ------
    CIE 15 (ISO/CIE 11664-4), with the exact fractions of 6/29.
    """
    t = np.asarray(xyz, dtype=float) / white
    f = np.where(t > BEND**3, np.cbrt(t), t / (3 * BEND**2) + 4 / 29)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def lab_to_xyz(lab: ArrayLike, white: ArrayLike) -> Array:
    """(..., 3) CIELAB -> (..., 3) XYZ; the inverse of `xyz_to_lab`."""
    lightness, a, b = components(lab)
    y = (lightness + 16) / 116
    f = np.stack([y + a / 500, y, y - b / 200], axis=-1)
    return np.where(f > BEND, f**3, 3 * BEND**2 * (f - 4 / 29)) * np.asarray(white, dtype=float)


def lab_to_lch(lab: ArrayLike) -> Array:
    """(..., 3) CIELAB -> (..., 3) L*, C*, hue angle in degrees from 0 up to 360."""
    lightness, a, b = components(lab)
    # The remainder of a tiny negative angle rounds to 360 itself.
    hue = np.degrees(np.arctan2(b, a)) % 360
    return np.stack([lightness, np.hypot(a, b), np.where(hue == 360, 0.0, hue)], axis=-1)


def complex_chroma(lab: ArrayLike) -> tuple[Array, Complex]:
    """L* and a* + i b*."""
    lab = np.asarray(lab, dtype=float)
    return lab[..., 0], lab[..., 1] + 1j * lab[..., 2]


def adapt(xyz: ArrayLike, white_from: ArrayLike, white_to: ArrayLike) -> Array:
    """(..., 3) XYZ under one white -> XYZ that looks alike under another; both whites (3,).

    Source
    ------
    Linear Bradford transform (Lam 1985), as in ICC.1.
    """
    gain = (BRADFORD @ np.asarray(white_to, dtype=float)) / (BRADFORD @ np.asarray(white_from, dtype=float))
    result: Array = np.asarray(xyz, dtype=float) @ (np.linalg.inv(BRADFORD) @ (gain[:, None] * BRADFORD)).T
    return result


def components(values: ArrayLike) -> tuple[Array, Array, Array]:
    """(..., 3) -> three (...) arrays."""
    values = np.asarray(values, dtype=float)
    return values[..., 0], values[..., 1], values[..., 2]
