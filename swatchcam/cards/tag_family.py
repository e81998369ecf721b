"""The square tags that say which card it is, and which print: black and white modules of an open family.

36h11 (Olson 2011, doi:10.1109/ICRA.2011.5979561): 587 tags of 6 x 6 modules in a black border of one.
"""

from __future__ import annotations

import cv2
import numpy as np

from ..errors import CardError

FAMILIES = {"36h11": 20}  # OpenCV's number; it spells the name with h or H, by version


def tag_modules(family: str, number: int) -> np.ndarray:
    """One tag with its black border -> (8, 8) bool array, row 0 at the top, True where it is black.

    Raises
    ------
    CardError
        There is no such family or tag here.
    """
    if family not in FAMILIES:
        raise CardError("tag-family-unknown", "correct-the-file", family=family, known=list(FAMILIES))
    dictionary = cv2.aruco.getPredefinedDictionary(FAMILIES[family])
    count = len(dictionary.bytesList)
    if not 0 <= number < count:
        raise CardError("tag-number-unknown", "number-tags-within", family=family, tag=number, most=count - 1)
    side = dictionary.markerSize + 2
    modules: np.ndarray = cv2.aruco.generateImageMarker(dictionary, number, side, borderBits=1) == 0
    return modules
