"""A list to weigh adds up, keeps the ratios of the pigments, and never asks for what no scale can tell."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.recipes.recipe import BINDER, GRAMS, Part, Recipe, recipe_from_json, recipe_json
from swatchcam.recipes.scale_resolution import weighed_std
from swatchcam.recipes.weighing_list import GROW, weighing_list


def recipe(**grams):
    return Recipe(tuple(Part(what, value, GRAMS, value, 1e-6) for what, value in grams.items()))


POT = recipe(binder=487.3, yellow=3.27, red=1.14, black=0.11)
weights = st.floats(0.05, 60)


def refused(action, *given, **named):
    with pytest.raises(UsageError) as refusal:
        action(*given, **named)
    return str(refusal.value)


def grams_of(found):
    return {part.what: part.grams for part in found.parts}


# --- the order ----------------------------------------------------------------------------------------------


def test_binder_comes_first_and_the_lid_last():
    steps = weighing_list(POT).steps
    assert steps[0].what == BINDER
    assert steps[0].words.endswith(" into a clean pot.")
    assert steps[-1].grams == 0
    assert "airtight lid" in steps[-1].words
    assert "name and date" in steps[-1].words


def test_every_pigment_has_a_clean_spoon_and_is_mixed_until_no_streak_is_seen():
    for step in weighing_list(POT).steps[1:-1]:
        assert step.words.startswith("With a clean spoon")
        assert "until no streak is seen" in step.words
        assert f"{step.grams:.1f} g of {step.what}" in step.words


def test_the_strongest_pigment_is_added_last_bit_by_bit():
    steps = weighing_list(POT, strengths={"Red": 9.0, "black": 4.0, "yellow": 1.0}).steps
    assert [step.what for step in steps] == [BINDER, "yellow", "black", "red", ""]
    assert ["bit by bit" in step.words for step in steps] == [False, False, False, True, False]


def test_pigments_of_unknown_strength_come_last_the_least_of_them_at_the_end():
    order = [step.what for step in weighing_list(POT, strengths={"red": 9.0}).steps]
    assert order == [BINDER, "red", "yellow", "black", ""]


def test_few_drops_are_counted_and_many_are_not():
    drops = {step.what: step.drops for step in weighing_list(POT, drop_g=0.05, grow=0).steps}
    assert drops == {BINDER: None, "yellow": None, "red": None, "black": 2, "": None}


# --- rounding -----------------------------------------------------------------------------------------------


@given(binder=st.floats(50, 2000), one=weights, two=weights, three=weights, scale=st.sampled_from([0.01, 0.05, 0.1]))
def test_the_list_lies_on_the_scale_and_adds_up(binder, one, two, three, scale):
    wanted = recipe(binder=binder, one=one, two=two, three=three)
    found = weighing_list(wanted, scale)
    steps = [step for step in found.steps if step.what]
    assert {step.what: step.grams for step in steps} == grams_of(found.recipe)
    assert found.recipe.grams == pytest.approx(sum(step.grams for step in steps))
    for step in steps:
        assert step.grams == pytest.approx(round(step.grams / scale) * scale)
    assert found.recipe.grams <= wanted.grams * (1 + GROW) + 2 * scale
    assert found.recipe.grams >= wanted.grams - 2 * scale
    assert recipe_from_json(recipe_json(found.recipe)) == found.recipe


@given(binder=st.floats(50, 2000), one=weights, two=weights, three=weights)
def test_a_pot_that_may_grow_keeps_its_shares_at_least_as_well(binder, one, two, three):
    wanted = recipe(binder=binder, one=one, two=two, three=three)
    grown, fixed = weighing_list(wanted), weighing_list(wanted, grow=0)

    def worst(found):
        return max(abs(change) for change in found.changes.values())

    # The binder's own rounding, half a step, is left aside.
    assert worst(grown) <= worst(fixed) + 0.1 / binder + 5e-3
    for what, change in fixed.changes.items():
        wanted_share, share = wanted.shares()[what].percent, fixed.recipe.shares()[what].percent
        assert share / wanted_share - 1 == pytest.approx(change)


def test_a_slightly_larger_pot_keeps_the_ratio_of_two_pigments():
    wanted = recipe(binder=500, yellow=2.34, blue=1.17)
    assert grams_of(weighing_list(wanted, grow=0).recipe) == {"binder": 500, "yellow": 2.3, "blue": 1.2}
    grown = weighing_list(wanted)
    assert grams_of(grown.recipe) == {"binder": 512.8, "yellow": 2.4, "blue": 1.2}
    assert max(map(abs, grown.changes.values())) < 1e-4


def test_what_rounding_costs_is_told():
    found = weighing_list(recipe(binder=500, black=0.14), grow=0)
    assert found.changes["black"] == pytest.approx(0.1 / 0.14 - 1, abs=1e-3)
    assert "share of black by -29 %" in found.notes[0]


def test_a_pot_that_grows_says_so():
    found = weighing_list(recipe(binder=500, black=0.29))
    assert grams_of(found.recipe)["black"] == 0.3
    assert f"{found.recipe.grams:.1f} g instead of 500.3 g" in found.notes[-1]


def test_an_addition_without_binder_does_not_grow():
    found = weighing_list(recipe(yellow=1.23, black=0.31), grow=0)
    assert [step.what for step in found.steps] == ["yellow", "black", ""]
    assert grams_of(found.recipe) == {"yellow": 1.2, "black": 0.3}
    assert found.changes["black"] == pytest.approx(0.3 / 0.31 - 1)


def test_a_weight_is_as_sure_as_in_any_recipe():
    # A rectangle of one step has the variance d²/12 (JCGM 100:2008, 4.3.7), two readings twice that.
    assert weighed_std(0.1) ** 2 == pytest.approx(2 * 0.1**2 / 12)
    assert [part.grams_std for part in weighing_list(POT, grow=0).recipe.parts] == [weighed_std(0.1)] * 4


# --- too little to weigh ------------------------------------------------------------------------------------


def test_too_little_is_refused_with_three_ways_out():
    words = refused(weighing_list, recipe(binder=487.3, black=0.03), 0.1)
    assert "0.03 g of black is too little to weigh" in words
    assert "Mix at least 1.7 times as much" in words
    assert "3 g of a 1:100 pre-mix (2 g of black in 198 g of clear base) and take 3 g less clear base" in words
    assert "finer scale" in words


def test_less_than_can_be_dispensed_is_refused_too():
    assert "at least 0.5 g" in refused(weighing_list, recipe(binder=500, black=0.4), 0.01, least_g=0.5)


def test_an_addition_is_not_told_to_be_made_larger():
    assert "times as much" not in refused(weighing_list, recipe(black=0.03), 0.1, grow=0)


def test_mixing_as_much_more_as_was_said_can_be_weighed():
    assert weighing_list(recipe(binder=1.7 * 487.3, black=1.7 * 0.03), 0.1).recipe.grams > 828


@pytest.mark.parametrize("grams", [0, -1, math.nan, math.inf])
def test_a_part_that_is_no_weight_is_refused(grams):
    assert "can't be right" in refused(weighing_list, recipe(binder=500, black=grams))


@pytest.mark.parametrize("named", [{"scale_g": 0}, {"scale_g": math.nan}, {"least_g": -1}, {"grow": -0.1}])
def test_a_scale_that_makes_no_sense_is_refused(named):
    assert "can't be right" in refused(weighing_list, POT, **named)


# --- with a pre-mix -----------------------------------------------------------------------------------------


def test_a_list_with_a_pre_mix_gives_the_recipe_that_was_wanted():
    found = weighing_list(POT, 0.1, let_down=["Black"], grow=0)
    assert "Make a pre-mix of 2.0 g of black and 18.0 g of clear base" in found.steps[0].words
    assert "1.1 g of the 10 % pre-mix of black" in found.steps[-2].words
    grams = grams_of(found.recipe)
    assert grams["black"] == pytest.approx(0.11)
    assert grams[BINDER] == pytest.approx(487.3, abs=0.05)
    assert found.recipe.grams == pytest.approx(sum(step.grams for step in found.steps))
    assert abs(found.changes["black"]) < 1e-3
    assert found.recipe.shares()["black"].std < weighing_list(POT, grow=0).recipe.shares()["black"].std / 5


def test_a_pre_mix_added_to_a_pot_brings_its_binder():
    found = weighing_list(recipe(yellow=1.2, black=0.02), 0.1, let_down=["black"], grow=0)
    assert grams_of(found.recipe) == pytest.approx({BINDER: 1.98, "yellow": 1.2, "black": 0.02})


def test_a_pre_mix_with_more_binder_than_the_recipe_is_refused():
    assert "Mix a larger pot" in refused(weighing_list, recipe(binder=1.5, black=0.02), 0.1, let_down=["black"])
