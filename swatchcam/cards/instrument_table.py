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
from ..files import disk_cause
from ..messages.message import Message, finding

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
            raise CardError("readings-too-large", "choose-the-readings", path=path)
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        raise CardError("file-not-read", "check-the-file", path=path, cause=disk_cause(error)) from error
    wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252", "latin-1"):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise _shapeless(path, finding("not-a-text-file"))


def _shapeless(path: Path, cause: Message) -> CardError:
    return CardError("readings-unreadable", "export-readings-again", path=path, cause=cause)


def _csv(path: Path, lines: list[str], is_header: Callable[[Sequence[str]], bool]) -> Table:
    for start, line in enumerate(lines):
        for delimiter in ("\t", ";", ","):
            columns = _trimmed(_split(line, delimiter))
            if is_header(columns):
                rows = _csv_rows(path, lines[start + 1 :], delimiter, len(columns))
                notes = [*lines[:start], *(line for line in lines[start:] if line.startswith("#"))]
                return Table("CSV", tuple(columns), rows, tuple(notes))
    raise CardError("column-names-missing", "name-the-columns", path=path)


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
        raise _shapeless(path, finding("table-unreadable", words=str(error))) from error
    rows = [row if len(row) <= width else row[:width] + _trimmed(row[width:]) for row in table if any(row)]
    wrong = [(row[0], len(row)) for row in rows if len(row) != width]
    if wrong:
        raise _shapeless(path, finding("rows-of-other-lengths", columns=width, rows=wrong, commas=delimiter == ","))
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
                raise _shapeless(path, finding("mark-misplaced", mark=word))
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
        raise _shapeless(path, finding("end-missing", mark=f"END{inside[5:]}"))
    return _cgats_table(path, blocks[MARKS[0]], blocks[MARKS[2]], notes)


def _cgats_table(path: Path, formats: list[list[str]], data: list[list[str]], notes: list[str]) -> Table:
    if len(data) != 1 or len(formats) != 1:
        raise CardError("several-tables", "keep-one-table", path=path, tables=len(data), lists=len(formats))
    columns, cells = formats[0], data[0]
    width = len(columns)
    if not width or len(cells) % width:
        raise _shapeless(path, finding("rows-not-filled", entries=len(cells), columns=width))
    rows = tuple(tuple(cells[i : i + width]) for i in range(0, len(cells), width))
    for keyword, count in (("NUMBER_OF_SETS", len(rows)), ("NUMBER_OF_FIELDS", width)):
        said = [" ".join(words[1:2]) for words in map(_tokens, notes) if words[0] == keyword]
        if said and said != [str(count)]:
            raise _shapeless(path, finding("count-contradicted", keyword=keyword, said=said, count=count))
    return Table("CGATS", tuple(columns), rows, tuple(notes))
