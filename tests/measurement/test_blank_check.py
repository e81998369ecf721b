"""A window without ink is measured, and said to be bare; the palest of inks is not called bare."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.codes import codes
from tests.worlds.inks import cloth
from tests.worlds.scene import Cover, Ink, ink

LEFT = (26.0, 40.0, 64.0, 52.0)  # mm
BARE = {"bare-cloth", "bare-white"}
GROUNDS = ["white", "natural", "grey", "pink", "blue", "black"]


@pytest.fixture(scope="module")
def look(travel, plain_scene):
    """What lies in the left window and changes to the scene -> the left window's flags, and the right one's."""

    def go(content, **changes):
        phone = replace(plain_scene.phone, electrons=8000, contrast=0.2)
        common = {"weave": 0.08, "card_edge": 0.3, "slope": 0.15, "slope_angle": 40, "phone": phone}
        windows = plain_scene.windows | {"left": content}
        found = travel(replace(plain_scene, windows=windows, **(common | changes)))
        return found.strips["left"].flags, found.strips["right"].flags

    return go


@pytest.mark.parametrize("ground", GROUNDS)
def test_bare_cloth_of_any_colour_is_flagged(look, ground):
    left, right = look(Ink(cloth(ground)), cloth=cloth(ground))
    assert codes(left) == ["bare-cloth"]
    assert BARE.isdisjoint(codes(right))


def test_a_small_piece_of_cloth_on_a_table_is_enough(look):
    left, _ = look(None, cloth=cloth("pink"), cloth_rect=(-10, -10, 140, 130), table=cloth("black"))
    assert "bare-cloth" in codes(left)


def test_a_window_covered_with_white_paper_is_flagged(look, printed):
    x, y, w, h = LEFT
    left, right = look(ink({"red": 1.0}), covers=(Cover((x, y, w, h), printed.paper),))
    assert "bare-white" in codes(left)
    assert BARE.isdisjoint(codes(right))


@pytest.mark.parametrize("pigment", ["yellow", "red", "blue", "black"])
def test_a_pale_tint_on_white_cloth_is_ink(look, pigment):
    left, _ = look(ink({pigment: 0.02}))
    assert BARE.isdisjoint(codes(left))


def test_cloth_that_the_photo_does_not_show_tells_nothing(look, plain_scene):
    left, _ = look(None, pose=replace(plain_scene.pose, fraction=1.02), cloth=np.full(81, 0.3))
    assert BARE.isdisjoint(codes(left))
