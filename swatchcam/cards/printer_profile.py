"""A printer's colour profile -> the values of cards that were printed through it.

A profile (ICC.1) says what each mix of a printer's inks looks like on one paper, and which mix a colour asks for. A
program that prints takes the codes of a card from sRGB to inks by the one table; the other table says what these inks
look like. LittleCMS, which comes with Pillow, looks up both. It rounds to whole steps of a* and b*, which is nothing
beside what a printer drifts.

What comes out is for D50 and 2 degrees, as all profiles are; which light the maker's instrument had is not said.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..errors import CardError, FileError
from ..files import disk_cause
from ..messages.message import Message, finding
from ..photo.icc_profile import description, tag_table
from ..resources import user_folder
from .design import CardDesign
from .instrument_import import check_card_name, check_claims
from .print_number import parse_number
from .validation import NONE, PAPER, PERCEPTUAL, RELATIVE, check_key, check_lab
from .values import CardValues, load_values
from .values_file import Sheet, sheet_of, sheet_text, write_sheet

# 1-sigma CIEDE2000 of one patch: a digital press over 100 days was 3.0 off its aim on average (Dharavath 2023), and the
# patches of a good contract proof may be 2.5 off on average (ISO 12647-7:2016, as quoted).
PROFILE_UNCERTAINTY = 2.8
MOST_BYTES = 32 << 20  # a large profile has two or three million
INKS = {b"RGB ": "RGB", b"CMYK": "CMYK"}  # what may be printed with, and Pillow's word for it
PRINTER, LAB, XYZ = b"prtr", b"Lab ", b"XYZ "


@dataclass(frozen=True)
class PrinterProfile:
    """An output profile whose header and tag table are sound."""

    path: str
    content: bytes
    name: str  # what it calls itself
    inks: str  # "RGB" or "CMYK"
    date: str  # when it was made; empty where it doesn't say


def is_profile(path: str | Path) -> bool:
    """Whether a file is an ICC profile, by its signature (ICC.1:2022, 7.2); False where it can't be read."""
    try:
        with open(path, "rb") as file:
            return file.read(40)[36:] == b"acsp"
    except (OSError, ValueError):
        return False


def read_printer_profile(path: str | Path) -> PrinterProfile:
    """A profile from its file.

    Raises
    ------
    CardError
        It can't be read, is too large or damaged, or is not one of a printer, with tables, for RGB or CMYK.
    """
    content = _content(Path(path))
    try:
        tags = tag_table(content)
    except FileError as error:
        raise _damaged(path) from error
    kind, inks, connection = (content[at : at + 4] for at in (12, 16, 20))
    if kind != PRINTER:
        raise CardError("profile-not-of-printer", "ask-for-the-printers-profile", path=path)
    if inks not in INKS or connection not in (LAB, XYZ):
        raise CardError("profile-inks-unknown", "ask-for-another-profile", path=path, inks=_plain(inks))
    if not any(name[:3] == b"A2B" for name in tags):
        raise CardError("profile-without-tables", "ask-for-the-printers-profile", path=path)
    year, month, day = struct.unpack_from(">3H", content, 24)
    date = f"{year:04d}-{month:02d}-{day:02d}"
    name = description(tags.get(b"desc", b"")) or Path(path).stem
    return PrinterProfile(str(path), content, name, INKS[inks], "" if check_key("date", date) else date)


def colours_printed(profile: PrinterProfile, codes: NDArray[np.uint8], intent: str, black_point: bool) -> Array:
    """What sRGB codes look like when they are printed through a profile.

    Parameters
    ----------
    codes : (n, 3)
    intent : one of INTENTS; "none" where the printer got the codes as they are
    black_point : whether black was taken to the printer's black (black point compensation)

    Returns
    -------
    (n, 3) CIELAB for D50 and 2 degrees, the paper as it is

    Raises
    ------
    CardError
        The profile is damaged.
    """
    from PIL import Image, ImageCms

    kinds = {RELATIVE: ImageCms.Intent.RELATIVE_COLORIMETRIC, PERCEPTUAL: ImageCms.Intent.PERCEPTUAL}
    exact = ImageCms.Flags.NOOPTIMIZE
    ahead = exact | ImageCms.Flags.BLACKPOINTCOMPENSATION if black_point else exact
    picture = Image.fromarray(codes[None])
    try:
        printer = ImageCms.ImageCmsProfile(io.BytesIO(profile.content))
        srgb, lab = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
        if intent != NONE:
            change = ImageCms.buildTransform(srgb, printer, "RGB", profile.inks, kinds[intent], ahead)
            picture = change.apply(picture)
        absolute = ImageCms.Intent.ABSOLUTE_COLORIMETRIC
        seen = ImageCms.buildTransform(printer, lab, profile.inks, "LAB", absolute, exact).apply(picture)
    except (ImageCms.PyCMSError, OSError, ValueError) as error:
        raise _damaged(profile.path) from error
    coded = np.asarray(seen)[0]
    return np.column_stack([coded[:, 0] / 2.55, coded[:, 1:].astype(np.int8)])


def import_profile(
    profile: PrinterProfile,
    design: CardDesign,
    *,
    name: str,
    intent: str = RELATIVE,
    black_point: bool = False,
    numbers: Sequence[str] = (),
    date: str | None = None,
    source: str | None = None,
    uncertainty: float | None = None,
    replace: bool = False,
) -> CardValues:
    """Write the values of a card that was printed through a profile to the user's folder.

    Parameters
    ----------
    name : of the card; becomes the file's name
    intent, black_point : as in `colours_printed`
    numbers : of the prints that have these values, as they were typed
    date, source : as the profile says, unless given
    uncertainty : 1-sigma CIEDE2000 of one patch
    replace : values of this name may be there already; they are kept in the folder `replaced`

    Raises
    ------
    CardError
        The profile is damaged, its colours are none that a print has, or something is missing; nothing is written.
    """
    if intent == NONE and profile.inks != "RGB":
        raise CardError("codes-are-not-inks", "say-how-it-was-printed", path=profile.path)
    header = {
        "design": design.name,
        "grade": "profile",
        "illuminant": "D50",
        "observer": "2",
        "geometry": "45/0",  # ISO 13655, which profiles of printers follow
        "date": date or profile.date,
        "source": " ".join((source or f"profile {profile.name}, {_words(intent, black_point)}").split()),
        "uncertainty": f"{PROFILE_UNCERTAINTY if uncertainty is None else uncertainty:g}",
    }
    problems = [found for key, value in header.items() for found in _check(key, value)]
    header |= {"print": ", ".join(map(parse_number, numbers))} if numbers else {}
    target = user_folder() / f"{name}.csv"
    problems += check_card_name(name, target, replace) + check_claims(name, header)
    codes = np.array([*(patch.srgb for patch in design.patches), (255, 255, 255)], dtype=np.uint8)
    names = [*(patch.name for patch in design.patches), PAPER]
    rows = [(float(x), float(y), float(z)) for x, y, z in colours_printed(profile, codes, intent, black_point)]
    sheet = Sheet(header, dict(zip(names, rows, strict=True)))
    problems += [found for patch, lab in sheet.lab.items() for found in check_lab(patch, lab)]
    problems = problems or sheet_of(sheet_text(sheet)).problems
    if problems:
        raise CardError("profile-not-imported", "correct-the-command", path=profile.path, problems=problems)
    write_sheet(target, sheet)
    return load_values(target)


def _content(path: Path) -> bytes:
    try:
        with open(path, "rb") as file:
            content = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        cause = disk_cause(error) if isinstance(error, OSError) else finding("not-text")
        raise CardError("file-not-read", "check-the-file", path=path, cause=cause) from error
    if len(content) > MOST_BYTES:
        raise CardError("profile-too-large", "ask-for-another-profile", path=path)
    return content


def _check(key: str, value: str) -> list[Message]:
    return check_key(key, value) if value else [finding("setting-missing", key=key)]


def _words(intent: str, black_point: bool) -> str:
    return f"intent {intent}, with black point compensation" if black_point else f"intent {intent}"


def _plain(inks: bytes) -> str:
    return "".join(letter for letter in inks.decode("ascii", "replace") if letter.isprintable()).strip()


def _damaged(path: str | Path) -> CardError:
    return CardError("printer-profile-damaged", "ask-for-another-profile", path=path)
