"""The values file of one printed card: read it, write it, and tell everything that is wrong in it at once.

A values file is UTF-8 CSV: lines `# key: value` with the keys in `KEYS` and, where they are known, those in
`OPTIONAL`, then a row of column names `name,L,a,b` (spectral columns `r400,r410,...` may follow: reflectance factor,
0 to 1, wavelength in nm), then one row for every patch of the design and one called `paper` for the bare white stock.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches
from pathlib import Path

from ..colorimetry.cielab import Lab
from ..errors import CardError
from ..files import OWNER_ONLY, disk_cause, write_whole
from ..messages.message import Message, finding
from .design import designs
from .validation import check_key, check_lab, check_names, check_spectrum, check_wavelengths, number

KEYS = ("design", "grade", "illuminant", "observer", "geometry", "date", "source", "uncertainty")
# The numbers of the prints that the values are of, and of others from the same run; ISO 13655's measurement condition;
# gloss included or not.
OPTIONAL = ("print", "sister", "condition", "specular", "frame")
REPLACED = "replaced"  # the folder of what is no longer used


@dataclass
class Sheet:
    """A values file as it stands; `problems` has a finding for each thing that is wrong in it."""

    header: dict[str, str] = field(default_factory=dict)
    lab: dict[str, Lab] = field(default_factory=dict)
    wavelengths: tuple[float, ...] = ()  # nm
    spectra: dict[str, tuple[float, ...]] = field(default_factory=dict)  # reflectance factor, 1 = all light
    problems: list[Message] = field(default_factory=list)


def read_sheet(path: Path) -> Sheet:
    """Read a values file and check all of it.

    Raises
    ------
    CardError
        The file is no text. What is wrong in the text is told by `Sheet.problems` instead.
    """
    return sheet_of(text_of(path))


def sheet_of(text: str) -> Sheet:
    """The text of a values file -> the sheet; what is wrong in it is told by `Sheet.problems`."""
    lines = text.splitlines()
    sheet = Sheet()
    _read_header([line[1:] for line in lines if line.startswith("#")], sheet)
    body = [line for line in lines if line.strip() and not line.startswith("#")]
    try:
        rows = list(csv.reader(io.StringIO("\n".join(body)), strict=True))
    except csv.Error as error:
        sheet.problems.append(finding("table-unreadable", words=str(error)))
    else:
        _read_table(rows, sheet)
    return sheet


def header_in(path: Path) -> dict[str, str]:
    """What the header of a values file says, unchecked and the rest unread.

    Raises
    ------
    CardError
        The file is no text.
    """
    sheet = Sheet()
    _read_header([line[1:] for line in text_of(path).splitlines() if line.startswith("#")], sheet)
    return sheet.header


def design_of(path: Path) -> str:
    """The design a values file says it is for, the rest unread.

    Raises
    ------
    CardError
        The file does not say; then nobody can tell whether it was meant.
    """
    said = header_in(path).get("design")
    if not said:
        raise CardError("values-without-design", "say-the-design", path=path)
    return said


def numbers_in(header: Mapping[str, str], key: str = "print") -> tuple[str, ...]:
    """The numbers of the prints that values are of, or of their sisters, 8 digits each; none where it doesn't say."""
    return tuple(number.strip() for number in header.get(key, "").split(",") if number.strip())


def with_numbers(text: str, numbers: Iterable[str], key: str = "print") -> str:
    """The text of a values file of these prints, or with these sisters, and no others; all else stays as it is."""
    lines = [line for line in text.splitlines() if not re.match(rf"#\s*{key}\s*:", line)]
    said = ", ".join(numbers)
    last = max(place for place, line in enumerate(lines) if line.startswith("#"))
    lines[last + 1 : last + 1] = [f"# {key}: {said}"] if said else []
    return "\n".join(lines) + "\n"


def sheet_text(sheet: Sheet) -> str:
    """A values file as text: Lab with four decimals, reflectance with five."""
    out = io.StringIO()
    said = [key for key in OPTIONAL if sheet.header.get(key)]
    out.writelines(f"# {key}: {sheet.header[key]}\n" for key in (*KEYS, *said))
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["name", "L", "a", "b", *(f"r{nm:g}" for nm in sheet.wavelengths)])
    for name, lab in sheet.lab.items():
        spectrum = (f"{value:.5f}" for value in sheet.spectra.get(name, ()))
        # Adding zero turns -0.0000 into 0.0000.
        writer.writerow([name, *(f"{round(value, 4) + 0:.4f}" for value in lab), *spectrum])
    return out.getvalue()


def write_sheet(target: Path, sheet: Sheet) -> None:
    """Write a values file as `write_text` does."""
    write_text(target, sheet_text(sheet))


def write_text(target: Path, text: str) -> None:
    """Write a file, all or nothing; what was there before is kept under a dated name.

    Raises
    ------
    CardError
        The folder cannot be written to; the file is then what it was.
    """
    with writing(target.parent):
        if target.exists():
            _keep(target)
        write_whole(target, text.encode("utf-8"), OWNER_ONLY)


@contextmanager
def writing(folder: Path) -> Iterator[None]:
    """Around the writing of a file of values in a folder, which is made if it is not there.

    Raises
    ------
    CardError
        The folder cannot be written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        cause = disk_cause(error)
        raise CardError(
            "values-not-written",
            "make-room" if cause.code == "disk-full" else "give-access",
            folder=folder,
            cause=cause,
        ) from error


def _keep(target: Path) -> None:
    kept = dated(target, "until")
    kept.parent.mkdir(exist_ok=True)
    shutil.copy2(target, kept)


def dated(target: Path, word: str) -> Path:
    """A name that is free for another state of a file, in the folder of what is no longer used: "halm until DAY"."""
    stem = f"{target.stem} {word} {date.today().isoformat()}"
    name, count = stem, 1
    while (path := target.parent / REPLACED / f"{name}{target.suffix}").exists():
        count += 1
        name = f"{stem} ({count})"
    return path


def text_of(path: Path) -> str:
    """The text of a UTF-8 file.

    Raises
    ------
    CardError
        The file cannot be opened or is not UTF-8 text.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        cause = disk_cause(error) if isinstance(error, OSError) else finding("not-text")
        raise CardError("file-not-read", "check-the-file", path=path, cause=cause) from error


def _read_header(lines: list[str], sheet: Sheet) -> None:
    others = []
    for line in lines:
        key, colon, value = (part.strip() for part in line.partition(":"))
        if key not in (*KEYS, *OPTIONAL):
            others += [key] if colon else []  # any other line is a comment, unless a key turns out to be missing
        elif key in sheet.header:
            sheet.problems.append(finding("header-line-doubled", key=key))
        else:
            sheet.header[key] = value
    for key in KEYS:
        value = sheet.header.get(key, "")
        near = get_close_matches(key, others, n=1)
        missing = [finding("header-line-missing", key=key, near=near[0] if near else None)]
        sheet.problems += check_key(key, value) if value else missing
    for key in OPTIONAL:
        sheet.problems += check_key(key, sheet.header[key]) if sheet.header.get(key) else []


def _read_table(rows: list[list[str]], sheet: Sheet) -> None:
    columns = [column.strip() for column in rows[0]] if rows else []
    if columns[:4] != ["name", "L", "a", "b"]:
        sheet.problems.append(finding("columns-of-values-missing"))
        return
    sheet.problems += _read_wavelengths(columns[4:], sheet)
    names = [row[0].strip() for row in rows[1:]]
    for name, row in zip(names, rows[1:], strict=True):
        sheet.problems += _read_row(name, row, len(columns), sheet)
    design = designs().get(sheet.header.get("design", ""))
    if design:
        sheet.problems += check_names(names, design)


def _read_wavelengths(columns: list[str], sheet: Sheet) -> list[Message]:
    matches = [re.fullmatch(r"r(\d{3,4}(?:\.\d+)?)", column, re.ASCII) for column in columns]
    if None in matches:
        return [finding("column-not-a-wavelength", column=columns[matches.index(None)])]
    sheet.wavelengths = tuple(float(match[1]) for match in matches if match)
    return check_wavelengths(sheet.wavelengths) if columns else []


def _read_row(name: str, row: list[str], width: int, sheet: Sheet) -> list[Message]:
    if len(row) != width:
        return [finding("row-of-other-length", name=name, entries=len(row), columns=width)]
    lightness, a, b, *spectrum = (number(text) for text in row[1:])
    sheet.lab[name] = (lightness, a, b)
    sheet.spectra[name] = tuple(spectrum)
    return check_lab(name, (lightness, a, b)) + check_spectrum(name, spectrum)
