"""What is said of the readings that a spectrophotometer's software wrote, and of bringing them in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from .surface import Catalogue, On

SHOWN = 5  # rows of a table that are named
ASK = "look in the instrument's settings, or ask whoever read the card"
# Where a file does not say a setting. No value stands here as an example: it would be copied.
SETTINGS = {
    "illuminant": f"{ASK}, and give it with --illuminant",
    "observer": f"{ASK}, and give it with --observer",
    "geometry": f"{ASK}, and give it with --geometry",
    "date": "give the day when it was read with --date, written year-month-day",
    "source": "say who read it, and with what, with --source",
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
    return f"the file does not say the {key}: {SETTINGS.get(key, f'give it with --{key}')}"


def _read_again(patches: Sequence[str], times: Sequence[int], **_: Any) -> str:
    if len(patches) == 1:
        return f"patch {patches[0]} is in the file {times[0]} times: keep one reading"
    some = f"{', '.join(patches[:SHOWN])}{', ...' if len(patches) > SHOWN else ''}"
    often = f"{times[0]}" if len(times) == 1 else f"{times[0]} to {times[-1]}"
    return f"{len(patches)} patches are in the file {often} times each ({some}): keep one reading of each"


def _numbers(first: str, count: int, missing: Sequence[str], beyond: Sequence[str], **_: Any) -> str:
    told = (
        f"the rows only have numbers, so they are taken in the order of the card's map ({count}, from {first} to paper)"
    )
    parts = [("missing: " + ", ".join(_some(missing)))] if missing else []
    parts += [("not on the map: " + ", ".join(_some(beyond)))] if beyond else []
    return f"{told}; {'; '.join(parts)}"


def _some(names: Sequence[str]) -> list[str]:
    return [*names[:SHOWN], *([f"and {len(names) - SHOWN} more"] if names[SHOWN:] else [])]


def _other_order(row: int, patch: str, paper_first: bool, **_: Any) -> str:
    told = "the rows only have numbers, and their colours do not come in the order of the card's map"
    if paper_first:
        return f"{told}: the bare stock was read first. Move its row to the end and number the rows again"
    return f"{told} (row {row} can't be patch {patch}). Name each row as its patch is named on the map"


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
    "columns-of-two-lights": "{path} has colour columns that belong to different lights: {columns:comma}.",
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
    "patches-read-again": On(terminal=lambda **facts: f"{_read_again(**facts)}, or add --average", page=_read_again),
    "patches-missing": lambda patches, **_: f"{len(patches)} patches are missing: {', '.join(_some(patches))}",
    "numbers-do-not-fit": _numbers,
    "order-unlike-card": _other_order,
    "geometry-unknown": "geometry '{geometry}' is not one of {known:comma} (or their kinds, such as 45/0c, de:8)",
    "specular-missing": On(
        terminal="geometry {geometry} can read with the gloss or without it: " + ASK + ", and give --specular included"
        " (SCI), excluded (SCE), or unknown",
        page="geometry {geometry} can read with the gloss or without it, and the file does not say which",
    ),
    "gloss-never-seen": "an instrument of geometry {geometry} never reads the gloss, but you said that it is included",
    "setting-contradicted": "the file says {key} {said}, but you gave {given}",
    "setting-missing": On(terminal=_setting_missing, page="the file does not say the {key}"),
    "card-name-unusable": "'{name}' can't be the name of a card: use letters, digits, spaces, points and hyphens",
    "card-name-of-design": "'{name}' is the name of a row or of a card design: choose another name",
    "print-has-values": On(
        terminal="print {number} already has the values '{name}': if they are wrong, first put them away with"
        " 'swatchcam card remove'",
        page="print {number} already has the values '{name}'",
    ),
    "card-name-of-tool": "'{name}' is a name that comes with the tool: choose another name",
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
    "keep-one-illuminant": On(
        terminal="Keep only those for one illuminant and observer, or say which with --illuminant and --observer.",
        page="Keep only those for one illuminant and observer, and try again.",
    ),
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
