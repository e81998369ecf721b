"""A card that is stained, faded or of another print is told by what no camera could explain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.cards.design import designs
from swatchcam.cards.values import load_values, nominal_values
from swatchcam.colorimetry.spectra import tables
from swatchcam.errors import CardError
from swatchcam.geometry.pose import find_card
from swatchcam.geometry.rectify import flatten
from swatchcam.illumination.solve import solve_light
from swatchcam.measurement.camera_response import learn_response, predict
from swatchcam.measurement.card_ageing import card_flags, faded, print_doubt, residuals
from swatchcam.measurement.colour_matrix import balance
from swatchcam.measurement.error_budget import colour_of
from swatchcam.measurement.measure import measure
from swatchcam.messages.surface import PAGE, TERMINAL
from tests.benchmarks.hard_photos import SIZE, closer
from tests.worlds.printers import BUILD_PRINTERS, print_card, write_values
from tests.worlds.random_scenes import random_scene
from tests.worlds.scene import render, write_jpeg
from tests.worlds.spectra import WAVELENGTHS

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


def test_magenta_paler_by_an_eighth_is_told_where_little_else_is_off(judge):
    assert [flag.code for flag in judge(0, faded_print(0, 0.12))] == ["card-faded"]


def test_a_yellower_stock_looks_like_another_lamp(judge):
    """What cannot be told is not told: light through yellowed paper is light of a yellower lamp."""
    card, tint = fresh_print(0), 1 - 0.1 * np.exp(-(WAVELENGTHS - 380) / 60)
    patches = {name: row * tint for name, row in card.reflectance.items()}
    assert judge(0, replace(card, reflectance=patches, paper=card.paper * tint, black=card.black * tint)) == ()


def test_a_card_without_spectra_is_judged_as_a_whole_only(judge):
    assert judge(0, stained(fresh_print(0), 0.6), spectra=False) == ()
    other = print_card(designs()["a5"], printer_of(1), 0, 0.01)
    assert [flag.code for flag in judge(0, other, spectra=False)] == ["card-unlike-values"]


def test_nominal_values_are_never_said_to_be_of_another_print(plain):
    nominal = nominal_values(designs()["a5"])
    response = learn_response(plain.fit, nominal)
    assert response.unlike == 0
    assert card_flags(plain.fit, response, nominal) == ()


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


# --- one sheet printed twice, with two inks ---------------------------------------------------------------------

NUMBER = "04821093"


@pytest.fixture(scope="module")
def second_copy(tmp_path_factory, fair_scene):
    """A photo of a copy from another printer, and the values of the first copy: both bear one number."""
    folder = tmp_path_factory.mktemp("copies")
    copy = replace(print_card(designs()["a5"], "laser", 5, 0.01), number=NUMBER)
    photo = write_jpeg(render(replace(fair_scene, card=copy), (1200, 900)), folder / "copy.jpg")
    first = print_card(designs()["a5"], "inkjet", 3, 0.01)
    for name, card in (("halm-1", first), ("halm-2", copy)):
        path = write_values(folder / f"{name}.csv", "a5", card.values(), card.spectra)
        path.write_text(f"# print: {NUMBER}\n{path.read_text(encoding='utf-8')}", encoding="utf-8")
    return photo, folder


def test_a_second_copy_of_a_sheet_is_told_from_the_first(second_copy):
    photo, folder = second_copy
    with pytest.raises(CardError) as refusal:
        measure(str(photo), str(folder / "halm-1.csv"))
    assert refusal.value.code == "values-of-another-print"
    assert str(refusal.value) == (
        "The card in the photo has the number 0482 1093, but not the colours of 'halm-1': it is a second copy of that"
        " sheet, it has faded, or the photo was edited. Print each sheet only once, so that no two cards have the"
        " same number. Take the photo again and don't edit it. If the card still doesn't fit, give this very print's"
        " values with --card, or use --card nominal."
    )
    assert "choose this very print's values, or 'colours as sent to the printer'" in PAGE.refusal(refusal.value)


@pytest.mark.parametrize("card", ["halm-2.csv", "nominal"])
def test_it_is_measured_with_its_own_values_or_nominal_ones(second_copy, card):
    photo, folder = second_copy
    measured = measure(str(photo), card if card == "nominal" else str(folder / card))
    assert not {"card-unlike-values", "card-faded"} & {flag.code for flag in measured.flags}


def test_a_doubtful_print_makes_colours_less_sure(plain):
    view = plain.view("left")
    sure, unsure = (colour_of([replace(view, response=replace(view.response, unlike=unlike))]) for unlike in (0.4, 1.0))
    assert sure.lab == unsure.lab
    assert unsure.radius > sure.radius
    doubt = unsure.parts["card"].trace() / sure.parts["card"].trace()
    stated = print_doubt(0.3, replace(view.response, unlike=1.0)) / view.balance.card_uncertainty
    assert doubt == pytest.approx(1 + stated**2, rel=1e-6)
