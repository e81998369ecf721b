"""What one printed card measures: load a values file, choose the right one, or fall back on what was sent.

A values file is UTF-8 CSV: lines `# key: value` with the keys in `KEYS`, then a row of column names
`name,L,a,b` (spectral columns `r400,r410,...` may follow: reflectance factor, 0 to 1, wavelength in nm), then
one row for every patch of the design and one called `paper` for the bare white stock.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from difflib import get_close_matches
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .card import CardDesign, calibration_folder, designs, user_folder
from .errors import CardError

KEYS = ("design", "grade", "illuminant", "observer", "geometry", "date", "source", "uncertainty")
GRADES = ("measured", "transferred", "nominal")
PAPER = "paper"
PAPER_L = 96.0
NOMINAL_UNCERTAINTY = 4.0
ILLUMINANTS = ("A", "C", "D50", "D65")
OBSERVERS = (2, 10)
# Paper with optical brightener sends back more blue than falls on it, so 1 is not the limit.
REFLECTANCE_LIMITS = (-0.01, 1.5)

Lab = tuple[float, float, float]


@dataclass(frozen=True)
class CardValues:
    """CIELAB of every patch of one printed card, and where these numbers come from."""

    name: str
    design: str
    grade: str
    illuminant: str
    observer: int
    geometry: str
    date: str
    source: str
    uncertainty: float  # 1-sigma CIEDE2000 of one patch value
    lab: dict[str, Lab]  # by patch name, and "paper" for the bare stock
    path: str  # empty when the values come from no file
    flags: tuple[str, ...]


@dataclass
class _Sheet:
    """A values file while it is read; `problems` has one line for each thing that is wrong."""

    header: dict[str, str] = field(default_factory=dict)
    lab: dict[str, Lab] = field(default_factory=dict)
    spectra: dict[str, tuple[float, ...]] = field(default_factory=dict)
    wavelengths: tuple[float, ...] = ()
    problems: list[str] = field(default_factory=list)


def nominal_values(design: CardDesign, illuminant: str = "D65", observer: int = 10) -> CardValues:
    """What the card would measure if the printer were perfect: the sRGB codes seen as colours on white paper.

    A printer leaves the paper bare where the code is white, so every colour is taken relative to the paper's
    lightness of 96. The uncertainty is common practice, without a published source: an office or photo
    printer misses a colour it can print by about this much, and a very vivid or black one by more.
    """
    check_light(illuminant, observer)
    codes = np.array([patch.srgb for patch in design.patches], dtype=float).reshape(-1, 3)
    paper = _lab_to_xyz(np.array([PAPER_L, 0.0, 0.0]), _white("D65", 2))
    xyz = _srgb_to_xyz(codes / 255) * paper[1] / 100
    lab = adapt_lab(
        _xyz_to_lab(np.vstack([xyz, paper]), _white("D65", 2)), ("D65", 2), (illuminant, observer)
    )
    names = [*(patch.name for patch in design.patches), PAPER]
    return CardValues(
        name="nominal",
        design=design.name,
        grade="nominal",
        illuminant=illuminant,
        observer=observer,
        geometry="none",
        date="",
        source="the colours sent to the printer, not what it printed",
        uncertainty=NOMINAL_UNCERTAINTY,
        lab={name: _triple(row) for name, row in zip(names, lab, strict=True)},
        path="",
        flags=("The card's colours were never measured: trust differences, not single Lab values.",),
    )


def load_values(path_or_name: str | Path, illuminant: str = "D65", observer: int = 10) -> CardValues:
    """The values of one printed card, for the wanted illuminant and observer.

    Parameters
    ----------
    path_or_name : path of a values file, or its name in the user's folder or in `calibration/`

    Raises
    ------
    CardError
        No such file, or something in it is missing, doubled, misspelt or impossible; every problem is told.
    """
    check_light(illuminant, observer)
    path = find_values(path_or_name)
    sheet = _read(path)
    if sheet.problems:
        raise refusal(
            f"Card values {path} cannot be used", sheet.problems, "Mend these in the file and try again."
        )
    values = _as_values(sheet, path)
    if (values.illuminant, values.observer) == (illuminant, observer):
        return values
    return _for_light(values, sheet, illuminant, observer)


def choose_values(design: CardDesign, card: str | None, illuminant: str, observer: int) -> CardValues:
    """The values to use for a card of this design: the named ones, else the user's only ones, else nominal.

    Raises
    ------
    CardError
        The named values belong to another design, or the user's folder leaves it open which to take.
    """
    if card is not None:
        values = load_values(card, illuminant, observer)
        if values.design != design.name:
            raise CardError(
                f"The card in the photo is of design '{design.name}', "
                f"but the values '{values.name}' are for design '{values.design}'.",
                "Name the values of the card in the photo with --card, or leave --card away.",
            )
        return values
    mine = [path for path in sorted(user_folder().glob("*.csv")) if _design_of(path) == design.name]
    if len(mine) > 1:
        names = ", ".join(path.stem for path in mine)
        raise CardError(
            f"You have values for {len(mine)} cards of design '{design.name}': {names}.",
            f"Say which card is in the photo, for example --card {mine[0].stem}.",
        )
    return (
        load_values(mine[0], illuminant, observer) if mine else nominal_values(design, illuminant, observer)
    )


def find_values(path_or_name: str | Path) -> Path:
    """The file meant by a path or by a bare name.

    Raises
    ------
    CardError
        There is no such file; the names that are known are listed.
    """
    given = Path(path_or_name)
    folders = (user_folder(), calibration_folder())
    candidates = [given, *(folder / end for folder in folders for end in (given.name, f"{given.name}.csv"))]
    if len(given.parts) > 1:
        candidates = [given]
    try:
        for path in candidates:
            if path.is_file():
                return path
    except ValueError:
        pass  # a name with a null character: there can be no such file
    known = sorted({path.stem for folder in folders for path in folder.glob("*.csv")})
    there = f"Known cards: {', '.join(known)}." if known else "No card has been read in yet."
    raise CardError(f"There are no card values called '{path_or_name}'.", f"Check the spelling. {there}")


def check_light(illuminant: str, observer: int) -> None:
    """Refuse an illuminant or observer for which there is no white point here.

    Raises
    ------
    CardError
        The name is not one of `ILLUMINANTS`, or the observer not one of `OBSERVERS`.
    """
    if illuminant not in ILLUMINANTS:
        raise CardError(f"Illuminant '{illuminant}' is not known.", f"Use one of {', '.join(ILLUMINANTS)}.")
    if observer not in OBSERVERS:
        raise CardError(f"There is no standard observer of {observer} degrees.", "Use 2 or 10.")


def refusal(start: str, problems: list[str], remedy: str) -> CardError:
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


def check_lab(name: str, lab: Iterable[float]) -> str | None:
    """One line if no printed patch can have this CIELAB value, else None."""
    lightness, a, b = lab
    if not all(math.isfinite(value) for value in (lightness, a, b)):
        return f"patch {name} has a value that is not a number"
    if not 0 <= lightness <= 102:
        return f"patch {name} has L {lightness:g}, which must lie between 0 and 100"
    if max(abs(a), abs(b)) > 140:
        return f"patch {name} has a {a:g} and b {b:g}, which no print reaches (limit 140)"
    return None


def number(text: str) -> float:
    """A decimal number written with a point; anything else is NaN, so that one check catches it."""
    return (
        float(text) if re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", text.strip()) else math.nan
    )


def _nearest(name: str, names: list[str]) -> str | None:
    by_lower = {candidate.lower(): candidate for candidate in names}
    near = get_close_matches(name.strip().lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[near[0]] if near else None


def _read(path: Path) -> _Sheet:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise CardError(
            f"Card values {path} cannot be read: {error}.", "Check the file and try again."
        ) from error
    sheet = _Sheet()
    lines = text.splitlines()
    _read_header([line[1:] for line in lines if line.startswith("#")], sheet)
    body = [line for line in lines if line.strip() and not line.startswith("#")]
    try:
        rows = list(csv.reader(io.StringIO("\n".join(body)), strict=True))
    except csv.Error as error:
        sheet.problems.append(f"the table cannot be read ({error})")
        return sheet
    _read_table(rows, sheet)
    return sheet


def _read_header(lines: list[str], sheet: _Sheet) -> None:
    others = []
    for line in lines:
        key, colon, value = (part.strip() for part in line.partition(":"))
        if not colon:
            continue
        if key not in KEYS:
            others.append(key)
        elif key in sheet.header:
            sheet.problems.append(f"header line '{key}' is there twice")
        else:
            sheet.header[key] = value
    for key in KEYS:
        near = get_close_matches(key, others, n=1)
        if not sheet.header.get(key):
            hint = f" (is '{near[0]}' meant?)" if near else ""
            sheet.problems.append(f"header line '# {key}: ...' is missing or empty{hint}")
    sheet.problems += [line for line in map(_check_key, sheet.header.items()) if line]


def _check_key(item: tuple[str, str]) -> str | None:
    key, value = item
    if not value:
        return None  # told already as missing
    allowed: Mapping[str, tuple[str, ...]] = {
        "design": tuple(designs()),
        "grade": GRADES,
        "illuminant": ILLUMINANTS,
        "observer": tuple(str(angle) for angle in OBSERVERS),
    }
    if key in allowed and value not in allowed[key]:
        return f"{key} '{value}' is not one of {', '.join(allowed[key])}"
    if key == "date" and not is_date(value):
        return f"date '{value}' is not a day written like 2026-01-31"
    if key == "uncertainty" and not 0 < number(value) <= 50:
        return f"uncertainty '{value}' is not a number of CIEDE2000 above 0"
    return None


def is_date(text: str) -> bool:
    """Whether the text is a day of the calendar, written year-month-day."""
    try:
        return bool(re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII)) and bool(date.fromisoformat(text))
    except ValueError:
        return False


def _read_table(rows: list[list[str]], sheet: _Sheet) -> None:
    columns = [column.strip() for column in rows[0]] if rows else []
    if columns[:4] != ["name", "L", "a", "b"]:
        sheet.problems.append("the first row of the table must begin with name,L,a,b")
        return
    matches = [re.fullmatch(r"r(\d{3,4}(?:\.\d+)?)", column, re.ASCII) for column in columns[4:]]
    sheet.wavelengths = tuple(float(match[1]) for match in matches if match)
    if None in matches:
        wrong = columns[4 + matches.index(None)]
        sheet.problems.append(f"column '{wrong}' is not a wavelength such as r400")
    elif sheet.wavelengths and (line := check_wavelengths(sheet.wavelengths)):
        sheet.problems.append(line)
    names = []
    for row in rows[1:]:
        name = row[0].strip() if row else ""
        names.append(name)
        if len(row) != len(columns):
            sheet.problems.append(
                f"patch {name} has {len(row)} entries, the table has {len(columns)} columns"
            )
            continue
        values = [number(text) for text in row[1:]]
        sheet.lab[name] = (values[0], values[1], values[2])
        sheet.spectra[name] = tuple(values[3:])
        for line in (check_lab(name, values[:3]), check_spectrum(name, values[3:])):
            if line:
                sheet.problems.append(line)
    design = designs().get(sheet.header.get("design", ""))
    if design:
        sheet.problems += check_names(names, design)


def check_wavelengths(wavelengths: tuple[float, ...]) -> str | None:
    """One line if the wavelengths (nm) are not an even rising row that covers the visible range."""
    steps = np.diff(wavelengths)
    if len(steps) < 3 or not (steps > 0).all() or not np.allclose(steps, steps[0], rtol=0, atol=0.02):
        return "the wavelengths of the spectral columns do not rise in even steps"
    if steps[0] > 20 or wavelengths[0] > 420 or wavelengths[-1] < 680:
        return (
            "the spectral columns must reach from 420 nm or less to 680 nm or more in steps of 20 nm or less"
        )
    if wavelengths[0] < 200 or wavelengths[-1] > 2500:
        return "the spectral columns name wavelengths far outside visible light"
    return None


def check_spectrum(name: str, reflectance: Iterable[float]) -> str | None:
    """One line if a reflectance factor (0 to 1) is one that no print has, else None."""
    low, high = REFLECTANCE_LIMITS
    wrong = [value for value in reflectance if not low <= value <= high]
    return f"patch {name} has reflectance {wrong[0]:g}, which must lie between 0 and 1" if wrong else None


def _as_values(sheet: _Sheet, path: Path) -> CardValues:
    head = sheet.header
    flags = []
    if head["geometry"].replace(" ", "").split("/")[0].split(":")[0] not in ("45", "45°", "45a", "45c", "0"):
        flags.append(f"The card was read with geometry {head['geometry']}; a phone sees it like 45/0.")
    return CardValues(
        name=path.stem,
        design=head["design"],
        grade=head["grade"],
        illuminant=head["illuminant"],
        observer=int(head["observer"]),
        geometry=head["geometry"],
        date=head["date"],
        source=head["source"],
        uncertainty=number(head["uncertainty"]),
        lab=sheet.lab,
        path=str(path),
        flags=tuple(flags),
    )


def _for_light(values: CardValues, sheet: _Sheet, illuminant: str, observer: int) -> CardValues:
    names = list(sheet.lab)
    if sheet.wavelengths:
        rows = spectra_to_lab(
            sheet.wavelengths, [sheet.spectra[name] for name in names], illuminant, observer
        )
        flags = values.flags
    else:
        old = (values.illuminant, values.observer)
        rows = adapt_lab(np.array([sheet.lab[name] for name in names]), old, (illuminant, observer))
        change = f"from {old[0]}/{old[1]}°, not measured, for {illuminant}/{observer}°"
        flags = (*values.flags, f"The card's values were adapted {change}.")
    lab = {name: _triple(row) for name, row in zip(names, rows, strict=True)}
    return replace(values, illuminant=illuminant, observer=observer, lab=lab, flags=flags)


def _design_of(path: Path) -> str:
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise CardError(f"Card values {path} cannot be read: {error}.", "Mend or move the file.") from error
    found = [line[1:].partition(":")[2].strip() for line in lines if re.match(r"#\s*design\s*:", line)]
    if not found:
        raise CardError(
            f"{path} lies among your card values but does not say for which card design.",
            "Add the line '# design: ...' to it, move it elsewhere, or name the values to use with --card.",
        )
    return found[0]


def _triple(row: NDArray[np.float64]) -> Lab:
    return float(row[0]), float(row[1]), float(row[2])


def spectra_to_lab(
    wavelengths: Iterable[float], reflectances: Iterable[Iterable[float]], illuminant: str, observer: int
) -> NDArray[np.float64]:
    """Reflectance spectra -> CIELAB under an illuminant, for an observer.

    Parameters
    ----------
    wavelengths : (n,) nm, evenly spaced
    reflectances : (m, n) reflectance factors, 1 for the perfect diffuser

    Returns
    -------
    (m, 3) CIELAB

    Source
    ------
    ASTM E308: spectra brought to 1 nm (Sprague interpolation, CIE 167:2005; the end values continued), then
    summed from 360 to 780 nm.
    """
    import colour

    cmfs_name = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}[
        observer
    ]
    shape = colour.SpectralShape(360, 780, 1)
    cmfs = colour.MSDS_CMFS[cmfs_name].copy().align(shape)
    light = colour.SDS_ILLUMINANTS[illuminant].copy().align(shape)
    table = np.array([list(row) for row in reflectances], dtype=float).T
    spectra = colour.MultiSpectralDistributions(table, np.array(list(wavelengths))).align(shape)
    xyz = colour.msds_to_XYZ(spectra, cmfs=cmfs, illuminant=light, method="ASTM E308")
    return _xyz_to_lab(np.asarray(xyz, dtype=np.float64), _white(illuminant, observer))


def adapt_lab(lab: NDArray[np.float64], old: tuple[str, int], new: tuple[str, int]) -> NDArray[np.float64]:
    """CIELAB (..., 3) under one illuminant and observer -> the colour expected under another.

    Full Bradford adaptation: a good guess for common surfaces, blind to metamerism.
    Source: ICC.1:2010 annex E (Bradford); Lam 1985.
    """
    was, now = _white(*old), _white(*new)
    gain = np.diag((BRADFORD @ now) / (BRADFORD @ was))
    matrix = np.linalg.inv(BRADFORD) @ gain @ BRADFORD
    return _xyz_to_lab(_lab_to_xyz(lab, was) @ matrix.T, now)


BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
# ASTM E308 table 5, and the sRGB matrix of IEC 61966-2-1 for these primaries and white.
WHITES = {
    ("A", 2): (109.850, 100.0, 35.585),
    ("A", 10): (111.144, 100.0, 35.200),
    ("C", 2): (98.074, 100.0, 118.232),
    ("C", 10): (97.285, 100.0, 116.145),
    ("D50", 2): (96.422, 100.0, 82.521),
    ("D50", 10): (96.720, 100.0, 81.427),
    ("D65", 2): (95.047, 100.0, 108.883),
    ("D65", 10): (94.811, 100.0, 107.304),
}
SRGB = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.072175], [0.0193339, 0.119192, 0.9503041]]
)


def _white(illuminant: str, observer: int) -> NDArray[np.float64]:
    return np.array(WHITES[illuminant, observer])


def _srgb_to_xyz(code: NDArray[np.float64]) -> NDArray[np.float64]:
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return 100 * linear @ SRGB.T


def _xyz_to_lab(xyz: NDArray[np.float64], white: NDArray[np.float64]) -> NDArray[np.float64]:
    ratio = xyz / white
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1
    )


def _lab_to_xyz(lab: NDArray[np.float64], white: NDArray[np.float64]) -> NDArray[np.float64]:
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    return white * np.where(f > 6 / 29, f**3, (116 * f - 16) * 27 / 24389)
