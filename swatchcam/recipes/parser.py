"""A recipe as people write it -> names and amounts.

Parts are separated by ',', ';' or lines: "clear base 500 g, black 2 drops, Blue No. 17 (maker 4711-B) 1.5 tips".
A number that can be read in two ways is refused: a comma taken for a point spoils the pot.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from ..errors import UsageError

GRAMS, DROPS, TIPS, ML, SPOONS = "g", "drops", "tips", "ml", "spoons"
UNITS = (GRAMS, DROPS, TIPS, ML, SPOONS)
LONGEST = 120  # letters of a name
LONGEST_ENTRY = 400  # letters
FINE_SCALE_G = 0.001  # such a scale shows three decimals; on any other 1.200 g may be twelve hundred

# Upper-case G is none: it ends the names of pigments, as in "Yellow 8G".
UNIT = r"(?:[kK]?g|mg|m[lL]|[dD]rops?|(?:[sS]poon\s+)?[tT]ips?|[sS]poon(?:ful)?s?)"
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


@dataclass(frozen=True)
class Written:
    """One part as it was written."""

    what: str
    number: str  # the maker's, from the brackets
    amount: float  # 0 or more
    unit: str  # one of UNITS; kg and mg have become grams
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
        raise UsageError("decimals-mixed", "keep-decimals-alike")
    return parts


def plain(number: float) -> str:
    """A number without exponent, exact; three decimals get a fourth, so that nobody takes them for thousands."""
    text = format(Decimal(repr(number)), "f").removesuffix(".0")
    return f"{text}0" if THOUSANDS.fullmatch(text) else text


def _entries(text: str) -> Iterator[str]:
    """The parts of a text. A comma separates them too, unless it may be a decimal one."""
    for line in text.splitlines():
        if re.search("[()]", BRACKETS.sub("", line)):
            raise UsageError("brackets-open", "close-the-brackets", line=_short(line))
        for piece in re.split(f";{OUTSIDE}", line):
            parts = re.split(f",{OUTSIDE}", piece)
            if not DECIMAL_COMMA.search(piece):
                yield from parts
            elif len(parts) == 2:
                yield piece
            else:
                raise UsageError("comma-with-two-meanings", "separate-the-parts", entries=_short(piece))


def _part(entry: str, scale_g: float) -> Written:
    shown = _short(entry)
    if len(entry) > LONGEST_ENTRY:
        raise UsageError("part-too-long", "write-a-recipe", entry=shown)
    # What stands on either side of brackets is two things, as on either side of a '='.
    bare = " ".join(BRACKETS.sub(" = ", entry).split()).strip(" :=")
    found = AMOUNT_LAST.fullmatch(bare) or AMOUNT_FIRST.fullmatch(bare)
    if not found or not re.search(r"\d", found["number"], re.ASCII):
        raise UsageError("no-amount", "write-a-recipe", entry=shown)
    _check_hundreds(found["what"].rstrip(), found["number"], shown)
    amount, unit = _amount(found["number"], found["unit"], scale_g, shown)
    mark = next((mark for mark in ".," if mark in found["number"]), "")
    return Written(_name(found["what"], shown), _makers_number(entry, shown), amount, unit, mark, shown)


def _check_hundreds(before: str, number: str, shown: str) -> None:
    if HUNDREDS.fullmatch(number) and ENDS_IN_COUNT.fullmatch(before):
        count = before.rsplit(maxsplit=1)[-1]
        raise UsageError("count-with-two-meanings", "set-the-number-apart", entry=shown, count=count, number=number)


def _amount(number: str, unit: str, scale_g: float, shown: str) -> tuple[float, str]:
    """Amount and unit; kg and mg become grams."""
    if not NUMBER.fullmatch(number):
        raise UsageError("amount-unreadable", "write-a-recipe", entry=shown, number=_short(number))
    thousands = THOUSANDS.fullmatch(number)
    # A tonne in the pot would be refused in any case, so that kilograms can be read in one way only.
    if thousands and unit.lower() != "kg" and ("," in number or scale_g > FINE_SCALE_G):
        whole, decimals = thousands.groups()
        raise UsageError(
            "thousands-or-decimals",
            "write-out-thousands",
            entry=shown,
            number=number,
            whole=whole,
            decimals=decimals,
        )
    amount = Decimal(number.replace(",", ".")).scaleb({"kg": 3, "mg": -3}.get(unit.lower(), 0))
    if amount < 0:
        raise UsageError("amount-not-above-zero", "correct-or-leave-out", entry=shown)
    return float(amount), _unit(unit.lower())


def _unit(written: str) -> str:
    if written.endswith("g"):
        return GRAMS
    if written == ML:
        return ML
    if written.startswith("d"):
        return DROPS
    return TIPS if "tip" in written else SPOONS


def _name(text: str, shown: str) -> str:
    name = text.strip(" :=")
    if not name:
        raise UsageError("name-missing", "write-a-recipe", entry=shown)
    if AMOUNT_WITHIN.search(name):
        raise UsageError("two-amounts", "one-amount-a-part", entry=shown)
    if name[-1] in "-–—−":
        raise UsageError("dash-or-minus", "leave-out-the-dash", entry=shown)
    return _clean(name, shown)


def _makers_number(entry: str, shown: str) -> str:
    brackets = BRACKETS.findall(entry)
    if len(brackets) > 1 or any(AMOUNT_WITHIN.search(inside) for inside in brackets):
        raise UsageError("brackets-hold-too-much", "write-a-recipe", entry=shown)
    return _clean(" ".join(re.sub(r"^\s*[mM]aker\s+", "", "".join(brackets)).split()), shown)


def _clean(name: str, shown: str) -> str:
    if len(name) > LONGEST or not name.isprintable():
        raise UsageError("name-cannot-be-shown", "keep-names-plain", entry=shown, longest=LONGEST)
    return name


def _short(text: str) -> str:
    shown = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    return shown if len(shown) <= 60 else f"{shown[:57]}..."
