"""A card that is stained, faded or of another print is told by what no camera could explain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.cards.design import designs
from swatchcam.cards.values import load_values, nominal_values
from swatchcam.colorimetry.spectra import tables
from swatchcam.geometry.pose import find_card
from swatchcam.geometry.rectify import flatten
from swatchcam.illumination.solve import solve_light
from swatchcam.measurement.camera_response import learn_response, predict
from swatchcam.measurement.card_ageing import card_flags, faded, residuals
from swatchcam.measurement.colour_matrix import balance
from swatchcam.messages.surface import TERMINAL
from tests.benchmarks.hard_photos import SIZE, closer
from tests.worlds.printers import BUILD_PRINTERS, print_card, write_values
from tests.worlds.random_scenes import random_scene
from tests.worlds.scene import render

STAIN = 10 ** -(0.5 * BUILD_PRINTERS["inkjet"].yellow)  # something yellow, half a solid of ink


def printer_of(seed):
    return sorted(BUILD_PRINTERS)[seed % 3]


def fresh_print(seed):
    return print_card(designs()["a5"], printer_of(seed), seed, 0.01)


def faded_print(seed, share):
    """The same print once its magenta has lost this share, and its yellow half of it."""
    machine = BUILD_PRINTERS[printer_of(seed)]
    paler = {"magenta": machine.magenta * (1 - share), "yellow": machine.yellow * (1 - share / 2)}
    return print_card(designs()["a5"], replace(machine, **paler, driver=machine), seed, 0.01)


def stained(card, share):
    tint = 1 - share * (1 - STAIN)
    spots = {name: card.reflectance[name] * tint for name in ("A6", "A7")}
    return replace(card, reflectance=card.reflectance | spots)


@pytest.fixture
def judge(as_photo, tmp_path):
    """A fair scene of the build split with this print in place of the one its values are of -> what is flagged."""

    def look(seed, shown, spectra=True):
        card = fresh_print(seed)
        scene = replace(closer(random_scene(np.random.default_rng([41, seed]))), card=shown)
        scene = replace(scene, phone=replace(scene.phone, space="sRGB"))
        read = card.read_spectra(np.random.default_rng(seed)) if spectra else None
        values = load_values(write_values(tmp_path / "halm.csv", "a5", card.values(0.3, seed), read))
        photo = as_photo(render(scene, SIZE).pixels)
        flat = flatten(photo, find_card(photo))
        response = learn_response(balance(flat, solve_light(flat, values), values), values)
        light = solve_light(flat, values, predict(response, values))
        fitted = balance(flat, light, values)
        return card_flags(fitted, learn_response(fitted, values), values)

    return look


@pytest.mark.parametrize("seed", range(6))
def test_a_card_that_fits_its_values_is_not_flagged(judge, seed):
    assert judge(seed, fresh_print(seed)) == ()


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_stained_patches_are_named(judge, seed):
    (flag,) = judge(seed, stained(fresh_print(seed), 0.6))
    assert TERMINAL.flag(flag).startswith("patches A6, A7 look stained or faded")


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_card_of_another_printer_does_not_fit(judge, seed):
    other = print_card(designs()["a5"], printer_of(seed + 1), seed, 0.01)
    (flag,) = judge(seed, other)
    assert flag.code == "card-unlike-values"


def test_magenta_paler_by_a_third_is_told_in_most_photos_as_fading(judge):
    flags = [judge(seed, faded_print(seed, 0.35)) for seed in range(6)]
    assert sum(bool(flag) for flag in flags) >= 4
    assert sum(flag.code == "card-faded" for flag, *_ in filter(None, flags)) >= 3


def test_magenta_paler_by_an_eighth_looks_like_a_phone_with_paler_colours(judge):
    """What cannot be told is not told."""
    assert judge(0, faded_print(0, 0.12)) == ()


def test_a_card_without_spectra_is_not_judged(judge, plain):
    assert judge(0, stained(fresh_print(0), 0.6), spectra=False) == ()
    assert card_flags(plain.fit, None, nominal_values(designs()["a5"])) == ()


def test_fading_makes_ink_paler_where_it_absorbs_and_leaves_the_paper():
    paper = np.full(81, 0.9)
    magenta = 0.9 * np.exp(-1.5 * np.exp(-0.5 * ((tables().wavelengths - 545) / 40) ** 2))
    bare, paler = faded(np.array([paper, magenta]), paper)
    assert bare == pytest.approx(paper)
    assert (paler >= magenta).all()
    assert np.abs(paler - magenta).argmax() == pytest.approx(np.argmin(magenta), abs=12)


def test_residuals_are_colour_differences_of_light_seen_and_predicted(plain):
    seen = plain.fit.patch_rgb
    assert residuals(plain.fit, seen, seen) == pytest.approx(0)
    assert (residuals(plain.fit, 1.1 * seen, seen) > 0.5).all()
