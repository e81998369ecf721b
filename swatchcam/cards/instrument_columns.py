"""What the columns of an instrument's table mean: patch names, CIELAB, XYZ or a spectrum, and on which scale."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from ..errors import CardError
from ..messages.message import Message, finding
from .instrument_table import Table
from .validation import ILLUMINANTS, is_date, number

NAME_COLUMNS = ("samplename", "name", "patch", "patchname", "sampleid")  # the first that has names is taken
SETS = {"Lab": ("L", "a", "b"), "XYZ": ("X", "Y", "Z")}
SPECTRAL = re.compile(r"(?:spectral(?:nm|pct|dec)?|nm|r)?(\d{3,4}(?:\.\d+)?)(?:nm)?", re.ASCII)
# Between these a largest value could be a share of one or of a hundred; white stock never lies there.
LARGEST_FACTOR, SMALLEST_PERCENT = 1.5, 15.0
LARGEST = 10_000.0  # no number of a colour on any scale; far larger ones would overflow

Row = tuple[float, ...]
ReadingColumn = tuple[str, float, int]  # "Lab", "XYZ" or "nm"; place in the set, or wavelength; index in the table


def _plain(column: str) -> str:
    return re.sub(r"[\s_*\"]", "", column)


def is_header(cells: Sequence[str]) -> bool:
    """Whether these cells name a column of patch names and at least three columns of colour."""
    plain = [_plain(cell).lower() for cell in cells]
    named = any(name in plain for name in NAME_COLUMNS)
    return named and len(_find_columns(cells)) >= 3


def _find_columns(cells: Sequence[str]) -> list[ReadingColumn]:
    """Every column that holds colour, in the order of its set."""
    found = []
    rgb = {"R", "G"} <= {_plain(cell).upper() for cell in cells}
    for index, cell in enumerate(cells):
        plain = _plain(cell)
        spectral = SPECTRAL.fullmatch(plain.lower())
        if spectral:
            found.append(("nm", float(spectral[1]), index))
        for key, letters in SETS.items():
            for place, letter in enumerate(letters):
                # Lower-case x, y, z are chromaticities, and B beside R and G is blue.
                loose = key == "Lab" and not rgb and plain.lower() == letter.lower()
                if plain == letter or loose or plain.lower() in (f"{key}{letter}".lower(), f"cie{letter}".lower()):
                    found.append((key, float(place), index))
    return sorted(found)


def colour_columns(table: Table, path: str) -> list[ReadingColumn]:
    """The columns of every complete set of colour.

    Raises
    ------
    CardError
        No set is complete, or a column is there twice.
    """
    columns = _find_columns(table.columns)
    places = [(key, place) for key, place, _ in columns]
    doubled = [table.columns[index] for key, place, index in columns if places.count((key, place)) > 1]
    if doubled:
        raise CardError("columns-doubled", "keep-one-illuminant", path=path, columns=doubled)
    whole = {key for key in SETS if sum(place[0] == key for place in places) == 3}
    whole |= {"nm"} if sum(place[0] == "nm" for place in places) >= 3 else set()
    if not whole:
        raise CardError("colour-columns-missing", "export-a-whole-set", path=path, columns=table.columns)
    return [column for column in columns if column[0] in whole]


def patch_names(table: Table, path: str) -> list[str]:
    """One patch name for each row.

    Raises
    ------
    CardError
        No column has names, or two have.
    """
    plain = [_plain(column).lower() for column in table.columns]
    for wanted in NAME_COLUMNS:
        if plain.count(wanted) > 1:
            raise CardError("two-name-columns", "keep-one-of-them", path=path)
        if wanted in plain:
            names = [row[plain.index(wanted)].strip() for row in table.rows]
            if any(names):
                return names
    raise CardError("patch-names-missing", "name-the-patches", path=path)


def numbers_of(table: Table, columns: list[ReadingColumn], path: str) -> tuple[list[Row], list[Message]]:
    """Numbers of the colour columns, NaN where no colour could have it, and a finding for each row with such.

    Raises
    ------
    CardError
        Decimal commas and decimal points are mixed: 1,234 could be one thing or a thousand times another.
    """
    cells = [[row[index] for _, _, index in columns] for row in table.rows]
    text = "".join(cell for row in cells for cell in row)
    if "," in text and "." in text:
        raise CardError("decimal-signs-mixed", "export-in-one-way", path=path)
    read = [[_decimal(cell) for cell in row] for row in cells]
    rows = [tuple(value if abs(value) <= LARGEST else math.nan for value in row) for row in read]
    names = patch_names(table, path) if rows else []
    problems = []
    for name, row, values, given in zip(names, rows, read, cells, strict=True):
        wrong = [i for i, value in enumerate(row) if math.isnan(value)]
        if wrong:
            column = table.columns[columns[wrong[0]][2]]
            facts = {"patch": name, "typed": given[wrong[0]], "column": column}
            readable = not math.isnan(values[wrong[0]])
            problems.append(finding("reading-too-large" if readable else "reading-not-a-number", **facts))
    return rows, problems


def _decimal(cell: str) -> float:
    return number(cell.replace(",", "."))


def pick(numbers: list[Row], columns: list[ReadingColumn], wanted: str, good: list[int]) -> tuple[Row, ...]:
    """Of the good rows, the numbers of one set."""
    places = [i for i, (key, _, _) in enumerate(columns) if key == wanted]
    return tuple(tuple(numbers[row][i] for i in places) for row in good) if places else ()


def scaled(rows: tuple[Row, ...], place: int | None, full: float, path: str, kind: str) -> tuple[Row, ...]:
    """The rows on the scale where the perfect diffuser is `full`, told from the largest value in the file."""
    if not rows:
        return ()
    largest = max(max(row) if place is None else row[place] for row in rows)
    if LARGEST_FACTOR < largest < SMALLEST_PERCENT:
        raise CardError("scale-of-values-unclear", "read-the-paper-too", path=path, kind=kind, largest=largest)
    factor = full if largest <= LARGEST_FACTOR else full / 100
    return tuple(tuple(value * factor for value in row) for row in rows)


def said_of(table: Table) -> dict[str, str]:
    """What the lines outside the table say of the light, the instrument and the day; empty where silent."""
    patterns = {
        "illuminant": rf"(?i:illumina(?:nt|tion))\w*[\s\"',;:=]+({'|'.join(ILLUMINANTS)})\b",
        "observer": r"(?i:observer(?: angle)?)\w*[\s\"',;:=]+(2|10)(?![\d.])",
        "geometry": r"(?i:geometry)[\s\"',;:=]+([^\"\s,;]+)",
        "date": r"(?i:created|date|measured)[\s\"',;:=]+(\d{4}-\d\d-\d\d)",
        "instrument": r"(?i:instrumentation|instrument)[\s\",;:=]+([^\"\t;]*[^\"\s;])",
    }
    said = {}
    for key, pattern in patterns.items():
        hits = {match[1] for line in table.notes for match in re.finditer(pattern, line, re.ASCII)}
        said[key] = hits.pop() if len(hits) == 1 else ""
    said["date"] = said["date"] if is_date(said["date"]) else ""
    return said
