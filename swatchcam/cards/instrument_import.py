"""A spectrophotometer's readings of one card -> a values file in the user's folder.

Nothing is written unless every patch of the design is there once, readable and possible; all that is wrong is
told at once.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..arrays import Array
from ..colorimetry.cielab import white_point, xyz_to_lab
from ..colorimetry.colour_difference import delta_e_2000
from ..errors import CardError
from ..messages.message import Message, finding
from ..resources import user_folder
from .design import CardDesign
from .instrument_columns import Row, colour_columns, is_header, numbers_of, patch_names, pick, said_of, scaled
from .instrument_table import read_table
from .print_number import parse_number, spoken
from .validation import PAPER, check_key, check_lab, check_names, check_spectrum, check_wavelengths, number
from .values import CardValues, load_values, spectra_to_lab
from .values_file import Sheet, header_in, numbers_in, sheet_of, sheet_text, write_sheet
from .values_folder import NOMINAL, comes_with_the_tool, values_of_print

# From memory of common practice, without a source: two handheld instruments of one make agree to about this.
INSTRUMENT_UNCERTAINTY = 0.5
LARGEST_SPREAD = 3.0  # CIEDE2000 between a reading and the patch's mean: more is a slip, not scatter
LARGEST_DISAGREEMENT = 1.0  # Euclidean CIELAB between a file's spectra and its own Lab; summing differs by 0.3


@dataclass(frozen=True)
class Readings:
    """One row per reading, in file order; names may repeat. What the file does not say is empty or 0."""

    path: str
    kind: str  # "CSV" or "CGATS"
    names: tuple[str, ...]
    lab: tuple[Row, ...]  # empty, or one CIELAB for each name
    xyz: tuple[Row, ...]  # empty, or one XYZ for each name, Y = 100 for the perfect diffuser
    wavelengths: Row  # nm
    spectra: tuple[Row, ...]  # empty, or one row of reflectance factors for each name
    illuminant: str
    observer: int
    geometry: str
    date: str
    instrument: str
    unreadable: tuple[str, ...]  # patches with an entry that is not a number
    problems: tuple[Message, ...]  # one for each thing that is wrong


def read_readings(path: str | Path) -> Readings:
    """Read what an instrument's software exported: CSV (any separator) or CGATS.17 text.

    Raises
    ------
    CardError
        There is no table, or it cannot be told what its columns mean. Entries that are wrong one by one are
        told by `Readings.problems`, so that they can be told together with what is missing.
    """
    table = read_table(Path(path), is_header)
    names = patch_names(table, str(path))
    columns = colour_columns(table, str(path))
    numbers, problems = numbers_of(table, columns, str(path))
    good = [i for i, row in enumerate(numbers) if all(map(math.isfinite, row))]
    values = {key: pick(numbers, columns, key, good) for key in ("Lab", "XYZ", "nm")}
    wavelengths = tuple(nm for key, nm, _ in columns if key == "nm")
    notes = said_of(table)
    return Readings(
        path=str(path),
        kind=table.kind,
        names=tuple(names[i] for i in good),
        lab=values["Lab"],
        xyz=scaled(values["XYZ"], 1, 100.0, str(path), "XYZ"),
        wavelengths=wavelengths,
        spectra=scaled(values["nm"], None, 1.0, str(path), "reflectance"),
        illuminant=notes["illuminant"],
        observer=int(notes["observer"] or 0),
        geometry=notes["geometry"],
        date=notes["date"],
        instrument=notes["instrument"],
        unreadable=tuple(name for i, name in enumerate(names) if i not in good),
        problems=(*problems, *(check_wavelengths(wavelengths) if wavelengths else [])),
    )


def import_values(
    readings: Readings,
    design: CardDesign,
    *,
    name: str,
    illuminant: str | None = None,
    observer: int | None = None,
    geometry: str | None = None,
    date: str | None = None,
    source: str | None = None,
    uncertainty: float | None = None,
    average: bool = False,
    numbers: Sequence[str] = (),
    replace: bool = False,
) -> CardValues:
    """Check the readings against the design and write them to the user's folder as the values of one card.

    Parameters
    ----------
    name : of the card; becomes the file's name
    illuminant, observer : spectra are summed for these (D65 and 10 without); for Lab and XYZ, which light they
        are for, where the file itself does not say
    geometry, date, source : as the file says, unless given
    uncertainty : 1-sigma CIEDE2000 of one reading, the instrument's agreement with others included
    average : several readings of a patch are averaged (spectra and XYZ as light, Lab as it is); what remains of
        their spread is added to the uncertainty
    numbers : of the prints that have these values, as they were typed
    replace : values of this name may be there already; they are kept in the folder `replaced`

    Raises
    ------
    CardError
        Anything is missing, doubled, misspelt or impossible; nothing is written then.
    """
    header, problems = header_of(readings, design.name, illuminant, observer, geometry, date, source, uncertainty)
    target = user_folder() / f"{name}.csv"
    header |= {"print": ", ".join(map(parse_number, numbers))} if numbers else {}
    problems = [*check_card_name(name, target, replace), *check_claims(name, header), *problems, *readings.problems]
    names = _as_on_card(readings.names, design)
    problems += _check_patches([*names, *_as_on_card(readings.unreadable, design)], design, average)
    check = check_spectrum if readings.spectra else check_lab
    for own, row in zip(names, readings.spectra or readings.lab, strict=False):
        problems += check(own, row)
    sheet = Sheet(header, wavelengths=readings.wavelengths)
    if not problems:
        # Read back before it is written: what is rounded or spelt oddly must not become a file that is refused.
        problems = _fill(sheet, readings, names, design) or sheet_of(sheet_text(sheet)).problems
    if problems:
        raise CardError("readings-not-imported", "correct-or-read-again", path=readings.path, problems=problems)
    write_sheet(target, sheet)
    return load_values(target, header["illuminant"], int(header["observer"]))


def header_of(
    readings: Readings,
    design: str,
    illuminant: str | None,
    observer: int | None,
    geometry: str | None,
    date: str | None,
    source: str | None,
    uncertainty: float | None,
) -> tuple[dict[str, str], list[Message]]:
    """The header of a values file, what is given before what the file says; and a finding for what is missing."""
    said = {"illuminant": readings.illuminant, "observer": str(readings.observer or "")}
    given = {"illuminant": illuminant or "", "observer": str(observer or "")}
    problems: list[Message] = []
    for key, usual in (("illuminant", "D65"), ("observer", "10")):
        if readings.spectra:
            given[key] = given[key] or usual
        elif said[key] and given[key] not in ("", said[key]):
            problems.append(finding("setting-contradicted", key=key, said=said[key], given=given[key]))
        given[key] = given[key] or said[key]
    header = {
        "design": design,
        "grade": "measured",
        **given,
        "geometry": geometry or readings.geometry,
        "date": date or readings.date,
        "source": source or f"{readings.instrument or 'instrument'}, {Path(readings.path).name}",
    }
    header = {key: " ".join(value.split()) for key, value in header.items()}  # one line each
    header["uncertainty"] = f"{INSTRUMENT_UNCERTAINTY if uncertainty is None else uncertainty:g}"
    for key, value in header.items():
        problems += check_key(key, value) if value else [finding("setting-missing", key=key)]
    return header, problems


def check_card_name(name: str, target: Path, replace: bool) -> list[Message]:
    """A finding if values cannot be kept under a name: an impossible one, or one that is taken already."""
    if not re.fullmatch(r"[\w][\w .-]{0,63}", name) or name.endswith((" ", ".")) or name == NOMINAL:
        return [finding("card-name-unusable", name=name)]
    if comes_with_the_tool(name):
        return [finding("card-name-of-the-tool", name=name)]
    if target.with_suffix(".toml").exists():
        return [finding("card-name-of-design", name=name)]
    if target.exists() and not replace:
        return [finding("card-name-taken", name=name)]
    return []


def check_claims(name: str, header: Mapping[str, str]) -> list[Message]:
    """A finding for each print of a values file that other values are already said to be of."""
    others = {number: values_of_print(number) for number in numbers_in(header)}
    return [
        finding("print-has-values", number=spoken(number), name=other.stem)
        for number, other in others.items()
        if other and other.stem != name and number in numbers_in(header_in(other))
    ]


def _as_on_card(names: Sequence[str], design: CardDesign) -> list[str]:
    """The design's own spelling where only capitals differ."""
    own = {wanted.casefold(): wanted for wanted in (*(patch.name for patch in design.patches), PAPER)}
    exact = set(own.values())
    return [name if name in exact else own.get(name.casefold(), name) for name in names]


def _check_patches(names: list[str], design: CardDesign, average: bool) -> list[Message]:
    known = {patch.name for patch in design.patches} | {PAPER}
    if not known & set(names):
        return [finding("no-patch-of-design", design=design.name, paper=PAPER, names=names[:3])]
    problems = check_names(dict.fromkeys(names) if average else names, design)
    return [finding("patch-read-again", **own.facts) if own.code == "patch-doubled" else own for own in problems]


def _fill(sheet: Sheet, readings: Readings, names: list[str], design: CardDesign) -> list[Message]:
    """Put the colours of all patches into the sheet, in the design's order; a finding for each impossible one."""
    light = sheet.header["illuminant"], int(sheet.header["observer"])
    rows = {name: [i for i, own in enumerate(names) if own == name] for name in _order(design)}
    numbers = np.array(readings.spectra or readings.lab or readings.xyz)
    means = np.array([numbers[indices].mean(axis=0) for indices in rows.values()])
    single, mean = lab_of(readings, numbers, light), lab_of(readings, means, light)
    told = readings.lab and not readings.spectra
    problems = [] if told else [found for i, name in enumerate(names) for found in check_lab(name, single[i])]
    spread = {
        name: np.asarray(delta_e_2000(single[indices], mean[[place]]))
        for place, (name, indices) in enumerate(rows.items())
    }
    problems += [
        finding("readings-far-apart", patch=name, apart=apart.max())
        for name, apart in spread.items()
        if apart.max() > LARGEST_SPREAD
    ]
    sheet.lab = {name: (float(lab[0]), float(lab[1]), float(lab[2])) for name, lab in zip(rows, mean, strict=True)}
    if readings.spectra:
        sheet.spectra = {name: tuple(map(float, row)) for name, row in zip(rows, means, strict=True)}
        problems += _check_agreement(readings, names)
    scatter = _standard_error(list(spread.values()))
    sheet.header["uncertainty"] = f"{math.hypot(number(sheet.header['uncertainty']), scatter):.3g}"
    return problems


def _order(design: CardDesign) -> list[str]:
    return [*(patch.name for patch in design.patches), PAPER]


def lab_of(readings: Readings, numbers: Array, light: tuple[str, int]) -> Array:
    """(n, 3) CIELAB of rows of the kind that the readings are: spectra, Lab or XYZ."""
    if readings.spectra:
        return spectra_to_lab(readings.wavelengths, numbers, *light)
    return numbers if readings.lab else xyz_to_lab(numbers, white_point(*light))


def _standard_error(spread: list[Array]) -> float:
    """1-sigma CIEDE2000 of a patch's mean that the scatter of its readings leaves; 0 for single readings.

    The scatter of one reading is pooled over all patches, because two or three readings tell little by themselves.
    """
    freedom = sum(len(apart) - 1 for apart in spread)
    if not freedom:
        return 0.0
    variance = sum(float((apart**2).sum()) for apart in spread) / freedom
    return math.sqrt(variance * float(np.mean([1 / len(apart) for apart in spread])))


def _check_agreement(readings: Readings, names: list[str]) -> list[Message]:
    """A finding if the file's own Lab is not what its spectra give; only where the file says for which light."""
    if not (readings.lab and readings.illuminant and readings.observer):
        return []
    own = spectra_to_lab(readings.wavelengths, readings.spectra, readings.illuminant, readings.observer)
    apart = np.linalg.norm(own - np.array(readings.lab), axis=1)
    if apart.max() <= LARGEST_DISAGREEMENT:
        return []
    worst = names[int(apart.argmax())]
    return [finding("lab-contradicts-spectra", patch=worst, apart=apart.max())]
