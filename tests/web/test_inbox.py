"""The tray: what is sent lies there whole or not at all, once however often it is sent, and nowhere else."""

from __future__ import annotations

import errno
import json
import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.web import inbox as module
from swatchcam.web.filenames import LONGEST, clean_names
from swatchcam.web.inbox import Tray
from tests.paths import HOME

# FIPS 180-4, SHA-256 of "abc", as in NIST's examples of the secure hash standard.
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
NOBODY = "0" * 20
TRICKS = ("", "../x", "a/b", "..", ABC, ABC[:19], ABC[:20] + "\n", ABC[:20].upper(), "٣" * 20, ABC[:19] + "\0")


@pytest.fixture
def tray(tmp_path):
    return Tray(tmp_path / "studio" / "tray")


@pytest.fixture
def photo(tmp_path):
    path = tmp_path / "upload"
    path.write_bytes(b"brick")
    return path


def inside(tray):
    return sorted(path.name for path in tray.folder.iterdir())


def date_back(tray, id, days):
    path = tray.path(id) / "asked.json"
    facts = json.loads(path.read_text())
    path.write_text(json.dumps(facts | {"time": facts["time"] - days * 86400}))


# --- sent ---------------------------------------------------------------------------------------------------


def test_what_is_sent_lies_under_the_digest_of_its_key(tray, photo):
    before = datetime.now(UTC).replace(microsecond=0)
    item = tray.put("abc", "photo", {"card": "halm-1", "lights": [1]}, [(photo, "Brick, 3.JPG")])
    assert item.id == ABC[:20]
    assert (item.kind, item.asked, item.names) == ("photo", {"card": "halm-1", "lights": [1]}, ("Brick, 3.JPG",))
    assert item.files == (tray.folder / item.id / "1.jpg",)
    assert item.files[0].read_bytes() == photo.read_bytes() == b"brick"
    assert before <= datetime.fromisoformat(item.made) <= before + timedelta(minutes=1)
    assert (item.answer, item.state) == (None, "waiting")
    assert tray.item(item.id) == item == Tray(tray.folder).item(item.id)


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps rights in another way than in a file's mode")
def test_nobody_else_may_look_in(tray, photo):
    item = tray.put("abc", "photo", {}, [(photo, "a.jpg")])
    assert {stat.S_IMODE(path.stat().st_mode) for path in (tray.folder, tray.path(item.id))} == {0o700}


def test_what_is_sent_twice_is_stored_once(tray, photo):
    first = tray.put("abc", "photo", {"card": "halm-1"}, [(photo, "a.jpg")])
    photo.write_bytes(b"other")
    assert tray.put("abc", "mix", {}, [(photo, "b.jpg"), (photo, "c.jpg")]) == first
    assert first.files[0].read_bytes() == b"brick"
    assert inside(tray) == [first.id]


def test_two_that_are_sent_at_once_are_one(tray, photo, monkeypatch):
    both, fill = Barrier(2), module.fill_folder

    def fill_at_once(*arguments):
        fill(*arguments)
        both.wait(10)  # each has all of it on the disk, and neither is in place

    monkeypatch.setattr(module, "fill_folder", fill_at_once)
    with ThreadPoolExecutor(2) as pool:
        asked = [{"sent": number} for number in (1, 2)]
        first, second = pool.map(lambda each: tray.put("abc", "photo", each, [(photo, "a.jpg")]), asked)
    assert first == second == tray.item(first.id)
    assert first.asked in asked
    assert inside(tray) == [first.id]


@pytest.mark.parametrize(
    ("name", "stored"),
    [
        ("IMG_1.HEIC", "1.heic"),
        ("a.tif", "1.tif"),
        ("a.jpg.exe", "1.photo"),
        ("a", "1.photo"),
        (".png", "1.photo"),
        ("a.jpg\n", "1.jpg"),
        ("", "1.photo"),
        ("../../etc/x.dng", "1.dng"),
    ],
)
def test_a_file_lies_under_a_name_of_our_own(tray, photo, name, stored):
    item = tray.put("abc", "photo", {}, [(photo, name)])
    assert sorted(path.name for path in tray.path(item.id).iterdir()) == [stored, "asked.json"]


def test_what_comes_without_a_key_is_refused(tray):
    with pytest.raises(UsageError, match="without its key"):
        tray.put("", "mix", {})
    assert tray.items() == []


# --- names --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sent", "shown"),
    [
        ("../x", "x"),
        ("a/b", "b"),
        ("C:\\photos\\brick.jpg", "brick.jpg"),
        ("brick\x00\x1b[2J\n.jpg", "brick [2J .jpg"),
        ("gpj.\u202eecirb.jpg", "gpj. ecirb.jpg"),
        ("bri\u200bck.jpg", "bri ck.jpg"),
        ("\u3164\u2800", "photo"),
        ("..", "photo"),
        ("brick/", "photo"),
        ("  ", "photo"),
        ("ru\u0308be.jpg", "rübe.jpg"),
        (80 * "b" + "r.jpg", 80 * "b"),
    ],
)
def test_a_name_is_shown_without_folders_and_what_cannot_be_seen(sent, shown):
    assert clean_names([sent]) == (shown,)


def test_photos_that_a_phone_calls_alike_are_told_apart():
    sent = ["image.jpg", "image.jpg", "image (2).jpg", "image.jpg", "photo", "", 90 * "b", 90 * "b"]
    shown = ("image.jpg", "image (2).jpg", "image (2) (2).jpg", "image (3).jpg", "photo", "photo (2)")
    assert clean_names(sent) == (*shown, 80 * "b", 76 * "b" + " (2)")


@given(st.lists(st.text(alphabet=st.characters(codec=None), max_size=100), max_size=6))
def test_whatever_the_names_they_can_be_shown(sent):
    shown = clean_names(sent)
    assert len(set(shown)) == len(sent)
    assert all(0 < len(name) <= LONGEST and name.isprintable() and not {*name} & {*"/\\"} for name in shown)


# --- looked up ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("id", [*TRICKS, NOBODY])
def test_no_other_number_leads_anywhere(tray, photo, id):
    tray.put("abc", "photo", {}, [(photo, "a.jpg")])
    for look in (
        lambda: tray.item(id),
        lambda: tray.answer(id, {}),
        lambda: tray.note(id, "ticks", {}),
        lambda: tray.noted(id, "ticks"),
        lambda: tray.remove(id),
    ):
        with pytest.raises(UsageError, match="is not here") as refusal:
            look()
        assert (refusal.value.code, refusal.value.remedy) == ("not-here", "choose-from-the-first-page")
    assert inside(tray) == [ABC[:20]]


@pytest.mark.parametrize("id", TRICKS)
def test_no_path_is_made_of_what_is_no_number(tray, id):
    with pytest.raises(UsageError):
        tray.path(id)


def test_the_newest_come_first(tray):
    made = [tray.put(f"key {number}", "mix" if number % 2 else "photo", {}).id for number in range(5)]
    date_back(tray, made[4], 2)
    newest_first = [made[number] for number in (3, 2, 1, 0, 4)]
    assert [item.id for item in tray.items()] == newest_first
    assert [item.id for item in tray.items("mix")] == [made[3], made[1]]
    assert [item.id for item in tray.items("photo")] == [made[2], made[0], made[4]]
    assert Tray(tray.folder / "not there yet").items() == []


def test_a_damaged_one_is_told_and_hides_no_other(tray):
    whole, damaged = tray.put("abc", "mix", {}), tray.put("def", "mix", {})
    (tray.path(damaged.id) / "answer.json").write_text('{"facts": ')
    with pytest.raises(UsageError, match="it is damaged"):
        tray.item(damaged.id)
    assert tray.items() == [whole]


# --- answers and notes --------------------------------------------------------------------------------------


def test_an_answer_says_how_it_ended(tray):
    done, refused = tray.put("abc", "mix", {}), tray.put("def", "mix", {})
    tray.answer(done.id, {"facts": {"L": 52.5}})
    tray.answer(refused.id, {"problem": "Blurred.", "remedy": "Hold still."})
    assert (tray.item(done.id).state, tray.item(refused.id).state) == ("done", "refused")
    assert tray.item(done.id).answer == {"facts": {"L": 52.5}}


def test_notes_are_kept_beside_and_replaced(tray):
    item = tray.put("abc", "mix", {})
    assert tray.noted(item.id, "ticks") == {}
    tray.note(item.id, "ticks", {"white": True})
    tray.note(item.id, "ticks", {"white": False, "shade": "Gr\u00fcn \ud800"})
    assert tray.noted(item.id, "ticks") == {"white": False, "shade": "Gr\u00fcn \ud800"}
    assert tray.item(item.id) == item
    assert sorted(path.name for path in tray.path(item.id).iterdir()) == ["asked.json", "ticks.json"]


@pytest.mark.parametrize("name", ["asked", "answer", "../ticks", "", "Ticks", "ticks\n", "a.b", 41 * "a"])
def test_a_note_has_a_plain_name(tray, name):
    item = tray.put("abc", "mix", {})
    for call in (lambda: tray.note(item.id, name, {}), lambda: tray.noted(item.id, name)):
        with pytest.raises(UsageError, match="can't be the name of a note"):
            call()
    assert os.listdir(tray.path(item.id)) == ["asked.json"]


def test_readers_see_each_note_whole(tray):
    item = tray.put("abc", "mix", {})
    # Another program, which does not wait for this one; Windows would let neither have the file.
    reader = tray if os.name == "nt" else Tray(tray.folder)
    tray.note(item.id, "ticks", {"n": 0, "again": 5000 * [0]})

    def write(number):
        tray.note(item.id, "ticks", {"n": number, "again": 5000 * [number]})

    def read(_):
        found = reader.noted(item.id, "ticks")
        return set(found["again"]) == {found["n"]}

    with ThreadPoolExecutor(4) as pool:
        writing = pool.map(write, range(20))
        assert all(pool.map(read, range(40)))
        assert list(writing) == [None] * 20


# --- thrown away --------------------------------------------------------------------------------------------


def test_what_is_removed_is_gone_and_may_come_again(tray, photo):
    item = tray.put("abc", "photo", {}, [(photo, "a.jpg")])
    tray.remove(item.id)
    assert inside(tray) == []
    assert tray.put("abc", "photo", {}, [(photo, "a.jpg")]).id == item.id


def test_old_things_and_what_was_never_whole_are_tidied_away(tray):
    old, damaged, young = (tray.put(key, "mix", {}).id for key in ("old", "damaged", "young"))
    date_back(tray, old, 31)
    date_back(tray, young, 29)
    (tray.path(damaged) / "asked.json").unlink()
    for name, age in ((f"{NOBODY}.left.part", 2 * 3600), (f"{NOBODY}.new.part", 60)):
        (tray.folder / name).mkdir()
        (tray.folder / name / "1.jpg").write_bytes(b"half")
        os.utime(tray.folder / name, (time.time() - age,) * 2)
    os.utime(tray.path(damaged), (time.time() - 31 * 86400,) * 2)
    (tray.folder / "read me").write_text("not ours")
    assert tray.tidy(30) == 2
    assert inside(tray) == sorted([f"{NOBODY}.new.part", young, "read me"])


# --- a full or failing disk ---------------------------------------------------------------------------------


def test_a_disk_that_would_be_full_takes_nothing(tray, photo, monkeypatch):
    tray.room()
    with pytest.raises(UsageError, match=r"nearly full: \d+ MB is left") as refusal:
        tray.room(shutil.disk_usage(tray.folder).free)
    assert refusal.value.remedy == "make-room"
    monkeypatch.setattr(module, "SPARE", 1 << 62)
    with pytest.raises(UsageError, match="nearly full"):
        tray.put("abc", "photo", {}, [(photo, "a.jpg")])
    assert inside(tray) == []


@pytest.mark.parametrize("step", range(1, 5))
def test_a_disk_that_fails_on_the_way_leaves_nothing(tray, photo, monkeypatch, step):
    sync, left = os.fsync, iter(range(1, 100))

    def fail(handle):
        if next(left) == step:
            raise OSError(errno.ENOSPC, "No space left on device")
        sync(handle)

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(UsageError, match="the disk is full") as refusal:
        tray.put("abc", "photo", {}, [(photo, "a.jpg"), (photo, "b.jpg")])
    assert refusal.value.remedy == "make-room"
    assert inside(tray) == []


def test_a_failed_note_leaves_the_earlier_one(tray, monkeypatch):
    item = tray.put("abc", "mix", {})
    tray.note(item.id, "ticks", {"white": True})
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError(errno.EIO, "Input/output error")))
        with pytest.raises(UsageError, match="Input/output error"):
            tray.note(item.id, "ticks", {"white": False})
    assert tray.noted(item.id, "ticks") == {"white": True}
    assert sorted(path.name for path in tray.path(item.id).iterdir()) == ["asked.json", "ticks.json"]


def test_a_photo_that_is_not_there_is_refused(tray, tmp_path):
    with pytest.raises(UsageError, match="could not store this"):
        tray.put("abc", "photo", {}, [(tmp_path / "none", "a.jpg")])
    assert inside(tray) == []


DIES = """
import os, signal, sys
from pathlib import Path
from swatchcam.web.inbox import Tray
steps = iter(range(1, 1000))
def tick(name, _):
    if name in {"open", "os.rename", "os.mkdir", "os.remove", "shutil.rmtree"} and next(steps) == int(sys.argv[1]):
        os.kill(os.getpid(), signal.SIGKILL)
tray, photo = Tray(Path(sys.argv[2])), Path(sys.argv[3])
sys.addaudithook(tick)
tray.put("abc", "photo", {"card": "halm-1"}, [(photo, "a.jpg")])
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows knows no SIGKILL")
def test_a_program_that_is_killed_at_any_step_leaves_all_or_nothing(tmp_path, photo):
    environment = os.environ | {"PYTHONPATH": str(HOME)}
    found = []
    for step in range(1, 40):
        tray = Tray(tmp_path / str(step))
        call = [sys.executable, "-c", DIES, str(step), str(tray.folder), str(photo)]
        code = subprocess.run(call, env=environment, check=False).returncode
        found.append(len(tray.items()))
        for item in tray.items():
            assert item.asked == {"card": "halm-1"}
            assert item.files[0].read_bytes() == b"brick"
        again = tray.put("abc", "photo", {"card": "halm-1"}, [(photo, "a.jpg")])
        assert [again] == tray.items()
        if code == 0:
            break
        assert code == -signal.SIGKILL
    assert found[0] == 0
    assert found[-1] == 1
    assert len(found) > 5
