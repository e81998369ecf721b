"""`swatchcam card list`, `use` and `remove`; a photo finds the values of its print; a backup holds the cards."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from tests.cli.keyboard import answer, refused, type_in
from tests.paths import HOME, SAMPLES
from tests.worlds.scene import render, write_jpeg

REFUSED = 3
NUMBER = "04821093"


@pytest.fixture(scope="module")
def numbered(plain_scene, tmp_path_factory):
    """A photo of a print with a number."""
    scene = replace(plain_scene, card=replace(plain_scene.card, number=NUMBER))
    return write_jpeg(render(scene, (1600, 1200)), tmp_path_factory.mktemp("numbered") / "numbered.jpg")


@pytest.fixture
def desk(own_folder, tmp_path, monkeypatch, values_path):
    """A studio with the card halm-1, a pigment row and a library that is not there yet."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWATCHCAM_LIBRARY", str(tmp_path / "halm.sqlite"))
    own_folder.mkdir()
    shutil.copy(values_path, own_folder)
    assert type_in("card print halm red blue --no-png").exit_code == 0
    return tmp_path


def files(folder):
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_list_tells_of_each_card_and_row_and_which_is_in_use(desk):
    facts = answer("card list")
    cards = {each["name"]: each for each in facts["cards"]}
    assert [(name, each["kind"], each["own"]) for name, each in cards.items()] == [
        ("halm-1", "card", True),
        ("sample-card", "card", False),
        ("halm", "row", True),
        ("sample-row", "row", False),
    ]
    assert (cards["halm-1"]["design"], cards["halm-1"]["grade"], cards["halm"]["grade"]) == ("a5", "measured", "")
    assert facts["without_number"] == {"a5": ["halm-1"], "a6": ["nominal"], "a4": ["nominal"]}
    type_in(f"card use halm-1 --print {NUMBER}")
    type_in("card use nominal")
    facts = answer("card list")
    assert facts["cards"][0]["numbers"] == [NUMBER]
    assert set(map(tuple, facts["without_number"].values())) == {("nominal",)}
    told = type_in("card list").stdout
    assert "print 0482 1093" in told
    assert "a5, a6 and a4: nominal, the colours as sent to the printer" in told


def test_a_file_that_is_no_card_any_more_is_listed_as_such(desk):
    (desk / "cards" / "halm-1.csv").write_bytes(b"\xff\xfe\x00")
    assert answer("card list")["cards"][0]["faulty"] is True
    assert "can't be used" in type_in("card list").stdout
    assert answer("card remove halm-1")["kind"] == "card"
    assert answer("card list")["without_number"]["a5"] == ["nominal"]


def test_a_photo_finds_the_values_of_its_print(desk, numbered):
    type_in("card use sample-card")
    told = answer(f"measure {numbered}")
    assert told["card"]["grade"] == "photographed"  # as its own photo shows it
    assert "print-without-values" in [each["code"] for each in told["flags"]]
    assert "are now measured with 'halm-1'" in type_in(f"card use halm-1 --print {NUMBER}").stdout
    found = answer(f"measure {numbered}")["card"]
    assert (found["values"], found["number"]) == ("halm-1", NUMBER)
    unread = answer(f"measure {numbered} --card nominal")
    assert unread["card"]["values"] != "halm-1"
    assert unread["absolute_values_may_be_judged"] is False
    type_in("card use halm-1 --print 00000007")
    problem, remedy = refused(f"measure {numbered} --card halm-1", REFUSED)
    assert problem.startswith("The card in the photo is print 0482 1093")
    assert f"swatchcam card use halm-1 --print {NUMBER}" in remedy


def test_the_usual_card_is_said_once_and_undone(desk):
    assert "'nominal'" in type_in("card use nominal").stdout
    assert answer("studio")["card"] == "nominal"
    type_in("undo 1")
    assert answer("studio")["card"] in ("", None)
    assert "no card values called 'halm-9'" in refused("card use halm-9", REFUSED)[0]
    assert refused("card use halm", REFUSED)[0].endswith("called 'halm'.")


def test_what_can_be_no_card_does_not_become_the_usual_one(desk, own_folder):
    (own_folder / "broken.csv").write_text("nothing\n", encoding="utf-8")
    assert type_in("card use broken").exit_code == REFUSED
    assert refused("card use sample-row", REFUSED)[0] == "'sample-row' is a pigment row, not a card."
    (own_folder / "broken.csv").unlink()
    assert answer("card list")["without_number"]["a5"] == ["halm-1"]


def test_a_card_is_put_away_and_comes_back(desk):
    before = files(desk / "cards")
    type_in("card use halm-1")
    assert "card use nominal" in refused("card remove halm-1", REFUSED)[1]
    assert files(desk / "cards") == before
    type_in("card use nominal")
    type_in(f"card use halm-1 --print {NUMBER}")
    gone = answer("card remove halm-1")
    assert (gone["kind"], gone["numbers"]) == ("card", [NUMBER])
    (moved,) = gone["files"]
    assert not Path(moved["was"]).exists()
    assert "halm-1" not in type_in("card list").stdout
    Path(moved["now"]).rename(moved["was"])
    assert answer("card list")["cards"][0]["numbers"] == [NUMBER]
    assert [Path(each["was"]).name for each in answer("card remove halm")["files"]] == ["halm.toml"]


@pytest.mark.parametrize("name", ["sample-card", "sample-row", "nominal", "halm-9", "../cards/halm-1"])
def test_what_is_not_ones_own_is_not_removed(desk, name):
    before = files(desk / "cards")
    refused(f"card remove {name}", REFUSED)
    assert files(desk / "cards") == before


def test_readings_are_imported_as_those_of_a_print(desk):
    lab = answer("card show halm-1")["patches"]
    rows = [",".join([patch["name"], *map(str, patch["lab"])]) for patch in lab]
    Path("readings.csv").write_text("\n".join(["Illuminant,D65", "Observer,10", "name,L,a,b", *rows]))
    take = "card import readings.csv --geometry 45/0 --date 2026-01-31 --card-name"
    answer(f"{take} halm-2 --print '0482 1093'")
    assert answer("card list")["cards"][1]["numbers"] == [NUMBER]
    assert "print 0482 1093 already has the values 'halm-2'" in type_in(f"{take} halm-3 --print {NUMBER}").stderr
    for name in ("sample-card", "nominal", "halm"):
        assert type_in(f"{take} {name}").exit_code == REFUSED
    assert sorted(path.name for path in (desk / "cards").glob("*.csv")) == ["halm-1.csv", "halm-2.csv"]


# --- backup -------------------------------------------------------------------------------------------------


@pytest.fixture
def studio(desk, monkeypatch):
    """A studio with mycard, a number that was printed, and something in its library."""
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(desk / "photos"))
    (desk / "cards" / "print-numbers").mkdir(exist_ok=True)
    (desk / "cards" / "print-numbers" / NUMBER).touch()
    shutil.copy(HOME / "calibration" / "sample-card.csv", desk / "cards" / "mycard.csv")
    type_in("card use mycard")
    return desk


def bare_computer(desk, monkeypatch):
    """The studio is backed up; then nothing is there but the backup."""
    assert answer("library backup all.zip")["cards"] == 3
    assert answer("library verify")["cards"] == 3
    monkeypatch.setenv("SWATCHCAM_CARDS", str(desk / "new" / "cards"))
    monkeypatch.setenv("SWATCHCAM_LIBRARY", str(desk / "new" / "halm.sqlite"))
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(desk / "new" / "photos"))
    (desk / "new").mkdir()
    return desk / "new" / "cards"


def test_a_backup_on_a_bare_computer_measures_the_same_photo_to_the_last_digit(studio, monkeypatch):
    photo = SAMPLES / "good_pair.jpg"
    type_in(f"keep {photo} --shade brick --card mycard")
    was = answer(f"check {photo} --card mycard")
    cards = bare_computer(studio, monkeypatch)
    restored = answer("library restore all.zip")
    assert (restored["cards"], restored["aside"]) == (3, [])
    assert files(cards) == files(studio / "cards")
    assert answer(f"check {photo} --card mycard") == was
    (studio / "cards").rename(studio / "gone")
    assert answer("library verify --remeasure")["findings"] == []


def test_a_backup_writes_over_no_card_and_says_where_its_own_is(studio, monkeypatch):
    mine = bare_computer(studio, monkeypatch) / "mycard.csv"
    mine.parent.mkdir()
    mine.write_bytes(b"another card")
    shutil.copy(studio / "cards" / "halm-1.csv", mine.parent)
    (aside,) = answer("library restore all.zip")["aside"]
    assert (aside["yours"], mine.read_bytes()) == (str(mine), b"another card")
    assert Path(aside["from_backup"]).read_bytes() == (studio / "cards" / "mycard.csv").read_bytes()
    assert sorted(path.name for path in mine.parent.glob("*.csv")) == ["halm-1.csv", "mycard.csv"]
    told = type_in("library restore all.zip --library again.sqlite").stdout
    assert f"{mine} stayed as it is" in told
    assert len(list((mine.parent / "replaced").iterdir())) == 1
    found = answer("library verify", code=REFUSED)
    assert [each["code"] for each in found["findings"]] == ["card-file-faulty"]
