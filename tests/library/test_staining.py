"""The grade of a stained white cloth stays with the strip that was rubbed or washed: undone, backed up, read back."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import text

from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.amend import keep_staining
from swatchcam.library.backup import back_up, restore
from swatchcam.library.changes import log, remove_record, undo
from swatchcam.library.library import open_library
from swatchcam.library.records import parse_state
from swatchcam.library.verify import verify
from swatchcam.measurement.measure import measure
from swatchcam.measurement.staining import KeptStaining, check_staining, staining_as_text, staining_from_text
from swatchcam.measurement.stored_colour import PhotoRef
from swatchcam.measurement.summary import sitting_of
from tests.worlds.cheap_measurements import CARD, put
from tests.worlds.sample_photos import path_of

PHOTO = path_of("stained")


@pytest.fixture(scope="module")
def cloth():
    return sitting_of(measure(str(PHOTO), CARD, staining=True))


@pytest.fixture
def library(place, tmp_path):
    """A rubbed strip, a washed one and a dry one."""
    library = open_library(place, create=True)
    for number, state in enumerate(("rubbed, wet, 20 strokes", "washed 3 times at 40 C", "air-dried"), start=1):
        put(library, tmp_path / "shots", number, batch=str(number), state=parse_state(state))
    return library


@pytest.mark.parametrize("number", [1, 2])
def test_it_is_kept_with_its_photo_and_undone(library, cloth, number):
    done = keep_staining(library, number, cloth)
    kept, just = library.record(number).staining, check_staining(str(PHOTO), CARD).staining
    assert (kept.grade, kept.grades) == (just.grade, just.grades)
    assert (kept.difference, kept.low, kept.high) == pytest.approx((just.difference, just.low, just.high), abs=1e-4)
    assert [photo.name for photo in kept.photos] == [PHOTO.name]
    assert library.photos.path(kept.photos[0].digest).read_bytes() == PHOTO.read_bytes()
    assert (done.what.code, done.what.facts["grade"]) == ("staining-kept", just.grade)
    undo(library, done.number)
    assert library.record(number).staining is None
    undo(library, log(library)[0].number)
    assert library.record(number).staining == kept


def test_a_strip_that_was_neither_rubbed_nor_washed_has_stained_nothing(library, cloth):
    with pytest.raises(UsageError) as refusal:
        keep_staining(library, 3, cloth)
    assert refusal.value.code == "staining-of-other-state"
    assert refusal.value.facts == {"record": 3, "state": "air-dried"}
    assert log(library) == []
    assert cloth.digest not in library.photos.digests()


def test_a_record_that_is_not_there_is_refused(library, cloth):
    remove_record(library, 1)
    with pytest.raises(UsageError) as refusal:
        keep_staining(library, 1, cloth)
    assert refusal.value.code == "record-unknown"


def test_a_second_grade_takes_the_place_of_the_first(library, cloth):
    keep_staining(library, 1, cloth)
    first = library.record(1).staining
    done = keep_staining(library, 1, cloth, "left")
    assert library.record(1).staining.difference == pytest.approx(first.difference)
    undo(library, done.number)
    assert library.record(1).staining == first


def test_it_goes_into_a_backup_with_its_photo_and_comes_back(library, cloth, tmp_path, monkeypatch):
    keep_staining(library, 2, cloth)
    assert verify(library)[1] == []
    count = back_up(library, tmp_path / "all.zip")
    assert count.photos == 4
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "elsewhere"))
    fresh = open_library(str(tmp_path / "fresh.sqlite"), create=True)
    restore(tmp_path / "all.zip", fresh)
    assert fresh.record(2).staining == library.record(2).staining
    assert fresh.photos.path(cloth.digest).read_bytes() == Path(PHOTO).read_bytes()


def test_what_is_stored_is_read_back_and_what_was_damaged_is_refused(library, cloth):
    keep_staining(library, 1, cloth)
    with library.engine.begin() as connection:
        connection.execute(text("UPDATE record SET staining = '{\"format\": 1}' WHERE id = 1"))
    with pytest.raises(LibraryError) as refusal:
        library.record(1)
    assert refusal.value.code == "library-row-unreadable"


@pytest.mark.parametrize(
    "wrong", [{"format": 2}, {"low": -1}, {"low": 9.0}, {"high": "wide"}, {"photos": [{}]}, {"difference": None}]
)
def test_only_what_was_written_is_read(wrong):
    kept = KeptStaining(3.5, 3.0, 4.25, photos=(PhotoRef("ab" * 32, "tuch Nr. 1.jpg", 1),), measured="2026-03-01")
    assert staining_from_text(staining_as_text(kept)) == kept
    assert staining_from_text(staining_as_text(replace(kept, low=0.0))).grades[0] == "5"
    with pytest.raises((ValueError, LookupError, TypeError)):
        staining_from_text(json.dumps(json.loads(staining_as_text(kept)) | wrong))
