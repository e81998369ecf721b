"""A colour that a person typed: L*, a* and b* in one text, with points or commas, in whichever way it is written."""

from __future__ import annotations

import math
import re

from ..errors import UsageError
from .cielab import Lab

MOST_AB = 140.0  # of a* and b*, CIELAB; beyond lies no colour of a surface; no source
SHOWN = 40  # letters of what was typed, in a refusal
BETWEEN = re.compile(r"\s*[;,]\s*|\s+")  # where every comma stands between two numbers
BUT_DECIMAL = re.compile(r"\s*;\s*|\s*,\s+|\s+")  # where a comma with no blank behind it is one of decimals


def parse_lab(text: str) -> Lab:
    """ "41.2,38,-12.5", "41.2 38 -12.5" or "41,2; 38; -12,5" -> L*, a*, b*.

    Raises
    ------
    UsageError
        Not three numbers, three in two ways as in "52 ,9 46", or not a colour.
    """
    readings = _readings(text)
    if len(readings) != 1:
        raise UsageError(
            "target-reads-two-ways" if readings else "target-not-three-numbers", "write-lab", text=text[:SHOWN]
        )
    (lab,) = readings
    if not 0 <= lab[0] <= 100 or max(abs(lab[1]), abs(lab[2])) > MOST_AB:
        raise UsageError("target-not-a-colour", "stay-within-lab", text=text[:SHOWN], most_ab=MOST_AB)
    return lab


def is_lab(text: str) -> bool:
    """Whether it reads as three numbers, a colour or not; else it may be the name of a photo."""
    return bool(_readings(text))


def plain_lab(lab: Lab) -> str:
    """ "L,a,b", as short as it can be; `parse_lab` reads it back to the last bit."""
    return ",".join(repr(value).removesuffix(".0") for value in lab)


def _readings(text: str) -> set[Lab]:
    """The three numbers, in each way that the text can be read."""
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    between = BETWEEN.split(plain)
    if not all(between):
        return set()  # in "41,,38,-12" one is missing
    decimal = _numbers(BUT_DECIMAL.split(plain))
    if decimal and len(decimal) != 3 and "." not in plain:
        return set()  # so it is in "41,5 38", although three could be made of it
    return {(one[0], one[1], one[2]) for one in (_numbers(between), decimal) if len(one) == 3}


def _numbers(parts: list[str]) -> tuple[float, ...]:
    """All of them, with a point or a comma, or none."""
    try:
        numbers = tuple(float(part.replace(",", ".")) for part in parts)
    except ValueError:
        return ()
    return numbers if all(map(math.isfinite, numbers)) else ()
