"""Write `calibration/spectra.npz`, the published spectra that a measurement leans on.

`python -m tests.colorimetry.shipped_spectra` writes it.

All on one grid, 380 to 780 nm in steps of 5. `tests/colorimetry/test_spectra.py` holds the stored file to this recipe.

- cameras: relative sensitivities, source in the head of `tests/reference/cameras_apache2.csv`. Every other camera is
  left out, so that the benchmark can look through eyes the tool has never seen.
- lights: CIE 15 and CIE 224 tables of colour-science, phases of daylight, and white LEDs put together from a blue
  pump and a phosphor, as such lamps are. The lamps of the benchmark are not among them.
- reflectances: the 99 colour evaluation samples of CIE 224:2017, and the 22 different test samples of two versions of
  the NIST colour quality scale, both from colour-science. The test colour samples of CIE 13.3 are left out, so that
  tests can look at things the tool has never seen.
- weights: colour-matching functions times illuminant, such that the perfect diffuser has the white points of
  `colorimetry.cielab`.
"""

from __future__ import annotations

from collections.abc import Mapping

import colour
import numpy as np
from colour.quality.cfi2017 import load_TCS_CIE2017
from colour.quality.datasets import SDS_TCS, SDS_VS

from tests.paths import HOME
from tests.worlds.spectra import (
    BUILD_CAMERAS,
    SHAPE,
    WAVELENGTHS,
    balanced,
    cameras,
    colour_matching,
    daylight,
    illuminant,
    phosphor,
    pump,
)

TARGET = HOME / "calibration" / "spectra.npz"
WEIGHTS = ("A", "C", "D50", "D65", "LED-B3")


def lights() -> dict[str, np.ndarray]:
    found = {f"daylight {kelvin}": daylight(kelvin) for kelvin in (4300, 5000, 5700, 6500, 7300)}
    found |= {name: illuminant(name) for name in ("A", "LED-B1", "LED-B4", "LED-BH1", "LED-RGB1", "LED-V2", "FL11")}
    for kelvin, blue, green, red in ((4600, 450, 545, 615), (6000, 446, 530, 600), (4000, 454, 550, 620)):
        found[f"white LED {kelvin}"] = balanced(kelvin, pump(blue), phosphor(green, 48), phosphor(red, 45))
    return found


def reflectances() -> np.ndarray:
    """(121, 81) what the tool learns from."""
    evaluation = np.asarray(load_TCS_CIE2017(SHAPE).values).T
    newer, older = (aligned(SDS_VS[f"NIST CQS {version}"]) for version in ("9.0", "7.4"))
    again = np.isclose(older[:, None], newer, rtol=0, atol=1e-6).all(axis=2).any(axis=1)  # eight are in both
    return np.vstack([evaluation, newer, older[~again]])


def held_out() -> np.ndarray:
    """(14, 81) the test colour samples of CIE 13.3-1995: what nothing is learned from."""
    return aligned(SDS_TCS["CIE 1995"])


def aligned(spectra: Mapping[str, colour.SpectralDistribution]) -> np.ndarray:
    return np.array([spectrum.copy().align(SHAPE).values for spectrum in spectra.values()])


def tables() -> dict[str, np.ndarray]:
    weights = [[colour_matching(observer) * illuminant(name)[:, None] for observer in (2, 10)] for name in WEIGHTS]
    eyes = np.array([cameras()[name] for name in BUILD_CAMERAS])
    return {
        "wavelengths": WAVELENGTHS,
        "cameras": (eyes / eyes.max(axis=(1, 2), keepdims=True)).astype(np.float32),
        "lights": np.array(list(lights().values()), dtype=np.float32),
        "light_names": np.array(list(lights())),
        "reflectances": reflectances().astype(np.float32),
        "weights": np.array(weights, dtype=np.float32),
        "weight_names": np.array(WEIGHTS),
    }


if __name__ == "__main__":
    np.savez_compressed(TARGET, **tables())
    print(f"{TARGET}: {TARGET.stat().st_size / 1000:.0f} kB")
