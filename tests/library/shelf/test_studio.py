"""What the studio has is said once, one thing at a time, and comes back; every word of it can be taken back."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from sqlalchemy import text

from swatchcam.errors import LibraryError, SwatchcamError
from swatchcam.library.changes import log, undo
from swatchcam.library.library import open_library
from swatchcam.library.records import State
from swatchcam.library.shelf.settings import FIELDS, Studio
from swatchcam.library.shelf.studio import set_studio, studio_of
from swatchcam.library.verify import verify
from swatchcam.messages.surface import PAGE, TERMINAL
from tests.paths import HOME

SAID = {
    "scale_g": 1.0,
    "spoon_ml": 4.8,
    "pot_g": 250.0,
    "card": "sample-card",
    "cloth": "Leinen, weiß „roh“",
    "state": State("heat-set", how="150 °C, 4 min, press"),
    "tolerance": 1.5,
}


def test_each_thing_is_said_alone_and_all_of_it_is_taken_back(library):
    assert set(SAID) == set(FIELDS)
    assert studio_of(library) == Studio()
    for name, value in SAID.items():
        before = studio_of(library)
        done = set_studio(library, **{name: value})
        assert getattr(studio_of(library), name) == value
        undo(library, done.number)
        assert studio_of(library) == before
        undo(library, log(library)[0].number)
    assert studio_of(library) == Studio(**SAID)
    assert verify(library)[1] == []


def test_what_is_said_again_counts_and_what_is_forgotten_does_not(library):
    set_studio(library, **SAID)
    set_studio(library, scale_g=0.1, cloth="  jute ")
    done = set_studio(library, forget=("tolerance", "state", "state"))
    assert studio_of(library) == Studio(0.1, 4.8, 250.0, "sample-card", "jute")
    assert TERMINAL.change(done.what) == "forgot the state and the tolerance"
    set_studio(library, tolerance=2.0)
    assert studio_of(library).tolerance == 2.0
    assert TERMINAL.change(log(library)[0].what) == "noted about your studio: the tolerance is 2"


REFUSED = (
    ({}, "not said what to change"),
    ({"forget": ("scale_g",)}, "not said what to change"),
    ({"scale_g": 0.0}, "Smallest step of the scale: 0 g"),
    ({"scale_g": float("nan")}, "Smallest step of the scale"),
    ({"spoon_ml": 500.0}, "Size of the spoon: 500 ml can't be right"),
    ({"pot_g": -5.0}, "What you usually mix: -5 g"),
    ({"tolerance": -1.0}, "olerance"),
    ({"cloth": " "}, "The cloth has no name"),
    ({"card": "no-such-card"}, "no-such-card"),
    ({"state": State("wet")}, "Wet ink changes colour"),
)


@pytest.mark.parametrize(("said", "told"), REFUSED)
def test_what_makes_no_sense_is_refused_and_changes_nothing(tmp_path, said, told):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    with pytest.raises(SwatchcamError) as refusal:
        set_studio(library, **{"pot_g": 100.0} | said if said and "forget" not in said else said)
    assert told in TERMINAL.refusal(refusal.value)
    assert (studio_of(library), log(library)) == (Studio(), [])


def test_a_card_in_a_file_keeps_its_place(tmp_path, monkeypatch):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    shutil.copy(HOME / "calibration" / "sample-card.csv", tmp_path / "mine.csv")
    monkeypatch.chdir(tmp_path)
    for typed in ("mine.csv", "./mine.csv", str(tmp_path / "mine.csv")):
        done = set_studio(library, card=typed)
        assert PAGE.change(done.what) == "noted about your studio: the card is 'mine.csv'"
        assert studio_of(library).card == str(Path(tmp_path) / "mine.csv")


def test_what_a_later_version_noted_is_no_traceback(tmp_path):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    set_studio(library, scale_g=1.0)
    for damage in ("value = '{'", "name = 'colour of the door'"):
        with library.engine.begin() as connection:
            connection.execute(text(f"UPDATE studio SET {damage}"))
        assert [found.what.code for found in verify(library)[1]] == ["library-row-unreadable"]
        with pytest.raises(LibraryError):
            studio_of(library)
