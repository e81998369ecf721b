"""Numbers that a person typed: read as they are written, and held within sensible bounds."""

from __future__ import annotations

import re

from ..errors import UsageError

NUMBER = r"(\d+(?:[.,]\d+)?)"  # a group
SIGNED = r"([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:e[+-]?\d+)?)"  # a group; as programs write numbers too
UNITS = {"cm2": "cm2|cm²", "um": "um|µm|μm", "cm3/m2": "cm3/m2|cm³/m²|ml/m2"}  # spelt in several ways


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
    return _read(text, NUMBER, unit, "a point or a comma and no sign before them")


def parse_number(text: str, unit: str = "") -> float:
    """As `parse_amount`, but with a sign or an exponent too: "-1", "2,5e-3"; whoever asks for it knows the bounds.

    Raises
    ------
    UsageError
        It cannot be read, or in two ways, as "1,234.5".
    """
    return _read(text, SIGNED, unit, "one point or one comma")


def _read(text: str, number: str, unit: str, marks: str) -> float:
    found = re.fullmatch(rf"{number}\s*(?:{UNITS.get(unit, re.escape(unit))})?", text.strip(), re.I)
    if not found:
        raise UsageError(
            f"'{text[:40]}' is no number that can be read.",
            f"Write digits with {marks}, such as '{f'2.5 {unit}'.strip()}'.",
        )
    return number_of(found[1])


def parse_count(text: str) -> int:
    """ "60" -> 60.

    Raises
    ------
    UsageError
        It is no whole number from 1, or one that nobody prints.
    """
    if not re.fullmatch(r"0*[1-9][0-9]{0,5}", text.strip()):
        raise UsageError(f"'{text[:40]}' is no number of things.", "Give a whole number from 1, up to 999999.")
    return int(text)


def check_number(value: float, what: str, least: float, most: float, example: str) -> None:
    """A number within sensible bounds, both included; `what` begins the sentence that refuses it.

    Raises
    ------
    UsageError
        It is none, or lies beyond.
    """
    if not least <= value <= most:  # also refuses NaN
        possible = f"rom {least:.10g} to {most:.10g} is possible"
        # A bare number after "Give" would be taken for the one value to type.
        alone = example[:1] in "'0123456789"
        raise UsageError(
            f"{what} of {value:g} makes no sense.",
            f"F{possible}, for example {example}." if alone else f"Give {example}; f{possible}.",
        )
