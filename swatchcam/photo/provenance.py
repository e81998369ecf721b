"""Is the file what the camera saved? Signs of a screenshot and of an edit; most edits of a JPEG leave none.

Saturation, tints and vignettes that an editor puts over the whole picture change the card's patches as they change
the ink, and are undone with the rest. What cannot be undone shows in other places: highlights cut off, prints of one
grey that disagree, colours that do not fit.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from ..messages.message import Flag, flag
from .photo import Photo

FLAT = 3  # code values, of 8 bits: a border painted by a program varies by less
BORDER = 0.01  # of a side
LOOKS = 32  # lines across the picture
# Pixels of phones' and monitors' screens, short side first; from memory, no source.
SCREENS = {
    (750, 1334), (828, 1792), (1080, 1920), (1080, 2160), (1080, 2280), (1080, 2340), (1080, 2400), (1125, 2436),
    (1170, 2532), (1179, 2556), (1206, 2622), (1242, 2688), (1284, 2778), (1290, 2796), (1320, 2868), (1440, 2560),
    (1440, 2960), (1440, 3120), (1440, 3200), (1600, 2560), (1800, 2880), (2160, 3840),
}  # fmt: skip
COMB = 8  # code values left out, each between two that are used
USED = 10  # pixels that both neighbours of a left-out code have at least
HARDLY = 0.02  # of the less used neighbour


def origin_flags(photo: Photo) -> Iterator[Flag]:
    """Signs that a photo is not as the camera saved it; a sound photo may show one of them."""
    height, width = photo.pixels.shape[:2]
    if Path(photo.path).suffix.lower() == ".png" and not photo.camera and tuple(sorted((width, height))) in SCREENS:
        yield flag("screenshot-suspected")
    # In a linear photo the dark parts of any scene lie within a few codes.
    if not photo.linear and has_border(photo.pixels):
        yield flag("border-of-one-colour")
    if photo.pixels.dtype == np.uint8 and left_out(photo.pixels) >= COMB:
        yield flag("edit-suspected")


def has_border(pixels: NDArray[np.uint8]) -> bool:
    """Whether two opposite edges of (h, w, 3) are strips of one and the same colour."""
    tall, wide = (max(round(BORDER * side), 2) for side in pixels.shape[:2])
    across = pixels[:, :: max(pixels.shape[1] // LOOKS, 1)]
    down = pixels[:: max(pixels.shape[0] // LOOKS, 1)]
    pairs = (across[:tall], across[-tall:]), (down[:, :wide], down[:, -wide:])
    return any(_flat(np.concatenate([one.reshape(-1, 3), other.reshape(-1, 3)])) for one, other in pairs)


def _flat(colours: NDArray[np.uint8]) -> bool:
    step = FLAT * (np.iinfo(colours.dtype).max // 255)
    return bool((np.ptp(colours, axis=0) < step).all())


def left_out(pixels: NDArray[np.uint8]) -> int:
    """How many code values of green (h, w, 3) are hardly used between two that are: what stretching levels leaves."""
    rows = np.ascontiguousarray(pixels[:: max(pixels.shape[0] // LOOKS, 1)])
    counts = cv2.calcHist([rows], [1], None, [256], [0, 256]).ravel()
    beside = np.minimum(counts[:-2], counts[2:])
    return int(((beside > USED) & (counts[1:-1] < HARDLY * beside)).sum())
