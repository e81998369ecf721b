"""The values file of one printed card: read it, write it, and tell everything that is wrong in it at once.

A values file is UTF-8 CSV: lines `# key: value` with the keys in `KEYS`, then a row of column names
`name,L,a,b` (spectral columns `r400,r410,...` may follow: reflectance factor, 0 to 1, wavelength in nm), then
one row for every patch of the design and one called `paper` for the bare white stock.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches
from itertools import pairwise
from pathlib import Path

from .card import CardDesign, designs
from .errors import CardError

KEYS = ("design", "grade", "illuminant", "observer", "geometry", "date", "source", "uncertainty")
GRADES = ("measured", "transferred", "nominal")
ILLUMINANTS = ("A", "C", "D50", "D65")
OBSERVERS = (2, 10)
PAPER = "paper"
PAPER_LEAST_L = 70.0
# Paper with optical brightener sends back more light at 440 nm than falls on it there, so 1 is not the limit.
REFLECTANCE_LIMITS = (-0.01, 1.5)

Lab = tuple[float, float, float]


@dataclass
class Sheet:
    """A values file as it stands; `problems` has one line for each thing that is wrong in it."""

    header: dict[str, str] = field(default_factory=dict)
    lab: dict[str, Lab] = field(default_factory=dict)
    wavelengths: tuple[float, ...] = ()  # nm
    spectra: dict[str, tuple[float, ...]] = field(default_factory=dict)  # reflectance factor, 1 = all light
    problems: list[str] = field(default_factory=list)


def read_sheet(path: Path) -> Sheet:
    """Read a values file and check all of it.

    Raises
    ------
    CardError
        The file is no text. What is wrong in the text is told by `Sheet.problems` instead.
    """
    lines = text_of(path).splitlines()
    sheet = Sheet()
    _read_header([line[1:] for line in lines if line.startswith("#")], sheet)
    body = [line for line in lines if line.strip() and not line.startswith("#")]
    try:
        rows = list(csv.reader(io.StringIO("\n".join(body)), strict=True))
    except csv.Error as error:
        sheet.problems.append(f"the table cannot be read ({error})")
    else:
        _read_table(rows, sheet)
    return sheet


def design_of(path: Path) -> str:
    """The design a values file says it is for, the rest unread.

    Raises
    ------
    CardError
        The file does not say; then nobody can tell whether it was meant.
    """
    for line in text_of(path).splitlines():
        key, _, value = line.lstrip("#").partition(":")
        if line.startswith("#") and key.strip() == "design":
            return value.strip()
    raise CardError(
        f"{path} lies among your card values but does not say for which card design.",
        "Add the line '# design: ...' to it, move it elsewhere, or name the values to use with --card.",
    )


def sheet_text(sheet: Sheet) -> str:
    """A values file as text: Lab with four decimals, reflectance with five."""
    out = io.StringIO()
    out.writelines(f"# {key}: {sheet.header[key]}\n" for key in KEYS)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["name", "L", "a", "b", *(f"r{nm:g}" for nm in sheet.wavelengths)])
    for name, lab in sheet.lab.items():
        spectrum = (f"{value:.5f}" for value in sheet.spectra.get(name, ()))
        # Adding zero turns -0.0000 into 0.0000.
        writer.writerow([name, *(f"{round(value, 4) + 0:.4f}" for value in lab), *spectrum])
    return out.getvalue()


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
        raise CardError(f"Card values {path} cannot be read: {error}.", "Check the file and try again.") from error


def refusal(start: str, problems: Sequence[str], remedy: str) -> CardError:
    """One refusal that tells every problem, each on a line of its own."""
    return CardError("\n".join([f"{start}:", *(f"  - {line}" for line in problems)]), remedy)


def check_names(found: Iterable[str], design: CardDesign) -> list[str]:
    """One line for each patch that is missing, doubled or not on the card, and what may be meant."""
    names = list(found)
    wanted = [*(patch.name for patch in design.patches), PAPER]
    missing = [name for name in wanted if name not in names]
    lines = []
    for name in dict.fromkeys(names):
        if name not in wanted:
            near = _nearest(name, missing) or _nearest(name, wanted)
            hint = f" (is '{near}' meant?)" if near else ""
            lines.append(f"'{name}' is not a patch of design '{design.name}'{hint}")
        elif names.count(name) > 1:
            lines.append(f"patch {name} is there {names.count(name)} times")
    return lines + [f"patch {name} is missing" for name in missing]


def check_lab(name: str, lab: Iterable[float]) -> list[str]:
    """A line if no printed patch can have this CIELAB value, or no white stock if it is the paper."""
    lightness, a, b = lab
    if not all(math.isfinite(value) for value in (lightness, a, b)):
        return [f"patch {name} has a value that is not a number"]
    if not 0 <= lightness <= 102:
        return [f"patch {name} has L {lightness:g}, which must lie between 0 and 100"]
    if max(abs(a), abs(b)) > 140:
        return [f"patch {name} has a {a:g} and b {b:g}, which no print reaches (limit 140)"]
    if name == PAPER and lightness < PAPER_LEAST_L:
        return [f"'{PAPER}' has L {lightness:g}, white card stock has more than {PAPER_LEAST_L:g}"]
    return []


def check_spectrum(name: str, reflectance: Iterable[float]) -> list[str]:
    """A line if a reflectance factor (0 to 1) is one that no print has."""
    low, high = REFLECTANCE_LIMITS
    wrong = [value for value in reflectance if not low <= value <= high]
    return [f"patch {name} has reflectance {wrong[0]:g}, which must lie between 0 and 1"] if wrong else []


def check_wavelengths(wavelengths: Sequence[float]) -> list[str]:
    """A line if the wavelengths (nm) are not an even rising row that covers the visible range."""
    steps = [after - before for before, after in pairwise(wavelengths)]
    if not steps or min(steps) <= 0 or max(steps) - min(steps) > 0.02:
        return ["the wavelengths of the spectral columns do not rise in even steps"]
    # E308 allows steps of 20 nm at most, and knows how to continue 400 to 700 nm; ends further in are a guess.
    if steps[0] > 20.02 or wavelengths[0] > 400 or wavelengths[-1] < 700:
        return ["the spectral columns must reach from 400 to 700 nm at least, in steps of 20 nm or less"]
    return []


def number(text: str) -> float:
    """A decimal number written with a point; anything else is NaN, so that one check catches it."""
    plain = re.fullmatch(r"\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?\s*", text, re.ASCII)
    return float(text) if plain else math.nan


def is_date(text: str) -> bool:
    """Whether the text is a day of the calendar, written year-month-day."""
    try:
        return bool(re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII)) and bool(date.fromisoformat(text))
    except ValueError:
        return False


def check_key(key: str, value: str) -> list[str]:
    """A line if a header value is none that its key can have."""
    allowed: Mapping[str, tuple[str, ...]] = {
        "design": tuple(designs()),
        "grade": GRADES,
        "illuminant": ILLUMINANTS,
        "observer": tuple(str(angle) for angle in OBSERVERS),
    }
    if key in allowed and value not in allowed[key]:
        return [f"{key} '{value}' is not one of {', '.join(allowed[key])}"]
    if key == "date" and not is_date(value):
        return [f"date '{value}' is not a day written like 2026-01-31"]
    if key == "uncertainty" and not 0 < number(value) <= 50:
        return [f"uncertainty '{value}' is not a CIEDE2000 between 0 and 50"]
    return []


def check_light(illuminant: str, observer: int) -> None:
    """Refuse an illuminant or observer that the tool cannot compute for.

    Raises
    ------
    CardError
        The name is not one of `ILLUMINANTS`, or the angle not one of `OBSERVERS`.
    """
    problems = check_key("illuminant", illuminant) + check_key("observer", str(observer))
    if problems:
        raise CardError(f"The {' and the '.join(problems)}.", "Choose one of these and try again.")


def _nearest(name: str, names: Iterable[str]) -> str | None:
    by_lower = {candidate.lower(): candidate for candidate in names}
    near = get_close_matches(name.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[near[0]] if near else None


def _read_header(lines: list[str], sheet: Sheet) -> None:
    others = []
    for line in lines:
        key, colon, value = (part.strip() for part in line.partition(":"))
        if key not in KEYS:
            others += [key] if colon else []  # any other line is a comment, unless a key turns out to be missing
        elif key in sheet.header:
            sheet.problems.append(f"header line '{key}' is there twice")
        else:
            sheet.header[key] = value
    for key in KEYS:
        value = sheet.header.get(key, "")
        near = get_close_matches(key, others, n=1)
        hint = f" (is '{near[0]}' meant?)" if near else ""
        missing = [f"header line '# {key}: ...' is missing or empty{hint}"]
        sheet.problems += check_key(key, value) if value else missing


def _read_table(rows: list[list[str]], sheet: Sheet) -> None:
    columns = [column.strip() for column in rows[0]] if rows else []
    if columns[:4] != ["name", "L", "a", "b"]:
        sheet.problems.append("the first row of the table must begin with name,L,a,b")
        return
    sheet.problems += _read_wavelengths(columns[4:], sheet)
    names = [row[0].strip() for row in rows[1:]]
    for name, row in zip(names, rows[1:], strict=True):
        sheet.problems += _read_row(name, row, len(columns), sheet)
    design = designs().get(sheet.header.get("design", ""))
    if design:
        sheet.problems += check_names(names, design)


def _read_wavelengths(columns: list[str], sheet: Sheet) -> list[str]:
    matches = [re.fullmatch(r"r(\d{3,4}(?:\.\d+)?)", column, re.ASCII) for column in columns]
    if None in matches:
        return [f"column '{columns[matches.index(None)]}' is not a wavelength such as r400"]
    sheet.wavelengths = tuple(float(match[1]) for match in matches if match)
    return check_wavelengths(sheet.wavelengths) if columns else []


def _read_row(name: str, row: list[str], width: int, sheet: Sheet) -> list[str]:
    if len(row) != width:
        return [f"patch {name} has {len(row)} entries, the table has {width} columns"]
    lightness, a, b, *spectrum = (number(text) for text in row[1:])
    sheet.lab[name] = (lightness, a, b)
    sheet.spectra[name] = tuple(spectrum)
    return check_lab(name, (lightness, a, b)) + check_spectrum(name, spectrum)
