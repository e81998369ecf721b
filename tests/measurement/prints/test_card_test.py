"""Pairs of a grey scale come out as the standard says, and a card is told from one that doesn't fit its values."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.cards.design import designs
from swatchcam.colorimetry.grey_scale import A02_STEPS
from swatchcam.errors import StripError, SwatchcamError
from swatchcam.measurement.prints import card_test
from swatchcam.measurement.prints.card_test import Outcome, PairTest, check_card
from tests.cli.keyboard import answer, refused, type_in
from tests.measurement.remembered import look_once
from tests.worlds.grey_pairs import DARK, laid
from tests.worlds.printers import print_card, write_values
from tests.worlds.scene import render, write_jpeg

SIZE = 1400, 1050
NOMINAL = {step.grade: step.nominal for step in A02_STEPS}


@pytest.fixture(autouse=True)
def remembered_here(monkeypatch):
    monkeypatch.setattr(card_test, "take_look", look_once)


def take(scene, folder, apart, off=None):
    return str(write_jpeg(render(replace(laid(scene, apart, off), weave=0.0), SIZE), folder / "greys.jpg"))


@pytest.fixture(scope="module")
def greys(fair_scene, tmp_path_factory):
    """Grade 3 in the left window, 4-5 in the right, a little off the middle."""
    pairs = {"left": NOMINAL["3"], "right": NOMINAL["4-5"]}
    return take(fair_scene, tmp_path_factory.mktemp("greys"), pairs, {"left": 0.8, "right": -0.8})


def test_pairs_come_out_within_the_standards_tolerance(greys, values_path):
    """ISO 105-A02: 3.4 ± 0.4 for grade 3, 0.8 ± 0.2 for 4-5 (`grey_scale_iso105.csv`)."""
    found = check_card(greys, str(values_path), pairs={"left": "3", "right": "4-5"})
    assert found.outcome == Outcome.PASSED
    left, right = found.pairs
    assert left.difference == pytest.approx(3.4, abs=0.4)
    assert right.difference == pytest.approx(0.8, abs=0.2)
    assert left.lightness[0] == pytest.approx(116 * np.cbrt(DARK) - 16, abs=1.5)  # L* of its Y
    assert all(pair.low < pair.step.nominal < pair.high for pair in found.pairs)


@pytest.mark.parametrize("grade", ["4", "2-3"])
def test_another_grade_than_lies_there_fails(greys, values_path, grade):
    found = check_card(greys, str(values_path), pairs={"left": grade})
    assert (found.outcome, found.card) == (Outcome.FAILED, Outcome.PASSED)


def test_a_pair_that_could_be_its_neighbours_too_tells_nothing():
    step = A02_STEPS[2]
    assert PairTest("left", step, 1.7, 0.7, 2.6, (40, 42)).outcome == Outcome.CANNOT_TELL
    assert PairTest("left", step, 1.7, 0.9, 2.6, (40, 42)).outcome == Outcome.PASSED
    assert PairTest("left", step, 2.5, 2.1, 2.9, (40, 42)).outcome == Outcome.FAILED


def test_what_does_not_lie_right_is_refused(fair_scene, values_path, tmp_path):
    photo = take(fair_scene, tmp_path, {"left": NOMINAL["1"]}, {"left": 5.0})
    codes = []
    for window in ("left", "right"):
        with pytest.raises(StripError) as refusal:
            check_card(photo, str(values_path), pairs={window: "1"})
        codes.append(refusal.value.code)
        assert refusal.value.remedy == "lay-the-pair-in-the-middle"
    assert codes == ["pair-off-middle", "pair-not-grey"]  # the right window holds a red strip


@pytest.mark.parametrize(("pairs", "code"), [({"left": "6"}, "grade-unknown"), ({"middle": "3"}, "strip-not-there")])
def test_what_makes_no_sense_is_refused(greys, values_path, pairs, code):
    with pytest.raises(SwatchcamError) as refusal:
        check_card(greys, str(values_path), pairs=pairs)
    assert refusal.value.code == code


def test_without_a_grey_scale_the_card_is_tested_against_its_values(greys, values_path, tmp_path):
    own = check_card(greys, str(values_path))
    assert (own.outcome, own.pairs) == (Outcome.PASSED, ())
    assert 0.1 < own.between < 1 < own.own < 4
    unmeasured = check_card(greys, "nominal")
    assert unmeasured.outcome == Outcome.CANNOT_TELL
    assert unmeasured.own > 6
    assert unmeasured.between == pytest.approx(own.between, rel=0.3)  # what lies in one photo needs no values
    other = print_card(designs()["a5"], "laser", 1)
    wrong = write_values(tmp_path / "other.csv", "a5", other.values(), other.spectra)
    with pytest.raises(SwatchcamError) as refusal:
        check_card(greys, str(wrong))
    assert refusal.value.code == "values-of-another-print"


def test_the_command_answers_first_and_by_its_exit_code(greys, values_path):
    words = ["card", "test", greys, "--card", str(values_path), "--left", "3"]
    facts = answer(words)
    assert (facts["outcome"], facts["fits_values"], facts["next"]) == ("passed", "passed", [])
    assert facts["pairs"][0]["wanted"] == 3.4
    assert type_in(words).stdout.startswith("PASSED: the grey scale comes out as it should.\n")
    failed = type_in([*words[:-1], "4"])
    assert failed.exit_code == 4
    assert failed.stdout.startswith("FAILED: the grey scale does not come out as it should.\n")
    unmeasured = type_in(["card", "test", greys, "--card", "nominal", "--numbers"])
    assert unmeasured.exit_code == 5
    assert "its patches are off by" in unmeasured.stdout
    problem, remedy = refused([*words[:-1], "six"])
    assert (problem, remedy[:25]) == ("There is no grade 'six'.", "Choose one of: 5, 4-5, 4,")
