"""What is poured together is all there, and what is poured off is the same ink."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.arithmetic import filled_up, part_of, together, weighed
from swatchcam.recipes.recipe import BINDER, DROPS, GRAMS, Part, Recipe, recipe_from_json, recipe_json

POT = Recipe(
    (
        Part(BINDER, 480.0, GRAMS, 480.0, 0.04),
        Part("Red", 18.0, GRAMS, 18.0, 0.04, "R 12"),
        Part("black", 40.0, DROPS, 2.0, 0.3),
    )
)
NAMES = st.sampled_from([BINDER, "red", "Red", "blue", "süß  grün"])
ROUNDED = 0.5e-4  # g
AMOUNTS = st.floats(0.2, 2000)


def pots():
    parts = st.lists(
        st.builds(lambda what, grams, std: Part(what, grams, GRAMS, grams, std), NAMES, AMOUNTS, st.floats(0.001, 1)),
        min_size=1,
        max_size=4,
        unique_by=lambda part: part.what.casefold(),
    )
    return st.builds(lambda parts: Recipe(tuple(parts)), parts)


def near(grams):
    """So near as grams are kept: to a tenth of a milligram, in each of a few steps."""
    return pytest.approx(grams, abs=4 * ROUNDED, rel=1e-9)


def grams_of(*recipes):
    found = {}
    for part in (part for recipe in recipes for part in recipe.parts):
        name = part.what.casefold()
        found[name] = found.get(name, 0.0) + part.grams
    return found


@given(pot=pots(), share=st.floats(0.01, 0.99))
def test_what_is_poured_off_and_the_rest_are_the_pot(pot, share):
    off, rest = part_of(pot, share * pot.grams), part_of(pot, (1 - share) * pot.grams)
    assert off.grams == near(share * pot.grams)
    assert grams_of(off, rest) == near(grams_of(pot))
    assert grams_of(together(off, rest)) == near(grams_of(pot))


@given(pot=pots(), share=st.floats(0.01, 1))
def test_what_is_poured_off_is_as_strong_and_as_sure(pot, share):
    off, before = part_of(pot, share * pot.grams), pot.shares()
    percent = 100 * 2 * len(pot.parts) * ROUNDED / off.grams
    for name, each in off.shares().items():
        assert each.percent == pytest.approx(before[name].percent, abs=percent)
        assert each.std == pytest.approx(before[name].std, rel=0.02)


def test_a_trace_of_a_pigment_does_not_spoil_the_recipe():
    """1 g of a kilogram with a single drop: less than a tenth of a milligram of it."""
    pot = Recipe((Part(BINDER, 1000.0, GRAMS, 1000.0, 0.04), Part("black", 1.0, DROPS, 0.03, 0.01)))
    assert recipe_from_json(recipe_json(part_of(pot, 1.0))).grams == near(1.0)


@given(one=pots(), other=pots(), third=pots())
def test_in_whatever_order_pots_go_together_all_is_in(one, other, third):
    at_once = grams_of(together(one, other, third))
    assert at_once == near(grams_of(one, other, third))
    assert grams_of(together(together(third, one), other)) == near(at_once)


def test_weights_that_are_added_err_independently():
    """JCGM 100:2008, 5.1.2: variances add."""
    both = together(POT, Recipe((Part("red", 2.0, GRAMS, 2.0, 0.03),)))
    (red,) = [part for part in both.parts if part.what.casefold() == "red"]
    assert (red.what, red.grams, red.number) == ("Red", 20.0, "R 12")
    assert red.grams_std == pytest.approx(math.hypot(0.04, 0.03))


def test_drops_become_grams_where_pots_are_put_together():
    (black,) = [part for part in together(POT).parts if part.what == "black"]
    assert (black.amount, black.unit, black.grams, black.grams_std) == (2.0, GRAMS, 2.0, 0.3)


def test_the_makers_number_is_kept_from_whichever_pot_names_it():
    plain = Recipe((Part("red", 1.0, GRAMS, 1.0, 0.04),))
    for both in (together(POT, plain), together(plain, POT)):
        assert [part.number for part in both.parts if part.what.casefold() == "red"] == ["R 12"]


def test_what_was_put_together_can_be_kept():
    both = together(POT, part_of(POT, 100.0))
    assert recipe_from_json(recipe_json(both)) == both


@given(
    pigments=st.dictionaries(st.sampled_from(["red", "blue", "black"]), st.integers(1, 900), max_size=3),
    steps=st.integers(30_000, 90_000),
    scale=st.sampled_from([0.001, 0.01, 0.05, 0.1, 1.0]),
)
def test_a_pot_is_filled_up_in_steps_of_the_scale(pigments, steps, scale):
    whole = steps * scale
    grams = {name: count * scale for name, count in pigments.items()}
    pot = filled_up(grams, whole, scale)
    assert pot.grams == pytest.approx(whole, abs=1e-6 * scale)
    binder = pot.parts[0]
    assert binder.what == BINDER
    assert binder.grams / scale == pytest.approx(round(binder.grams / scale), abs=1e-6)
    assert grams_of(pot) == pytest.approx(grams | {BINDER: binder.grams})
    # A weight is two readings of the display, each with the variance step² / 12 (JCGM 100:2008, 4.3.7).
    assert all(part.grams_std == pytest.approx(scale / math.sqrt(6)) for part in pot.parts)


def test_a_pot_of_ready_mixed_inks_holds_no_clear_base_until_some_is_poured_in():
    pot = filled_up({"white": 300.0, "black": 12.0}, 312.0, 0.1)
    assert pot.parts[0] == Part(BINDER, 0.0, GRAMS, 0.0, 0.0)
    part = part_of(pot, 104.0)
    assert [(each.what, each.grams) for each in part.parts] == [(BINDER, 0.0), ("white", 100.0), ("black", 4.0)]
    assert recipe_from_json(recipe_json(part)) == part
    more = together(part, weighed({BINDER: 5.0, "white": 3.0}, 0.1))
    assert [(each.what, each.grams) for each in more.parts] == [(BINDER, 5.0), ("white", 103.0), ("black", 4.0)]
    assert filled_up({"white": 312.04}, 312.0, 0.1).parts[0].grams == 0.0


def test_nothing_is_weighed_where_nothing_is_wanted():
    assert [part.what for part in weighed({"red": 0.0, "blue": 0.2}, 0.1).parts] == ["blue"]
    assert weighed({}, 0.1).parts == together().parts == ()


@pytest.mark.parametrize("grams", [0.0, -1.0, math.nan, math.inf, 1e9, 501.0])
def test_what_cannot_be_in_the_pot_is_refused(grams):
    with pytest.raises(UsageError) as refusal:
        part_of(POT, grams)
    assert TERMINAL.problem(refusal.value).endswith(".")
    assert PAGE.remedy(refusal.value).endswith(".")


def test_the_whole_pot_may_be_taken_although_numbers_are_rounded():
    assert part_of(POT, POT.grams * (1 + 1e-9)).grams == pytest.approx(POT.grams)


@pytest.mark.parametrize(("scale", "read", "refused"), [(1.0, 50.0, 53.0), (0.1, 49.6, 50.0), (0.01, 49.55, 49.65)])
def test_a_pot_may_weigh_as_much_as_its_scale_can_be_off(scale, read, refused):
    pot = weighed({BINDER: 47.0, "blue": 2.0, "red": 0.548}, scale)
    part = part_of(pot, read)
    assert part.grams == pytest.approx(read, abs=1e-3)
    assert [one.grams / part.grams for one in part.parts] == pytest.approx(
        [one.grams / pot.grams for one in pot.parts], rel=1e-3
    )
    with pytest.raises(UsageError):
        part_of(pot, refused)


def test_clear_base_too_little_to_be_told_leaves_a_recipe_that_can_be_read_back():
    spoonful = part_of(Recipe((Part(BINDER, 0.01, GRAMS, 0.01, 0.04), Part("red", 500.0, GRAMS, 500.0, 0.04))), 1.0)
    assert recipe_from_json(recipe_json(spoonful)) == spoonful


def test_drops_of_one_bottle_share_its_error_however_its_name_is_written():
    one, other = (Part(name, 10.0, DROPS, 0.5, 0.05, "", f"drops of {name}", 0.03) for name in ("Red", "red"))
    assert together(Recipe((one,)), Recipe((other,))).parts[0].common == pytest.approx(0.06)


def test_what_is_weighed_in_between_does_not_make_drops_of_one_bottle_err_independently():
    counted = Recipe((Part("red", 10.0, DROPS, 0.5, 0.05, "", "drops of red", 0.03),))
    weighed_in = weighed({"red": 0.1}, 0.01)
    between, after = (
        together(*each).parts[0] for each in ((counted, weighed_in, counted), (counted, counted, weighed_in))
    )
    assert between.grams_std == pytest.approx(after.grams_std)
    assert between.common == after.common == pytest.approx(0.06)
