"""Ready-mixed inks, clear base and what they cost, as they are typed: from the shelf to a pot without clear base."""

from __future__ import annotations

from pathlib import Path

import pytest

from swatchcam.library.library import open_library
from swatchcam.library.shelf.pigments import clear_base, pigment, pigments, set_pigment
from swatchcam.library.shelf.prices import Cost, cost_of_run
from swatchcam.recipes.recipe import parse_recipe
from tests.cli.keyboard import answer, refused, type_in
from tests.worlds.mixing_library import CLOTH, Camera, Shop, desk_in
from tests.worlds.ready_inks import BLACK, GREY, WHITE, is_ready, ready_world, series_shares

NAMES = BLACK, WHITE, "ready red", "violet"
PASTEL = {WHITE: 92.0, "ready red": 8.0}
FULL = "opaque white 276 g, ready red 24 g, clear base 0 g"
DONE = 0


@pytest.fixture(scope="module")
def world():
    return ready_world(0, "grey")


@pytest.fixture(scope="module")
def stocked(tmp_path_factory, world):
    """A folder with a library: test series of three ready-mixed inks and a pigment, on grey cloth."""
    folder = tmp_path_factory.mktemp("stocked")
    shop = Shop(open_library(str(folder / "halm.sqlite"), create=True), folder / "shots", world)
    for name in filter(is_ready, NAMES):
        set_pigment(shop.library, name, ready=True)
    for number, shares in enumerate(series_shares(NAMES, 3)):
        shop.keep(shares, "series", str(number), number=number)
    shop.keep(PASTEL, "pastel", "1")
    return folder


@pytest.fixture
def desk(stocked, world, tmp_path, monkeypatch):
    """A copy of it, in which commands are typed; a photo of the target and of a pot."""
    desk_in(stocked, tmp_path / "desk", monkeypatch)
    camera = Camera(world, monkeypatch)
    camera.lay(Path("today.jpg"), left={WHITE: 80.0, "ready red": 20.0}, right=PASTEL)
    return tmp_path / "desk"


def test_what_is_ready_mixed_is_noted_and_told(desk):
    done = type_in("pigment set 'soft pink' --ready --density 1.1 --price 3.50")
    assert done.stdout.startswith(
        "Put pigment 'soft pink' on the shelf and noted its price, whether it is ready-mixed and its density."
    )
    found = pigment(open_library("halm.sqlite"), "soft pink")
    assert (found.ready, found.density, found.price) == (True, 1.1, 3.5)
    assert "ready-mixed, 3.5 for 100 g, 1.1 g/ml" in type_in("pigment list").stdout
    shown = type_in(f"pigment show '{WHITE}'").stdout
    assert "  100 %" in shown
    assert "More of it helps all the way up to 100 %." in shown
    assert shown.endswith("ready-mixed\n")
    assert type_in("pigment set 'soft pink' --no-ready").exit_code == DONE
    assert not pigment(open_library("halm.sqlite"), "soft pink").ready


def test_the_clear_base_has_a_price_and_is_no_pigment(desk):
    assert type_in("pigment set 'Clear Base' --price 1.20").stdout.startswith(
        "Put clear base on the shelf and noted its price."
    )
    library = open_library("halm.sqlite")
    assert clear_base(library).price == 1.2
    assert "clear base" not in {one.name for one in pigments(library)}
    assert "clear base" not in {each["pigment"] for each in answer("pigment list")["pigments"]}
    assert refused("pigment set binder --ready")[0] == "Clear base is not a pigment."


def test_a_ready_mixed_ink_alone_is_a_series_strip(desk):
    camera = "pigment series today.jpg --pigment '{}' --load right=100 --cloth grey"
    problem, remedy = refused(camera.format("new ink"))
    assert problem == "100 % is too much for a concentrate (at most 50 %)."
    assert remedy == 'If new ink is ready-mixed, say so first: swatchcam pigment set "new ink" --ready'
    type_in("pigment set 'new ink' --ready")
    assert "series new ink, 100 %" in type_in(camera.format("new ink")).stdout


def test_a_pot_says_what_it_costs(desk):
    recipe = f"mix recipe --target today.jpg:left --grams 300 --cloth '{CLOTH}'"
    assert "costs" not in type_in(recipe).stdout
    for name, price in zip(NAMES, (2.5, 3.0, 4.0, 12.0), strict=True):
        type_in(f"pigment set '{name}' --price {price}")
    assert "The cost isn't known yet: no price for clear base" in type_in(recipe).stdout
    type_in("pigment set 'clear base' --price 1.20")
    facts, text = answer(recipe)["choices"][0], type_in(recipe).stdout
    prices = dict(zip(NAMES, (2.5, 3.0, 4.0, 12.0), strict=True)) | {"clear base": 1.2}
    cost = sum(prices[part["what"]] * part["grams"] / 100 for part in facts["put_in"])
    assert facts["price"] == facts["pot_price"] == pytest.approx(cost, abs=0.006)
    assert f"Costs about {cost:.2f}." in text
    assert f"{facts['ready_percent']:.3g} % ready-mixed ink" in text
    library = open_library("halm.sqlite")
    pot = parse_recipe("opaque white 90 g, violet 1 g, clear base 9 g")
    per_100g = 0.9 * 3 + 0.01 * 12 + 0.09 * 1.2
    assert cost_of_run(library, pot, 450.0) == Cost(pytest.approx(4.5 * per_100g))
    assert cost_of_run(library, parse_recipe("sky 1 g, clear base 9 g"), 450.0) == Cost(None, ("sky",))


def test_a_pot_without_clear_base_goes_all_the_way(desk):
    kept = type_in(f"keep today.jpg --strip right --shade rose --batch 1 --recipe '{FULL}' --cloth '{CLOTH}'")
    assert kept.exit_code == DONE, kept.output
    assert "opaque white 276 g, ready red 24 g, clear base 0 g" in type_in("shade show rose").stdout
    corrected = answer(
        f"mix correct today.jpg --shade rose --batch 1 --in-pot 250 --target-strip left --cloth '{CLOTH}'"
    )
    assert corrected["choices"][0]["pot_grams"] > 250
    assert all(part["grams"] > 0 for part in corrected["choices"][0]["put_in"])
    again = answer(f"mix again rose --grams 400 --leftover 1=120 --target today.jpg:left --cloth '{CLOTH}'")
    assert again["choices"][0]["pot_grams"] == pytest.approx(400, abs=0.2)


def test_a_recipe_that_says_nothing_of_clear_base_is_asked_about(desk):
    problem, remedy = refused("keep today.jpg --strip right --shade rose --batch 1 --recipe 'opaque white 300 g'")
    assert problem == "The recipe has no clear base."
    assert "'clear base 0 g' if there is none" in remedy


def test_a_white_that_light_cloth_does_not_show_is_told(tmp_path, monkeypatch):
    shop = Shop(open_library(str(tmp_path / "halm.sqlite"), create=True), tmp_path / "shots", ready_world(0, "white"))
    set_pigment(shop.library, WHITE, ready=True)
    monkeypatch.chdir(tmp_path)
    for number, shares in enumerate(({}, {WHITE: 20.0}, {WHITE: 100.0}, {BLACK: 20.0})):
        shop.keep(shares, "series", str(number))
    told = "opaque white hardly shows how much it lightens a colour"
    assert told in type_in("pigment list --library halm.sqlite").stdout
    shop.keep(GREY, "grey", "1")
    assert told not in type_in("pigment list --library halm.sqlite").stdout


def test_an_amount_says_what_the_ink_of_a_run_costs(stocked, tmp_path):
    library = str(stocked / "halm.sqlite")
    words = f"amount --motif 30x40 --coverage 35 --pieces 60 --used '120 g for 40' --shade pastel --library {library}"
    told = answer(words)["cost"]
    opened = open_library(library)
    unpriced = cost_of_run(opened, opened.batches("pastel")[-1].recipe, 100.0).unpriced
    assert (told["shade"], told["batch"], told["without_price"]) == ("pastel", "1", list(unpriced))
    assert told["words"].startswith("The cost isn't known yet: no price for ") if unpriced else told["price"]
    for name in unpriced:
        type_in(f"pigment set '{name}' --price 10 --library {library}")
    assert answer(words)["cost"]["words"].startswith("The ink costs about ")
    assert answer(words.replace("--shade pastel", ""))["cost"] is None
