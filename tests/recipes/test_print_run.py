"""A run as people write it: motif, coverage, pieces, and what an earlier one took."""

from __future__ import annotations

import json
import math

import pytest

from swatchcam.errors import UsageError
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.numbers import check_number, parse_amount, parse_count
from swatchcam.recipes.print_run import Run, Weighing, area_meant, coverage_of, parse_area, parse_weighing

RUN = Run(area_cm2=30 * 40, coverage=0.35, pieces=60, passes=2)


def refused(action, *given, **named):
    with pytest.raises(UsageError) as refusal:
        action(*given, **named)
    assert TERMINAL.remedy(refusal.value).endswith(".")
    assert PAGE.remedy(refusal.value).endswith(".")
    return str(refusal.value)


@pytest.mark.parametrize(
    ("text", "area"),
    [("30 x 40 cm", 1200), ("30x40", 1200), ("0,3 × 0,4 m", 1200), ("300 x 400 mm", 1200), ("1200 cm2", 1200),
     ("0.12 m²", 1200)],
)  # fmt: skip
def test_an_area_is_read_as_people_write_it(text, area):
    assert parse_area(text) == pytest.approx(area)


@pytest.mark.parametrize("text", ["", "30", "30 cm", "30 x 40 inch", "-3 x 4", "0 x 40", "30 x 40 cm2", "nan x 2"])
def test_what_is_no_area_is_refused(text):
    assert refused(parse_area, text)


def test_the_area_is_that_of_the_motif_or_as_given():
    assert area_meant("30x40", None) == area_meant("", 1200) == 1200
    assert "You gave both --motif and --area" in refused(area_meant, "30x40", 1200)
    assert "You gave neither --motif nor --area" in refused(area_meant, "", None)


@pytest.mark.parametrize(
    ("text", "weighing"),
    [
        ("120 g for 40", Weighing(120, Run(1200, 0.35, 40, 2))),
        ("1,2 kg FOR 400 pieces", Weighing(1200, Run(1200, 0.35, 400, 2))),
        ("120g for 40 of 20x30", Weighing(120, Run(600, 0.35, 40, 2))),
        ("120 g for 40 at 80 %", Weighing(120, Run(1200, 0.8, 40, 2))),
        ("120 g for 1 piece in 1 pass", Weighing(120, Run(1200, 0.35, 1, 1))),
        ("120 g for 40 of 200 x 300 mm at 12.5% in 3 passes", Weighing(120, Run(600, 0.125, 40, 3))),
        ("120 g for 40 of 600 cm2 at 80", Weighing(120, Run(600, 0.8, 40, 2))),
    ],
)
def test_a_weighing_is_read_as_people_write_it(text, weighing):
    assert parse_weighing(text, RUN) == weighing


@pytest.mark.parametrize(
    "text",
    ["", "120", "120 g", "120 for 40", "g for 40", "-3 g for 40", "120 g for 0", "120 g for 40.5", "120 g for many",
     "120 g for 40 of", "120 g for 40 of 20", "120 g for 40 at 0.8", "120 g for 40 at 101", "120 g for 40 at x",
     "120 g for 40 in 0 passes", "120 ml for 40", "120 g for 40 of 20x30 inch"],
)  # fmt: skip
def test_what_is_no_weighing_is_refused(text):
    assert refused(parse_weighing, text, RUN)


def test_grams_that_count_the_screen_lose_what_stayed_there():
    twice = Run(RUN.area_cm2, RUN.coverage, RUN.pieces, RUN.passes, setups=2)
    for text in ("190 g for 40 with the screen", "190 g for 40, WITH THE SCREEN"):
        assert parse_weighing(text, RUN, 70) == parse_weighing("120 g for 40", RUN, 70)
    assert parse_weighing("0,26 kg for 40 at 80 in 3 passes with the screen", twice, 70).grams == pytest.approx(120)
    assert "Nothing would have gone onto the cloth: 40 g were used, and 50 g stay on the screen." in refused(
        parse_weighing, "40 g for 40 with the screen", RUN
    )
    assert refused(parse_weighing, "190 g for 40 with the screen", RUN, math.nan)


def test_a_coverage_is_a_percentage_and_a_part_is_noticed():
    assert coverage_of(35) == 0.35
    assert coverage_of(100) == 1
    assert "Type it in percent: 35 if you mean 0.35" in refused(coverage_of, 0.35)
    assert "Type it in percent: 100 if you mean 1" in refused(coverage_of, 1)
    for percent in (0, -5, 101, math.nan, math.inf):
        assert "can't be right" in refused(coverage_of, percent)


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [("35", "%", 35), ("12,5 %", "%", 12.5), (" 50g ", "g", 50), ("55 µm", "um", 55), ("25 cm³/m²", "cm3/m2", 25),
     ("1200 cm2", "cm2", 1200), ("1200 cm²", "cm2", 1200), ("1.05 G/ML", "g/ml", 1.05)],
)  # fmt: skip
def test_a_number_is_read_with_its_unit_or_without(text, unit, number):
    assert parse_amount(text, unit) == number


@pytest.mark.parametrize("text", ["", "x", "-5", "nan", "inf", "1e3", "5 ml", "5 g g", "1.2.3", "½", "."])
def test_what_is_no_number_of_grams_is_refused(text):
    assert "a number such as 2.5 g:" in refused(parse_amount, text, "g")


def test_a_number_beyond_the_bounds_is_told_them_first():
    wanted = refused(check_number, 0, "wanted-grams", 1, 1e6)
    assert wanted == "Amount you want: 0 g can't be right. It must be between 1 and 1000000 g, for example 500."
    assert "It must be between 0.01 and 0.99, for example 0.33." in refused(check_number, 2, "open-area", 0.01, 0.99)
    assert "above 0 and up to 1000 g" in refused(check_number, 0, "drop-grams", 1e-6, 1000)


def test_what_json_cannot_hold_is_told_all_the_same():
    with pytest.raises(UsageError) as refusal:
        check_number(math.inf, "density", 0.5, 3)
    assert json.loads(json.dumps(refusal.value.as_json(), allow_nan=False))["facts"]["value"] == "inf"
    assert TERMINAL.problem(refusal.value) == "Density of the ink: inf g/ml can't be right."


def test_units_are_written_as_people_do():
    assert "such as 2.5 cm²:" in refused(parse_amount, "x", "cm2")
    assert "such as 2.5 cm³/m²:" in refused(parse_amount, "x", "cm3/m2")
    assert "such as 2.5 µm:" in refused(parse_amount, "x", "um")


def test_the_page_names_fields_where_the_terminal_names_options():
    with pytest.raises(UsageError) as refusal:
        area_meant("30x40", 1200)
    assert PAGE.remedy(refusal.value) == "Fill in only one: width and height in cm, or the area in cm²."


def test_a_count_is_a_whole_number_from_1():
    assert parse_count(" 060 ") == 60
    for text in ("", "0", "-1", "2.5", "sixty", "1000000", "²"):
        assert "whole number" in refused(parse_count, text)
