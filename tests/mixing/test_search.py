"""Mixes that are proposed hit what can be hit, keep to the limits, and hold what their vessel can hold."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.errors import SwatchcamError
from swatchcam.mixing.dosing.choices import NEARLY_AS_GOOD, WORTH_A_THOUGHT, WORTH_ONE_MORE, choices
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.search import (
    MOST,
    STRONG,
    Limits,
    Target,
    Vessel,
    fresh_pot_for,
    mixes,
    new_pot,
    pot_in_hand,
    pot_with_rest,
    weighed,
)
from tests.worlds import inks
from tests.worlds.hidden_studios import crowded
from tests.worlds.inkworld import film_world, half_strengths, made_by, off, triple, usual
from tests.worlds.spectra import difference, illuminant, lab_xyz, reflectance_xyz, white_xyz

HIDDEN = (
    {"red": 0.8},
    {"black": 2.5},
    {"blue": 0.4, "yellow": 1.1},
    {"red": 0.15, "black": 0.05},
    {"blue": 0.6, "red": 0.9, "yellow": 0.3},
    {"black": 0.1, "blue": 0.3, "yellow": 1.5},
)
TINY = 1e-9
labs = st.tuples(st.integers(50, 950), st.integers(-700, 800), st.integers(-700, 900)).map(
    lambda t: tuple(n / 10 for n in t)
)
few = settings(max_examples=8, deadline=None)


@pytest.fixture(scope="module")
def palette():
    return usual()[1]


def nearest(found):
    return min(found, key=lambda mix: mix.distance)


# --- what is found -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("hidden", HIDDEN, ids=[" ".join(hidden) for hidden in HIDDEN])
def test_a_colour_that_the_model_made_is_hit_with_as_many_pigments(palette, hidden):
    found = mixes(palette, made_by(palette, hidden), new_pot(palette))
    own = [mix for mix in found if set(mix.amounts) == set(hidden)]
    assert own[0].distance < 0.05
    for name, share in hidden.items():
        assert own[0].shares[name] == pytest.approx(share, rel=1e-4)


def allen(world, names, lab):
    """Loads, %, of three pigments that give a colour: Newton steps on XYZ, in logarithms.

    Source: after Allen 1974, doi:10.1364/JOSA.64.000991, with the films of the tests and numbers for derivatives.
    """
    light, white = illuminant("D65"), white_xyz(illuminant("D65"), 10)
    halves = half_strengths(world.seed, world.pigments)

    def xyz(logs):
        loads = {name: crowded(float(np.exp(log)), halves[name]) for name, log in zip(names, logs, strict=True)}
        return reflectance_xyz(inks.strip_reflectance(loads), light, 10)

    wanted, logs = lab_xyz(np.asarray(lab), white), np.log(np.full(3, 0.4))
    for _ in range(30):
        here = xyz(logs)
        slope = np.array([(xyz(logs + step) - here) / 1e-5 for step in 1e-5 * np.eye(3)]).T
        logs = logs + np.clip(np.linalg.lstsq(slope, wanted - here, rcond=None)[0], -0.7, 0.7)
    assert_allclose(xyz(logs), wanted, atol=1e-6)
    return dict(zip(names, np.exp(logs).tolist(), strict=True))


def test_loads_are_those_of_an_independent_match():
    """Within 10 % of each load, and 0.02 % of the whole, when every strip was read exactly.

    Mixes are predicted to about 0.3 CIEDE2000 then, which is what so much of a pigment moves.
    """
    world = film_world(1)
    exact = learn(world.series(8, exact=True))
    for hidden in ({"blue": 0.5, "red": 0.3, "yellow": 1.0}, {"black": 0.3, "red": 1.2, "yellow": 0.6}):
        lab, shelf = world.lab(hidden), dict.fromkeys(hidden, 1.0)
        expected = allen(world, list(hidden), lab)
        assert_allclose(list(expected.values()), list(hidden.values()), rtol=1e-4)
        found = nearest(mixes(exact, Target(triple(lab), "read exactly"), new_pot(exact, shelf))).shares
        for name, load in expected.items():
            assert found[name] == pytest.approx(load, rel=0.10, abs=0.02)


def test_a_hidden_strip_is_met_as_nearly_as_is_to_be_expected(palette):
    world, rng = usual()[0], np.random.default_rng(5)
    errors, expected = [], []
    for number in range(10):
        hidden = world.mix(rng)
        strip = replace(world, spread=0.0).kept(hidden, 700 + number)
        best = choices(mixes(palette, Target(strip.lab, "a strip", strip), new_pot(palette)))[0]
        errors.append(off(world.lab(best.shares), world.lab(hidden)))
        expected.append(best.expected)
    # Each error scatters about what is expected by about half of it: the mean of ten by a sixth.
    assert 0.6 < np.mean(errors) / np.mean(expected) < 1.25


def test_what_is_told_of_a_mix_is_so(palette):
    target = Target((45.0, 30.0, 10.0), "numbers")
    for mix in mixes(palette, target, new_pot(palette))[:6]:
        assert_allclose(mix.predicted.lab, palette.predict(mix.shares).lab)
        assert mix.distance == pytest.approx(off(mix.predicted.lab, target.lab), abs=1e-6)
        assert mix.load == pytest.approx(sum(mix.shares.values()))
        for name, amount in mix.amounts.items():
            assert mix.shares[name] == pytest.approx(100 * amount)


def test_what_is_to_be_expected_is_the_mean_over_what_may_come_out(palette):
    target = Target((45.0, 30.0, 10.0), "numbers")
    rng = np.random.default_rng(1)
    for mix in mixes(palette, target, new_pot(palette))[:3]:
        draws = rng.multivariate_normal(mix.predicted.lab, mix.predicted.ink, 4000)
        seen = difference(draws, np.broadcast_to(target.lab, draws.shape))
        # 4000 draws tell the mean to about a hundredth; the tool's own 500 fill space evenly.
        assert mix.expected == pytest.approx(seen.mean(), rel=0.03)


def test_the_best_to_be_expected_comes_first(palette):
    expected = [mix.expected for mix in mixes(palette, made_by(palette, HIDDEN[4]), new_pot(palette))]
    assert expected == sorted(expected)
    assert len(expected) == 4 + 6 + 4  # one, two and three of four pigments


# --- limits --------------------------------------------------------------------------------------------------


@few
@given(labs, st.floats(0.5, 12), st.floats(0.05, 5), st.integers(1, 3))
def test_no_mix_breaks_its_limits(lab, most, each, things):
    palette = usual()[1]
    limits = Limits(most, {"red": each, "black": 0.3}, things)
    found = mixes(palette, Target(lab, "any"), new_pot(palette), limits)
    for mix in found:
        assert mix.load <= most * (1 + TINY)
        assert mix.shares.get("red", 0) <= each * (1 + TINY)
        assert mix.shares.get("black", 0) <= 0.3 * (1 + TINY)
        assert 1 <= len(mix.amounts) <= things
        assert all(amount > 0 for amount in mix.amounts.values())
        assert sum(mix.amounts.values()) < 1


@few
@given(labs, st.floats(0, 4), st.floats(0, 4), st.floats(5, 10))
def test_additions_to_a_pot_keep_to_the_limits_too(lab, red, blue, most):
    palette = usual()[1]
    limits = Limits(max(most, red + blue + 0.1), {"red": red + 0.5}, 2)
    vessel = pot_in_hand(palette, {"red": red, "blue": blue})
    for mix in mixes(palette, Target(lab, "any"), vessel, limits):
        assert mix.load <= limits.most * (1 + TINY)
        assert mix.shares.get("red", 0) <= (red + 0.5) * (1 + TINY)
        assert all(amount > 0 for amount in mix.amounts.values())


def test_a_lower_limit_is_never_nearer(palette):
    dark = Target((15.0, 3.0, 2.0), "dark")
    distances = [nearest(mixes(palette, dark, new_pot(palette), Limits(most))).distance for most in (1.0, 3.0, MOST)]
    assert distances[0] > distances[1] > distances[2]


# --- vessels -------------------------------------------------------------------------------------------------


@given(
    st.lists(st.floats(0, 8), min_size=3, max_size=3),
    st.lists(st.floats(0, 0.5), min_size=2, max_size=2),
    st.lists(st.floats(0, 100), min_size=6, max_size=6),
)
def test_a_pot_that_grows_keeps_every_gram(base, amounts, content):
    vessel = Vessel(np.array(base), ("one", "two"), np.array(content).reshape(2, 3), grows=True)
    shares = vessel.shares(np.array([amounts]), np.array([[0, 1]]))[0]
    grams = 250.0
    before = grams * np.array(base) / 100
    added = grams * np.array(amounts) @ np.array(content).reshape(2, 3) / 100
    assert_allclose(shares / 100 * grams * (1 + sum(amounts)), before + added, rtol=1e-9, atol=1e-9)


def test_a_pot_in_hand_with_nothing_added_is_what_it_is(palette):
    shares = {"red": 1.2, "blue": 0.3}
    mix = weighed(palette, made_by(palette, {"red": 2.0}), pot_in_hand(palette, shares), {})
    assert mix.shares == pytest.approx(shares)
    assert mix.amounts == {}
    assert_allclose(mix.predicted.lab, palette.predict(shares).lab)


def test_binder_makes_room_in_a_new_pot(palette):
    vessel = new_pot(palette)
    assert not vessel.grows
    mix = weighed(palette, made_by(palette, {"red": 2.0}), vessel, {"red": 0.02, "blue": 0.004})
    assert mix.shares == pytest.approx({"red": 2.0, "blue": 0.4})


def test_a_new_pot_with_a_rest_in_it_holds_the_rest_at_least(palette):
    vessel = pot_with_rest(palette, {"red": 2.0, "yellow": 1.0}, 0.25)
    found = mixes(palette, made_by(palette, {"red": 1.0, "yellow": 0.25, "blue": 0.1}), vessel)
    assert all(mix.shares["red"] >= 0.5 and mix.shares["yellow"] >= 0.25 for mix in found)
    best = nearest(found)
    assert best.distance < 0.05
    assert best.shares["red"] == pytest.approx(1.0, rel=1e-4)
    assert best.amounts["red"] == pytest.approx((best.shares["red"] - 0.5) / 100)


def test_a_stronger_lot_asks_for_so_much_less(palette):
    target = made_by(palette, {"red": 0.9, "yellow": 0.6})
    as_before, stronger = (
        next(
            mix
            for mix in mixes(palette, target, new_pot(palette, {"red": strength, "yellow": 1.0}))
            if len(mix.amounts) == 2
        )
        for strength in (1.0, 1.2)
    )
    assert stronger.amounts["red"] == pytest.approx(as_before.amounts["red"] / 1.2, rel=1e-4)
    assert stronger.amounts["yellow"] == pytest.approx(as_before.amounts["yellow"], rel=1e-4)
    # In units of the lot that its known strips were made with, the same is in.
    assert stronger.shares["red"] == pytest.approx(as_before.shares["red"], rel=1e-4)


def test_only_what_is_on_the_shelf_is_used(palette):
    found = mixes(palette, made_by(palette, HIDDEN[4]), new_pot(palette, {"red": 1.0, "blue": 1.0, "lime": 1.0}))
    assert {name for mix in found for name in mix.shares} == {"red", "blue"}


def test_a_strong_ink_is_thinned_with_nothing_but_itself_where_that_will_do(palette):
    strong = {"red": 4.0, "yellow": 2.0}
    vessel = fresh_pot_for(palette, strong)
    found = mixes(palette, made_by(palette, {"red": 1.0, "yellow": 0.5}), vessel, always=STRONG)
    best = choices(found)[0]
    assert set(best.amounts) == {STRONG}
    assert best.amounts[STRONG] == pytest.approx(0.25, rel=1e-4)
    assert best.shares == pytest.approx({"red": 1.0, "yellow": 0.5}, rel=1e-4)


def test_the_strong_ink_goes_into_every_mix(palette):
    vessel = fresh_pot_for(palette, {"red": 4.0, "yellow": 2.0})
    found = mixes(palette, made_by(palette, {"blue": 1.0}), vessel, Limits(things=2), always=STRONG)
    assert len(found) > 5
    for mix in found:
        assert mix.amounts[STRONG] > 0
        assert mix.shares["red"] > 0
        assert len(mix.amounts) <= 3  # things count what comes to it


# --- choices -------------------------------------------------------------------------------------------------


@cache
def some_mix():
    palette = usual()[1]
    return weighed(palette, made_by(palette, {"red": 1.0}), new_pot(palette), {"red": 0.01})


def expecting(numbers):
    """A mix of each so many things from which so much is to be expected."""
    one = some_mix()
    return [
        replace(one, amounts={str(thing): 0.01 for thing in range(count)}, expected=expected)
        for count, expected in numbers
    ]


@pytest.mark.parametrize(
    ("numbers", "things"),
    [
        ([(1, 1.0), (2, 1.0 - 0.9 * WORTH_ONE_MORE), (3, 1.0 - 0.95 * WORTH_ONE_MORE)], 1),
        ([(1, 1.0), (2, 1.0 - 1.1 * WORTH_ONE_MORE), (3, 1.0 - 1.2 * WORTH_ONE_MORE)], 2),
        ([(3, 0.1), (2, 2.0), (1, 3.0)], 3),
        ([(1, 2.0), (2, 1.5), (1, 1.0), (2, 1.8)], 1),
    ],
)
def test_few_pigments_are_preferred_where_more_bring_little(numbers, things):
    best = choices(expecting(numbers))[0]
    assert len(best.amounts) == things
    assert best.expected == min(expected for count, expected in numbers if count == things)


@given(st.lists(st.tuples(st.integers(1, 3), st.floats(0.1, 6)), min_size=1, max_size=12))
@settings(deadline=None)
def test_other_choices_are_nearly_as_good_or_simpler(numbers):
    found = expecting(numbers)
    best, *others = shown = choices(found)
    assert len({id(mix) for mix in shown}) == len(shown)
    assert {id(mix) for mix in shown} <= {id(mix) for mix in found}
    assert [mix.expected for mix in others] == sorted(mix.expected for mix in others)
    for mix in others:
        simpler = len(mix.amounts) < len(best.amounts)
        assert mix.expected <= best.expected + (WORTH_A_THOUGHT if simpler else NEARLY_AS_GOOD)


def test_the_same_things_and_some_more_are_no_choice_where_they_bring_nothing(palette):
    shown = choices(mixes(palette, made_by(palette, {"red": 0.7}), new_pot(palette)))
    assert not any(mix.amounts.keys() > {"red"} for mix in shown)


def test_a_colour_of_one_pigment_is_proposed_from_one(palette):
    for name in palette.pigments:
        best = choices(mixes(palette, made_by(palette, {name: 0.7}), new_pot(palette)))[0]
        assert set(best.amounts) == {name}


# --- faults --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shelf", [{}, {"lime": 1.0}])
def test_a_shelf_without_any_known_pigment_is_refused(palette, shelf):
    with pytest.raises(SwatchcamError):
        new_pot(palette, shelf)


def test_a_strong_ink_and_a_pigment_that_is_in_it_keep_to_its_limit_together(palette):
    vessel = fresh_pot_for(palette, {"red": 5.0})
    found = mixes(palette, made_by(palette, {"red": 6.0}), vessel, Limits(each={"red": 3.0}), always=STRONG)
    assert max(mix.shares["red"] for mix in found) <= 3.0 * (1 + TINY)


@pytest.mark.filterwarnings("ignore:invalid value encountered in divide")
def test_a_pigment_that_may_not_go_in_is_left_out(palette):
    found = mixes(palette, made_by(palette, {"red": 1.0}), new_pot(palette), Limits(each={"red": 0.0}))
    assert not any("red" in mix.amounts for mix in found)


def test_a_pigment_at_its_limit_is_no_reason_to_warn(palette):
    vessel = pot_in_hand(palette, {"red": 2.0})
    assert mixes(palette, made_by(palette, {"red": 2.0, "blue": 0.1}), vessel, Limits(each={"red": 2.0}))


def test_a_fresh_pot_holds_no_more_than_fits(palette):
    vessel = fresh_pot_for(palette, {"red": 0.3})
    found = mixes(palette, made_by(palette, {"red": 1.0, "yellow": 2.0}), vessel, always=STRONG)
    assert max(sum(mix.amounts.values()) for mix in found) <= 1 + TINY


def test_four_pigments_may_go_with_a_strong_ink(palette):
    vessel = fresh_pot_for(palette, {"red": 4.0})
    assert mixes(palette, made_by(palette, {"blue": 1.0}), vessel, Limits(things=4), always=STRONG)
