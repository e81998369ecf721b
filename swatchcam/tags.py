"""Photo -> the fiducial tags in it, with sub-pixel corners.

The tags are of the open AprilTag 36h11 family (Olson 2011, doi:10.1109/ICRA.2011.5979561), found by OpenCV.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .card import designs
from .errors import FindError
from .photo import Photo

SEARCH_WIDTHS = (1600, 2600, 5200)  # px on the long side: most cards are found in the first, small ones later


def detect_tags(photo: Photo) -> dict[int, NDArray[np.float32]]:
    """Tag number -> its four corners (4, 2) px, searched coarse to fine until nothing new can be expected."""
    seen: dict[int, NDArray[np.float32]] = {}
    wanted = {len(design.tags) for design in designs().values()}
    for width in SEARCH_WIDTHS:
        grey, shrink = _small_grey(photo.pixels, width)
        corners, numbers = _detector().detectMarkers(grey)[:2]
        numbers = [] if numbers is None else [int(number) for number in np.ravel(numbers)]
        doubled = {number for number in numbers if numbers.count(number) > 1}
        if doubled:
            raise FindError(
                f"There are two cards in the photo (tag {min(doubled)} is seen twice).",
                "Leave one card in the picture and shoot again.",
            )
        here = {
            number: (corner.reshape(4, 2) + 0.5) * shrink - 0.5 for number, corner in zip(numbers, corners, strict=True)
        }
        if len(here) > len(seen):
            seen = here
        if len(seen) >= min(wanted) or max(photo.pixels.shape[:2]) <= width:
            break
    return seen


def refine_corners(photo: Photo, corners: NDArray[np.float32]) -> NDArray[np.float64]:
    """(4 n, 2) px corners, moved to sub-pixel accuracy at the photo's full resolution."""
    refined = np.array(corners, dtype=np.float32)
    for first in range(0, len(refined), 4):
        four = refined[first : first + 4]
        module = float(np.linalg.norm(four - np.roll(four, 1, axis=0), axis=1).min()) / 8
        reach = int(np.clip(round(0.7 * module), 2, 12))
        low = np.floor(four.min(axis=0)).astype(int) - 3 * reach
        high = np.ceil(four.max(axis=0)).astype(int) + 3 * reach + 1
        low = np.maximum(low, 0)
        part = photo.pixels[low[1] : high[1], low[0] : high[0]]
        if part.dtype != np.uint8:
            part = (part >> 8).astype(np.uint8)
        grey = cv2.cvtColor(np.ascontiguousarray(part), cv2.COLOR_RGB2GRAY)
        local = np.ascontiguousarray((four - low).reshape(4, 1, 2), dtype=np.float32)
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
        moved = cv2.cornerSubPix(grey, local, (reach, reach), (-1, -1), stop).reshape(4, 2) + low
        # A corner that ran away fell for dirt or glare beside the tag: the rough one is better.
        far = np.linalg.norm(moved - four, axis=1) > reach
        refined[first : first + 4] = np.where(far[:, None], four, moved)
    return refined.astype(np.float64)


def is_mirrored(photo: Photo) -> bool:
    """Whether tags can be read in the mirrored photo."""
    grey, _ = _small_grey(photo.pixels[:, ::-1], SEARCH_WIDTHS[0])
    return _detector().detectMarkers(grey)[1] is not None


def _detector() -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    parameters.adaptiveThreshWinSizeMin = 5
    parameters.adaptiveThreshWinSizeMax = 29
    parameters.adaptiveThreshWinSizeStep = 12
    return cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36H11), parameters)


def _small_grey(pixels: NDArray[np.uint8], width: int) -> tuple[NDArray[np.uint8], float]:
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
