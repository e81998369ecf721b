"""Cautions on the terminal: in full the first time, then in one line; in JSON always; and only where they belong."""

from __future__ import annotations

from pathlib import Path

import pytest

from swatchcam.library.library import open_library
from swatchcam.recipes.safety import DISPOSAL, FIXER, HEAT, INK, LINES, POWDER, subjects_of
from tests.cli.keyboard import answer, type_in
from tests.worlds.mixing_library import Shop, desk_in
from tests.worlds.sample_photos import FOLDER

CARD = "--card sample-card"
SHORT = "Take care with heat: swatchcam handbook heat"
ORANGE = {"red": 1.0, "yellow": 1.0}
FEW = "--scale 0.01"


@pytest.fixture
def studio(tmp_path, monkeypatch, remembered):
    """A folder with the sample photos, and no library yet."""
    monkeypatch.setenv("SWATCHCAM_LIBRARY", str(tmp_path / "halm.sqlite"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "photos").symlink_to(FOLDER, target_is_directory=True)


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    """A folder with a library: test series of four inks, and a pot of orange."""
    folder = tmp_path_factory.mktemp("stocked")
    shop = Shop(open_library(str(folder / "halm.sqlite"), create=True), folder / "shots")
    shop.all_series()
    shop.keep(ORANGE, "orange", "1")
    return folder


@pytest.fixture
def desk(stocked, tmp_path, monkeypatch):
    camera = desk_in(stocked, tmp_path / "desk", monkeypatch)
    camera.lay(Path("today.jpg"), left={"red": 1.6, "yellow": 2.2}, right=ORANGE)
    camera.lay(Path("more.jpg"), left={"red": 1.0}, right={"yellow": 1.0})


def said(words):
    done = type_in(words)
    assert done.exit_code in (0, 4, 5), done.output
    return done.stdout


def full(text, subject):
    """Whether all lines on a subject are there; never only some of them."""
    there = [f"  - {line}" in text.splitlines() for line in LINES[subject]]
    assert all(there) == any(there)
    return all(there)


@pytest.mark.usefixtures("studio")
def test_heat_comes_in_full_with_the_first_heat_set_strip_of_any_shade_then_in_one_line():
    dry = said(f"keep photos/season_1_dry.jpg --shade rust --batch 1 {CARD}")
    assert not full(dry, HEAT)
    assert "Take care" not in dry
    first = said(f"keep photos/season_1_set.jpg --shade rust --batch 1 --state heat-set {CARD}")
    assert full(first, HEAT)
    assert SHORT not in first
    again = "--shade other --batch 1 --state 'heat-set, 150 °C, 4 min, press'"
    later = said(f"keep photos/season_3_set.jpg {again} {CARD}")
    assert not full(later, HEAT)
    assert later.splitlines()[-1] == SHORT
    facts = answer(f"keep photos/season_2_set.jpg --shade sage --batch 1 --state heat-set {CARD}")
    assert facts["care"] == list(LINES[HEAT])
    assert answer(f"keep photos/season_3_dry.jpg --shade sage --batch 2 {CARD}")["care"] == []


@pytest.mark.usefixtures("studio")
def test_a_strip_that_is_judged_as_it_will_be_once_heat_set_has_the_one_line():
    said(f"library fill photos --list photos/season.csv {CARD}")
    check = f"check photos/season_3_dry.jpg --shade rust {CARD}"
    assert "Take care" not in said(check)
    assert said(f"{check} --after-heat").splitlines()[-1] == SHORT
    assert answer(f"{check} --after-heat", 5)["care"] == list(LINES[HEAT])
    assert answer(check)["care"] == []


@pytest.mark.usefixtures("studio")
def test_a_recipe_with_fixer_or_powder_is_kept_with_its_cautions():
    recipe = "clear base 500 g, dry red 6 g, Cross-Linker 10 g"
    first = said(f"keep photos/season_1_dry.jpg --shade rust --batch 1 --recipe '{recipe}' {CARD}")
    assert full(first, FIXER)
    assert full(first, POWDER)
    second = f"keep photos/season_2_dry.jpg --shade rust --batch 2 --recipe '{recipe}' {CARD}"
    assert said(second).splitlines()[-2:] == [
        "Take care with fixer: swatchcam handbook recipe",
        "Take care with powder: swatchcam handbook pigments",
    ]
    assert "Take care with fixer" in said("batch rust 1")
    assert subjects_of(answer("batch rust 1")["care"]) == (FIXER, POWDER)
    plain = answer(f"keep photos/season_3_dry.jpg --shade rust --batch 3 --recipe 'clear base 500 g, red 6 g' {CARD}")
    assert plain["care"] == []


@pytest.mark.usefixtures("desk")
def test_a_test_series_of_powder_has_its_cautions():
    assert "Take care" not in said("pigment series today.jpg --pigment red --load right=0.4")
    series = "pigment series today.jpg --pigment 'red powder' --cup 50 --load"
    assert full(said(f"{series} left=0.4"), POWDER)
    assert answer("pigment series more.jpg --pigment 'red powder' --load left=1")["care"] == list(LINES[POWDER])
    later = said("pigment series more.jpg --pigment 'dry yellow' --load right=1")
    assert later.splitlines()[-1] == "Take care with powder: swatchcam handbook pigments"


@pytest.mark.usefixtures("desk")
@pytest.mark.parametrize(
    "words",
    [
        f"mix recipe --target 53.7,44.7,57.1 --grams 300 --pigments red,yellow {FEW}",
        f"mix again orange --grams 600 --leftover 1=120 {FEW}",
        f"mix correct today.jpg --shade orange --in-pot 480 --target-strip left {FEW}",
        "amount --motif 30x40 --coverage 35 --pieces 60 --used '120 g for 40'",
    ],
)
def test_wherever_grams_of_ink_are_given_is_said_what_becomes_of_the_rest(words):
    text = said(words)
    assert full(text, INK)
    assert full(text, DISPOSAL)
    assert not full(text, FIXER)


@pytest.mark.usefixtures("desk")
def test_a_pot_with_fixer_that_is_mixed_again_has_its_cautions():
    said("batch orange 1 --recipe 'clear base 490 g, red 5 g, yellow 5 g, fixer 8 g'")
    again = f"mix again orange --grams 600 --leftover 1=120 --pigments red,yellow {FEW}"
    assert full(said(again), FIXER)
    assert full(said(again), FIXER)  # every time it is weighed
