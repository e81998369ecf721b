"""The number of one print: eight digits for people, three tags of the family for the camera.

Each tag is one of 256, so a number has 24 bits, "00000000" to "16777215". A QR code in the same place would have
modules of half the size, and its own squares to be found by; these tags are looked for where the card has them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from ..errors import CardError

FIRST_ID, PER_TAG, TAGS = 331, 256, 3  # the family's last 256 tags; those of a card's corners and edges are below
IDS = range(FIRST_ID, FIRST_ID + PER_TAG)
DIGITS = 8


def tag_ids(number: str) -> tuple[int, ...]:
    """The three tags of a number, from left to right.

    Raises
    ------
    CardError
        No print can have this number.
    """
    return tuple(FIRST_ID + byte for byte in int(parse_number(number)).to_bytes(TAGS, "big"))


def number_of(ids: Sequence[int | None]) -> str | None:
    """The number that three tags say, eight digits; None where there are none, or one could not be read (None)."""
    known = [number - FIRST_ID for number in ids if number is not None]
    if len(known) < TAGS:
        return None
    return f"{int.from_bytes(bytes(known), 'big'):0{DIGITS}d}"


def spoken(number: str) -> str:
    """As it stands on the card and in sentences: "0482 1093"."""
    return f"{number[:4]} {number[4:]}"


def parse_number(text: str) -> str:
    """What somebody typed, with or without blanks -> eight digits.

    Raises
    ------
    CardError
        No print can have this number.
    """
    digits = "".join(text.split())
    if not is_number(digits):
        raise CardError("print-number-impossible", "read-the-print-number", number=text)
    return digits


def is_number(digits: str) -> bool:
    """Whether a print can have this number."""
    return re.fullmatch(rf"[0-9]{{{DIGITS}}}", digits) is not None and int(digits) < PER_TAG**TAGS


def agreeing(ids: Sequence[int | None], numbers: Iterable[str]) -> list[str]:
    """Those of the numbers that say what the readable tags say; an unreadable tag (None) may say anything."""
    return [
        number for number in numbers if all(seen in (None, own) for seen, own in zip(ids, tag_ids(number), strict=True))
    ]
