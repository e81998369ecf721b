"""The ink is found where it is, and its mean is that of the ink alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.errors import StripError
from swatchcam.messages.surface import TERMINAL
from tests.codes import codes
from tests.worlds.inks import cloth
from tests.worlds.lens import Pose
from tests.worlds.scene import Cover, Ink, Loose, ink
from tests.worlds.spectra import difference

RED, NEAR = {"red": 1.2, "yellow": 0.4}, {"red": 1.2, "yellow": 0.5}
LEFT = (26.0, 40.0, 64.0, 52.0)  # mm, the left window
GREEN, OCHRE, GREY = {"green": 0.5}, {"golden": 0.5, "brown": 0.6}, {"black": 0.3}
BESIDE = (Loose("below", (20, 160, 40, 30), ink(GREEN)), Loose("below right", (100, 160, 36, 28), ink(OCHRE)))
ABOVE = Loose("above", (30, -45, 40, 30), ink(GREY))


@pytest.fixture(scope="module")
def scene(plain_scene):
    return replace(plain_scene, weave=0.06)


@pytest.fixture(scope="module")
def filled(travel, scene):
    """Both windows full of ink."""
    return travel(scene)


def with_left(scene, content, **changes):
    return replace(scene, windows=scene.windows | {"left": content}, **changes)


def box_of(strip):
    """x, y, x, y mm around everything that was measured."""
    points = np.concatenate([np.array(outline) for outline in strip.outline])
    return (*points.min(axis=0), *points.max(axis=0))


# --- windows ------------------------------------------------------------------------------------------------


def test_a_full_window_is_measured_up_to_the_cards_own_shadow(filled):
    strip = filled.strips["left"]
    x, y, w, h = LEFT
    assert strip.area_mm2 == pytest.approx((w - 5) * (h - 5), rel=0.02)
    assert_allclose(box_of(strip), (x + 2.5, y + 2.5, x + w - 2.5, y + h - 2.5), atol=0.6)
    assert strip.flags == ()


PARTLY = {
    "ragged at all sides": ink(RED, extent=(0.12, 0.15, 0.85, 0.9), ragged=1.5),
    "open to the right": ink(RED, extent=(0.0, 0.0, 0.72, 1.0), ragged=1.0),
    "small": ink(RED, extent=(0.3, 0.28, 0.7, 0.72), ragged=0.5),
}


@pytest.mark.parametrize("content", PARTLY)
def test_a_strip_that_does_not_fill_the_window_keeps_its_colour(travel, scene, filled, content):
    found = travel(with_left(scene, PARTLY[content]))
    assert difference(found.colour("left").lab, filled.colour("left").lab) < 0.2
    left, top, right, bottom = PARTLY[content].extent
    x, y, w, h = LEFT
    inside = (x + left * w, y + top * h, x + right * w, y + bottom * h)
    found_box = box_of(found.strips["left"])
    assert (np.array(found_box)[:2] >= np.array(inside)[:2]).all()
    assert (np.array(found_box)[2:] <= np.array(inside)[2:]).all()
    assert found.strips["left"].area_mm2 > 0.45 * (right - left) * w * (bottom - top) * h


SOILED = {
    "lint": (ink(RED, specks=10), ()),
    "a white and a black thread": (
        ink(RED),
        (Cover((30, 60, 50, 0.4), 0.8 * cloth("white")), Cover((64, 44, 0.5, 40), np.full(81, 0.03))),
    ),
    "drops": (ink(RED), tuple(Cover((x, y, 3, 3), np.full(81, 0.05), True) for x, y in ((40, 50), (70, 80), (80, 50)))),
}


@pytest.mark.parametrize("soil", SOILED)
def test_lint_threads_and_drops_do_not_move_the_mean(travel, scene, filled, soil):
    content, covers = SOILED[soil]
    found = travel(with_left(scene, content, covers=covers))
    assert difference(found.colour("left").lab, filled.colour("left").lab) < 0.2
    assert found.strips["left"].area_mm2 < filled.strips["left"].area_mm2


def test_a_window_half_full_up_to_its_middle_is_refused(travel, scene):
    with pytest.raises(StripError, match="middle of the left window is part ink, part bare") as refusal:
        travel(with_left(scene, ink(RED, extent=(0, 0, 0.5, 1))))
    assert refusal.value.remedy == "fill-the-middle"


def test_a_scrap_of_ink_in_the_middle_is_refused(travel, scene):
    with pytest.raises(StripError):
        travel(with_left(scene, ink(RED, extent=(0.42, 0.42, 0.58, 0.58))))


def test_ink_at_one_side_leaves_the_cloth_in_the_middle_to_be_measured(travel, scene, filled):
    found = travel(with_left(scene, ink(RED, extent=(0, 0, 0.3, 1))))
    assert difference(found.colour("left").lab, found.shot.truth["cloth"]) < 1.0


def test_a_bare_window_shows_the_cloth(travel, scene):
    found = travel(with_left(scene, None))
    assert difference(found.colour("left").lab, found.shot.truth["cloth"]) < 1.0
    assert found.strips["left"].uneven < 0.5


@pytest.mark.parametrize(("uneven", "flagged"), [(0.03, False), (0.06, False), (0.25, True)])
def test_an_uneven_strip_is_flagged(travel, scene, uneven, flagged):
    found = travel(with_left(scene, ink(RED, uneven=uneven)))
    flags = found.strips["left"].flags
    assert ("strip-uneven" in codes(flags)) is flagged
    # The mean is of the light, as the truth is: unevenness does not bend it.
    assert found.error("left") < 1.5


def test_unevenness_counts_in_the_error(travel, scene, filled):
    uneven = travel(with_left(scene, ink(RED, uneven=0.1))).strips["left"]
    assert np.trace(uneven.covariance) > 10 * np.trace(filled.strips["left"].covariance)


def test_an_overexposed_strip_is_refused(travel, scene):
    # Cloth with an optical brightener sends back more than a perfect white would.
    phone = replace(scene.phone, exposure=0.85)
    with pytest.raises(StripError, match="left window is overexposed") as refusal:
        travel(with_left(scene, Ink(np.full(81, 1.2)), phone=phone))
    assert "lower the exposure by one stop" in TERMINAL.remedy(refusal.value)


def test_a_channel_cut_off_at_zero_is_counted(travel, scene):
    vivid = travel(with_left(scene, ink({"blue": 2.5}))).strips["left"]
    assert vivid.cut[0] > 0.9
    assert vivid.cut[2] == 0
    assert "too-vivid" in codes(vivid.flags)


def test_the_photo_is_left_as_it_was(filled):
    assert np.array_equal(filled.photo.pixels, filled.shot.pixels)


# --- beside the card ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def wide(plain_scene):
    return replace(plain_scene, weave=0.06, pose=Pose(fraction=0.62), slope=0.12, slope_angle=60)


@pytest.mark.parametrize("pieces", [BESIDE[:1], BESIDE, (*BESIDE, ABOVE)], ids=["one", "two", "three"])
def test_loose_strips_are_found_where_they_are_in_reading_order(travel, wide, pieces):
    found = travel(replace(wide, loose=pieces), (1600, 1200), beside=True)
    in_order = sorted(pieces, key=lambda piece: (piece.rect[1], piece.rect[0]))
    assert list(found.strips) == ["left", "right", *(f"beside-{i + 1}" for i in range(len(pieces)))]
    for number, piece in enumerate(in_order, start=1):
        strip = found.strips[f"beside-{number}"]
        x, y, w, h = piece.rect
        # 1.5 mm of rim is kept clear.
        assert_allclose(box_of(strip), (x + 1.5, y + 1.5, x + w - 1.5, y + h - 1.5), atol=0.8)
        # A camera is not an eye: as far off as the same ink in a window may be, not more.
        assert difference(found.colour(strip.name).lab, found.shot.truth[piece.name]) < 2.5


def test_a_loose_strip_measures_what_it_would_in_a_window(travel, wide):
    found = travel(replace(wide, loose=(Loose("below", (70, 158, 64, 30), ink(RED)),)), (1600, 1200), beside=True)
    assert difference(found.colour("beside-1").lab, found.colour("left").lab) < 0.5
    # Light outside the frame is extrapolated, and said to be less sure.
    assert found.strips["beside-1"].light_std > found.strips["left"].light_std


def test_nothing_beside_the_card_is_refused_when_asked_for(travel, wide):
    with pytest.raises(StripError, match="No loose strip") as refusal:
        travel(wide, (1600, 1200), beside=True)
    assert "within 6 cm of the card" in TERMINAL.remedy(refusal.value)


def test_a_ruler_and_a_far_piece_are_no_strips(travel, wide):
    ruler = Cover((10, 160, 150, 10), 0.4 * cloth("natural"))
    with pytest.raises(StripError, match="No loose strip"):
        travel(replace(wide, covers=(ruler,)), (1600, 1200), beside=True)
