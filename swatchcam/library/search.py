"""The shades nearest to a colour: of each its nearest record."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..colorimetry.nearest_index import Index
from .library import Library
from .records import Record

MORE = 4  # times as many records are asked for, where those of too few shades were found; no source


def nearest_shades(library: Library, lab: ArrayLike, count: int) -> list[tuple[Record, float]]:
    """The `count` shades with the records nearest to a (3,) CIELAB (D65, 10 degrees), and their CIEDE2000.

    Every record is asked for at first as if each shade had one; where shades have many, more are asked for.
    """
    numbers, labs, shades = library.labs()
    index, shade_of = Index(labs, numbers), dict(zip(numbers.tolist(), shades.tolist(), strict=True))
    wanted = min(count, len(np.unique(shades)))
    asked, best = wanted, dict[int, tuple[int, float]]()
    while asked and len(best) < wanted:
        best = {}
        for number, apart in index.nearest(lab, asked):
            best.setdefault(shade_of[number], (number, apart))
        asked *= MORE
    nearest = sorted(best.values(), key=lambda found: (found[1], found[0]))[:count]
    return [(library.record(number), apart) for number, apart in nearest]
