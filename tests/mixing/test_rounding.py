"""What a scale can weigh of a mix: whole steps, nothing too small, and of all ways to round it the best."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.mixing.rounding import dispensed
from swatchcam.mixing.search import Limits, choices, mixes, new_pot, pot_in_hand, weighed
from swatchcam.recipes.scale_resolution import weighed_std
from tests.worlds.inkworld import made_by, off, usual
from tests.worlds.spectra import difference

HIDDEN = {"blue": 0.11, "red": 0.3, "yellow": 0.73}
POTS = [(60.0, 0.1), (250.0, 0.1), (37.0, 0.01), (500.0, 1.0)]  # g, and the step of the scale


@pytest.fixture(scope="module")
def palette():
    return usual()[1]


@pytest.fixture(scope="module")
def target(palette):
    return made_by(palette, HIDDEN)


@pytest.fixture(scope="module")
def mix(palette, target):
    return next(each for each in mixes(palette, target, new_pot(palette)) if set(each.amounts) == set(HIDDEN))


@pytest.mark.parametrize(("grams", "step"), POTS)
def test_amounts_are_whole_steps_of_the_scale(palette, target, mix, grams, step):
    found = dispensed(palette, target, new_pot(palette), mix, grams, step)
    steps = np.array(list(found.amounts.values())) * grams / step
    assert_allclose(steps, np.round(steps), atol=1e-6)
    assert (steps > 0.5).all()


@pytest.mark.parametrize("grams", range(20, 260, 6))
def test_no_other_way_to_round_is_better(palette, target, mix, grams):
    found = dispensed(palette, target, new_pot(palette), mix, grams, 0.1)
    below = {thing: int(amount * grams / 0.1) for thing, amount in mix.amounts.items()}
    ways = product(*((count, count + 1) for count in below.values()))
    shares = [palette.vector({thing: 10 * n / grams for thing, n in zip(below, way, strict=True)}) for way in ways]
    labs = palette.labs(np.array(shares))
    assert found.distance == pytest.approx(difference(labs, np.broadcast_to(target.lab, labs.shape)).min(), abs=1e-6)


def test_the_best_rounding_is_not_always_the_nearest_weights(palette, target, mix):
    better = 0
    for grams in range(30, 90, 5):
        nearest = {name: round(amount * grams / 0.1) * 0.1 / grams for name, amount in mix.amounts.items()}
        plain = weighed(palette, target, new_pot(palette), nearest).distance
        found = dispensed(palette, target, new_pot(palette), mix, float(grams), 0.1).distance
        assert found <= plain + 1e-6
        better += found < plain - 0.01
    assert better >= 1


@pytest.mark.parametrize("least", [0.07, 0.1, 0.25, 0.5])
def test_nothing_is_less_than_can_be_dispensed(palette, target, mix, least):
    found = dispensed(palette, target, new_pot(palette), mix, 100.0, 0.1, {"blue": least})
    blue = found.amounts.get("blue", 0.0) * 100
    steps = blue / 0.1
    assert blue == 0 or blue >= least - 1e-9
    assert steps == pytest.approx(round(steps), abs=1e-6)


def test_what_is_nearer_to_nothing_than_to_the_least_is_left_out(palette, target, mix):
    found = dispensed(palette, target, new_pot(palette), mix, 100.0, 0.01, {"blue": 3.0})
    assert set(found.amounts) == {"red", "yellow"}
    assert set(found.shares) == {"red", "yellow"}


def test_a_pot_too_small_for_the_scale_may_be_left_with_nothing(palette):
    pale = made_by(palette, {"red": 0.01})
    mix = weighed(palette, pale, new_pot(palette), {"red": 0.0001})
    found = dispensed(palette, pale, new_pot(palette), mix, 20.0, 1.0)
    assert found.amounts == {}
    assert found.shares == {}
    assert_allclose(found.predicted.lab, palette.predict({}).lab)


def test_a_coarse_scale_makes_the_prediction_less_sure(palette, target, mix):
    fine, coarse = (dispensed(palette, target, new_pot(palette), mix, 100.0, step).predicted for step in (0.01, 0.1))
    assert np.trace(coarse.ink) > np.trace(fine.ink)
    assert coarse.radius > fine.radius


def test_the_scales_doubt_is_that_of_two_readings(palette, target, mix):
    found = dispensed(palette, target, new_pot(palette), mix, 100.0, 0.1)
    # JCGM 100:2008, 4.3.7 and 5.1.2: 0.1 / sqrt(6) g of 100 g; binder makes room.
    std = dict.fromkeys(mix.amounts, 0.1 / np.sqrt(6))
    assert weighed_std(0.1) == pytest.approx(0.1 / np.sqrt(6))
    assert_allclose(found.predicted.ink, palette.predict(found.shares, std=std).ink, rtol=1e-9)


def test_an_addition_to_a_pot_is_rounded_too(palette, target):
    shares = {"blue": 0.05, "red": 0.25}
    vessel = pot_in_hand(palette, shares)
    mix = choices(mixes(palette, target, vessel))[0]
    found = dispensed(palette, target, vessel, mix, 400.0, 0.1)
    grams = {thing: amount * 400 for thing, amount in found.amounts.items()}
    whole = 400 + sum(grams.values())
    for name, share in found.shares.items():
        assert share * whole / 100 == pytest.approx(4 * shares.get(name, 0) + grams.get(name, 0), abs=1e-6)
    assert found.distance < off(palette.predict(shares).lab, target.lab)


def test_of_nothing_nothing_is_weighed(palette, target):
    vessel = pot_in_hand(palette, HIDDEN)
    found = dispensed(palette, target, vessel, weighed(palette, target, vessel, {}), 200.0, 0.1)
    assert found.amounts == {}


@pytest.mark.parametrize("limits", [Limits(each={"red": 0.6}), Limits(most=1.6)])
def test_rounding_keeps_to_the_limits(palette, limits):
    deep, vessel = made_by(palette, {"red": 2.0, "yellow": 2.0}), new_pot(palette)
    for mix in mixes(palette, deep, vessel, limits):
        found = dispensed(palette, deep, vessel, mix, 50.0, 0.5, None, limits)
        assert found.load <= limits.most + 1e-9
        assert found.shares.get("red", 0) <= limits.each.get("red", 100) + 1e-9
