"""The nearest shades are those that one would find by looking at every record."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.errors import UsageError
from swatchcam.library.changes import merge_shades, remove_record, remove_shade
from swatchcam.library.entry import entry_of
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import keep_proposal
from swatchcam.library.save import Entry, keep_record
from swatchcam.library.search import ALONE, handled, nearest_shades, series_shades
from swatchcam.recipes.recipe import parse_recipe
from swatchcam.recipes.safety import FIXER, HEAT, INK, POWDER
from tests.worlds.cheap_measurements import measurement, proposal, put

GREY = (50.0, 0.0, 0.0)


@dataclass(frozen=True)
class Shelf:
    """What is asked of a library: (n, 3) colours of records 1 to n, and the shade of each."""

    colours: np.ndarray
    shades: np.ndarray

    def labs(self):
        return np.arange(1, len(self.shades) + 1), self.colours.reshape(-1, 3), self.shades

    def record(self, number):
        return SimpleNamespace(number=number, shade=int(self.shades[number - 1]))


def found(shelf, lab, count):
    return [(record.number, record.shade, apart) for record, apart in nearest_shades(shelf, lab, count)]


def by_looking_at_all(shelf, lab, count):
    """Of each shade the nearest record, the older of two that are equally near; of the shades the nearest."""
    numbers, labs, shades = shelf.labs()
    apart = np.round(delta_e_2000(labs, lab), 9)
    ranked = sorted(zip(apart.tolist(), numbers.tolist(), shades.tolist(), strict=True))
    first = {}
    for distance, number, shade in ranked:
        first.setdefault(shade, (number, shade, distance))
    return list(first.values())[:count]


def test_series_are_told_by_their_names_and_all_their_recipes(tmp_path):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    kept = {
        "series red": ["binder 99 g, red 1 g", "binder 95 g, Red 5 g"],
        "Ladder blue": ["binder 99 g, blue 1 g"],
        ALONE: ["binder 100 g"],
        "Bare cloth": [""],
        "series 7": ["binder 99 g, red 1 g"],
        "series green": ["binder 99 g, green 1 g", "binder 98 g, green 1 g, red 1 g"],
        "series black": [""],
        "brick": ["binder 99 g, red 1 g"],
    }
    number = 0
    for shade, recipes in kept.items():
        for batch, recipe in enumerate(recipes):
            number += 1
            said = {"recipe": parse_recipe(recipe) if recipe else None, "take_over": False}
            put(library, tmp_path / "shots", number, shade=shade, batch=str(batch), **said)
    series = series_shades(library)
    assert {shade.name for shade in library.shades() if shade.number in series} == {
        "series red",
        "Ladder blue",
        ALONE,
        "Bare cloth",
    }
    near = {record.shade for record, _ in nearest_shades(library, GREY, 99, series)}
    assert near == {"series 7", "series green", "series black", "brick"}


# Whole numbers from a small range, so that many records are equally near.
colour = st.tuples(st.integers(40, 50), st.integers(-3, 3), st.integers(-3, 3))
row = st.tuples(colour, st.integers(1, 6))


@given(st.lists(row, min_size=1, max_size=60), colour, st.integers(1, 9))
@settings(max_examples=200, deadline=None, derandomize=True)
def test_it_finds_what_looking_at_all_finds_ties_too(rows, lab, count):
    shelf = Shelf(np.array([one for one, _ in rows], dtype=float), np.array([shade for _, shade in rows]))
    assert found(shelf, lab, count) == by_looking_at_all(shelf, lab, count)


@pytest.mark.parametrize("count", [1, 5, 40, 1000])
def test_shades_with_hundreds_of_records_near_the_colour_do_not_hide_the_others(count):
    rng = np.random.default_rng(4)
    crowd = np.array(GREY) + rng.normal(0, 0.5, (3000, 3))  # three shades, kept again and again
    others = np.column_stack([rng.uniform(10, 90, 400), rng.uniform(-60, 60, (400, 2))])
    shades = np.concatenate([rng.integers(0, 3, 3000), rng.integers(3, 43, 400)])
    shelf = Shelf(np.vstack([crowd, others]), shades)
    nearest = found(shelf, GREY, count)
    assert nearest == by_looking_at_all(shelf, GREY, count)
    assert len(nearest) == min(count, 43)
    assert {shade for _, shade, _ in nearest[:3]} <= {0, 1, 2}


def test_an_empty_library_has_no_nearest_shade():
    assert nearest_shades(Shelf(np.empty((0, 3)), np.empty(0, dtype=int)), GREY, 5) == []


# --- in a library -------------------------------------------------------------------------------------------


@pytest.fixture
def library(tmp_path):
    """Grey shades ever further from GREY, some of them with several records."""
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    labs = (("ash", 51), ("ash", 58), ("stone", 53), ("lead", 55), ("gone", 50.2), ("one gone", 50.4), ("one gone", 60))
    for number, (shade, lightness) in enumerate([*labs, ("light", 50.1)], start=1):
        taken = measurement(tmp_path, number, (float(lightness), 0.0, 0.0))
        keep_record(library, under("A", taken) if shade == "light" else taken, "left", Entry(shade))
    remove_shade(library, "gone")
    remove_record(library, 6)
    return library


def under(illuminant, taken):
    colours = tuple(
        replace(
            one, views=tuple(replace(view, balance=replace(view.balance, illuminant=illuminant)) for view in one.views)
        )
        for one in taken.colours
    )
    return replace(taken, colours=colours)


def test_what_was_taken_out_or_is_for_another_light_is_not_found(library):
    nearest = nearest_shades(library, GREY, 10)
    assert [(record.shade, record.number) for record, _ in nearest] == [
        ("ash", 1),
        ("stone", 3),
        ("lead", 4),
        ("one gone", 7),
    ]
    expected = delta_e_2000([record.colour.lab for record, _ in nearest], GREY)
    assert_allclose([apart for _, apart in nearest], expected, atol=1e-9)


def test_a_let_down_strip_is_not_the_colour_of_its_shade(library, tmp_path):
    keep_record(library, measurement(tmp_path, 9, GREY), "left", Entry("ash", let_down=10.0))
    keep_record(library, measurement(tmp_path, 10, GREY), "left", Entry("pale only", let_down=10.0))
    nearest = [(record.shade, record.number) for record, _ in nearest_shades(library, GREY, 10)]
    assert nearest == [("ash", 1), ("stone", 3), ("lead", 4), ("one gone", 7)]
    assert library.latest()["ash"].let_down == 0
    assert "pale only" not in library.latest()


def test_shades_that_became_one_are_found_once(library):
    merge_shades(library, "stone", "lead")
    nearest = [(record.shade, record.number) for record, _ in nearest_shades(library, GREY, 3)]
    assert nearest == [("ash", 1), ("lead", 3), ("one gone", 7)]


@pytest.mark.parametrize("lab", [(float("nan"), 0, 0), (50, 0), (2000, 0, 0)])
def test_what_is_no_colour_is_refused(library, lab):
    with pytest.raises(UsageError, match="not colours"):
        nearest_shades(library, lab, 3)


# --- what was handled before --------------------------------------------------------------------------------


def test_what_was_handled_is_counted_even_if_it_was_removed(place, tmp_path):
    library = open_library(place, create=True)
    assert handled(library) == {}
    said = [
        ("air-dried", "clear base 500 g, red 6 g"),
        ("heat-set, 150 °C, 4 min, press", "clear base 500 g, dry red 6 g, Härter 5 g"),
        ("heat-set", "clear base 500 g, red 6 g, cross-linker 5 g"),
        ("washed 3", ""),
    ]
    for number, (state, recipe) in enumerate(said, start=1):
        entry = entry_of("Brick", state, batch=str(number), recipe=recipe)
        keep_record(library, measurement(tmp_path, number, GREY), "left", entry)
    assert handled(library) == {HEAT: 2, FIXER: 2, POWDER: 1}
    remove_record(library, 2)
    keep_proposal(library, proposal())
    assert handled(library) == {HEAT: 2, FIXER: 2, POWDER: 1, INK: 1}
    assert handled(library, [HEAT]) == {HEAT: 2}  # what is not asked for is not looked for
