"""A card that curls up at both short edges, seen straight on, bends the picture as a lens does.

Pose and curl cannot be told apart there, and need not be: the same two numbers of distortion that stand for a lens
take the bend out, so that what is read lies where it is printed. Curl that they do not take out shows in the tags
and is flagged or refused. (The change of light on a curled card is smooth and belongs to the light field.)
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.errors import FindError
from swatchcam.geometry.pose import CURL_WARNING_MM
from tests.worlds.lens import Pose
from tests.worlds.spectra import difference

STRAIGHT = Pose(fraction=0.9)


@pytest.fixture(scope="module")
def noisy(plain_scene):
    phone = replace(plain_scene.phone, electrons=8000, read_noise=0.001)
    return replace(plain_scene, phone=phone, weave=0.06, pose=STRAIGHT)


@pytest.fixture(scope="module")
def flat(travel, noisy):
    return travel(noisy)


def worst_place(road):
    """Largest distance, mm, of a patch's corner from where it is read."""
    pose = road.card.pose
    off = [
        np.linalg.norm(
            pose.to_photo(np.array([[b.x, b.y], [b.x + b.w, b.y], [b.x + b.w, b.y + b.h], [b.x, b.y + b.h]]))
            - road.shot.corners[patch.name],
            axis=1,
        ).max()
        for patch in pose.design.patches
        for b in [patch.box]
    ]
    return max(off) / pose.px_per_mm


@pytest.mark.parametrize("curl", [2.0, 5.0, 8.0, 12.0])
def test_a_curled_card_seen_straight_on_measures_the_same_or_is_flagged(travel, noisy, flat, curl):
    road = travel(replace(noisy, pose=replace(STRAIGHT, curl=curl)))
    flagged = any(flag.code == "card-not-quite-flat" for flag in road.card.pose.flags)
    assert flagged is (road.card.pose.residual_mm > CURL_WARNING_MM)
    # A patch is read 1.5 mm inside its edges.
    assert worst_place(road) < 1.5
    for name in ("left", "right"):
        assert difference(road.colour(name).lab, flat.colour(name).lab) < 0.3


def test_a_curl_that_shows_in_the_tags_is_flagged_or_refused(travel, noisy):
    with pytest.raises(FindError, match="not flat: its tags lie") as refusal:
        travel(replace(noisy, pose=replace(STRAIGHT, curl=20.0, tilt_y=25.0)))
    assert refusal.value.remedy == "flatten-the-card"
