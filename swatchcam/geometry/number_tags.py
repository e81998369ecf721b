"""The number of the print in a photo, read where the card has it.

The pose says where each module of its three tags lies and which way is up, so nothing is searched for and no tag can be
read turned. A card that is not quite flat lies a little beside its plane: each tag is read where it fits best nearby.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import cv2
import numpy as np

from ..arrays import Array, Mask
from ..cards.design import Box
from ..cards.print_number import IDS, agreeing, number_of, spoken
from ..cards.tag_family import tag_modules
from ..messages.message import Flag, flag
from ..photo.photo import Photo, decoded
from .pose import Pose
from .rectify import square_on
from .tags import MODULES

FINE = 6  # looks at the picture across one module; no source
AROUND = 1  # modules around a tag's place in which it is looked for
BORDER_WRONG, CODE_WRONG = 4, 3  # modules of the border's 28, and of the code's 36, which is 11 off the next tag's
BLACK_AND_WHITE = 10, 90  # percentiles of a tag and the white around it; no source
COVERED = 0.4  # of a place that is dark: a tag's least is 0.6, old prints have a date written there; no source


def read_number(photo: Photo, pose: Pose) -> str | None:
    """The print's number, eight digits; None where none is printed, or not all of it can be read."""
    return number_of(read_tags(photo, pose))


def read_tags(photo: Photo, pose: Pose) -> tuple[int | None, ...]:
    """The three tags of the print's number, None for one that can't be read; () where no number is printed."""
    boxes = pose.design.number_boxes
    if not boxes:
        return ()
    level, rim = _halfway(photo, pose), AROUND * FINE
    places = [_light(photo, pose, box, AROUND) for box in boxes]
    if max((light[rim:-rim, rim:-rim] < level).mean() for light in places) < COVERED:
        return ()
    return tuple(_tag(light) for light in places)


def number_flags(tags: tuple[int | None, ...], known: Iterable[str]) -> tuple[Flag, ...]:
    """That the number can't be read, with those of the known prints that it may be if only one tag is missing."""
    missing = tags.count(None)
    like = [spoken(number) for number in agreeing(tags, known)] if missing == 1 else []
    return (flag("number-unread", like=like),) if missing else ()


def _halfway(photo: Photo, pose: Pose) -> float:
    """Light halfway between black and white, as the card's nearest tag that was found shows them."""
    x, y = pose.design.number_boxes[1].centre
    found = [tag for tag in pose.design.tags if tag.id in pose.tags]
    near = min(found, key=lambda tag: np.hypot(tag.box.centre[0] - x, tag.box.centre[1] - y))
    light = _light(photo, pose, near.box, 0)[FINE // 2 :: FINE, FINE // 2 :: FINE]
    black = tag_modules(pose.design.tag_family, near.id)
    return float(light[black].mean() + light[~black].mean()) / 2


def _light(photo: Photo, pose: Pose, box: Box, around: int) -> Array:
    """(n, n) the file's linear green light of a tag's place and so many modules around, FINE looks to a module."""
    module = box.w / MODULES
    area = Box(box.x - around * module, box.y - around * module, *(box.w + 2 * around * module,) * 2)
    light = decoded(square_on(photo, pose, area, FINE / module), photo.decode)[..., 1]
    return cv2.blur(light, (FINE // 2, FINE // 2))


def _tag(light: Array) -> int | None:
    """(n, n) light of a tag's place -> the tag; None if none fits, wherever nearby it may lie."""
    # Glare and shade change from tag to tag: each has its own black and white.
    dark = light < np.percentile(light, BLACK_AND_WHITE).mean()
    places = np.arange(2 * AROUND * FINE + 1)
    at = places[:, None] + FINE // 2 + FINE * np.arange(MODULES)  # (shifts, modules)
    seen = dark[at[:, None, :, None], at[None, :, None, :]].reshape(-1, MODULES * MODULES)
    border, codes = _patterns()
    framed = seen[(~seen[:, border]).sum(axis=1) <= BORDER_WRONG]
    if not len(framed):
        return None
    # As a product of matrices the comparison takes a tenth of the time.
    agreed = (2 * framed[:, ~border] - 1.0) @ codes.T
    best = int(np.argmax(agreed.max(axis=0)))
    return IDS[best] if agreed[:, best].max() >= len(codes.T) - 2 * CODE_WRONG else None


@cache
def _patterns() -> tuple[Mask, Array]:
    """(64,) which modules are the border, and (256, 36) the others of each tag of a number: 1 black, -1 white."""
    inner = np.zeros((MODULES, MODULES), bool)
    inner[1:-1, 1:-1] = True
    modules = np.array([tag_modules("36h11", number) for number in IDS]).reshape(len(IDS), -1)
    return ~inner.ravel(), 2.0 * modules[:, inner.ravel()] - 1
