"""A colour that was kept compares as it did when it was fresh; what was not written so is refused."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.colorimetry.error_covariance import Errors, interval
from swatchcam.errors import LibraryError
from swatchcam.measurement.measure import measure
from swatchcam.measurement.stored_colour import PARTS, Kept, errors_as_text, errors_from_text, keep
from swatchcam.measurement.verdict import against_target, between
from swatchcam.messages.surface import TERMINAL
from tests.worlds.lens import Pose
from tests.worlds.scene import render, write_jpeg


@pytest.fixture(scope="module")
def first(fair, values_path):
    return measure(str(fair.path), str(values_path))


@pytest.fixture(scope="module")
def second(fair_scene, values_path, tmp_path_factory):
    """The same strips on another day: the card held otherwise."""
    moved = replace(fair_scene, pose=Pose(rotation=-4, tilt_x=-6, tilt_y=10, fraction=0.8), shot=3)
    path = write_jpeg(render(moved, (1600, 1200)), tmp_path_factory.mktemp("second") / "second.jpg")
    return measure(str(path), str(values_path))


def brought_back(kept):
    """As the library reads it again."""
    errors, reflectance, cloth = errors_from_text(errors_as_text(kept))
    return replace(kept, errors=errors, reflectance=reflectance, cloth=cloth)


def kept(measurement):
    return [brought_back(keep(colour, measurement)) for colour in measurement.colours]


# --- there and back -----------------------------------------------------------------------------------------


def test_what_is_kept_is_what_was_measured(first):
    for colour, found in zip(first.colours, kept(first), strict=True):
        assert (found.name, found.lab, found.radius) == (colour.name, colour.lab, colour.radius)
        assert (found.illuminant, found.observer, found.absolute) == ("D65", 10, True)
        assert found.errors.photos == (first.photo.digest,)
        assert set(found.errors.parts) == set(colour.parts) == set(PARTS)
        assert_allclose(found.covariance, colour.covariance, atol=len(PARTS) * 1e-5)
        assert_allclose(found.reflectance, colour.reflectance, atol=1e-5)
        assert list(found.errors.pattern) == list(colour.errors.pattern)


def test_a_colour_on_a_card_never_measured_is_not_absolute(fair):
    nominal = measure(str(fair.path))
    assert [keep(colour, nominal).absolute for colour in nominal.colours] == [False, False]


def test_a_kept_text_is_written_again_as_it_was(first):
    for found in kept(first):
        assert errors_as_text(brought_back(found)) == errors_as_text(found)


def test_the_bare_cloth_comes_back_where_it_was_seen(first):
    (found, _), cloth = kept(first), tuple(np.round(np.linspace(0.3, 0.8, 81), 5).tolist())
    assert first.cloth is None
    assert found.cloth is None
    assert "cloth" not in json.loads(errors_as_text(found))
    seen = replace(found, cloth=cloth)
    assert brought_back(seen).cloth == cloth
    assert errors_as_text(brought_back(seen)) == errors_as_text(seen)


def test_a_text_from_before_the_cloth_was_kept_has_none():
    assert errors_from_text(TEXT)[2] is None


@pytest.mark.parametrize("cloth", [None, [], [0.5] * 80, "white", [0.5] * 80 + [None], {"a": 1}])
def test_a_cloth_that_is_none_is_refused(cloth):
    assert refuses(json.dumps(FACTS | {"cloth": cloth}))


# --- differences --------------------------------------------------------------------------------------------


def test_in_one_photo_kept_colours_differ_as_surely_as_fresh_ones(first):
    assert_allclose(interval(*kept(first)), interval(*first.colours), atol=0.01)


@pytest.mark.parametrize(("one", "other"), [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_between_photos_kept_colours_differ_as_surely_as_fresh_ones(first, second, one, other):
    fresh = interval(first.colours[one], second.colours[other])
    assert_allclose(interval(kept(first)[one], kept(second)[other]), fresh, atol=0.01)


def test_a_fresh_colour_is_compared_with_a_kept_one(first, second):
    told = between(second.colours[0], kept(first)[0], "last year's")
    assert (told.sample, told.reference) == ("left", "last year's")
    fresh = between(second.colours[0], first.colours[0])
    assert_allclose([told.delta_e, told.low, told.high], [fresh.delta_e, fresh.low, fresh.high], atol=0.01)


def test_what_one_photo_shares_still_cancels_when_kept(first, second):
    """The interval within a photo is narrower than between photos of the same two strips."""
    left, right = kept(first)
    within, across = interval(left, right), interval(left, kept(second)[1])
    assert within[1] - within[0] < 0.8 * (across[1] - across[0])


def test_a_kept_colour_is_as_far_from_a_target_as_a_fresh_one(first):
    target = (45.0, 50.0, 30.0)
    fresh, told = against_target(first.colours[0], target), against_target(kept(first)[0], target)
    assert_allclose([told.low, told.high], [fresh.low, fresh.high], atol=0.01)


# --- broken -------------------------------------------------------------------------------------------------


def drawn_kept():
    """A colour as small as can be, with every kind of number that is kept."""
    parts = {name: (number + 1) / 100 * np.eye(3) for number, name in enumerate(PARTS)}
    shared = np.arange(12).reshape(3, 4) / 100
    errors = Errors(parts, shared, {"red": (0.1, -0.2, 0.3)}, ("a" * 64, "b" * 64))
    return Kept("left", (50.0, 10.0, -10.0), "D65", 10, 0.8, True, errors, tuple(np.linspace(0.1, 0.9, 81)))


TEXT = errors_as_text(drawn_kept())
FACTS = json.loads(TEXT)


def refuses(text):
    with pytest.raises(LibraryError, match="a colour's error can't be read") as refusal:
        errors_from_text(text)
    return "swatchcam library verify" in TERMINAL.remedy(refusal.value)


def test_the_smallest_comes_back():
    errors, reflectance, _ = errors_from_text(TEXT)
    assert (errors.pattern, errors.photos) == (drawn_kept().errors.pattern, drawn_kept().errors.photos)
    assert_allclose(errors.shared, drawn_kept().errors.shared)
    assert len(reflectance) == 81
    assert not errors.shared.flags.writeable


@given(st.integers(0, len(TEXT) - 1))
def test_a_text_cut_short_is_refused(length):
    assert refuses(TEXT[:length])


@pytest.mark.parametrize("key", [*FACTS, *(f"parts/{name}" for name in PARTS)])
def test_a_text_with_something_left_out_is_refused(key):
    broken = json.loads(TEXT)
    *above, last = key.split("/")
    (broken[above[0]] if above else broken).pop(last)
    assert refuses(json.dumps(broken))


NO_NUMBERS = st.sampled_from([None, "x", [], {}, math.nan, math.inf, -math.inf, 10**400])
WAYS = [
    *(("parts", name, row, column) for name in PARTS for row in range(3) for column in range(3)),
    *(("parts", name) for name in PARTS),
    *(("shared", row, 2) for row in range(3)),
    *(("pattern", "red", axis) for axis in range(3)),
    *(("reflectance", place) for place in (0, 40, 80)),
    ("parts",), ("shared",), ("shared", 0), ("pattern", "red"), ("reflectance",), ("format",),
]  # fmt: skip


@given(st.sampled_from(WAYS), NO_NUMBERS)
def test_a_number_that_is_none_is_refused(way, value):
    broken = json.loads(TEXT)
    place = broken
    for step in way[:-1]:
        place = place[step]
    place[way[-1]] = value
    assert refuses(json.dumps(broken))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("shared", np.array(FACTS["shared"]).T.tolist()),
        ("shared", np.ravel(FACTS["shared"]).tolist()),
        ("shared", []),
        ("reflectance", FACTS["reflectance"][1:]),
        ("parts", {name: np.ravel(part).tolist() for name, part in FACTS["parts"].items()}),
    ],
)
def test_numbers_in_another_shape_are_refused(key, value):
    assert refuses(json.dumps({**FACTS, key: value}))


def test_a_text_nested_without_end_is_refused():
    assert refuses("[" * 100_000)


@pytest.mark.parametrize("text", ["null", "5", "[]", '""', '{"format":2}', f"[{TEXT}]", TEXT + "}"])
def test_a_text_of_another_shape_is_refused(text):
    assert refuses(text)


@given(st.recursive(st.none() | st.floats() | st.text(max_size=5), lambda each: st.lists(each, max_size=4)))
def test_anything_in_place_of_the_numbers_is_refused_or_comes_back_whole(value):
    broken = json.dumps({**FACTS, "shared": value})
    try:
        errors, _, _ = errors_from_text(broken)
    except LibraryError as refusal:
        said = TERMINAL.problem(refusal)
        assert said
    else:
        assert errors.shared.shape[0] == 3
