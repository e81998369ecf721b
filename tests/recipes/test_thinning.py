"""Thinning a pot: neither road makes or loses pigment, and topping up is never the advice."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.recipes.recipe import BINDER, DROPS, GRAMS, Part, Recipe, recipe_from_json, recipe_json
from swatchcam.recipes.thinning import Advice, thin

POT = Recipe(
    (
        Part(BINDER, 480.0, GRAMS, 480.0, 0.04),
        Part("red", 18.0, GRAMS, 18.0, 0.04, "R 12"),
        Part("black", 40.0, DROPS, 2.0, 0.3),
    )
)


def grams_of(*recipes):
    total: dict[str, float] = {}
    for recipe in filter(None, recipes):
        for part in recipe.parts:
            total[part.what] = total.get(part.what, 0.0) + part.grams
    return total


def test_both_roads_worked_out_by_hand():
    both = thin(POT, 0.8, 250)
    assert (both.fresh.ink_g, both.fresh.binder_g) == (200, 50)
    assert both.fresh.left.grams == pytest.approx(300)
    assert (both.topped.ink_g, both.topped.binder_g) == (500, 125)
    assert both.topped.left.grams == pytest.approx(375)
    assert both.most_g == pytest.approx(625)
    assert (both.short_g, both.alike) == (0, False)


def test_the_advice_is_the_fresh_pot_where_ink_is_left():
    assert thin(POT, 0.8, 250).advice == Advice.FRESH_POT


@given(
    factor=st.floats(0.02, 0.98),
    wanted=st.floats(5, 5000),
    red=st.floats(0.1, 50),
    black=st.floats(0.01, 50),
    binder=st.floats(20, 3000),
    scale=st.sampled_from([0.01, 0.1]),
)
def test_neither_road_makes_or_loses_anything(factor, wanted, red, black, binder, scale):
    strong = Recipe(
        tuple(Part(what, g, GRAMS, g, 0.04) for what, g in (("red", red), (BINDER, binder), ("black", black)))
    )
    both = thin(strong, factor, wanted, scale)
    for road in (both.fresh, both.topped):
        before = grams_of(strong)
        before[BINDER] += road.binder_g
        if road is both.fresh and road.left is None:
            assert road.ink_g == strong.grams
        assert grams_of(road.pot, road.left) == pytest.approx(before, rel=1e-9)
        # A share is what it was, times the factor; the scale rounds the binder by half a step.
        for what, share in road.pot.shares().items():
            assert share.percent == pytest.approx(road.factor * strong.shares()[what].percent)
        assert road.factor == pytest.approx(factor, abs=factor**2 * scale / road.ink_g)
        for recipe in filter(None, (road.pot, road.left)):
            assert recipe_from_json(recipe_json(recipe)) == recipe
    assert both.fresh.binder_g <= both.topped.binder_g
    assert both.fresh.pot.grams == pytest.approx(min(wanted, both.most_g), abs=1.01 * scale / factor + scale)
    assert both.topped.pot.grams == pytest.approx(min(wanted, both.most_g), abs=scale)
    if both.topped.left and both.topped.left.grams > scale:
        assert both.advice == Advice.FRESH_POT or both.fresh.left is None


def test_the_roads_are_alike_when_all_of_the_strong_ink_is_needed():
    both = thin(POT, 0.8, 625)
    assert both.alike
    assert both.fresh.left is None
    assert both.topped.left is None
    assert grams_of(both.fresh.pot) == pytest.approx(grams_of(both.topped.pot))
    assert both.advice == Advice.EITHER


def test_a_pot_that_does_not_reach_says_how_much_can_be_made_at_most():
    both = thin(POT, 0.8, 1000)
    assert both.short_g == pytest.approx(375)
    assert both.advice == Advice.MIX_THE_REST
    assert both.fresh.pot.grams == both.topped.pot.grams == pytest.approx(625)


def test_drops_become_grams_and_numbers_of_the_maker_stay():
    red, black = thin(POT, 0.8, 250).fresh.pot.parts[1:]
    assert (red.number, red.unit, red.amount) == ("R 12", GRAMS, pytest.approx(7.2))
    assert (black.unit, black.amount) == (GRAMS, pytest.approx(0.8))
    # Half of what was uncertain in the whole pot is not less so in a part of it, as a share.
    assert black.grams_std / black.grams == pytest.approx(0.15, rel=0.01)


@pytest.mark.parametrize("factor", [0, 1, 1.2, -0.5, math.nan])
def test_a_factor_that_does_not_thin_is_refused(factor):
    with pytest.raises(UsageError, match="does not thin the pot"):
        thin(POT, factor, 250)


@pytest.mark.parametrize(("wanted", "scale"), [(0, 0.1), (-5, 0.1), (math.nan, 0.1), (math.inf, 0.1), (250, 0)])
def test_amounts_and_scales_that_make_no_sense_are_refused(wanted, scale):
    with pytest.raises(UsageError, match="can't be right"):
        thin(POT, 0.8, wanted, scale)


def test_ink_or_binder_that_the_scale_cannot_tell_is_refused():
    with pytest.raises(UsageError, match=r"can't weigh as little as 0\.04 g of the strong ink"):
        thin(POT, 0.02, 2, 0.1)
    with pytest.raises(UsageError, match=r"can't weigh as little as 0\.025 g of clear base"):
        thin(POT, 0.9999, 250, 0.1)
