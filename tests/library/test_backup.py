"""A backup brings everything back, into either kind of database; what is not as it was is found and named."""

from __future__ import annotations

import json
import zipfile

import pytest
from sqlalchemy import text

from swatchcam.errors import LibraryError
from swatchcam.library import schema
from swatchcam.library.amend import amend_record, tag_shade
from swatchcam.library.backup import Count, back_up, restore
from swatchcam.library.changes import log, merge_shades, remove_record, set_target, undo
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import keep_proposal, proposals
from swatchcam.library.records import DRY, parse_state
from swatchcam.library.save import Entry, keep_record
from swatchcam.library.shelf.pigments import add_lot, pigments, set_pigment
from swatchcam.library.verify import verify
from swatchcam.measurement.measure import measure
from swatchcam.messages.message import Message
from swatchcam.messages.surface import TERMINAL
from swatchcam.recipes.recipe import parse_recipe
from tests.worlds.cheap_measurements import CARD, files, proposal, put, tables
from tests.worlds.sample_photos import FOLDER


def filled(address, folder):
    """Three records, one of them taken out, a merge in the log, a correction and a pigment."""
    library = open_library(address, create=True)
    recipe = parse_recipe("binder 500 g, red 3.2 g, black 2 drops")
    put(library, folder / "shots", 1, "Brick", batch="1", recipe=recipe, cloth="Leinen, weiß")
    put(library, folder / "shots", 2, "Brik", batch="1", notes="two\nlines")
    put(library, folder / "shots", 3, "Brick", batch="2")
    merge_shades(library, "Brik", "Brick")
    tag_shade(library, "Brick", ["old"])
    remove_record(library, 3)
    keep_proposal(library, proposal(kind="correction", from_batch="1"))
    set_pigment(library, "Red", most=5.0)
    add_lot(library, "red", "L1", "2026-01-01", 1.07, 0.02)
    return library


@pytest.fixture
def library(place, tmp_path):
    """A library that is the test's own."""
    return filled(place, tmp_path)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def whole(request, tmp_path_factory):
    """A library in either kind of database that is only read, and made once for all that do."""
    folder = tmp_path_factory.mktemp("whole")
    sqlite = request.param == "sqlite"
    address = str(folder / "halm.sqlite") if sqlite else request.getfixturevalue("server").empty()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATCHCAM_PHOTOS", str(folder / "photos"))
        return filled(address, folder)


@pytest.fixture(scope="module")
def backup(whole, tmp_path_factory):
    path = tmp_path_factory.mktemp("backup") / "backup.zip"
    assert back_up(whole, path) == Count(3, 3)
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def empty(request, tmp_path, monkeypatch):
    """An empty library with photos of its own, in either kind of database whatever the first one is."""
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "new photos"))
    address = str(tmp_path / "new.sqlite")
    if request.param == "postgresql":
        address = request.getfixturevalue("server").empty()
    return open_library(address, create=True)


def refused(work):
    with pytest.raises(LibraryError) as refusal:
        work()
    assert TERMINAL.remedy(refusal.value) != refusal.value.remedy
    return TERMINAL.problem(refusal.value)


# --- there and back -----------------------------------------------------------------------------------------


def test_a_backup_brings_everything_back_into_either_database(whole, backup, empty):
    assert restore(backup, empty) == Count(3, 3)
    assert tables(empty) == tables(whole)
    assert verify(empty) == (Count(2, 3), [])
    undo(empty, log(empty)[2].number)  # what was taken out before can be restored after
    assert len(empty.records()) == 3


def test_a_backup_brings_proposals_and_pigments_back(whole, backup, empty):
    restore(backup, empty)
    assert (proposals(empty), pigments(empty)) == (proposals(whole), pigments(whole))
    undo(empty, log(empty)[0].number)
    assert pigments(empty)[0].lots == ()


def test_a_backup_brings_back_how_strips_were_treated_and_what_targets_are_for(library, empty, tmp_path):
    pressed, washed = parse_state("heat-set 150 C 4 min press"), parse_state("washed 3 times at 40 C")
    amend_record(library, 1, state="heat-set 150 C 4 min press")
    put(library, tmp_path / "shots", 4, "Brick", batch="1", state=washed)
    set_target(library, "Brick", (50.0, 30.0, 30.0), state=pressed)
    keep_proposal(library, proposal(kind="correction", from_batch="1", state=pressed, target_state=pressed))
    back_up(library, tmp_path / "treated.zip")
    restore(tmp_path / "treated.zip", empty)
    assert tables(empty) == tables(library)
    assert [empty.record(number).state for number in (1, 4)] == [pressed, washed]
    assert [(one.state, one.target_state) for one in proposals(empty)][-1] == (pressed, pressed)
    undo(empty, log(empty)[0].number)
    assert (empty.shade("Brick").target, empty.shade("Brick").target_state) == (None, None)
    undo(empty, log(empty)[2].number)
    assert empty.record(1).state == DRY


def test_a_backup_of_a_library_of_the_first_step_is_unpacked(whole, backup, empty, tmp_path):
    later = {table.name for made in schema.MADE[1:] for table in made}
    with zipfile.ZipFile(backup) as new, zipfile.ZipFile(tmp_path / "old.zip", "w") as old:
        for name in new.namelist():
            if name.removeprefix("tables/").removesuffix(".jsonl") not in later:
                old.writestr(name, of_first_step(name, new.read(name)))
    assert restore(tmp_path / "old.zip", empty) == Count(3, 3)
    assert tables(empty) == {name: [] if name in later else rows for name, rows in tables(whole).items()}
    assert verify(empty) == (Count(2, 3), [])
    assert keep_proposal(empty, proposal()).number == 1


def of_first_step(name, content):
    if name == "library.json":
        return with_head(content, schema=1)
    if name != "tables/record.jsonl":
        return content
    first = schema.record_at_first.c.keys()
    rows = [{column: row[column] for column in first} for row in map(json.loads, content.splitlines())]
    return "".join(json.dumps(row) + "\n" for row in rows)


def test_after_unpacking_work_goes_on(whole, backup, empty, tmp_path):
    restore(backup, empty)
    fresh = put(empty, tmp_path / "shots", 4, "Sage")
    assert fresh.number > 3
    assert {shade.name for shade in empty.shades()} == {"Brick", "Sage"}
    again = tmp_path / "again.zip"
    back_up(empty, again)
    assert zipfile.ZipFile(again).testzip() is None


def test_a_backup_never_writes_over_a_file(whole, tmp_path):
    there = tmp_path / "backup.zip"
    there.write_text("mine")
    assert "is already there" in refused(lambda: back_up(whole, there))
    assert there.read_text() == "mine"
    assert "can't be written" in refused(lambda: back_up(whole, tmp_path / "nowhere" / "backup.zip"))


def test_a_backup_does_not_go_on_top_of_something(whole, backup):
    before = tables(whole)
    assert "already holds something" in refused(lambda: restore(backup, whole))
    assert tables(whole) == before


# --- a damaged backup ---------------------------------------------------------------------------------------


def rewritten(source, target, change):
    """The backup with one of its files changed by `change` (name, content) -> content."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return target


def of_photos(name, content):
    return b"another picture" if name.startswith("photos/") else content


def of_rows(name, content):
    return content.replace(b'"stage"', b'"stile"') if name == "tables/record.jsonl" else content


def of_json(name, content):
    return content[:-10] if name == "tables/shade.jsonl" else content


def of_format(name, content):
    return with_head(content, format="something else") if name == "library.json" else content


def of_schema(name, content):
    return with_head(content, schema=999) if name == "library.json" else content


def with_head(content, **other):
    return json.dumps(json.loads(content) | other).encode()


@pytest.mark.parametrize("change", [of_photos, of_rows, of_json, of_format, of_schema, of_first_step])
def test_a_backup_that_was_changed_is_refused_and_leaves_the_library_empty(backup, empty, tmp_path, change):
    spoilt = rewritten(backup, tmp_path / "spoilt.zip", change)
    refused(lambda: restore(spoilt, empty))
    assert empty.counts() == (0, 0, 0)
    assert restore(backup, empty) == Count(3, 3)


def test_a_backup_that_was_cut_off_is_refused(backup, empty, tmp_path):
    content = backup.read_bytes()
    for share in (0, 0.1, 0.5, 0.9, 0.999):
        cut = tmp_path / "cut.zip"
        cut.write_bytes(content[: int(share * len(content))])
        refused(lambda: restore(tmp_path / "cut.zip", empty))
    assert empty.counts() == (0, 0, 0)
    refused(lambda: restore(tmp_path / "gone.zip", empty))


# --- is all as it was? --------------------------------------------------------------------------------------


def photo_of(library, number):
    return library.photos.path(library.record(number).photos[0].digest)


def spoil(path):
    path.chmod(0o600)
    path.write_bytes(path.read_bytes()[:-1] + b"?")


def test_a_damaged_and_a_missing_photo_are_named_with_their_record(library):
    assert verify(library)[1] == []
    spoil(photo_of(library, 1))
    photo_of(library, 2).unlink()
    out = next(row["digest"] for row in tables(library)["record_photo"] if row["record_id"] == 3)
    library.photos.path(out).unlink()
    found = {each.what.facts["digest"]: each for each in verify(library)[1]}
    assert len(found) == 3
    assert found[out].what.code == "photo-of-a-removed-record"
    for number in (1, 2):
        digest = library.record(number).photos[0].digest
        assert found[digest].what.facts["records"] == [number]
        assert TERMINAL.finding(found[digest].what).startswith(f"photo {digest[:12]} of record {number}: The photo ")
    assert not any(each.harmless for each in found.values())


def test_a_damaged_photo_is_not_backed_up_as_if_it_were_whole(library, tmp_path):
    spoil(photo_of(library, 1))
    assert "has changed since it was added" in refused(lambda: back_up(library, tmp_path / "backup.zip"))
    assert not (tmp_path / "backup.zip").exists()
    assert not list(tmp_path.glob("*.part"))


def test_a_photo_without_a_record_is_harmless(library, tmp_path):
    stranger = tmp_path / "stranger.jpg"
    stranger.write_bytes(b"drawn, but never kept")
    library.photos.add(stranger)
    (found,) = verify(library)[1]
    assert found.harmless
    assert found.what == Message("photos-of-no-record", {"count": 1})


def test_verifying_tells_how_far_it_is_and_changes_nothing(whole, tmp_path):
    before, steps = (tables(whole), files(whole.place.photos)), []
    verify(whole, progress=lambda done, of: steps.append((done, of)))
    assert steps == [(0, 3), (1, 3), (2, 3), (3, 3)]
    assert (tables(whole), files(whole.place.photos)) == before


def test_measured_again_a_record_is_what_it_was_or_named(place):
    library = open_library(place, create=True)
    photo = FOLDER / "season_1_dry.jpg"
    found = measure(str(photo), CARD)
    for window, shade in (("left", "Slate"), ("right", "Rust")):
        keep_record(library, found, window, Entry(shade))
    assert verify(library, again=True) == (Count(2, 1), [])
    with library.engine.begin() as connection:
        connection.execute(text("UPDATE record SET l = l + 3 WHERE id = 2"))
    (moved,) = verify(library, again=True)[1]
    assert (moved.what.code, moved.what.facts["record"]) == ("measured-otherwise", 2)
    assert "CIEDE2000 away" in TERMINAL.finding(moved.what)


def test_a_record_whose_photo_is_no_photo_cannot_be_measured_again(whole):
    found = verify(whole, again=True)[1]
    assert [(each.what.code, each.what.facts["record"]) for each in found] == [
        ("not-measured-again", 1),
        ("not-measured-again", 2),
    ]
