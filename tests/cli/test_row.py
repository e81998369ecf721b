"""Pigment rows by `swatchcam card`: places below the card, a sheet to scale, values read or learned."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from click.testing import CliRunner

from swatchcam.cards.choice import choose_values
from swatchcam.cards.design import designs
from swatchcam.cli import main
from swatchcam.measurement.measure import measure
from swatchcam.measurement.pigment_row import load_row, read_places
from swatchcam.measurement.pigment_row_sheet import lay_row, places_text
from tests.report.typed import check_printed
from tests.worlds.inks import strip_reflectance
from tests.worlds.printers import write_values
from tests.worlds.scene import Loose, ink, render, write_jpeg
from tests.worlds.spectra import BUILD_BAD_LIGHTS, WAVELENGTHS, difference, reflectance_lab

PIGMENTS = {"yellow": {"yellow": 0.7}, "red": {"red": 0.9}, "blue": {"blue": 0.6}, "black": {"black": 0.4}}
OK, WRONG_USE, REFUSED = 0, 2, 3
SAID = ("--geometry", "45/0", "--date", "2026-01-31")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty desk with an empty folder of cards and rows."""
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path / "cards"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def say(*words):
    result = CliRunner().invoke(main, ["card", *(str(word) for word in words)])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    check_printed(["card", *words], result)
    return result


def take(name, path, *words):
    return say("import", path, "--card-name", name, *words)


def everything(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def laid(folder):
    assert say("print", "halm", *PIGMENTS).exit_code == OK
    return folder


def readings(folder, spectra=True, rows=None):
    """A CSV file as an instrument's software exports it."""
    columns = [f"{nm:.0f}nm" for nm in WAVELENGTHS[::2]] if spectra else ["L", "a", "b"]
    lines = ["Illuminant,D65", "Observer,10", ",".join(["Name", *columns])]
    for name, recipe in (rows or PIGMENTS).items():
        film = strip_reflectance(recipe)
        values = film[::2] if spectra else reflectance_lab(film)
        lines.append(",".join([name, *(f"{value:.5f}" for value in values)]))
    path = folder / "readings.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


# --- lay ----------------------------------------------------------------------------------------------------


def test_places_lie_in_a_row_below_the_card(laid):
    places = read_places(laid / "cards" / "halm.toml")
    assert (places.name, places.card, places.names) == ("halm", "a5", list(PIGMENTS))
    boxes = [window.box for window in places.windows]
    # mm: 8 below the card's lower edge at 148, 22 from one to the next, 18 wide.
    assert [(box.x, box.y, box.w, box.h) for box in boxes] == [(2 + 22 * i, 156, 18, 18) for i in range(4)]


def test_many_pigments_take_further_rows_within_the_card_s_width():
    for design in designs().values():
        boxes = [window.box for window in lay_row("s", [f"p{i}" for i in range(14)], design).windows]
        assert max(box.x + box.w for box in boxes) <= min(design.size_mm[0], 200)
        assert len({(box.x, box.y) for box in boxes}) == 14
        assert {box.y - design.size_mm[1] for box in boxes} <= {8, 30, 52}


def test_a_pigment_written_twice_has_two_places(folder):
    done = say("print", "halm", "blue", "red", "blue", "--json", "--no-png")
    assert [place["name"] for place in json.loads(done.stdout)["places"]] == ["blue-1", "red", "blue-2"]


@pytest.mark.parametrize("name", ['the "odd" one', "größe", "a\\b"])
def test_any_name_of_a_pigment_comes_back_from_the_file(tmp_path, name):
    path = tmp_path / "s.toml"
    path.write_text(places_text(lay_row("s", [name], designs()["a5"])), encoding="utf-8")
    assert read_places(path).names == [name]


def test_the_sheet_is_to_scale(laid):
    page = pypdfium2.PdfDocument(laid / "swatchcam-row-halm.pdf")[0]
    assert page.get_size() == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.01)
    image = np.asarray(page.render(scale=10 / 72 * 25.4).to_pil().convert("L"))  # 10 px per mm
    page.close()
    bar = (image < 128).sum(axis=1)
    # The bar is the longest line but for the card's lower edge.
    lengths = sorted((int(count) for count in bar if count > 900), reverse=True)
    assert any(995 <= length <= 1005 for length in lengths)
    assert (laid / "swatchcam-row-halm.png").read_bytes()[:4] == b"\x89PNG"


WRONG = {
    "a card's name": (["a5", "red"], "can't be the name of a row"),
    "a path": (["../halm", "red"], "can't be the name of a row"),
    "paper": (["halm", "paper"], "'paper' can't be the name of a pigment"),
    "nothing": (["halm", ""], "'' can't be the name of a pigment"),
    "doubled": (["halm", "blue", "blue", "blue-1"], "Two strips would be called 'blue-1'"),
    "many": (["halm", *(f"p{i}" for i in range(28))], "28 strips are too many to fit below card a5 (at most 27)"),
    "no such card": (["halm", "red", "--design", "a9"], "There is no card design called 'a9'"),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_what_cannot_be_laid_is_refused_and_nothing_written(folder, wrong):
    words, problem = WRONG[wrong]
    done = say("print", *words)
    assert done.exit_code == WRONG_USE
    assert problem in done.stderr
    assert len(done.stderr.splitlines()) == 2
    assert everything(folder) == {}


def test_a_row_is_not_laid_over_another_unless_asked(laid):
    before = everything(laid)
    done = say("print", "halm", "green", "--output", "other.pdf")
    assert (done.exit_code, everything(laid)) == (REFUSED, before)
    assert "--replace" in done.stderr
    assert say("print", "halm", "green", "--replace").exit_code == OK
    assert read_places(laid / "cards" / "halm.toml").names == ["green"]
    kept = list((laid / "cards" / "replaced").iterdir())
    assert [path.read_bytes() for path in kept] == [before[laid / "cards" / "halm.toml"]]


# --- values -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("spectra", [True, False])
def test_readings_become_the_row_s_values(laid, spectra):
    done = take("halm", readings(laid, spectra), *SAID)
    assert done.exit_code == OK
    assert "measured, good to 0.5 CIEDE2000" in done.stdout
    known = load_row("halm")
    for name, recipe in PIGMENTS.items():
        # Spectra in steps of 10 nm are read between the lines; of Lab alone the colour is all that is known.
        assert difference(known.lab(name, "D65", 10), reflectance_lab(strip_reflectance(recipe))) < 0.15


def test_names_may_differ_in_capitals_and_readings_may_repeat(laid):
    path = readings(laid, rows={name.upper(): recipe for name, recipe in PIGMENTS.items()} | {"RED ": {"red": 1.0}})
    assert take("halm", path, *SAID).exit_code == OK
    red = load_row("halm").reflectance["red"]
    mean = (strip_reflectance({"red": 0.9}) + strip_reflectance({"red": 1.0})) / 2
    np.testing.assert_allclose(red[::2], mean[::2], atol=2e-5)  # five decimals in each file


def test_a_missing_and_an_unknown_row_are_told_together(laid):
    before = everything(laid)
    rows = {"yellow": {"yellow": 1}, "red": {"red": 1}, "blue": {"blue": 1}, "pink": {"red": 0.1}}
    done = take("halm", path := readings(laid, rows=rows), *SAID)
    assert done.exit_code == REFUSED
    assert "strip black is missing" in done.stderr
    assert "'pink' is not a place of this row" in done.stderr
    assert everything(laid) == before | {path: path.read_bytes()}


def test_what_the_file_does_not_say_must_be_given(laid):
    done = take("halm", readings(laid))
    assert done.exit_code == REFUSED
    assert "the file does not say the geometry" in done.stderr
    assert "design" not in done.stderr


def test_new_values_need_replace_and_the_old_are_kept(laid):
    path = readings(laid)
    assert take("halm", path, *SAID).exit_code == OK
    old = (laid / "cards" / "halm.csv").read_bytes()
    assert take("halm", path, *SAID).exit_code == REFUSED
    assert take("halm", path, *SAID, "--replace", "--uncertainty", "0.4").exit_code == OK
    assert [kept.read_bytes() for kept in (laid / "cards" / "replaced").iterdir()] == [old]


def test_a_row_is_not_taken_for_a_card_nor_a_card_for_a_row(laid, printed):
    assert take("halm", readings(laid), *SAID).exit_code == OK
    assert choose_values(designs()["a5"], None, "D65", 10).grade == "nominal"
    write_values(laid / "cards" / "studio-7.csv", "a5", printed.values())
    assert say("print", "studio-7", "red", "--no-png").exit_code == OK
    before = everything(laid)
    done = take("studio-7", readings(laid, rows={"red": {"red": 1}}), *SAID)
    assert (done.exit_code, "There is already a card called 'studio-7'." in done.stderr) == (REFUSED, True)
    assert {path: before[path] for path in before if path.name != "readings.csv"}.items() <= everything(laid).items()
    assert "these are values of a card" in say("show", "studio-7").stderr


def test_an_unknown_row_is_refused(laid):
    for words in (["show", "holm"], ["remove", "holm"]):
        done = say(*words)
        assert done.exit_code == REFUSED
        assert "called 'holm'" in done.stderr
    assert "Name the measured card with --card" in say("learn", "holm", "a.jpg").stderr


def test_a_row_in_a_file_of_another_name_is_refused(laid):
    (laid / "cards" / "holm.toml").write_bytes((laid / "cards" / "halm.toml").read_bytes())
    assert "It is called 'halm', but its file is called 'holm'" in say("show", "holm").stderr


# --- learn --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def shoot(plain_scene, printed, tmp_path_factory):
    """Photos of the row below a card by daylight and under a bulb, and the card's values."""
    folder = tmp_path_factory.mktemp("row")
    below = lay_row("halm", list(PIGMENTS), designs()["a5"]).windows
    loose = tuple(
        Loose(own.name, (own.box.x, own.box.y, own.box.w, own.box.h), ink(PIGMENTS[own.name])) for own in below
    )
    pose = replace(plain_scene.pose, fraction=0.7, offset=(0.0, -0.1))
    scene = replace(plain_scene, loose=loose, pose=pose)
    light = replace(scene, light=BUILD_BAD_LIGHTS["warm bulb"], shot=1)
    photos = [write_jpeg(render(each, (1600, 1200)), folder / f"{i}.jpg") for i, each in enumerate((scene, light))]
    return *photos, write_values(folder / "card.csv", "a5", printed.values(), printed.spectra)


def test_a_row_is_learned_as_well_as_it_says(laid, shoot):
    day, light, card = shoot
    done = say("learn", "halm", day, "--other-light", light, "--card", card, "--json")
    assert done.exit_code == OK
    facts = json.loads(done.stdout)
    assert facts["grade"] == "transferred"
    known = load_row("halm")
    off = [
        float(difference(known.lab(n, "D65", 10), reflectance_lab(strip_reflectance(r)))) for n, r in PIGMENTS.items()
    ]
    assert np.sqrt(np.mean(np.square(off))) < 2 * known.uncertainty
    assert 0.1 < known.uncertainty < 2
    assert (laid / "cards" / "halm.csv").read_text(encoding="utf-8").splitlines()[8].endswith(",r770,r780")


def test_a_learned_row_serves_the_next_photo(laid, shoot):
    day, light, card = shoot
    assert say("learn", "halm", day, "--other-light", light, "--card", card).exit_code == OK
    measured = measure(str(day), str(card), row="halm")
    assert [anchor.name for anchor in measured.looks[0].anchors] == list(PIGMENTS)


def test_nothing_is_learned_from_a_nominal_card_or_a_photo_without_the_row(laid, shoot, fair):
    day, _, card = shoot
    before = everything(laid)
    assert "was never measured" in say("learn", "halm", day).stderr
    done = say("learn", "halm", fair.path, "--card", card)
    assert done.exit_code == REFUSED
    assert "shows no ink where the row should have yellow, red, blue, black." in done.stderr
    assert everything(laid) == before


def test_cloth_where_the_row_should_lie_is_not_taken_for_the_row(laid, shoot, fair, values_path):
    day, _, card = shoot
    assert say("learn", "halm", day, "--card", card).exit_code == OK
    measured = measure(str(fair.path), str(values_path), row="halm")
    assert measured.looks[0].anchors == ()
