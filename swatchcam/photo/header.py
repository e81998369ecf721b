"""What a picture file says of itself before anything is decoded, and the refusals that all kinds of files share."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import FileError
from .icc_profile import HDR_TRANSFERS, ColourSpace
from .tiff_tags import Camera

CAMERA_JPEG = "Set the phone's camera to save JPEG (often called 'most compatible') and shoot again, or export as JPEG."
ORIGINAL = "Use the photo as the camera saved it, a JPEG, HEIC or DNG; not a copy from a chat or a web page."
DEVELOP = "Export it from a raw developer as 16-bit TIFF or PNG in sRGB, without a look or automatic corrections."
FLATTEN = "Open it in an image editor and export it as RGB, 8 or 16 bits per colour, without layers, as PNG."
COPY_AGAIN = "Copy it from the phone once more, and check that it opens there."
IN_COLOUR = "Shoot in colour, without a filter, and use the file as the camera saved it."
GAIN_MAP = "the file carries an HDR gain map; only its base picture was measured"
# ITU-T H.273, tables 2 and 3: primaries and transfer characteristics by number.
PRIMARIES = {1: "sRGB", 12: "Display P3"}
SRGB_TRANSFER = 13


@dataclass(frozen=True)
class Header:
    """Kind and size of a picture before it is decoded.

    `bits` per colour as they are stored; `profile` is its ICC profile; `stated` says in a word what the file says of
    its colours otherwise: "sRGB", "Display P3", "DCF optional", "uncalibrated", "own gamma", "video", "HDR", "other",
    or "" for nothing. A raw photo has its colour space in `space`, and in `neutral` what its sensor reads of white.
    """

    kind: str
    width: int
    height: int
    bits: int
    camera: Camera
    profile: bytes | None = None
    stated: str = ""
    alpha: bool = False
    space: ColourSpace | None = None
    neutral: tuple[float, float, float] = (1.0, 1.0, 1.0)
    flags: tuple[str, ...] = ()


def coding_independent(primaries: int, transfer: int) -> str:
    """Colours stated by the numbers of ITU-T H.273, as `Header.stated` has them."""
    if transfer in HDR_TRANSFERS:
        return "HDR"
    return PRIMARIES.get(primaries, "other") if transfer == SRGB_TRANSFER else "other"


def cut_short() -> FileError:
    """The end of the file is missing."""
    return FileError("The file is cut short: the end of the picture is missing.", COPY_AGAIN)


def damaged() -> FileError:
    """The file is a picture, but not a sound one."""
    return FileError("The file is damaged: the picture in it cannot be read.", COPY_AGAIN)


def greyscale() -> FileError:
    """There is no colour in the picture."""
    return FileError("The picture is in greys and has no colour to measure.", IN_COLOUR)


def palette() -> FileError:
    """The colours of the picture were merged into a few."""
    return FileError("The picture has a palette of no more than 256 colours.", ORIGINAL)
