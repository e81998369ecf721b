"""Why the tags cannot be read: is the photo blurred, is there no card, or one without tags?"""

from __future__ import annotations

import cv2
import numpy as np

from ..errors import FindError
from ..photo.photo import Photo
from .tags import SEARCH_WIDTHS, small_grey, squares

REACH = 25  # px of the small picture around an edge in which it rises from dark to bright
EDGES = 99.0  # percentile of the slopes that counts as edges
BLURRED = 1.6  # px of the small picture, standard deviation; sharp drawn photos of a card stay below 1.45
MANY = 10  # squares of like size: a card has 67 patches
ALIKE = 4 / 3  # sides that differ by less than this ratio are of like size; no source


def nothing_read(photo: Photo) -> FindError:
    """The refusal of a photo in which no tag can be read."""
    if has_squares(photo) and is_blurred(photo):
        return FindError("photo-blurred", "hold-still", read=0)
    if has_squares(photo):
        return FindError("card-without-tags", "use-a-printed-card")
    # Plain cloth has no steep edges however sharp the photo is, so nothing is said of blur here.
    return FindError("no-card", "show-the-card")


def too_few_read(photo: Photo, read: int, count: int) -> FindError:
    """The refusal of a photo in which a card is seen, but too few of its tags can be read."""
    if is_blurred(photo):
        return FindError("photo-blurred", "hold-still", read=read, count=count)
    return FindError("too-few-tags", "uncover-the-card", read=read, count=count)


def is_blurred(photo: Photo) -> bool:
    """Whether even the sharpest edges are spread, across or down: shaking blurs one of them only."""
    return max(edge_widths(photo)) > BLURRED


def edge_widths(photo: Photo) -> tuple[float, float]:
    """Standard deviation of the blur of the steepest edges, across and down, px of a picture 1200 px long.

    A step of height A blurred by a Gaussian of standard deviation σ is nowhere steeper than A / (σ √(2 π)).
    """
    grey = small_grey(photo.pixels, SEARCH_WIDTHS[0])[0].astype(np.float32)
    window = np.ones((REACH, REACH), np.uint8)
    height = cv2.dilate(grey, window) - cv2.erode(grey, window)
    widths = []
    for dx, dy in ((1, 0), (0, 1)):
        slope = np.abs(cv2.Sobel(grey, cv2.CV_32F, dx, dy, scale=1 / 8))
        steep = slope >= max(float(np.percentile(slope, EDGES)), 1e-3)
        ratio = height[steep] / slope[steep] if steep.any() else np.full(1, float(REACH))
        widths.append(float(np.median(ratio)) / np.sqrt(2 * np.pi))
    return widths[0], widths[1]


def has_squares(photo: Photo) -> bool:
    """Whether there are many squares of like size, as on a card."""
    sides = squares(photo)
    if not len(sides):
        return False
    alike = np.abs(np.log(sides / np.median(sides))) < np.log(ALIKE)
    return bool(alike.sum() >= MANY)
