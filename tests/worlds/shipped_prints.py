"""Write `calibration/prints.npz`, what a print of a card is likely to be before anybody has read it.

`python -m tests.worlds.shipped_prints` writes it; `tests/cards/test_print_space.py` holds the file to this recipe.

- mean, modes: cube roots of reflectance, 380 to 780 nm in steps of 10, of what an invented printer of the build split
  (`many_printers`) makes of a grid of sRGB codes, and last of its bare stock: their mean, and the main ways in which
  printers and papers differ, each as long as its standard deviation.
- phone_mean, phone_covariance: how far a phone's own matrix is from the best one for printed colours: measured cameras
  (`calibration/spectra.npz`) whose matrix is fitted to published reflectances under the light of the photo or under
  daylight, drawn towards or away from grey by a maker's taste in SATURATION (from memory, no source).
"""

from __future__ import annotations

from itertools import product

import numpy as np

from swatchcam.cards.print_space import LEVELS
from swatchcam.colorimetry.cielab import white_point
from swatchcam.colorimetry.spectra import tables, xyz_weights
from swatchcam.measurement.colour_matrix import stated_matrix
from tests.paths import HOME
from tests.worlds.many_printers import random_printer
from tests.worlds.phone import rgb_matrix
from tests.worlds.spectra import WAVELENGTHS, illuminant, reflectance_xyz
from tests.worlds.trial import workers

TARGET = HOME / "calibration" / "prints.npz"
PRINTERS, MODES, SEED = 500, 24, 18
SATURATION = (1.0, 1.15)
CODES = np.array(list(product(LEVELS, repeat=3)))


def grid_print(number: int) -> np.ndarray:
    """(codes + 1, 41) cube root of the reflectance of every code of the grid, and of the stock."""
    rng = np.random.default_rng((SEED, number))
    printer = random_printer(rng, "build")
    whole = rng.normal(0, printer.drift, 4)
    spectra = printer.engine.reflect(printer.driver.amounts(CODES / 255) * (1 + whole))
    return np.cbrt(np.vstack([spectra, printer.paper]))[:, ::2]


def prints() -> tuple[np.ndarray, np.ndarray]:
    """Mean (codes + 1, 41) and main modes (MODES, codes + 1, 41)."""
    with workers(2) as pool:
        every = np.array(list(pool.imap(grid_print, range(PRINTERS))))
    flat = every.reshape(PRINTERS, -1)
    mean = flat.mean(axis=0)
    # Of 24 modes 99 % of the variance.
    _, size, ways = np.linalg.svd(flat - mean, full_matrices=False)
    modes = ways[:MODES] * (size[:MODES, None] / np.sqrt(PRINTERS - 1))
    signs = np.sign(modes[np.arange(MODES), np.abs(modes).argmax(axis=1)])
    return mean.reshape(every.shape[1:]), (modes * signs[:, None]).reshape(MODES, *every.shape[1:])


def phones(print_spectra: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean (6,) and covariance (6, 6) of what must be added to the green and blue entries of each row of a matrix.

    The matrix takes light relative to the stock to X, Y and Z relative to the stock's; its rows sum to 1. It is the one
    that suits `print_spectra` (n, 81) best, the stock last.
    """
    known, rng = tables(), np.random.default_rng(SEED)
    white, daylight, srgb = white_point("D65", 10), illuminant("D65"), rgb_matrix("sRGB")
    stated = stated_matrix(srgb, white, white) / white[:, None]
    wanted = relative(print_spectra, xyz_weights("D65", 10))
    # What a maker fits to: XYZ of daylight for the 2 degree observer, white kept.
    makers = reflectance_xyz(known.reflectances, daylight, 2) @ np.linalg.inv(srgb).T
    grey = np.outer(np.ones(3), srgb[1] / 100)
    found = []
    for camera, light in product(known.cameras, known.lights):
        made_for = camera * (light if rng.random() < 0.5 else daylight)[:, None]
        matrix = white_kept((known.reflectances @ made_for) / made_for.sum(axis=0), makers)
        boost = rng.uniform(*SATURATION)
        shown = relative(print_spectra, camera * light[:, None]) @ (
            matrix.T @ (boost * np.eye(3) + (1 - boost) * grey).T
        )
        found.append((white_kept(shown, wanted) - stated)[:, 1:].ravel())
    return np.mean(found, axis=0), np.cov(np.array(found).T)


def relative(spectra: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """(n, 3) what weights (81, 3) see of spectra (n, 81) relative to the last."""
    return (spectra @ weights) / (spectra[-1] @ weights)


def whole_grid(rows: np.ndarray) -> np.ndarray:
    """(n, 41) every 10 nm -> (n, 81) every 5."""
    return np.array([np.interp(WAVELENGTHS, WAVELENGTHS[::2], row) for row in rows])


def white_kept(seen: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """(3, 3) matrix, rows sum to 1, that takes `seen` (n, 3) nearest to `wanted` (n, 3)."""
    free = np.linalg.lstsq(seen[:, 1:] - seen[:, :1], wanted - seen[:, :1], rcond=None)[0].T
    return np.column_stack([1 - free.sum(axis=1), free])


def shipped() -> dict[str, np.ndarray]:
    """The arrays of the file."""
    mean, modes = prints()
    phone_mean, phone_covariance = phones(whole_grid(mean) ** 3)
    arrays = {"mean": mean, "modes": modes, "phone_mean": phone_mean, "phone_covariance": phone_covariance}
    return {name: array.astype(np.float16 if name == "modes" else np.float32) for name, array in arrays.items()}


def main() -> None:
    np.savez_compressed(TARGET, **shipped())


if __name__ == "__main__":
    main()
