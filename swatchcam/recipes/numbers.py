"""Numbers that a person typed: read as they are written, and held within sensible bounds."""

from __future__ import annotations

import math
import re
from typing import Literal

from ..errors import UsageError

NUMBER = r"(\d+(?:[.,]\d+)?)"  # a group
SIGNED = r"([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:e[+-]?\d+)?)"  # a group; as programs write numbers too
UNITS = {"cm2": "cm2|cm²", "um": "um|µm|μm", "cm3/m2": "cm3/m2|cm³/m²|ml/m2"}  # spelt in several ways

# What a number that is checked is of.
Quantity = Literal[
    "coat",
    "coat-grams",
    "coverage-part",
    "coverage-percent",
    "cup-grams",
    "density",
    "drop-grams",
    "growth",
    "ingredient-grams",
    "ink-grams",
    "ink-in-pot",
    "ink-used",
    "ink-volume",
    "least-grams",
    "let-down",
    "lot-strength",
    "lot-strength-error",
    "mesh-count",
    "mesh-thickness",
    "open-area",
    "passes",
    "pieces",
    "pigment-count",
    "pigment-grams",
    "pigment-least",
    "pigment-limit",
    "pigment-most",
    "pigment-price",
    "pot-size",
    "pre-mix-percent",
    "printed-area",
    "reserve-part",
    "reserve-percent",
    "rest-part",
    "rest-percent",
    "scale-step",
    "set-ups",
    "setup-grams",
    "spoon-size",
    "stock-grams",
    "strip-side",
    "thread-diameter",
    "tip-grams",
    "usual-pot",
    "wanted-grams",
]


def number_of(text: str) -> float:
    """What NUMBER or SIGNED found, with a point or a comma."""
    return float(text.replace(",", "."))


def parse_amount(text: str, unit: str) -> float:
    """ "35", "12,5" or "35 %" -> a number of this unit, which may be left out.

    Raises
    ------
    UsageError
        It cannot be read.
    """
    found = _found(text, NUMBER, unit)
    if found is None:
        raise UsageError("number-unreadable", "type-a-number", typed=text[:40], unit=unit)
    return found


def parse_number(text: str, unit: str = "") -> float:
    """As `parse_amount`, but with a sign or an exponent too: "-1", "2,5e-3"; whoever asks for it knows the bounds.

    Raises
    ------
    UsageError
        It cannot be read, or in two ways, as "1,234.5".
    """
    found = _found(text, SIGNED, unit)
    if found is None:
        raise UsageError("number-unreadable", "type-a-signed-number", typed=text[:40], unit=unit)
    return found


def _found(text: str, number: str, unit: str) -> float | None:
    found = re.fullmatch(rf"{number}\s*(?:{UNITS.get(unit, re.escape(unit))})?", text.strip(), re.I)
    return number_of(found[1]) if found else None


def parse_count(text: str) -> int:
    """ "60" -> 60.

    Raises
    ------
    UsageError
        It is no whole number from 1, or one that nobody prints.
    """
    if not re.fullmatch(r"0*[1-9][0-9]{0,5}", text.strip()):
        raise UsageError("count-unreadable", "type-a-count", typed=text[:40])
    return int(text)


def check_number(value: float, quantity: Quantity, least: float, most: float, of: str = "") -> None:
    """A number within sensible bounds, both included; `of` says what an ingredient's grams are of.

    Raises
    ------
    UsageError
        It is none, or lies beyond.
    """
    if not least <= value <= most:  # also refuses NaN
        seen = value if math.isfinite(value) else str(value)  # JSON knows neither NaN nor infinity
        raise UsageError(
            "number-out-of-range", "keep-within-range", quantity=quantity, value=seen, least=least, most=most, of=of
        )
