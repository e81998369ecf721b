"""A studio's list of its photos, a CSV table: which strip is in which, of what shade, batch and state.

All that is wrong in a list is reported at once, line by line.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from ...cards.validation import is_date
from ...errors import LibraryError, UsageError
from ...files import disk_cause
from ...messages.message import Message, finding
from ...recipes.film_weight import Coat, parse_coat
from ...recipes.let_down import parse_let_down
from ...recipes.recipe import Recipe, parse_recipe
from ..records import State, clean_name, parse_state
from .photo_names import PLACE, photos_in

NEEDED = ("photo", "shade")
NAMES = ("strip", "batch", "mark", "cloth", "mesh", "squeegee", "ink")
STATE = ("state", "washes", "treatment")  # as an export has them; the first alone may say it all
COLUMNS = (*NEEDED, *NAMES, *STATE, "measured", "mixed", "recipe", "coat", "let_down", "notes", "again", "other_light")
# Headings of older lists; "strip" was what is written on it, and "window" which of them is meant.
FORMER = {"window": "strip", "drawdown": "strip", "label": "mark", "stage": "state", "other_lamp": "other_light"}
ABOUT_THE_BATCH = ("ink", "mixed", "recipe")

Reader = Callable[[str], Any]
Rows = list[tuple[int, list[str]]]


@dataclass(frozen=True)
class Listed:
    """One line of the list; what it does not say is empty."""

    line: int  # of the file, from 1
    photo: Path
    shade: str
    strip: str = ""  # left, right, beside-1 ...
    batch: str = ""  # then the day of the photo stands for it
    mark: str = ""
    state: State | None = None
    cloth: str = ""
    mesh: str = ""
    squeegee: str = ""
    ink: str = ""
    measured: str = ""  # ISO date; then the day of the photo stands for it
    mixed: str = ""  # ISO date
    recipe: Recipe | None = None
    coat: Coat | None = None  # wet ink on the strip by weight
    let_down: float = 0.0  # parts of clear base to one part of ink
    notes: str = ""
    again: tuple[Path, ...] = ()  # further photos of the same scene
    other_light: tuple[Path, ...] = ()  # photos of the same scene under another light


def read_list(
    path: str | Path, folder: str | Path, read_recipe: Callable[[str], Recipe] = parse_recipe
) -> tuple[Listed, ...]:
    """A list of photos, those in it named as they lie in `folder`.

    Columns are separated by commas, semicolons or tabs; `again` and `other_light` hold photos separated by ';'.

    Raises
    ------
    LibraryError
        The file cannot be read, or something in it is wrong: then all that is.
    """
    photos = photos_in(folder)
    known = {_composed(photo.relative_to(folder).as_posix()): photo for photo in photos}
    problems: list[Message] = []
    header, *rows = _table(Path(path), problems) or [(1, [])]
    columns = _columns(header[1], rows, problems)
    read = [_row(line, cells, columns, _readers(known, read_recipe), problems) for line, cells in rows]
    listed = tuple(row for row in read if row)
    if not rows and not problems:
        problems.append(finding("list-without-photos"))
    problems += _clashes(listed)
    if problems:
        raise LibraryError("list-unusable", "correct-these-lines", path=path, problems=problems)
    return listed


# --- the table


def _table(path: Path, problems: list[Message]) -> Rows:
    """Rows that are not blank, each with the number of its first line."""
    text = _text(path)
    first = next((line for line in text.splitlines() if line.strip()), "")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=first.count), strict=True)
    rows: Rows = []
    start = 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                rows.append((start, [cell.strip() for cell in row]))
            start = reader.line_num + 1
    except csv.Error as error:
        problems.append(finding("table-unreadable-from", line=start, said=error))
    return rows


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise LibraryError("file-not-read", "save-as-utf-8", path=path, cause=finding("not-text")) from error
    except (OSError, ValueError) as error:
        raise LibraryError("file-not-read", "check-the-file", path=path, cause=disk_cause(error)) from error


def _columns(header: Sequence[str], rows: Rows, problems: list[Message]) -> list[str]:
    """The names of the columns; what is wrong with them is added to the problems."""
    columns = _todays([_heading(name) for name in header], rows)
    while columns and not columns[-1]:
        columns.pop()
    for name in dict.fromkeys(columns):
        if name not in COLUMNS:
            near = get_close_matches(name, COLUMNS, n=1)
            problems.append(finding("column-unknown", column=name, near=near, columns=COLUMNS))
        elif columns.count(name) > 1:
            problems.append(finding("column-repeated", column=name, count=columns.count(name)))
    problems += [finding("column-missing", column=name) for name in NEEDED if name not in columns]
    return columns


def _heading(name: str) -> str:
    return "_".join(name.lower().split())


def _todays(columns: Sequence[str], rows: Rows) -> list[str]:
    """The names that columns have today; a column "strip" that says more than left or right is an older list's mark."""
    marks = "window" in columns or any(
        name == "strip" and not PLACE.fullmatch(cell.lower() or "left")
        for _, cells in rows
        for name, cell in zip(columns, cells, strict=False)
    )
    former = FORMER | ({"strip": "mark"} if marks else {})
    return [former.get(name, name) for name in columns]


def _row(
    line: int, cells: list[str], columns: list[str], readers: dict[str, Reader], problems: list[Message]
) -> Listed | None:
    """One line of the list; None if anything is wrong with it, which is added to the problems."""
    if len(cells) < len(columns) or any(cells[len(columns) :]):
        problems.append(finding("line-unlike-columns", line=line, entries=len(cells), columns=len(columns)))
        return None
    said: dict[str, Any] = {}
    wrong = []
    for column, cell in _with_the_whole_state(columns, cells):
        try:
            if column in readers and (cell or column in NEEDED):
                said[column] = readers[column](cell)
        except UsageError as error:
            wrong.append(finding("cell-unusable", line=line, column=column, error=error.as_json()))
    problems += wrong
    return None if wrong or not all(name in said for name in NEEDED) else Listed(line, **said)


def _with_the_whole_state(columns: list[str], cells: list[str]) -> Iterator[tuple[str, str]]:
    """The cells by column, those of the state in one: "washed", "3" and "40 C" are "washed 3 times, 40 C"."""
    said = dict(zip(columns, cells, strict=False))
    state, washes, treatment = (said.get(name, "") for name in STATE)
    times = f"{washes} times" if washes.strip("0") else ""
    whole = ", ".join(filter(None, (" ".join(filter(None, (state, times))), treatment)))
    yield from {("state" if name in STATE else name): whole if name in STATE else said[name] for name in said}.items()


# --- the cells


def _readers(known: dict[str, Path], read_recipe: Callable[[str], Recipe]) -> dict[str, Reader]:
    """For each column what makes a value of its text."""

    def one(text: str) -> Path:
        return _photo(text, known)

    def several(text: str) -> tuple[Path, ...]:
        return tuple(one(name) for name in text.split(";") if name.strip())

    def named(column: str) -> Reader:
        return lambda text: clean_name(text, column)

    def day(column: str) -> Reader:
        return lambda text: _day(text, column)

    return {
        **{column: named(column) for column in ("shade", *NAMES)},
        **{"photo": one, "again": several, "other_light": several},
        **{"state": parse_state, "measured": day("measured"), "mixed": day("mixed")},
        **{"recipe": read_recipe, "notes": str, "coat": parse_coat, "let_down": parse_let_down},
    }


def _photo(text: str, known: dict[str, Path]) -> Path:
    name = _composed(text.strip().replace("\\", "/"))
    if name in known:
        return known[name]
    if not name:
        raise UsageError("no-photo-named", "name-a-photo")
    alike = {each.casefold(): each for each in known}
    near = get_close_matches(name.casefold(), alike, n=1)
    raise UsageError("photo-not-in-folder", "name-it-as-there", photo=name, near=[alike[one] for one in near])


def _day(text: str, what: str) -> str:
    if not is_date(text):
        raise UsageError("day-unreadable", "write-the-day", typed=text, what=what)
    return text


def _composed(name: str) -> str:
    """Letters with their accents as one, as lists have them and some disks do not."""
    return unicodedata.normalize("NFC", name)


# --- lines that contradict each other


def _clashes(rows: Sequence[Listed]) -> Iterator[Message]:
    yield from _clashing_strips(rows)
    yield from _clashing_scenes(rows)
    yield from _clashing_batches(rows)


def _clashing_strips(rows: Sequence[Listed]) -> Iterator[Message]:
    named = {row.photo for row in rows if row.strip}
    places: dict[tuple[Path, str], int] = {}
    for row in rows:
        first = places.setdefault((row.photo, row.strip), row.line)
        if first != row.line:
            yield finding("strip-listed-twice", line=row.line, strip=row.strip, photo=row.photo.name, first=first)
        elif not row.strip and row.photo in named:
            yield finding("listed-strip-unnamed", line=row.line, photo=row.photo.name)


def _clashing_scenes(rows: Sequence[Listed]) -> Iterator[Message]:
    """A photo belongs to one scene, and all lines of a scene name the same further photos."""
    owners: dict[Path, Listed] = {}
    for row in rows:
        photos = (row.photo, *row.again, *row.other_light)
        if len(set(photos)) < len(photos):
            yield finding("photo-twice-in-line", line=row.line)
        for photo in dict.fromkeys(photos):
            owner = owners.setdefault(photo, row)
            if owner.photo != row.photo:
                yield finding("photo-of-another-scene", line=row.line, photo=photo.name, first=owner.line)
        first = owners[row.photo]
        if first.photo == row.photo and (first.again, first.other_light) != (row.again, row.other_light):
            yield finding("other-further-photos", line=row.line, photo=row.photo.name, first=first.line)


def _clashing_batches(rows: Sequence[Listed]) -> Iterator[Message]:
    """What is said of a batch in several lines must be the same."""
    said: dict[tuple[str, str, str], Listed] = {}
    for row in rows:
        for field in ABOUT_THE_BATCH:
            if row.batch and getattr(row, field):
                first = said.setdefault((row.shade, row.batch, field), row)
                if getattr(first, field) != getattr(row, field):
                    facts = {"line": row.line, "what": field, "batch": row.batch, "first": first.line}
                    yield finding("batch-told-differently", **facts)
