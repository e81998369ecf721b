"""A picture file -> upright RGB as coded, with the way from its code values to linear light and XYZ.

Nothing is converted here: 12 million pixels stay the small integers that they are in the file, and the few that
are measured go through `linear`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from .errors import FileError
from .header import FLATTEN, Header, damaged, greyscale, read_header
from .icc import ColourSpace, display_p3, read_profile, srgb

LARGEST_FILE = 200_000_000  # bytes
LARGEST_PICTURE = 120_000_000  # pixels
SMALLEST_SIDE = 600  # pixels, of the long side
SMALL_SIDE = 1600  # pixels, of the long side
ENOUGH_SIDE = 1900  # px
GREY_STEP = 32  # pixels; a look at every 32nd tells whether a photo has colour
STATE_SRGB = "Set the camera to sRGB and shoot again, or export the photo as sRGB with the profile embedded."


@dataclass(frozen=True)
class Photo:
    """A photo as its file codes it, upright.

    `pixels` (h, w, 3) uint8 or uint16 RGB, read-only; `decode` (256 or 65536, 3) code value -> linear light
    0..1 in the file's own primaries; `to_xyz` (3, 3) linear RGB -> XYZ, D65/2, Y = 100 of (1, 1, 1); `digest`
    is the file's SHA-256; `flags` are weaknesses in words.
    """

    path: str
    pixels: NDArray[Any]
    decode: NDArray[np.float32]
    to_xyz: NDArray[np.float64]
    colour_space: str
    camera: str
    taken: str
    digest: str
    flags: tuple[str, ...]


def read_photo(path: str | Path) -> Photo:
    """A JPEG, PNG or TIFF file -> `Photo`.

    Raises
    ------
    FileError
        There is no such file, it is not a sound RGB picture of useful size, or its colours have no known meaning.
    """
    try:
        data = _read(Path(path))
        header = read_header(data)
        _check_size(header)
        space = _colour_space(header)
        pixels = _decode(data, header)
    except FileError as error:
        raise FileError(f"{path}: {error.problem}", error.remedy) from error
    return Photo(
        path=str(path),
        pixels=pixels,
        decode=space.decode,
        to_xyz=space.to_xyz,
        colour_space=space.name,
        camera=header.camera.model,
        taken=header.camera.taken,
        digest=hashlib.sha256(data).hexdigest(),
        flags=(*space.flags, *_flags(header, pixels)),
    )


def linear(photo: Photo, coded: NDArray[Any]) -> NDArray[np.float32]:
    """Coded RGB of the photo, (..., 3) uint8 or uint16 as in `pixels` -> linear light (..., 3), float32, 0..1."""
    return decoded(coded, photo.decode)


def decoded(coded: NDArray[Any], table: NDArray[np.float32]) -> NDArray[np.float32]:
    """Coded RGB (..., 3) uint8 or uint16 -> what a table (levels, 3) has for each code, same shape."""
    if coded.dtype == np.uint8 and coded.size:
        flat = np.ascontiguousarray(coded).reshape(-1, 1, 3)
        return np.asarray(cv2.LUT(flat, table[None]), np.float32).reshape(coded.shape)
    light = np.empty(coded.shape, np.float32)
    for channel in range(3):
        light[..., channel] = table[coded[..., channel], channel]
    return light


def _read(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise FileError("This is a folder.", "Name the photo in it.")
        if path.stat().st_size > LARGEST_FILE:
            raise FileError(f"The file is larger than {LARGEST_FILE / 1e6:.0f} MB.", "Export the photo as JPEG.")
        return path.read_bytes()
    except FileNotFoundError as error:
        raise FileError("There is no such file.", "Check its name and folder.") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise FileError(f"The file cannot be opened ({reason}).", "Check its name, folder and permissions.") from error


def _check_size(header: Header) -> None:
    size = f"{header.width} x {header.height} pixels"
    if not header.width * header.height:
        raise damaged()
    if header.width * header.height > LARGEST_PICTURE:
        raise FileError(
            f"The picture has {size}, more than {LARGEST_PICTURE / 1e6:.0f} million in all.",
            "Shoot at 12 to 50 megapixels, which is as sharp as a card needs.",
        )
    if max(header.width, header.height) < SMALLEST_SIDE:
        raise FileError(
            f"The picture has only {size}; the long side must have {SMALLEST_SIDE}.",
            "Use the photo at its full size, as the camera saved it.",
        )


def _colour_space(header: Header) -> ColourSpace:
    """The meaning of the file's numbers: its profile, what it states otherwise, or sRGB with a flag."""
    levels = 1 << header.bits
    if header.profile is not None:
        return read_profile(header.profile, levels)
    if header.stated == "sRGB":
        return srgb(levels)
    if header.stated == "Display P3":
        return display_p3(levels)
    if header.stated in ("DCF optional", "other"):
        raise FileError("The photo is coded in a colour space that it names but does not describe.", STATE_SRGB)
    why = {
        "uncalibrated": "no colour profile, and the camera says it is not sRGB",
        "own gamma": "no colour profile; the file's own gamma and primaries ignored",
    }.get(header.stated, "no colour profile")
    return srgb(levels, "sRGB (assumed)", (f"{why}; sRGB assumed",))


def _flags(header: Header, pixels: NDArray[Any]) -> Iterator[str]:
    if header.alpha:
        yield "alpha ignored"
    if max(header.width, header.height) < SMALL_SIDE:
        yield f"small photo: {header.width} x {header.height} pixels"
    if header.kind == "JPEG" and _flat_edge(pixels):
        yield "an edge of the picture is one flat colour: the file may be damaged"


def _flat_edge(pixels: NDArray[Any]) -> bool:
    """Whether one edge has a single colour that is neither black nor white, as decoders fill in what is missing."""
    edges = pixels[-8:], pixels[:8], pixels[:, -8:], pixels[:, :8]
    return any(len(set(edge[0, 0]) - {0, 255}) > 0 and bool((edge == edge[0, 0]).all()) for edge in edges)


def _decode(data: bytes, header: Header) -> NDArray[Any]:
    coded = np.frombuffer(data, np.uint8)
    with _quiet():
        # OpenCV turns a TIFF upright itself, whatever it is told; the others wait for `_upright`.
        pixels = _decode_tiff(coded) if header.kind == "TIFF" else _decode_other(coded, shrinking(header))
    if pixels is None or not _as_announced(pixels, header):
        raise damaged()
    few = pixels[::GREY_STEP, ::GREY_STEP].astype(np.int32)
    if np.abs(np.diff(few, axis=2)).max() <= np.iinfo(pixels.dtype).max // 255:
        raise greyscale()
    if header.kind != "TIFF":
        pixels = _upright(pixels, header.camera.orientation)
    pixels.setflags(write=False)
    return pixels


def _as_announced(pixels: NDArray[Any], header: Header) -> bool:
    """Whether the decoder found what the header said: size (of a TIFF perhaps turned), three colours, bits."""
    by = shrinking(header)
    sides = (-(-header.height // by), -(-header.width // by), 3)
    turned = (header.width, header.height, 3) if header.kind == "TIFF" else sides
    return pixels.shape in (sides, turned) and pixels.dtype == {8: np.uint8, 16: np.uint16}[header.bits]


def shrinking(header: Header) -> int:
    """1, 2, 4 or 8: by how much a JPEG is shrunk while it is decoded, keeping ENOUGH_SIDE pixels and more.

    The decoder averages what it never unpacks, in half the time and a quarter of the memory. The mean is taken over
    neighbours of the sensor's own grid, whose colour the camera has interpolated already; a patch of the card keeps
    a thousand pixels and more.
    """
    if header.kind != "JPEG":
        return 1
    return max(by for by in (1, 2, 4, 8) if by == 1 or max(header.width, header.height) >= by * ENOUGH_SIDE)


def _decode_other(coded: NDArray[np.uint8], by: int) -> NDArray[Any] | None:
    if by == 1:
        return _imdecode(coded, cv2.IMREAD_COLOR_RGB | cv2.IMREAD_ANYDEPTH | cv2.IMREAD_IGNORE_ORIENTATION)
    shrink = {2: cv2.IMREAD_REDUCED_COLOR_2, 4: cv2.IMREAD_REDUCED_COLOR_4, 8: cv2.IMREAD_REDUCED_COLOR_8}[by]
    pixels = _imdecode(coded, shrink | cv2.IMREAD_IGNORE_ORIENTATION)
    return None if pixels is None else cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB, dst=pixels)


def _decode_tiff(coded: NDArray[np.uint8]) -> NDArray[Any] | None:
    """RGB of a TIFF. OpenCV gives 16-bit TIFF in RGB order as memory that was never written, so BGR it is."""
    pixels = _imdecode(coded, cv2.IMREAD_UNCHANGED)
    if pixels is None or pixels.ndim != 3:
        return None
    if pixels.shape[2] == 4 and (pixels[..., 3] != np.iinfo(pixels.dtype).max).any():
        # TIFF may hold colours that alpha has darkened already, and OpenCV darkens the others.
        raise FileError("The picture is partly transparent.", FLATTEN)
    return cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB if pixels.shape[2] == 3 else cv2.COLOR_BGRA2RGB)


def _imdecode(coded: NDArray[np.uint8], flags: int) -> NDArray[Any] | None:
    try:
        return cv2.imdecode(coded, flags)
    except cv2.error:
        return None


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep OpenCV's own words about a damaged file off the screen: the refusal says it better."""
    log: Any = getattr(cv2.utils, "logging", cv2)  # moved from version 4 to 5
    level = log.getLogLevel()
    log.setLogLevel(0)
    try:
        yield
    finally:
        log.setLogLevel(level)


def _upright(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Undo the camera's orientation (Exif 2.32, tag 0x0112); a number that is none counts as upright."""
    if orientation in (5, 6, 7, 8):
        pixels = cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE)
        orientation = {5: 2, 6: 1, 7: 4, 8: 3}[orientation]
    if orientation == 3:
        return cv2.rotate(pixels, cv2.ROTATE_180)
    if orientation in (2, 4):
        return cv2.flip(pixels, 1 if orientation == 2 else 0)
    return pixels
