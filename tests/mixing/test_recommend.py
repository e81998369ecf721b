"""From the colour that is wanted to the pot: nothing is made or lost, limits hold, and pigment is never taken out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.errors import UsageError
from swatchcam.library.proposals import AGAIN, CORRECTION, RECIPE, THINNING
from swatchcam.library.records import DRY
from swatchcam.library.shelf.pigments import Lot, Pigment
from swatchcam.messages.surface import TERMINAL
from swatchcam.mixing.gamut import LIGHTS
from swatchcam.mixing.order import Leave, Order
from swatchcam.mixing.recommend import again, correction_for, known_strip_for, recipe_for, stand_in
from swatchcam.mixing.search import Target
from swatchcam.mixing.thinning_choices import thinning_for
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.arithmetic import part_of, together
from swatchcam.recipes.recipe import BINDER, parse_recipe, recipe_from_json, recipe_json
from tests.worlds.inkworld import made_by, off
from tests.worlds.mixing_library import CLOTH, INKS, pot_of, studio

ORANGE, OLIVE, DEEP = {"red": 1.0, "yellow": 1.0}, {"yellow": 1.2, "black": 0.2}, {"red": 3.0, "yellow": 2.0}
PAIR = "red", "yellow"
WANTED = (ORANGE, OLIVE, DEEP, {"blue": 0.4, "red": 0.6, "yellow": 0.3})


@pytest.fixture(scope="module")
def bench():
    names = {name: name.capitalize() for name in INKS}
    found = Bench(CLOTH, DRY, studio()[1], {}, names, True)
    found.__dict__["palette"] = studio()[2]  # learned already
    return found


@pytest.fixture(scope="module")
def with_pot(bench):
    """The same once a pot of orange was drawn down; several tests correct it."""
    return bench.with_known_strip(studio()[0].known_strip(ORANGE, 900))


def on_shelf(bench, name, strength=1.0, **said):
    """The same bench, with that on its shelf; the palette stays."""
    usual = {"most": None, "least_g": None, "price": None, "notes": ""}
    lots = (Lot("new", "2020-01-01", strength, 0.0),)
    found = replace(bench, shelf={**bench.shelf, name: Pigment(name, **(usual | said), lots=lots)})
    found.__dict__["palette"] = bench.palette
    return found


def wanted(bench, shares):
    return made_by(bench.palette, shares)


def grams(recipe):
    return {part.what.casefold(): part.grams for part in recipe.parts}


def shares(recipe):
    return {name.casefold(): share.percent for name, share in recipe.shares().items()}


def in_steps(value, step):
    return value / step == pytest.approx(round(value / step), abs=1e-6)


def refused(work):
    with pytest.raises(UsageError) as refusal:
        work()
    assert TERMINAL.problem(refusal.value).endswith(".")
    assert TERMINAL.remedy(refusal.value).endswith((".", ")", '"'))
    return refusal.value


# --- a new pot ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hidden", "whole", "scale"), [(ORANGE, 500.0, 0.01), (OLIVE, 250.0, 0.1), (WANTED[3], 1200.0, 1.0)]
)
def test_a_recipe_can_be_weighed_and_adds_up_to_what_was_ordered(bench, hidden, whole, scale):
    proposed = recipe_for(bench, wanted(bench, hidden), Order(whole, scale))
    assert (proposed.kind, proposed.now, proposed.leave) == (RECIPE, None, None)
    for choice in proposed.choices:
        assert choice.pot == choice.added
        assert choice.pot.grams == pytest.approx(whole, abs=scale / 2 + 1e-6)
        assert all(in_steps(dose.amount, scale) for dose in choice.doses)
        assert sum(dose.grams for dose in choice.doses) == pytest.approx(choice.pot.grams, abs=1e-3)
        assert {part.what for part in choice.pot.parts} <= {BINDER, *bench.names.values()}
        assert shares(choice.pot) == pytest.approx(choice.mix.shares)
        assert choice.mix.load <= 10
        assert recipe_from_json(recipe_json(choice.pot)) == choice.pot


@pytest.mark.parametrize("hidden", WANTED)
def test_a_recipe_looks_as_wanted_by_the_truth_as_well(bench, hidden):
    """The pigments are the world's, not the palette's: its phone errs by 0.8 CIEDE2000, each test series has 3."""
    world, _, _ = studio()
    target = Target(tuple(world.seen(world.lab(hidden))), "a strip", world.kept(hidden, 901))
    best = recipe_for(bench, target, Order(500, 0.01)).choices[0]
    assert off(world.lab(shares(best.pot)), world.lab(hidden)) <= best.mix.predicted.radius


def test_choices_differ_and_the_best_colour_is_among_them(bench):
    choices = recipe_for(bench, wanted(bench, WANTED[3]), Order(500, 0.01)).choices
    assert len({frozenset(choice.mix.amounts.items()) for choice in choices}) == len(choices)
    assert choices[0].mix.distance < 0.3
    assert set(choices[0].lights) == set()  # numbers have no spectrum


def test_a_target_with_a_spectrum_is_looked_at_in_other_light(bench):
    strip = studio()[0].kept(ORANGE, 903)
    target = Target(strip.lab, "a strip", strip, strip.reflectance)
    choice = recipe_for(bench, target, Order(500, 0.01)).choices[0]
    assert choice.lights.keys() == set(LIGHTS)
    assert all(0 <= value < 5 for value in choice.lights.values())


@pytest.mark.parametrize(("things", "names"), [(1, ("red",)), (2, ("red", "yellow", "black")), (3, ("blue", "YELLOW"))])
def test_only_what_may_be_used_is_used(bench, things, names):
    order = Order(500, 0.01, names, things)
    for choice in recipe_for(bench, wanted(bench, WANTED[3]), order).choices:
        assert set(choice.mix.amounts) <= {name.casefold() for name in names}
        assert len(choice.mix.amounts) <= things


def test_each_pigments_own_limit_and_that_of_all_hold(bench):
    own = on_shelf(bench, "red", most=1.5)
    for choice in recipe_for(own, wanted(bench, DEEP), Order(500, 0.01, PAIR)).choices:
        assert shares(choice.pot).get("red", 0) <= 1.5 + 1e-9
    for choice in recipe_for(bench, wanted(bench, DEEP), Order(500, 0.01, most=3.0)).choices:
        assert sum(shares(choice.pot).values()) <= 3 + 1e-9


def test_of_a_weak_lot_the_makers_limit_still_counts_grams(bench):
    own = on_shelf(bench, "red", strength=0.5, most=1.0)
    for choice in recipe_for(own, wanted(bench, DEEP), Order(500, 0.01, PAIR)).choices:
        assert shares(choice.pot).get("red", 0) <= 1 + 1e-9


def test_no_less_is_weighed_than_can_be_dispensed(bench):
    own = on_shelf(bench, "black", least_g=1.5)
    for choice in recipe_for(own, wanted(bench, OLIVE), Order(500, 0.01)).choices:
        assert grams(choice.pot).get("black", 1.5) >= 1.5 - 1e-9


@pytest.mark.parametrize("strength", [1.2, 0.8])
def test_of_a_stronger_lot_less_is_weighed(bench, strength):
    target, order = wanted(bench, ORANGE), Order(500, 0.001)
    before = grams(recipe_for(bench, target, order).choices[0].pot)
    after = grams(recipe_for(on_shelf(bench, "red", strength), target, order).choices[0].pot)
    assert after["red"] == pytest.approx(before["red"] / strength, abs=0.005)
    assert after["yellow"] == pytest.approx(before["yellow"], abs=0.005)


def test_what_is_out_of_reach_is_told(bench):
    proposed = recipe_for(bench, Target((60.0, -75.0, 40.0), "vivid green"), Order(500))
    assert not proposed.reach.hit
    assert proposed.reach.needs
    assert recipe_for(bench, wanted(bench, ORANGE), Order(500)).reach.hit


def test_numbers_mean_nothing_to_a_nominal_card(bench):
    nominal = replace(bench, absolute=False)
    nominal.__dict__["palette"] = bench.palette
    target, pot, order = wanted(bench, ORANGE), pot_of(ORANGE), Order(500, 0.01)
    for work in (
        lambda: recipe_for(nominal, target, order),
        lambda: correction_for(nominal, target, pot, order),
        lambda: thinning_for(nominal, target, pot, order, 300),
        lambda: again(nominal, target, pot, order),
    ):
        assert refused(work).code == "numbers-need-measured-card"
    strip = studio()[0].kept(ORANGE, 904)
    told = refused(lambda: recipe_for(nominal, Target(strip.lab, "a strip", strip), order))
    assert (told.code, told.facts) == ("cards-unlike", {"known_measured": False})
    strip = replace(strip, absolute=False)
    assert recipe_for(nominal, Target(strip.lab, "a strip", strip), order).choices
    told = refused(lambda: recipe_for(bench, Target(strip.lab, "a strip", strip), order))
    assert (told.code, told.facts) == ("cards-unlike", {"known_measured": True})


@pytest.mark.parametrize(
    "order",
    [
        *(Order(value) for value in (0.0, -5.0, float("nan"), float("inf"), 1e9)),
        *(Order(500, value) for value in (0.0, -0.1, float("nan"), 100.0)),
        *(Order(500, most=value) for value in (0.0, float("nan"), 90.0)),
        *(Order(500, things=value) for value in (0, 5)),
        Order(500, 0.1, ("ochre",)),
        Order(1.0, 5.0),  # of pale ink no pigment at all can be weighed
    ],
)
def test_an_order_that_makes_no_sense_is_refused(bench, order):
    refused(lambda: recipe_for(bench, wanted(bench, {"red": 0.1}), order))


# --- the pot in hand ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hidden", "left", "scale"), [(DEEP, 480.0, 0.01), ({"red": 1.1, "yellow": 1.0, "blue": 0.2}, 100.0, 0.1)]
)
def test_nothing_is_ever_taken_out_of_a_pot(with_pot, hidden, left, scale):
    pot, order = pot_of(ORANGE), Order(left, scale)
    proposed = correction_for(with_pot, wanted(with_pot, hidden), pot, order)
    assert proposed.kind == CORRECTION
    assert proposed.now.shares == pytest.approx(ORANGE)
    assert proposed.choices
    before = grams(part_of(pot, left))
    for choice in proposed.choices:
        assert choice.roads is None
        added = grams(choice.added)
        assert all(in_steps(dose.amount, scale) for dose in choice.doses)
        assert added.get(BINDER, 0) == pytest.approx(sum(dose.binder_g for dose in choice.doses), abs=1e-3)
        assert grams(choice.pot) == pytest.approx(
            {name: before.get(name, 0) + added.get(name, 0) for name in before.keys() | added.keys()}
        )
        assert shares(choice.pot) == pytest.approx(choice.mix.shares)
        assert 0.5 <= choice.part <= 1
        assert 0 <= choice.overshoot <= 1
    assert not proposed.leave
    assert proposed.choices[0].mix.distance < proposed.now.distance


def test_a_pot_that_is_too_strong_is_thinned_first(with_pot):
    pot, order = pot_of(ORANGE), Order(400, 0.01, PAIR)
    proposed = correction_for(with_pot, wanted(with_pot, {"red": 0.5, "yellow": 0.5}), pot, order)
    thinner, *others = proposed.choices
    assert thinner.roads is not None
    assert all(choice.roads is None for choice in others)
    assert shares(thinner.pot)["red"] == pytest.approx(0.5, rel=0.15)
    assert thinner.roads.fresh.pot.grams <= 400 + 1e-6


def test_a_pot_that_is_near_is_left_alone(with_pot):
    near = correction_for(
        with_pot, wanted(with_pot, {"red": 1.02, "yellow": 1.0}), pot_of(ORANGE), Order(480, 0.01, PAIR)
    )
    assert near.now.distance < 0.5
    assert near.leave == Leave.NO_VISIBLE_DIFFERENCE
    far = correction_for(with_pot, wanted(with_pot, DEEP), pot_of(ORANGE), Order(480, 0.01, PAIR))
    assert not far.leave


@pytest.mark.parametrize("weaker", [{"red": 0.98, "yellow": 0.99}, {"red": 0.977, "yellow": 0.995}])
def test_no_fresh_pot_is_made_of_one_that_nobody_could_tell_from_its_target(with_pot, weaker):
    found = correction_for(with_pot, wanted(with_pot, weaker), pot_of(ORANGE), Order(480, 0.01, PAIR))
    assert found.now.distance <= 0.5
    assert found.leave == Leave.NO_VISIBLE_DIFFERENCE
    assert [choice for choice in found.choices if choice.roads] == []


def test_a_pot_that_nothing_helps_is_left_alone(with_pot):
    """One step of the scale is far too much for so little ink."""
    proposed = correction_for(with_pot, wanted(with_pot, {"red": 1.05, "yellow": 1.2}), pot_of(ORANGE), Order(5, 1.0))
    assert not any(choice.roads is None and choice.mix.distance < proposed.now.distance for choice in proposed.choices)
    assert proposed.leave in (Leave.TOO_FINE, Leave.NOTHING_HELPS)


def test_what_lies_opposite_is_said_to_make_the_colour_greyer(with_pot):
    """Blue (hue near 270 degrees) lies opposite orange (near 60)."""
    grey = wanted(with_pot, ORANGE | {"blue": 0.15})
    proposed = correction_for(with_pot, grey, pot_of(ORANGE), Order(480, 0.01, ("blue",)))
    assert proposed.choices[0].opposite == ("Blue",)
    deeper = correction_for(with_pot, wanted(with_pot, DEEP), pot_of(ORANGE), Order(480, 0.01, ("red", "yellow")))
    assert not any(choice.opposite for choice in deeper.choices)


def test_of_a_stronger_lot_less_is_added(with_pot):
    order = Order(480, 0.001, ("yellow",))
    target = wanted(with_pot, {"red": 1.0, "yellow": 1.6})
    (before,) = correction_for(with_pot, target, pot_of(ORANGE), order).choices
    shelf = on_shelf(with_pot, "yellow", 1.25)
    # The pot holds as much yellow as works: 1 % of the lot that counts as 1.
    (after,) = correction_for(shelf, target, pot_of({"red": 1.0, "yellow": 0.8}), order).choices
    assert grams(after.added)["yellow"] == pytest.approx(grams(before.added)["yellow"] / 1.25, rel=0.02)


@pytest.mark.parametrize("pot", [pot_of(ORANGE), parse_recipe("binder 480 g, red 5 g, ochre 5 g")])
@pytest.mark.parametrize("left", [501.0, 0.0, float("nan")])
def test_what_cannot_be_in_the_pot_is_refused(with_pot, pot, left):
    refused(lambda: correction_for(with_pot, wanted(with_pot, DEEP), pot, Order(left)))


def test_a_pot_with_an_unknown_pigment_is_refused(with_pot):
    pot = parse_recipe("binder 480 g, red 5 g, ochre 5 g")
    assert (
        refused(lambda: correction_for(with_pot, wanted(with_pot, DEEP), pot, Order(400))).facts["pigment"] == "ochre"
    )


@pytest.mark.parametrize(("whole", "scale"), [(50.0, 5.0), (9.0, 0.5)])
def test_a_coarse_scale_never_spoils_the_answer(with_pot, whole, scale):
    """Where no thinner pot can be weighed there is no such choice, and the rest is told all the same."""
    pot = pot_of({"red": 4.0, "yellow": 4.0})
    proposed = correction_for(with_pot, wanted(with_pot, {"red": 0.1, "yellow": 0.1}), pot, Order(whole, scale, PAIR))
    assert proposed.now.distance > 5


# --- a thinner pot -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("part", "left", "want", "scale"), [(0.3, 400.0, 300.0, 0.01), (0.7, 100.0, 500.0, 0.1)])
def test_thinning_makes_or_loses_nothing(with_pot, part, left, want, scale):
    pot = pot_of(ORANGE)
    target = wanted(with_pot, {name: part * share for name, share in ORANGE.items()})
    proposed = thinning_for(with_pot, target, pot, Order(left, scale, PAIR), want)
    assert proposed.kind == THINNING
    best = proposed.choices[0]
    fresh = best.roads.fresh
    whole = together(fresh.pot, fresh.left) if fresh.left else fresh.pot
    assert grams(whole) == pytest.approx(
        {name: g + (fresh.binder_g if name == BINDER else 0) for name, g in grams(part_of(pot, left)).items()}
    )
    assert grams(best.pot) == pytest.approx(grams(together(fresh.pot, best.added)))
    assert best.pot.grams <= want + 3 * scale + best.added.grams
    assert shares(best.pot) == pytest.approx(best.mix.shares, rel=0.02, abs=0.005)
    assert best.mix.distance < proposed.now.distance


def test_a_pot_that_is_not_too_strong_is_not_thinned(with_pot):
    told = refused(lambda: thinning_for(with_pot, wanted(with_pot, DEEP), pot_of(ORANGE), Order(400, 0.01, PAIR), 300))
    assert told.code == "pot-not-too-strong"
    assert "what to add to it instead" in TERMINAL.remedy(told)


@pytest.mark.parametrize("want", [0.0, -1.0, float("nan"), 1e9])
def test_an_amount_that_makes_no_sense_is_refused(with_pot, want):
    refused(lambda: thinning_for(with_pot, wanted(with_pot, {"red": 0.3}), pot_of(ORANGE), Order(400, 0.01), want))


def test_of_a_thinner_pot_no_less_is_weighed_than_can_be_dispensed(with_pot):
    own = on_shelf(on_shelf(with_pot, "black", least_g=1.0), "blue", least_g=1.0)
    target = wanted(with_pot, {"red": 0.5, "yellow": 0.5, "black": 0.02})
    for choice in thinning_for(own, target, pot_of(ORANGE), Order(400, 0.01), 300).choices:
        assert all(grams(choice.added).get(name, 1.0) >= 1.0 - 1e-9 for name in ("black", "blue"))


def test_a_thinner_pot_that_is_predicted_is_the_one_that_is_weighed(with_pot):
    target = wanted(with_pot, {"red": 0.5, "yellow": 0.5, "blue": 0.9})
    for choice in thinning_for(with_pot, target, pot_of(ORANGE), Order(400, 0.01), 300).choices:
        assert shares(choice.pot) == pytest.approx(choice.mix.shares, rel=0.005)


def test_a_thinner_pot_counts_what_the_scale_may_be_off(with_pot):
    target = wanted(with_pot, {"red": 0.1, "yellow": 0.1})
    best = thinning_for(with_pot, target, pot_of(ORANGE), Order(400, 1.0, PAIR), 50).choices[0]
    fresh, rng = best.roads.fresh, np.random.default_rng(17)
    # Empty and full are read on a display that rounds (JCGM 100:2008, 4.3.7).
    off = rng.uniform(-0.5, 0.5, (2, 2, 20000)).sum(axis=0)
    ink, base = fresh.ink_g + off[0], fresh.binder_g + off[1]
    drawn = np.std(shares(pot_of(ORANGE))["red"] * ink / (ink + base))
    assert best.mix.content.std["red"] == pytest.approx(drawn, rel=0.15)


# --- the same again ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("rests", [(), (150.0,), (100.0, 80.0)])
def test_what_is_left_goes_in_whole_and_first(bench, rests):
    old = [(pot_of(ORANGE), g, "") for g in rests]
    proposed = again(bench, wanted(bench, {"red": 1.2, "yellow": 1.2}), pot_of(ORANGE), Order(600, 0.01), old)
    assert (proposed.kind, proposed.now) == (AGAIN, None)
    best = proposed.choices[0]
    left = [part_of(recipe, g) for recipe, g, _ in old]
    assert grams(best.pot) == pytest.approx(grams(together(*left, best.added)))
    assert best.pot.grams == pytest.approx(600, abs=0.01)
    assert best.added.grams == pytest.approx(600 - sum(rests), abs=0.01)
    assert all(in_steps(part.grams, 0.01) for part in best.added.parts)
    assert shares(best.pot) == pytest.approx(best.mix.shares)
    assert shares(best.pot) == pytest.approx({"red": 1.2, "yellow": 1.2}, rel=0.05)


def test_without_a_word_the_pigments_are_those_of_before(bench):
    proposed = again(bench, wanted(bench, {"red": 1.1, "yellow": 1.0, "blue": 0.1}), pot_of(ORANGE), Order(600, 0.01))
    assert all(set(choice.mix.amounts) <= {"red", "yellow"} for choice in proposed.choices)
    order = Order(600, 0.01, ("red", "yellow", "blue"))
    assert "blue" in again(bench, wanted(bench, ORANGE | {"blue": 0.1}), pot_of(ORANGE), order).choices[0].mix.amounts


@pytest.mark.parametrize("left", [600.0, 700.0])
def test_more_rest_than_is_wanted_is_refused(bench, left):
    rest = (pot_of(ORANGE, 800), left, "")
    told = refused(lambda: again(bench, wanted(bench, ORANGE), pot_of(ORANGE), Order(600), [rest]))
    assert (told.code, told.facts) == ("more-left-than-wanted", {"left": left, "wanted": 600})


def test_more_than_ever_was_in_a_pot_cannot_be_left(bench):
    refused(lambda: again(bench, wanted(bench, ORANGE), pot_of(ORANGE), Order(900), [(pot_of(ORANGE), 501.0, "")]))


def test_a_rest_twice_as_strong_is_filled_up_with_binder(bench):
    strong = pot_of({"red": 2.0, "yellow": 2.0})
    proposed = again(bench, wanted(bench, ORANGE), strong, Order(400, 0.01), [(strong, 200.0, "")])
    assert shares(proposed.choices[0].pot) == pytest.approx(ORANGE, rel=0.02)


# --- a pot that nobody knows -------------------------------------------------------------------------------


def test_a_mix_of_the_same_look_stands_in_for_an_unknown_pot(bench):
    world = studio()[0]
    colour = world.kept(ORANGE, 905)
    taught, recipe = stand_in(bench, colour, 300.0, Order(300, 0.01, PAIR))
    assert recipe.grams == pytest.approx(300, abs=0.001)
    assert off(bench.palette.labs(bench.palette.vector(shares(recipe))[None])[0], colour.lab) < 1.5
    assert taught.known_strips[:-1] == bench.known_strips
    guess = taught.known_strips[-1]
    assert guess.colour is colour
    assert guess.shares_std == pytest.approx({name: 0.25 * share for name, share in guess.shares.items()})
    proposed = correction_for(taught, wanted(bench, DEEP), recipe, Order(300, 0.01, PAIR))
    assert proposed.choices[0].mix.distance < proposed.now.distance


def test_of_a_strong_lot_a_stand_in_is_no_stronger_than_it_looks(bench):
    own = on_shelf(bench, "red", 1.5)
    taught, recipe = stand_in(own, studio()[0].kept(ORANGE, 905), 300.0, Order(300, 0.01, PAIR))
    proposed = correction_for(taught, wanted(bench, DEEP), recipe, Order(300, 0.01, PAIR))
    assert proposed.now.shares == pytest.approx(taught.known_strips[-1].shares, rel=0.01)


def test_what_looks_like_none_of_the_pigments_has_no_stand_in(bench):
    green = replace(studio()[0].kept({"blue": 0.5, "yellow": 2.0}, 906), lab=(60.0, -75.0, 40.0))
    told = refused(lambda: stand_in(bench, green, 300.0, Order(300)))
    assert told.code == "pot-unlike-any-mix"
    assert told.facts["off"] > 1.5


def test_a_pots_strip_is_a_known_strip(bench):
    colour = studio()[0].kept(ORANGE, 907)
    known_strip = known_strip_for(on_shelf(bench, "red", 1.2), pot_of(ORANGE), colour, "orange, 7")
    assert known_strip.shares == pytest.approx({"red": 1.2, "yellow": 1.0})
    assert (known_strip.colour, known_strip.strip, known_strip.record) == (colour, "orange, 7", None)
