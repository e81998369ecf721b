"""A photo in which no tag can be read is refused for what is wrong with it: blur, another card, or no card."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from swatchcam.errors import FindError
from swatchcam.geometry.diagnosis import edge_widths, has_squares, is_blurred
from swatchcam.geometry.pose import find_card
from tests.worlds.scene import Cover, render

SIZE = (1600, 1200)
NO_CARD = (Cover((-60, -60, 330, 270), np.full(81, 0.4)), Cover((20, 20, 90, 60), np.full(81, 0.1), True))


@pytest.fixture(scope="module")
def take(plain_scene, as_photo):
    """Changes to the scene and to its phone -> the photo."""

    def shoot(phone=None, **changes):
        developing = replace(plain_scene.phone, electrons=8000, read_noise=0.001, **(phone or {}))
        return as_photo(render(replace(plain_scene, weave=0.06, phone=developing, **changes), SIZE).pixels)

    return shoot


@pytest.fixture(scope="module")
def sharp(take):
    return take()


SPOILT = {
    "out of focus": {"blur": 7.0},
    "shaken across": {"motion": (22.0, 0.0)},
    "shaken down": {"motion": (0.0, 22.0)},
    "shaken aslant": {"motion": (16.0, 16.0)},
}


@pytest.mark.parametrize("spoilt", SPOILT)
def test_blur_is_told_from_a_card_that_is_not_there(take, spoilt):
    photo = take(SPOILT[spoilt])
    with pytest.raises(FindError, match=r"blurred or shaken: .*tag") as refusal:
        find_card(photo)
    assert refusal.value.remedy == "hold-still"


@pytest.mark.parametrize("phone", [{}, {"blur": 6.0}], ids=["sharp", "blurred"])
def test_a_picture_without_a_card_is_not_called_blurred(take, phone):
    with pytest.raises(FindError, match="No card can be seen in the photo") as refusal:
        find_card(take(phone, covers=NO_CARD))
    assert refusal.value.remedy == "show-the-card"


def test_a_chart_of_squares_without_tags_is_no_card(take, printed):
    hidden = tuple(
        Cover((tag.box.x - 1, tag.box.y - 1, tag.box.w + 2, tag.box.h + 2), printed.paper)
        for tag in printed.design.tags
    )
    with pytest.raises(FindError, match=r"squares like a card's .* none of the tags") as refusal:
        find_card(take(covers=hidden))
    assert refusal.value.remedy == "use-a-printed-card"


def test_covered_tags_in_a_sharp_photo_are_not_called_blurred(take, printed):
    hidden = tuple(Cover((tag.box.x, tag.box.y, 8, 8), np.full(81, 0.5)) for tag in printed.design.tags[:3])
    with pytest.raises(FindError, match="Only 3 of the card's 6") as refusal:
        find_card(take(covers=hidden))
    assert refusal.value.remedy == "uncover-the-card"


@pytest.mark.parametrize("sigma", [2.0, 3.0, 5.0])
def test_the_blur_of_edges_is_measured(sharp, as_photo, sigma):
    widths = edge_widths(as_photo(cv2.GaussianBlur(sharp.pixels, (0, 0), sigma)))
    # The picture is looked at 1200 px long; its own blur and the slope's kernel add a little.
    assert widths == pytest.approx((np.hypot(sigma * 0.75, 0.9),) * 2, rel=0.15)


def test_a_sharp_card_has_squares_and_no_blur(sharp):
    assert has_squares(sharp)
    assert not is_blurred(sharp)


def test_an_empty_picture_has_neither(as_photo):
    empty = as_photo(np.full((900, 1200, 3), 128, np.uint8))
    assert not has_squares(empty)
    with pytest.raises(FindError):
        find_card(empty)
