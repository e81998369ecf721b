"""What a picture file says of itself before anything is decoded, and the refusals that all kinds of files share."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import FileError
from ..messages.message import Flag, flag
from .icc_profile import HDR_TRANSFERS, ColourSpace
from .tiff_tags import Camera

GAIN_MAP = flag("hdr-gain-map")
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
    flags: tuple[Flag, ...] = ()


def coding_independent(primaries: int, transfer: int) -> str:
    """Colours stated by the numbers of ITU-T H.273, as `Header.stated` has them."""
    if transfer in HDR_TRANSFERS:
        return "HDR"
    return PRIMARIES.get(primaries, "other") if transfer == SRGB_TRANSFER else "other"


def cut_short() -> FileError:
    """The end of the file is missing."""
    return FileError("file-cut-short", "send-photo-again")


def damaged() -> FileError:
    """The file is a picture, but not a sound one."""
    return FileError("file-damaged", "send-photo-again")


def greyscale() -> FileError:
    """There is no colour in the picture."""
    return FileError("photo-without-colour", "take-it-in-colour")


def palette() -> FileError:
    """The colours of the picture were merged into a few."""
    return FileError("few-colours", "use-the-original")
