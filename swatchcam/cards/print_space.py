"""What a print of a card may be before anybody has read it: a mean, and the main ways in which prints differ.

`calibration/prints.npz` holds cube roots of reflectance (about as even to the eye as lightness is) over a grid of
sRGB codes; a patch's own are interpolated. `python -m tests.worlds.shipped_prints` writes it and says what it rests on.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from ..arrays import Array
from ..resources import calibration_folder
from .design import CardDesign

LEVELS = np.linspace(0, 255, 6)  # sRGB codes of the grid, along each of red, green and blue
WIDER = 2.0  # printers of kinds that nobody drew differ more than those that were; no source
LEAST = 0.15  # cube root; no print reflects less than 0.3 %


@dataclass(frozen=True, eq=False)  # there is one of each design
class PrintSpace:
    """The plausible prints of one design; the arrays are read-only. Patches in card order, the bare stock last."""

    mean: Array  # (n, 81) cube root of reflectance
    modes: Array  # (k, n, 81) what one standard deviation of each independent number adds

    @property
    def usual(self) -> Array:
        """(k,) numbers of the mean print."""
        return np.zeros(len(self.modes))

    def reflectance(self, numbers: Array) -> Array:
        """(..., k) independent standard normal numbers -> (..., n, 81) reflectance."""
        return np.asarray(np.maximum(self.mean + np.tensordot(numbers, self.modes, axes=1), LEAST) ** 3)


@cache
def print_space(design: CardDesign) -> PrintSpace:
    """The plausible prints of a design."""
    arrays = stored()
    share = _shares(design)
    mean = share @ arrays["mean"]
    modes = WIDER * np.einsum("ng,kgw->knw", share, arrays["modes"])
    mean, modes = _to_grid(mean), _to_grid(modes)
    for array in (mean, modes):
        array.setflags(write=False)
    return PrintSpace(mean, modes)


@cache
def stored() -> dict[str, Array]:
    """The file's arrays."""
    with np.load(calibration_folder() / "prints.npz") as file:
        return {name: file[name].astype(float) for name in file.files}


def _shares(design: CardDesign) -> Array:
    """(n, grid) how much of each code of the grid is in each patch, linearly between them; the stock last."""
    place = np.array([patch.srgb for patch in design.patches]) / (LEVELS[1] - LEVELS[0])
    low = np.minimum(place.astype(int), len(LEVELS) - 2)
    shares = np.zeros((len(place) + 1, len(LEVELS) ** 3 + 1))
    for corner in np.ndindex(2, 2, 2):
        at = np.ravel_multi_index(tuple((low + corner).T), (len(LEVELS),) * 3)
        shares[np.arange(len(place)), at] += np.prod(np.where(corner, place - low, 1 - place + low), axis=1)
    shares[-1, -1] = 1.0
    return shares


def _to_grid(rows: Array) -> Array:
    """(..., 41) every 10 nm -> (..., 81) every 5."""
    between = (rows[..., 1:] + rows[..., :-1]) / 2
    found = np.empty((*rows.shape[:-1], 2 * rows.shape[-1] - 1))
    found[..., ::2], found[..., 1::2] = rows, between
    return found
