"""`swatchcam mix` aims at the state of the target, and says how the dry strip must look."""

from __future__ import annotations

from pathlib import Path

import pytest

from swatchcam.library.changes import set_target
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import proposals
from tests.cli.keyboard import answer, refused, type_in
from tests.worlds.mixing_library import FINISHED, ORANGE, WANTED, desk_in, finished_shop

RECIPE = "mix recipe --target 55,40,30 --grams 300 --scale 0.01"
CORRECT = "mix correct today.jpg --shade orange --in-pot 480 --scale 0.01"
HEAT_SET = str(FINISHED)


@pytest.fixture
def desk(finished_stock, tmp_path, monkeypatch):
    camera = desk_in(finished_stock, tmp_path / "desk", monkeypatch)
    camera.lay(Path("today.jpg"), left=WANTED, right=ORANGE)
    return open_library("halm.sqlite")


@pytest.mark.parametrize("typed", ["heat-set", "heat-set 150 C 4 min press", "washed 1"])
def test_a_recipe_aims_at_the_state_that_is_said(desk, typed):
    facts = answer([*RECIPE.split(), "--target-state", typed])
    assert facts["state"] == facts["target"]["state"]
    assert facts["state"].partition(",")[0] in ("heat-set", "washed once")
    assert all(choice["when_dry"] for choice in facts["choices"])


def test_how_the_dry_strip_must_look_is_said_with_its_interval(desk):
    done = type_in([*RECIPE.split(), "--target-state", HEAT_SET])
    best = answer([*RECIPE.split(), "--target-state", HEAT_SET])["choices"][0]["when_dry"]
    assert f"When dry, it must look like this: {best['srgb_approx']}" in done.stdout
    counts = f"What counts is the colour once it is {HEAT_SET}."
    assert f"give or take {best['interval95_ciede2000']:.1f}. {counts}" in done.stdout
    assert done.stdout.splitlines()[0].endswith(HEAT_SET)
    assert "--target-state" not in done.stdout
    dry = type_in(f"{RECIPE} --target-state air-dried").stdout
    assert "Then make a strip, let it dry, and measure it before you print." in dry
    assert "must look like this" not in dry


def test_nothing_is_guessed_silently(desk):
    assert "--target-state" in type_in(RECIPE).stdout
    (flag,) = [one for one in answer(RECIPE)["flags"] if one["code"] == "target-state-unsaid"]
    assert "air-dried" in flag["sentence"]


def test_few_strips_are_told_and_which_to_heat_set_next(tmp_path, monkeypatch):
    folder = tmp_path / "few"
    folder.mkdir()
    finished_shop(str(folder / "halm.sqlite"), folder, pairs=2)
    desk_in(folder, tmp_path / "desk", monkeypatch)
    words = f"{RECIPE} --target-state heat-set"
    facts = answer(words)
    (few,) = [one for one in facts["flags"] if one["code"] == "few-in-state"]
    assert few["facts"]["count"] == 2
    assert facts["treat_next"]
    assert facts["treat_words"] in type_in(words).stdout


def test_a_dry_strip_of_the_pot_is_corrected_towards_the_finished_colour(desk):
    set_target(desk, "orange", (50.0, 45.0, 40.0), state=FINISHED)
    facts = answer(f"{CORRECT} --keep --as 1.1")
    assert (facts["state"], facts["target"]["state"], facts["pot"]["batch"]) == (HEAT_SET, HEAT_SET, "1")
    assert desk.record(facts["pot"]["record"]).state.name == "air-dried"
    (made,) = proposals(desk)
    assert (str(made.state), str(made.target_state)) == (HEAT_SET, HEAT_SET)
    (waiting,) = answer("mix predictions")["waiting"]
    assert (waiting["state"], waiting["target_state"]) == (HEAT_SET, HEAT_SET)
    assert f"orange, batch 1.1 ({HEAT_SET}): " in type_in("mix predictions").stdout


def test_a_state_of_the_pots_strip_and_one_of_the_target(desk):
    facts = answer(f"{CORRECT} --target-strip left --state heat-set --target-state air-dried --keep")
    assert (facts["state"], facts["target"]["state"]) == ("air-dried", "air-dried")
    assert desk.record(facts["pot"]["record"]).state.name == "heat-set"


def test_a_strip_beside_the_pots_that_counts_like_it_is_told_where_the_shade_is_to_be_heat_set(desk):
    def flags(words):
        return [one for one in answer(words)["flags"] if one["code"] == "target-taken-like-the-pot"]

    assert not flags(f"{CORRECT} --target-strip left")
    set_target(desk, "orange", (50.0, 45.0, 40.0), state=FINISHED)
    (told,) = flags(f"{CORRECT} --target-strip left")
    assert told["facts"] == {"taken": "air-dried", "shade": "orange", "known": HEAT_SET}
    for said in ("--target-strip left --target-state air-dried", "--target-strip left --target-state heat-set", ""):
        assert not flags(f"{CORRECT} {said}")


def test_a_state_that_nobody_said_is_in_no_command_to_copy(desk):
    for said, copied in (("", False), ("--target-state air-dried", True)):
        kept = type_in(f"{RECIPE} {said} --shade plum{copied} --keep").stdout
        (line,) = [line for line in kept.splitlines() if "swatchcam shade set" in line]
        assert ("--target-state" in line) == copied


def test_what_contradicts_the_library_or_is_a_third_state_is_refused(desk):
    set_target(desk, "orange", (50.0, 45.0, 40.0), state=FINISHED)
    before = desk.counts()
    problem, remedy = refused("mix again orange --grams 300 --target-state air-dried")
    assert problem == f"You said that the target is air-dried, but it is kept as {HEAT_SET}."
    assert remedy == "Leave out --target-state, or correct the state where it is kept."
    problem, remedy = refused([*CORRECT.split(), "--state", "washed 2"])
    assert problem == f"The target is {HEAT_SET}, but the pot's strip is washed 2 times."
    assert "air-dried" in remedy
    told = answer("mix again orange --grams 300 --target-state air-dried", 2)["refused"]
    assert (told["code"], told["facts"]) == ("target-in-other-state", {"said": "air-dried", "known": HEAT_SET})
    told = answer([*CORRECT.split(), "--state", "washed 2"], 2)["refused"]
    assert (told["code"], told["facts"]) == ("third-state", {"target": HEAT_SET, "strip": "washed 2 times"})
    assert desk.counts() == before


def test_a_shade_takes_the_colour_and_the_state_it_was_made_for(desk):
    done = type_in([*RECIPE.split(), "--target-state", HEAT_SET, "--shade", "rust", "--keep", "--as", "1"])
    line = next(line for line in done.stdout.splitlines() if "swatchcam shade set" in line)
    type_in(line.partition("swatchcam ")[2])
    assert str(desk.shade("rust").target_state) == HEAT_SET
    assert answer("mix again rust --grams 300")["target"]["state"] == HEAT_SET


@pytest.mark.parametrize("words", [RECIPE, f"{CORRECT} --target 55,40,30"])
def test_no_pot_is_mixed_to_match_wet_ink(desk, words):
    done = type_in(f"{words} --target-state wet")
    assert done.exit_code == 2
    assert "changes colour as it dries" in done.stderr
