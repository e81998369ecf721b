"""Amounts that give a colour are found, within their bounds, and as well as a general-purpose optimiser finds them."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import differential_evolution

from swatchcam.mixing.descent import seek
from swatchcam.mixing.search import MOST, Target, mixes, new_pot
from tests.worlds.inkworld import off, triple, usual
from tests.worlds.spectra import difference

STARTS = np.geomspace(0.001, 0.03, 3)  # g in 1 g
LOW, HIGH = 2e-5, 0.1


@pytest.fixture(scope="module")
def palette():
    return usual()[1]


def seek_from(palette, aim, starts, low=LOW, high=HIGH):
    """Where starts (m, pigments) come to, all pigments of the palette being allowed."""
    size = len(palette.pigments)
    return seek(palette, aim, starts, np.full(size, low), np.full(size, high), lambda amounts: 100 * amounts)


def equal_starts(palette):
    return np.repeat(STARTS[:, None], len(palette.pigments), axis=1)


def hidden(palette, count, rng):
    """Shares of so many pigments, %, in the order of the palette."""
    shares = np.zeros(len(palette.pigments))
    shares[rng.choice(len(shares), count, replace=False)] = np.exp(rng.uniform(np.log(0.1), np.log(2), count))
    return shares


def test_a_colour_that_the_palette_made_is_reached(palette):
    rng = np.random.default_rng(1)
    for count in (2, 3, 4):
        for _ in range(4):
            aim = palette.labs(hidden(palette, count, rng)[None])[0]
            # Pigments that are not in it must go to nothing: 0.002 % of a strong one is seen in a pale strip.
            assert seek_from(palette, aim, equal_starts(palette), low=1e-7).distance.min() < 0.05


def test_what_is_told_of_each_end_is_so(palette):
    reached = seek_from(palette, np.array([45.0, 30.0, 10.0]), equal_starts(palette))
    assert_allclose(reached.lab, palette.labs(100 * reached.amounts), atol=1e-9)
    assert_allclose(reached.distance, [off(lab, (45.0, 30.0, 10.0)) for lab in reached.lab], atol=1e-6)


def test_no_end_is_worse_than_its_start(palette):
    rng = np.random.default_rng(2)
    starts = np.exp(rng.uniform(np.log(2e-4), np.log(0.05), (40, len(palette.pigments))))
    for aim in np.array([[30.0, 40.0, 20.0], [85.0, -5.0, 60.0], [20.0, 0.0, -5.0]]):
        reached = seek_from(palette, aim, starts)
        before = difference(palette.labs(100 * starts), np.broadcast_to(aim, (40, 3)))
        # Going downhill in the distance linearised about the aim: that of far colours may tell another tale.
        near = before < 5
        assert (reached.distance[near] <= before[near] + 1e-9).all()
        assert np.median(reached.distance) < np.median(before)


def test_bounds_are_kept(palette):
    reached = seek_from(palette, np.array([5.0, 0.0, 0.0]), equal_starts(palette), high=0.004)
    assert reached.amounts.min() >= LOW * (1 - 1e-12)
    assert reached.amounts.max() <= 0.004 * (1 + 1e-12)
    assert_allclose(reached.amounts[:, palette.pigments.index("black")], 0.004, rtol=1e-9)


def best_of_evolution(palette, aim, names):
    """The least CIEDE2000 that differential evolution finds with three pigments (Storn & Price 1997, by scipy)."""
    places = [palette.pigments.index(name) for name in names]

    def far(logs):
        shares = np.zeros((logs.shape[1], len(palette.pigments)))
        shares[:, places] = 100 * np.exp(logs.T)
        too_much = np.maximum(shares.sum(axis=1) - MOST, 0)
        return difference(palette.labs(shares), np.broadcast_to(aim, (len(shares), 3))) + 100 * too_much

    bounds = [(np.log(LOW), np.log(HIGH))] * len(names)
    return differential_evolution(
        far, bounds, rng=1, vectorized=True, updating="deferred", maxiter=45, tol=1e-4, polish=False
    ).fun


def nearest(palette, aim):
    """CIEDE2000 from an aim of the nearest mix that was found."""
    return min(mix.distance for mix in mixes(palette, Target(triple(aim), "made up"), new_pot(palette)))


def test_no_general_purpose_optimiser_comes_nearer(palette):
    rng = np.random.default_rng(3)
    for _ in range(10):
        shares = hidden(palette, 3, rng)
        aim, names = palette.labs(shares[None])[0], np.array(palette.pigments)[shares > 0]
        assert nearest(palette, aim) < best_of_evolution(palette, aim, names) + 0.05


@pytest.mark.parametrize("lab", [(55.0, 75.0, 50.0), (60.0, -60.0, 30.0), (35.0, 30.0, -60.0), (12.0, 2.0, 1.0)])
def test_of_what_is_out_of_reach_hardly_a_nearer_mix_is_found(palette, lab):
    best = min(best_of_evolution(palette, np.array(lab), names) for names in combinations(palette.pigments, 3))
    assert best > 1
    # Far off, the distance linearised about the aim is not CIEDE2000 any more: what is nearest may be another mix.
    assert nearest(palette, np.array(lab)) < 1.03 * best
