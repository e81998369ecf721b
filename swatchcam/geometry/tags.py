"""Photo -> the fiducial tags in it, with sub-pixel corners.

The tags are of the open AprilTag 36h11 family (Olson 2011, doi:10.1109/ICRA.2011.5979561), found by OpenCV.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..cards.design import designs
from ..cards.print_number import IDS, TAGS
from ..errors import FindError
from ..photo.photo import Photo

SEARCH_WIDTHS = (1200, 2400, 4800)  # px on the long side: most cards are found in the first, small ones later
# px of the small picture: two windows in which dark is told from bright, OpenCV's own choice are three, for speed. Of
# its long side: a tag's outline at least. No source.
WINDOWS, WINDOW_STEP, LEAST_OUTLINE = (9, 25), 16, 0.02
MODULES = 8  # squares along a tag's side: six of code and the black border of one (Olson 2011)
# A corner is refined so far around it: in modules, and at least and at most px. No source.
REACH, LEAST_REACH, MOST_REACH = 0.7, 2, 12
ROUNDS, STILL = 30, 0.01  # of that, at most; px in the last of them; no source


def detect_tags(photo: Photo) -> dict[int, Array]:
    """Tag number -> its four corners (4, 2) px, searched coarse to fine until every tag of one card is seen.

    Raises
    ------
    FindError
        One tag is seen twice.
    """
    seen: dict[int, Array] = {}
    enough = min(len(design.tags) for design in designs().values())
    for width in SEARCH_WIDTHS:
        here = _read(photo.pixels, width, known_numbers())
        if len(here) > len(seen):
            seen = here
        if len(seen) >= enough or max(photo.pixels.shape[:2]) <= width:
            break
    return seen


def every_tag(photo: Photo) -> list[tuple[int, Array]]:
    """Every known tag in the photo, (number, corners (4, 2) px), a number once for each card that bears it."""
    # Widths beyond the photo's own all read it as it is: one of them is enough.
    beyond = [width for width in SEARCH_WIDTHS if width >= max(photo.pixels.shape[:2])]
    widths = [width for width in SEARCH_WIDTHS if width not in beyond[1:]]
    found = [_read_each(photo.pixels, width, known_numbers()) for width in widths]
    return max(found, key=len)


def known_numbers() -> tuple[int, ...]:
    """The tag numbers of every card design known here."""
    return tuple(sorted({tag.id for design in designs().values() for tag in design.tags}))


def unknown_tags(photo: Photo) -> tuple[int, ...]:
    """Numbers of the family's tags in the photo that belong to no card known here; a print's own number is none."""
    every = tuple(range(_family().bytesList.shape[0]))
    strangers = set(_read(photo.pixels, SEARCH_WIDTHS[1], every)) - set(known_numbers())
    return tuple(sorted(strangers)) if len(strangers) > TAGS or strangers - set(IDS) else ()


def is_mirrored(photo: Photo) -> bool:
    """Whether known tags can be read in the mirrored photo."""
    return bool(_read(np.ascontiguousarray(photo.pixels[:, ::-1]), SEARCH_WIDTHS[0], known_numbers()))


def squares(photo: Photo) -> Array:
    """(n,) side, px of the small picture, of every square in the photo that is no tag known here."""
    grey, _ = small_grey(photo.pixels, SEARCH_WIDTHS[0])
    rejected = _detector(known_numbers()).detectMarkers(grey)[2]
    return np.array([np.sqrt(cv2.contourArea(np.asarray(four, dtype=np.float32).reshape(4, 2))) for four in rejected])


def _read(pixels: NDArray[np.uint8], width: int, wanted: tuple[int, ...]) -> dict[int, Array]:
    found = _read_each(pixels, width, wanted)
    numbers = [number for number, _ in found]
    doubled = {number for number in numbers if numbers.count(number) > 1}
    if doubled:
        raise FindError("two-cards", "show-one-card", tag=min(doubled))
    return dict(found)


def _read_each(pixels: NDArray[np.uint8], width: int, wanted: tuple[int, ...]) -> list[tuple[int, Array]]:
    grey, shrink = small_grey(pixels, width)
    corners, rows = _detector(wanted).detectMarkers(grey)[:2]
    return [
        (wanted[int(row)], (np.asarray(corner, dtype=float).reshape(4, 2) + 0.5) * shrink - 0.5)
        for row, corner in zip(() if rows is None else np.ravel(rows), corners, strict=True)
    ]


def _family() -> cv2.aruco.Dictionary:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36H11)


@cache
def _detector(wanted: tuple[int, ...]) -> cv2.aruco.ArucoDetector:
    # Every square in the picture, so every patch, is held against every tag: with the few numbers wanted
    # instead of the family's 587 this takes a tenth of the time.
    family = _family()
    few = cv2.aruco.Dictionary(family.bytesList[list(wanted)], family.markerSize, family.maxCorrectionBits)
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    parameters.adaptiveThreshWinSizeMin = WINDOWS[0]
    parameters.adaptiveThreshWinSizeMax = WINDOWS[1]
    parameters.adaptiveThreshWinSizeStep = WINDOW_STEP
    parameters.minMarkerPerimeterRate = LEAST_OUTLINE
    return cv2.aruco.ArucoDetector(few, parameters)


def refine_corners(photo: Photo, corners: Array) -> Array:
    """(4 n, 2) px corners, moved to sub-pixel accuracy at the photo's full resolution."""
    refined = np.array(corners, dtype=np.float32)
    for first in range(0, len(refined), 4):
        four = refined[first : first + 4]
        module = float(np.linalg.norm(four - np.roll(four, 1, axis=0), axis=1).min()) / MODULES
        reach = int(np.clip(round(REACH * module), LEAST_REACH, MOST_REACH))
        low = np.floor(four.min(axis=0)).astype(int) - 3 * reach
        high = np.ceil(four.max(axis=0)).astype(int) + 3 * reach + 1
        low = np.maximum(low, 0)
        part = photo.pixels[low[1] : high[1], low[0] : high[0]]
        if part.dtype != np.uint8:
            part = (part >> 8).astype(np.uint8)
        grey = cv2.cvtColor(np.ascontiguousarray(part), cv2.COLOR_RGB2GRAY)
        local = np.ascontiguousarray((four - low).reshape(4, 1, 2), dtype=np.float32)
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, ROUNDS, STILL)
        moved = cv2.cornerSubPix(grey, local, (reach, reach), (-1, -1), stop).reshape(4, 2) + low
        # A corner that ran away fell for dirt or glare beside the tag: the rough one is better.
        far = np.linalg.norm(moved - four, axis=1) > reach
        refined[first : first + 4] = np.where(far[:, None], four, moved)
    return refined.astype(np.float64)


def small_grey(pixels: NDArray[np.uint8], width: int) -> tuple[NDArray[np.uint8], float]:
    """Grey 8-bit picture about `width` px long, and how many photo pixels one of its pixels spans."""
    small = pixels
    while max(small.shape[:2]) >= 2 * width:
        # Halving by area is many times faster than one step of an odd ratio, and does not alias.
        small = cv2.resize(small, (small.shape[1] // 2, small.shape[0] // 2), interpolation=cv2.INTER_AREA)
    ratio = width / max(small.shape[:2])
    if ratio < 1:
        small = cv2.resize(small, None, fx=ratio, fy=ratio, interpolation=cv2.INTER_LINEAR)
    if small.dtype != np.uint8:
        small = (small >> 8).astype(np.uint8)
    return cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), pixels.shape[1] / small.shape[1]
