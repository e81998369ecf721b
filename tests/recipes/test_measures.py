"""Drops, spoons and millilitres become grams by what the studio weighed, with an error that covers what they do.

Published: USP 1101 (drops: not above 15 %), USP 1221 (spoons:
not above 10 %), NBS Special Publication 430 (a metric teaspoon holds 5 ml).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from swatchcam.errors import UsageError
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.arithmetic import together
from swatchcam.recipes.drops import HAND, Drops, counted_drops, parse_drops
from swatchcam.recipes.measures import Measures, parse_spoon
from swatchcam.recipes.recipe import Recipe, as_given, parse_recipe, recipe_from_json, recipe_json

BLUE = Drops(0.051, 0.05)
STUDIO = Measures({"blue": BLUE}, 5.0, {"violet": 1.1})


def part(text, what, measures=STUDIO, **how):
    found = parse_recipe(f"clear base 500 g; {text}", measures=measures, **how)
    assert recipe_from_json(recipe_json(found)) == found
    return next(one for one in found.parts if one.what == what)


def test_drops_are_those_of_their_own_bottle_unless_a_drop_is_said():
    own = part("Blue 7 drops", "Blue")
    assert (own.grams, own.source) == (pytest.approx(0.357), "drops of Blue")
    assert own.grams_std == pytest.approx(0.357 * math.hypot(0.15 / math.sqrt(7), 0.05))
    assert own.common == pytest.approx(0.357 * 0.05)
    said = part("Blue 7 drops", "Blue", drop_g=0.03)
    assert (said.grams, said.source, said.common) == (pytest.approx(0.21), "", 0.0)
    assert said == part("Blue 7 drops", "Blue", Measures(), drop_g=0.03)
    usual = part("black 7 drops", "black")
    assert (usual.grams, usual.source) == (pytest.approx(0.35), "")


def test_the_error_of_counted_drops_is_that_of_drops_counted_again_and_again():
    """A bottle is calibrated once, on a scale of 0.1 g; 7 drops go into each of two pots that are poured together."""
    rng = np.random.default_rng(17)
    tries, true_drop = 4000, 0.05
    day = true_drop * (
        1 + HAND * rng.standard_normal(tries)
    )  # the hand squeezes otherwise on the day of the calibration
    shown = np.round((200 * day + 0.15 * true_drop * np.sqrt(200) * rng.standard_normal(tries)) / 0.1) * 0.1
    into_each = 7 * true_drop + 0.15 * true_drop * np.sqrt(7) * rng.standard_normal((tries, 2))
    off = into_each.sum(axis=1) - 14 * shown / 200
    bottle = Measures({"blue": parse_drops("200 drops = 10,0 g", 0.1)})
    pot = parse_recipe("clear base 500 g, blue 7 drops", measures=bottle)
    blue = next(one for one in together(pot, pot).parts if one.what == "blue")
    assert blue.grams_std == pytest.approx(off.std(), rel=0.05)
    assert blue.grams_std > math.sqrt(2) * pot.parts[1].grams_std  # what they share adds up in full


@pytest.mark.parametrize(
    ("text", "what", "grams"),
    [
        ("red 10 ml", "red", 10.0),
        ("violet 10 ml", "violet", 11.0),
        ("violet 2 spoons", "violet", 11.0),
        ("1 spoon violet", "violet", 5.5),
        ("opaque white 2 spoonfuls", "opaque white", 13.0),
        ("Weiß 2,5 mL", "Weiß", 3.25),
        ("off-white ecru 10 ml", "off-white ecru", 10.0),
    ],
)
def test_volumes_become_grams_by_what_is_in_them(text, what, grams):
    found = part(text, what)
    assert found.grams == pytest.approx(grams)
    assert found.grams_std >= 0.1 * found.grams  # USP 1221
    assert found.unit in ("ml", "spoons")


def test_clear_base_may_be_measured_by_volume():
    (base,) = parse_recipe("clear base 500 ml", measures=STUDIO).parts
    assert base.grams == pytest.approx(500 * 1.015)
    (said,) = parse_recipe("binder 500 ml", measures=Measures(densities={"binder": 1.05})).parts
    assert said.grams == pytest.approx(525)
    assert said.grams_std / said.grams == pytest.approx(0.1)
    assert base.grams_std / base.grams > 0.1  # nobody weighed a millilitre of it


def test_what_was_spooned_is_written_as_it_was_given():
    found = parse_recipe("clear base 500 ml, violet 1 spoon, red 2 spoons, blue 1 drop", measures=STUDIO)
    written = ", ".join(as_given(one) for one in found.parts)
    assert written == "clear base 500 ml, violet 1 spoon, red 2 spoons, blue 1 drop"
    assert parse_recipe(written, measures=STUDIO) == found
    assert isinstance(found, Recipe)


@pytest.mark.parametrize(
    ("text", "millilitres"),
    [
        ("5 ml", 5.0),
        ("4,9", 4.9),
        ("10 spoons = 48 g", 48 / 10 / 1.015),
        ("10 spoons of clear base 48,5 g", 48.5 / 10 / 1.015),
        ("10 Spoons of water = 50 g", 5.0),  # a metric teaspoon, NBS Special Publication 430
        ("1 spoon weighs 15 g", 15 / 1.015),
    ],
)
def test_what_a_spoon_holds_is_said_or_weighed(text, millilitres):
    assert parse_spoon(text, 0.1) == pytest.approx(millilitres)


def test_the_clear_bases_own_density_goes_first():
    assert parse_spoon("10 spoons = 50 g", 0.1, 1.25) == pytest.approx(4.0)
    assert parse_spoon("10 spoons of water = 50 g", 0.1, 1.25) == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("text", "scale", "told"),
    [
        ("a big one", 0.1, "can't be read as what a spoon holds"),
        ("10 spoons of honey = 70 g", 0.1, "can't be read"),
        ("0 spoons = 10 g", 0.1, "can't be read"),
        (f"{10**400} spoons = 50 g", 0.1, "can't be read"),
        ("10 spoons = 0 g", 0.1, "can't be read"),
        ("1 spoon = 5 g", 1.0, "too little to go by on this scale"),
        ("900 ml", 0.1, "Size of the spoon: 900 ml can't be right"),
        ("0 ml", 0.1, "Size of the spoon: 0 ml"),
    ],
)
def test_what_no_spoon_holds_is_refused(text, scale, told):
    with pytest.raises(UsageError) as refusal:
        parse_spoon(text, scale)
    assert told in TERMINAL.problem(refusal.value)
    assert TERMINAL.remedy(refusal.value).endswith(".")
    assert "swatchcam" not in PAGE.remedy(refusal.value)


def test_drops_that_were_counted_and_weighed_are_the_same_however_they_are_said():
    assert counted_drops(200, 10.2, 0.1) == parse_drops("200 drops = 10.2 g", 0.1)
    with pytest.raises(UsageError, match="too little to go by on a scale"):
        counted_drops(20, 1.0, 1.0)


def test_more_drops_than_anybody_counts_are_refused():
    with pytest.raises(UsageError, match="drops"):
        parse_drops(f"{10**400} drops = 50 g", 0.1)
