"""What the numbers of a picture mean: tone curves and primaries from its colour profile.

Profiles are read as ICC.1:2022 describes them: three tone curves and three colorants (a "matrix profile"),
which is what cameras, phones and editors put into RGB photos. Profiles of other kinds are refused.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..errors import FileError
from ..messages.message import Flag, flag

D65 = np.array([0.95047, 1.0, 1.08883])  # ASTM E308, 2 degree observer; sum of the sRGB colorants
D50 = np.array([0.9642, 1.0, 0.8249])  # ICC.1:2022, 7.2.16: the white of the profile connection space
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
SRGB_XY = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))  # IEC 61966-2-1
DISPLAY_P3_XY = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))  # primaries of SMPTE EG 432-1, white D65
SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1 as parametric curve of type 3
PARAMETERS = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}  # ICC.1:2022, table 68: parameters of each parametric curve
SAME = 1e-3  # two curves or matrices (Y = 1) this close are the same colour space, rounded in another way
HDR_TRANSFERS = (16, 18)  # ITU-T H.273, table 3: PQ and HLG
TAG_TABLE = 132  # bytes before it: the header, and how many tags there are (ICC.1:2022, 7.2 and 7.3)
# In XYZ with Y = 1: how far colorants may add up to another white than D50, and a profile's matrix lead to another
# than D65; and a matrix of a smaller determinant loses a colour.
OFF_D50, OFF_D65, SINGULAR = 0.01, 0.005, 0.01
OFF_ENDS, BACKWARDS = 0.02, 1e-4  # of 0..1: how far a tone curve may miss black and white, and bend back
LONGEST_NAME = 80  # letters that are shown
MOST_TAGS = 100  # as many as other programs read; each may span the whole file
MOST_BYTES = 400  # of a name that are looked at, in two bytes a letter
RGB_CLASSES = (b"mntr", b"scnr", b"spac")


@dataclass(frozen=True)
class ColourSpace:
    """How coded RGB becomes light: `decode` (levels, 3), code value -> 0..1; `to_xyz` (3, 3), Y = 100, D65/2."""

    name: str
    decode: NDArray[np.float32]
    to_xyz: Array
    flags: tuple[Flag, ...] = ()


def for_hdr_screens() -> FileError:
    """The tone curve of the picture is one of high dynamic range."""
    return FileError("coded-for-hdr", "switch-off-hdr")


def _damaged() -> FileError:
    return FileError("profile-damaged", "save-as-srgb")


def _incomplete() -> FileError:
    return FileError("profile-incomplete", "save-as-srgb")


def _curve_damaged() -> FileError:
    return FileError("profile-curve-damaged", "save-as-srgb")


def srgb(levels: int, name: str = "sRGB", flags: tuple[Flag, ...] = ()) -> ColourSpace:
    """The sRGB colour space for 256 or 65536 code values. Source: IEC 61966-2-1."""
    return colour_space(name, _srgb_decode(levels), primaries_to_xyz(SRGB_XY), flags)


def display_p3(levels: int) -> ColourSpace:
    """Display P3: wide primaries, white and tone curve of sRGB. Source: SMPTE EG 432-1, IEC 61966-2-1."""
    return colour_space("Display P3", _srgb_decode(levels), primaries_to_xyz(DISPLAY_P3_XY), ())


def primaries_to_xyz(xy: tuple[tuple[float, float], ...]) -> Array:
    """Chromaticities of red, green and blue -> (3, 3) linear RGB to XYZ; (1, 1, 1) is D65 with Y = 1.

    Source
    ------
    SMPTE RP 177-1993, section 3.3.
    """
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in xy]).T
    return np.asarray(columns * np.linalg.solve(columns, D65))


def read_profile(profile: bytes, levels: int) -> ColourSpace:
    """An embedded ICC profile -> its colour space, for 256 or 65536 code values.

    Raises
    ------
    FileError
        The profile is damaged, is not for RGB pictures, or works by tables instead of curves and colorants.

    Source
    ------
    ICC.1:2022 (profile version 4.4), clauses 7 to 10; older profiles of version 2 differ only in `desc`.
    """
    tags = tag_table(profile)
    _check_kind(profile, tags)
    _check_range(tags)
    decode = np.stack([_curve(tags[name], levels) for name in (b"rTRC", b"gTRC", b"bTRC")], axis=-1)
    to_xyz = _to_xyz(tags)
    tables = [name for name in tags if name[:3] == b"A2B"]
    flags = (flag("profile-tables-unused"),) if tables else ()
    return colour_space(_name(tags, decode, to_xyz), decode, to_xyz, flags)


def colour_space(name: str, decode: Array, to_xyz: Array, flags: tuple[Flag, ...]) -> ColourSpace:
    """Light of 0..1 for each code value (levels, 3), and linear RGB to XYZ (3, 3), Y = 1; both become read-only."""
    table, matrix = np.ascontiguousarray(decode, np.float32), to_xyz * 100
    table.setflags(write=False)
    matrix.setflags(write=False)
    return ColourSpace(name, table, matrix, flags)


def _srgb_decode(levels: int) -> Array:
    return np.repeat(_parametric(SRGB_CURVE, 3, levels)[:, None], 3, axis=1)


def tag_table(profile: bytes) -> dict[bytes, bytes]:
    """The tag table, with the bytes of each tag (ICC.1:2022, 7.2 and 7.3).

    Raises
    ------
    FileError
        It is no profile, it ends too early, or it has more tags than any profile.
    """
    if len(profile) < TAG_TABLE or profile[36:40] != b"acsp":
        raise _damaged()
    count = struct.unpack_from(">I", profile, TAG_TABLE - 4)[0]
    if count > MOST_TAGS or TAG_TABLE + 12 * count > len(profile):
        raise _incomplete()
    tags = {}
    for index in range(count):
        name, start, size = struct.unpack_from(">4sII", profile, TAG_TABLE + 12 * index)
        if start + size > len(profile):
            raise _incomplete()
        tags[name] = profile[start : start + size]
    return tags


def _check_kind(profile: bytes, tags: dict[bytes, bytes]) -> None:
    if profile[16:20] != b"RGB " or profile[12:16] not in RGB_CLASSES:
        raise FileError("profile-not-rgb", "save-as-srgb")
    missing = [name for name in (b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC") if name not in tags]
    if profile[20:24] != b"XYZ " or missing:
        raise FileError("profile-by-tables", "save-as-srgb")


def _check_range(tags: dict[bytes, bytes]) -> None:
    """Refuse a profile whose `cicp` tag (ICC.1:2022, 9.2.17) gives the picture a curve of high dynamic range."""
    stated = tags.get(b"cicp", b"")
    if len(stated) > 9 and stated[9] in HDR_TRANSFERS:
        raise for_hdr_screens()


def _to_xyz(tags: dict[bytes, bytes]) -> Array:
    """Colorants, which a profile states under D50, -> (3, 3) linear RGB to XYZ under D65, Y = 1."""
    colorants = np.stack([_fixed(tags[name], b"XYZ ", 8, 3) for name in (b"rXYZ", b"gXYZ", b"bXYZ")], axis=-1)
    white = colorants.sum(axis=1)
    if np.abs(white - D50).max() > OFF_D50 or abs(np.linalg.det(colorants)) < SINGULAR:
        raise FileError("profile-white-off", "save-as-srgb")
    adapt = _undo_chad(tags)
    # Colorants are rounded to 1/65536: white is put back exactly, or greys would get a cast.
    return np.asarray(adapt @ (colorants * (D50 / white)[:, None]))


def _undo_chad(tags: dict[bytes, bytes]) -> Array:
    """D50 to D65: by the profile's own matrix if that leads to D65, or else by Bradford's (ICC.1:2022, annex E)."""
    if b"chad" in tags:
        chad = _fixed(tags[b"chad"], b"sf32", 8, 9).reshape(3, 3)
        if abs(np.linalg.det(chad)) > SINGULAR:
            undo = np.linalg.inv(chad)
            white = undo @ D50
            if np.abs(white - D65).max() < OFF_D65:
                return np.asarray(undo * (D65 / white)[:, None])
    return to_d65(D50)


def to_d65(white: Array) -> Array:
    """White (3,), Y = 1 -> (3, 3) XYZ under it to XYZ under D65, by Bradford's matrix (ICC.1:2022, annex E)."""
    gain = (BRADFORD @ D65) / (BRADFORD @ white)
    return np.asarray(np.linalg.inv(BRADFORD) @ (gain[:, None] * BRADFORD))


def _fixed(tag: bytes, kind: bytes, start: int, count: int) -> Array:
    """`count` numbers of s15Fixed16 after the tag's type signature."""
    if tag[:4] != kind or len(tag) < start + 4 * count:
        raise _damaged()
    return np.array(struct.unpack_from(f">{count}i", tag, start)) / 65536


def _curve(tag: bytes, levels: int) -> Array:
    """A tone curve (ICC.1:2022, 10.6 and 10.18) at `levels` even steps, 0..1."""
    if tag[:4] == b"para":
        kind = struct.unpack_from(">H", tag, 8)[0] if len(tag) >= 12 else -1
        if kind not in PARAMETERS:
            raise _curve_damaged()
        values = _parametric(tuple(_fixed(tag, b"para", 12, PARAMETERS[kind])), kind, levels)
    else:
        values = _sampled(tag, levels)
    # A curve that bends back or does not span black to white would turn every number wrong in silence; the two
    # pieces of a sound one may miss each other by a rounding.
    ends = np.abs(values[[0, -1]] - [0, 1])
    if not np.isfinite(values).all() or ends.max() > OFF_ENDS or np.diff(values).min() < -BACKWARDS:
        raise FileError("profile-curve-odd", "save-as-srgb")
    return np.clip(values, 0, 1)


def _sampled(tag: bytes, levels: int) -> Array:
    count = struct.unpack_from(">I", tag, 8)[0] if tag[:4] == b"curv" and len(tag) >= 12 else -1
    if count < 0 or len(tag) < 12 + 2 * count:
        raise _curve_damaged()
    steps = np.linspace(0, 1, levels)
    table = np.frombuffer(tag, ">u2", count, 12)
    if count == 0:
        return steps
    if count == 1:
        return np.asarray(steps ** (float(table[0]) / 256))
    return np.interp(steps, np.linspace(0, 1, count), table / 65535)


def _parametric(parameters: tuple[float, ...], kind: int, levels: int) -> Array:
    """Parametric curve: (a x + b)^g + e from d on, c x + f below it."""
    g, a, b, c, d, e, f = _seven(parameters, kind)
    x = np.linspace(0, 1, levels)
    with np.errstate(all="ignore"):  # a hostile curve may overflow; `_curve` refuses what comes of it
        return np.where(x >= d, np.maximum(a * x + b, 0) ** g + e, c * x + f)


def _seven(parameters: tuple[float, ...], kind: int) -> tuple[float, ...]:
    """The five kinds of parametric curve, written as the longest of them (ICC.1:2022, table 68)."""
    g, a, b, c, d, e, f = (*parameters, *[0.0] * (7 - len(parameters)))
    if kind == 0:
        return g, 1, 0, 0, 0, 0, 0
    if kind in (1, 2):
        split = -b / a if a else math.inf
        offset = c if kind == 2 else 0.0
        return g, a, b, 0, split, offset, offset
    return g, a, b, c, d, e, f


def _name(tags: dict[bytes, bytes], decode: Array, to_xyz: Array) -> str:
    """sRGB or Display P3 if that is what the numbers say, or else what the profile calls itself."""
    if np.abs(decode - _srgb_decode(len(decode))).max() < SAME:
        for name, xy in (("sRGB", SRGB_XY), ("Display P3", DISPLAY_P3_XY)):
            if np.abs(to_xyz - primaries_to_xyz(xy)).max() < SAME:
                return name
    return description(tags.get(b"desc", b"")) or "unnamed colour profile"


def description(tag: bytes) -> str:
    """The profile's own name: `mluc` of version 4 (first language), `desc` of version 2."""
    text = ""
    if tag[:4] == b"mluc" and len(tag) >= 28:
        size, start = struct.unpack_from(">II", tag, 20)
        text = tag[start : start + min(size, MOST_BYTES)].decode("utf-16-be", "ignore")
    elif tag[:4] == b"desc" and len(tag) >= 12:
        size = struct.unpack_from(">I", tag, 8)[0]
        text = tag[12 : 12 + min(size, MOST_BYTES // 2)].decode("ascii", "ignore")
    return "".join(letter for letter in text if letter.isprintable()).strip()[:LONGEST_NAME]
