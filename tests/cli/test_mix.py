"""`swatchcam mix`: words, one object for programs, exit codes, pages, and no traceback whatever is typed."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.cli import main
from swatchcam.errors import UsageError
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import proposals
from swatchcam.mixing import fresh_pot, pot_in_hand
from swatchcam.mixing.target import target_of
from tests.cli.keyboard import answer, refused, type_in
from tests.colorimetry.spellings import LAB, SPELLINGS
from tests.worlds.mixing_library import Camera, Shop, desk_in

DONE, WRONG_USE, REFUSED = 0, 2, 3
ORANGE, DEEP, PALE = {"red": 1.0, "yellow": 1.0}, {"red": 1.6, "yellow": 2.2}, {"red": 0.5, "yellow": 0.5}
FEW = "--pigments red,yellow --scale 0.01"
RECIPE = f"mix recipe --target 53.7,44.7,57.1 --grams 300 {FEW}"
CORRECT = f"mix correct today.jpg --shade orange --in-pot 480 --target-strip left {FEW}"
THIN = f"mix correct pale.jpg --shade orange --in-pot 480 --thin 300 --target-strip left {FEW}"
AGAIN = f"mix again orange --grams 600 --leftover 2=120 {FEW}"
USE_UP = f"mix use-up --shade orange --grams 300 --leftover 'orange 1=120' {FEW}"


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    """A folder with a library: test series of four inks on one cloth, and a pot of orange, mixed and measured."""
    folder = tmp_path_factory.mktemp("stocked")
    shop = Shop(open_library(str(folder / "halm.sqlite"), create=True), folder / "shots")
    shop.all_series()
    shop.keep(DEEP, "orange", "1")
    shop.keep(ORANGE, "orange", "2", measured="2026-03-02")
    return folder


@pytest.fixture(scope="module")
def patch():
    with pytest.MonkeyPatch.context() as patch:
        yield patch


@pytest.fixture(scope="module")
def counter(stocked, tmp_path_factory, patch):
    """One copy of it in which commands are typed that keep nothing; photos of pots lie there."""
    folder = tmp_path_factory.mktemp("counter") / "desk"
    return laid_out(stocked, folder, patch)


@pytest.fixture
def desk(stocked, tmp_path, monkeypatch):
    """A copy of its own, for commands that keep something."""
    return laid_out(stocked, tmp_path / "desk", monkeypatch)


def laid_out(stocked, folder, patch):
    camera = desk_in(stocked, folder, patch)
    camera.lay(Path("today.jpg"), left=DEEP, right=ORANGE)
    camera.lay(Path("pale.jpg"), left=PALE, right=ORANGE)
    return folder


# --- every command in words and for programs ---------------------------------------------------------------

SAID = {
    RECIPE: ["A new pot for 53.7,44.7,57.1", "(recommended)", "What to weigh", "300 g in the pot after that"],
    f"mix recipe --shade orange --grams 300 {FEW}": ["A new pot for record 15 (orange, batch 2, air-dried)"],
    f"mix recipe --record 14 --grams 300 {FEW}": ["A new pot for record 14 (orange, batch 1, air-dried)"],
    f"mix recipe --target today.jpg:left --grams 300 {FEW}": ["A new pot for today.jpg:left", "under a bulb"],
    CORRECT: [
        "Correcting this pot towards today.jpg:left",
        "The pot now (batch 2)",
        "Nothing was kept. Add --keep to keep the strip",
        "yellow",
        "Added in all",
    ],
    THIN: ["Thinning this pot towards pale.jpg:left", "batch 2", "Topping up"],
    AGAIN: ["120 g left of batch 2", "Look and smell first", "600 g in the pot after that"],
    USE_UP: [
        "Using up leftovers for record 15 (orange, batch 2, air-dried)",
        "g of old ink and saves",
        "left of batch 1 of orange",
        "Look and smell first",
        "300 g in the pot after that",
    ],
    f"mix use-up --leftover 'orange 1=120' {FEW}": [
        "Your leftovers come nearest to these shades:",
        "1. orange: uses up",
    ],
    "mix predictions": ["No proposal has been measured yet."],
    f"mix correct today.jpg --unknown --in-pot 300 --record 14 {FEW}": ["Correcting this pot towards record 14"],
}
KINDS = {RECIPE: "recipe", CORRECT: "correction", THIN: "thinning", AGAIN: "again", USE_UP: "use-up"}


@pytest.mark.parametrize("words", SAID)
def test_a_command_says_what_is_to_be_done(counter, words):
    done = type_in(words)
    assert done.exit_code == DONE, done.output
    for line in SAID[words]:
        assert line in done.stdout
    assert done.stderr == ""


@pytest.mark.parametrize("words", KINDS)
def test_a_program_gets_the_same(counter, words):
    facts = answer(words)
    assert facts["kind"] == KINDS[words]
    assert facts["choices"][0]["recommended"]
    assert facts["cloth"] == "white cotton"
    assert facts["weighing"][0]["steps"]


def test_for_a_new_cloth_pigments_are_carried_over_once_a_photo_shows_it_bare(desk):
    """A film over raw linen is darker than over bleached cotton."""
    problem, remedy = refused(f"{RECIPE} --cloth linen", REFUSED)
    assert "linen" in problem
    assert '--shade "bare cloth" --cloth "linen"' in remedy
    Shop(open_library("halm.sqlite"), desk / "shots").keep_bare("linen")
    said = type_in(f"{RECIPE} --cloth linen")
    assert said.exit_code == DONE
    assert "carried over from white cotton: no air-dried strip on linen has a recipe yet" in said.stdout
    facts, known = answer(f"{RECIPE} --cloth linen"), answer(RECIPE)
    assert facts["cloth"] == "linen"
    first, usual = (each["choices"][0]["predicted"] for each in (facts, known))
    assert first["interval95_ciede2000"] > usual["interval95_ciede2000"] + 1
    alone = answer("pigment show red --cloth linen")
    assert alone["measured"] == []
    assert alone["curve"][0]["L"] < answer("pigment show red --cloth 'white cotton'")["curve"][0]["L"] - 2


@pytest.mark.parametrize("text", SPELLINGS)
def test_every_spelling_of_a_colour_is_taken(counter, monkeypatch, text):
    seen = []

    def spied(*asked):
        seen.append(target_of(*asked)[0].lab)
        raise UsageError("Seen.", "Go home.")

    pot = ["correct", "today.jpg", "--unknown", "--in-pot", "300"]
    for module, words in ((fresh_pot, ["recipe", "--grams", "300"]), (pot_in_hand, pot)):
        monkeypatch.setattr(module, "target_of", spied)
        refused(["mix", *words, "--target", text])
    assert set(seen) == {LAB}
    assert len(seen) == 4  # each in words and for a program


def test_what_is_left_of_a_batch_may_have_a_comma(counter):
    comma = answer(f"mix again orange --grams '600,5 g' --leftover '2=120,5 g' {FEW.replace('.', ',')}")
    assert comma == answer(f"mix again orange --grams 600.5 --leftover 2=120.5 {FEW}")
    assert comma["rests"][0]["grams"] == 120.5


def test_without_a_colour_a_program_gets_a_pot_for_each_shade(counter):
    (shade,) = answer(f"mix use-up --leftover 'orange 1=120' {FEW}")["shades"]
    assert (shade["shade"], shade["kind"]) == ("orange", "use-up")
    (rest,) = shade["choices"][0]["rests"]
    assert (rest["called"], rest["grams"], rest["left_grams"]) == ("batch 1 of orange", 120, 120)
    whole = shade["choices"][0]
    assert whole["base_saved_grams"] + whole["pigment_saved_grams"] == pytest.approx(120, abs=0.02)


def test_predictions_are_there_for_programs(counter):
    assert answer("mix predictions")["of"] == 0
    assert answer("mix predictions --shade orange")["proposals"] == []


def test_a_correction_comes_out_again_if_it_is_asked_for_again(counter):
    assert answer(CORRECT) == answer(CORRECT)


# --- kept --------------------------------------------------------------------------------------------------


def test_from_the_recipe_to_the_hit(desk):
    """What was proposed is kept, mixed as it was said, measured, corrected, and judged."""
    kept = answer(f"mix recipe --target today.jpg:left --grams 480 {FEW} --shade rust --keep --as 7")
    assert kept["kept"] == {"proposal": 1, "shade": "rust", "batch": "7"}
    pot = {part["what"]: part["grams"] for part in kept["choices"][0]["pot"]}
    with pytest.MonkeyPatch.context() as patch:
        camera = Camera(Shop(open_library("halm.sqlite"), desk).world, patch)
        mixed = {name: 100 * grams / 480 for name, grams in pot.items() if name != "clear base"}
        camera.lay(Path("mixed.jpg"), left=DEEP, right=mixed)
        words = f"mix correct mixed.jpg --shade rust --in-pot 470 --target-strip left {FEW} --keep"
        corrected = answer(words)
    assert corrected["pot"]["batch"] == "7"
    assert corrected["pot"]["ciede2000_from_target"] < 3
    assert answer("mix predictions")["held"] == 1
    assert "1 of 1 prediction held" in type_in("mix predictions").stdout


def test_a_correction_is_kept_as_the_next_batch(desk):
    done = type_in(f"{CORRECT} --keep")
    assert done.stdout.rstrip().endswith("Kept as batch 2.1 of orange.")
    (kept,) = proposals(open_library("halm.sqlite"))
    assert (kept.from_batch, kept.batch) == ("2", "2.1")


def test_without_keep_no_proposal_is_kept(desk):
    for words in (RECIPE, CORRECT):
        assert type_in(words).exit_code == DONE
    assert proposals(open_library("halm.sqlite")) == []


def test_without_keep_a_correction_writes_nothing_and_teaches_nothing(desk):
    before = Path("halm.sqlite").read_bytes()
    strips = answer(CORRECT)["known_strips"]
    assert answer(CORRECT)["known_strips"] == strips
    assert Path("halm.sqlite").read_bytes() == before
    assert len(open_library("halm.sqlite").records()) == 15


def test_the_strip_of_a_pot_that_is_better_left_is_kept_and_that_is_no_error(desk):
    with pytest.MonkeyPatch.context() as patch:
        camera = Camera(Shop(open_library("halm.sqlite"), desk).world, patch)
        camera.lay(Path("near.jpg"), left=ORANGE, right=ORANGE)
        done = type_in(f"mix correct near.jpg --shade orange --in-pot 480 --target-strip left {FEW} --keep")
    assert done.exit_code == DONE, done.output
    assert "Leave it: " in done.stdout
    assert "strip kept as record 16" in done.stdout
    assert done.stdout.rstrip().endswith("Only the strip is kept: there is nothing to mix.")
    there = open_library("halm.sqlite")
    assert [record.batch for record in there.records("orange")] == ["1", "2", "2"]
    assert proposals(there) == []


def test_a_choice_that_is_not_there_keeps_no_strip(desk):
    refused(f"{CORRECT} --choice 9 --keep")
    assert len(open_library("halm.sqlite").records()) == 15


def test_what_was_left_of_a_pot_is_in_the_list_and_in_the_whole(counter):
    facts = answer(AGAIN)
    (weighing,) = facts["weighing"]
    assert weighing["grams"] == 600
    assert weighing["pot"] == [
        {**part, "percent": pytest.approx(100 * part["grams"] / 600, abs=1e-3)} for part in facts["choices"][0]["pot"]
    ]
    listed = type_in(AGAIN).stdout.partition("What to weigh:\n")[2].splitlines()
    assert listed[0].startswith("  1. Put the 120 g left of batch 2 into a clean pot.")
    assert listed[1].startswith("  2. Weigh ")
    assert "  In the pot: 600 g." in listed


# --- pages -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("words", [RECIPE, THIN, "mix predictions"])
def test_a_page_is_written_and_never_over_another(counter, tmp_path, words):
    page = tmp_path / "sheet.html"
    done = type_in(f"{words} --page {page}")
    assert done.exit_code == DONE
    assert done.stderr == f"The page is in {page}.\n"
    assert page.read_text(encoding="utf-8").lstrip().lower().startswith("<!doctype html>")
    before = page.read_bytes()
    problem, remedy = refused(f"{words} --page {page}")
    assert "is already there" in problem
    assert "--page" in remedy
    assert page.read_bytes() == before


@pytest.mark.parametrize("page", ["sheet.txt", "nowhere/sheet.html"])
def test_what_is_no_place_for_a_page_is_refused_before_any_work(counter, page):
    refused(f"{RECIPE} --page {page}")
    assert not Path(page).exists()


# --- refused -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (f"mix recipe --grams 300 {FEW}", "You haven't said which colour you want."),
        (f"{RECIPE} --record 3", "both named"),
        (f"mix recipe --target 1,2,x --grams 300 {FEW}", "not three numbers"),
        ("mix recipe --target 50,0,0 --grams 300 --pigments ochre", "'ochre'"),
        ("mix recipe --target 50,0,0 --grams 0", "Amount of ink: 0 g can't be right."),
        ("mix recipe --target 50,0,0 --grams nan", "'nan' can't be read as a number"),
        ("mix recipe --target 50,0,0 --grams 300 --scale 0", "Smallest step of the scale: 0 g can't be right."),
        ("mix recipe --target 50,0,0 --grams 300 --max-load inf", "'inf' can't be read as a number"),
        ("mix recipe --target 50,0,0 --grams 300 --target-state boiled", "no state"),
        (f"mix recipe --shade plum --grams 300 {FEW}", "'plum'"),
        (f"{RECIPE} --keep", "You haven't said which shade to keep this under"),
        (f"{RECIPE} --keep --shade x --choice 9", "no choice 9"),
        (f"{RECIPE} --keep --shade orange --as 2", "'2'"),
        (f"mix correct today.jpg --shade orange --batch 9 --in-pot 480 {FEW}", "'9'"),
        (f"mix correct today.jpg --shade orange --in-pot 900 {FEW}", "900 g in the pot"),
        (
            f"mix correct today.jpg --shade orange --in-pot 480 --strip left --target-strip left {FEW}",
            "are the same strip",
        ),
        (f"{AGAIN} --leftover 1=500", "are left"),
        (f"mix again orange --grams 600 --leftover two {FEW}", "'two'"),
        (
            f"mix again orange --grams 600 --leftover 2=1,234.5 {FEW}",
            "'2=1,234.5' does not give a batch and the grams left of it.",
        ),
        ("mix use-up --shade orange --leftover 2=120", "'2=120'"),
        ("mix use-up --shade orange", "There is nothing left to use up"),
        ("mix use-up --leftover 'orange 2=120' --keep", "which colour you want"),
        (f"mix again plum --grams 600 {FEW}", "'plum'"),
        ("mix predictions --shade plum", "'plum'"),
        (f"mix recipe --target missing.jpg --grams 300 {FEW}", "'missing.jpg'"),
        (f"{RECIPE} --as 7", "it isn't going to be kept"),
    ],
)
def test_wrong_use_is_told_in_two_lines(counter, words, problem):
    assert problem in refused(words)[0]


@pytest.mark.parametrize(
    "words",
    [
        f"mix recipe --target 50,0,0 --grams 300 --cloth silk {FEW}",
        f"mix correct missing.jpg --shade orange --in-pot 480 {FEW}",
        f"{RECIPE} --library nowhere.sqlite",
        "mix predictions --library nowhere.sqlite",
    ],
)
def test_what_cannot_be_had_is_refused(counter, words):
    refused(words, REFUSED)


@pytest.mark.parametrize(
    "words", ["mix", "mix recipe", "mix correct", "mix correct x.jpg --thin 3", "mix again", "mix x"]
)
def test_half_a_command_is_wrong_use(counter, words):
    done = type_in(words)
    assert done.exit_code == WRONG_USE
    assert "Usage" in done.output


def test_a_choice_that_is_not_there_is_refused(counter):
    assert "no choice 9" in refused(f"{RECIPE} --choice 9")[0]


def test_a_target_too_long_for_a_name_is_refused(counter):
    done = CliRunner().invoke(main, ["mix", "recipe", "--grams", "300", "--target", "a" * 300])
    assert done.exit_code in (WRONG_USE, REFUSED)
    assert len(done.stderr.splitlines()) == 2


# --- whatever is typed -------------------------------------------------------------------------------------

ODD = st.sampled_from(
    [
        "",
        " ",
        "-",
        "0",
        "-1",
        "1e999",
        "nan",
        "½",
        "é",
        "\u202e",
        "~",
        "..",
        "/",
        "/dev/null",
        ",",
        ":",
        "a:b",
        "1,2",
        "=",
    ]
)
ANY = st.one_of(ODD, st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=8))
few = settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def check(words):
    """An answer or a refusal in words, and an exit code with a meaning."""
    done = type_in(words)
    assert done.exit_code in (DONE, WRONG_USE, REFUSED), words
    if done.exit_code == DONE:
        facts = json.loads(done.stdout, parse_constant=pytest.fail)
        assert all(math.isfinite(choice["ciede2000_from_target"]) for choice in facts["choices"])
    else:
        assert "refused" in done.stdout or "Usage" in done.stderr


@given(
    target=st.one_of(ANY, st.sampled_from(["50,0,0", "today.jpg:left", "today.jpg:middle", "halm.sqlite", "shots"])),
    grams=st.one_of(ANY, st.just("300"), st.just("300")),
    pigments=st.one_of(ANY, st.just("red,yellow"), st.just("RED ,, yellow")),
    scale=st.one_of(st.just("0.01"), st.sampled_from(["1", "10", "0", "nan"])),
)
@few
def test_any_words_behind_recipe_get_an_answer(counter, target, grams, pigments, scale):
    words = [f"--target={target}", f"--grams={grams}", f"--pigments={pigments}", f"--scale={scale}"]
    check(["mix", "recipe", "--json", *words])


@given(left=st.lists(st.one_of(ANY, st.just("2=120"), st.builds("2={}".format, ANY)), max_size=2), shade=ANY)
@few
def test_any_words_behind_again_get_an_answer(counter, left, shade):
    named = shade if len(left) == 2 else "orange"
    rests = [f"--leftover={text}" for text in left]
    check(["mix", "again", "--json", "--grams=600", "--pigments=red,yellow", *rests, "--", named])


def test_what_pre_mixes_take_is_told_with_the_choice_that_needs_them(counter):
    asked = "mix recipe --target 60,40,40 --target-state air-dried --grams 20 --scale 1"
    facts = answer(asked)
    made = [step["make"] for step in facts["weighing"][0]["steps"] if step["make"]]
    of_pigment = sum(each["grams"] for each in made if not each["of"].endswith("%"))
    base = sum(each["clear_base_grams"] for each in made)
    told = f"The pre-mixes take {of_pigment:g} g of pigment and {base:g} g of clear base first"
    assert made
    assert of_pigment > 0
    assert told in type_in(asked).output
    assert any(words.startswith(told) for words in facts["choices"][0]["words"])
    fine = answer(asked.replace("--scale 1", "--scale 0.01"))
    assert not any("pre-mixes take" in words for words in fine["choices"][0]["words"])
