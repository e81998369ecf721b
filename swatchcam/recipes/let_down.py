"""A let-down strip: one part of the ink, thinned with so many parts of clear base before it was put on cloth.

So vivid and dark inks come into range, and how strong they are shows more clearly.
"""

from __future__ import annotations

import re

from ..errors import UsageError
from .numbers import NUMBER, check_number, number_of

RATIO = re.compile(rf"(?:{NUMBER}\s*:\s*)?{NUMBER}")
LEAST, MOST = 0.1, 1000.0  # parts of clear base to one part of ink; no source
DIGITS = 4  # decimals: "3:10" is one and the same ratio whenever it is typed


def parse_let_down(text: str) -> float:
    """ "10" or "1:10" -> parts of clear base to one part of ink; "0" and "" are the ink itself.

    Raises
    ------
    UsageError
        It cannot be read, or is no such ratio.
    """
    if not text.strip():
        return 0.0
    found = RATIO.fullmatch(text.strip())
    ink = number_of(found[1] or "1") if found else 0.0
    base = number_of(found[2]) if found else 0.0
    # "10:1" may be meant either way round.
    if found is None or ink == 0 or (ink > 1 and base == 1):
        raise UsageError("let-down-unreadable", "write-a-let-down", typed=text[:40])
    if base == 0:
        return 0.0
    check_number(base / ink, "let-down", LEAST, MOST)
    return round(base / ink, DIGITS)
