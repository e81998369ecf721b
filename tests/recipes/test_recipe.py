"""Recipes: what people write is weighed or refused, and what is kept comes back as it was."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from swatchcam.errors import LibraryError, UsageError
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.recipe import Part, Recipe, as_given, parse_recipe, recipe_from_json, recipe_json

TYPICAL = "binder 500 g, yellow 3.2 g, black 2 drops, Blue No. 17 (maker 4711-B) 1.5 tips"


def refused(text, **measures):
    with pytest.raises(UsageError) as refusal:
        parse_recipe(text, **measures)
    assert TERMINAL.remedy(refusal.value).endswith(".")
    assert PAGE.remedy(refusal.value).endswith(".")
    return TERMINAL.problem(refusal.value)


def amounts(text, **measures):
    return {part.what: (part.amount, part.unit) for part in parse_recipe(text, **measures).parts}


# --- what people write --------------------------------------------------------------------------------------


def test_a_typical_recipe_is_read():
    assert amounts(TYPICAL) == {
        "binder": (500.0, "g"),
        "yellow": (3.2, "g"),
        "black": (2.0, "drops"),
        "Blue No. 17": (1.5, "tips"),
    }
    parts = parse_recipe(TYPICAL).parts
    assert [part.number for part in parts] == ["", "", "", "4711-B"]
    assert [part.grams for part in parts] == pytest.approx([500, 3.2, 0.1, 0.15])


@pytest.mark.parametrize(
    "text",
    [
        TYPICAL.replace(", ", "\n"),
        TYPICAL.replace(", ", ";").replace(".2", ",2").replace("1.5", "1,5"),
        TYPICAL.replace(", ", "\r\n") + "\r\n\r\n",
        "\ufeffBinder: 0.5 kg\nyellow = 3200 mg\nblack 2drops\n(4711-B) Blue No. 17 1.5 spoon tips",
        "500 g binder, 3.2 g yellow, 2 Drops black, 1.5 tips Blue No. 17 (maker 4711-B),",
    ],
)
def test_the_same_recipe_in_other_ways_of_writing(text):
    assert parse_recipe(text) == parse_recipe(TYPICAL)


@pytest.mark.parametrize(
    ("text", "what", "amount"),
    [
        ("Yellow 8G 3 g", "Yellow 8G", (3.0, "g")),
        ("Blue No. 17 500 g", "Blue No. 17", (500.0, "g")),
        ("Blue 17: 500 g", "Blue 17", (500.0, "g")),
        ("Blue 17 (maker 4) 500 g", "Blue 17", (500.0, "g")),
        ("Blue 17 2.5 g", "Blue 17", (2.5, "g")),
        ("white 1.200 kg", "white", (1200.0, "g")),
        ("white 1.2000 g", "white", (1.2, "g")),
        ("white 0.125 g", "white", (0.125, "g")),
        ("white .5 drops", "white", (0.5, "drops")),
        ("black 0.57 kg", "black", (570.0, "g")),
    ],
)
def test_numbers_in_names_and_exact_amounts(text, what, amount):
    assert amounts(f"binder 500 g; {text}")[what] == amount


def test_three_decimals_are_read_on_a_scale_that_shows_them():
    assert amounts("binder 500 g, red 1.200 g", scale_g=0.001)["red"] == (1.2, "g")
    assert "may be 1200, or a little over 1" in refused("binder 500 g, red 1.200 g", scale_g=0.01)
    assert "may be 1200, or a little over 1" in refused("binder 500 g; red 1,200 g", scale_g=0.001)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "no clear base"),
        ("yellow 3 g", "no clear base"),
        ("binder 500 g, Yellow 1 g, yellow 2 g", "'yellow' is in the recipe twice"),
        ("binder 500 g, yellow -3 g", "'yellow -3 g' is not an amount above 0"),
        ("binder 500 g, yellow 0 g", "'yellow 0 g' is not an amount above 0"),
        ("binder 500 g, yellow nan g", "'yellow nan g' has no amount"),
        ("binder 500 g, yellow inf g", "'yellow inf g' has no amount"),
        ("clear base 0 g", "'clear base 0 g' is not an amount above 0"),
        ("binder 0 g, clear base 3 g", "'clear base' is in the recipe twice"),
        ("binder -0.5 g, white 3 g", "'binder -0.5 g' is not an amount above 0"),
        ("binder 500 g, yellow 3", "'yellow 3' has no amount"),
        ("binder 500 g, yellow 3 cups", "'yellow 3 cups' has no amount"),
        ("binder 500 g, yellow 2 spoons", "'yellow 2 spoons' is in spoons, and nobody has said"),
        ("binder 500 g, yellow 0 ml", "'yellow 0 ml' is not an amount above 0"),
        ("binder 500 g, Yellow 8G", "'Yellow 8G' has no amount"),
        ("binder 500 g, a bag", "'a bag' has no amount"),
        ("binder 500 g, 3 g", "'3 g' does not say what it is an amount of"),
        ("binder 1000.1 kg", "'binder 1000.1 kg' is not an amount for a pot"),
        ("binder 500 g, red 0.0000001 g", "is not an amount for a pot"),
        (f"binder {'9' * 399} g", "is too long"),
        (f"binder {'9' * 350} g", "is not an amount for a pot"),
        ("binder 1e3 g", "'1e3' in 'binder 1e3 g' can't be read as a number"),
        ("binder 1'200 g", "can't be read as a number"),
        ("binder 1.200,5 g", "can't be read as a number"),
        ("binder 500 g yellow 3 g", "has two amounts"),
        ("binder 500 g, black 2 drops = 0.1 g", "has two amounts"),
        ("binder 500 g, black 2 drops (0.1 g)", "hold more than a maker's number"),
        ("binder 500 g, black (a) (b) 2 drops", "hold more than a maker's number"),
        ("binder 500 g, black (a (b) 2 drops", "do not match"),
        ("binder 500 g, black a) 2 drops (b", "do not match"),
        ("binder 500 g, yellow - 3 g", "The dash in 'yellow - 3 g' may be a minus"),
        ("binder 500 g, yellow 3,2 g", "may separate two parts or be a decimal comma"),
        ("binder 500 g; yellow 3,2 g; red 4.1 g", "both with a point and with a comma"),
        ("binder 1 200 g", "The 1 in 'binder 1 200 g' may belong to the name, or the amount may be 1200"),
        ("binder 500 g, Blue 17 500 g", "The 17 in 'Blue 17 500 g' may belong to the name, or the amount may be 17500"),
        ("binder 500 g, \x1b[2J 3 g", "can't be shown"),
        (f"binder 500 g, {'a' * 121} 3 g", "can't be shown"),
    ],
)
def test_what_cannot_be_read_in_one_way_is_refused(text, problem):
    assert problem in refused(text)


@pytest.mark.parametrize("measure", ["scale_g", "drop_g", "tip_g"])
@pytest.mark.parametrize("grams", [0.0, -1.0, math.nan, math.inf])
def test_a_scale_a_drop_or_a_tip_that_makes_no_sense_is_refused(measure, grams):
    assert "can't be right" in refused("binder 500 g", **{measure: grams})


@example("0\x00g")
@given(st.text(alphabet="binder 0123456789.,;:=()-gk\nmdropstiZ½\u2028\x00", max_size=60))
def test_any_text_is_read_or_refused(text):
    try:
        parts = parse_recipe(text).parts
    except UsageError as refusal:
        said = str(refusal)
    else:
        assert all(part.grams > 0 and part.what for part in parts)
        said = "\n".join(as_given(part) for part in parts)
    assert said.replace("\n", "").isprintable()


@pytest.mark.parametrize("name", ["clear base", "Clear Base", "CLEAR  BASE", "Binder", "clear base:"])
def test_the_clear_base_is_one_ingredient_by_either_name(name):
    read = parse_recipe(f"{name} 500 g, yellow 3.2 g")
    assert read == parse_recipe("binder 500 g, yellow 3.2 g")
    assert json.loads(recipe_json(read))["parts"][0]["what"] == "binder"
    assert [as_given(part) for part in read.parts] == ["clear base 500 g", "yellow 3.2 g"]


@pytest.mark.parametrize("text", ["binder 500 g, clear base 20 g", "clear base 500 g; Clear base 20 g"])
def test_no_pigment_is_called_as_the_clear_base(text):
    assert refused(text) == "'clear base' is in the recipe twice."


def test_a_recipe_that_was_kept_with_such_a_pigment_is_still_read():
    kept = json.loads(recipe_json(parse_recipe("binder 500 g, yellow 3.2 g")))
    kept["parts"][1]["what"] = "clear base"
    assert [part.what for part in recipe_from_json(json.dumps(kept)).parts] == ["binder", "clear base"]


# --- how sure it is -----------------------------------------------------------------------------------------


def test_a_weight_is_as_sure_as_two_readings_of_the_scale():
    """JCGM 100:2008, 4.3.7: a reading lies anywhere within the scale's step, before as after."""
    part = parse_recipe("binder 500 g", scale_g=0.5).parts[0]
    readings = 0.5 * np.random.default_rng(1).uniform(-0.5, 0.5, (2, 200_000))
    assert part.grams_std == pytest.approx((readings[1] - readings[0]).std(), rel=0.01)


@pytest.mark.parametrize(("unit", "one"), [("drops", 0.2), ("tips", 0.5)])
def test_many_drops_are_surer_than_one_but_not_without_end(unit, one):
    spread = []
    for count in (1, 4, 100_000):
        part = parse_recipe(f"binder 500 g, black {count} {unit}").parts[1]
        spread.append(part.grams_std / part.grams)
    assert spread[0] == pytest.approx(one)
    assert spread[1] == pytest.approx(one * math.sqrt(5 / 8))
    assert spread[2] == pytest.approx(one / math.sqrt(2), rel=1e-4)


def test_a_studio_has_its_own_drops_and_tips():
    parts = parse_recipe("binder 500 g, black 3 drops, red 2 tips", drop_g=0.03, tip_g=0.2).parts
    assert [part.grams for part in parts] == pytest.approx([500, 0.09, 0.4])


def test_shares_are_of_the_whole_and_spread_as_weights_do():
    recipe = parse_recipe("binder 20 g, yellow 4 g, black 10 drops", scale_g=0.5)
    shares = recipe.shares()
    assert recipe.grams == pytest.approx(24.5)
    assert list(shares) == ["yellow", "black"]
    rng = np.random.default_rng(2)
    weights = np.array([rng.normal(part.grams, part.grams_std, 100_000) for part in recipe.parts])
    drawn = 100 * weights[1:] / weights.sum(axis=0)
    for share, seen, part in zip(shares.values(), drawn, recipe.parts[1:], strict=True):
        assert share.percent == pytest.approx(100 * part.grams / 24.5)
        assert share.std == pytest.approx(seen.std(), rel=0.02)


def test_binder_alone_has_no_shares():
    assert parse_recipe("binder 1 kg").shares() == {}


# --- there and back -----------------------------------------------------------------------------------------

NAMES = st.from_regex(r"[A-Za-zÄé][A-Za-zÄé0-9 .\-/&']{0,20}[A-Za-z0-9]", fullmatch=True)
NUMBERS = st.one_of(st.just(""), st.from_regex(r"[A-Z0-9][A-Z0-9\-/., ]{0,10}[A-Z0-9]", fullmatch=True))
WRITTEN = st.tuples(NAMES, NUMBERS, st.decimals("0.001", "900", places=3), st.sampled_from(["g", "drops", "tips"]))


@st.composite
def recipes(draw):
    lines = []
    for name, number, amount, unit in draw(st.lists(WRITTEN, max_size=4)):
        lines.append(f"{name}{f' (maker {number})' if number else ':'} {amount}0 {unit}")
    try:
        return parse_recipe("\n".join(["binder 500.5 g", *lines]))
    except UsageError:
        # Two names that are alike, or a name such as "a 5g" that holds an amount.
        return parse_recipe("binder 500.5 g")


@given(recipes())
def test_what_was_given_is_written_as_it_is_read(recipe):
    again = parse_recipe(";".join(as_given(part) for part in recipe.parts))
    assert again == recipe


@given(recipes())
def test_a_kept_recipe_comes_back_exactly(recipe):
    assert recipe_from_json(recipe_json(recipe)) == recipe


@pytest.mark.parametrize("words", ["clear base 0 g", "binder: 0 kg", "0 drops binder"])
def test_a_pot_without_clear_base_is_said_to_be_one(words):
    recipe = parse_recipe(f"white 300 g; black 12 g; {words}")
    assert [as_given(part) for part in recipe.parts] == ["white 300 g", "black 12 g", "clear base 0 g"]
    assert recipe.grams == 312
    assert sum(share.percent for share in recipe.shares().values()) == pytest.approx(100)
    # 100 m / (m + rest), each weight off by 0.1 / sqrt(6) g: JCGM 100:2008, 5.1.2, by hand.
    assert recipe.shares()["black"].std == pytest.approx(0.1 / 6**0.5 * 100 / 312**2 * (300**2 + 12**2) ** 0.5)
    assert recipe_from_json(recipe_json(recipe)) == recipe
    assert parse_recipe("; ".join(map(as_given, recipe.parts))) == recipe


def test_who_says_nothing_of_clear_base_is_told_how_to_say_that_there_is_none():
    with pytest.raises(UsageError) as refusal:
        parse_recipe("white 300 g, black 12 g")
    assert "'clear base 0 g' if there is none" in TERMINAL.remedy(refusal.value)


@given(st.floats(1e-6, 1e6), st.sampled_from(["g", "drops", "tips"]))
def test_every_amount_comes_back_exactly(amount, unit):
    recipe = Recipe((Part("binder", amount, unit, amount / 3, amount / 7, "ß 4711"),))
    assert recipe_from_json(recipe_json(recipe)) == recipe
    assert as_given(recipe.parts[0]).startswith("clear base (maker ß 4711) ")
    assert float(as_given(recipe.parts[0]).split()[-2]) == amount


def test_each_amount_says_how_sure_its_grams_and_its_share_are():
    recipe = parse_recipe(TYPICAL)
    assert [as_given(part) for part in recipe.parts] == [
        "clear base 500 g",
        "yellow 3.2 g",
        "black 2 drops",
        "Blue No. 17 (maker 4711-B) 1.5 tips",
    ]
    weighed = [(round(part.grams, 3), round(part.grams_std, 3)) for part in recipe.parts[2:]]
    assert weighed == [(0.1, 0.017), (0.15, 0.068)]
    shares = {what: (round(share.percent, 4), round(share.std, 4)) for what, share in recipe.shares().items()}
    assert (shares["yellow"], shares["black"]) == ((0.6356, 0.0081), (0.0199, 0.0034))


KEPT = json.loads(recipe_json(parse_recipe(TYPICAL)))
ODD = st.sampled_from([None, True, 0, 5, -1.0, 0.0, math.nan, math.inf, 10**400, "", "x", [], {}, [[]]])


@given(st.integers(0, 3), st.sampled_from([*KEPT["parts"][0], "more"]), ODD)
def test_a_kept_part_with_another_shape_is_refused(place, key, value):
    broken = json.loads(json.dumps(KEPT))
    broken["parts"][place][key] = value
    allowed = {"what": ("x",), "number": ("", "x")}.get(key, ())
    if isinstance(value, str) and value in allowed and not (place == 0 and key == "what"):
        assert recipe_from_json(json.dumps(broken)).parts[place].what
    else:
        with pytest.raises(LibraryError, match="A recipe in the library can't be read"):
            recipe_from_json(json.dumps(broken))


@given(st.integers(0, len(recipe_json(parse_recipe(TYPICAL))) - 1))
def test_a_kept_recipe_cut_short_is_refused(length):
    with pytest.raises(LibraryError, match="A recipe in the library can't be read"):
        recipe_from_json(recipe_json(parse_recipe(TYPICAL))[:length])


@pytest.mark.parametrize(
    "text",
    [
        "null",
        "[]",
        '"format"',
        "[" * 100_000,
        '{"format":2,"parts":[]}',
        '{"format":1}',
        '{"format":1,"parts":[]}',
        '{"format":1,"parts":[5]}',
        '{"format":1,"parts":5}',
        '{"format":1,"parts":[{"what":"binder"}]}',
        json.dumps({**KEPT, "parts": KEPT["parts"] * 2}),
        json.dumps({**KEPT, "parts": KEPT["parts"][1:]}),
    ],
)
def test_a_kept_text_of_another_shape_is_refused(text):
    with pytest.raises(LibraryError, match="A recipe in the library can't be read"):
        recipe_from_json(text)
