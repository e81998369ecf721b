"""The studio's own pigments: a row of strips of known value, laid beside the card or known from before.

What a phone sees of an ink depends on its spectrum, and the studio's inks are mixed from the same few pigments. A
row of single strips teaches what spectra to expect (also those of mixtures, by Kubelka and Munk's ratio of
absorption to scatter, which adds up: Kubelka & Munk 1931), and where it lies in the photo it shows how far off the
phone is with just these pigments, in just this light.

A row is described like a card: `<name>.toml` says where its strips lie, in millimetres from the corner of the
card that it is laid beside; `<name>.csv` holds their values, in the form of a card's but for `design: row`, by
which nobody takes it for a card's.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..arrays import Array
from ..cards.design import ROW_KINDS, Box, Window, is_row
from ..cards.toml_file import read_toml, reading_entries
from ..cards.values_file import Sheet, design_of, read_sheet
from ..cards.values_folder import row_files
from ..colorimetry.cielab import lab_to_xyz, white_point
from ..colorimetry.spectra import on_grid, reflectance_to_lab, xyz_weights
from ..colorimetry.spectral_recovery import Knowledge, guess_spectra, published
from ..errors import CardError, StripError
from ..geometry.rectify import FlatCard
from ..illumination.solve import Light
from ..messages.message import Message, finding
from ..photo.photo import Photo
from ..resources import calibration_folder, user_folder
from .blank_check import bare_flags, cloth_around
from .strip_sample import StripSample, sample_place

FORMAT = 1  # of the file that describes a row
ROW = "row"  # in the place of a design's name
# What the files of the row that comes with the tool were called: records and values name it so.
FORMER = {"sample-strip.toml": "sample-row.toml", "sample-strip.csv": "sample-row.csv"}
OWN_WEIGHT = 10.0  # one of the studio's pigments counts as so many ordinary things, a mixture as one
MIXTURES = 300  # no source
LOADS = 0.05, 2.0  # of a mixture's pigments, relative to the row's
BOUNDS = 0.004, 0.985  # reflectances beyond these are taken as these: K/S must stay finite; no source
CLEAR = 0.01  # K/S of what always absorbs a little: cloth and binder
PLACE_MARGIN = 3.0  # mm; a row is laid by hand


@dataclass(frozen=True)
class PigmentRow:
    """Strips of the studio's own pigments: where each lies beside a card, and what it measures."""

    name: str
    card: str  # design that it is laid beside
    windows: tuple[Window, ...]  # millimetres from the card's top-left corner
    grade: str
    uncertainty: float  # CIEDE2000, one standard deviation
    reflectance: dict[str, Array]  # by name of the window, (81,)

    def lab(self, name: str, illuminant: str, observer: int) -> Array:
        """(3,) CIELAB of one strip."""
        return reflectance_to_lab(self.reflectance[name], illuminant, observer)

    def knowledge(self) -> Knowledge:
        """What reflectances to expect in this studio."""
        own = np.array(list(self.reflectance.values()))
        return published().more(own, OWN_WEIGHT).more(mixtures(own), 1.0)


def mixtures(reflectances: Array) -> Array:
    """(MIXTURES, 81) what one to three of these inks (n, 81) mixed at any load would look like; always the same ones.

    Source: Kubelka & Munk 1931, K/S = (1 - R)² / 2R, taken to add up in proportion to load.
    """
    rng = np.random.default_rng(1931)
    bounded = np.clip(reflectances, *BOUNDS)
    ratios = (1 - bounded) ** 2 / (2 * bounded)
    loads = np.exp(rng.uniform(np.log(LOADS[0]), np.log(LOADS[1]), (MIXTURES, len(ratios))))
    order = rng.random(loads.shape).argsort(axis=1)
    loads[order >= rng.integers(1, 4, MIXTURES)[:, None]] = 0
    mixed = CLEAR + loads @ ratios
    return np.asarray(1 + mixed - np.sqrt(mixed**2 + 2 * mixed))


def load_row(name: str) -> PigmentRow:
    """The row of that name, from the user's folder or from those that come with the tool.

    Raises
    ------
    CardError
        There is no such row, or something in its two files is missing or impossible.
    """
    places = load_places(name)
    sheet = read_sheet(_find(f"{name}.csv"))
    names = places.names
    problems = sheet_problems(sheet)
    problems += [finding("strip-without-value", strip=own) for own in names if own not in sheet.lab]
    if problems:
        raise CardError("row-values-faulty", "correct-these", row=name, problems=problems)
    return PigmentRow(
        places.name,
        places.card,
        places.windows,
        sheet.header["grade"],
        float(sheet.header["uncertainty"]),
        dict(zip(names, _reflectances(sheet, names), strict=True)),
    )


def sheet_problems(sheet: Sheet) -> list[Message]:
    """A finding for each thing that is wrong with a row's values file; that it names no card design is right."""
    problems = [found for found in sheet.problems if not names_row(found)]
    of_row = sheet.header.get("design") in ROW_KINDS
    return problems if of_row else [*problems, finding("values-of-a-card", row=ROW)]


def names_row(found: Message) -> bool:
    """Whether all that is wrong is that a row stands in the place of a card design."""
    facts = found.facts
    return found.code == "header-value-unknown" and facts["key"] == "design" and facts["value"] in ROW_KINDS


def load_places(name: str) -> Places:
    """Where the strips of the row of that name lie.

    Raises
    ------
    CardError
        There is no such row, or its file is wrong.
    """
    return replace(read_places(_find(f"{name}.toml")), name=name)


def has_values(name: str) -> bool:
    """Whether anything is known of the row but its places."""
    return any((folder / f"{name}.csv").is_file() for folder in (user_folder(), calibration_folder()))


def known_rows() -> list[str]:
    """The names of all rows whose places and values are at hand."""
    places = [path for folder in (user_folder(), calibration_folder()) for path in folder.glob("*.toml")]
    return sorted({path.stem for path in places if is_row(path) and has_values(path.stem)})


def is_row_name(name: str) -> bool:
    """Whether a pigment row of this name is there, be it without values yet."""
    return name in row_files() or f"{name}.toml" in FORMER


def unknown_row(places: Places) -> PigmentRow:
    """A row to be looked at of which nothing is known yet but where it lies."""
    return PigmentRow(places.name, places.card, places.windows, "", math.nan, {})


def values_file(name: str, replace: bool) -> Path:
    """Where the values of a row are to be written.

    Raises
    ------
    CardError
        A card's values are there, or the row's own and they are not to be replaced.
    """
    target = user_folder() / f"{name}.csv"
    if target.exists() and design_of(target) not in ROW_KINDS:
        raise CardError("card-of-that-name", "name-the-row-otherwise", name=name)
    if target.exists() and not replace:
        raise CardError("row-has-values", "replace-the-values", row=name)
    return target


@dataclass(frozen=True)
class Places:
    """Where the strips of a row lie."""

    name: str
    card: str
    windows: tuple[Window, ...]

    @property
    def names(self) -> list[str]:
        """Of the strips, in their order."""
        return [window.name for window in self.windows]


def read_places(path: Path) -> Places:
    """A row's TOML file.

    Raises
    ------
    CardError
        The file is not TOML, lacks something, or describes no row.
    """
    data = read_toml(path)
    try:
        with reading_entries():
            places = _places(data, path.stem)
    except CardError as error:
        error.at("in-row", row=path)
        raise
    return places


def _places(data: dict[str, Any], stem: str) -> Places:
    if data["kind"] not in ROW_KINDS or data["format"] != FORMAT:
        raise CardError("row-not-described", "correct-the-file", known=FORMAT)
    if data["name"] != stem:
        raise CardError("row-called-otherwise", "correct-the-file", name=data["name"], file=stem)
    boxes = [(str(entry["name"]), [float(entry[key]) for key in ("x", "y", "w", "h")]) for entry in data["window"]]
    if not boxes:
        raise CardError("row-without-places", "correct-the-file")
    names = [name for name, _ in boxes]
    if doubled := sorted({name for name in names if names.count(name) > 1}):
        raise CardError("places-doubled", "correct-the-file", names=doubled)
    if lost := [name for name, numbers in boxes if not np.isfinite(numbers).all()]:
        raise CardError("places-nowhere", "correct-the-file", names=lost)
    return Places(data["name"], str(data["card"]), tuple(Window(name, Box(*numbers)) for name, numbers in boxes))


def sample_row(row: PigmentRow, photo: Photo, card: FlatCard, light: Light) -> tuple[StripSample, ...]:
    """The row's strips where the photo shows all of them in their places; else none."""
    if row.card != card.pose.design.name:
        return ()
    try:
        shown = tuple(sample_place(window.name, window.box, PLACE_MARGIN, photo, card, light) for window in row.windows)
    except StripError:
        return ()
    # Where most places are as bare as the cloth around the card, the row does not lie there.
    return shown if len(bare_places(shown, card, light)) <= len(shown) / 2 else ()


def bare_places(shown: Sequence[StripSample], card: FlatCard, light: Light) -> list[str]:
    """Names of the strips that look like what lies around the card, or like its own white."""
    around = cloth_around(card, light)
    return [strip.name for strip in shown if any(bare_flags(np.array(strip.rgb), around))]


def _find(file: str) -> Path:
    folders = (user_folder(), calibration_folder())
    for folder in folders:
        if re.search(r"[\\/\0]", file) is None and (folder / file).is_file():
            return folder / file
    if file in FORMER:
        return _find(FORMER[file])
    known = sorted({path.stem for folder in folders for path in folder.glob("*.toml") if is_row(path)})
    raise CardError("row-unknown", "choose-a-known-row", row=Path(file).stem, known=known)


def _reflectances(sheet: Sheet, names: list[str]) -> Array:
    if sheet.wavelengths:
        return on_grid(sheet.wavelengths, [sheet.spectra[name] for name in names])
    key = sheet.header["illuminant"], int(sheet.header["observer"])
    xyz = lab_to_xyz(np.array([sheet.lab[name] for name in names]), white_point(*key))
    return guess_spectra(xyz, xyz_weights(*key))
