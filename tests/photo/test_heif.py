"""HEIC photos: the primary picture's own codes, once upright, in its own colours. ISO/IEC 23008-12."""

from __future__ import annotations

import io
import struct
import subprocess
import sys
from functools import cache

import numpy as np
import pillow_heif
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from PIL import Image, ImageOps

from swatchcam.errors import FileError
from swatchcam.messages.message import Message, finding, flag
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.photo.header import GAIN_MAP
from swatchcam.photo.photo import linear, read_photo
from tests.worlds.picture_files import (
    blocks,
    colorants,
    display_p3_profile,
    exif,
    exif_at,
    gamma_curve,
    heic,
    heic_in_other_boxes,
    jpeg,
    noise,
    profile,
    srgb_profile,
    without_box,
)

SMALL = flag("photo-small", width=640, height=80)
TEN = noise(np.uint16, height=80) & 0xFFC0  # ten bits at the top of sixteen


@pytest.fixture
def read(tmp_path):
    def read_bytes(data):
        path = tmp_path / "photo.heic"
        path.write_bytes(data)
        return read_photo(path)

    return read_bytes


# --- code values


def test_eight_bits_come_back_as_written(read):
    got = read(heic(blocks()))
    assert_array_equal(got.pixels, blocks())
    assert (got.pixels.dtype, got.decode.shape, got.linear) == (np.uint8, (256, 3), False)
    assert got.pixels.flags.c_contiguous
    assert not got.pixels.flags.writeable
    assert (got.colour_space, got.flags) == ("sRGB", (SMALL,))


@pytest.mark.parametrize("bits", [10, 12])
def test_more_bits_come_back_as_written_and_decode_by_their_own_scale(read, monkeypatch, bits):
    monkeypatch.setattr(pillow_heif.options, "SAVE_HDR_TO_12_BIT", bits == 12)
    step = 1 << 16 - bits
    stored = noise(np.uint16) & (65536 - step)
    stored[4:6] = 0
    stored[6:8] = 65536 - step
    got = read(heic(stored, bits))
    assert got.pixels.dtype == np.uint16
    assert_array_equal(got.pixels, stored)
    # H.273: code c of n bits, full range, is c / (2^n - 1) of the range; decoded by IEC 61966-2-1
    share = stored // step / (2**bits - 1)
    light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    assert_allclose(linear(got, got.pixels), light, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize("options", [{"full_range_flag": 0}, {"chroma": 420, "quality": 90}, {"tile_size": 64}])
def test_usual_codings_keep_their_colours(read, options):
    got = read(heic(blocks(), **{"matrix_coefficients": 6, **options})).pixels
    middles = (slice(7, None, 16), slice(7, None, 16))
    assert np.abs(got[middles].astype(int) - blocks()[middles]).max() <= (5 if "quality" in options else 3)


def test_a_grid_of_tiles_comes_back_as_written(read):
    # 23008-12, 6.6.2.3; the last tiles reach over the picture's edges
    scene = noise(width=650, height=90)
    data = heic(scene, tile_size=64)
    assert b"grid" in data
    assert_array_equal(read(data).pixels, scene)


@pytest.mark.parametrize("sides", [(601, 33), (640, 35), (603, 40)])
def test_odd_sides_come_back_as_written(read, sides):
    scene = noise(width=sides[0], height=sides[1])
    assert_array_equal(read(heic(scene)).pixels, scene)


def test_the_primary_picture_is_read_of_several(read):
    first, second = noise(seed=8), noise(seed=9, height=48)
    made = pillow_heif.HeifFile()
    for pixels in (first, second):
        made.add_frombytes("RGB", pixels.shape[1::-1], pixels.tobytes())
    for number, wanted in enumerate((first, second)):
        file = io.BytesIO()
        made.save(file, quality=-1, chroma=444, matrix_coefficients=0, primary_index=number)
        # The numbers of the colours are those of the primary picture; the other one is coded as it was handed over.
        got = read(file.getvalue())
        assert got.pixels.shape == wanted.shape
        assert np.abs(got.pixels.astype(int) - wanted).max() <= 3


# --- upright

TURNS = {  # ISO/IEC 23008-12:2022, 6.5.10 and 6.5.12: quarter turns against the clock, then mirroring
    b"irot\0": lambda stored: stored,
    b"irot\1": np.rot90,
    b"irot\2": lambda stored: stored[::-1, ::-1],
    b"irot\3": lambda stored: np.rot90(stored, -1),
    b"imir\0": lambda stored: stored[::-1],  # top and bottom exchanged
    b"imir\1": lambda stored: stored[:, ::-1],  # left and right exchanged
}


@cache
def turned(orientation):
    return heic(noise(), exif=exif(orientation))


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("told", [1, 6, 3])
def test_the_containers_turning_holds_whatever_exif_says(read, turn, told):
    # Written with any turning of that kind, which is then made the one wanted; so is what Exif says.
    data = bytearray(turned(2 if turn[:4] == b"imir" else 6))
    place = bytes(data).index(turn[:4])
    data[place : place + 5] = turn
    struct.pack_into("<H", data, exif_at(bytes(data)), told)
    assert_array_equal(read(bytes(data)).pixels, TURNS[turn](noise()))


@pytest.mark.parametrize("told", [3, 6, 8])
def test_without_a_turning_of_its_own_the_picture_stays_as_it_is(read, told):
    # 23008-12, annex A.2.1 and MIAF: what Exif says of the orientation is not for the reader to act on
    data = bytearray(turned(1))
    assert b"irot" not in data
    struct.pack_into("<H", data, exif_at(bytes(data)), told)
    assert_array_equal(read(bytes(data)).pixels, noise())


@pytest.mark.parametrize("orientation", range(1, 9))
def test_what_a_phone_writes_is_upright_exactly_once(read, orientation):
    # The writer puts the turning both into the container and into Exif; the meaning is that of Exif 2.32, 0x0112.
    with Image.open(io.BytesIO(jpeg(blocks(), exif=b"Exif\0\0" + exif(orientation)))) as image:
        stored = np.asarray(image)
        upright = np.asarray(ImageOps.exif_transpose(image))
    assert_array_equal(read(heic(stored, exif=exif(orientation))).pixels, upright)


# --- colours and what the camera wrote

VIDEO = flag("srgb-assumed", stated="video")
CURVE = flag("video-curve-stated")


def numbers(primaries, transfer, **more):
    """Numbers of ITU-T H.273 for the colour box."""
    return {"color_primaries": primaries, "transfer_characteristics": transfer, **more}


OWN = profile(colorants("srgb_xy"), gamma_curve(1.8), "Halm 1.8")
STATED = {
    "sRGB": (numbers(1, 13), "sRGB", ()),
    "Display P3": (numbers(12, 13), "Display P3", ()),
    "Display P3, tone curve of a video": (numbers(12, 1), "Display P3", (CURVE,)),
    "Display P3, no tone curve": (numbers(12, 2), "Display P3", (CURVE,)),
    "video": (numbers(1, 1), "sRGB (assumed)", (VIDEO,)),
    "television": (numbers(6, 6), "sRGB (assumed)", (VIDEO,)),
    "profile": ({"icc_profile": display_p3_profile()}, "Display P3", ()),
    "own name": ({"icc_profile": OWN}, "Halm 1.8", ()),
}


@pytest.mark.parametrize("bits", [8, 10])
@pytest.mark.parametrize(("options", "name", "flags"), STATED.values(), ids=STATED.keys())
def test_the_colour_space_is_what_the_file_says(read, bits, options, name, flags):
    got = read(heic(blocks() if bits == 8 else TEN, bits, **options))
    assert got.colour_space == name
    assert got.flags == (*flags, SMALL)
    assert got.decode.shape == (np.iinfo(got.pixels.dtype).max + 1, 3)


def test_a_file_that_says_nothing_of_its_colours_is_taken_for_srgb(read):
    got = read(without_box(heic(blocks()), b"colr"))
    assert (got.colour_space, got.flags) == ("sRGB (assumed)", (flag("srgb-assumed", stated=""), SMALL))
    got = read(without_box(heic(blocks(), exif=exif(colour_space=1)), b"colr"))
    assert (got.colour_space, got.flags) == ("sRGB", (SMALL,))


def test_the_primaries_are_the_published_ones(read):
    # SMPTE EG 432-1: red of chromaticity 0.680, 0.320
    for options in (numbers(12, 13), {"icc_profile": display_p3_profile()}):
        red = read(heic(blocks(), **options)).to_xyz[:, 0]
        assert_allclose(red[:2] / red.sum(), [0.68, 0.32], atol=3e-4)


def test_camera_and_day_are_kept(read):
    got = read(heic(blocks(), exif=exif(model="Probe 7", taken="2026:03:04 05:06:07")))
    assert (got.camera, got.taken) == ("Probe 7", "2026:03:04 05:06:07")
    assert (read(heic(blocks())).camera, read(heic(blocks())).taken) == ("", "")


# --- gain maps


def with_auxiliary(kind):
    """A HEIC whose second picture is an auxiliary one of that kind: made from a file with an alpha plane."""
    data = heic(np.dstack([noise(), np.full((32, 640), 255, np.uint8)]))
    was = b"urn:mpeg:hevc:2015:auxid:1\0"
    assert data.count(was) == 1
    return data.replace(was, kind.ljust(len(was), b"\0"))


def test_a_gain_map_is_told_and_the_base_picture_read(read):
    # ISO 21496-1; the kind in use before it is told by its ending
    for kind in (b"urn:halm:aux:hdrgainmap", b"urn:iso:std:iso:ts:21496:-1"):
        got = read(with_auxiliary(kind))
        assert_array_equal(got.pixels, noise())
        assert GAIN_MAP in got.flags
    assert TERMINAL.flag(GAIN_MAP) == "the file carries an HDR gain map: only its base picture was measured"


def test_another_auxiliary_picture_is_no_gain_map(read):
    got = read(with_auxiliary(b"urn:halm:aux:depth"))
    assert_array_equal(got.pixels, noise())
    assert GAIN_MAP not in got.flags


def test_a_tone_mapped_item_beside_the_picture_is_a_gain_map(read):
    # ISO 21496-1, annex on HEIF: a derived item of kind `tmap`; here the second picture's entry becomes one
    made = pillow_heif.HeifFile()
    for seed in (8, 9):
        made.add_frombytes("RGB", (640, 32), noise(seed=seed).tobytes())
    file = io.BytesIO()
    made.save(file, quality=-1, chroma=444, matrix_coefficients=0, primary_index=0)
    data = file.getvalue()
    place = data.rindex(b"hvc1", 0, data.index(b"iprp"))
    got = read(data[:place] + b"tmap" + data[place + 4 :])
    assert GAIN_MAP in got.flags
    assert_array_equal(got.pixels, noise(seed=8))


# --- refusals

HDR = finding("coded-for-hdr")
DAMAGED = finding("file-damaged")
GREYS = finding("photo-without-colour")
CUT = finding("file-cut-short")


@cache
def plain():
    return heic(noise())


def grey():
    file = io.BytesIO()
    pillow_heif.from_bytes("L", (640, 32), noise(colours=1).tobytes()).save(file)
    return file.getvalue()


def larger_inside(data, width, height):
    """The same file, but it states another size outside than its stream has."""
    place = data.index(b"ispe") + 8
    return data[:place] + struct.pack(">II", width, height) + data[place + 8 :]


REFUSED = {
    "PQ": (lambda: heic(TEN, 10, color_primaries=9, transfer_characteristics=16), HDR),
    "HLG": (lambda: heic(TEN, 10, color_primaries=12, transfer_characteristics=18), HDR),
    "unknown primaries": (lambda: heic(noise(), color_primaries=9),
                          finding("colour-space-not-described")),
    "greys": (grey, GREYS),
    "grey filter": (lambda: heic(np.repeat(noise(colours=1), 3, axis=2)), GREYS),
    "transparent": (lambda: heic(noise(colours=4)), finding("partly-transparent")),
    "opaque": (lambda: heic(np.dstack([noise(), np.full((32, 640), 255, np.uint8)])),
               finding("partly-transparent")),
    "too small": (lambda: heic(noise(width=599)), finding("too-few-pixels", width=599, height=32, least=600)),
    "cut": (lambda: plain()[:-2000], CUT),
    "cut in the boxes": (lambda: plain()[:200], CUT),
    "AVIF inside": (lambda: plain().replace(b"hvc1", b"av01"), finding("format-not-read", format="AVIF")),
    "another coding": (lambda: plain().replace(b"hvc1", b"j2k1"), finding("format-not-read", format="HEIF (j2k1)")),
    "no size": (lambda: without_box(plain(), b"ispe"), DAMAGED),
    "no configuration": (lambda: without_box(plain(), b"hvcC"), DAMAGED),
    "no primary picture": (lambda: without_box(plain(), b"pitm"), DAMAGED),
    "a stream larger than it says": (lambda: larger_inside(heic(noise(width=900)), 640, 32), DAMAGED),
    "a picture larger than its stream": (lambda: larger_inside(heic(noise(height=64)), 9000, 9000), DAMAGED),
    "a bomb": (lambda: larger_inside(heic(noise(height=64)), 20_000, 20_000),
               finding("too-many-pixels", width=20_000, height=20_000, most=120_000_000)),
    "broken profile": (lambda: heic(noise(), icc_profile=srgb_profile()[:200]),
                       finding("profile-incomplete")),
}  # fmt: skip


@pytest.mark.parametrize(("make", "problem"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_measured_is_refused_with_its_reason(tmp_path, capfd, make, problem):
    path = tmp_path / "photo.heic"
    path.write_bytes(make())
    with pytest.raises(FileError) as refusal:
        read_photo(path)
    assert Message(refusal.value.code, refusal.value.facts) == problem
    assert str(refusal.value).startswith(f"{path}: ")
    assert min(len(surface.remedy(refusal.value)) for surface in (TERMINAL, PAGE)) > 20
    assert capfd.readouterr().err == ""


MEMORY = """
import resource, sys
from swatchcam.errors import FileError
from swatchcam.messages.message import Message, finding, flag
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.photo.photo import read_photo
read_photo(sys.argv[1])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    print(read_photo(sys.argv[2]).pixels.shape)
except FileError as refusal:
    print(refusal.code)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""
SMALL_SIDES, LARGE_SIDES = (640, 480), (4000, 4000)  # 16 million pixels: decoding them takes 69 MB and more
BOMBS = {  # width and height as coded, as stated, and what else the container says
    "nothing wrong": (SMALL_SIDES, SMALL_SIDES, {}, "(480, 640, 3)"),
    "more pixels in the stream than in the picture": (LARGE_SIDES, SMALL_SIDES, {}, "file-damaged"),
    "cropped from more pixels": (LARGE_SIDES, LARGE_SIDES, {"crop": SMALL_SIDES}, "file-damaged"),
    "the same bytes for many items": (SMALL_SIDES, SMALL_SIDES, {"shared": 200}, "file-damaged"),
}


@cache
def flat(width, height):
    return heic(np.full((height, width, 3), (90, 120, 60), np.uint8), chroma=420, quality=10)


@pytest.mark.parametrize(("coded", "stated", "more", "outcome"), BOMBS.values(), ids=BOMBS.keys())
def test_what_unpacks_to_far_more_than_it_says_is_refused_before_it_takes_memory(
    tmp_path, coded, stated, more, outcome
):
    pytest.importorskip("resource", reason="the system does not tell how much memory a process took")
    paths = tmp_path / "usual.heic", tmp_path / "photo.heic"
    paths[0].write_bytes(flat(*SMALL_SIDES))
    paths[1].write_bytes(heic_in_other_boxes(flat(*coded), *stated, **more))
    done = subprocess.run([sys.executable, "-c", MEMORY, *paths], capture_output=True, text=True, check=True)
    said, taken = done.stdout.splitlines()
    assert said == outcome
    assert int(taken) * (1 if sys.platform == "darwin" else 1024) < 20e6  # bytes there, kibibytes elsewhere


def test_a_grid_that_does_not_fit_its_tiles_is_refused(read):
    data = heic(noise(width=650, height=90), tile_size=64)
    layout = bytes([0, 0, 1, 10]) + struct.pack(">HH", 650, 90)  # 23008-12, 6.6.2.3.2: rows and columns less one
    assert data.count(layout) == 1
    for other in (
        bytes([0, 0, 1, 9]) + struct.pack(">HH", 650, 90),
        bytes([0, 0, 1, 10]) + struct.pack(">HH", 65000, 65000),
    ):
        with pytest.raises(FileError, match="damaged"):
            read(data.replace(layout, other))


def test_the_remedy_for_hdr_is_to_switch_it_off(read):
    with pytest.raises(FileError) as refusal:
        read(REFUSED["PQ"][0]())
    assert TERMINAL.remedy(refusal.value).startswith("Switch off HDR")
    assert "export" not in PAGE.remedy(refusal.value)
