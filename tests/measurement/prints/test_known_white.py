"""PTFE in a window tells what the card's bare stock is, as surely as is said; what is no such white is refused."""

from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.cards.design import designs
from swatchcam.cards.print_number import tag_ids
from swatchcam.cards.validation import PAPER
from swatchcam.cards.values import NOMINAL, load_values, nominal_values
from swatchcam.colorimetry.spectra import reflectance_to_lab, tables
from swatchcam.errors import CardError, SwatchcamError
from swatchcam.measurement.prints import known_white
from swatchcam.measurement.prints.known_white import BEYOND, LETS_THROUGH, ONE_LAYER, learn_stock
from swatchcam.measurement.single_photo import take_look
from tests.cards.test_values import file_text, put
from tests.cli.keyboard import answer, refused
from tests.paths import REFERENCE
from tests.worlds.printers import write_values
from tests.worlds.scene import Ink, render, write_jpeg
from tests.worlds.spectra import bell, difference, reflectance_lab
from tests.worlds.white_pieces import STOCKS, any_stock, tape, white_piece
from tests.worlds.white_pieces import on_stock as printed_on

with open(REFERENCE / "ptfe_reflectance.csv", encoding="utf-8", newline="") as file:
    PUBLISHED = list(csv.DictReader(line for line in file if not line.startswith("#")))
AT = tables().wavelengths
SIZE = 1200, 900


def through(layers):
    """What so many layers let through at 450 nm; S X of one layer from its published reflectance."""
    scatter = [value / (1 - value) for _, value in ONE_LAYER]
    return 1 / (1 + layers * np.interp(450, AT, np.interp(AT, [nm for nm, _ in ONE_LAYER], scatter)))


# --- PTFE -----------------------------------------------------------------------------------------------------


def test_one_layer_is_as_published():
    """Janecek 2012, as `ptfe_reflectance.csv` holds it."""
    rows = [row for row in PUBLISHED if row["material"] == "PTFE tape, 1 layer"]
    found = {
        float(row["wavelength_nm"]): float(row["reflectance"]) for row in rows if float(row["wavelength_nm"]) > 400
    }
    assert dict(ONE_LAYER) == found


@pytest.mark.parametrize("layers", [2, 3, 5, 8, 10, 20])
def test_more_layers_are_as_predicted_there(layers):
    (row,) = [row for row in PUBLISHED if row["material"].startswith(f"PTFE tape, {layers} layers")]
    wanted = [float(value) for value in row["reflectance"].split(" / ")]
    found = known_white.sheet(through(layers), 0.0)
    assert_allclose(np.interp([450, 550, 650], AT, found), wanted, atol=0.003)  # another way between the points


def test_one_layer_is_bluish_and_no_white():
    """Lab 89.93 -3.17 -6.20 over black, computed in `ptfe_reflectance.csv`."""
    assert_allclose(reflectance_to_lab(known_white.sheet(through(1), 0.0)), [89.93, -3.17, -6.20], atol=0.15)


def test_half_a_millimetre_and_more_is_what_was_published():
    """At least 0.5 mm for more than 0.95 from 380 to 500 nm (Janecek 2012); 0.994 for pressed powder (from memory)."""
    thinnest, thickest = (known_white.sheet(each, 0.0) for each in (LETS_THROUGH[1], LETS_THROUGH[0]))
    assert thinnest[(AT >= 380) & (AT <= 450)].min() >= 0.95
    assert thickest[AT == 450][0] == pytest.approx(0.994, abs=0.001)
    white, doubts = known_white.ptfe()
    spread = np.sqrt((doubts**2).sum(axis=0))
    for piece in (known_white.sheet(LETS_THROUGH[1], 0.8), thickest, tape(8, 0.8)):
        assert (np.abs(piece - white) < 2 * spread + 0.002).all()


# --- the stock ------------------------------------------------------------------------------------------------


def seen(road, white, stock):
    """What the photo's channels would see of a piece of PTFE on that stock, as far too light as they usually do."""
    weights = road.response.weights
    ratio = (white @ weights) / (stock @ weights)
    rgb = 1 + (ratio - 1) * (1 + BEYOND)
    return replace(road.strips["left"], rgb=tuple(map(float, rgb)), covariance=tuple(map(tuple, 1e-8 * np.eye(3))))


def found_of(road, white, stock):
    return known_white.stock_behind(seen(road, white, stock), road.response, road.fit)


@pytest.mark.parametrize("kind", STOCKS)
def test_a_stock_is_found_whatever_it_is(plain, kind):
    rng = np.random.default_rng(STOCKS.index(kind))
    off, held = [], []
    for _ in range(40):
        stock = any_stock(rng, kind)
        found = found_of(plain, white_piece(rng), stock)
        off.append(float(difference(np.array(found.lab), reflectance_lab(stock))))
        held.append(off[-1] < found.radius)
    assert np.mean(off) < 0.8  # PTFE alone differs by as much
    assert np.mean(held) > 0.85  # here nothing else errs


def test_the_interval_grows_with_what_ptfe_sends_back_above_the_stock(plain):
    rng = np.random.default_rng(4)
    pale, grey = (found_of(plain, tape(12, 0.8), share * any_stock(rng, "plain")) for share in (1.0, 0.88))
    assert grey.lab[0] < pale.lab[0] - 3
    assert grey.radius > 1.2 * pale.radius


@pytest.mark.parametrize(
    ("white", "code"),
    [
        (lambda stock: stock, "white-no-lighter"),  # paper
        (lambda _: tape(1, 0.1), "white-no-lighter"),  # one layer of tape over something dark
        (lambda stock: stock * np.linspace(0.9, 1.7, 81), "white-has-a-colour"),
        (lambda stock: 0.05 * stock, "white-no-lighter"),  # black ink
        (lambda stock: stock * np.linspace(0.03, 1.2, 81), "white-no-lighter"),  # orange ink
        (lambda stock: 2.2 * stock, "white-has-a-colour"),  # nothing is so much lighter than white stock
    ],
)
def test_what_can_be_no_ptfe_is_refused(plain, white, code):
    stock = any_stock(np.random.default_rng(1), "plain")
    with pytest.raises(CardError) as refusal:
        found_of(plain, white(stock), stock)
    assert (refusal.value.code, refusal.value.facts["window"]) == (code, "left")


def test_a_very_light_stock_asks_how_thick_the_ptfe_is(plain):
    stock = any_stock(np.random.default_rng(1), "plain")
    thin, thick = (found_of(plain, tape(layers, 0.8), stock).flags for layers in (1, 12))
    assert [flag.code for flag in thin] == ["white-of-this-light", "white-may-be-thin"]
    assert [flag.code for flag in thick] == ["white-of-this-light"]


# --- from the photo to the file -------------------------------------------------------------------------------


def ptfe_photo(scene, folder, stock, **window):
    windows = {"left": Ink(tape(10, 0.8), **{"extent": (0.2, 0.2, 0.8, 0.8), **window}), "right": None}
    changed = replace(scene, card=printed_on(scene.card, stock), windows=windows)
    return str(write_jpeg(render(changed, SIZE), folder / "ptfe.jpg"))


@pytest.fixture(scope="module")
def warm():
    return any_stock(np.random.default_rng(2), "warm")


@pytest.fixture(scope="module")
def warm_photo(fair_scene, warm, tmp_path_factory):
    return ptfe_photo(fair_scene, tmp_path_factory.mktemp("ptfe"), warm)


def test_a_print_learns_its_white_from_a_photo(warm_photo, warm, own_folder):
    values, stock = learn_stock("halm-9", warm_photo, "left")
    true, assumed = reflectance_lab(warm), np.array(nominal_values(designs()["a5"]).lab["paper"])
    assert difference(np.array(stock.lab), true) < stock.radius < difference(assumed, true)
    assert (values.grade, values.absolute, values.path) == ("photographed", False, str(own_folder / "halm-9.csv"))
    assert values.lab["paper"] == pytest.approx(stock.lab, abs=1e-3)
    assert "card-photographed" in {flag.code for flag in load_values("halm-9").flags}
    with pytest.raises(SwatchcamError) as again:
        learn_stock("halm-9", warm_photo, "left")
    assert again.value.code == "card-not-learned"


def test_the_command_says_what_the_white_is_and_refuses_what_does_not_go_with_it(warm_photo, own_folder):
    facts = answer(["card", "learn", "halm-6", warm_photo, "--white", "left"])
    assert facts["white"]["lab"] == pytest.approx(facts["patches"][-1]["lab"], abs=0.01)
    assert {"white-of-this-light", "card-photographed"} <= {flag["code"] for flag in facts["flags"]}
    for more, problem in (
        (["--card", "halm-6"], "either beside a measured card or"),
        ([warm_photo], "You named 2 photos"),
    ):
        assert problem in refused(["card", "learn", "halm-5", warm_photo, "--white", "left", *more])[0]
    assert "either" in refused(["card", "learn", "halm-5", warm_photo])[0]


def test_a_white_is_not_learned_for_a_print_that_has_values(warm_photo, own_folder, monkeypatch):
    own_folder.mkdir(exist_ok=True)
    put(own_folder, file_text(print="04821093"), "read.csv")
    monkeypatch.setattr("swatchcam.measurement.single_photo.read_tags", lambda *_: tag_ids("04821093"))
    with pytest.raises(CardError) as refusal:
        learn_stock("halm-4", warm_photo, "left")
    assert [found["code"] for found in refusal.value.facts["problems"]] == ["print-has-values"]
    assert not (own_folder / "halm-4.csv").exists()


def test_the_stock_that_ptfe_tells_is_the_stock_of_the_values(warm_photo, own_folder):
    """All colours are relative to the stock: with it known, those of the print are known better."""
    alone = take_look(warm_photo, NOMINAL, windows=False).values
    values, stock = learn_stock("halm-8", warm_photo, "left")
    assert np.linalg.norm(np.array(values.lab[PAPER]) - stock.lab) < 1.5
    assert values.frame.key != alone.frame.key  # two fits of one photo are off otherwise
    doubt, before = (np.linalg.norm(each.frame.shift(each.lab[PAPER])) for each in (values, alone))
    assert doubt < 0.6 * before


def test_a_window_that_is_not_there_and_an_uneven_white_are_refused(warm_photo, fair_scene, warm, tmp_path, own_folder):
    with pytest.raises(SwatchcamError) as missing:
        learn_stock("halm-7", warm_photo, "middle")
    assert missing.value.code == "strip-not-there"
    half = ptfe_photo(replace(fair_scene, cloth=0.4 * fair_scene.cloth), tmp_path, warm, extent=(0.2, 0.2, 0.5, 0.8))
    with pytest.raises(CardError) as uneven:
        learn_stock("halm-7", half, "left")
    assert (uneven.value.code, uneven.value.remedy) == ("white-uneven", "lay-thick-ptfe")
    assert not (own_folder / "halm-7.csv").exists()


# --- values that say another white ----------------------------------------------------------------------------


@pytest.mark.parametrize(("glow", "outcome"), [(0.0, "passed"), (0.14, "failed")])
def test_a_white_that_was_read_with_more_ultraviolet_is_told(warm_photo, warm, fair_scene, tmp_path, glow, outcome):
    """Of the M conditions of ISO 13655 only M2 leaves ultraviolet out; how much bluer others read is invented here."""
    read = printed_on(fair_scene.card, warm + glow * bell(440, 13, 20))
    values = write_values(tmp_path / "read.csv", "a5", read.values(), read.spectra)
    words = ["card", "test", warm_photo, "--card", str(values), "--white", "left"]
    facts = answer(words, 4 if glow else 0)
    assert facts["white"]["outcome"] == facts["outcome"] == outcome
    assert (facts["white"]["ciede2000"] > facts["white"]["allowed_ciede2000"]) == bool(glow)


def test_an_unmeasured_card_and_a_window_named_twice_are_refused(warm_photo):
    assert "never measured" in refused(["card", "test", warm_photo, "--card", "nominal", "--white", "left"], 3)[0]
    words = ["card", "test", warm_photo, "--card", "nominal", "--white", "left", "--left", "3"]
    assert refused(words)[1] == "Lay them in two windows, and name each window once."
