"""The prior of prints: the file is what its recipe makes, and prints of the build split lie inside."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.cards.design import designs
from swatchcam.cards.print_space import LEVELS, print_space, stored
from swatchcam.colorimetry.spectra import reflectance_to_lab
from tests.worlds.many_printers import random_print
from tests.worlds.shipped_prints import CODES, phones, whole_grid
from tests.worlds.spectra import difference

SPACE = print_space(designs()["a5"])


def test_the_mean_print_is_paper_white_ink_dark_and_greys_in_order():
    """A print's order of lightness is that of the codes sent: common practice, no source."""
    grey = reflectance_to_lab(
        whole_grid(stored()["mean"][[np.ravel_multi_index((i,) * 3, (6,) * 3) for i in range(6)]]) ** 3
    )
    assert (np.diff(grey[:, 0]) > 5).all()
    assert len(CODES) == len(LEVELS) ** 3
    assert_allclose(SPACE.reflectance(SPACE.usual)[-1], whole_grid(stored()["mean"][-1:])[0] ** 3, atol=1e-6)


def test_a_patch_between_the_grids_codes_lies_between_their_colours():
    names = [patch.name for patch in designs()["a5"].patches]
    lab = dict(zip(names, reflectance_to_lab(SPACE.reflectance(SPACE.usual)), strict=False))
    assert lab["A1"][1] > 25  # 255, 3, 83: a red
    assert lab["B3"][1] < -20  # 1, 230, 62: a green


@pytest.mark.parametrize("number", range(4))
def test_a_print_of_the_build_split_is_near_some_plausible_one(number):
    _, card = random_print(np.random.default_rng((9, number)), "build")
    true = np.array(list(card.spectra.values()))
    slope = SPACE.modes.reshape(len(SPACE.modes), -1).T / 0.01
    wanted = (np.cbrt(true) - SPACE.mean).ravel() / 0.01
    numbers = np.linalg.solve(slope.T @ slope + np.eye(len(SPACE.modes)), slope.T @ wanted)
    assert np.sqrt(np.mean(numbers**2)) < 1.5
    off = difference(reflectance_to_lab(SPACE.reflectance(numbers)), reflectance_to_lab(true))
    assert np.sqrt(np.mean(off**2)) < 3.0


def test_what_phones_are_like_is_what_the_recipe_makes():
    mean, covariance = phones(whole_grid(stored()["mean"]) ** 3)
    assert_allclose(stored()["phone_mean"], mean, atol=2e-4)
    assert_allclose(stored()["phone_covariance"], covariance, rtol=0.02, atol=2e-5)
