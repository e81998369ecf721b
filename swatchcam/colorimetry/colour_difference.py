"""How far apart two colours are: CIEDE2000, CMC, and words for the direction.

Plain numpy: a measurement calls these tens of thousands of times. Everything broadcasts over (..., 3).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from .cielab import Complex, complex_chroma, components, lab_to_lch

# CIEDE2000, eq. 15: factor and shift of the cosines of one to four times the hue.
T1, T2 = -0.17 * np.exp(-1j * np.radians(30)), 0.24


T3, T4 = 0.32 * np.exp(1j * np.radians(6)), -0.20 * np.exp(-1j * np.radians(63))


NEAR_NEUTRAL = 4.0  # C* below which a hue angle means little to the eye; common practice, no source


WORTH_A_WORD = 0.2  # share of a CIEDE2000 below which a difference is not put into words; common practice, no source


# Roughly the CIELAB hue angles, degrees, of the four unique hues, and the word for turning towards each.
UNIQUE_HUES = ((24.0, "redder"), (90.0, "yellower"), (162.0, "greener"), (246.0, "bluer"))


ALREADY_THERE = 12.0  # degrees; so near a unique hue a colour turns away from it, not towards it


def delta_e_2000(lab: ArrayLike, target: ArrayLike) -> Array:
    """CIEDE2000 colour difference, k_L = k_C = k_H = 1.

    Parameters
    ----------
    lab, target : (..., 3) arrays, broadcast together
        CIELAB, both under the same illuminant and observer.

    Returns
    -------
    (...) array, dimensionless, same with arguments swapped

    Source
    ------
    Sharma, Wu & Dalal 2005, doi:10.1002/col.20070, eqs. 2-22. Here a' + i b is one complex number: faster than angles,
    and without their cases for hues across 0 degrees.
    """
    lightness, chroma, hue, turn = _weighted(lab, target)
    result: Array = np.sqrt(np.maximum(lightness**2 + chroma**2 + hue**2 + turn * chroma * hue, 0))
    return result


def _weighted(lab: ArrayLike, target: ArrayLike) -> tuple[Array, Array, Array, Array]:
    """ΔL'/S_L, ΔC'/S_C, ΔH'/S_H (lab minus target) and R_T of CIEDE2000."""
    (l1, z1), (l2, z2) = complex_chroma(lab), complex_chroma(target)
    grey = 0.5 - 0.5 * vividness((np.abs(z1) + np.abs(z2)) / 2)
    z1, z2 = z1 + grey * z1.real, z2 + grey * z2.real
    c1, c2 = np.abs(z1), np.abs(z2)
    delta_h, mean_hue = _hue_parts(z1, c1, z2, c2)
    chroma = (c1 + c2) / 2
    dark = ((l1 + l2) / 2 - 50) ** 2
    # Eq. 15: the cosine of k times the hue, shifted, is the real part of its k-th power, turned.
    t = (1 + mean_hue * (T1 + mean_hue * (T2 + mean_hue * (T3 + mean_hue * T4)))).real
    blue = (np.degrees(np.arctan2(mean_hue.imag, mean_hue.real)) % 360 - 275) / 25
    turn = -2 * vividness(chroma) * np.sin(np.radians(60) * np.exp(-blue * blue))
    s_l = 1 + 0.015 * dark / np.sqrt(20 + dark)
    return (l1 - l2) / s_l, (c1 - c2) / (1 + 0.045 * chroma), delta_h / (1 + 0.015 * chroma * t), turn


def vividness(chroma: Array) -> Array:
    """sqrt(C^7 / (C^7 + 25^7)): 0 for greys, towards 1 for vivid colours."""
    square = chroma * chroma
    seventh = square * square * square * chroma  # many times faster than **7
    result: Array = np.sqrt(seventh / (seventh + 25.0**7))
    return result


def _hue_parts(z1: Complex, c1: Array, z2: Complex, c2: Array) -> tuple[Array, Complex]:
    """ΔH of eq. 11 (first minus second), and the hue of eq. 14 halfway between as a complex number of size 1."""
    delta_h, middle, product = delta_hue(z1, z2), z1 * c2 + z2 * c1, c1 * c2
    size = np.abs(middle)
    # Of two colours that are grey but for rounding nothing can be divided.
    unclear = (size <= 1e-12 * product) | (size < 1e-150)
    if unclear.any():
        # Hues exactly opposite have two middles: eq. 14 means a quarter turn up from the one below 180 degrees.
        first_below = (z1.imag > 0) | ((z1.imag == 0) & (z1.real > 0))
        quarter_up = 1j * np.where(first_below, z1, z2)
        # Beside a grey there is no ΔH, and nothing else asks for the hue: any will do.
        middle = np.where(unclear, np.where(product > 1e-150, quarter_up, 1), middle)
        size = np.abs(middle)
        delta_h = np.where(unclear, np.where(first_below, -1, 1) * np.abs(delta_h), delta_h)
    return delta_h, middle / size


def delta_hue(z1: Complex, z2: Complex) -> Array:
    """2 sqrt(C1 C2) sin(Δh/2), first minus second: the complex root halves the angle between them."""
    result: Array = 2 * np.sqrt(z1 * z2.conj()).imag
    return result


def delta_e_cmc(lab: ArrayLike, standard: ArrayLike, l: float = 2.0, c: float = 1.0) -> Array:  # noqa: E741 - CMC(l:c)
    """CMC(l:c) difference of (..., 3) CIELAB from a standard: (...) array; swapping the two changes it.

    Source
    ------
    Clarke, McDonald & Rigg 1984, J. Soc. Dyers Colour. 100, 128; ISO 105-J03. 2:1 is the practice for textiles.
    """
    l2, chroma, hue = components(lab_to_lch(standard))
    blue = (hue >= 164) & (hue <= 345)
    t = np.where(
        blue,
        0.56 + np.abs(0.2 * np.cos(np.radians(hue + 168))),
        0.36 + np.abs(0.4 * np.cos(np.radians(hue + 35))),
    )
    f = np.sqrt(chroma**4 / (chroma**4 + 1900))
    s_l = np.where(l2 < 16, 0.511, 0.040975 * l2 / (1 + 0.01765 * l2))
    s_c = 0.0638 * chroma / (1 + 0.0131 * chroma) + 0.638
    s_h = s_c * (f * t + 1 - f)
    apart = components(delta_lch(lab, standard))
    result: Array = np.sqrt((apart[0] / (l * s_l)) ** 2 + (apart[1] / (c * s_c)) ** 2 + (apart[2] / s_h) ** 2)
    return result


def delta_lch(lab: ArrayLike, target: ArrayLike) -> Array:
    """(..., 3) ΔL*, ΔC*, ΔH*, sample minus target.

    ΔH* = 2 sqrt(C1 C2) sin(Δh/2) is above 0 when the sample's hue angle is the larger one; with a grey it is 0.

    Source
    ------
    CIE 15 (ISO/CIE 11664-4).
    """
    (l1, z1), (l2, z2) = complex_chroma(lab), complex_chroma(target)
    return np.stack([l1 - l2, np.abs(z1) - np.abs(z2), delta_hue(z1, z2)], axis=-1)


def describe_difference(lab: ArrayLike, target: ArrayLike) -> tuple[str, ...]:
    """Words of the trade for one (3,) CIELAB against its target, the largest share of the CIEDE2000 first.

    Lighter or darker, more vivid or duller, and towards which of red, yellow, green and blue the hue turns. Of greys,
    and of hues more than a right angle apart, only the direction in a* and b* is told. Common practice, no source.
    """
    lightness, chroma, hue, _ = (float(part) for part in _weighted(lab, target))
    shares = {"lighter" if lightness > 0 else "darker": abs(lightness)}
    (_, chroma_target, angle), (_, _, angle_lab) = lab_to_lch(target), lab_to_lch(lab)
    turned = (angle_lab - angle + 180) % 360 - 180
    if chroma_target < NEAR_NEUTRAL or abs(turned) > 90:
        _, a, b = (float(part) for part in np.asarray(lab, dtype=float) - np.asarray(target, dtype=float))
        # The two directions share what chroma and hue weigh together.
        scale = np.hypot(chroma, hue) / max(np.hypot(a, b), np.finfo(float).tiny)
        shares["redder" if a > 0 else "greener"] = abs(a) * scale
        shares["yellower" if b > 0 else "bluer"] = abs(b) * scale
    else:
        shares["more vivid" if chroma > 0 else "duller"] = abs(chroma)
        shares[_hue_word(float(angle), 1 if hue > 0 else -1)] = abs(hue)
    worth = [word for word, share in shares.items() if share >= WORTH_A_WORD]
    return tuple(sorted(worth, key=lambda word: -shares[word]))


def _hue_word(angle: float, way: int) -> str:
    """The first unique hue that lies ahead when a hue angle (degrees) turns up (way 1) or down (-1)."""
    return min(UNIQUE_HUES, key=lambda hue: (way * (hue[0] - angle) - ALREADY_THERE) % 360)[1]
