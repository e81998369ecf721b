"""What tools can put in of a mix: steps and drops, of all ways the surest; what changes most comes last."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.library.records import DRY
from swatchcam.mixing.dosing.choices import choices
from swatchcam.mixing.dosing.put_in import added, filled_up
from swatchcam.mixing.dosing.rounding import dispensed
from swatchcam.mixing.dosing.sensitivity import by_sensitivity, per_gram
from swatchcam.mixing.search import Limits, mixes, new_pot, pot_in_hand, pot_with_rest, weighed
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.dosing import Tools, weighed_dose
from swatchcam.recipes.drops import Drops
from swatchcam.recipes.premix import PreMix
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
    found = dispensed(palette, target, new_pot(palette), mix, grams, Tools(step))
    steps = np.array(list(found.amounts.values())) * grams / step
    assert_allclose(steps, np.round(steps), atol=1e-6)
    assert (steps > 0.5).all()


@pytest.mark.parametrize("grams", range(20, 260, 24))
def test_no_other_way_to_round_is_better(palette, target, mix, grams):
    vessel, std = new_pot(palette), 100 * weighed_std(0.1) / grams
    found = dispensed(palette, target, vessel, mix, grams, Tools(0.1))
    below = {thing: int(amount * grams / 0.1) for thing, amount in mix.amounts.items()}
    ways = product(*((count, count + 1) for count in below.values()))
    several = [{thing: 0.1 * n / grams for thing, n in zip(below, way, strict=True) if n} for way in ways]
    others = [weighed(palette, target, vessel, way, dict.fromkeys(way, std)).expected for way in several]
    assert found.expected <= 1.03 * min(others)  # which way is best is told to first order


@pytest.mark.parametrize("least", [0.07, 0.1, 0.25, 0.5])
def test_nothing_is_less_than_can_be_dispensed(palette, target, mix, least):
    found = dispensed(palette, target, new_pot(palette), mix, 100.0, Tools(0.1, least_g={"blue": least}))
    blue = found.amounts.get("blue", 0.0) * 100
    steps = blue / 0.1
    assert blue == 0 or blue >= least - 1e-9
    assert steps == pytest.approx(round(steps), abs=1e-6)


def test_what_is_nearer_to_nothing_than_to_the_least_is_left_out(palette, target, mix):
    found = dispensed(palette, target, new_pot(palette), mix, 100.0, Tools(0.01, least_g={"blue": 3.0}))
    assert set(found.amounts) == {"red", "yellow"}
    assert set(found.shares) == {"red", "yellow"}


def test_a_pot_too_small_for_the_scale_may_be_left_with_nothing(palette):
    pale = made_by(palette, {"red": 0.01})
    mix = weighed(palette, pale, new_pot(palette), {"red": 0.0001})
    found = dispensed(palette, pale, new_pot(palette), mix, 20.0, Tools(1.0))
    assert found.amounts == {}
    assert found.shares == {}
    assert_allclose(found.predicted.lab, palette.predict({}).lab)


def test_a_coarse_scale_makes_the_prediction_less_sure(palette, target, mix):
    vessel = new_pot(palette)
    fine, coarse = (dispensed(palette, target, vessel, mix, 100.0, Tools(step)).predicted for step in (0.01, 0.1))
    assert np.trace(coarse.ink) > np.trace(fine.ink)
    assert coarse.radius > fine.radius


def test_the_scales_doubt_is_that_of_two_readings(palette, target, mix):
    found = dispensed(palette, target, new_pot(palette), mix, 100.0, Tools(0.1))
    # JCGM 100:2008, 4.3.7 and 5.1.2: 0.1 / sqrt(6) g of 100 g; binder makes room.
    std = dict.fromkeys(mix.amounts, 0.1 / np.sqrt(6))
    assert weighed_std(0.1) == pytest.approx(0.1 / np.sqrt(6))
    assert_allclose(found.predicted.ink, palette.predict(found.shares, std=std).ink, rtol=1e-9)


def test_an_addition_to_a_pot_is_rounded_too(palette, target):
    shares = {"blue": 0.05, "red": 0.25}
    vessel = pot_in_hand(palette, shares)
    mix = choices(mixes(palette, target, vessel))[0]
    found = dispensed(palette, target, vessel, mix, 400.0, Tools(0.1))
    grams = {thing: amount * 400 for thing, amount in found.amounts.items()}
    whole = 400 + sum(grams.values())
    for name, share in found.shares.items():
        assert share * whole / 100 == pytest.approx(4 * shares.get(name, 0) + grams.get(name, 0), abs=1e-6)
    assert found.distance < off(palette.predict(shares).lab, target.lab)


def test_of_nothing_nothing_is_weighed(palette, target):
    vessel = pot_in_hand(palette, HIDDEN)
    found = dispensed(palette, target, vessel, weighed(palette, target, vessel, {}), 200.0, Tools(0.1))
    assert found.amounts == {}


@pytest.mark.parametrize("limits", [Limits(each={"red": 0.6}), Limits(most=1.6)])
def test_rounding_keeps_to_the_limits(palette, limits):
    deep, vessel = made_by(palette, {"red": 2.0, "yellow": 2.0}), new_pot(palette)
    for mix in mixes(palette, deep, vessel, limits):
        found = dispensed(palette, deep, vessel, mix, 50.0, Tools(0.5), limits)
        assert found.load <= limits.most + 1e-9
        assert found.shares.get("red", 0) <= limits.each.get("red", 100) + 1e-9


# --- drops and pre-mixes ------------------------------------------------------------------------------------


COUNTED = dict.fromkeys(("black", "blue", "red", "yellow"), Drops(0.05, 0.05))


def bench_of(palette):
    bench = Bench("cotton", DRY, palette.known_strips, {}, {"blue": "Blue 17"}, absolute=True)
    vars(bench)["_learned"] = palette
    return bench


@pytest.mark.parametrize("grams", [50.0, 150.0, 500.0])
def test_a_coarse_scale_alone_lands_further_off_than_with_drops_and_pre_mixes(palette, target, mix, grams):
    def expected(tools):
        return dispensed(palette, target, new_pot(palette), mix, grams, tools).expected

    alone, counted = expected(Tools(1.0)), expected(Tools(1.0, COUNTED))
    made, fine = expected(Tools(1.0, COUNTED, make=True)), expected(Tools(0.01))
    assert counted <= alone + 0.02
    assert made <= counted + 0.02
    assert made <= fine + 0.5
    if grams == 50:
        assert alone > made + 1


def test_on_a_fine_scale_nothing_is_counted_and_no_pre_mix_is_made(palette, target, mix):
    found = dispensed(palette, target, new_pot(palette), mix, 500.0, Tools(0.01, COUNTED, make=True))
    assert {dose.source for dose in found.doses} == {""}


def test_all_that_is_put_in_fits_the_pot_and_makes_the_shares_that_were_predicted(palette, target, mix):
    tools = Tools(1.0, {"blue": Drops(0.05, 0.05)}, {"red": (PreMix("red", 0.01, 0.02, 300.0, number=1),)}, make=True)
    found = dispensed(palette, target, new_pot(palette), mix, 50.0, tools)
    put_in = filled_up(bench_of(palette), found, 50.0, 1.0)
    assert sum(dose.grams for dose in put_in.doses) == pytest.approx(put_in.recipe.grams, abs=1e-3)
    assert put_in.recipe.grams == pytest.approx(50, abs=0.5)
    shares = {name.lower().split()[0]: share.percent for name, share in put_in.recipe.shares().items()}
    assert shares == pytest.approx(found.shares, rel=0.02)
    assert "Blue 17" in {dose.what for dose in put_in.doses}
    made = {one.made.name for one in put_in.makings}
    assert {dose.pre_mix.name for dose in put_in.doses if dose.to_make} <= made
    assert "red 1 %" not in made


def test_no_more_of_a_pre_mix_is_taken_than_there_is(palette, target, mix):
    little = {"yellow": (PreMix("yellow", 0.01, 0.02, 5.0, number=1),)}
    found = dispensed(palette, target, new_pot(palette), mix, 50.0, Tools(1.0, pre_mixes=little))
    assert all(dose.grams <= 5 for dose in found.doses if dose.pre_mix)


def test_what_is_beyond_its_limit_already_keeps_nothing_else_from_being_dosed_well(palette):
    wanted, vessel = made_by(palette, {"red": 2.97, "yellow": 1.0, "blue": 0.35}), pot_in_hand(palette, {"red": 3.0})
    mix = next(one for one in mixes(palette, wanted, vessel) if set(one.amounts) == {"blue"})
    free, limited = (
        dispensed(palette, wanted, vessel, mix, 400.0, Tools(0.1), limits)
        for limits in (Limits(), Limits(each={"red": 2.0}))
    )
    assert free.amounts == limited.amounts
    assert free.amounts


@pytest.mark.parametrize("room", [0.3, 0.8, 2.0])
@pytest.mark.parametrize("step", [0.1, 1.0])
def test_no_more_is_put_in_than_old_ink_leaves_room_for(palette, room, step):
    deeper = made_by(palette, {"blue": 0.3, "red": 0.4, "yellow": 1.0, "black": 0.1})
    vessel = pot_with_rest(palette, {"blue": 0.05, "red": 0.3, "yellow": 0.7}, 1 - room / 50)
    jars = {name: (PreMix(name, 0.01, 0.02, 300.0, Drops(0.05, 0.05), number=1),) for name in COUNTED}
    for mix in mixes(palette, deeper, vessel):
        found = dispensed(palette, deeper, vessel, mix, 50.0, Tools(step, COUNTED, jars, make=True))
        assert sum(dose.grams for dose in found.doses) <= room + 1e-6


def test_a_pre_mix_that_is_added_to_a_pot_thins_it(palette, target):
    shares = {"red": 0.3, "yellow": 0.7}
    vessel = pot_in_hand(palette, shares)
    mix = weighed(palette, target, vessel, {"blue": 0.001})
    there = {"blue": (PreMix("blue", 0.01, 0.0, 300.0, number=1),)}
    found = dispensed(palette, target, vessel, mix, 100.0, Tools(1.0, pre_mixes=there))
    (dose,) = found.doses
    assert dose.pre_mix
    whole = 100 + dose.grams
    assert found.shares == pytest.approx(
        {"red": 30 / whole, "yellow": 70 / whole, "blue": 100 * dose.pigment_g / whole}, rel=1e-6
    )
    assert added(bench_of(palette), found, 1.0).recipe.grams == pytest.approx(dose.grams, abs=1e-3)


# --- the order ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(30))
def test_what_changes_this_mix_most_per_gram_comes_last(palette, seed):
    rng = np.random.default_rng(seed)
    shares = {name: float(10 ** rng.uniform(-2, 0.6)) for name in palette.pigments}
    doses = [weighed_dose(name, 1.0, 0.1) for name in rng.permutation(palette.pigments)]
    ordered = by_sensitivity(palette, shares, doses, {})
    moved = [per_gram(palette, shares, dose, {}) for dose in ordered]
    assert moved == sorted(moved)
    # A thousandth of it, by the formula of another library.
    before = palette.labs(palette.vector(shares)[None])
    for dose, each in zip(ordered, moved, strict=True):
        more = {name: (share + 1e-3 * (name == dose.what)) / 1.00001 for name, share in shares.items()}
        step = difference(palette.labs(palette.vector(more)[None]), before)
        assert 1e3 * float(step[0]) == pytest.approx(each, rel=0.1)


def test_black_comes_last_in_a_pale_yellow_and_a_pre_mix_before_its_pigment(palette):
    pale = {"yellow": 0.3, "black": 0.02}
    black, yellow = (weighed_dose(name, 1.0, 0.1) for name in ("black", "yellow"))
    assert by_sensitivity(palette, pale, [black, yellow], {}) == [yellow, black]
    thin = weighed_dose("black", 1.0, 0.1, PreMix("black", 0.01, 0.0))
    assert per_gram(palette, pale, thin, {}) < per_gram(palette, pale, yellow, {})
