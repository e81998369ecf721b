"""A screenshot or an edited file is told where the file shows it, and never where it does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.geometry.pose import find_card
from swatchcam.messages.message import flag
from swatchcam.photo.provenance import left_out, origin_flags
from tests.worlds.edits import EDITS
from tests.worlds.scene import render


@pytest.fixture(scope="module")
def take(fair_scene, as_photo):
    """Changes to a fair scene's phone -> the photo."""

    def shoot(size=(1200, 900), path="drawn.jpg", **phone):
        scene = replace(fair_scene, phone=replace(fair_scene.phone, **phone))
        return as_photo(render(scene, size).pixels, path)

    return shoot


@pytest.fixture(scope="module")
def plain_photo(take):
    return take()


def test_a_photo_as_it_was_taken_is_not_flagged(plain_photo):
    assert list(origin_flags(plain_photo)) == []


@pytest.mark.parametrize("share", [0.75, 0.95])
def test_a_screenshot_with_its_border_is_flagged_on_the_road(take, share):
    pose = find_card(take(screenshot=share))
    assert flag("border-of-one-colour") in pose.flags


BORDERS = {
    "above and below": ((40, 40), (0, 0)),
    "at both sides": ((0, 0), (40, 40)),
    "all around": ((30, 30), (30, 30)),
}


@pytest.mark.parametrize("border", BORDERS)
@pytest.mark.parametrize("grey", [0, 90, 255])
def test_a_border_of_any_grey_is_flagged(plain_photo, as_photo, border, grey):
    framed = np.pad(plain_photo.pixels, (*BORDERS[border], (0, 0)), constant_values=grey)
    assert flag("border-of-one-colour") in origin_flags(as_photo(framed))


def test_one_flat_edge_is_no_border(plain_photo, as_photo):
    dark_table = np.pad(plain_photo.pixels, ((40, 0), (0, 0), (0, 0)), constant_values=10)
    assert list(origin_flags(as_photo(dark_table))) == []


FILES = {
    "PNG, a phone's screen": ("shot.png", (1080, 2340), "", True),
    "PNG, a monitor lying": ("shot.PNG", (1920, 1080), "", True),
    "JPEG of that size": ("shot.jpg", (1920, 1080), "", False),
    "PNG of another size": ("shot.png", (1921, 1080), "", False),
    "PNG with a camera's name": ("shot.png", (1920, 1080), "Probe 7", False),
}


@pytest.mark.parametrize("file", FILES)
def test_a_png_as_large_as_a_screen_is_flagged_unless_a_camera_made_it(as_photo, file):
    path, (width, height), camera, flagged = FILES[file]
    noise = np.random.default_rng(1).integers(0, 255, (height, width, 3), dtype=np.uint8)
    flags = list(origin_flags(replace(as_photo(noise, path), camera=camera)))
    assert flags == [flag("screenshot-suspected")] * flagged


def test_levels_pulled_apart_are_told_in_a_file_without_loss(take):
    edited = take(edit=("stretched", 0.5))
    assert left_out(edited.pixels) > 15
    assert flag("edit-suspected") in origin_flags(edited)


@pytest.mark.parametrize("edit", sorted(set(EDITS) - {"stretched"}))
def test_other_edits_are_not_guessed_at(take, edit):
    guesses = {"screenshot-suspected", "border-of-one-colour"}
    assert not guesses & {each.code for each in origin_flags(take(edit=(edit, 0.3)))}
