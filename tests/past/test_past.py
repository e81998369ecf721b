"""What version 0.1 left on a studio's disk is opened, found whole, brought up to date and read; nothing of it is lost.

`0.1/README.md` says how it was made.
"""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from swatchcam.web.inbox import Tray
from swatchcam.web.jobs.photo_tasks import TASKS
from tests.web.visitor import studio_in, visitor

PAST = Path(__file__).parent / "0.1"
READ = {  # commands that only read, and what they are called among the kept outputs
    "card-show": "card show halm-1",
    "strip-show": "card show sample-strip",
    "near": "near 51,30.5,34 --count 3",
    "shade-list": "shade list",
    "shade-show": "shade show rust",
    "library-record": "record 1",
    "library-log": "undo",
    "library-where": "library where",
    "library-verify": "library verify",
    "pigment-list": "pigment list",
    "pigment-show": "pigment show red",
    "mix-hits": "mix predictions",
    "mix-again": "mix again terracotta --grams 400 --scale 0.01",
}


# Keys of then, and what they are called today; in an export a record's "strip" was what was written on it.
WORDS = {
    "strip": "row",
    "drawdown": "strip",
    "drawdowns": "strips",
    "label": "mark",
    "stage": "state",
    "lamp": "light",
    "tints": "known_strips",
    "tints_alone": "known_strips_alone",
    "tints_in_mixes": "known_strips_in_mixes",
    "foreseen": "predicted",
    "foretold": "predicted",
}
OF_EXPORT = WORDS | {"strip": "mark", "tints": "tints"}


def kept(name):
    return in_todays_words(json.loads((PAST / "json" / f"{name}.json").read_text(encoding="utf-8")), WORDS)


def kept_export(name):
    """What version 0.1 exported, in today's words and under the number of today's form."""
    found = in_todays_values(in_todays_words(json.loads((PAST / name).read_text(encoding="utf-8")), OF_EXPORT))
    assert found["format"] == "swatchcam-library-1"
    return found | {"format": "swatchcam-library-2"}


def in_todays_words(found, words):
    if isinstance(found, list):
        return [in_todays_words(each, words) for each in found]
    if not isinstance(found, dict):
        return found
    if "signals" in found or "undone" in found:  # of a chart or a change
        words = words | {"words": "sentence"}
    return {words.get(name, name): in_todays_words(value, words) for name, value in found.items()}


def in_todays_values(found):
    """What was a sentence is marked as one, and the unpigmented binder has another name."""
    if isinstance(found, list):
        return [in_todays_values(each) for each in found]
    if not isinstance(found, dict):
        return found
    fresh = {name: in_todays_values(value) for name, value in found.items()}
    if "flags" in fresh:
        fresh["flags"] = [{"code": "said-before", "facts": {"sentence": flag}} for flag in fresh["flags"]]
    return fresh | ({"what": "clear base"} if fresh.get("what") == "binder" else {})


class Desk:
    """The studio's computer with what was left on it, and today's program."""

    def __init__(self, folder, library):
        self.folder, self.library = folder, library

    def run(self, *words):
        done = CliRunner().invoke(main, [*words, "--library", self.library, "--json"])
        assert done.exit_code in (0, 4, 5), done.output
        return json.loads(done.stdout)

    def exported(self):
        self.run("library", "export", "json", "--output", str(self.folder / "export.json"), "--replace")
        return json.loads((self.folder / "export.json").read_text(encoding="utf-8"))


@pytest.fixture
def desk(tmp_path, monkeypatch):
    shutil.copytree(PAST / "cards", tmp_path / "cards")
    shutil.copytree(PAST / "photos", tmp_path / "photos")
    shutil.copy(PAST / "library.sqlite", tmp_path)
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path / "cards"))
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    return Desk(tmp_path, str(tmp_path / "library.sqlite"))


@pytest.fixture(params=["sqlite", "postgresql"])
def either(request, desk):
    """The same in either kind of database."""
    if request.param == "postgresql":
        server = request.getfixturevalue("server")
        desk.library = server.database()
        server.load(desk.library, PAST / "library.sql")
    return desk


@pytest.fixture
def desk_of_then(desk):
    """The library as it was when the outputs were kept."""
    desk.library = str(desk.folder / "then.sqlite")
    desk.run("library", "restore", str(PAST / "backup.zip"))
    return desk


def test_the_library_is_brought_up_to_date_and_found_whole(either):
    either.run("library", "upgrade")
    found = either.run("library", "verify")
    assert broken(found) == []
    assert (found["records"], found["photos"]) == (31, 18)


def test_the_library_reads_as_it_was_written(either):
    either.run("library", "upgrade")
    was = kept_export("export-after.json")
    assert still_there(was, either.exported()) == []


def test_old_records_keep_what_they_say_and_no_treatment_is_invented(either):
    either.run("library", "upgrade")
    found, was = either.exported(), kept_export("export-after.json")
    assert {one["state"] for one in found["records"]} == {one["state"] for one in was["records"]}
    assert {one["treatment"] for one in found["records"]} == {""}
    assert {one["target_state"] for one in (*found["shades"], *found["proposals"])} == {None}


def test_a_backup_comes_back_into_either_kind_of_library(desk, place):
    desk.library = place
    assert desk.run("library", "restore", str(PAST / "backup.zip"))["records"] == 29
    assert broken(desk.run("library", "verify")) == []
    was = kept_export("export.json")
    assert still_there(was, desk.exported()) == []


def test_what_was_changed_can_still_be_undone(desk):
    desk.run("library", "upgrade")
    assert desk.run("shade", "show", "rust")["notes"] == "For the market in October."
    noted = next(one for one in desk.run("undo")["changes"] if "noted something" in one["sentence"])
    assert (noted["code"], noted["facts"]) == ("said-before", {"sentence": noted["sentence"]})
    desk.run("undo", str(noted["number"]))
    assert desk.run("shade", "show", "rust")["notes"] == ""
    undone = desk.run("undo")["changes"][0]
    assert (undone["code"], undone["facts"]["what"]["code"]) == ("change-undone", "said-before")
    assert undone["sentence"] == f"undid change {noted['number']}: {noted['sentence']}"


@pytest.mark.parametrize("name", READ)
def test_a_program_that_read_our_json_still_finds_its_keys(desk_of_then, name, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_LIBRARY", desk_of_then.library)
    shows = json.loads(CliRunner().invoke(main, [*READ[name].split(), "--json"]).stdout)
    assert keys(kept(name)) - keys(shows) == set()


def test_a_card_measures_what_it_measured(desk):
    done = CliRunner().invoke(main, ["card", "show", "halm-1", "--json"])
    assert json.loads(done.stdout)["patches"] == kept("card-show")["patches"]


def test_a_pigment_row_measures_what_it_measured(desk):
    done = CliRunner().invoke(main, ["card", "show", "sample-strip", "--json"])
    assert still_there(kept("strip-show"), json.loads(done.stdout)) == []
    assert CliRunner().invoke(main, ["card", "show", "halm"]).exit_code == 0


@pytest.fixture
def tray(tmp_path):
    """The tray where it lies today: answers name their photos by their place."""
    shutil.copytree(PAST / "studio", tmp_path / "studio")
    for path in (tmp_path / "studio" / "tray").glob("*/*.json"):
        path.write_text(path.read_text(encoding="utf-8").replace("/studio/tray", str(tmp_path / "studio" / "tray")))
    return Tray(tmp_path / "studio" / "tray")


def test_the_tray_shows_what_was_answered_and_what_waits(desk, tray):
    states = {(item.kind, item.state) for item in tray.items()}
    photos = {("photo", state) for state in ("done", "refused", "waiting")}
    assert states == photos | {("mix", "done"), ("mix", "waiting")}
    phone = phone_at(desk, tray)
    for item in tray.items():
        page = phone.get(f"/{item.kind}/{item.id}")
        assert page.status_code == 200, page.text
        names = item.names if item.state == "done" else ()
        assert all(name in page.text for name in names)


def test_an_answered_photo_is_kept_and_a_waiting_one_measured(desk, tray):
    phone = phone_at(desk, tray)
    answered = next(item for item in tray.items("photo") if item.state == "done")
    token = re.search(r'name="token" value="(\w+)"', phone.get("/").text)[1]
    said = {"token": token, "key": "k", "strip": "left", "shade": "terracotta", "batch": "1"}
    assert phone.post(f"/photo/{answered.id}/keep", data=said).status_code == 303
    waiting = next(item for item in tray.items("photo") if item.state == "waiting")
    job = {"asked": waiting.asked, "files": [str(path) for path in waiting.files], "names": list(waiting.names)}
    found = TASKS["photo"](job | {"folder": str(tray.path(waiting.id))})
    assert [strip["name"] for strip in found["sitting"]["strips"]] == ["left", "right"]


def test_the_phones_that_were_let_in_still_are(tmp_path, tray):
    listed = json.loads((tmp_path / "studio" / "phones.json").read_text(encoding="utf-8"))
    names = {phone.name for phone in studio_in(tmp_path / "studio").phones.all()}
    assert names == {"studio phone", "second phone"}
    assert len(json.dumps(listed)) > 100


def broken(found):
    """What `library verify` found that is not harmless."""
    return [line for line in found["findings"] if not line["harmless"]]


def phone_at(desk, tray):
    desk.run("library", "upgrade")  # before that, `serve` does not start
    studio = studio_in(desk.folder / "studio", tray=tray, library=desk.library, card="halm-1")
    return visitor(studio, key=studio.phones.add("test"))


def keys(found, above=""):
    """Every key of a JSON object, with those above it."""
    if isinstance(found, list):
        return {key for each in found for key in keys(each, f"{above}[]")}
    if not isinstance(found, dict):
        return set()
    return {f"{above}.{key}" for key in found} | {key for name in found for key in keys(found[name], f"{above}.{name}")}


def still_there(was, now, path=""):
    """Every place where the old output has something that the new one lacks, times aside; additions do not count."""
    if isinstance(was, dict) and isinstance(now, dict):
        return [line for key in was if key != "made" for line in still_there(was[key], now.get(key), f"{path}.{key}")]
    if isinstance(was, list) and isinstance(now, list) and len(was) == len(now):
        pairs = enumerate(zip(was, now, strict=True))
        return [line for place, (old, new) in pairs for line in still_there(old, new, f"{path}[{place}]")]
    return [] if was == now else [f"{path}: {was!r:.80} -> {now!r:.80}"]
