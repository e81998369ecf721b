"""What is put out around a pot: numbers with their units, and the same numbers in words."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.messages.message import flag
from swatchcam.messages.surface import TERMINAL
from swatchcam.mixing.opacity import Contrast, Opacity, Outcome
from swatchcam.recipes.dosing import counted_dose, weighed_dose
from swatchcam.recipes.drops import Drops
from swatchcam.recipes.ink_deposit import laid_by_volume, laid_by_weighing
from swatchcam.recipes.ink_quantity import Losses, amount
from swatchcam.recipes.premix import making
from swatchcam.recipes.print_run import Run, Weighing
from swatchcam.recipes.recipe import BINDER, CLEAR_BASE, GRAMS, Part, Recipe
from swatchcam.recipes.safety import DISPOSAL, INK, subjects_of
from swatchcam.recipes.weighing_list import weighing_list
from swatchcam.report.measurement import FORMAT
from swatchcam.report.quantities import (
    adding_up,
    amount_dict,
    amount_text,
    opacity_dict,
    opacity_text,
    weighing_dict,
    weighing_text,
)
from tests.worlds.studio_records import kept

RUN = Run(area_cm2=30 * 40, coverage=0.35, pieces=60)
LAID = laid_by_weighing([Weighing(40, Run(10_000, 1, 1))] * 3)
POT = Recipe(tuple(Part(what, g, GRAMS, g, 0.04) for what, g in ((BINDER, 487.3), ("red", 3.27), ("black", 0.6))))
FOUND = Opacity(
    Contrast(0.1174, 0.1121, 0.1226),
    {2: Contrast(0.25, 0.2, 0.3), 3: Contrast(0.4, 0.3, 0.5)},
    0.98,
    Outcome.NEEDS_BASE,
    (flag("ratio-nominal"),),
)


def through_json(facts):
    """What a program reads: nothing is lost, and there is no NaN."""
    assert json.loads(json.dumps(facts, allow_nan=False)) == facts
    return facts


# --- the amount ---------------------------------------------------------------------------------------------


def test_an_amount_worked_out_by_hand_is_put_out_with_its_units():
    # 100.8 g on the cloth and 50 g on the screen are 96 % of 157.08 g; a tenth more is 172.79 g.
    facts = through_json(amount_dict(amount(RUN, LAID, Losses(50, 0.04, 0.1), density=1.1, pot_ml=100)))
    assert (facts["format"], facts["grams"], facts["millilitres"]) == (FORMAT, 172.8, 157.1)
    assert (facts["pots"], facts["pot_millilitres"]) == (2, 100)
    assert [line["grams"] for line in facts["lines"]] == [100.8, 50.0, 6.3, 15.7]
    assert facts["grams_range"] == [157.1, 157.1]
    assert facts["covers_grams_per_m2"] == 46
    assert facts["laid_grams_per_m2"]["value"] == 40
    assert facts["flags"] == []


def test_grams_come_first_and_the_lines_below():
    lines = amount_text(amount_dict(amount(RUN, LAID, Losses(50, 0.04, 0.1), density=1.1, pot_ml=100))).splitlines()
    assert lines[0] == (
        "Mix 173 g of ink (157 ml, 2 pots of 100 ml). That covers the run, even if a pull lays 46 g/m² instead of 40."
    )
    assert [line.split(" g  ")[0].strip() for line in lines[2:7]] == ["101", "50", "6", "16", "173"]
    assert "  40 g/m² a pull, from 3 weighed runs of your own, without what stayed on the screen" in lines


def test_without_a_pot_none_is_named_and_every_flag_is_told():
    whole = amount(RUN, laid_by_volume(25), Losses(reserve=0.1))
    text = amount_text(amount_dict(whole))
    assert "pot of" not in text
    flags = [flag["sentence"] for flag in through_json(amount_dict(whole))["flags"]]
    assert [line.strip() for line in text.splitlines() if "!" in line] == [f"! {flag}" for flag in flags]
    assert flags == [TERMINAL.flag(flag) for flag in whole.flags]
    assert [flag["code"] for flag in amount_dict(whole)["flags"]] == ["deposit-from-mesh-alone", "reserve-may-run-out"]


def test_little_ink_is_told_to_a_tenth_of_a_gram():
    text = amount_text(amount_dict(amount(Run(100, 0.1, 3), LAID, Losses(1, 0, 0))))
    assert text.startswith(
        "Mix 1.1 g of ink (1.1 ml). That covers the run as long as a pull lays no more than 40 g/m²."
    )


@pytest.mark.parametrize("losses", [None, Losses(reserve=0.05)])
def test_only_one_amount_is_told_to_mix(losses):
    text = amount_text(amount_dict(amount(RUN, laid_by_volume(25), losses)))
    assert text.count("Mix ") == 1
    assert len(set(re.findall(r"(?<![\d/])(\d+) g(?:  in all| of ink)", text))) == 1


@given(st.lists(st.floats(0, 1e4), min_size=1, max_size=6), st.sampled_from([0, 1]))
def test_rounded_lines_add_up_and_lie_next_to_what_they_round(values, digits):
    rounded = adding_up(values, digits)
    assert sum(rounded) == pytest.approx(round(sum(values), digits), abs=1e-6)
    for value, shown in zip(values, rounded, strict=True):
        assert abs(value - shown) <= 10.0**-digits * (1 + 1e-9)
        assert shown == pytest.approx(round(shown, digits))


# --- the list to weigh --------------------------------------------------------------------------------------


def doses_of(recipe):
    return [weighed_dose(part.what, round(part.grams, 1), 0.1) for part in recipe.parts]


def listed(recipe, scale=0.1):
    doses = doses_of(recipe)
    return weighing_list(doses, Recipe(tuple(dose.part() for dose in doses)), (), scale)


def test_the_list_is_numbered_in_the_order_of_weighing():
    facts = through_json(weighing_dict(listed(POT)))
    lines = weighing_text(facts).splitlines()
    assert lines[0] == "1. Weigh 487.3 g of clear base into a clean pot."
    assert [line[:3] for line in lines[:4]] == ["1. ", "2. ", "3. ", "4. "]
    assert lines[4] == "In the pot: 491.2 g."
    assert [(step["way"], step["what"], step["grams"]) for step in facts["steps"]] == [
        ("weigh", CLEAR_BASE, 487.3), ("weigh", "red", 3.3), ("weigh", "black", 0.6), ("close", "", 0.0),
    ]  # fmt: skip


def test_a_new_pot_of_pre_mixes_alone_is_no_addition():
    recipe = Recipe(POT.parts[1:])  # no clear base is weighed
    facts = weighing_dict(listed(recipe))
    assert weighing_text(facts).splitlines()[-1].startswith("Added in all: ")
    assert weighing_text(facts, new=True).splitlines()[-1].startswith("In the pot: ")


def test_drops_and_pre_mixes_can_be_read_by_a_program():
    strong = making("blue", 0.1, 1.0, 4.0)
    doses = [weighed_dose("blue", 4.0, 1.0, strong.made), counted_dose("black", 6, Drops(0.05, 0.05))]
    found = weighing_list(doses, Recipe(tuple(dose.part() for dose in doses)), [strong], 1.0)
    make, blue, black, _ = through_json(weighing_dict(found))["steps"]
    assert (make["way"], make["pre_mix"]) == ("make", "blue 10 %")
    assert make["make"] == {"of": "blue", "grams": 20.0, "clear_base_grams": 180.0}
    assert (blue["grams"], blue["pre_mix"], blue["pigment_grams"]) == (4.0, "blue 10 %", 0.4)
    assert (black["way"], black["grams"], black["drops"], black["pigment_grams"]) == ("count", 0.0, 6, 0.3)


def test_what_is_in_the_pot_is_told_in_grams_and_percent():
    facts = weighing_dict(listed(POT))
    assert sum(part["grams"] for part in facts["pot"]) == pytest.approx(facts["grams"])
    assert sum(part["percent"] for part in facts["pot"]) == pytest.approx(100)


def test_numbers_of_a_long_list_stand_below_each_other():
    long = Recipe((POT.parts[0], *(replace(POT.parts[1], what=f"pigment {letter}") for letter in "abcdefghi")))
    lines = weighing_text(weighing_dict(listed(long))).splitlines()
    assert (lines[0][:3], lines[9][:3], lines[10][:3]) == (" 1.", "10.", "11.")


# --- whether an ink covers ----------------------------------------------------------------------------------


def test_every_pass_has_its_ratio_and_only_the_first_is_measured():
    facts = through_json(opacity_dict(FOUND, {"over_light": ("left", kept()), "over_dark": ("right", kept())}))
    assert [(each["passes"], each["measured"]) for each in facts["passes"]] == [(1, True), (2, False), (3, False)]
    assert facts["passes"][0] | {"contrast_ratio": 0.1174, "interval95": [0.1121, 0.1226]} == facts["passes"][0]
    assert (facts["format"], facts["verdict"], facts["asked_for"]) == (FORMAT, "needs-base", 0.98)
    assert facts["measured"]["over_light"]["what"] == "left"
    assert facts["measured"]["over_dark"]["L"] == pytest.approx(kept().lab[0], abs=0.005)


def test_the_sentence_comes_first_and_the_flags_last():
    lines = opacity_text(opacity_dict(FOUND, {"over_light": ("left", kept())})).splitlines()
    assert lines[0].startswith("Not opaque, even in two passes: contrast ratio 0.117 (0.112 to 0.123), 0.98 wanted;")
    assert lines[0].endswith("Print a white (or lighter) base first.")
    assert lines[2] == "  1 pass    contrast ratio 0.117  (95 % interval 0.112 to 0.123)"
    assert lines[3].endswith("(95 % interval 0.200 to 0.300), predicted")
    assert lines[-2].startswith("  over light   L* ")
    assert lines[-1] == "  ! the card was never measured: the ratio may be further off than its interval says"


def test_without_the_bare_cloths_only_what_was_measured_is_told():
    facts = opacity_dict(replace(FOUND, passes={}), {"over_light": ("left", kept())})
    assert len(facts["passes"]) == 1
    assert "predicted" not in opacity_text(facts)


def test_an_amount_comes_with_its_cautions_on_ink_and_on_what_is_left_over():
    facts = amount_dict(amount(RUN, LAID))
    assert subjects_of(facts["care"]) == (INK, DISPOSAL)
    assert amount_text(facts).endswith("\n".join(["Take care:", *(f"  - {line}" for line in facts["care"])]))
