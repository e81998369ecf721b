"""JPEG, PNG and TIFF files, walked before anything is decoded; and which kind a file is in the first place.

JPEG (ITU-T T.81), PNG (W3C, third edition) and TIFF (revision 6.0) are walked marker by marker, chunk by chunk
and tag by tag: that is how a file that was cut short is told, which decoders fill up with grey in silence.
The pixels come from `decode`; a further kind of file needs its place in both.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable, Iterator

from ..errors import FileError
from . import tiff_tags as tiff
from .dng import PREVIEW, RAW_PHOTOMETRIC, read_dng
from .header import GAIN_MAP, Header, coding_independent, cut_short, damaged, greyscale, palette
from .heif import read_heif
from .tiff_tags import Directory, read_camera, read_directory

# Pictures that are told by their first bytes and not read: where to look, for what, and how each is refused.
Refusal = Callable[[], FileError]
OTHERS: tuple[tuple[int, tuple[bytes, ...], Refusal], ...] = (
    (4, (b"ftypavi",), lambda: FileError("format-not-read", "save-as-jpeg", format="AVIF")),
    (4, (b"ftyp",), lambda: FileError("film-or-raw", "save-as-jpeg")),
    (8, (b"WEBP",), lambda: FileError("webp", "use-the-original")),
    (0, (b"GIF87a", b"GIF89a"), lambda: FileError("few-colours", "use-the-original")),
    (0, (b"\0\0\0\x0cJXL ", b"\xff\x0a"), lambda: FileError("format-not-read", "save-as-jpeg", format="JPEG XL")),
    (
        0,
        (b"\0\0\0\x0cjP  ", b"\xff\x4f\xff\x51"),
        lambda: FileError("format-not-read", "save-as-jpeg", format="JPEG 2000"),
    ),
    (0, (b"II+\0", b"MM\0+"), lambda: FileError("format-not-read", "save-as-rgb", format="Big TIFF")),
    (8, (b"CR\x02",), lambda: FileError("raw-other-than-dng", "develop-raw")),
    (0, (b"IIU\0", b"IIRO", b"IIRS"), lambda: FileError("raw-other-than-dng", "develop-raw")),
    (0, (b"%PDF",), lambda: FileError("pdf", "use-the-original")),
    (0, (b"BM",), lambda: FileError("bmp", "use-the-original")),
)
APP1, APP2 = 0xE1, 0xE2  # T.81, table B.1: what applications write; Exif and XMP, profiles and indices
MARKER = re.compile(rb"\xff[^\x00\x01\xd0-\xd8\xff]", re.DOTALL)  # the next marker with a length, or the end
END_OF_IMAGE = 0xD9
FRAMES = {*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC}  # T.81, table B.1: start of frame
CHUNKS = (b"IHDR", b"acTL", b"cICP", b"iCCP", b"sRGB", b"gAMA", b"cHRM", b"eXIf", b"tRNS")
SRGB_CHRM = (31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000)  # IEC 61966-2-1, as PNG writes it
SRGB_GAMA = 45455
ROUNDING = 100  # of PNG's 100,000: how far a writer may round these
HEIF_BRANDS = (b"ftyphei", b"ftyphev", b"ftypmif", b"ftypmsf")  # ISO/IEC 23008-12, clause 10 and annex B
# ISO 21496-1, annex C, and the XMP name spaces that came before it: marks of a gain map in a JPEG's segments.
GAIN_MAP_MARKS = (b"urn:iso:std:iso:ts:21496:", b"/hdr-gain-map/", b":hdrgainmap", b"HDRGainMap")
PROFILE_LIMIT = 16_000_000  # bytes of an unpacked profile


def read_header(data: bytes) -> Header:
    """The bytes of a file -> what they say of the picture in them.

    Raises
    ------
    FileError
        The file is no JPEG, PNG, TIFF, HEIC or DNG, is cut short, or holds a picture that cannot be measured:
        greyscale, CMYK, palette, floating point, animated or of several pages.
    """
    if not data:
        raise FileError("file-empty", "send-photo-again")
    for start, reader in ((b"\xff\xd8\xff", _jpeg), (b"\x89PNG\r\n\x1a\n", _png), (b"II*\0", _tiff), (b"MM\0*", _tiff)):
        if data.startswith(start) and data[8:11] != b"CR\x02":
            return reader(data)
    if data[4:12].startswith(HEIF_BRANDS):
        return read_heif(data)
    for offset, starts, refusal in OTHERS:
        if data[offset : offset + 16].startswith(starts):
            raise refusal()
    raise FileError("not-a-picture", "use-a-known-format")


# --- JPEG


def _jpeg(data: bytes) -> Header:
    segments = list(_segments(data))
    frame = next((content for marker, content in segments if marker in FRAMES), b"")
    if len(frame) < 6:
        raise damaged()
    bits, height, width, colours = struct.unpack_from(">BHHB", frame)
    if colours == 1:
        raise greyscale()
    if colours != 3 or bits != 8:
        raise FileError("jpeg-not-rgb", "save-as-rgb", colours=colours, bits=bits)
    camera = read_camera(next(iter(_named(segments, APP1, b"Exif\0")), b"")[1:])
    profile = _joined(_named(segments, APP2, b"ICC_PROFILE\0"))
    flags = (GAIN_MAP,) if _has_gain_map(segments) else ()
    return Header("JPEG", width, height, bits, camera, profile, camera.colour_space, flags=flags)


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Marker and content of each segment; the last is the end of the image, and has all that follows it."""
    position = 2
    while found := MARKER.search(data, position):
        marker, start = data[found.start() + 1], found.end()
        if marker == END_OF_IMAGE:
            yield marker, data[start:]
            return
        length = int.from_bytes(data[start : start + 2], "big")
        if length < 2 or start + length > len(data):
            break
        yield marker, data[start + 2 : start + length]
        position = start + length
    raise cut_short()


def _named(segments: list[tuple[int, bytes]], wanted: int, name: bytes) -> list[bytes]:
    """What the segments of that marker hold which begin with a name, the name left out."""
    return [content[len(name) :] for marker, content in segments if marker == wanted and content.startswith(name)]


def _has_gain_map(segments: list[tuple[int, bytes]]) -> bool:
    """Whether a segment speaks of one, or a second picture behind the end, which an index (CIPA DC-007) must name."""
    spoken = [content for marker, content in segments if marker in (APP1, APP2)]
    if _named(segments, APP2, b"MPF\0"):
        spoken.append(segments[-1][1])
    return any(mark in content for content in spoken for mark in GAIN_MAP_MARKS)


def _joined(parts: list[bytes]) -> bytes | None:
    """The pieces of an ICC profile, each with its number and their count in front (ICC.1:2022, annex B.4)."""
    if not parts:
        return None
    pieces = {part[0]: part[2:] for part in parts if len(part) > 2 and part[1] == len(parts)}
    if sorted(pieces) != list(range(1, len(parts) + 1)):
        raise FileError("profile-incomplete", "use-the-original")
    return b"".join(pieces[number] for number in sorted(pieces))


# --- PNG


def _png(data: bytes) -> Header:
    chunks = _chunks(data)
    if len(chunks.get(b"IHDR", b"")) != 13:
        raise damaged()
    width, height, bits, colour_type = struct.unpack_from(">IIBB", chunks[b"IHDR"])
    if b"acTL" in chunks:
        raise FileError("animated", "use-the-original")
    if colour_type == 3:
        raise palette()
    if colour_type in (0, 4):
        raise greyscale()
    if colour_type not in (2, 6) or bits not in (8, 16):
        raise damaged()
    camera = read_camera(chunks.get(b"eXIf", b""))
    profile, stated = _png_colours(chunks)
    alpha = colour_type == 6 or b"tRNS" in chunks
    return Header("PNG", width, height, bits, camera, profile, stated or camera.colour_space, alpha)


def _chunks(data: bytes) -> dict[bytes, bytes]:
    """The chunks that matter here, by name; the first of each."""
    position, found = 8, dict[bytes, bytes]()
    while position + 12 <= len(data):
        length, name = struct.unpack_from(">I4s", data, position)
        if name == b"IEND":
            return found
        if name in CHUNKS and position + 12 + length <= len(data):
            found.setdefault(name, data[position + 8 : position + 8 + length])
        position += 12 + length
    raise cut_short()


def _png_colours(chunks: dict[bytes, bytes]) -> tuple[bytes | None, str]:
    """Profile and stated colour space, in the order of precedence of PNG, third edition, 4.3."""
    if b"cICP" in chunks:
        numbers = tuple(chunks[b"cICP"].ljust(2, b"\0"))
        stated = coding_independent(*numbers[:2])
        return None, stated if stated == "HDR" or numbers[2:] == (0, 1) else "other"  # RGB of full range
    if b"iCCP" in chunks:
        return _unpacked(chunks[b"iCCP"]), ""
    if b"sRGB" in chunks:
        return None, "sRGB"
    gamma, primaries = chunks.get(b"gAMA", b""), chunks.get(b"cHRM", b"")
    own_gamma = len(gamma) == 4 and abs(int.from_bytes(gamma, "big") - SRGB_GAMA) > ROUNDING
    own_primaries = len(primaries) == 32 and any(
        abs(value - usual) > ROUNDING for value, usual in zip(struct.unpack(">8I", primaries), SRGB_CHRM, strict=True)
    )
    return None, "own gamma" if own_gamma or own_primaries else ""


def _unpacked(chunk: bytes) -> bytes:
    packed = chunk.partition(b"\0")[2][1:]
    try:
        return zlib.decompressobj().decompress(packed, PROFILE_LIMIT)
    except zlib.error as error:
        raise FileError("profile-damaged", "use-the-original") from error


# --- TIFF


def _tiff(data: bytes) -> Header:
    try:
        tags = read_directory(data)
    except (struct.error, ValueError) as error:
        raise cut_short() from error
    if tiff.RAW in tags:
        return read_dng(data, tags)
    if tags.number(tiff.SUBFILE) & PREVIEW or tags.number(tiff.PHOTOMETRIC) in RAW_PHOTOMETRIC:
        raise FileError("raw-other-than-dng", "develop-raw")
    if tags.following:
        raise FileError("several-pictures", "save-as-rgb")
    _check_tiff_colours(tags)
    if tags.end() > len(data):
        raise cut_short()
    profile = tags.get(tiff.PROFILE)
    camera = read_camera(data)
    return Header(
        kind="TIFF",
        width=tags.number(tiff.WIDTH),
        height=tags.number(tiff.HEIGHT),
        bits=tags.number(tiff.BITS),
        camera=camera,
        profile=b"" if isinstance(profile, tuple) else profile,
        stated=camera.colour_space,
        alpha=tags.number(tiff.SAMPLES) > 3,
    )


def _check_tiff_colours(tags: Directory) -> None:
    photometric, samples = tags.number(tiff.PHOTOMETRIC, 2), tags.number(tiff.SAMPLES, 1)
    if photometric in (0, 1):
        raise greyscale()
    if photometric == 3:
        raise palette()
    if photometric != 2 or samples not in (3, 4):
        raise FileError("tiff-not-rgb", "save-as-rgb", cmyk=photometric == 5)
    if any(kind != 1 for kind in tags.numbers(tiff.SAMPLE_FORMAT)):
        raise FileError("tiff-numbers-unusual", "save-as-rgb")
    if tags.numbers(tiff.BITS) not in ((8,) * samples, (16,) * samples):
        raise FileError("tiff-bits-unusual", "save-as-rgb", bits=tags.numbers(tiff.BITS))
    if tags.number(tiff.PLANES, 1) != 1:
        raise FileError("tiff-planes-separate", "save-as-rgb")
