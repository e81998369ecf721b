"""Lights, observers and cameras of the drawn scenes, all on one grid of wavelengths.

Spectra are (..., 81) arrays over WAVELENGTHS; reflectance 1 is the perfect diffuser; XYZ has Y = 100 for it.
"""

from __future__ import annotations

import csv
import warnings
from functools import cache

import numpy as np
from numpy.typing import NDArray

from tests.paths import REFERENCE

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # at import it says that plotting is not there; nothing is plotted
    import colour

Array = NDArray[np.float64]

STEP = 5.0  # nm
WAVELENGTHS: Array = np.arange(380.0, 780.0 + STEP, STEP)
SHAPE = colour.SpectralShape(380, 780, STEP)
CMFS_NAMES = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}


@cache
def colour_matching(observer: int) -> Array:
    """(81, 3) CIE colour-matching functions."""
    return np.asarray(colour.MSDS_CMFS[CMFS_NAMES[observer]].copy().align(SHAPE).values)


@cache
def illuminant(name: str) -> Array:
    """(81,) relative power of a CIE illuminant by its name, 1 at 560 nm on average over 50 nm."""
    spectrum = np.asarray(colour.SDS_ILLUMINANTS[name].copy().align(SHAPE).values)
    return spectrum / spectrum.mean()


@cache
def daylight(kelvin: float) -> Array:
    """(81,) a phase of daylight. Source: CIE 15, as in colour-science; valid 4000 to 25000 K."""
    xy = colour.temperature.CCT_to_xy_CIE_D(kelvin * 1.4388 / 1.4380)
    spectrum = np.asarray(colour.sd_CIE_illuminant_D_series(xy).align(SHAPE).values)
    return spectrum / spectrum.mean()


def bell(centre: float, left: float, right: float | None = None) -> Array:
    """(81,) a bell of height 1, its standard deviations in nm to the short and to the long side."""
    width = np.where(centre > WAVELENGTHS, left, left if right is None else right)
    return np.exp(-0.5 * ((WAVELENGTHS - centre) / width) ** 2)


def step_up(edge: float, width: float) -> Array:
    """(81,) a smooth step from 0 to 1 at `edge` nm."""
    return 1 / (1 + np.exp(-(WAVELENGTHS - edge) / width))


def white_xyz(light: Array, observer: int) -> Array:
    """(3,) XYZ of the perfect diffuser, Y = 100."""
    return reflectance_xyz(np.ones_like(WAVELENGTHS), light, observer)


def reflectance_xyz(reflectance: Array, light: Array, observer: int) -> Array:
    """(..., 81) reflectance -> (..., 3) XYZ under a light."""
    return reflectance @ weights(light, observer)


def weights(light: Array, observer: int) -> Array:
    """(81, 3) what a reflectance is multiplied with to give XYZ."""
    table = colour_matching(observer) * light[:, None]
    return table * (100 / table[:, 1].sum())


def xyz_lab(xyz: Array, white: Array) -> Array:
    """(..., 3) XYZ -> CIELAB. Source: CIE 15, written out here so that nothing is shared with the package."""
    ratio = np.asarray(xyz, dtype=float) / white
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def lab_xyz(lab: Array, white: Array) -> Array:
    """(..., 3) CIELAB -> XYZ."""
    f = (lab[..., :1] + 16) / 116 + np.stack([lab[..., 1] / 500, 0 * lab[..., 1], -lab[..., 2] / 200], axis=-1)
    return np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29)) * white


def reflectance_lab(reflectance: Array, name: str = "D65", observer: int = 10) -> Array:
    """(..., 81) reflectance -> (..., 3) CIELAB under a CIE illuminant."""
    light = illuminant(name)
    return xyz_lab(reflectance_xyz(reflectance, light, observer), white_xyz(light, observer))


def difference(lab: Array, other: Array) -> Array:
    """CIEDE2000 of (..., 3) CIELAB pairs, by colour-science."""
    return np.asarray(colour.difference.delta_E_CIE2000(np.asarray(lab), np.asarray(other)))


@cache
def cameras() -> dict[str, Array]:
    """Name -> (81, 3) spectral sensitivities, relative. Source: the header of cameras_apache2.csv."""
    with open(REFERENCE / "cameras_apache2.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    table: dict[str, list[tuple[float, ...]]] = {}
    for row in rows:
        table.setdefault(row["camera"], []).append(tuple(float(row[key]) for key in ("wavelength_nm", "r", "g", "b")))
    found = {}
    for name, lines in table.items():
        values = np.array(sorted(lines))
        if not np.array_equal(values[:, 0], WAVELENGTHS):
            raise ValueError(f"camera {name} is on another grid of wavelengths")
        found[name] = values[:, 1:]
    return found


BUILD_CAMERAS = tuple(sorted(cameras()))[0::2]  # for building and for tests
FINAL_CAMERAS = tuple(sorted(cameras()))[1::2]  # for the last look only: nothing may be tuned on them


def balanced(kelvin: float, *parts: Array) -> Array:
    """(81,) three parts, such as a blue pump and two phosphors, mixed to the colour of a phase of daylight."""
    answers = np.array([part @ colour_matching(2) for part in parts]).T
    shares = np.linalg.solve(answers, white_xyz(daylight(kelvin), 2))
    if shares.min() <= 0:
        raise ValueError(f"these three cannot make a white of {kelvin:g} K")
    spectrum = shares @ np.array(parts)
    return spectrum / spectrum.mean()


def pump(centre: float) -> Array:
    """(81,) the blue light that leaks through the phosphor of a white LED."""
    return bell(centre, 9, 12)


def phosphor(centre: float, spread: float) -> Array:
    """(81,) the broad light of a phosphor, longer towards the red."""
    return bell(centre, 0.75 * spread, 1.25 * spread)


def overcast(kelvin: float, glass: float = 0.0) -> Array:
    """(81,) daylight through a window whose glass, `glass` thick, takes the red and the far violet."""
    passed = np.exp(-glass * (0.9 * step_up(690, 45) + 0.5 * (1 - step_up(400, 14))))
    spectrum = daylight(kelvin) * passed
    return spectrum / spectrum.mean()


BUILD_FAIR_LIGHTS: dict[str, Array] = {
    "daylight 5000": daylight(5000),
    "daylight 5700": daylight(5700),
    "daylight 6500": illuminant("D65"),
    "daylight 7300": daylight(7300),
    "window north": overcast(6900, 0.35),
    "cool LED 5100": illuminant("LED-B4"),
    "violet LED 4100": illuminant("LED-V2"),
    "cool LED a": balanced(4600, pump(450), phosphor(545, 48), phosphor(615, 42)),
    "cool LED b": balanced(6000, pump(446), phosphor(530, 45), phosphor(600, 55)),
}
FINAL_FAIR_LIGHTS: dict[str, Array] = {
    "daylight 5300": daylight(5300),
    "daylight 6000": daylight(6000),
    "daylight 6900": daylight(6900),
    "daylight 7500": illuminant("D75"),
    "window south": overcast(5600, 0.6),
    "cool LED 4100": illuminant("LED-B3"),
    "cool LED 6600": illuminant("LED-B5"),
    "cool LED c": balanced(5000, pump(456), phosphor(540, 46), phosphor(625, 40)),
    "cool LED d": balanced(5700, pump(452), phosphor(548, 55), phosphor(640, 35)),
}
BUILD_BAD_LIGHTS: dict[str, Array] = {
    "warm bulb": illuminant("A"),
    "warm LED 2700": illuminant("LED-B1"),
    "tri-band tube 4000": illuminant("FL11"),
    "colour strip warm": illuminant("LED-RGB1"),
    "colour strip a": balanced(6500, bell(462, 9), bell(522, 14), bell(630, 8)),
}
FINAL_BAD_LIGHTS: dict[str, Array] = {
    "warm LED 3000": illuminant("LED-B2"),
    "violet LED 2700": illuminant("LED-V1"),
    "tri-band tube 3000": illuminant("FL12"),
    "tri-band tube 5000": illuminant("FL10"),
    "colour strip b": balanced(4500, bell(455, 10), bell(530, 16), bell(640, 9)),
}
