"""`swatchcam pigment`: test series and the shelf in words and for programs, exit codes, pages, and no traceback."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.library.library import open_library
from swatchcam.library.shelf.pigments import add_lot, pigment, set_pigment
from tests.cli.keyboard import answer, refused, type_in
from tests.cli.test_mix import ANY, DONE, REFUSED, WRONG_USE
from tests.worlds.mixing_library import CLOTH, Shop, desk_in

SERIES = f"pigment series new.jpg --pigment red --load left=0.4 --load right=1.5 --cloth '{CLOTH}'"


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    """A folder with a library: test series, one pigment on the shelf with a lot, and a test mix with the next lot."""
    folder = tmp_path_factory.mktemp("stocked")
    shop = Shop(open_library(str(folder / "halm.sqlite"), create=True), folder / "shots")
    shop.all_series()
    shop.keep({"red": 1.0}, "lot test", "R-2", true={"red": 1.3}, measured="2026-05-01")
    set_pigment(shop.library, "red", most=6.0, price=11.5, notes="Stir well.")
    add_lot(shop.library, "red", "R-1", "2026-01-05")
    return folder


@pytest.fixture
def desk(stocked, tmp_path, monkeypatch):
    """A copy of it in which commands are typed, and a photo of two series strips."""
    folder = tmp_path / "desk"
    camera = desk_in(stocked, folder, monkeypatch)
    camera.lay(Path("new.jpg"), left={"red": 0.4}, right={"red": 1.5})
    camera.lay(Path("bare.jpg"), left={}, right={"red": 1.5})
    return folder


SAID = {
    SERIES: ["Kept as record 15: series red, 0.4 %", "Kept as record 16: series red, 1.5 %", "CIEDE2000"],
    "pigment series bare.jpg --load left=0": ["Kept as record 15: binder alone"],
    "pigment list": [
        f"4 pigments on {CLOTH}, 14 known strips (air-dried):",
        "4 series strips, 0 mixes  at most 6 %",
        "lot R-1",
    ],
    "pigment show RED": [f"red on {CLOTH}, air-dried", "acts like", "strength", "measured:", "record 8"],
    "pigment set Ochre --max-load 4 --price 3": ["Put pigment 'Ochre' on the shelf and noted its limit and its price."],
    "pigment set red --min-grams 0.05": ["Changed pigment 'red': its smallest amount."],
    "pigment set red --lot R-2 --since 2026-05-01 --test-mix 14": [
        "Added lot 'R-2' of pigment 'red'",
        "times as strong",
    ],
    "pigment set red --lot R-3 --since 2026-06-01 --strength 0.9": [
        "Added lot 'R-3' of pigment 'red'",
        "as you say",
        "0.90 ±",
    ],
    "remove --pigment RED": ["Took pigment 'red' off the shelf.", "To undo this: swatchcam undo"],
}


@pytest.mark.parametrize("words", SAID)
def test_a_command_says_what_was_done(desk, words):
    done = type_in(words)
    assert done.exit_code == DONE, done.output
    for line in SAID[words]:
        assert line in done.stdout
    assert done.stderr == ""


FOR_PROGRAMS = {
    SERIES: "series",
    "pigment list": "pigments",
    "pigment show red": "curve",
    "pigment set Ochre --max-load 4": "changes",
    "pigment set red --lot R-2 --since 2026-05-01 --test-mix 14": "changes",
}


@pytest.mark.parametrize("words", FOR_PROGRAMS)
def test_a_program_gets_the_same(desk, words):
    assert answer(words)[FOR_PROGRAMS[words]]


def test_a_series_teaches_at_once(desk):
    before = answer("pigment list")["known_strips"]
    series = answer(f"{SERIES} --cup 50 --scale 0.01")["series"]
    assert [strip["batch"] for strip in series] == ["0.4 %", "1.5 %"]
    assert answer("pigment list")["known_strips"] == before + 2


def test_a_series_makes_a_library_where_there_is_none(desk):
    assert type_in(f"{SERIES} --library fresh.sqlite").exit_code == DONE
    assert Path("fresh.sqlite").exists()


@pytest.mark.parametrize(
    "words",
    [
        SERIES.replace("--pigment red", "--pigment yelow"),
        f"keep new.jpg --shade brick --strip left --cloth '{CLOTH}' --recipe 'clear base 500 g, red 2 g, yelow 1 g'",
        'batch "lot test" R-2 --recipe "clear base 500 g, yelow 1 g"',
    ],
)
def test_a_new_name_that_is_spelt_like_a_known_one_is_asked_about(desk, words):
    before = len(open_library("halm.sqlite").records())
    problem, remedy = refused(words)
    assert problem == "'yelow' is new: did you mean 'yellow'?"
    assert 'swatchcam pigment set "yelow"' in remedy
    assert len(open_library("halm.sqlite").records()) == before
    assert type_in('pigment set "yelow"').exit_code == DONE  # it really is new
    assert type_in(words).exit_code == DONE


def test_what_is_said_of_a_pigment_stands_on_the_shelf(desk):
    type_in("pigment set Ochre --max-load 4 --min-grams 0.5 --price 3 --notes 'from the hills'")
    found = pigment(open_library("halm.sqlite"), "ochre")
    assert (found.most, found.least_g, found.price, found.notes) == (4, 0.5, 3, "from the hills")
    (listed,) = [each for each in answer("pigment list")["pigments"] if each["pigment"] == "Ochre"]
    assert (listed["strength"], listed["most_percent"]) == (None, 4)


def test_a_lot_is_found_from_its_test_mix(desk):
    type_in("pigment set red --lot R-2 --since 2026-05-01 --test-mix 14")
    _, lot = pigment(open_library("halm.sqlite"), "red").lots
    assert abs(lot.strength - 1.3) <= 1.96 * lot.strength_std


def test_a_page_is_written_and_never_over_another(desk):
    done = type_in("pigment show red --page red.html")
    assert (done.exit_code, done.stderr) == (DONE, "The page is in red.html.\n")
    assert Path("red.html").read_text(encoding="utf-8").lstrip().lower().startswith("<!doctype html>")
    assert "is already there" in refused("pigment show red --page red.html")[0]


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        ("pigment series new.jpg --pigment red", "You haven't said how much pigment each strip has."),
        ("pigment series new.jpg --load left=0.4", "no name"),
        ("pigment series new.jpg --pigment red --load left", "'left'"),
        ("pigment series new.jpg --pigment red --load left=1 --load left=2", "twice"),
        ("pigment series new.jpg --pigment red --load middle=1", "'middle'"),
        ("pigment series new.jpg --pigment red --load left=0.01", "0.01 % of 100 g"),
        ("pigment series new.jpg --pigment red --load left=1 --cup nan", "'nan' can't be read as a number"),
        ("pigment series new.jpg --pigment red --load left=1 --state boiled", "no state"),
        ("pigment series new.jpg --pigment red --load left=1 --measured soon", "'soon'"),
        ("pigment show ochre", "'ochre'"),
        ("pigment set red", "already"),
        ("remove --pigment ochre", "no pigment called 'ochre'"),
        ("pigment set binder --max-load 3", "Clear base is not a pigment."),
        ("pigment set red --max-load nan", "nan"),
        ("pigment set red --price -1", "-1"),
        ("pigment set red --lot R-1 --since 2026-05-01", "already"),
        ("pigment set red --lot R-2 --since 2026-05-01 --strength 0", "Strength of the lot: 0 can't be right."),
        ("pigment set red --lot R-2 --since 2026-05-01 --strength 1 --test-mix 14", "both given"),
        ("pigment set red --lot R-2 --since 2026-05-01 --test-mix 99", "no record 99"),
        ("pigment set blue --lot B-2 --since 2026-05-01 --test-mix 14", "no blue in this test mix"),
        ("pigment set ochre --lot O-1 --since 2026-05-01", "'ochre'"),
    ],
)
def test_wrong_use_is_told_in_two_lines(desk, words, problem):
    before = open_library("halm.sqlite").counts()
    assert problem in refused(words)[0]
    assert open_library("halm.sqlite").counts() == before


@pytest.mark.parametrize(
    "words",
    [
        "pigment list --library nowhere.sqlite",
        "pigment list --cloth silk",
        "pigment show red --state heat-set",
        "pigment set red --lot R-2 --since 2026-05-01 --library nowhere.sqlite",
        "pigment series missing.jpg --pigment red --load left=1",
    ],
)
def test_what_cannot_be_had_is_refused(desk, words):
    refused(words, REFUSED)


@pytest.mark.parametrize("words", ["pigment", "pigment series", "pigment show", "pigment set", "pigment x"])
def test_half_a_command_is_wrong_use(desk, words):
    done = type_in(words)
    assert done.exit_code == WRONG_USE
    assert "Usage" in done.output


@given(load=st.one_of(ANY, st.builds("left={}".format, ANY)), cup=st.one_of(st.just("100"), ANY), name=ANY)
@settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_any_words_behind_series_get_an_answer(desk, load, cup, name):
    done = type_in(["pigment", "series", "new.jpg", f"--pigment={name}", f"--load={load}", f"--cup={cup}", "--json"])
    assert done.exit_code in (DONE, WRONG_USE, REFUSED)
    assert open_library("halm.sqlite").batches()  # whatever was kept can be read
