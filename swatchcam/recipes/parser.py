"""A recipe as people write it -> names and amounts.

Parts are separated by ',', ';' or lines: "binder 500 g, black 2 drops, Blue No. 17 (maker 4711-B) 1.5 tips".
A number that can be read in two ways is refused: a comma taken for a point spoils the pot.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from ..errors import UsageError

GRAMS, DROPS, TIPS = "g", "drops", "tips"
LONGEST = 120  # letters of a name
LONGEST_ENTRY = 400  # letters
FINE_SCALE_G = 0.001  # such a scale shows three decimals; on any other 1.200 g may be twelve hundred

# Upper-case G is none: it ends the names of pigments, as in "Yellow 8G".
UNIT = r"(?:[kK]?g|mg|[dD]rops?|(?:[sS]poon\s+)?[tT]ips?)"
AMOUNT_LAST = re.compile(rf"(?P<what>(?:.*?[\s:=])?)(?P<number>[^\s:=]+?)\s*(?P<unit>{UNIT})", re.ASCII)
AMOUNT_FIRST = re.compile(rf"(?P<number>[^\s:=]+?)\s*(?P<unit>{UNIT})\s+(?P<what>.+)", re.ASCII)
AMOUNT_WITHIN = re.compile(rf"\d\s*{UNIT}(?!\w)", re.ASCII)
BRACKETS = re.compile(r"\(([^()]*)\)")
OUTSIDE = r"(?![^()]*\))"  # what stands before it is not in brackets
DECIMAL_COMMA = re.compile(rf"(?<=\d),(?=\d){OUTSIDE}", re.ASCII)
NUMBER = re.compile(r"[+-]?(\d+([.,]\d+)?|\.\d+)", re.ASCII)
THOUSANDS = re.compile(r"[+-]?([1-9]\d{0,2})[.,](\d{3})", re.ASCII)
# "Blue 17 500 g" may be 17500 g of Blue, "Blue No. 17 500 g" may not.
ENDS_IN_COUNT = re.compile(r"(.*\s)?(?<!\b[Nn]o\. )(?<!\b[Nn]r\. )[1-9]\d{0,2}", re.ASCII)
HUNDREDS = re.compile(r"\d{3}([.,]\d+)?", re.ASCII)

EXAMPLE = "Write for example 'binder 500 g, yellow 3.2 g, black 2 drops'."
SEPARATE = "Separate the parts with ';' or put each on a line of its own, or write decimals with a point."


@dataclass(frozen=True)
class Written:
    """One part as it was written."""

    what: str
    number: str  # the maker's, from the brackets
    amount: float  # above 0
    unit: str  # GRAMS, DROPS or TIPS; kg and mg have become grams
    mark: str  # decimal mark of the amount, or ""
    entry: str  # the words themselves, fit to be shown


def read_written(text: str, scale_g: float) -> tuple[Written, ...]:
    """Every part of a recipe's text, for a scale that shows steps of so many grams.

    Raises
    ------
    UsageError
        A part has no name or no amount, or something in it can be read in two ways.
    """
    entries = (entry.strip() for entry in _entries(unicodedata.normalize("NFC", text).lstrip("\ufeff")))
    parts = tuple(_part(entry, scale_g) for entry in entries if entry)
    if len({part.mark for part in parts if part.mark}) > 1:
        raise UsageError(
            "The recipe writes decimals both with a point and with a comma.", "Use one of them throughout."
        )
    return parts


def plain(number: float) -> str:
    """A number without exponent, exact; three decimals get a fourth, so that nobody takes them for thousands."""
    text = format(Decimal(repr(number)), "f").removesuffix(".0")
    return f"{text}0" if THOUSANDS.fullmatch(text) else text


def _entries(text: str) -> Iterator[str]:
    """The parts of a text. A comma separates them too, unless it may be a decimal one."""
    for line in text.splitlines():
        if re.search("[()]", BRACKETS.sub("", line)):
            raise UsageError(f"The brackets in '{_short(line)}' do not match.", "Close each bracket on its line.")
        for piece in re.split(f";{OUTSIDE}", line):
            parts = re.split(f",{OUTSIDE}", piece)
            if not DECIMAL_COMMA.search(piece):
                yield from parts
            elif len(parts) == 2:
                yield piece
            else:
                raise UsageError(f"A comma in '{_short(piece)}' may separate two parts or be a decimal one.", SEPARATE)


def _part(entry: str, scale_g: float) -> Written:
    shown = _short(entry)
    if len(entry) > LONGEST_ENTRY:
        raise UsageError(f"'{shown}' is too long for one part.", EXAMPLE)
    # What stands on either side of brackets is two things, as on either side of a '='.
    bare = " ".join(BRACKETS.sub(" = ", entry).split()).strip(" :=")
    found = AMOUNT_LAST.fullmatch(bare) or AMOUNT_FIRST.fullmatch(bare)
    if not found or not re.search(r"\d", found["number"], re.ASCII):
        raise UsageError(f"'{shown}' has no amount in g, kg, mg, drops or tips.", EXAMPLE)
    _check_hundreds(found["what"].rstrip(), found["number"], shown)
    amount, unit = _amount(found["number"], found["unit"], scale_g, shown)
    mark = next((mark for mark in ".," if mark in found["number"]), "")
    return Written(_name(found["what"], shown), _makers_number(entry, shown), amount, unit, mark, shown)


def _check_hundreds(before: str, number: str, shown: str) -> None:
    if HUNDREDS.fullmatch(number) and ENDS_IN_COUNT.fullmatch(before):
        count = before.rsplit(maxsplit=1)[-1]
        raise UsageError(
            f"The {count} in '{shown}' may belong to the name or to {count}{number}.",
            f"Write 'No. {count}' or a ':' after the name, or leave out the blank.",
        )


def _amount(number: str, unit: str, scale_g: float, shown: str) -> tuple[float, str]:
    """Amount and unit; kg and mg become grams."""
    if not NUMBER.fullmatch(number):
        raise UsageError(f"'{_short(number)}' in '{shown}' is no number that can be read.", EXAMPLE)
    thousands = THOUSANDS.fullmatch(number)
    # A tonne in the pot would be refused in any case, so that kilograms can be read in one way only.
    if thousands and unit.lower() != "kg" and ("," in number or scale_g > FINE_SCALE_G):
        whole, rest = thousands.groups()
        raise UsageError(
            f"'{number}' in '{shown}' may be {whole}{rest} or a little over {whole}.",
            f"Write {whole}{rest}, or {whole}.{rest}0 with a fourth decimal.",
        )
    amount = Decimal(number.replace(",", ".")).scaleb({"kg": 3, "mg": -3}.get(unit.lower(), 0))
    if not float(amount) > 0:
        raise UsageError(f"'{shown}' is no amount above 0.", "Correct the amount, or leave the part out.")
    return float(amount), GRAMS if unit.endswith("g") else DROPS if unit[0] in "dD" else TIPS


def _name(text: str, shown: str) -> str:
    name = text.strip(" :=")
    if not name:
        raise UsageError(f"'{shown}' does not say of what.", EXAMPLE)
    if AMOUNT_WITHIN.search(name):
        raise UsageError(f"'{shown}' has two amounts.", "Separate the parts with ',' or ';' or put each on its line.")
    if name[-1] in "-–—−":
        raise UsageError(f"The dash in '{shown}' may be a minus.", "Leave it out.")
    return _clean(name, shown)


def _makers_number(entry: str, shown: str) -> str:
    brackets = BRACKETS.findall(entry)
    if len(brackets) > 1 or any(AMOUNT_WITHIN.search(inside) for inside in brackets):
        raise UsageError(f"The brackets in '{shown}' hold more than a maker's number.", EXAMPLE)
    return _clean(" ".join(re.sub(r"^\s*[mM]aker\s+", "", "".join(brackets)).split()), shown)


def _clean(name: str, shown: str) -> str:
    if len(name) > LONGEST or not name.isprintable():
        raise UsageError(
            f"'{shown}' has a name that cannot be shown.", f"Use up to {LONGEST} letters, digits and blanks."
        )
    return name


def _short(text: str) -> str:
    shown = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    return shown if len(shown) <= 60 else f"{shown[:57]}..."
