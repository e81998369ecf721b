"""`swatchcam shelf`: what is left in words and for programs, from the first weighing to the last drop; no traceback."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import proposals
from swatchcam.library.shelf.pigments import pigment, set_pigment
from swatchcam.recipes.drops import counted_drops
from swatchcam.recipes.safety import INK, POWDER, subjects_of
from tests.cli.keyboard import answer, refused, type_in
from tests.cli.test_mix import AGAIN, ANY, CORRECT, DONE, FEW, REFUSED, THIN, WRONG_USE, laid_out
from tests.cli.test_mix import stocked as stocked  # noqa: PLC0414 - a fixture


@pytest.fixture
def desk(stocked, tmp_path, monkeypatch):
    """A copy of a studio's library, in which pots are mixed; two pigments are on its shelf."""
    folder = laid_out(stocked, tmp_path / "desk", monkeypatch)
    for ink in ("red", "yellow"):
        set_pigment(open_library(), ink, price=3.0)
    return folder


@pytest.fixture
def bare(tmp_path, monkeypatch):
    """An empty place."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWATCHCAM_LIBRARY", str(tmp_path / "halm.sqlite"))
    return tmp_path


def said(words):
    done = type_in(words)
    assert (done.exit_code, done.stderr) == (DONE, ""), done.output
    return done.stdout


def pots():
    return {f"{pot['shade']} {pot['batch']}": pot["grams"] for pot in answer("shelf list")["pots"]}


def pigments():
    return {each["pigment"]: each["grams"] for each in answer("shelf list")["pigments"]}


# --- pots that are proposed ---------------------------------------------------------------------------------


def test_old_pots_stay_quiet_and_a_kept_recipe_is_on_the_shelf(desk):
    assert said("shelf list").splitlines() == ["Pigments:", *(f"  {ink:<6}  not weighed yet" for ink in pigments())]
    for ink, grams in {"red": "250,5", "yellow": "300 g", "clear base": "5000"}.items():
        said(["shelf", "weigh", ink, grams])
    facts = answer(f"mix recipe --shade orange --grams 300 {FEW} --keep --as 3")
    weighed = {step["what"]: step["grams"] for each in facts["weighing"] for step in each["steps"]}
    assert pots() == {"orange 3": 300.0}
    left = {ink: grams for ink, grams in pigments().items() if grams is not None}
    assert left["red"] == pytest.approx(250.5 - weighed["red"], abs=1e-9)
    assert left["yellow"] == pytest.approx(300 - weighed["yellow"], abs=1e-9)
    assert left["clear base"] == pytest.approx(5000 - 300 + weighed["red"] + weighed["yellow"], abs=1e-9)
    assert "  orange, 3  300 g, mixed today" in said("shelf list")
    (kept,) = proposals(open_library())
    said(f"remove --proposal {kept.number}")
    assert (pots(), pigments()["red"]) == ({}, 250.5)


def test_a_corrected_pot_goes_into_the_next_one(desk):
    said("shelf weigh 'orange 2' 480")
    said("shelf weigh yellow 100")
    facts = answer(f"{CORRECT} --keep")
    added = sum(step["grams"] for each in facts["weighing"] for step in each["steps"])
    assert pots() == {"orange 2.1": pytest.approx(480 + added)}
    yellow = sum(step["grams"] for step in facts["weighing"][0]["steps"] if step["what"] == "yellow")
    assert 0 < yellow == pytest.approx(100 - pigments()["yellow"])


def test_thinning_takes_only_what_it_needs_and_a_leftover_is_used_up(desk):
    said("shelf weigh 'orange 2' 480")
    facts = answer(f"{THIN} --keep --as pale")
    ink = facts["choices"][0]["roads"]["fresh_pot"]["strong_ink_grams"]
    assert pots() == {"orange 2": pytest.approx(480 - ink), "orange pale": pytest.approx(300, abs=1)}
    said("shelf weigh 'orange 2' 125")
    answer(f"{AGAIN} --keep --as again")
    assert pots()["orange again"] == 600.0
    assert "orange 2" not in pots()  # 120 g of it went in, and that was all


# --- weighing -----------------------------------------------------------------------------------------------


def test_what_is_left_and_what_was_taken(desk):
    assert "Noted that 212.5 g are left of batch '2' of 'orange'." in said("shelf weigh 'orange 2' '212,5 g'")
    assert "85 g were taken out of batch '2' of 'orange'; 127.5 g are left" in said("shelf weigh 'orange 2' 85 --took")
    told = said("shelf weigh 'orange 2' 200 --took")
    assert "72.5 g more than the shelf knew of, so weigh what is left" in told
    assert "0 g (weigh it: 72.5 g more were taken than was known to be there)" in said("shelf list")
    assert "(the shelf said 0 g)" in said("shelf weigh 'orange 2' 30")
    assert pots() == {"orange 2": 30.0}
    assert "Undid change" in said(f"undo {answer('undo')['changes'][0]['number']}")
    assert pots() == {"orange 2": 0.0}
    said("shelf weigh 'orange 2' 0")
    assert pots() == {}


REFUSED_WORDS = {
    "shelf weigh '' 5": ("no pot, pre-mix or pigment called ''", "such as 'river blue 3'"),
    "shelf weigh ochre 5": ("called 'ochre'", 'swatchcam pigment set "ochre"'),
    "shelf weigh 'orange 2' much": ("can't be read as a number", "type a number"),
    "shelf weigh 'orange 2' 0 --took": ("Weight of the ink: 0 g can't be right", "0.0001"),
    "shelf weigh 'orange 2' 5000000": ("Weight of the ink", "1000000"),
    "shelf weigh 'orange 7' 5": ("no pot, pre-mix or pigment called 'orange 7'", "Did you mean"),
    "shelf weigh orange 5": ("'orange' can be more than one thing", "'pot orange, 1', 'pot orange, 2'"),
    "shelf pre-mix redd": ("'redd' is new: did you mean 'red'?", "Write 'red'"),
    "shelf pre-mix binder": ("Clear base is not a pigment", "Name a pigment"),
    "shelf pre-mix red --percent 60": ("60 % can't be right", "between"),
    "shelf pre-mix red --percent 0": ("can't be right", "between"),
    "shelf pre-mix red --scale 0": ("can't be right", "between"),
    "shelf pre-mix red --ink-grams 5": ("isn't going to be kept", "--keep"),
    "shelf pre-mix red --keep --ink-grams 0": ("Amount of pigment: 0 g", "between"),
    "shelf pre-mix red --keep --mixed morgen": ("'morgen' is not a date", "2026"),
    "shelf pre-mix red --keep --counted 3 --scale 1": ("Weight of one drop", "between"),
    "shelf pre-mix 'red 10 %'": ("name of a pre-mix", 'swatchcam shelf pre-mix "red" --percent 10'),
    "shelf pre-mix red --keep --mixed 2999-01-01": ("still to come", "Write the day it was mixed"),
    "shelf pre-mix red --percent 1 --keep": ("made from 'red 10 %', which is not on the shelf", "Make that one first"),
}


@pytest.mark.parametrize("words", REFUSED_WORDS)
def test_what_makes_no_sense_is_refused_in_words(desk, words):
    problem, remedy = refused(words)
    assert REFUSED_WORDS[words][0] in problem
    assert REFUSED_WORDS[words][1] in remedy


# --- pre-mixes ----------------------------------------------------------------------------------------------


def test_a_pre_mix_is_worked_out_made_and_used(bare):
    said("studio --scale 1")
    said("shelf weigh 'clear base' 1000")
    told = said("shelf pre-mix bleu --percent 1") if (bare / "halm.sqlite").exists() else ""
    assert "1. Weigh 20 g of bleu and 180 g of clear base, and mix well: that is bleu 10 %." in told
    assert "2. Weigh 20 g of bleu 10 % and 180 g of clear base, and mix well: that is bleu 1 %." in told
    kept = answer(
        "shelf pre-mix bleu --keep --ink-grams 20 --base-grams '181 g' --counted 390 --lot 'B 7' --mixed 2026-02-03"
    )
    assert kept["makings"][0]["percent"] == pytest.approx(2000 / 201, abs=1e-4)
    assert kept["kept"]["facts"]["lot"] == "B 7"
    assert pigment(open_library(), "bleu").drops == counted_drops(390, 20.0, 1.0)
    weak = said("shelf pre-mix BLEU --percent 1 --keep")
    assert weak.startswith("Put 199 g of pre-mix 'bleu 1 %' (lot B 7) on the shelf.\nWrite on it: bleu 1 %")
    listed = said("shelf list")
    assert re.search(r"bleu 10 %  181 g, mixed 2026-02-03, \d+ days old, lot B 7", listed)
    assert "bleu 1 %   199 g, mixed today, lot B 7" in listed
    assert pigments() == {"bleu": None, "clear base": 640.0}
    (weak, strong) = answer("shelf list")["pre_mixes"]
    assert (weak["percent_std"] / weak["percent"] > strong["percent_std"] / strong["percent"]) is True


def test_a_day_ahead_is_told_as_it_stands(bare):
    tomorrow = (date.today() + timedelta(days=1)).isoformat()
    said(f"shelf pre-mix bleu --keep --mixed {tomorrow}")
    assert f"g, mixed {tomorrow}\n" in said("shelf list")


def test_a_pre_mix_is_weighed_with_care(bare):
    said("studio --scale 1")
    plain, dry = answer("shelf pre-mix red")["care"], answer("shelf pre-mix 'black powder'")["care"]
    assert subjects_of(plain) == (INK,)
    assert subjects_of(dry) == (INK, POWDER)
    assert all(line in said("shelf pre-mix 'black powder'") for line in dry)
    assert answer("shelf pre-mix 'black powder' --keep")["care"] == []


def test_more_may_be_asked_for_than_is_least(bare):
    said("studio --scale 0.1")
    assert answer("shelf pre-mix 黒 --grams 500")["makings"][0]["ink_grams"] == 60.0  # and a fifth more, to spare
    assert answer("shelf pre-mix 黒 --scale 0.01")["makings"][0]["ink_grams"] == 0.2


def test_nothing_is_on_an_empty_shelf(bare):
    assert refused("shelf list", REFUSED)
    said("studio --scale 0.1")
    assert said("shelf list") == "Nothing is on the shelf yet.\n"


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(what=ANY, grams=ANY, took=st.booleans())
def test_whatever_is_typed_is_answered_or_refused(desk, what, grams, took):
    done = type_in(["shelf", "weigh", *(["--took"] if took else []), "--", what, grams])
    assert done.exit_code in (DONE, WRONG_USE, REFUSED)
