"""What is said of the readings that a spectrophotometer's software wrote, and of bringing them in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from .surface import Catalogue, On

SHOWN = 5  # rows of a table that are named
# What a setting may look like, where a file does not say it.
EXAMPLES = {
    "illuminant": "D50",
    "observer": "2",
    "geometry": "45/0",
    "date": "2026-01-31",
    "source": "'readings of card 3'",
}


def _other_lengths(columns: int, rows: Sequence[tuple[str, int]], commas: bool, **_: Any) -> str:
    named = ", ".join(f"'{name}' has {entries}" for name, entries in rows[:SHOWN])
    more = f" and {len(rows) - SHOWN} more rows" if len(rows) > SHOWN else ""
    hint = "; decimal commas need semicolons between the columns" if commas else ""
    return f"it has {columns} columns, but rows with other numbers of entries: {named}{more}{hint}"


def _count_contradicted(keyword: str, said: Sequence[str], count: int, **_: Any) -> str:
    return f"it says {keyword} {' and '.join(said)}, but there are {count}"


def _no_patch(design: str, paper: str, names: Sequence[str], **_: Any) -> str:
    there = ", ".join(names) or "none"
    return f"no row has the name of a patch of design '{design}' (A1, {paper}, ...); the names there are: {there}"


def _setting_missing(key: str, **_: Any) -> str:
    return f"the file does not say the {key}: give it, for example --{key} {EXAMPLES.get(key, '...')}"


PROBLEMS: Catalogue = {
    # The file and its table.
    "readings-too-large": "{path} is too large for readings of a card.",
    "readings-unreadable": "{path} can't be read as readings: {cause:problem}.",
    "not-a-text-file": "it is not a text file",
    "rows-of-other-lengths": _other_lengths,
    "rows-not-filled": "its {entries} entries do not fill rows of {columns} columns",
    "mark-misplaced": "{mark} is in the wrong place",
    "end-missing": "it ends too early ({mark} is missing)",
    "count-contradicted": _count_contradicted,
    "several-tables": "{path} holds {tables:counted table} of data and {lists:counted list} of column names, not one of"
    " each.",
    # What its columns mean.
    "column-names-missing": "{path} has no row of column names for patch names and colours.",
    "columns-doubled": "{path} has several columns for the same thing: {columns:comma}.",
    "colour-columns-missing": "{path} has no complete set of colour columns; its columns are {columns:comma}.",
    "two-name-columns": "{path} has two columns of patch names.",
    "patch-names-missing": "{path} has no patch names.",
    "decimal-signs-mixed": "{path} uses both decimal commas and decimal points.",
    "scale-of-values-unclear": "{path}: its {kind} values reach {largest:g}. They may be out of 1 or out of 100.",
    # What keeps readings from becoming values, a line each.
    "readings-not-imported": "The readings in {path} were not imported:{problems:problems}",
    "reading-not-a-number": "{patch}: '{typed}' in column {column} is not a number",
    "reading-too-large": "{patch}: '{typed}' in column {column} is too large",
    "readings-far-apart": "the readings of patch {patch} lie up to {apart:.1f} CIEDE2000 from their mean: read it"
    " again",
    "lab-contradicts-spectra": "the file's Lab and its spectra give different colours, by up to {apart:.1f}"
    " (patch {patch})",
    "no-patch-of-design": _no_patch,
    "patch-read-again": On(
        terminal="patch {patch} is there {times} times: read it once, or add --average",
        page="patch {patch} is there {times} times: read it once",
    ),
    "setting-contradicted": "the file says {key} {said}, but you gave {given}",
    "setting-missing": On(terminal=_setting_missing, page="the file does not say the {key}"),
    "card-name-unusable": "'{name}' can't be the name of a card: use letters, digits, spaces, points and hyphens",
    "card-name-of-design": "'{name}' is the name of a row or of a card design: choose another name",
    "card-name-of-the-tool": "'{name}' comes with the program, and a card of yours would hide it: choose another name",
    "print-has-values": On(
        terminal="print {number} has the values '{name}': import without --print, then say which are right with"
        " 'swatchcam card use'",
        page="print {number} has the values '{name}' already",
    ),
    "card-name-taken": On(
        terminal="there is already a card called '{name}': choose another name, or add --replace",
        page="there is already a card called '{name}': choose another name",
    ),
}
REMEDIES: Catalogue = {
    "choose-the-readings": "Choose the file with the readings.",
    "export-readings-again": "Export the readings again, as CSV or as CGATS text.",
    "name-the-columns": "It needs a column 'name', and columns such as L, a, b or X, Y, Z or 400, 410, ..."
    " (nanometres).",
    "keep-one-table": "Export only the readings of this card, or keep only their table in the file.",
    "keep-one-illuminant": "Keep only those for one illuminant and observer, and try again.",
    "keep-one-of-them": "Keep one of them, and try again.",
    "export-a-whole-set": "Export L, a, b or X, Y, Z or the spectrum (400, 410, ... nm) of each patch.",
    "name-the-patches": "Name the patches as on the card's map (A1, A2, ...) and 'paper'.",
    "export-in-one-way": "Export all numbers in the same way, and try again.",
    "read-the-paper-too": "Read the bare white stock too, under the name 'paper', or export the readings again.",
    "correct-or-read-again": On(
        terminal="Nothing was written. Correct the file or the command, or take the readings again.",
        page="Nothing was written. Correct the file, or take the readings again.",
    ),
}
