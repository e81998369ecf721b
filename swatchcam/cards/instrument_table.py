"""The table inside a file that a spectrophotometer's software wrote: CSV, or CGATS.17 text (ISO 28178).

Only the shape is read here: column names, rows of text, and the lines that are not table. What the columns mean
is read in `instrument_columns`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import CardError

LARGEST_BYTES = 5_000_000
MARKS = ("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA")
TOKEN = re.compile(r'"((?:[^"]|"")*)"|([^\s"]+)')


@dataclass(frozen=True)
class Table:
    """Column names, rows of as many cells, and the other lines of the file (`notes`), all as text."""

    kind: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]


def read_table(path: Path, is_header: Callable[[Sequence[str]], bool]) -> Table:
    """Read the one table of an instrument's file.

    Parameters
    ----------
    is_header : tells whether these cells are the row of column names (CSV files may open with other lines)

    Raises
    ------
    CardError
        The file is no text, or its table has no clear shape.
    """
    text = _text(path)
    lines = text.splitlines()
    if any(_tokens(line)[:1] in ([MARKS[0]], [MARKS[2]]) for line in lines):
        return _cgats(path, lines)
    return _csv(path, lines, is_header)


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise CardError(f"{path} is too large for readings of a card.", "Choose the file with the readings.")
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        raise CardError(f"{path} cannot be read: {error}.", "Check the file's name and try again.") from error
    wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252", "latin-1"):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise _shapeless(path, "is not a text file")


def _shapeless(path: Path, what: str) -> CardError:
    return CardError(f"{path} {what}.", "Export the readings again, as CSV or as CGATS text.")


def _csv(path: Path, lines: list[str], is_header: Callable[[Sequence[str]], bool]) -> Table:
    for start, line in enumerate(lines):
        for delimiter in ("\t", ";", ","):
            columns = _trimmed(_split(line, delimiter))
            if is_header(columns):
                rows = _csv_rows(path, lines[start + 1 :], delimiter, len(columns))
                notes = [*lines[:start], *(line for line in lines[start:] if line.startswith("#"))]
                return Table("CSV", tuple(columns), rows, tuple(notes))
    raise CardError(
        f"{path} has no row of column names that tells patch names and colours apart.",
        "It needs a column 'name' and columns such as L, a, b or X, Y, Z or 400, 410, ... (nanometres).",
    )


def _split(line: str, delimiter: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return []


def _trimmed(cells: list[str]) -> list[str]:
    while cells and not cells[-1]:
        cells = cells[:-1]
    return cells


def _csv_rows(path: Path, lines: list[str], delimiter: str, width: int) -> tuple[tuple[str, ...], ...]:
    kept = "\n".join(line for line in lines if not line.startswith("#"))
    try:
        table = [[cell.strip() for cell in row] for row in csv.reader(io.StringIO(kept), delimiter=delimiter)]
    except csv.Error as error:
        raise _shapeless(path, f"has a table that cannot be read ({error})") from error
    rows = [row if len(row) <= width else row[:width] + _trimmed(row[width:]) for row in table if any(row)]
    wrong = [f"'{row[0]}' has {len(row)}" for row in rows if len(row) != width]
    if wrong:
        hint = "; decimal commas need semicolons between the columns" if delimiter == "," else ""
        more = f" and {len(wrong) - 5} more rows" if len(wrong) > 5 else ""
        listed = f"{', '.join(wrong[:5])}{more}"
        raise _shapeless(path, f"has {width} columns but rows with other numbers of entries: {listed}{hint}")
    return tuple(tuple(row) for row in rows)


def _tokens(line: str) -> list[str]:
    """Words of a CGATS line, quotes off; a comment runs from # to the line's end."""
    tokens = []
    for match in TOKEN.finditer(line):
        quoted, plain = match.groups()
        if plain is not None and plain.startswith("#"):
            break
        tokens.append(quoted.replace('""', '"') if plain is None else plain)
    return tokens


def _cgats(path: Path, lines: list[str]) -> Table:
    blocks: dict[str, list[list[str]]] = {MARKS[0]: [], MARKS[2]: []}
    notes, inside = [], ""
    for line in lines:
        words = _tokens(line)
        for word in words:
            if word in MARKS and (word.startswith("END") != bool(inside) or (inside and word != f"END{inside[5:]}")):
                raise _shapeless(path, f"has {word} in the wrong place")
            if word in blocks:
                blocks[word].append([])
                inside = word
            elif word in MARKS:
                inside = ""
            elif inside:
                blocks[inside][-1].append(word)
        if not inside and words and words[0] not in MARKS:
            notes.append(line)
    if inside:
        raise _shapeless(path, f"breaks off: END{inside[5:]} is missing")
    return _cgats_table(path, blocks[MARKS[0]], blocks[MARKS[2]], notes)


def _cgats_table(path: Path, formats: list[list[str]], data: list[list[str]], notes: list[str]) -> Table:
    if len(data) != 1 or len(formats) != 1:
        raise CardError(
            f"{path} holds {len(data)} tables of data and {len(formats)} lists of column names, not one of each.",
            "Export only the readings of this card, or keep only their table in the file.",
        )
    columns, cells = formats[0], data[0]
    width = len(columns)
    if not width or len(cells) % width:
        raise _shapeless(path, f"has {len(cells)} entries, which do not fill rows of {width} columns")
    rows = tuple(tuple(cells[i : i + width]) for i in range(0, len(cells), width))
    for keyword, count in (("NUMBER_OF_SETS", len(rows)), ("NUMBER_OF_FIELDS", width)):
        said = [" ".join(words[1:2]) for words in map(_tokens, notes) if words[0] == keyword]
        if said and said != [str(count)]:
            raise _shapeless(path, f"says {keyword} {' and '.join(said)}, but there are {count}")
    return Table("CGATS", tuple(columns), rows, tuple(notes))
