"""The arrays that states hand each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]  # its shape and unit stand beside each name
Mask = NDArray[np.bool_]


def triple(numbers: Array) -> tuple[float, float, float]:
    """(3,) array -> a tuple, which a frozen value may hold."""
    return float(numbers[0]), float(numbers[1]), float(numbers[2])
