"""`swatchcam check --staining`: the grade first, then what it rests on; nothing else is asked of a stained cloth."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from swatchcam.measurement.staining import check_staining
from tests.report.typed import check_printed
from tests.worlds.sample_photos import VALUES, path_of

PHOTO = str(path_of("stained"))


def run(*words):
    return CliRunner().invoke(main, ["check", PHOTO, "--card", str(VALUES), *words])


def test_the_grade_comes_first_then_its_number_and_what_it_is_not():
    done = run("--staining")
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert lines[0] == "Staining grade 3: colour clearly came off."
    assert "right compared with left: staining difference 9.4" in done.stdout
    assert "ISO 105-X12" in done.stdout
    assert "L*" not in done.stdout
    assert "L*" in run("--staining", "--numbers").stdout


def test_json_holds_the_grade_and_the_numbers_of_the_measurement():
    done = run("--staining", "--json")
    check_printed(("check", PHOTO, "--staining", "--json"), done)
    found = json.loads(done.stdout)
    truth = check_staining(PHOTO, str(VALUES)).staining
    assert (found["grade"], found["grades_possible"]) == (truth.grade, list(truth.grades))
    assert found["difference"] == round(truth.difference, 2)
    assert [strip["name"] for strip in found["sample_photo"]["strips"]] == ["left", "right"]
    assert found["reference_photo"] is None


@pytest.mark.parametrize(
    "others",
    [
        ("--target", "50,1,2"),
        ("--shade", "Brick"),
        ("--record", "3"),
        ("--judge", "pot"),
        ("--state", "washed 3"),
        ("--tolerance", "2"),
        ("--illuminant", "A"),
        ("--loose",),
        ("--after-heat", "--let-down", "10", "--coat", "1 g on 1x1 cm"),
    ],
)
def test_what_a_stained_cloth_has_no_use_for_is_refused_by_name(others):
    done = run("--staining", "--json", *others)
    assert done.exit_code == 2
    refused = json.loads(done.stdout or done.stderr)["refused"]
    assert refused["code"] == "staining-with-others"
    assert set(refused["facts"]["options"]) == {word for word in others if word.startswith("--")}


def test_cloths_the_wrong_way_round_are_noticed():
    done = run("--staining", "--strip", "left")
    assert done.exit_code == 0
    assert "are they the wrong way round?" in done.stdout


def test_a_picture_shows_the_middle_that_was_measured(tmp_path):
    assert run("--staining", "--picture", str(tmp_path / "drawn.png")).exit_code == 0
    assert (tmp_path / "drawn.png").stat().st_size > 10_000
