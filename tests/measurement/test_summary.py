"""What is left of a measurement without its pixels judges, and comes back from JSON, as the measurement does."""

from __future__ import annotations

import json

import numpy as np
import pytest

from swatchcam.errors import UsageError
from swatchcam.measurement.measure import measure
from swatchcam.measurement.metamerism import metamerism
from swatchcam.measurement.summary import sitting_dict, sitting_from, sitting_of
from swatchcam.measurement.verdict import between
from tests.paths import SAMPLES


@pytest.fixture(scope="module")
def measured():
    window, light = (str(SAMPLES / f"two_lights_{name}.jpg") for name in ("window", "led"))
    return measure(window, "sample-card", other_light=[light])


@pytest.fixture(scope="module")
def brought_back(measured):
    return sitting_from(json.loads(json.dumps(sitting_dict(sitting_of(measured, metamers=True)), allow_nan=False)))


def test_two_strips_differ_by_the_very_same_numbers(measured, brought_back):
    left, right = (brought_back.strip_named(name) for name in ("left", "right"))
    assert between(right, left) == between(measured.colour("right"), measured.colour("left"))


def test_what_is_found_under_other_lights_comes_back(measured, brought_back):
    found = brought_back.metamerism("right", "left")
    assert found == metamerism(measured.colour("right"), measured.colour("left"))
    assert found.told
    assert brought_back.metamerism("right", "beside-1") is None


def test_every_strip_comes_back_as_it_was(measured, brought_back):
    for colour, kept in zip(measured.colours, brought_back.strips, strict=True):
        assert (kept.name, kept.lab, kept.radius) == (colour.name, colour.lab, colour.radius)
        assert np.array_equal(kept.errors.covariance, colour.covariance)
        assert np.array_equal(kept.errors.shared, colour.errors.shared)
        assert kept.errors.pattern == colour.errors.pattern
        assert not kept.errors.parts["noise"].flags.writeable


def test_the_bare_cloth_comes_back_with_each_strip():
    smeared = measure(str(SAMPLES / "smeared.jpg"), "sample-card")
    facts = json.loads(json.dumps(sitting_dict(sitting_of(smeared)), allow_nan=False))
    for kept in sitting_from(facts).strips:
        assert kept.cloth == tuple(np.round(smeared.cloth.reflectance, 5).tolist())
    # What an earlier program left on the tray knows of no cloth.
    for strip in facts["strips"]:
        del strip["cloth"]
    assert [kept.cloth for kept in sitting_from(facts).strips] == [None, None]


def test_no_cloth_comes_back_where_none_was_seen(brought_back):
    assert [kept.cloth for kept in brought_back.strips] == [None, None]


def test_what_is_known_of_the_photos_comes_back(measured, brought_back):
    assert [ref.light for _, ref in brought_back.photos] == [1, 2]
    assert [ref.digest for _, ref in brought_back.photos] == [look.photo.digest for look in measured.looks]
    assert brought_back.digest == measured.photo.digest
    assert (brought_back.card, brought_back.grade) == (measured.values.name, measured.values.grade)
    assert brought_back.flags["left"] == (*measured.flags, *measured.colour("left").strip.flags)


def test_today_s_strip_is_meant_where_none_is_named(brought_back):
    assert brought_back.strip_named().name == brought_back.usual == "right"
    with pytest.raises(UsageError, match="no strip called 'beside-1'") as refusal:
        brought_back.strip_named("beside-1")
    assert refusal.value.facts["strips"] == ["left", "right"]


def test_a_sitting_of_another_version_is_not_guessed_at(brought_back):
    with pytest.raises(ValueError, match="format"):
        sitting_from(sitting_dict(brought_back) | {"format": "swatchcam-sitting-9"})
