"""A folder of photos becomes records, each once: whoever is killed, or at it too, whatever is wrong with a photo."""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.bulk import batch_import as module
from swatchcam.library.bulk.batch_import import fill, scenes_by_list, scenes_by_name
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, State
from swatchcam.library.save import Entry
from swatchcam.library.shelf.pigments import set_pigment
from swatchcam.library.verify import verify
from swatchcam.messages.surface import TERMINAL
from swatchcam.recipes.film_weight import parse_coat
from swatchcam.recipes.recipe import parse_recipe
from tests.codes import lines
from tests.library.taken import taken
from tests.worlds.cheap_measurements import CARD, facts
from tests.worlds.sample_photos import FOLDER

COMMON = Entry("", cloth="white cotton", ink="halm base", take_over=False)
SEASON = ("1_dry", "1_set", "2_dry", "2_set", "3_dry", "3_set", "4_washed")


@pytest.fixture
def library(tmp_path):
    return open_library(str(tmp_path / "halm.sqlite"), create=True)


@pytest.fixture
def folder(tmp_path):
    path = tmp_path / "shots"
    path.mkdir()
    return path


@pytest.fixture
def look(monkeypatch):
    """Photos are not measured but taken for the drawn one; which were looked at. One that says "bare" has no card."""
    seen = []

    def measured(path, card, **how):
        seen.append(Path(path).name)
        return taken(path)

    monkeypatch.setattr(module, "measure", measured)
    return seen


def shots(folder, *names):
    """Photos of these names, each with a content of its own."""
    for name in names:
        (folder / name).write_text(f"drawn for {name}", encoding="utf-8")


def by_name(library, folder, **how):
    return fill(library, *scenes_by_name(folder, COMMON), **{"processes": 1} | how)


def kept(library):
    return {(one.shade, one.batch, one.mark, str(one.state), one.colour.name) for one in library.records()}


def names(paths):
    return [path.name for path in paths]


def test_a_pigment_that_may_be_misspelt_is_told_and_its_photo_left_out(library, folder, look):
    set_pigment(library, "blue")
    shots(folder, "one.jpg", "two.jpg", "three.jpg")
    rows = ["photo,shade,recipe", 'one.jpg,a,"binder 99 g, blue 1 g"', 'two.jpg,b,"binder 99 g, bleu 1 g"',
            'three.jpg,c,"binder 99 g, red 1 g"']  # fmt: skip
    (folder / "list.csv").write_text("\n".join(rows), encoding="utf-8")
    filled = fill(library, scenes_by_list(folder / "list.csv", folder, COMMON), processes=1)
    assert [(one.photo.name, one.error.code) for one in filled.refused] == [("two.jpg", "pigment-spelt-alike")]
    assert look == ["one.jpg", "three.jpg"]
    set_pigment(library, "bleu")
    assert len(fill(library, scenes_by_list(folder / "list.csv", folder, COMMON), processes=1).kept) == 1


# --- by the names of the photos -----------------------------------------------------------------------------


def test_names_say_what_is_kept_and_what_cannot_be_is_told_by_name(library, folder, look):
    shots(folder, "river blue, 3, heat-set.jpg", "brick, 2025-04, strip B, left, washed 3.jpg", "bare, 1.jpg")
    shots(folder, "sage, 1, heat-sett.jpg")
    filled = by_name(library, folder)
    assert kept(library) == {
        ("river blue", "3", "", "heat-set", "right"),
        ("brick", "2025-04", "B", "washed 3 times", "left"),
    }
    assert [(path.name, library.record(number).shade) for path, number in filled.kept] == [
        ("brick, 2025-04, strip B, left, washed 3.jpg", "brick"),
        ("river blue, 3, heat-set.jpg", "river blue"),
    ]
    told = {each.photo.name: each for each in filled.refused}
    assert set(told) == {"bare, 1.jpg", "sage, 1, heat-sett.jpg"}
    assert told["bare, 1.jpg"].error.code == "No card can be seen in the photo."
    assert told["bare, 1.jpg"].error.remedy == "Lay the printed card flat."
    assert "'heat-sett'" in TERMINAL.problem(told["sage, 1, heat-sett.jpg"].error)
    assert (library.records()[0].cloth, library.batches()[0].ink) == ("white cotton", "halm base")


def test_what_is_in_is_not_measured_again(library, folder, look):
    shots(folder, "rust, 1.jpg", "rust, 2.jpg", "bare, 1.jpg")
    by_name(library, folder)
    look.clear()
    shots(folder, "sage, 1.jpg")
    filled = by_name(library, folder)
    assert look == ["bare, 1.jpg", "sage, 1.jpg"]
    assert names(filled.there) == ["rust, 1.jpg", "rust, 2.jpg"]
    assert [path.name for path, _ in filled.kept] == ["sage, 1.jpg"]
    assert len(library.records()) == 3


def test_a_copy_under_another_name_is_told_and_not_kept_twice(library, folder, look):
    shots(folder, "rust, 1.jpg")
    shutil.copy(folder / "rust, 1.jpg", folder / "rust, 2.jpg")
    shutil.copy(folder / "rust, 1.jpg", folder / "slate, 1, left.jpg")  # the other strip of the same photo
    filled = by_name(library, folder)
    assert kept(library) == {("rust", "1", "", "air-dried", "right"), ("slate", "1", "", "air-dried", "left")}
    (copy,) = filled.refused
    assert copy.photo.name == "rust, 2.jpg"
    assert copy.error.code == "photo-is-a-copy"
    assert "rust, 1.jpg" in TERMINAL.problem(copy.error)
    assert "which strip" in TERMINAL.remedy(copy.error)


def test_one_strip_of_a_photo_does_not_stand_for_the_other(library, folder, look):
    """A fill that was stopped between the two goes on with the second."""
    shots(folder, "slate, 1, left.jpg")
    by_name(library, folder)
    shutil.copy(folder / "slate, 1, left.jpg", folder / "rust, 1.jpg")
    filled = by_name(library, folder)
    assert names(filled.there) == ["slate, 1, left.jpg"]
    assert kept(library) == {("rust", "1", "", "air-dried", "right"), ("slate", "1", "", "air-dried", "left")}


def test_a_library_that_lies_among_the_photos_is_not_filled_with_its_own_copies(folder, look):
    shots(folder, "slate, 1, left.jpg", "rust, 1.jpg")
    library = open_library(str(folder / "halm.sqlite"), create=True)
    by_name(library, folder)
    assert len(list(folder.rglob("*.jpg"))) == 4
    filled = by_name(library, folder)
    assert (filled.kept, names(filled.there)) == ((), ["rust, 1.jpg", "slate, 1, left.jpg"])


def test_an_empty_folder_is_refused_and_one_without_a_readable_name_is_told(library, folder, look):
    with pytest.raises(UsageError, match=r"no photo to keep.*JPEG"):
        by_name(library, folder)
    shots(folder, "rust, 1, 2.jpg")
    filled = by_name(library, folder)
    assert names(each.photo for each in filled.refused) == ["rust, 1, 2.jpg"]
    with pytest.raises(LibraryError, match="can't be read"):
        by_name(library, folder / "nowhere")


def test_progress_tells_every_photo(library, folder, look):
    shots(folder, "rust, 1.jpg")
    by_name(library, folder)
    shots(folder, "rust, 2.jpg", "bare, 1.jpg", "rust, 3.jpg")
    told = []
    by_name(library, folder, progress=lambda *step: told.append(step))
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


# --- by a list ----------------------------------------------------------------------------------------------


def listing(folder, *lines):
    path = folder / "photos.csv"
    path.write_text("photo,shade,window,batch,state,measured,cloth,mixed,recipe\n" + "\n".join(lines), encoding="utf-8")
    return path


def test_a_list_says_all_of_a_record_and_its_batch(library, folder, look):
    shots(folder, "a.jpg", "b.jpg", "not listed.jpg")
    path = listing(
        folder,
        'a.jpg,Rust,left,1,heat-set,2026-03-04,linen,2026-03-02,"binder 500 g, red 2.5 g"',
        "a.jpg,slate,right,1,,,,,",
        "b.jpg,sage,,,washed 2,2026-03-05,,,",
    )
    filled = fill(library, scenes_by_list(path, folder, COMMON), processes=1)
    assert look == ["a.jpg", "b.jpg"], "a photo with two strips is measured once"
    assert [path.name for path, _ in filled.kept] == ["a.jpg", "a.jpg", "b.jpg"]
    rust, slate, sage = (library.record(number) for _, number in filled.kept)
    assert (rust.colour.name, rust.state, rust.measured, rust.cloth) == (
        "left",
        State("heat-set"),
        "2026-03-04",
        "linen",
    )
    assert (slate.colour.name, slate.state, slate.cloth) == ("right", DRY, "white cotton")
    assert (sage.batch, sage.state, sage.colour.name) == ("2026-03-05", State("washed", 2), "right")
    batch = library.batches("rust")[0]
    assert (batch.mixed, batch.ink) == ("2026-03-02", "halm base")
    assert batch.recipe == parse_recipe("binder 500 g, red 2.5 g")


def test_a_list_says_what_was_weighed_and_let_down(library, folder, look):
    shots(folder, "a.jpg", "b.jpg")
    path = folder / "photos.csv"  # as a German spreadsheet writes it
    path.write_text(
        "photo;shade;strip;batch;coat;let_down\n"
        "a.jpg;rust;left;1;7,2 g on 10 strips of 10x10 cm;\n"
        "a.jpg;rust;right;1;;2,5\n"
        "b.jpg;rust;;1;;\n",
        encoding="utf-8",
    )
    fill(library, scenes_by_list(path, folder, COMMON), processes=1)
    found = {(one.colour.name, one.photos[0].name): (one.coat, one.let_down) for one in library.records()}
    assert found == {
        ("left", "a.jpg"): (parse_coat("7.2 g on 10 strips of 10x10 cm"), 0.0),
        ("right", "a.jpg"): (None, 2.5),
        ("right", "b.jpg"): (None, 0.0),
    }
    path.write_text("photo,shade,coat,let_down\na.jpg,rust,72,a lot\n", encoding="utf-8")
    with pytest.raises(LibraryError) as refusal:
        scenes_by_list(path, folder, COMMON)
    told = lines(refusal.value)
    assert len(told) == 2


def test_a_strip_that_is_not_there_does_not_stop_the_others_of_its_photo(library, folder, look):
    shots(folder, "a.jpg")
    path = listing(folder, "a.jpg,rust,middle,1,,,,,", "a.jpg,slate,right,1,,,,,")
    filled = fill(library, scenes_by_list(path, folder, COMMON), processes=1)
    assert kept(library) == {("slate", "1", "", "air-dried", "right")}
    (refused,) = filled.refused
    assert "no strip called 'middle'" in TERMINAL.problem(refused.error)


def test_further_photos_of_a_scene_are_measured_with_it(library, folder, monkeypatch):
    shots(folder, "a.jpg", "b.jpg", "c.jpg")
    asked = []

    def measured(path, card, **how):
        asked.append((Path(path).name, card, {name: value for name, value in how.items() if value}))
        return taken(path)

    monkeypatch.setattr(module, "measure", measured)
    path = folder / "photos.csv"
    path.write_text("photo,shade,window,again,other_light\na.jpg,rust,left,b.jpg,c.jpg\n")
    fill(library, scenes_by_list(path, folder, COMMON), card="halm-1", row="halm-row", processes=1)
    more = {"again": [str(folder / "b.jpg")], "other_light": [str(folder / "c.jpg")], "row": "halm-row"}
    more["keep_print"] = True  # what the first photo makes of a print that nobody measured counts for all
    assert asked == [("a.jpg", "halm-1", more)]


def test_a_list_with_errors_keeps_nothing_and_tells_every_line(folder):
    shots(folder, "a.jpg", "b.jpg")
    path = listing(folder, "a.jpg,rust,,,,,,,", "c.jpg,rust,,,,,,,", "b.jpg,sage,,,burnt,31.3.2026,,,")
    with pytest.raises(LibraryError) as caught:
        scenes_by_list(path, folder, COMMON)
    assert [line.partition(":")[0] for line in lines(caught.value)] == [
        "line 3, photo",
        "line 4, state",
        "line 4, measured",
    ]


# --- what happens meanwhile ---------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["changed", "gone"])
def test_a_photo_that_changes_while_it_is_measured_is_refused_and_kept_the_next_time(library, folder, monkeypatch, how):
    shots(folder, "rust, 1.jpg", "rust, 2.jpg", "rust, 3.jpg")
    victim, data = folder / "rust, 2.jpg", b"another photo"

    def measured(path, card, **_):
        found = taken(path)
        if Path(path) == victim and victim.read_bytes() != data:
            victim.unlink()
            if how == "changed":
                victim.write_bytes(data)
        return found

    monkeypatch.setattr(module, "measure", measured)
    filled = by_name(library, folder)
    assert {one.batch for one in library.records()} == {"1", "3"}
    (refused,) = filled.refused
    assert refused.photo == victim
    assert refused.error.code == ("photo-changed-meanwhile" if how == "changed" else "file-not-read")
    victim.write_bytes(data)
    assert [path for path, _ in by_name(library, folder).kept] == [victim]
    assert [finding for finding in verify(library)[1] if not finding.harmless] == []


def test_what_another_fill_has_kept_meanwhile_is_in_already(library, folder, monkeypatch):
    shots(folder, "rust, 1.jpg", "rust, 2.jpg")

    def measured(path, card, **_):
        monkeypatch.setattr(module, "measure", lambda path, card, **_: taken(path))
        assert len(by_name(library, folder).kept) == 2  # the other one, faster
        return taken(path)

    monkeypatch.setattr(module, "measure", measured)
    filled = by_name(library, folder)
    assert (filled.kept, names(filled.there), filled.refused) == ((), ["rust, 1.jpg", "rust, 2.jpg"], ())
    assert len(library.records()) == 2


class Threads(ThreadPoolExecutor):
    """In place of processes, where it matters only which photos are measured."""

    def __init__(self, count, mp_context, initializer):
        super().__init__(count)


def test_a_library_that_cannot_be_written_ends_it_and_no_further_photo_is_measured(library, folder, look, monkeypatch):
    shots(folder, *(f"rust, {number}.jpg" for number in range(60)))
    monkeypatch.setattr(module, "ProcessPoolExecutor", Threads)
    patient = module.measure
    monkeypatch.setattr(module, "measure", lambda *args, **how: (time.sleep(0.02), patient(*args, **how))[1])

    def full(library, strip):
        raise LibraryError("The disk is full.", "Make room.")

    monkeypatch.setattr(module, "put", full)
    with pytest.raises(LibraryError, match="The disk is full") as caught:
        by_name(library, folder, processes=2)
    measured = len(look)
    time.sleep(0.1)
    assert len(look) == measured < 20, caught  # what holds the error must not hold the work


# --- with real photos and processes -------------------------------------------------------------------------


@pytest.fixture
def season(folder):
    """The drawn photos of a season as batches 1, 2 ... of one shade, and one without a card."""

    def show(count=None):
        for batch, name in enumerate(SEASON[:count], start=1):
            (folder / f"rust, {batch}.jpg").symlink_to(FOLDER / f"season_{name}.jpg")
        (folder / "rust, 0.jpg").symlink_to(FOLDER / "bad_no_card.jpg")
        return folder

    return show


# A shell that runs the tests in the background makes its children deaf to Ctrl-C.
HEEDING = """
import signal
signal.signal(signal.SIGINT, signal.default_int_handler)
from swatchcam.cli import main
main(prog_name="swatchcam")
"""


def begin(folder, library, processes=2):
    """`swatchcam library fill` in a process group of its own."""
    words = ["library", "fill", str(folder), "--card", CARD, "--library", str(library.place), "--json"]
    command = [sys.executable, "-c", HEEDING, *words, "--processes", str(processes)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True)


def test_two_processes_give_the_records_that_one_gives(season, tmp_path):
    folder = season(2)
    libraries = [open_library(str(tmp_path / f"{count}.sqlite"), create=True) for count in (1, 2)]
    told = [by_name(library, folder, card=CARD, processes=count) for count, library in enumerate(libraries, start=1)]
    assert (told[0].kept, told[0].there) == (told[1].kept, told[1].there)
    refused = [[(each.photo.name, each.error.as_json()) for each in filled.refused] for filled in told]
    assert refused[0] == refused[1]
    assert [name for name, _ in refused[0]] == ["rust, 0.jpg"]
    one, two = ([facts(record) for record in library.records()] for library in libraries)
    assert len(one) == 2
    assert one == two


def test_two_fills_at_once_keep_each_photo_once(library, season):
    folder = season(2)
    fills = [begin(folder, library, processes=1) for _ in range(2)]
    told = [json.loads(each.communicate(timeout=60)[0]) for each in fills]
    assert sorted(record.batch for record in library.records()) == ["1", "2"]
    assert sum(len(each["kept"]) for each in told) == 2
    for each in told:
        assert len(each["kept"]) + len(each["in_already"]) == 2
        assert [Path(refused["photo"]).name for refused in each["refused"]] == ["rust, 0.jpg"]


def test_a_process_that_is_ended_from_outside_is_told(library, season):
    others = {child.pid for child in multiprocessing.active_children()}  # of other tests

    def end_one(done, _all):
        if done:
            mine = [child.pid for child in multiprocessing.active_children() if child.pid not in others]
            os.kill(mine[0], signal.SIGKILL)

    with pytest.raises(LibraryError, match="stopped from outside") as caught:
        by_name(library, season(), card=CARD, processes=2, progress=end_one)
    assert "--processes 1" in TERMINAL.remedy(caught.value)
    assert len(library.records()) < len(SEASON)


def new_record(library, before):
    """Wait for one more than there were."""
    deadline = time.monotonic() + 60
    while len(library.origins()) <= before:
        assert time.monotonic() < deadline
        time.sleep(0.05)


def children_of(process):
    return Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text(encoding="ascii").split()


def alive(process):
    """Whether it still runs: it does not if it is gone, or nobody has asked yet how it ended (Z)."""
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def gone(children):
    deadline = time.monotonic() + 10
    while any(alive(child) for child in children):
        assert time.monotonic() < deadline
        time.sleep(0.02)
    return True


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="no /proc to tell whose children are left")
def test_stopped_in_the_middle_it_goes_on_where_it_stopped_and_leaves_no_process_behind(library, season):
    """The process that writes is killed: those that measure follow. Then Ctrl-C, which goes to all of them."""
    folder, before = season(), []
    for end, stop in ((os.kill, signal.SIGKILL), (os.killpg, signal.SIGINT)):
        running = begin(folder, library)
        new_record(library, len(before))
        children = children_of(running)
        end(running.pid, stop)
        told = running.communicate(timeout=30)[1]
        assert running.returncode == (-stop if stop == signal.SIGKILL else 1)
        assert len(children) >= 2
        assert gone(children)
        assert "Traceback" not in told
        now = [facts(record) for record in library.records()]
        assert now[: len(before)] == before
        assert len(before) < len(now) < len(SEASON)
        before = now
    filled = by_name(library, folder, card=CARD)
    assert (len(filled.there), len(filled.kept)) == (len(before), len(SEASON) - len(before))
    assert sorted(record.batch for record in library.records()) == list("1234567")
    assert [finding for finding in verify(library)[1] if not finding.harmless] == []
