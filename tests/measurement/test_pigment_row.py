"""The studio's own pigments: their files, what they teach of mixtures, and what they do beside a card."""

from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.spectral_recovery import published
from swatchcam.errors import CardError
from swatchcam.measurement.combine_photos import combine
from swatchcam.measurement.pigment_row import CLEAR, LOADS, MIXTURES, load_row, mixtures
from swatchcam.measurement.single_photo import take_look
from swatchcam.messages.surface import TERMINAL
from tests.benchmarks.fair_photos import write_row
from tests.codes import tells
from tests.worlds.inks import BUILD_PIGMENTS
from tests.worlds.random_scenes import random_scene
from tests.worlds.scene import render, write_jpeg
from tests.worlds.spectra import REFERENCE, difference, reflectance_lab
from tests.worlds.trial import read_card

SIZE = (1600, 1200)
SCENES = 6
PLACES = """\
format = 1
kind = "row"
name = "own"
card = "a5"

[[window]]
name = "red"
x = 2
y = 156
w = 18
h = 18

[[window]]
name = "blue"
x = 24
y = 156
w = 18
h = 18
"""
VALUES = """\
# design: row
# grade: measured
# illuminant: D65
# observer: 10
# geometry: 45/0
# date: 2025-03-14
# source: Studio Halm, invented
# uncertainty: 0.2
name,L,a,b
red,45,55,30
blue,35,5,-40
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder of cards of one's own."""
    path = tmp_path_factory.mktemp("rows")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATCHCAM_CARDS", str(path))
        yield path


@pytest.fixture
def load(folder):
    """Texts of a row's two files -> the row."""

    def go(places=PLACES, values=VALUES):
        (folder / "own.toml").write_text(places, encoding="utf-8")
        (folder / "own.csv").write_text(values, encoding="utf-8")
        return load_row("own")

    return go


# --- the files ----------------------------------------------------------------------------------------------


def test_a_row_is_read(load):
    row = load()
    assert (row.name, row.card, row.grade, row.uncertainty) == ("own", "a5", "measured", 0.2)
    assert [window.name for window in row.windows] == ["red", "blue"]
    box = row.windows[1].box
    assert (box.x, box.y, box.w, box.h) == (24, 156, 18, 18)


def test_colours_alone_get_reflectances_that_have_them(load):
    row = load()
    for name, lab in (("red", (45, 55, 30)), ("blue", (35, 5, -40))):
        assert difference(reflectance_lab(row.reflectance[name]), lab) < 0.2
        assert difference(row.lab(name, "D65", 10), lab) < 0.2
        assert 0 < row.reflectance[name].min() < row.reflectance[name].max() < 1


def test_spectra_are_taken_as_they_are(load):
    wavelengths = range(400, 701, 10)
    head, rows = VALUES.split("name,L,a,b\n")
    spectra = {"red": np.linspace(0.05, 0.6, 31), "blue": np.linspace(0.5, 0.1, 31)}
    table = [f"{row},{','.join(f'{v:.5f}' for v in spectra[row.split(',')[0]])}" for row in rows.splitlines()]
    columns = ",".join(f"r{nm}" for nm in wavelengths)
    row = load(values=f"{head}name,L,a,b,{columns}\n" + "\n".join(table) + "\n")
    for name, spectrum in spectra.items():
        assert_allclose(row.reflectance[name][4:65:2], spectrum, atol=1e-5)


BROKEN_PLACES = {
    "no toml": ("name = ", "file-not-read", {}),
    "a card": (PLACES.replace('"row"', '"card"'), "row-not-described", {}),
    "another format": (PLACES.replace("format = 1", "format = 2"), "row-not-described", {"known": 1}),
    "no kind": (PLACES.replace('kind = "row"\n', ""), "entry-missing", {"entry": "kind"}),
    "no card": (PLACES.replace('card = "a5"\n', ""), "entry-missing", {"entry": "card"}),
    "no height": (PLACES.replace("h = 18\n", "", 1), "entry-missing", {"entry": "h"}),
    "words for numbers": (PLACES.replace("x = 2\n", 'x = "left"\n'), "entry-of-wrong-kind", {}),
    "no places": (PLACES[: PLACES.index("[[")] + "window = []\n", "row-without-places", {}),
    "one place twice": (PLACES.replace('"blue"', '"red"'), "places-doubled", {"names": ["red"]}),
    "a place nowhere": (PLACES.replace("x = 2\n", "x = nan\n"), "places-nowhere", {"names": ["red"]}),
    "a window that is a word": (PLACES[: PLACES.index("[[")] + 'window = "red"\n', "entry-of-wrong-kind", {}),
}


@pytest.mark.parametrize("fault", BROKEN_PLACES)
def test_places_that_are_wrong_are_told_in_a_sentence_each(load, fault):
    text, code, facts = BROKEN_PLACES[fault]
    with pytest.raises(CardError) as refusal:
        load(places=text)
    assert tells(refusal.value, code, **facts)
    assert TERMINAL.problem(refusal.value).endswith(".")
    assert "\n" not in TERMINAL.problem(refusal.value)
    assert "own.toml" in TERMINAL.problem(refusal.value)
    assert TERMINAL.remedy(refusal.value) == "Correct the file, and try again."


BROKEN_VALUES = {
    "a strip without value": (VALUES.replace("blue,35,5,-40\n", ""), "strip blue has no value"),
    "no number": (VALUES.replace("35,5,", "35,five,"), "not a number"),
    "an impossible colour": (VALUES.replace("35,5,", "135,5,"), "L 135"),
    "no uncertainty": (VALUES.replace("# uncertainty: 0.2\n", ""), "uncertainty"),
    "an unknown light": (VALUES.replace("D65", "D99"), "illuminant 'D99'"),
    "no table": (VALUES.replace("name,L,a,b", "L,a,b"), "must begin with name,L,a,b"),
}


@pytest.mark.parametrize("fault", BROKEN_VALUES)
def test_values_that_are_wrong_are_told_in_a_line_each(load, fault):
    text, words = BROKEN_VALUES[fault]
    with pytest.raises(CardError, match="The values of row 'own' can't be used") as refusal:
        load(values=text)
    assert words in TERMINAL.problem(refusal.value)
    assert refusal.value.remedy == "correct-these"


@pytest.mark.parametrize("name", ["none", "../own", "a/b", "a\0b", ""])
def test_a_row_that_is_not_there_is_told_with_those_that_are(load, name):
    load()
    with pytest.raises(CardError, match="There is no") as refusal:
        load_row(name)
    assert "own" in refusal.value.facts["known"]


# --- mixtures -----------------------------------------------------------------------------------------------


def absorption_over_scatter(reflectance):
    return (1 - reflectance) ** 2 / (2 * reflectance)


def reference(kind):
    with open(REFERENCE / "kubelka_munk.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return [(float(row["value1"]), float(row["value2"])) for row in rows if row["kind"] == kind]


def test_the_formula_used_here_is_the_published_one():
    rows = reference("ks_of_R")
    assert len(rows) > 20
    for reflectance, ratio in rows:
        assert absorption_over_scatter(reflectance) == pytest.approx(ratio, rel=1e-6, abs=1e-9)


def test_flat_inks_mix_to_the_published_reflectances():
    """The ratio of a lone flat ink is read off each of its mixtures by the table of the inverse formula."""
    ratios, reflectances = np.array(reference("R_of_ks")).T
    mixed = mixtures(np.full((1, 81), 0.2))
    assert_allclose(mixed, mixed[:, :1] * np.ones(81), rtol=1e-12)
    loads = (absorption_over_scatter(mixed[:, 0]) - CLEAR) / absorption_over_scatter(0.2)
    assert LOADS[0] <= loads.min() < 0.06
    assert 1.8 < loads.max() <= LOADS[1]
    order = np.argsort(ratios)
    by_table = np.interp(np.log(CLEAR + 1.6 * loads), np.log(ratios[order]), reflectances[order])
    assert_allclose(mixed[:, 0], by_table, atol=0.03)  # a coarse table


def test_mixtures_are_sums_of_one_to_three_inks_in_absorption_over_scatter():
    from scipy.optimize import nnls

    inks = np.array([middle for middle in (0.02 + 0.9 * np.exp(-p.absorption / 8) for p in BUILD_PIGMENTS.values())])
    ratios = absorption_over_scatter(np.clip(inks, 0.004, 0.985))
    counts = []
    for row in mixtures(inks)[:60]:
        wanted = absorption_over_scatter(row) - CLEAR
        loads, off = nnls((ratios / wanted).T, np.ones(81))
        assert off < 1e-6
        used = loads > 1e-4
        counts.append(int(used.sum()))
        assert (loads[used] >= LOADS[0] * 0.999).all()
        assert (loads[used] <= LOADS[1] * 1.001).all()
    assert set(counts) == {1, 2, 3}


def test_mixtures_are_always_the_same_and_many():
    inks = np.linspace(0.1, 0.8, 3 * 81).reshape(3, 81)
    one, two = mixtures(inks), mixtures(inks)
    assert np.array_equal(one, two)
    assert one.shape == (MIXTURES, 81)
    assert 0 < one.min() < one.max() < 1


def test_a_row_teaches_its_inks_and_their_mixtures(load):
    row = load()
    known = row.knowledge()
    assert len(known.weight) == len(published().weight) + len(row.windows) + MIXTURES
    own = known.lab[len(published().weight) : len(published().weight) + 2]
    assert_allclose(own, [row.lab("red", "D65", 10), row.lab("blue", "D65", 10)], atol=1e-6)


# --- beside the card ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def drawn(folder):
    """For SCENES drawn scenes: row, what the photo shows, and the shot that it is of."""
    found = []
    for number in range(SCENES):
        rng = np.random.default_rng([63, number])
        scene = random_scene(rng, "build", anchors=10)
        card = read_card(scene, rng, folder / f"card-{number}.csv")
        row = write_row(scene, rng, folder, f"row-{number}")
        shot = render(scene, SIZE)
        photo = write_jpeg(shot, folder / f"photo-{number}.jpg")
        found.append((row, take_look(str(photo), str(card), row), shot))
    return found


def errors(drawn, how):
    """(n, 2) error and radius of every strip, each photo combined by `how`(row, look)."""
    rows = []
    for row, look, shot in drawn:
        colours, _ = how(row, look)
        rows += [(float(difference(colour.lab, shot.truth[colour.name])), colour.radius) for colour in colours]
    return np.array(rows)


@pytest.fixture(scope="module")
def alone(drawn):
    return errors(drawn, lambda row, look: combine([[look]]))


@pytest.fixture(scope="module")
def laid_out(drawn):
    return errors(drawn, combine_with_row)


def combine_with_row(row, look):
    return combine([[look]], row)


def test_every_strip_of_a_row_is_seen_in_its_place(drawn):
    overexposed = 0
    for row, look, shot in drawn:
        names = [window.name for window in row.windows]
        overexposed += not look.anchors
        assert [strip.name for strip in look.anchors] in (names, [])
        # A row is left aside only if the phone has clipped a part of it.
        assert look.anchors or max(shot.clipped[name] for name in names) > 0.05
        for name in names:
            assert difference(row.lab(name, "D65", 10), shot.truth[name]) < 1.2
    assert overexposed <= 1


def test_a_row_in_the_photo_brings_colours_nearer_to_the_truth(alone, laid_out):
    assert laid_out[:, 0].mean() < 0.9 * alone[:, 0].mean()


def test_the_interval_with_a_row_is_narrower_and_holds(alone, laid_out):
    assert laid_out[:, 1].mean() < 0.9 * alone[:, 1].mean()
    # The two strips of a scene err alike. More than 1 scene of 6 falls outside once in 30 times.
    outside = (laid_out[:, 0] > laid_out[:, 1]).reshape(-1, 2).any(axis=1)
    assert outside.sum() <= 1
    assert (laid_out[:, 0] < 1.6 * laid_out[:, 1]).all()


def test_a_row_that_the_photo_does_not_show_still_teaches(drawn, alone):
    known = errors(drawn, lambda row, look: combine([[replace(look, anchors=())]], row))
    assert known[:, 0].mean() < 1.02 * alone[:, 0].mean()
    assert known[:, 1].mean() < alone[:, 1].mean()


def test_a_row_of_another_card_is_not_looked_for(drawn, folder):
    row, look, _ = drawn[0]
    elsewhere = take_look(look.photo.path, str(folder / "card-0.csv"), replace(row, card="a4"))
    assert elsewhere.anchors == ()
