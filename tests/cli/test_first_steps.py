"""`swatchcam` alone: where you are and what to do next, in a few lines, and nothing is made."""

from __future__ import annotations

import shutil

import pytest

from swatchcam.library.library import open_library
from swatchcam.library.save import Entry, keep_record
from swatchcam.recipes.recipe import parse_recipe
from tests.cli.keyboard import type_in
from tests.library.taken import taken

MOST = 10  # lines


@pytest.fixture
def desk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path / "cards"))
    monkeypatch.setenv("SWATCHCAM_LIBRARY", "halm.sqlite")
    return tmp_path


def told(desk):
    """What is said; no file is made and none is changed."""
    before = {path: path.read_bytes() for path in desk.rglob("*") if path.is_file()}
    done = type_in("")
    assert (done.exit_code, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) <= MOST
    after = {path: path.read_bytes() for path in desk.rglob("*") if path.is_file()}
    assert {path for path in after if not path.name.startswith("halm.sqlite-")} == set(before)
    assert all(after[path] == before[path] for path in before)
    return done.stdout


def with_card(desk, values_path, *names):
    (desk / "cards").mkdir(exist_ok=True)
    for name in names:
        shutil.copy(values_path, desk / "cards" / f"{name}.csv")


def kept(desk, recipe=""):
    (desk / "one.jpg").write_text("drawn")
    library = open_library("halm.sqlite", create=True)
    entry = Entry("brick", "B1", recipe=parse_recipe(recipe) if recipe else None)
    keep_record(library, taken(desk / "one.jpg", (50.0, 30.0, 30.0)), "left", entry)


def test_without_anything_one_begins_with_a_card(desk):
    said = told(desk)
    assert "not measured yet" in said
    assert "none yet" in said
    assert "swatchcam card print" in said
    assert "swatchcam check PHOTO" in said
    assert list(desk.iterdir()) == []


def test_learned_values_of_the_sample_row_are_no_card(desk, values_path):
    with_card(desk, values_path, "sample-row")
    assert "Card:    not measured yet" in told(desk)


def test_with_a_card_strips_are_checked_and_kept(desk, values_path):
    with_card(desk, values_path, "studio-7")
    said = told(desk)
    assert "Card:    studio-7 (a5)" in said
    assert "swatchcam keep PHOTO --shade NAME" in said
    assert "card print" not in said


def test_two_cards_of_one_size_must_be_named(desk, values_path):
    with_card(desk, values_path, "studio-7", "studio-8")
    assert "studio-7 or studio-8 (a5, name one with --card)" in told(desk)


@pytest.mark.parametrize("recipe", ["", "binder 500 g, red 3 g, blue 2 g"])
def test_with_strips_a_test_series_comes_next(desk, recipe):
    kept(desk, recipe)
    said = told(desk)
    assert "1 shade, 1 batch, 1 record in " in said
    assert "swatchcam pigment series PHOTO" in said


def test_with_a_test_series_pots_are_corrected(desk):
    kept(desk, "binder 100 g, red 1 g")
    assert "swatchcam mix correct PHOTO" in told(desk)


def test_an_empty_library_is_none_to_work_with(desk):
    open_library("halm.sqlite", create=True)
    said = told(desk)
    assert "0 shades, 0 batches, 0 records" in said
    assert "swatchcam card print" in said


@pytest.mark.parametrize("content", [b"not a library", b"SQLite format 3\0" + b"x" * 4000])
def test_a_broken_library_is_told_and_no_crash(desk, content):
    (desk / "halm.sqlite").write_bytes(content)
    said = told(desk)
    assert "halm.sqlite can't be used" in said
    assert "What to do next" not in said


def test_an_address_that_is_none_is_told(desk, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_LIBRARY", "mysql://host/shades")
    assert "mysql" in told(desk)


def test_values_that_do_not_say_of_which_card_they_are_do_no_harm(desk):
    (desk / "cards").mkdir()
    (desk / "cards" / "odd.csv").write_text("nothing")
    assert "odd (?)" in told(desk)
