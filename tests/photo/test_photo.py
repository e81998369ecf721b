"""Reading photos: every code value as it is in the file, the right way up, in the right colours, or a refusal."""

from __future__ import annotations

import hashlib
import io
import struct
import subprocess
import sys

import colour
import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from PIL import Image, ImageOps

from swatchcam.errors import FileError
from swatchcam.messages.message import Message, finding, flag
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.photo.photo import linear, read_photo
from tests.worlds.picture_files import (
    ISO_21496,
    SRGB_CURVE,
    XMP,
    blocks,
    colorants,
    display_p3_profile,
    dng,
    exif,
    gain_map,
    gamma_curve,
    heic,
    iccp,
    jpeg,
    jpeg_segment,
    noise,
    opcodes,
    opencv,
    packed_dng,
    pil,
    png,
    profile,
    reference,
    srgb_profile,
    tiff,
    with_second_picture,
    with_segments,
)

ASSUMED = flag("srgb-assumed", stated="")
SMALL = flag("photo-small", width=640, height=32)


@pytest.fixture
def read(tmp_path):
    def read_bytes(data, name="photo.jpg"):
        path = tmp_path / name
        path.write_bytes(data)
        return read_photo(path)

    return read_bytes


# --- code values

EXACT = {
    "PNG 8, by Pillow": (noise(), lambda pixels: pil(pixels, "PNG")),
    "PNG 8, by OpenCV": (noise(), lambda pixels: opencv(pixels, ".png")),
    "PNG 16, by OpenCV": (noise(np.uint16), lambda pixels: opencv(pixels, ".png")),
    "TIFF 8, by Pillow": (noise(), lambda pixels: pil(pixels, "TIFF")),
    "TIFF 8 LZW, by Pillow": (noise(), lambda pixels: pil(pixels, "TIFF", compression="tiff_lzw")),
    "TIFF 8 deflate, by Pillow": (noise(), lambda pixels: pil(pixels, "TIFF", compression="tiff_adobe_deflate")),
    "TIFF 8, by tifffile": (noise(), tiff),
    "TIFF 16, by OpenCV": (noise(np.uint16), lambda pixels: opencv(pixels, ".tiff")),
    "TIFF 16, by tifffile": (noise(np.uint16), tiff),
    "TIFF 16 big-endian": (noise(np.uint16), lambda pixels: tiff(pixels, byteorder=">")),
    "TIFF 16 deflate": (noise(np.uint16), lambda pixels: tiff(pixels, compression="zlib", predictor=True)),
    "TIFF 16 in strips": (noise(np.uint16), lambda pixels: tiff(pixels, rowsperstrip=5)),
}


@pytest.mark.parametrize(("pixels", "write"), EXACT.values(), ids=EXACT.keys())
def test_every_code_value_comes_back_as_written(read, pixels, write):
    got = read(write(pixels))
    assert_array_equal(got.pixels, pixels)
    assert got.pixels.dtype == pixels.dtype
    assert got.decode.shape == (np.iinfo(pixels.dtype).max + 1, 3)
    assert got.flags == (ASSUMED, SMALL)


@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"subsampling": 2}])
def test_a_jpeg_keeps_its_colours(read, options):
    pixels = blocks()
    got = read(jpeg(pixels, **options)).pixels
    middles = (slice(7, None, 16), slice(7, None, 16))
    # Conversion to YCbCr and back rounds each channel by up to 2 codes (T.871), the cosines by 1.
    assert np.abs(got[middles].astype(int) - pixels[middles]).max() <= 3


def test_pixels_are_rgb_read_only_and_in_one_piece(read):
    red = np.full((32, 640, 3), (200, 20, 30), np.uint8)
    for data in (jpeg(red), pil(red, "PNG"), opencv(red.astype(np.uint16) * 257, ".tiff")):
        pixels = read(data).pixels
        assert (pixels[..., 0] > pixels[..., 2]).all()
        assert pixels.flags.c_contiguous
        assert not pixels.flags.writeable


def test_alpha_is_left_out_and_flagged(read):
    for dtype, top in ((np.uint8, 255), (np.uint16, 65535)):
        opaque = np.dstack([noise(dtype), np.full((32, 640), top, dtype)])
        half = np.dstack([noise(dtype), noise(dtype, colours=1, seed=5)])
        for data in (opencv(opaque, ".png"), opencv(half, ".png"), tiff(opaque, extrasamples=["unassalpha"])):
            got = read(data)
            assert_array_equal(got.pixels, noise(dtype))
            assert flag("transparency-ignored") in got.flags
        with pytest.raises(FileError, match="partly transparent"):
            read(tiff(half, extrasamples=["unassalpha"]))


# --- upright

TURNS = {  # Exif 2.32, tag 0x0112: where the file's row 0 and column 0 are in the scene
    1: lambda scene: scene,
    2: lambda scene: scene[:, ::-1],
    3: lambda scene: scene[::-1, ::-1],
    4: lambda scene: scene[::-1],
    5: lambda scene: scene.swapaxes(0, 1),
    6: np.rot90,  # row 0 of the file is the scene's right side
    7: lambda scene: scene[::-1, ::-1].swapaxes(0, 1),
    8: lambda scene: np.rot90(scene, -1),  # row 0 of the file is the scene's left side
}


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("orientation", TURNS)
def test_photos_are_turned_upright(read, orientation, order):
    scene = noise()
    stored = np.ascontiguousarray(TURNS[orientation](scene))
    block = exif(orientation, order=order)
    assert_array_equal(read(png(stored, (b"eXIf", block))).pixels, scene)
    for pixels in (stored, stored.astype(np.uint16) * 257):
        data = tiff(pixels, byteorder=order, extratags=[(274, 3, 1, orientation, True)])
        assert_array_equal(read(data).pixels, scene.astype(pixels.dtype) * (257 if pixels.itemsize == 2 else 1))
    plain = read(jpeg(stored)).pixels
    turned = read(with_segments(jpeg(stored), (0xE1, b"Exif\0\0" + block))).pixels
    assert_array_equal(TURNS[orientation](turned), plain)
    assert turned.flags.c_contiguous


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_an_orientation_that_is_none_counts_as_upright(read, orientation):
    assert_array_equal(read(png(noise(), (b"eXIf", exif(orientation)))).pixels, noise())


def test_pillow_turns_photos_the_same_way(read):
    block = Image.Exif()
    for orientation in TURNS:
        block[274] = orientation
        data = jpeg(blocks(), exif=block)
        theirs = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))))
        assert np.abs(read(data).pixels.astype(int) - theirs).max() <= 1  # two builds of the same decoder


# --- what the camera wrote


def test_camera_day_and_digest_are_kept(read):
    data = with_segments(jpeg(noise()), (0xE1, b"Exif\0\0" + exif(model="Probe 7 ", taken="2026:03:04 05:06:07")))
    got = read(data)
    assert (got.camera, got.taken) == ("Probe 7", "2026:03:04 05:06:07")
    assert got.digest == hashlib.sha256(data).hexdigest()
    assert (read(jpeg(noise())).camera, read(jpeg(noise())).taken) == ("", "")


def test_reading_leaves_the_file_as_it_was(tmp_path):
    path = tmp_path / "photo.png"
    path.write_bytes(png(noise()))
    before = path.read_bytes(), path.stat().st_mtime_ns
    got = read_photo(str(path))
    assert got.path == str(path)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before


# --- colours


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_linear_light_is_the_decode_table_for_every_shape(read, dtype):
    got = read(png(noise(dtype), iccp(profile(colorants("srgb_xy"), [gamma_curve(g) for g in (1.6, 2, 2.4)]))))
    wanted = np.stack([got.decode[got.pixels[..., i], i] for i in range(3)], axis=-1)
    for part in (np.s_[:], np.s_[3], np.s_[3, 5], np.s_[::2, ::-3], np.s_[:0]):
        light = linear(got, got.pixels[part])
        assert light.dtype == np.float32
        assert_array_equal(light, wanted[part])


def test_coded_colours_have_the_published_lab(read):
    # srgb_iec61966.csv, srgb8_to_lab_d65: 7 digit matrix, white 0.95047 1 1.08883, 4 decimals
    rows = reference("srgb_iec61966.csv", "srgb8_to_lab_d65")
    pixels = np.zeros((len(rows), 640, 3), np.uint8)
    pixels[:] = np.array([[int(code) for code in row[1].split()[1:]] for row in rows])[:, None]
    got = read(png(pixels, (b"sRGB", b"\0")))
    xyz = linear(got, got.pixels[:, 0]) @ got.to_xyz.T / [95.047, 100, 108.883]
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    lab = np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=-1)
    # The matrix has 7 digits: 5e-8 of XYZ is up to 2e-4 of Lab where a channel is near 0.
    assert_allclose(lab, [[float(value) for value in row[2:5]] for row in rows], atol=2.5e-4, rtol=0)


def test_the_same_scene_coded_in_srgb_and_in_display_p3_has_the_same_xyz(read):
    # Coded by colour-science; both spaces have the white of chromaticity 0.3127, 0.3290 there.
    srgb, wide = (colour.RGB_COLOURSPACES[name] for name in ("sRGB", "Display P3"))
    light = np.random.default_rng(4).uniform(0.02, 0.98, (32, 640, 3))
    in_p3 = colour.RGB_to_RGB(light, srgb, wide, chromatic_adaptation_transform=None)
    xyz = light @ srgb.matrix_RGB_to_XYZ.T * 100
    for bits, dtype in ((8, np.uint8), (16, np.uint16)):
        top = 2**bits - 1
        files = [
            png(np.round(srgb.cctf_encoding(light) * top).astype(dtype), iccp(srgb_profile())),
            png(np.round(wide.cctf_encoding(in_p3) * top).astype(dtype), iccp(display_p3_profile())),
        ]
        one, other = (linear(got, got.pixels) @ got.to_xyz.T for got in map(read, files))
        # Half a code is at most 0.5 / top * slope 2.3 in each of three channels, of Y = 100 or Z = 109; and white
        # is that of ASTM E308 here, 2.3e-4 of Z away.
        assert_allclose(one, other, atol=2 * 0.5 / top * 2.3 * 109 + 0.03, rtol=0)
        assert_allclose(one, xyz, atol=0.5 / top * 2.3 * 109 + 0.03, rtol=0)


def test_a_wide_photo_is_not_read_as_srgb(read):
    pixels = noise()
    as_srgb, wide = (read(jpeg(pixels, icc_profile=data)) for data in (srgb_profile(), display_p3_profile()))
    assert_array_equal(as_srgb.pixels, wide.pixels)
    assert (as_srgb.colour_space, wide.colour_space) == ("sRGB", "Display P3")
    red = [np.array([1, 0, 0]) @ got.to_xyz.T for got in (as_srgb, wide)]
    # Chromaticities of the primaries: IEC 61966-2-1, SMPTE EG 432-1
    assert_allclose([xyz[:2] / xyz.sum() for xyz in red], [[0.64, 0.33], [0.68, 0.32]], atol=3e-4)


DCF = {"colour_space": 0xFFFF, "index": "R03"}
STATED = {
    "JPEG with profile": (jpeg(noise(), icc_profile=display_p3_profile()), "Display P3", ()),
    "JPEG, profile in many pieces": (
        with_segments(
            jpeg(noise()),
            *((0xE2, b"ICC_PROFILE\0" + bytes([i + 1, 4]) + display_p3_profile()[i * 150 : (i + 1) * 150])
              for i in (1, 0, 3, 2)),
        ), "Display P3", (),
    ),
    "JPEG with profile, camera uncalibrated": (
        jpeg(noise(), icc_profile=display_p3_profile(), exif=b"Exif\0\0" + exif(**DCF)), "Display P3", ()),
    "JPEG, camera says sRGB": (jpeg(noise(), exif=b"Exif\0\0" + exif(colour_space=1)), "sRGB", ()),
    "JPEG, nothing said": (jpeg(noise()), "sRGB (assumed)", (ASSUMED,)),
    "JPEG, Exif says nothing": (jpeg(noise(), exif=b"Exif\0\0" + exif()), "sRGB (assumed)", (ASSUMED,)),
    "JPEG, camera says uncalibrated": (
        jpeg(noise(), exif=b"Exif\0\0" + exif(colour_space=0xFFFF, index="R98")), "sRGB (assumed)",
        (flag("srgb-assumed", stated="uncalibrated"),),
    ),
    "PNG with profile": (png(noise(), iccp(display_p3_profile())), "Display P3", ()),
    "PNG, sRGB chunk": (png(noise(), (b"sRGB", b"\0"), (b"gAMA", struct.pack(">I", 45455))), "sRGB", ()),
    "PNG, nothing said": (png(noise()), "sRGB (assumed)", (ASSUMED,)),
    "PNG, usual gamma": (png(noise(), (b"gAMA", struct.pack(">I", 45455))), "sRGB (assumed)", (ASSUMED,)),
    "PNG, own gamma": (
        png(noise(), (b"gAMA", struct.pack(">I", 100000))), "sRGB (assumed)",
        (flag("srgb-assumed", stated="own gamma"),),
    ),
    "PNG, own primaries": (
        png(noise(), (b"cHRM", struct.pack(">8I", 31270, 32900, 68000, 32000, 26500, 69000, 15000, 6000))),
        "sRGB (assumed)", (flag("srgb-assumed", stated="own gamma"),),
    ),
    "PNG, cICP goes before a profile": (
        png(noise(), (b"cICP", bytes([12, 13, 0, 1])), iccp(srgb_profile())), "Display P3", ()),
    "PNG, cICP sRGB": (png(noise(), (b"cICP", bytes([1, 13, 0, 1]))), "sRGB", ()),
    "TIFF with profile": (pil(noise(), "TIFF", icc_profile=display_p3_profile()), "Display P3", ()),
    "TIFF, nothing said": (tiff(noise()), "sRGB (assumed)", (ASSUMED,)),
    "16-bit TIFF with profile": (tiff(noise(np.uint16), iccprofile=srgb_profile()), "sRGB", ()),
    "own name": (
        jpeg(noise(), icc_profile=profile(colorants("srgb_xy"), gamma_curve(1.8), "Halm 1.8")), "Halm 1.8", ()),
}  # fmt: skip


@pytest.mark.parametrize(("data", "name", "flags"), STATED.values(), ids=STATED.keys())
def test_the_colour_space_is_what_the_file_says(read, data, name, flags):
    got = read(data)
    assert got.colour_space == name
    assert got.flags == (*flags, SMALL)


def test_a_photo_of_useful_size_has_no_flag(read):
    assert read(jpeg(noise(width=1600), icc_profile=srgb_profile())).flags == ()


def test_a_jpeg_that_ends_in_one_colour_is_flagged(read):
    whole = jpeg(blocks(height=320))
    cut = whole[: len(whole) // 2] + b"\xff\xd9"  # the end is there, the lines before it are not
    flat = flag("edge-of-one-colour")
    assert flat in read(cut).flags
    assert flat not in read(whole).flags
    white = blocks(height=320)
    white[-64:] = 255
    assert flat not in read(jpeg(white)).flags


def test_what_follows_the_end_of_a_jpeg_is_left_alone(read):
    whole = jpeg(blocks())
    assert_array_equal(read(whole + jpeg(noise())).pixels, read(whole).pixels)


def test_a_thumbnail_inside_a_jpeg_is_not_taken_for_the_photo(read):
    inside = jpeg(noise(width=160, height=16))
    data = with_segments(jpeg(blocks()), (0xE1, b"Exif\0\0" + exif(3) + inside))
    assert read(data).pixels.shape == blocks().shape
    with pytest.raises(FileError, match="cut short"):
        read(data[: len(data) // 2])


def box(brand):
    """The first box of an ISO base media file."""
    return struct.pack(">I4s4sI", 24, b"ftyp", brand, 0) + brand + b"mif1" + bytes(600)


def test_a_jpeg_is_read_without_the_libraries_of_other_files(tmp_path):
    path = tmp_path / "photo.jpg"
    path.write_bytes(jpeg(blocks()))
    code = (
        f"import sys; from swatchcam.photo.photo import read_photo; read_photo({str(path)!r});"
        "print([name for name in ('PIL', 'pillow_heif', 'rawpy') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


# --- gain maps (ISO 21496-1, and the XMP name spaces that came before it)

HDRGM = XMP + b'<rdf:Description xmlns:hdrgm="http://ns.adobe.com/hdr-gain-map/1.0/" hdrgm:Version="1.0"/>'
AUXILIARY = XMP + b"<apdi:AuxiliaryImageType>urn:halm:photo:aux:hdrgainmap</apdi:AuxiliaryImageType>"
SECOND = jpeg(noise(width=160, height=20, seed=6))
BASE = jpeg(blocks(), icc_profile=srgb_profile())
WITH_GAIN_MAP = {
    "told by both pictures": with_second_picture(
        with_segments(BASE, (0xE1, HDRGM)), with_segments(SECOND, (0xE1, HDRGM))),
    "told by the first": with_second_picture(with_segments(BASE, (0xE2, ISO_21496)), SECOND),
    "told by the second": with_second_picture(BASE, with_segments(SECOND, (0xE1, AUXILIARY))),
    "told by the second, as the standard has it": with_second_picture(BASE, with_segments(SECOND, (0xE2, ISO_21496))),
    "without an index": with_segments(BASE, (0xE1, HDRGM)) + SECOND,
    "followed by a film": with_second_picture(with_segments(BASE, (0xE1, HDRGM)), SECOND) + box(b"isom"),
}  # fmt: skip


@pytest.mark.parametrize("data", WITH_GAIN_MAP.values(), ids=WITH_GAIN_MAP.keys())
def test_a_jpeg_with_a_gain_map_is_read_as_its_base_picture_and_says_so(read, data):
    got = read(data)
    assert_array_equal(got.pixels, read(BASE).pixels)
    assert got.flags == (flag("hdr-gain-map"), *read(BASE).flags)
    assert got.colour_space == "sRGB"


@pytest.mark.parametrize("data", [with_second_picture(BASE, SECOND), with_segments(BASE, (0xE1, XMP + b"<xmp/>"))])
def test_a_second_picture_of_another_kind_is_no_gain_map(read, data):
    got = read(data)
    assert_array_equal(got.pixels, read(BASE).pixels)
    assert got.flags == read(BASE).flags


def test_the_index_of_pictures_is_one_that_others_read():
    # CIPA DC-007, by Pillow: both pictures are found through it
    with Image.open(io.BytesIO(with_second_picture(BASE, SECOND))) as image:
        assert (image.format, image.n_frames, image.size) == ("MPO", 2, (640, 80))
        image.seek(1)
        assert image.size == (160, 20)


def test_a_jpeg_cut_in_its_gain_map_is_read_and_one_cut_before_it_is_not(read):
    whole = WITH_GAIN_MAP["told by the first"]
    assert_array_equal(read(whole[:-500]).pixels, read(BASE).pixels)
    with pytest.raises(FileError, match="cut short"):
        read(whole[: len(whole) - len(SECOND) - 100])


# --- refusals

CUT = finding("file-cut-short")
DAMAGED = finding("file-damaged")
PALETTE = finding("few-colours")
GREYS = finding("photo-without-colour")
FILM = finding("film-or-raw")
RAW = finding("raw-other-than-dng")
HDR = finding("coded-for-hdr")
OTHER_SPACE = finding("colour-space-not-described")
GREY = noise(colours=1)[..., 0]
FRAMES = [Image.fromarray(noise(seed=seed)) for seed in (1, 2)]
SRGB = colorants("srgb_xy")
SOLID = np.full((32, 640, 3), 180, np.uint8)


def renamed(jpeg_bytes, precision, colours):
    """A JPEG whose frame header says something else."""
    place = jpeg_bytes.index(b"\xff\xc0")
    frame = bytes([precision]) + jpeg_bytes[place + 5 : place + 9] + bytes([colours])
    return jpeg_bytes[: place + 4] + frame + jpeg_bytes[place + 10 :]


REFUSED = {
    "empty": (b"", finding("file-empty")),
    "text": (b"A letter to the studio.", finding("not-a-picture")),
    "cut JPEG": (jpeg(blocks())[:-2000], CUT),
    "JPEG without its last two bytes": (jpeg(blocks())[:-2], CUT),
    "JPEG padded with zeros": (jpeg(blocks())[:-2000] + bytes(2000), CUT),
    "JPEG cut in a segment": (jpeg(blocks())[:100], CUT),
    "cut progressive JPEG": (jpeg(blocks(), progressive=True)[:-2000], CUT),
    "JPEG of nothing": (b"\xff\xd8" + jpeg_segment(0xE0, b"JFIF\0") + b"\xff\xd9",
                        DAMAGED),
    "cut PNG": (png(noise())[:-2000], CUT),
    "PNG without its last chunk": (png(noise())[:-12], CUT),
    "cut TIFF": (tiff(noise())[:-2000], CUT),
    "TIFF whose tags are cut off": (opencv(noise(np.uint16), ".tiff")[:2000], CUT),
    "damaged PNG": (png(noise()).replace(b"IDAT", b"IDAX"), DAMAGED),
    "CMYK JPEG": (jpeg(Image.fromarray(noise()).convert("CMYK")),
                  finding("jpeg-not-rgb", colours=4, bits=8)),
    "12-bit JPEG": (renamed(jpeg(noise()), 12, 3), finding("jpeg-not-rgb", colours=3, bits=12)),
    "two-colour JPEG": (renamed(jpeg(noise()), 8, 2), finding("jpeg-not-rgb", colours=2, bits=8)),
    "CMYK TIFF": (pil(Image.fromarray(noise()).convert("CMYK"), "TIFF"),
                  finding("tiff-not-rgb", cmyk=True)),
    "YCbCr TIFF": (pil(Image.fromarray(noise()).convert("YCbCr"), "TIFF"),
                 finding("tiff-not-rgb", cmyk=False)),
    "grey JPEG": (jpeg(GREY), GREYS),
    "grey PNG": (pil(GREY, "PNG"), GREYS),
    "grey 16-bit PNG": (cv2.imencode(".png", noise(np.uint16, colours=1))[1].tobytes(), GREYS),
    "grey PNG with alpha": (pil(Image.fromarray(GREY).convert("LA"), "PNG"), GREYS),
    "grey TIFF": (tiff(GREY, photometric="minisblack"), GREYS),
    "grey filter": (jpeg(np.repeat(GREY[..., None], 3, axis=2)), GREYS),
    "one grey": (png(SOLID), GREYS),
    "palette PNG": (pil(Image.fromarray(noise()).quantize(200), "PNG"), PALETTE),
    "palette TIFF": (pil(Image.fromarray(noise()).quantize(200), "TIFF"), PALETTE),
    "animated PNG": (pil(FRAMES[0], "PNG", save_all=True, append_images=FRAMES[1:]), finding("animated")),
    "TIFF of two pages": (pil(FRAMES[0], "TIFF", save_all=True, append_images=FRAMES[1:]),
                          finding("several-pictures")),
    "float TIFF": (tiff(noise().astype(np.float32)), finding("tiff-numbers-unusual")),
    "signed TIFF": (tiff(noise().astype(np.int16)), finding("tiff-numbers-unusual")),
    "32-bit TIFF": (tiff(noise().astype(np.uint32)), finding("tiff-bits-unusual", bits=(32, 32, 32))),
    "TIFF in planes": (tiff(np.moveaxis(noise(np.uint16), 2, 0), planarconfig="separate"),
                       finding("tiff-planes-separate")),
    "TIFF for very large files": (tiff(noise(), bigtiff=True),
                                  finding("format-not-read", format="Big TIFF")),
    "DNG": (tiff(noise(), extratags=[(50706, 1, 4, (1, 4, 0, 0), True)]),
            finding("dng-without-sensor-picture")),
    "raw TIFF": (tiff(noise(), subfiletype=1), RAW),
    "raw photo of another kind": (b"II*\0\x10\0\0\0CR\2\0" + bytes(600), RAW),
    "raw photo with a mark of its own": (b"IIRO\x08\0\0\0" + bytes(600), RAW),
    "HEIC without a picture": (box(b"heic"), finding("film-or-burst")),
    "AVIF": (box(b"avif"), finding("format-not-read", format="AVIF")),
    "film": (box(b"isom"), FILM),
    "WebP": (pil(FRAMES[0], "WEBP"), finding("webp")),
    "GIF": (pil(FRAMES[0].convert("P"), "GIF"), PALETTE),
    "BMP": (pil(FRAMES[0], "BMP"), finding("bmp")),
    "JPEG 2000": (pil(FRAMES[0], "JPEG2000"), finding("format-not-read", format="JPEG 2000")),
    "PDF": (pil(FRAMES[0], "PDF"), finding("pdf")),
    "too small": (jpeg(noise(width=599)), finding("too-few-pixels", width=599, height=32, least=600)),
    "bomb": (png(noise()).replace(struct.pack(">II", 640, 32), struct.pack(">II", 12_001, 10_000), 1),
             finding("too-many-pixels", width=12_001, height=10_000, most=120_000_000)),
    "no width": (png(noise()).replace(struct.pack(">II", 640, 32), struct.pack(">II", 0, 32), 1),
                 DAMAGED),
    "DCF optional colour space": (jpeg(noise(), exif=b"Exif\0\0" + exif(**DCF)), OTHER_SPACE),
    "cICP of high dynamic range": (png(noise(), (b"cICP", bytes([9, 16, 0, 1]))), HDR),
    "cICP of a video": (png(noise(), (b"cICP", bytes([9, 1, 0, 1]))), OTHER_SPACE),
    "profile of high dynamic range": (
        png(noise(), iccp(profile(SRGB, SRGB_CURVE, more=[(b"cicp", b"cicp\0\0\0\0\x09\x12\0\1")]))), HDR),
    "profile of tables": (jpeg(noise(), icc_profile=profile(colorants("srgb_xy"), SRGB_CURVE, leave_out=[b"rTRC"])),
                          finding("profile-by-tables")),
    "broken profile in JPEG": (jpeg(noise(), icc_profile=srgb_profile()[:200]), finding("profile-incomplete")),
    "broken profile in TIFF": (pil(noise(), "TIFF", icc_profile=srgb_profile()[:200]), finding("profile-incomplete")),
    "broken profile in PNG": (png(noise(), (b"iCCP", b"profile\0\0garbage")), finding("profile-damaged")),
    "empty profile in PNG": (png(noise(), (b"iCCP", b"")), finding("profile-damaged")),
    "missing piece of a profile": (with_segments(jpeg(noise()), (0xE2, b"ICC_PROFILE\0\2\2" + srgb_profile())),
                                   finding("profile-incomplete")),
}  # fmt: skip


@pytest.mark.parametrize(("data", "problem"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_measured_is_refused_with_its_reason(tmp_path, capfd, data, problem):
    path = tmp_path / "photo.jpg"
    path.write_bytes(data)
    with pytest.raises(FileError) as refusal:
        read_photo(path)
    assert Message(refusal.value.code, refusal.value.facts) == problem
    assert str(refusal.value).startswith(f"{path}: ")
    for said in (TERMINAL.remedy(refusal.value), PAGE.remedy(refusal.value)):
        assert said.endswith(".")
        assert len(said) > 20
    assert "OpenCV" not in capfd.readouterr().err


def test_a_missing_file_a_folder_and_an_impossible_name_are_refused(tmp_path):
    for path, problem in (
        (tmp_path / "none.jpg", finding("photo-missing")),
        (tmp_path, finding("photo-is-folder")),
        ("photo\0.jpg", finding("photo-not-opened", cause=finding("as-the-system-says", words="embedded null byte"))),
        (tmp_path / ("x" * 300), finding("photo-not-opened", cause=finding("name-too-long"))),
    ):
        with pytest.raises(FileError) as refusal:
            read_photo(path)
        assert Message(refusal.value.code, refusal.value.facts) == problem
        assert str(refusal.value).startswith(f"{path}: ")


def test_the_system_says_in_the_words_of_the_workshop_why_a_file_is_not_opened(tmp_path):
    with pytest.raises(FileError, match=r": The file can't be opened: its name is too long\. Check its name, folder"):
        read_photo(tmp_path / ("x" * 300))


def test_a_photo_that_is_not_there_has_not_arrived_for_the_page(tmp_path):
    with pytest.raises(FileError) as refusal:
        read_photo(tmp_path / "none.jpg")
    assert PAGE.problem(refusal.value).endswith("none.jpg: The photo did not arrive.")
    assert PAGE.remedy(refusal.value) == "See whether it opens on the phone, and send it again."


def test_a_file_that_is_too_large_is_not_even_opened(tmp_path):
    path = tmp_path / "photo.tiff"
    with path.open("wb") as file:
        file.truncate(200_000_001)
    path.chmod(0)
    with pytest.raises(FileError, match=r"The file is larger than 200 MB\. Export the photo as JPEG\."):
        read_photo(path)


def test_opencv_may_speak_again_afterwards(read):
    log = getattr(cv2.utils, "logging", cv2)
    level = log.getLogLevel()
    with pytest.raises(FileError):
        read(REFUSED["damaged PNG"][0])
    assert log.getLogLevel() == level


# --- hostile bytes

VALID = (
    jpeg(blocks(height=16), icc_profile=display_p3_profile(), exif=b"Exif\0\0" + exif(6, **DCF)),
    jpeg(blocks(height=16), progressive=True, icc_profile=srgb_profile()),
    png(noise(height=4), iccp(display_p3_profile()), (b"eXIf", exif(8))),
    png(noise(np.uint16, height=4), (b"cICP", bytes([12, 13, 0, 1]))),
    tiff(noise(np.uint16, height=4), iccprofile=srgb_profile(), extratags=[(274, 3, 1, 5, True)]),
    pil(noise(height=4), "TIFF", compression="tiff_lzw", icc_profile=srgb_profile()),
    WITH_GAIN_MAP["told by the second"],
    heic(noise(height=16), exif=exif(6), icc_profile=display_p3_profile()),
    heic(noise(np.uint16, height=16), 10, tile_size=320, color_primaries=12),
    dng(noise(np.uint16, colours=1)[..., 0] & 1023, orientation=6, more=[opcodes(gain_map([[1.0, 1.1], [1.2, 1.0]]))]),
    packed_dng(noise(np.uint16, colours=1)[..., 0] & 1023),
    dng(noise(np.uint16) & 1023, tile=(16, 64)),
)
STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\0", b"MM\0*", b"\0\0\0\x18ftyp", b"RIFF1234WEBP", b"")


def sound_or_refused(path):
    try:
        got = read_photo(path)
    except FileError as refusal:
        return len(TERMINAL.problem(refusal)) > 20 and len(TERMINAL.remedy(refusal)) > 20
    return got.pixels.ndim == 3 and got.decode.shape == (np.iinfo(got.pixels.dtype).max + 1, 3)


@pytest.fixture(scope="module")
def hostile(tmp_path_factory):
    return tmp_path_factory.mktemp("hostile") / "photo.jpg"


@settings(max_examples=150, deadline=None, derandomize=True)
@given(start=st.sampled_from(STARTS), rest=st.binary(max_size=400))
def test_random_bytes_are_refused(hostile, start, rest):
    hostile.write_bytes(start + rest)
    assert sound_or_refused(hostile)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(data=st.sampled_from(VALID[:6]), end=st.floats(0, 0.9999))
def test_a_file_cut_anywhere_is_refused(hostile, data, end):
    hostile.write_bytes(data[: int(end * len(data))])
    with pytest.raises(FileError):
        read_photo(hostile)


def flip(data, place, content):
    data[place : place + len(content)] = content


def cut(data, place, content):
    del data[place : place + len(content) ** 3]


def insert(data, place, content):
    data[place:place] = content


def double(data, place, content):
    data[place:place] = data[place : place + len(content) ** 3]


@pytest.mark.parametrize("data", VALID)
def test_each_file_is_sound_before_it_is_spoilt(read, data):
    assert read(data).pixels.size


@settings(max_examples=1000, deadline=None, derandomize=True)
@given(
    data=st.sampled_from(VALID),
    spots=st.lists(
        st.tuples(
            st.sampled_from((flip, flip, flip, cut, insert, double)), st.floats(0, 1), st.binary(min_size=1, max_size=6)
        ),
        min_size=1,
        max_size=5,
    ),
    among_tags=st.booleans(),
)
def test_a_spoilt_file_is_read_or_refused(hostile, data, spots, among_tags):
    spoilt = bytearray(data)
    for spoil, place, content in spots:
        spoil(spoilt, int(place * (min(len(spoilt), 1000) if among_tags else len(spoilt))), content)
    hostile.write_bytes(spoilt)
    assert sound_or_refused(hostile)
