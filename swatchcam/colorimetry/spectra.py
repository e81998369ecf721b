"""Published spectra that a measurement leans on, and what colour a reflectance has.

Everything lies on one grid, 380 to 780 nm in steps of 5: measured sensitivities of cameras, lights, reflectances of
ordinary things, and the weights that turn a reflectance into XYZ. `calibration/spectra.npz` holds them;
`python -m tests.colorimetry.shipped_spectra` writes it and names every source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from ..resources import calibration_folder
from .cielab import WHITE_POINTS, xyz_to_lab


@dataclass(frozen=True)
class Tables:
    """The file's arrays; all read-only, all over `wavelengths`."""

    wavelengths: Array  # (81,) nm
    cameras: Array  # (c, 81, 3) relative sensitivity
    lights: Array  # (l, 81) relative power
    reflectances: Array  # (r, 81), 1 is the perfect diffuser
    weights: dict[tuple[str, int], Array]  # illuminant, observer -> (81, 3); reflectance times these is XYZ, Y = 100


@cache
def tables() -> Tables:
    """The published spectra."""
    with np.load(calibration_folder() / "spectra.npz") as file:
        arrays = {name: file[name] for name in file.files}
    weights = {
        (str(name), observer): _scaled(arrays["weights"][i, j].astype(float), (str(name), observer))
        for i, name in enumerate(arrays["weight_names"])
        for j, observer in enumerate((2, 10))
    }
    grid, cameras, lights, reflectances = (
        arrays[name].astype(float) for name in ("wavelengths", "cameras", "lights", "reflectances")
    )
    for array in (grid, cameras, lights, reflectances, *weights.values()):
        array.setflags(write=False)
    return Tables(grid, cameras, lights, reflectances, weights)


def _scaled(table: Array, key: tuple[str, int]) -> Array:
    """Weights that give the perfect diffuser its tabled white point, or Y = 100 where none is tabled."""
    total = table.sum(axis=0)
    return table * (np.array(WHITE_POINTS[key]) / total if key in WHITE_POINTS else 100 / total[1])


def xyz_weights(illuminant: str = "D65", observer: int = 10) -> Array:
    """(81, 3) what a reflectance over the grid is multiplied with to give XYZ."""
    return tables().weights[illuminant, observer]


def reflectance_to_lab(reflectance: ArrayLike, illuminant: str = "D65", observer: int = 10) -> Array:
    """(..., 81) reflectance -> (..., 3) CIELAB.

    Source: CIE 15:2018, sums in steps of 5 nm.
    """
    weights = xyz_weights(illuminant, observer)
    return xyz_to_lab(np.maximum(np.asarray(reflectance) @ weights, 1e-6), weights.sum(axis=0))


def on_grid(wavelengths: ArrayLike, spectra: ArrayLike) -> Array:
    """Spectra (..., n) at these wavelengths, nm, -> (..., 81) on the grid; the end values are continued."""
    grid, given = tables().wavelengths, np.asarray(wavelengths, dtype=float)
    rows = np.asarray(spectra, dtype=float)
    flat = [np.interp(grid, given, row) for row in rows.reshape(-1, rows.shape[-1])]
    return np.array(flat).reshape(*rows.shape[:-1], len(grid))
