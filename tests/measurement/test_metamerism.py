"""What is said of two inks under other lights, held to colour-science computing from the true spectra."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.measurement.measure import measure
from swatchcam.measurement.metamerism import LIGHTS, TESTS, DifferenceUnder, Metamerism, metamerism, sentence
from tests.worlds.inks import smoothest_reflectance, strip_reflectance
from tests.worlds.printers import write_values
from tests.worlds.sample_photos import CAMERA
from tests.worlds.scene import Ink, ink, render, write_jpeg
from tests.worlds.spectra import (
    BUILD_BAD_LIGHTS,
    BUILD_FAIR_LIGHTS,
    difference,
    illuminant,
    reflectance_lab,
    reflectance_xyz,
    white_xyz,
    xyz_lab,
)

VIOLET = strip_reflectance({"violet": 0.5, "golden": 0.3})
METAMER = smoothest_reflectance(reflectance_lab(VIOLET))
REMIXED = strip_reflectance(
    {"magenta": 0.4952, "blue": 0.1152, "yellow": 0.1503, "black": 0.0732}
)  # other pigments, one colour


def true_index(one, other, light):
    """Special index of metamerism from spectra. Source: CIE 15:2018, clause 9, from memory."""
    xyz, lamp = {name: reflectance_xyz(one, illuminant(name), 10) for name in ("D65", light)}, illuminant(light)
    other_xyz = {name: reflectance_xyz(other, illuminant(name), 10) for name in ("D65", light)}
    corrected = xyz[light] * other_xyz["D65"] / xyz["D65"]
    white = white_xyz(lamp, 10)
    return float(difference(xyz_lab(corrected, white), xyz_lab(other_xyz[light], white)))


@pytest.fixture(scope="module")
def photographed(plain_scene, printed, tmp_path_factory):
    """Two reflectances -> the colours that photos by a window, and under a bulb too, show of them."""
    folder = tmp_path_factory.mktemp("metamers")
    values = write_values(folder / "card.csv", "a5", printed.values(), printed.spectra)

    def look(left, right, lamps=2, **settings):
        windows = {"left": left, "right": right}
        scene = replace(plain_scene, windows=windows, light=BUILD_FAIR_LIGHTS["window north"], camera=CAMERA)
        lit = [scene, replace(scene, light=BUILD_BAD_LIGHTS["warm bulb"], shot=1)][:lamps]
        paths = [str(write_jpeg(render(each, (1200, 900)), folder / f"{n}.jpg")) for n, each in enumerate(lit)]
        return measure(paths[0], str(values), other_light=paths[1:], **settings)

    return look


@pytest.fixture(scope="module")
def metamers(photographed):
    return photographed(Ink(VIOLET), Ink(REMIXED))


def exactly(colour, reflectance):
    """The colour as if its reflectance had been found without error."""
    lab = reflectance_lab(reflectance)
    found = replace(colour.found, reflectance=reflectance[None])
    return replace(colour, found=found, lab=tuple(float(value) for value in lab))


@pytest.mark.parametrize("other", [METAMER, REMIXED], ids=["smoothest", "remixed"])
def test_each_drawn_pair_is_one_colour_in_daylight_only(other):
    assert difference(reflectance_lab(VIOLET), reflectance_lab(other)) < 0.01
    assert difference(reflectance_lab(VIOLET, "A"), reflectance_lab(other, "A")) > 1


def test_known_reflectances_differ_under_each_light_as_colour_science_says(metamers):
    pair = [exactly(c, r) for c, r in zip(metamers.colours, (VIOLET, METAMER * 0.97), strict=True)]
    found = metamerism(*pair)
    for light in LIGHTS:
        true = difference(reflectance_lab(VIOLET, light), reflectance_lab(METAMER * 0.97, light))
        # Our weights of XYZ give the tabled white point, theirs the sum over 5 nm: a few hundredths.
        assert found.under[light].delta_e == pytest.approx(float(true), abs=0.02)
    for light in TESTS:
        assert found.index[light].delta_e == pytest.approx(true_index(VIOLET, METAMER * 0.97, light), abs=0.02)


def test_the_index_of_a_pair_that_matches_is_its_difference_under_the_other_light(metamers):
    found = metamerism(*(exactly(c, r) for c, r in zip(metamers.colours, (VIOLET, METAMER), strict=True)))
    for light in TESTS:
        assert found.index[light].delta_e == pytest.approx(found.under[light].delta_e, abs=0.02)


def test_the_same_ink_twice_has_no_metamerism(metamers):
    same = metamerism(metamers.colours[0], metamers.colours[0])
    assert all(seen.delta_e == pytest.approx(0, abs=1e-9) for seen in (*same.under.values(), *same.index.values()))
    assert all(seen.low == 0 for seen in same.under.values())


def test_two_lamps_find_the_difference_under_a_bulb_within_its_interval(metamers):
    found = metamerism(metamers.colour("right"), metamers.colour("left"))
    assert found.told
    for light in TESTS:
        true = float(difference(reflectance_lab(REMIXED, light), reflectance_lab(VIOLET, light)))
        assert found.under[light].low <= true <= found.under[light].high
        assert found.index[light].low <= true_index(REMIXED, VIOLET, light) <= found.index[light].high


def test_one_lamp_is_a_guess(photographed):
    alone = photographed(ink({"red": 1}), ink({"red": 1.2}), lamps=1)
    assert not metamerism(*alone.colours).told


def test_daylight_is_told_as_the_check_tells_it(metamers):
    one, other = metamers.colours
    found = metamerism(one, other)
    assert found.under["D65"].delta_e == pytest.approx(
        float(difference(np.array(one.lab), np.array(other.lab))), abs=1e-6
    )


def test_the_light_the_numbers_are_for_changes_little_about_other_lights(photographed):
    windows = ink({"violet": 0.6}), ink({"violet": 0.5, "red": 0.1})
    for_daylight, for_bulb = (photographed(*windows, illuminant=light) for light in ("D65", "A"))
    one, other = (metamerism(*measured.colours) for measured in (for_daylight, for_bulb))
    for light in LIGHTS:
        # The photo's balance is fitted anew for each light, so the same within the error that is told.
        assert one.under[light].low <= other.under[light].delta_e <= one.under[light].high
        assert other.under[light].low <= one.under[light].delta_e <= other.under[light].high


# --- in words -----------------------------------------------------------------------------------------------

SAME, OPEN, UNLIKE = DifferenceUnder(0.8, 0.4, 1.2), DifferenceUnder(2.0, 1.0, 3.0), DifferenceUnder(3.1, 2.1, 4.3)
WORDS = {
    (SAME, UNLIKE, SAME): "They match in daylight and under an LED lamp but differ under a bulb",
    (SAME, UNLIKE, UNLIKE): "They match in daylight but not under a bulb and under an LED lamp",
    (SAME, SAME, SAME): "They also match under a bulb and under an LED lamp",
    (SAME, OPEN, OPEN): "They match in daylight but may differ under a bulb and under an LED lamp",
    (SAME, UNLIKE, OPEN): "They match in daylight but not under a bulb, and may differ under an LED lamp",
    (UNLIKE, SAME, UNLIKE): "They differ in daylight and under an LED lamp but match under a bulb",
    (UNLIKE, UNLIKE, UNLIKE): "They differ in daylight, under a bulb and under an LED lamp",
    (OPEN, OPEN, OPEN): "They may differ in daylight, under a bulb and under an LED lamp",
}


@pytest.mark.parametrize("seen", WORDS, ids=WORDS.values())
def test_the_sentence_sorts_the_lights(seen):
    told = sentence(Metamerism("right", "left", dict(zip(LIGHTS, seen, strict=True)), {}, True), 2.0)
    assert told.startswith(f"{WORDS[seen]}: CIEDE2000 ")


def test_the_sentence_gives_numbers_and_their_standard_uncertainty():
    told = sentence(Metamerism("right", "left", dict(zip(LIGHTS, (SAME, UNLIKE, SAME), strict=True)), {}, True), 2.0)
    assert told.endswith("CIEDE2000 0.8 in D65, 3.1 (± 0.6) under A, 0.8 (± 0.2) under LED-B3.")
