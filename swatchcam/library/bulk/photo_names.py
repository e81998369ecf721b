"""What a photo's file name says of the strip in it, and which files of a folder are photos.

A name is "SHADE, BATCH, STATE", as in "river blue, 3, heat-set.jpg" or "brick, 2025-04, mark B, left, washed 3.jpg".
All but the shade may be left out, and what follows it may stand in any order.
"""

from __future__ import annotations

import os
import re
import unicodedata
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from ...errors import LibraryError, UsageError
from ...files import disk_cause
from ..records import AIR_DRIED, HEAT_SET, WASHED, State, clean_name, parse_state

PHOTOS = (".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".heic", ".heif", ".hif", ".dng")  # see `file_formats`
THUMBNAIL = re.compile(r"(.*[ _-])?(thumb|thumbnail)s?([ _-].*)?", re.IGNORECASE)
COUNT_OF_COPY = re.compile(r"\s*\(\d{1,2}\)$", re.ASCII)  # a file manager's, where the name was taken
PLACE = re.compile(r"left|right|beside-[1-9]\d?", re.ASCII)
MARK = re.compile(r"(mark|strip)(\s+(?P<name>.+))?", re.IGNORECASE)
LIKE_A_STATE = (AIR_DRIED, HEAT_SET, WASHED)  # "wet" is too short to be guessed at
ALIKE = 0.75  # difflib's ratio from which on a word is likely a state mistyped; no source


@dataclass(frozen=True)
class PhotoName:
    """What the name of a photo says; what it does not say is empty."""

    shade: str
    batch: str = ""  # then the day of the photo stands for it
    mark: str = ""
    state: State | None = None
    strip: str = ""  # left, right, beside-1 ...


def read_name(path: str | Path) -> PhotoName:
    """The name of a photo -> what it says.

    Raises
    ------
    UsageError
        It has no shade, says something twice, or has a word that looks like a state and is none.
    """
    name = Path(path).name
    stem = COUNT_OF_COPY.sub("", unicodedata.normalize("NFC", Path(path).stem))
    first, *rest = (part.strip() for part in stem.split(","))
    said: dict[str, Any] = {}
    try:
        for part in filter(None, rest):
            field, value = _field(part)
            if field in said:
                raise UsageError("detail-twice", "name-it-like-this", part=part, what=field)
            said[field] = value
        return PhotoName(clean_name(first, "shade"), **said)
    except UsageError as error:
        error.at("in-the-name", name=name)
        raise


def photos_in(folder: str | Path) -> list[Path]:
    """The photos in a folder and the folders in it, in the order in which people count: 2 before 10.

    Hidden files and folders and thumbnails are left out.

    Raises
    ------
    LibraryError
        The folder, or one in it, cannot be read.
    """
    found: list[Path] = []
    for where, folders, files in os.walk(folder, onerror=_unreadable):
        folders[:] = [name for name in folders if _is_wanted(name)]
        found += [Path(where, name) for name in files if is_photo(name)]
    return sorted((path for path in found if path.is_file()), key=natural_order)


def is_photo(name: str) -> bool:
    """Whether a file of that name is taken for a photo."""
    return Path(name).suffix.lower() in PHOTOS and _is_wanted(Path(name).stem)


def natural_order(path: Path) -> list[tuple[tuple[str | int, ...], str]]:
    """A key to sort by: numbers by their size, letters whether large or small, folder by folder."""
    return [(_pieces(part), part) for part in path.parts]


def _field(part: str) -> tuple[str, str | State]:
    """Which field a part of the name says, and what."""
    if mark := MARK.fullmatch(part):
        return "mark", clean_name(mark["name"] or "", "mark")
    if PLACE.fullmatch(part.lower()):
        return "strip", part.lower()
    try:
        return "state", parse_state(part)
    except UsageError:
        if any(get_close_matches(word, LIKE_A_STATE, n=1, cutoff=ALIKE) for word in (part.lower(), _first_word(part))):
            raise
    return "batch", clean_name(part, "batch")


def _first_word(part: str) -> str:
    return part.lower().split()[0]


def _is_wanted(name: str) -> bool:
    return not name.startswith(".") and not THUMBNAIL.fullmatch(name)


def _pieces(name: str) -> tuple[str | int, ...]:
    pieces = re.split(r"(\d+)", name.casefold(), flags=re.ASCII)
    return tuple(int(piece) if place % 2 else piece for place, piece in enumerate(pieces))


def _unreadable(error: OSError) -> None:
    if isinstance(error, NotADirectoryError):
        raise LibraryError("folder-is-a-file", "name-the-folder", path=error.filename) from error
    raise LibraryError("folder-not-read", "check-the-file", folder=error.filename, cause=disk_cause(error)) from error
