"""Ready-mixed inks: predicted as their films really look, and put in by up to all of a pot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swatchcam.library.shelf.pigments import READY, Lot
from swatchcam.messages.message import flag
from swatchcam.mixing.known_strip import whites_not_seen
from swatchcam.mixing.order import Order
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.recommend import again, correction_for, recipe_for
from swatchcam.mixing.search import Limits, Target, keeps_to, mixes, new_pot
from swatchcam.mixing.test_series import READY_LOADS, half_strength, strength_curve
from swatchcam.mixing.thinning_choices import thinning_for
from swatchcam.recipes.arithmetic import filled_up
from swatchcam.recipes.recipe import BINDER
from tests.worlds import inks
from tests.worlds.inkworld import World, off, triple
from tests.worlds.ready_inks import BLACK, GREY, WHITE, counted, is_ready, ready_bench, ready_world, shelf_of

FILM, CLEAR, SURFACE = 0.05, 0.3, (0.03, 0.4)  # mm, scatter of clear base per mm, what the surface throws back
WHITE_INK, BLACK_INK = (0.5, 50.0), (130.0, 1.2)  # absorption and scatter, per mm, but for crowding
HALF = 400.0  # % of an ink at which crowding would take half of its strength
NAMES = BLACK, "ready red", WHITE, "red", "violet"  # of the studio; two of them concentrates
LARGE = Order(300.0, 0.1)


def film(ground):
    """A studio of a white and a black of known absorption and scatter, on that cloth: its films after Kubelka."""

    def truth(shares, thickness):
        own = {WHITE: WHITE_INK, BLACK: BLACK_INK}
        working = {name: share / 100 / (1 + share / HALF) for name, share in shares.items()}
        k, s = (sum(part * own[name][at] for name, part in working.items()) for at in (0, 1))
        s += CLEAR * (1 - sum(shares.values()) / 100)
        flat = np.ones(81)
        inner = inks.film_reflectance(k * flat, s * flat, FILM * thickness, inks.cloth(ground))
        return inks.saunderson(inner, *SURFACE)

    return World(1, (BLACK, WHITE), truth)


@pytest.fixture(scope="module")
def world():
    return replace(ready_world(0, "black"), pigments=NAMES)


@pytest.fixture(scope="module")
def bench(world):
    return ready_bench(world, 3)


def wanted(world, shares):
    return Target(triple(world.lab(shares)), "read exactly")


def percents(recipe):
    return {name: share.percent for name, share in recipe.shares().items()}


# --- what they look like -----------------------------------------------------------------------------------


@pytest.mark.parametrize("ground", ["white", "black"])
def test_films_of_known_absorption_and_scatter_are_predicted_over_two_grounds(ground):
    """From three loads of each and one grey, read exactly: how the inks crowd is then what is known least.

    The films are those of the drawn worlds, after Kubelka 1948, doi:10.1364/JOSA.38.000448.
    """
    world = film(ground)
    series = [{}, *({name: load} for name in (WHITE, BLACK) for load in (8.0, 30.0, 100.0)), GREY]
    palette = learn([counted(world.exact(shares, number)) for number, shares in enumerate(series)])
    errors = []
    for shares in ({WHITE: 100.0}, {WHITE: 55.0}, {WHITE: 12.0}, {WHITE: 80.0, BLACK: 20.0}, {WHITE: 40.0, BLACK: 1.0}):
        predicted = palette.predict({name: READY * share for name, share in shares.items()})
        errors.append(off(predicted.lab, world.lab(shares)))
        assert errors[-1] < predicted.radius
    assert np.mean(errors) < 1.5


def test_what_a_white_scatters_is_found_over_black():
    """Its scatter times the film, with what crowding takes away, within a fifth."""
    world = film("black")
    series = [{}, *({WHITE: load} for load in (8.0, 30.0, 100.0))]
    palette = learn([counted(world.exact(shares, number)) for number, shares in enumerate(series)])
    share = 100 * READY / (1 + 100 * READY / half_strength(palette, WHITE)[0])
    true = WHITE_INK[1] * FILM / (1 + 100 / HALF)
    assert share * np.exp(palette.theta[palette.layer.scatter_of(0)]) == pytest.approx(true, rel=0.2)


def test_mixes_with_concentrates_lie_within_what_is_predicted(world, bench):
    """Phone and films err as they say."""
    hidden = {WHITE: 97.0, "red": 3.0}, {"ready red": 60.0, "violet": 0.5}, {WHITE: 50.0, BLACK: 5.0}, {BLACK: 100.0}
    for shares in hidden:
        strip = {name: bench.shelf[name].counts_as * share for name, share in shares.items()}
        predicted = bench.palette.predict(strip)
        assert off(predicted.lab, world.lab(shares)) < predicted.radius


def test_a_white_that_its_cloth_does_not_show_is_told():
    def seen(ground, *shares):
        return whites_not_seen([counted(film(ground).exact(each, at)) for at, each in enumerate(shares)])

    alone = {}, {WHITE: 10.0}, {WHITE: 100.0}
    assert seen("white", *alone) == [WHITE]
    assert seen("white", *alone, GREY) == seen("black", *alone) == seen("white", {}, {BLACK: 100.0}) == []
    assert flag("white-not-seen", pigment=WHITE).facts == {"pigment": WHITE}


def test_a_curve_of_a_ready_mixed_ink_goes_up_to_all_of_it(world, bench):
    series = strength_curve(bench, WHITE.upper())
    assert [strip.load for strip in series] == list(READY_LOADS)
    assert all(off(strip.lab, world.lab({WHITE: strip.load})) < 1.5 * strip.radius for strip in series)
    assert all(0 < strip.working < strip.load for strip in series)


# --- how much of them goes in ------------------------------------------------------------------------------


@pytest.mark.parametrize("shares", [{WHITE: 88.0, "ready red": 12.0}, {BLACK: 100.0}, {WHITE: 99.0, "violet": 1.0}])
def test_a_pot_may_be_all_ready_mixed(world, bench, shares):
    choice = recipe_for(bench, wanted(world, shares), LARGE).choices[0]
    assert off(world.lab(percents(choice.pot)), world.lab(shares)) < 3
    assert choice.pot.grams == pytest.approx(300, abs=0.05)
    assert percents(choice.pot)[next(iter(shares))] > 40
    assert choice.pot.parts[0].what == BINDER


def test_the_load_of_concentrates_is_theirs_alone(world, bench):
    shares = {WHITE: 90.0, "red": 2.0}
    found = [percents(one.pot) for one in recipe_for(bench, wanted(world, shares), replace(LARGE, most=1.0)).choices]
    for pot in found:
        assert sum(share for name, share in pot.items() if not is_ready(name)) <= 1.0 + 1e-6
    assert max(pot.get(WHITE, 0.0) for pot in found) > 10


def test_a_ready_mixed_ink_keeps_to_its_own_limit(world, bench):
    shelf = bench.shelf | shelf_of([WHITE], most=30.0)
    limited = replace(bench, shelf=shelf)
    limited.__dict__["palette"] = bench.palette
    assert limited.limits().each[WHITE] == pytest.approx(30 * READY)
    assert bench.limits().each[WHITE] == pytest.approx(100 * READY)
    for choice in recipe_for(limited, wanted(world, {WHITE: 97.0, "red": 1.0}), LARGE).choices:
        assert percents(choice.pot).get(WHITE, 0.0) <= 30 + 0.05


few = settings(max_examples=6, deadline=None)


@few
@given(st.integers(1, 3), st.floats(0.5, 10), st.tuples(st.floats(20, 95), st.floats(-20, 60), st.floats(-40, 40)))
def test_whatever_is_wanted_no_mix_is_more_than_the_pot(bench, things, most, lab):
    limits = bench.limits(things, most)
    vessel = new_pot(bench.palette, bench.strengths())
    for mix in mixes(bench.palette, Target(lab, "any"), vessel, limits):
        assert sum(mix.amounts.values()) <= 1 + 1e-9
        assert keeps_to(bench.palette, limits, bench.palette.vector(mix.shares)[None]).all()


def test_a_lot_of_a_ready_mixed_ink_counts_too(bench):
    strong = replace(bench.shelf[WHITE], lots=(Lot("new", "2020-01-01", 1.5, 0.1),))
    assert strong.strength("2026-01-01") == pytest.approx((1.5 * READY, 0.1 * READY))
    assert strong.strength("2019-01-01") == (READY, 0.0)
    assert bench.weighs(WHITE, READY) == pytest.approx(1.0)
    assert bench.weighs("red", 2.0) == 2.0
    assert Limits().ready == frozenset()


# --- a pot without clear base ------------------------------------------------------------------------------


def test_a_pot_without_clear_base_is_corrected_and_mixed_again(world, bench):
    pot = filled_up({WHITE: 270.0, BLACK: 30.0}, 300.0, 0.1)
    assert [part.grams for part in pot.parts] == [0.0, 270.0, 30.0]
    target = wanted(world, {WHITE: 60.0, BLACK: 40.0})
    done = correction_for(bench, target, pot, Order(250.0, 0.1))
    assert done.choices
    assert all(choice.pot.grams > 250 and choice.pot.parts[0].what == BINDER for choice in done.choices)
    more = again(bench, wanted(world, {WHITE: 90.0, BLACK: 10.0}), pot, Order(400.0, 0.1), [(pot, 150.0, "")])
    assert more.choices[0].pot.grams == pytest.approx(400, abs=0.1)
    assert off(world.lab(percents(more.choices[0].pot)), world.lab({WHITE: 90.0, BLACK: 10.0})) < 2


def test_a_pot_without_clear_base_is_thinned(world, bench):
    pot = filled_up({"ready red": 250.0, BLACK: 50.0}, 300.0, 0.1)
    hidden = {"ready red": 250 / 30, BLACK: 50 / 30}  # a tenth of it in clear base
    best = thinning_for(bench, wanted(world, hidden), pot, Order(300.0, 0.1), 200.0).choices[0]
    assert off(world.lab(percents(best.pot)), world.lab(hidden)) < 2
    assert best.pot.parts[0].grams > 100
