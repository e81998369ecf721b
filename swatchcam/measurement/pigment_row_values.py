"""What a row of own pigments measures: read with an instrument, or learned from photos beside a measured card."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Unpack

import numpy as np

from ..cards.instrument_import import lab_of
from ..cards.instrument_readings import Readings
from ..cards.reading_settings import Settings, header_of
from ..cards.validation import check_lab, check_spectrum
from ..cards.values_file import Sheet, sheet_of, sheet_text, write_sheet
from ..colorimetry.spectra import reflectance_to_lab, tables
from ..errors import CardError, StripError
from ..messages.message import Flag, Message, finding
from .combine_photos import combine
from .error_budget import Colour
from .pigment_row import PLACE_MARGIN, ROW, Places, bare_places, names_row, sheet_problems, unknown_row, values_file
from .single_photo import Look, take_look
from .strip_sample import sample_place

EVERY = 2  # of the grid's wavelengths are written: 380, 390 ... 780 nm
IN_RADIUS = 2.0  # standard uncertainties in the radius that holds 95 of 100


@dataclass(frozen=True)
class Learned:
    """What photos told of a row, and how far it may be trusted."""

    path: Path
    colours: tuple[Colour, ...]
    uncertainty: float  # CIEDE2000, rms of one standard deviation
    flags: tuple[Flag, ...]


def take_over(
    places: Places,
    readings: Readings,
    *,
    replace: bool = False,
    **settings: Unpack[Settings],
) -> Path:
    """Write a spectrophotometer's readings into the user's folder as the values of a row.

    The rows are named like the row's places; several readings of one place are averaged. The settings are those of
    `cards.instrument_import.import_values`.

    Raises
    ------
    CardError
        Anything is missing, misspelt or impossible, or there are values already; nothing is written then.
    """
    target = values_file(places.name, replace)
    header, problems = header_of(readings.said, settings, ROW, bool(readings.spectra))
    problems = [found for found in problems if not names_row(found)] + [*readings.problems]
    names = _as_placed(readings.names, places)
    rows = {name: [i for i, own in enumerate(names) if own == name] for name in places.names}
    problems += [finding("strip-missing", strip=name) for name, found in rows.items() if not found]
    problems += [finding("no-place-of-row", name=name) for name in dict.fromkeys(names) if name not in rows]
    check = check_spectrum if readings.spectra else check_lab
    numbers = readings.spectra or readings.lab or readings.xyz
    if readings.spectra or readings.lab:
        problems += [found for name, row in zip(names, numbers, strict=True) for found in check(name, row)]
    sheet = Sheet(header, wavelengths=readings.wavelengths)
    if not problems:
        means = np.array([np.array(numbers)[found].mean(axis=0) for found in rows.values()])
        lab = lab_of(readings, means, (header["illuminant"], int(header["observer"])))
        sheet.lab = {name: (float(row[0]), float(row[1]), float(row[2])) for name, row in zip(rows, lab, strict=True)}
        if readings.spectra:
            sheet.spectra = {name: tuple(map(float, row)) for name, row in zip(rows, means, strict=True)}
        problems = _written(sheet)
    if problems:
        raise CardError("readings-not-imported", "correct-or-read-again", path=readings.path, problems=problems)
    write_sheet(target, sheet)
    return target


def learn(
    places: Places,
    photos: Sequence[str],
    card: str | None = None,
    other_light: Sequence[str] = (),
    replace: bool = False,
) -> Learned:
    """Measure a row's strips in photos beside a measured card and keep what they are as the row's values.

    Parameters
    ----------
    photos, other_light : of the same scene, under one light and under another; two lights tell far more of a spectrum
    card : name or file of the card's values
    replace : there may be values already; they are kept in the folder `replaced`

    Raises
    ------
    SwatchcamError
        The card is nominal, a photo does not show every strip, or `measure` would refuse it.
    """
    target = values_file(places.name, replace)
    row = unknown_row(places)
    lights = [[take_look(photo, card, row) for photo in light] for light in (photos, other_light)]
    looks = [look for light in lights for look in light]
    for look in looks:
        _check(look, places)
    colours, flags = combine([[_at_row(look) for look in light] for light in lights])
    sheet = _sheet(colours, looks)
    problems = _written(sheet)
    if problems:
        raise CardError("row-not-learned", "take-better-photos", row=places.name, problems=problems)
    write_sheet(target, sheet)
    return Learned(target, colours, float(sheet.header["uncertainty"]), flags)


def _check(look: Look, places: Places) -> None:
    if not look.values.absolute:
        raise CardError("row-beside-unmeasured-card", "have-the-card-read", photo=look.photo.path)
    if look.pose.design.name != places.card:
        raise CardError(
            "row-beside-other-card",
            "lay-it-beside-its-card",
            row=places.name,
            card=places.card,
            photo=look.photo.path,
            shown=look.pose.design.name,
        )
    # Looked at once more, for the reason why there may be none.
    shown = [
        sample_place(window.name, window.box, PLACE_MARGIN, look.photo, look.card, look.light)
        for window in places.windows
    ]
    bare = bare_places(shown, look.card, look.light)
    if bare:
        raise StripError("row-places-bare", "lay-the-row", photo=look.photo.path, strips=bare, row=places.name)


def _at_row(look: Look) -> Look:
    """The same photo, with the row's strips as those to be measured."""
    return replace(look, strips=look.anchors, anchors=())


def _sheet(colours: Sequence[Colour], looks: Sequence[Look]) -> Sheet:
    values = looks[0].values
    uncertainty = math.sqrt(np.mean([(colour.radius / IN_RADIUS) ** 2 for colour in colours]))
    header = {
        "design": ROW,
        "grade": "transferred",
        "illuminant": "D65",
        "observer": "10",
        "geometry": values.geometry,
        "date": date.today().isoformat(),
        "source": f"photos {', '.join(Path(look.photo.path).name for look in looks)} beside card {values.name}",
        "uncertainty": f"{uncertainty:.3g}",
    }
    lab = {colour.name: reflectance_to_lab(colour.reflectance) for colour in colours}
    return Sheet(
        {key: " ".join(value.split()) for key, value in header.items()},
        {name: (float(row[0]), float(row[1]), float(row[2])) for name, row in lab.items()},
        tuple(float(nm) for nm in tables().wavelengths[::EVERY]),
        {colour.name: tuple(float(value) for value in colour.reflectance[::EVERY]) for colour in colours},
    )


def _written(sheet: Sheet) -> list[Message]:
    """What would be wrong with the file: it is read back before it is written."""
    return sheet_problems(sheet_of(sheet_text(sheet)))


def _as_placed(names: Sequence[str], places: Places) -> list[str]:
    """The row's own spelling where only capitals differ."""
    own = {name.casefold(): name for name in places.names}
    return [name if name in places.names else own.get(name.casefold(), name) for name in names]
