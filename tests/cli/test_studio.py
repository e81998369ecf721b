"""`swatchcam studio`: what is said once is the default of every other command, and whatever is said there wins."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from swatchcam.library.library import open_library
from swatchcam.library.shelf.pigments import set_pigment
from swatchcam.library.shelf.settings import Studio
from swatchcam.library.shelf.studio import studio_of
from tests.cli.keyboard import answer, refused, type_in
from tests.cli.test_mix import DONE, REFUSED, WRONG_USE, laid_out
from tests.cli.test_mix import stocked as stocked  # noqa: PLC0414 - a fixture
from tests.paths import SAMPLES

ALL = (
    "studio --scale 1 --spoon '10 spoons of water = 50 g' --grams '250 g' --card sample-card --cloth 'white cotton'"
    " --state 'heat-set 150 C 4 min press' --tolerance 1,5 --drops 'Bleu: 200 drops = 10,2 g'"
)


@pytest.fixture
def bare(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWATCHCAM_LIBRARY", str(tmp_path / "halm.sqlite"))
    return tmp_path


@pytest.fixture
def desk(stocked, tmp_path, monkeypatch):
    return laid_out(stocked, tmp_path / "desk", monkeypatch)


def said(words):
    done = type_in(words)
    assert (done.exit_code, done.stderr) == (DONE, ""), done.output
    return done.stdout


def test_what_is_said_is_shown_and_taken_back(bare):
    told = said(ALL)
    assert told.startswith("Noted about your studio: the scale has steps of 1 g")
    assert "Put pigment 'Bleu' on the shelf and noted what a drop of it weighs." in told
    shown = said("studio")
    for line in ("steps of 1 g", "5 ml", "250 g", "white cotton", "heat-set, 150 °C", "1.5 CIEDE2000", "Bleu: 0.051 g"):
        assert line in shown
    assert "Not said yet" not in shown
    facts = answer("studio")
    assert (facts["scale_grams"], facts["spoon_millilitres"], facts["pot_grams"]) == (1.0, 5.0, 250.0)
    (drops,) = facts["drops"]
    assert (drops["of"], drops["grams"]) == ("Bleu", 0.051)
    assert drops["percent_std"] > 100 / (10.2 * math.sqrt(6))  # the scale's part of it alone
    assert "Forgot the spoon and the cloth." in said("studio --forget cloth --forget spoon")
    assert said("studio").endswith("Not said yet: --spoon, --cloth.\n")
    said("undo 3")
    assert studio_of(open_library()).cloth == "white cotton"


def test_nothing_is_known_of_a_new_studio(bare):
    assert refused("studio", REFUSED)
    said("studio --scale 0.1")
    said("studio --forget scale")
    assert said("studio").splitlines() == [
        "Nobody has said yet what the studio has.",
        "Not said yet: --scale, --spoon, --grams, --card, --cloth, --state, --tolerance, --drops.",
    ]


REFUSED_WORDS = {
    "studio --scale 0": "Smallest step of the scale: 0 g",
    "studio --scale fine": "can't be read as a number",
    "studio --grams 0": "What you usually mix: 0 g",
    "studio --spoon big": "can't be read as what a spoon holds",
    "studio --spoon '1 spoon = 5 g' --scale 1": "too little to go by on this scale",
    "studio --drops '200 drops = 10 g'": "doesn't say which bottle",
    "studio --drops 'blue: many'": "can't be read as drops",
    "studio --drops 'blue: 20 drops = 1 g' --scale 1": "too little to go by on a scale",
    "studio --drops 'blue 1 %: 200 drops = 10 g'": "no pre-mix called 'blue 1 %'",
    "studio --state wet": "Wet ink changes colour",
    "studio --state ironed": "ironed",
    "studio --cloth ' '": "The cloth has no name",
    "studio --tolerance -1": "olerance",
    "studio --forget scale": "not said what to change",
}


@pytest.mark.parametrize("words", REFUSED_WORDS)
def test_what_makes_no_sense_is_refused_and_nothing_is_noted(bare, words):
    assert REFUSED_WORDS[words] in refused(words)[0]
    assert studio_of(open_library(create=True)) == Studio()


def test_a_card_that_is_not_there_is_refused(bare):
    assert "no-such-card" in refused("studio --card no-such-card", REFUSED)[0]


def test_a_misspelt_bottle_is_asked_about(bare):
    said("studio --drops 'blue: 200 drops = 10 g' --scale 0.1")
    assert refused("studio --drops 'bleu: 200 drops = 10 g'")[0] == "'bleu' is new: did you mean 'blue'?"


# --- it counts where nobody says otherwise ------------------------------------------------------------------


def test_the_usual_pot_and_scale_are_mixed_unless_others_are_said(desk):
    wanted = "mix recipe --target 53.7,44.7,57.1 --pigments red,yellow"
    missing = type_in(wanted)
    assert (missing.exit_code, "--grams" in missing.stderr) == (WRONG_USE, True)
    said("studio --scale 1 --grams 250")
    usual = answer(wanted)
    assert usual["weighing"][0]["grams"] == 250.0
    grams = [step["grams"] for each in usual["weighing"] for step in each["steps"]]
    assert all(weight == round(weight) for weight in grams)
    assert usual == answer(f"{wanted} --grams 250 --scale 1")
    assert answer(f"{wanted} --grams 300 --scale 0.01")["weighing"][0]["grams"] == 300.0


def test_the_usual_cloth_counts_and_a_new_one_is_told(desk):
    said("studio --cloth 'white cotton' --grams 300")
    wanted = "mix recipe --target 53.7,44.7,57.1 --pigments red,yellow"
    assert answer(wanted)["cloth"] == "white cotton"
    assert answer("pigment list")["cloth"] == "white cotton"
    said("studio --cloth jute")
    assert "jute" in refused(wanted, REFUSED)[0]
    assert answer(f"{wanted} --cloth 'white cotton'")["cloth"] == "white cotton"


def test_the_usual_state_is_what_a_colour_is_wanted_in(desk):
    wanted = "mix recipe --target 53.7,44.7,57.1 --pigments red,yellow --grams 300"
    before = answer(wanted)
    said("studio --state air-dried")
    assert answer(wanted) == answer(f"{wanted} --target-state air-dried")
    assert before["choices"] == answer(wanted)["choices"]
    by_record = "mix recipe --record 14 --grams 300 --pigments red,yellow"
    said("studio --state 'washed 3'")
    assert answer(by_record)["choices"]  # the library knows the state of a record


def test_drops_and_spoons_in_a_recipe_are_the_studios(desk):
    set_pigment(open_library(), "red", density=1.2)
    said("studio --spoon '5 ml' --scale 1 --drops 'yellow: 200 drops = 12 g'")
    typed = 'batch orange 2 --recipe "clear base 400 g, red 2 spoons, yellow 10 drops, blue 2 drops"'
    said(typed)
    (batch,) = [one for one in open_library().batches("orange") if one.name == "2"]
    parts = {part.what: part for part in batch.recipe.parts}
    assert parts["red"].grams == pytest.approx(12.0)
    assert parts["yellow"].grams == pytest.approx(0.6)
    assert parts["yellow"].source == "drops of yellow"
    assert parts["blue"].grams == pytest.approx(0.1)
    assert parts["binder"].grams_std == pytest.approx(1 / math.sqrt(6))
    said(f"{typed} --drop 0.03 --scale 0.1")
    (batch,) = [one for one in open_library().batches("orange") if one.name == "2"]
    assert [round(part.grams, 3) for part in batch.recipe.parts[2:]] == [0.3, 0.06]
    assert batch.recipe.parts[0].grams_std == pytest.approx(0.1 / math.sqrt(6))


def test_a_strip_is_measured_checked_and_kept_as_the_studio_usually_does_it(bare, remembered):
    photo = str(shutil.copy(SAMPLES / "good_pair.jpg", bare / "today.jpg"))
    nominal = answer(["check", photo], code=type_in(["check", photo]).exit_code)
    said("studio --card sample-card --tolerance 9 --cloth jute")
    usual = answer(["check", photo])
    assert usual["tolerance"] == 9.0
    assert usual != nominal
    assert usual == answer(["check", photo, "--card", "sample-card", "--tolerance", "9"])
    code = type_in(["check", photo, "--tolerance", "0.1"]).exit_code
    assert answer(["check", photo, "--tolerance", "0.1"], code)["tolerance"] == 0.1
    assert answer(["measure", photo]) == answer(["measure", photo, "--card", "sample-card"])
    kept = answer(["keep", photo, "--shade", "Brick", "--recipe", "clear base 500 g, red 3 g"])
    assert kept["record"]["cloth"] == "jute"
    said("shade set Brick --from-record 1")
    against = ["check", photo, "--strip", "left", "--shade", "Brick", "--against-target"]
    assert answer(against)["tolerance"] == 9.0
    said("shade set Brick --tolerance 7")
    assert answer(against)["tolerance"] == 7.0


def test_a_library_that_cannot_be_read_keeps_nobody_from_measuring(bare, remembered):
    photo = str(SAMPLES / "good_pair.jpg")
    before = answer(["measure", photo])
    Path("halm.sqlite").write_bytes(b"no library at all")
    assert answer(["measure", photo]) == before
