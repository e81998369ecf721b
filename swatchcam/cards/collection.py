"""The cards and pigment rows that are there: listed, said to be of a print, put away."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import CardError
from ..files import disk_cause
from ..resources import calibration_folder, user_folder
from .print_number import parse_number
from .toml_file import read_toml
from .validation import number
from .values import PHOTOGRAPHED, load_values
from .values_file import Sheet, dated, header_in, numbers_in, read_sheet, text_of, with_numbers, write_text
from .values_folder import (
    NOMINAL,
    card_files,
    comes_with_the_tool,
    edition_name,
    find_values,
    is_edition,
    is_own,
    row_files,
)

CARD, ROW = "card", "row"
TIES = ("print", "sister")  # what a values file says of prints


@dataclass(frozen=True)
class Kept:
    """A card's values or a pigment row, as its files say; what they do not say is empty or None."""

    name: str
    kind: str  # CARD or ROW
    design: str  # of the card, or of the card that the row lies below
    grade: str
    date: str
    numbers: tuple[str, ...]  # of its prints, 8 digits each
    uncertainty: float | None  # 1-sigma CIEDE2000
    own: bool  # it lies in the user's folder
    path: str
    faulty: bool  # something in the file is wrong


@dataclass(frozen=True)
class Tied:
    """What was said of the prints that values are of."""

    name: str
    numbers: tuple[str, ...]
    before: tuple[str, ...]  # prints that they were said to be of until now
    taken_from: tuple[str, ...]  # other values that one of the prints had until now
    path: Path


@dataclass(frozen=True)
class PutAway:
    """What was removed, and where its files lie now."""

    name: str
    kind: str
    numbers: tuple[str, ...]
    files: tuple[tuple[Path, Path], ...]  # where each was, and where it is


def kept_cards() -> list[Kept]:
    """Every card with values, then every pigment row, by name."""
    cards = [_kept(name, CARD, path, path) for name, path in sorted(card_files().items())]
    return cards + [_kept(name, ROW, path, values_of_row(name)) for name, path in sorted(row_files().items())]


def values_of_row(name: str) -> Path | None:
    """The values of a pigment row, or None while they are not known."""
    files = [folder / f"{name}.csv" for folder in (user_folder(), calibration_folder())]
    return next((path for path in files if path.is_file()), None)


def _kept(name: str, kind: str, path: Path, values: Path | None) -> Kept:
    head: dict[str, str] = {}
    faulty = False
    try:
        sheet = read_sheet(values) if values else Sheet()
        head = sheet.header
        faulty = any(kind == CARD or found.facts.get("key") != "design" for found in sheet.problems)
        design = head.get("design", "")
        if kind == ROW:
            design = str(read_toml(path).get("card", "")) if path.suffix == ".toml" else ""
    except CardError:
        faulty, design = True, ""
    uncertainty = number(head.get("uncertainty", ""))
    return Kept(
        name,
        kind,
        design,
        head.get("grade", ""),
        head.get("date", ""),
        numbers_in(head),
        None if math.isnan(uncertainty) else uncertainty,
        is_own(path),
        str(path),
        faulty,
    )


def tie(name: str, typed: Sequence[str], sister: bool = False) -> Tied:
    """Say which prints values are of, or which others come from the same run; who had these has them no longer.

    Raises
    ------
    CardError
        No print can have such a number, nobody measured these values, or they are none of the user's own, are faulty
        or can't be written.
    """
    numbers = tuple(dict.fromkeys(parse_number(each) for each in typed))
    if name == NOMINAL:
        raise CardError("values-of-no-print", "leave-to-first-photo", name=name)
    path = _own(find_values(name))
    values = load_values(path)
    if values.grade == PHOTOGRAPHED and path.stem == edition_name(values.design, next(iter(values.numbers), None)):
        raise CardError("values-of-no-print", "leave-to-first-photo", name=path.stem)
    others = {file: header_in(file) for file in card_files().values() if file != path}
    losing = [
        _own(file)
        for file, header in others.items()
        if any(not is_edition(file, number) for number in _named(header) & set(numbers))
    ]
    for file in losing:
        _untie(file, numbers)
    _untie(path, numbers)
    if sister:
        kept = [number for number in values.sisters if number not in numbers]
        _write_numbers(path, [*kept, *numbers], "sister")
    else:
        _write_numbers(path, numbers)
    before = () if sister else values.numbers
    return Tied(path.stem, numbers, before, tuple(file.stem for file in losing), path)


def _named(header: Mapping[str, str]) -> set[str]:
    return {number for key in TIES for number in numbers_in(header, key)}


def _untie(path: Path, numbers: Sequence[str]) -> None:
    """Take these prints out of a file, as its own and as sisters."""
    header = header_in(path)
    for key in TIES:
        known = numbers_in(header, key)
        if set(known) & set(numbers):
            _write_numbers(path, [number for number in known if number not in numbers], key)


def _own(path: Path) -> Path:
    if not is_own(path):
        raise CardError("card-not-in-folder", "copy-it-to-your-cards", name=path.stem, folder=user_folder())
    return path


def _write_numbers(path: Path, numbers: Sequence[str], key: str = "print") -> None:
    write_text(path, with_numbers(text_of(path), numbers, key))


def put_away(name: str, usual: str) -> PutAway:
    """Move a card's values, or a pigment row, to the folder of what is no longer used.

    Parameters
    ----------
    usual : the card that the studio uses for cards without a number; it stays

    Raises
    ------
    CardError
        There is no such card or row, it comes with the tool, it is in use, or it can't be moved.
    """
    files = [user_folder() / f"{name}{end}" for end in (".csv", ".toml")]
    kind = ROW if name in row_files() else CARD
    there = [path for path in files if path.is_file() and (kind == ROW or path.suffix == ".csv")]
    if name == NOMINAL or (not there and comes_with_the_tool(name)):
        raise CardError("card-stays", "use-another-card", name=name)
    if not there or name != Path(name).name:
        raise CardError("card-or-row-unknown", "list-the-cards", name=name)
    if name == usual:
        raise CardError("card-in-use", "use-another-first", name=name)
    numbers = _kept(name, kind, there[0], there[0]).numbers
    moves = tuple((path, dated(path, "until")) for path in there)
    try:
        for old, new in moves:
            new.parent.mkdir(exist_ok=True)
            old.rename(new)
    except OSError as error:
        raise CardError("card-not-moved", "give-access", folder=user_folder(), cause=disk_cause(error)) from error
    return PutAway(name, kind, numbers, moves)
