"""The formulas of colour: XYZ, CIELAB, sRGB, and how far apart two colours are.

Plain numpy: a measurement calls these tens of thousands of times, and importing a colour library alone takes
longer than the rest of it. The tests hold every formula here to published numbers and to two such libraries.
XYZ has Y = 100 for the perfect diffuser. Everything broadcasts over (..., 3).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Array, Mask
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
# From the primaries of IEC 61966-2-1 and white D65; the standard prints the same to four digits.
SRGB_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
XYZ_TO_SRGB = np.linalg.inv(SRGB_TO_XYZ)
# CIEDE2000, eq. 15: factor and shift of the cosines of one to four times the hue.
T1, T2 = -0.17 * np.exp(-1j * np.radians(30)), 0.24
T3, T4 = 0.32 * np.exp(1j * np.radians(6)), -0.20 * np.exp(-1j * np.radians(63))
GAMUT_SLACK = 1e-4  # coded sRGB; white itself must not fall out of gamut by rounding
BEND = 6 / 29  # CIE 15: where the cube root of CIELAB turns into a straight line
NEAR_NEUTRAL = 4.0  # C* below which a hue angle means little to the eye; common practice, no source
WORTH_A_WORD = 0.2  # share of a CIEDE2000 below which a difference is not put into words; common practice, no source
# Roughly the CIELAB hue angles, degrees, of the four unique hues, and the word for turning towards each.
UNIQUE_HUES = ((24.0, "redder"), (90.0, "yellower"), (162.0, "greener"), (246.0, "bluer"))
ALREADY_THERE = 12.0  # degrees; so near a unique hue a colour turns away from it, not towards it


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
            f"There is no white point for illuminant {illuminant} and observer {observer}.",
            "Choose illuminant A, C, D50 or D65, and observer 2 or 10 (degrees).",
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
    lightness, a, b = _split(lab)
    y = (lightness + 16) / 116
    f = np.stack([y + a / 500, y, y - b / 200], axis=-1)
    return np.where(f > BEND, f**3, 3 * BEND**2 * (f - 4 / 29)) * np.asarray(white, dtype=float)


def lab_to_lch(lab: ArrayLike) -> Array:
    """(..., 3) CIELAB -> (..., 3) L*, C*, hue angle in degrees from 0 up to 360."""
    lightness, a, b = _split(lab)
    # The remainder of a tiny negative angle rounds to 360 itself.
    hue = np.degrees(np.arctan2(b, a)) % 360
    return np.stack([lightness, np.hypot(a, b), np.where(hue == 360, 0.0, hue)], axis=-1)


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
    (l1, z1), (l2, z2) = _complex(lab), _complex(target)
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
    delta_h, middle, product = _delta_h(z1, z2), z1 * c2 + z2 * c1, c1 * c2
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


def _delta_h(z1: Complex, z2: Complex) -> Array:
    """2 sqrt(C1 C2) sin(Δh/2), first minus second: the complex root halves the angle between them."""
    result: Array = 2 * np.sqrt(z1 * z2.conj()).imag
    return result


def _complex(lab: ArrayLike) -> tuple[Array, Complex]:
    """L* and a* + i b*."""
    lab = np.asarray(lab, dtype=float)
    return lab[..., 0], lab[..., 1] + 1j * lab[..., 2]


def delta_e_cmc(lab: ArrayLike, standard: ArrayLike, l: float = 2.0, c: float = 1.0) -> Array:  # noqa: E741 - CMC(l:c)
    """CMC(l:c) difference of (..., 3) CIELAB from a standard: (...) array; swapping the two changes it.

    Source
    ------
    Clarke, McDonald & Rigg 1984, J. Soc. Dyers Colour. 100, 128; ISO 105-J03. 2:1 is the practice for textiles.
    """
    l2, chroma, hue = _split(lab_to_lch(standard))
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
    apart = _split(delta_lch(lab, standard))
    result: Array = np.sqrt((apart[0] / (l * s_l)) ** 2 + (apart[1] / (c * s_c)) ** 2 + (apart[2] / s_h) ** 2)
    return result


def delta_lch(lab: ArrayLike, target: ArrayLike) -> Array:
    """(..., 3) ΔL*, ΔC*, ΔH*, sample minus target.

    ΔH* = 2 sqrt(C1 C2) sin(Δh/2) is above 0 when the sample's hue angle is the larger one; with a grey it is 0.

    Source
    ------
    CIE 15 (ISO/CIE 11664-4).
    """
    (l1, z1), (l2, z2) = _complex(lab), _complex(target)
    return np.stack([l1 - l2, np.abs(z1) - np.abs(z2), _delta_h(z1, z2)], axis=-1)


def adapt(xyz: ArrayLike, white_from: ArrayLike, white_to: ArrayLike) -> Array:
    """(..., 3) XYZ under one white -> XYZ that looks alike under another; both whites (3,).

    Source
    ------
    Linear Bradford transform (Lam 1985), as in ICC.1.
    """
    gain = (BRADFORD @ np.asarray(white_to, dtype=float)) / (BRADFORD @ np.asarray(white_from, dtype=float))
    result: Array = np.asarray(xyz, dtype=float) @ (np.linalg.inv(BRADFORD) @ (gain[:, None] * BRADFORD)).T
    return result


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


def _split(values: ArrayLike) -> tuple[Array, Array, Array]:
    values = np.asarray(values, dtype=float)
    return values[..., 0], values[..., 1], values[..., 2]
