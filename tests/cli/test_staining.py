"""`swatchcam check --staining`: the grade first, then what it rests on; nothing else is asked of a stained cloth."""

from __future__ import annotations

import csv
import io
import json

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from swatchcam.library.library import open_library
from swatchcam.library.records import parse_state
from swatchcam.measurement.staining import check_staining
from tests.report.typed import check_printed
from tests.worlds.cheap_measurements import put
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


# --- kept --------------------------------------------------------------------------------------------------


@pytest.fixture
def studio(tmp_path, monkeypatch):
    """A library with one rubbed strip and one dry strip."""
    monkeypatch.setenv("SWATCHCAM_LIBRARY", str(tmp_path / "halm.sqlite"))
    library = open_library(None, create=True)
    for number, state in enumerate(("rubbed, wet", "air-dried"), start=1):
        put(library, tmp_path / "shots", number, batch=str(number), state=parse_state(state))


def typed(*words):
    return CliRunner().invoke(main, [*map(str, words)])


def told(*words):
    done = typed(*words, "--json")
    check_printed((*words, "--json"), done)
    assert done.exit_code == 0
    return json.loads(done.stdout)


def test_a_kept_grade_is_shown_wherever_its_strip_is(studio, tmp_path):
    done = typed("record", 1, "--stained", PHOTO, "--card", VALUES)
    assert done.stdout == "Kept staining grade 3 with record 1 of shade 'Brick', batch '1'.\n"
    assert "Staining grade 3: colour clearly came off. (stained.jpg)" in typed("record", 1).stdout
    assert "batch 1, record 1 (rubbed, wet), white cloth:" in typed("shade", "show", "Brick").stdout
    just = json.loads(run("--staining", "--json").stdout)
    kept = told("record", "1")["staining"]
    assert {name: kept[name] for name in ("grade", "grades_possible", "difference", "interval95", "sentence")} == {
        name: just[name] for name in ("grade", "grades_possible", "difference", "interval95", "sentence")
    }
    (listed,) = told("shade", "show", "Brick")["staining"]
    assert (listed["record"], listed["state"], listed["grade"]) == (1, "rubbed, wet", "3")
    assert told("record", "2")["staining"] is None
    for form in ("csv", "json"):
        assert typed("library", "export", form, "--output", tmp_path / f"all.{form}").exit_code == 0
    rows = list(csv.DictReader(io.StringIO((tmp_path / "all.csv").read_text(encoding="utf-8"))))
    assert [row["staining_grade"] for row in rows] == ["3", ""]
    assert float(rows[0]["staining_dE_GS"]) == pytest.approx(kept["difference"], abs=0.006)
    records = json.loads((tmp_path / "all.json").read_text(encoding="utf-8"))["records"]
    assert [record["staining"] and record["staining"]["grade"] for record in records] == ["3", None]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("2", "--stained", PHOTO, "--card", str(VALUES)), "staining-of-other-state"),
        (("1", "--stained", PHOTO, "--notes", "wet rub"), "staining-with-corrections"),
        (("1", "--card", "sample-card"), "staining-with-corrections"),
        (("1", "--stained", str(path_of("good_pair")), "--card", str(VALUES)), "cloth-not-white"),
    ],
)
def test_what_cannot_be_kept_is_refused(studio, words, code):
    done = typed("record", *words, "--json")
    assert done.exit_code in (2, 3)
    assert json.loads(done.stdout)["refused"]["code"] == code
