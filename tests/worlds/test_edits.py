"""Edits, screenshots and wet films are drawn as they say, and only where they are asked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.worlds.edits import EDITS, LUMA
from tests.worlds.scene import ink, render
from tests.worlds.spoilers import SPOILERS, wetted_ink

SIZE = (800, 600)
RED = ink({"red": 1.2})
RAMP = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2) * np.ones((8, 1, 1), np.uint8)
COLOUR = np.tile(np.array([200, 120, 60], np.uint8), (8, 8, 1))


@pytest.fixture(scope="module")
def photo(plain_scene):
    return render(plain_scene, SIZE)


def middle(shot, name="left"):
    """The pixels of the middle of a place."""
    four = shot.corners[name]
    low, high = (four.mean(axis=0) + 0.5 * (corner - four.mean(axis=0)) for corner in (four.min(0), four.max(0)))
    return shot.pixels[int(low[1]) : int(high[1]), int(low[0]) : int(high[0])].astype(float)


@pytest.mark.parametrize("edit", EDITS)
def test_an_edit_changes_the_picture_and_nothing_else(plain_scene, photo, edit):
    edited = render(replace(plain_scene, phone=replace(plain_scene.phone, edit=(edit, 0.4))), SIZE)
    assert np.abs(edited.pixels.astype(int) - photo.pixels).mean() > 1
    assert all(np.array_equal(edited.truth[name], photo.truth[name]) for name in photo.truth)
    assert np.array_equal(edited.corners["card"], photo.corners["card"])


def test_saturation_keeps_grey_and_the_brightness_of_a_colour():
    assert np.array_equal(EDITS["saturated"](RAMP, 0.5), RAMP)
    vivid = EDITS["saturated"](COLOUR, 0.5)
    assert np.ptp(vivid[0, 0]) > 1.4 * np.ptp(COLOUR[0, 0])
    assert_allclose(vivid[0, 0] @ LUMA, COLOUR[0, 0] @ LUMA, atol=1)


def test_levels_are_few_or_have_gaps():
    assert len(np.unique(EDITS["posterised"](RAMP, 0.5))) <= 24
    inside = EDITS["stretched"](RAMP, 0.5)[0, 20:220, 0]
    assert set(np.diff(inside.astype(int))) == {1, 2}


def test_a_vignette_leaves_the_middle_alone():
    shaded = EDITS["vignetted"](np.full((101, 101, 3), 200, np.uint8), 0.3)
    assert shaded[50, 50, 0] == 200
    assert shaded[0, 0, 0] == 140


def test_a_screenshot_tells_where_the_card_went(plain_scene, photo):
    shot = render(replace(plain_scene, phone=replace(plain_scene.phone, screenshot=0.8)), SIZE)
    assert shot.pixels.shape == photo.pixels.shape
    assert (shot.pixels[-20:] == 12).all()
    assert_allclose(middle(shot).mean(axis=(0, 1)), middle(photo).mean(axis=(0, 1)), atol=1)
    assert np.ptp(shot.corners["card"][:, 0]) == pytest.approx(0.8 * np.ptp(photo.corners["card"][:, 0]))


def test_a_wet_film_is_darker_in_truth_and_shines(plain_scene, photo):
    dry, wet = RED, wetted_ink(RED, 0.05)
    assert (wet.reflectance < dry.reflectance).all()
    soaked = replace(wet, gloss=0.0)
    shots = [render(replace(plain_scene, windows={"left": film}), SIZE) for film in (wet, soaked)]
    assert np.array_equal(shots[0].truth["left"], shots[1].truth["left"])
    shine = middle(shots[0]) - middle(shots[1])
    assert shine.mean() > 3
    assert shine.mean(axis=2).std() > 1


def test_the_new_ways_to_spoil_a_photo_come_last():
    assert list(SPOILERS)[-6:] == ["reflection", "wet", "bare window", "curl", "edited", "screenshot"]
