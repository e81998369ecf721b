"""What heat does, learned by mixture: held to drawn studios whose colours before and after are known."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.mixing.film_model import DYED, FILM, Layer
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.pigment_model import Content
from swatchcam.mixing.prior import first_guess
from swatchcam.mixing.state_shift import FACTOR, MIDDLES, USUAL, StateShift, doubt_of_shift, judge_shift, with_shift
from tests.worlds.heated_world import heated_world
from tests.worlds.inkworld import off

WORLDS, MIXES = 5, 20
REGION = 7.815  # 95 % of chi-square with three degrees of freedom (Pearson 1900)


@cache
def taught(number, pairs):
    return learn(heated_world(number).known(pairs), two_states=True)


@cache
def outcomes(pairs):
    """Of new mixes in several studios: error after heat, error if heat did nothing, and whether the region held."""
    found = []
    for number in range(WORLDS):
        world, palette = heated_world(number), taught(number, pairs)
        rng = np.random.default_rng([number, 6])
        for _ in range(MIXES):
            mix = world.dry.mix(rng)
            (dry, hot), after, before = world.moved(mix), palette.predict(mix), palette.of_earlier.predict(mix)
            # What the phone is off is off in the target too; here it is told apart from what heat does.
            miss = hot - np.array(after.lab)
            inside = miss @ np.linalg.solve(after.ink, miss) <= REGION
            found.append((off(after.lab, hot), off(before.lab, hot), inside, off(before.lab, dry), off(dry, hot)))
    return np.array(found, dtype=float)


def test_pairs_teach_what_heat_does_to_other_mixes():
    few, many = outcomes(3), outcomes(20)
    assert many[:, 4].mean() > 2  # heat moves these colours
    assert many[:, 0].mean() < 0.6 * many[:, 1].mean()  # and it is not ignored
    assert many[:, 0].mean() < few[:, 0].mean() < few[:, 1].mean()
    # What the finished colour is off is hardly more than what the dry one is.
    assert many[:, 0].mean() < many[:, 3].mean() + 0.4


@pytest.mark.parametrize("pairs", [3, 20])
def test_the_finished_colour_lies_where_it_is_said_to(pairs):
    assert outcomes(pairs)[:, 2].mean() >= 0.93


def test_fewer_pairs_leave_more_open():
    mix, radii = {"black": 0.4, "blue": 0.6}, []
    for pairs in (0, 3, 20):
        palette = taught(0, pairs)
        shares = {name: 0.5 for name in palette.pigments[:2]} if set(mix) - set(palette.pigments) else mix
        radii.append(palette.predict(shares).radius)
    assert radii == sorted(radii, reverse=True)


def test_without_any_pair_the_finished_colour_is_the_dry_one_with_a_wide_doubt():
    palette = taught(0, 0)
    shares = {palette.pigments[0]: 1.0}
    after, before = palette.predict(shares), palette.of_earlier.predict(shares)
    assert_allclose(after.lab, before.lab, atol=1e-9)
    assert after.radius > before.radius + 2


def test_the_dry_colour_is_told_as_well_as_without_heat():
    world = heated_world(0)
    dry_only = learn([one for one in world.known(20) if not one.later])
    shares = {dry_only.pigments[1]: 0.8, dry_only.pigments[2]: 0.4}
    both = taught(0, 20).of_earlier
    assert off(both.predict(shares).lab, dry_only.predict(shares).lab) < 0.6
    assert both.predict(shares).radius < 1.1 * dry_only.predict(shares).radius


def test_where_all_strips_are_heat_set_nothing_changes_but_the_name():
    """They are then the only state that is known; the other one is what is guessed."""
    world = heated_world(1)
    series = world.hot.series()
    alone, later = learn(series), learn([replace(one, later=True) for one in series], two_states=True)
    for shares in ({alone.pigments[0]: 1.0}, {alone.pigments[1]: 0.4, alone.pigments[2]: 1.5}):
        assert off(later.predict(shares).lab, alone.predict(shares).lab) < 1.0
        assert later.predict(shares).radius < 1.4 * alone.predict(shares).radius
        assert later.of_earlier.predict(shares).radius > later.predict(shares).radius + 1


def test_a_heat_set_strip_of_the_pot_itself_tells_its_finished_colour():
    gains = []
    for number in range(WORLDS):
        world = heated_world(number)
        mix = world.dry.mix(np.random.default_rng([number, 7]))
        dry, after = world.pair(mix, 5000)
        known = world.known(8)
        without = learn([*known, dry], two_states=True).predict_all([Content(mix, parts={dry.pot: 1.0})]).each[0]
        with_it = learn([*known, dry, after], two_states=True)
        assert with_it.predict_all([Content(mix, parts={dry.pot: 1.0})]).each[0].radius < without.radius
        gains.append(off(without.lab, world.hot.lab(mix)) - off(with_it.predict(mix).lab, world.hot.lab(mix)))
    assert np.mean(gains) > 0


@pytest.mark.parametrize("kind", [FILM, DYED])
def test_slopes_of_the_later_state_are_those_of_its_colours(kind):
    layer = Layer(("red", "blue"), kind, np.full(81, 0.8), two_states=True)
    rng = np.random.default_rng(3)
    theta = np.concatenate([first_guess(layer, ())[0], 0.1 * rng.normal(size=layer.of_one_state)])
    shares, step = np.array([[0.5, 1.0], [2.0, 0.0]]), 1e-5
    for later in (False, True):
        slopes = layer.slopes(theta, shares, later=later).theta
        for at in rng.choice(layer.unknowns, 25, replace=False):
            unit = step * np.eye(layer.unknowns)[at]
            up, down = (layer.reflectance(theta + sign * unit, shares, later=later) for sign in (1, -1))
            assert_allclose(slopes[:, :, at], (up - down) / (2 * step), atol=1e-6)


def test_a_layer_of_one_state_has_no_shift():
    layer = Layer(("red",), FILM, np.full(81, 0.8))
    doubt = first_guess(layer, ())[1]
    assert with_shift(doubt, None, 1.0) is doubt
    assert layer.unknowns == layer.of_one_state
    both = replace(layer, two_states=True)
    moves = doubt_of_shift(both)
    assert with_shift(doubt, moves, 2.0).shape == (both.unknowns, both.unknowns)
    assert_allclose(with_shift(doubt, moves, 2.0)[layer.unknowns :, layer.unknowns :], 4 * moves)


def test_how_much_there_is_of_a_shift_is_judged_from_draws_of_it():
    """Draws of a normal distribution with known sizes: numpy's own."""
    rng, count = np.random.default_rng(5), 60
    ways = rng.normal(size=(3 * count, 4))
    parts = ways @ ways.T, np.kron(np.exp(-0.1 * np.abs(np.subtract.outer(range(count), range(count)))), np.eye(3))
    later, base = np.ones(count, dtype=bool), 0.05 * np.eye(3 * count)
    found = []
    for size, uneven in ((0.5, 0.3), (2.0, 1.2)):
        covariance = base + size**2 * parts[0] + 0.4**2 * parts[1] + uneven**2 * np.eye(3 * count)
        seen = rng.multivariate_normal(np.zeros(3 * count), covariance)
        found.append(judge_shift(seen, base, (*parts, np.eye(3 * count)), later))
        assert found[-1].uneven == pytest.approx(uneven, rel=0.35)
        assert found[-1].strips == count
    assert found[0].size < found[1].size


def test_without_strips_a_shift_is_as_large_as_is_thought():
    assert judge_shift(np.zeros(3), np.eye(3), 3 * (np.eye(3),), np.zeros(1, dtype=bool)) == USUAL
    # The mean square of a log-normal distribution (Johnson, Kotz & Balakrishnan 1994, 14.3).
    draws = MIDDLES[0] * np.exp(np.log(FACTOR) * np.random.default_rng(1).normal(size=200_000))
    assert USUAL.size == pytest.approx(float(np.sqrt(np.mean(draws**2))), rel=0.05)
    assert isinstance(USUAL, StateShift)
