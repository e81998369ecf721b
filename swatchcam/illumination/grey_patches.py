"""The card's printed greys: what the camera saw of them, and what it should have seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Mask
from ..cards.values import CardValues
from ..colorimetry.cielab import lab_to_xyz, white_point
from ..errors import LightError
from ..geometry.rectify import MAX_SPREAD, FlatCard

MIN_LEVELS = 4  # grey steps that fix the tone curve; no source
DARKEST = 0.005  # of full scale: the noise of a darker grey is not taken as larger than its light; no source
SUREST_CARD = 0.2  # CIEDE2000; no card's values are taken as surer than this; no source
STAND_IN, PREDICTED = 0.003, 0.0015  # of the cube root: how well XYZ stands in for the camera's eye, or its response

PredictedLight = dict[str, Array]  # patch -> (3,) light relative to the bare stock


@dataclass(frozen=True)
class Greys:
    """The usable greys, one row each."""

    level: NDArray[np.int64]  # which printed grey, by what was sent to the printer
    at: Array
    rgb: Array
    expected: Array  # (n, 3) cube root of reflectance relative to the bare stock
    std: Array  # (n, 3) of that cube root

    def some(self, which: Mask) -> Greys:
        """Those greys only."""
        return Greys(self.level[which], self.at[which], self.rgb[which], self.expected[which], self.std[which])


def usable_greys(card: FlatCard, values: CardValues, predicted: PredictedLight | None = None) -> Greys:
    """The card's greys but for overexposed and uneven ones; `predicted` tells what the camera should see of each.

    Raises
    ------
    LightError
        Too few grey steps are left.
    """
    patches = {patch.name: patch for patch in card.pose.design.greys}
    white = white_point(values.illuminant, values.observer)
    paper = lab_to_xyz(np.array(values.lab["paper"]), white)
    chosen = [
        sample
        for sample in card.samples
        if sample.name in patches and not sample.overexposed and sample.spread < MAX_SPREAD
    ]
    codes = [patches[sample.name].srgb for sample in chosen]
    if len(set(codes)) < MIN_LEVELS:
        raise LightError("too-few-greys", "uncover-the-greys", usable=len(set(codes)), needed=MIN_LEVELS)
    xyz = lab_to_xyz(np.array([values.lab[sample.name] for sample in chosen]), white)
    # A near-neutral patch reflects much the same in every band; X, Y and Z stand in for red, green and blue.
    expected = cube_root(xyz / paper if predicted is None else np.array([predicted[sample.name] for sample in chosen]))
    rgb = np.array([sample.rgb for sample in chosen])
    noise = np.array([sample.rgb_std for sample in chosen]) / np.maximum(rgb, DARKEST) / 3 * expected
    # One unit of L* is 1/116 of the cube root; tinted greys and their spectra add a little of their own.
    doubt = STAND_IN if predicted is None else PREDICTED
    std = np.sqrt(noise**2 + (max(values.uncertainty, SUREST_CARD) / 116) ** 2 + doubt**2)
    levels = {code: number for number, code in enumerate(sorted(set(codes)))}
    return Greys(
        np.array([levels[code] for code in codes]),
        np.array([sample.at for sample in chosen]),
        rgb,
        expected,
        std,
    )


def cube_root(ratio: Array) -> Array:
    """CIELAB's f: the cube root, straight near black so that its slope stays finite."""
    return np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)


def grey_spread(greys: Greys, lightness: Array) -> float:
    """Rms disagreement, in L*, between the prints of each grey step once light and tone are off."""
    squares = [
        (lightness[greys.level == level] - lightness[greys.level == level].mean()) ** 2
        for level in np.unique(greys.level)
        if (greys.level == level).sum() > 1
    ]
    return float(np.sqrt(np.concatenate(squares).mean())) if squares else 0.0
