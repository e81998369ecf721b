"""What one printed card measures: load its values, or fall back on what was sent.

The card's own values are the largest unknown of a measurement, so they always carry a grade: `measured` (read
with a spectrophotometer), `transferred` (learned from photos beside a measured card), `sister` (a print of the same
run was read), `profile` (from an ICC profile), `photographed` (from the print's own photos) or `nominal` (the
colours sent to the printer).
"""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from ..arrays import Array, triple
from ..colorimetry.cielab import Lab, adapt, lab_to_xyz, white_point, xyz_to_lab
from ..colorimetry.colour_frame import ColourFrame
from ..colorimetry.spectra import on_grid
from ..colorimetry.spectral_recovery import lab_under
from ..colorimetry.srgb import srgb_to_xyz
from ..errors import CardError
from ..messages.message import Flag, flag
from .design import CardDesign
from .validation import PAPER, check_light, number
from .values_file import Sheet, numbers_in, read_sheet
from .values_folder import NOMINAL, find_values, shadowing

NEVER_MEASURED = "card-nominal", "card-photographed"  # flags: nobody read the print, nor anything like it
PHOTOGRAPHED, PROFILE = "photographed", "profile"
UNREAD = NOMINAL, PHOTOGRAPHED  # grades of such values
PAPER_L = 96.0
# The gamut alone, with a printer that always finds the nearest colour it can make, costs 5 (coated stock) to 8
# (uncoated) rms over the patches: mixtures of the ISO 12647-2 solids, which are remembered here and not read.
NOMINAL_UNCERTAINTY = 6.0
# rms CIEDE2000 between estimated and summed values: another observer, another phase of daylight, daylight against lamp
# light A. They add up, because it is the same guess that is wrong. So much it is for printing inks, those of the
# printers drawn for the tests; for the colour samples of CIE 224 and of CIE 13.3 it is half of it.
OTHER_OBSERVER, OTHER_DAYLIGHT, LAMP = 1.7, 0.9, 3.1


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
    spectra: dict[str, Array]  # (81,) reflectance of the same, on the grid of `spectra`; or empty
    path: str  # empty when the values come from no file
    flags: tuple[Flag, ...]
    numbers: tuple[str, ...] = ()  # of the prints that these values are of, 8 digits each
    sisters: tuple[str, ...] = ()  # numbers of other prints from the same run
    condition: str = ""  # of the reading, M0 to M3 of ISO 13655; empty where nobody said
    specular: str = ""  # gloss of the reading, "included" or "excluded"; empty where nobody said
    frame: ColourFrame | None = None  # of a print that only its own photos show: the error all its colours share

    @property
    def absolute(self) -> bool:
        """Whether a colour's own numbers may be judged by them; by those of no print's patches only differences."""
        return self.grade not in UNREAD


def nominal_values(design: CardDesign, illuminant: str = "D65", observer: int = 10) -> CardValues:
    """What the card would measure if the printer were perfect: the sRGB codes seen as colours on white paper.

    A printer leaves the paper bare where the code is white, so every colour is taken relative to the paper's
    lightness of 96. The uncertainty is an estimate: most patches will be nearer, very vivid and black ones farther.
    """
    check_light(illuminant, observer)
    codes = np.array([patch.srgb for patch in design.patches], dtype=float).reshape(-1, 3)
    paper = lab_to_xyz(np.array([PAPER_L, 0.0, 0.0]), white_point("D65", 2))
    xyz = srgb_to_xyz(codes / 255) * paper[1] / 100
    lab = adapt_lab(xyz_to_lab(np.vstack([xyz, paper]), white_point("D65", 2)), ("D65", 2), (illuminant, observer))
    names = [*(patch.name for patch in design.patches), PAPER]
    return CardValues(
        name=NOMINAL,
        design=design.name,
        grade=NOMINAL,
        illuminant=illuminant,
        observer=observer,
        geometry="none",
        date="",
        source="the colours sent to the printer, not what it printed",
        uncertainty=NOMINAL_UNCERTAINTY,
        lab={name: triple(row) for name, row in zip(names, lab, strict=True)},
        spectra={},
        path="",
        flags=(flag("card-nominal"),),
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
    sheet = read_sheet(path)
    if sheet.problems:
        raise CardError("values-faulty", "correct-these", path=path, problems=sheet.problems)
    values = _as_values(sheet, path)
    if (values.illuminant, values.observer) == (illuminant, observer):
        return values
    return _for_light(values, sheet, illuminant, observer)


def _as_values(sheet: Sheet, path: Path) -> CardValues:
    head = sheet.header
    alike = re.match(r"(0|45)°?[acx]?\s*[/:]", head["geometry"])
    odd = [flag("card-photographed")] if head["grade"] == PHOTOGRAPHED else []
    odd += [] if alike or odd else [flag("card-geometry", geometry=head["geometry"])]
    odd += [flag("card-from-profile")] if head["grade"] == PROFILE else []
    shadows = [flag("card-shadows", name=path.stem, path=path)] if shadowing(path) else []
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
        spectra=_spectra(sheet),
        path=str(path),
        flags=(*odd, *shadows),
        numbers=numbers_in(head),
        sisters=numbers_in(head, "sister"),
        condition=head.get("condition", ""),
        specular=head.get("specular", ""),
        frame=ColourFrame.of_text(head["frame"]) if head.get("frame") else None,
    )


def _spectra(sheet: Sheet) -> dict[str, Array]:
    if not sheet.wavelengths:
        return {}
    rows = on_grid(sheet.wavelengths, [sheet.spectra[name] for name in sheet.lab])
    return dict(zip(sheet.lab, rows, strict=True))


def _for_light(values: CardValues, sheet: Sheet, illuminant: str, observer: int) -> CardValues:
    names, uncertainty = list(sheet.lab), values.uncertainty
    if sheet.wavelengths:
        rows = spectra_to_lab(sheet.wavelengths, [sheet.spectra[name] for name in names], illuminant, observer)
        flags = values.flags
    else:
        old = (values.illuminant, values.observer)
        rows = _estimated(tuple(sheet.lab[name] for name in names), old, (illuminant, observer))
        error = adaptation_error(old, (illuminant, observer))
        adapted = flag(
            "card-values-adapted",
            old_illuminant=old[0],
            old_observer=old[1],
            illuminant=illuminant,
            observer=observer,
            error=error,
        )
        flags = (*values.flags, adapted)
        uncertainty = math.hypot(uncertainty, error)
    lab = {name: triple(row) for name, row in zip(names, rows, strict=True)}
    return replace(values, illuminant=illuminant, observer=observer, uncertainty=uncertainty, lab=lab, flags=flags)


@lru_cache(maxsize=8)
def _estimated(lab: tuple[Lab, ...], old: tuple[str, int], new: tuple[str, int]) -> Array:
    """`lab_under`, once for a whole heap of photos: it takes a quarter of a second."""
    return lab_under(np.array(lab), old, new)


def adaptation_error(old: tuple[str, int], new: tuple[str, int]) -> float:
    """1-sigma CIEDE2000 that `lab_under` is off for a usual paint or ink, from one light and observer to another."""
    observer = OTHER_OBSERVER if old[1] != new[1] else 0.0
    lamp = LAMP if (old[0] == "A") != (new[0] == "A") else OTHER_DAYLIGHT
    return observer + (lamp if old[0] != new[0] else 0.0)


def spectra_to_lab(
    wavelengths: Iterable[float], reflectances: Iterable[Iterable[float]], illuminant: str, observer: int
) -> Array:
    """Reflectance spectra -> CIELAB under an illuminant, for an observer.

    Parameters
    ----------
    wavelengths : (n,) nm, evenly spaced but for rounding
    reflectances : (m, n) reflectance factors, 1 for the perfect diffuser

    Returns
    -------
    (m, 3) CIELAB

    Source
    ------
    ASTM E308: spectra brought to 1 nm (Sprague interpolation, CIE 167:2005; the end values continued), then
    summed from 360 to 780 nm.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it says at import that plotting is not there; nothing is plotted here
        import colour

    cmfs_name = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}[observer]
    shape = colour.SpectralShape(360, 780, 1)
    cmfs = colour.MSDS_CMFS[cmfs_name].copy().align(shape)
    light = colour.SDS_ILLUMINANTS[illuminant].copy().align(shape)
    even = _even(wavelengths)
    # On whole nm first: the library sums only what lies there.
    whole = np.arange(np.ceil(even[0]), np.floor(even[-1]) + 1)
    table = [colour.SpragueInterpolator(even, list(row))(whole) for row in reflectances]
    spectra = np.array([np.interp(shape.wavelengths, whole, row) for row in table])
    xyz = colour.msds_to_XYZ(spectra, cmfs=cmfs, illuminant=light, method="Integration", shape=shape)
    return xyz_to_lab(np.asarray(xyz, dtype=np.float64), white_point(illuminant, observer))


def _even(wavelengths: Iterable[float]) -> Array:
    """The same wavelengths in steps even to the last bit, which Sprague's interpolation demands."""
    given = np.array(list(wavelengths))
    millionth = 2.0**-20  # nm; sums of a few hundred of its multiples are exact
    start, step = np.round(np.array([given[0], np.diff(given).mean()]) / millionth) * millionth
    return np.asarray(start + step * np.arange(len(given)))


def adapt_lab(lab: Array, old: tuple[str, int], new: tuple[str, int]) -> Array:
    """CIELAB (..., 3) under one illuminant and observer -> the colour expected under another.

    Full Bradford adaptation: a good guess for common surfaces, blind to metamerism.
    """
    was, now = white_point(*old), white_point(*new)
    return xyz_to_lab(adapt(lab_to_xyz(lab, was), was, now), now)
