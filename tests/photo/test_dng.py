"""DNG photos: the sensor's numbers as light, to the DNG specification 1.7, against arithmetic of numpy alone."""

from __future__ import annotations

import io
import os
import struct
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
import tifffile
from numpy.testing import assert_allclose, assert_array_equal

from swatchcam.errors import FileError
from swatchcam.messages.message import Message, finding, flag
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.photo.photo import linear, read_photo
from swatchcam.photo.tiff_tags import COMPRESSION, read_directory
from tests.worlds.picture_files import (
    CAMERA_MATRIX,
    D50,
    dng,
    gain_map,
    matrix,
    mosaic,
    noise,
    opcodes,
    packed_dng,
    rationals,
    with_entry,
)

WHITE = np.array([95.047, 100, 108.883])  # ASTM E308: D65, 2 degrees
BLACK, FULL = 64, 1023
NEUTRAL = np.array([0.5, 1, 0.7])
EXACT = 0.51 / 65535  # half a code, and the rounding of float32
GAINS = NEUTRAL.min() / NEUTRAL  # nothing is gained above full scale: the most gained channel spans the codes


@pytest.fixture
def read(tmp_path):
    def read_bytes(data):
        path = tmp_path / "photo.dng"
        path.write_bytes(data)
        return read_photo(path)

    return read_bytes


def sensor(shape=(40, 640), low=BLACK, high=900, seed=1):
    """Numbers of a sensor, none of them full."""
    return np.random.default_rng(seed).integers(low, high, shape, dtype=np.uint16, endpoint=True)


def expected(numbers, filters=(0, 1, 1, 2), black=(BLACK,) * 4, white=FULL, gains=GAINS):
    """DNG 1.7, chapter 5: less black, over white less the largest black; greens averaged; then the gains."""
    planes = [numbers[i::2, j::2].astype(float) for i in (0, 1) for j in (0, 1)]
    light = [(plane - level) / (white - max(black)) for plane, level in zip(planes, black, strict=True)]
    means = [np.mean([light[i] for i in range(4) if filters[i] == channel], axis=0) for channel in range(3)]
    return np.stack(means, axis=-1) * gains


# --- numbers


@pytest.mark.parametrize("filters", [(0, 1, 1, 2), (1, 0, 2, 1), (1, 2, 0, 1), (2, 1, 1, 0)])
def test_each_square_of_filters_becomes_one_pixel_of_light(read, filters):
    numbers = sensor()
    got = read(dng(numbers, filters))
    assert got.pixels.dtype == np.uint16
    assert got.linear
    assert_allclose(linear(got, got.pixels), expected(numbers, filters), atol=EXACT, rtol=0)
    assert got.pixels.flags.c_contiguous
    assert not got.pixels.flags.writeable


def test_the_code_is_proportional_to_light(read):
    got = read(dng(sensor()))
    assert_allclose(got.decode, np.arange(65536)[:, None].repeat(3, axis=1) / 65535, atol=1e-7)
    assert not got.decode.flags.writeable


@pytest.mark.parametrize(("black", "white"), [(0, 4095), (256, 3500), (64, 16383)])
def test_black_and_white_levels_are_the_files_own(read, black, white):
    numbers = sensor(low=black, high=3000)
    got = read(dng(numbers, black=black, white=white))
    assert_allclose(linear(got, got.pixels), expected(numbers, black=(black,) * 4, white=white), atol=EXACT, rtol=0)


def test_what_lies_below_black_is_no_light(read):
    got = read(dng(sensor(low=40, high=63)[..., :] | (sensor(seed=2) * (np.arange(640) > 99)).astype(np.uint16)))
    assert not got.pixels[:, :50].any()
    assert got.pixels[:, 60:].any()


def test_each_filter_may_have_its_own_black(read):
    # BlackLevelRepeatDim 2 2 (50713): rows first
    numbers, black = sensor(low=100), (60, 61, 62, 90)
    got = read(dng(numbers, more=[(50713, 3, 2, (2, 2)), (50714, 3, 4, black)]))
    assert_allclose(linear(got, got.pixels), expected(numbers, black=black), atol=EXACT, rtol=0)


def test_a_table_that_makes_the_numbers_linear_is_followed(read):
    # LinearizationTable (50712)
    table = (np.arange(1024) ** 2 // 256).astype(np.uint16)
    numbers = sensor(low=0, high=1023)
    got = read(dng(numbers, black=0, white=int(table[-1]) * 2, more=[(50712, 3, 1024, tuple(map(int, table)))]))
    wanted = expected(table[numbers], black=(0,) * 4, white=int(table[-1]) * 2)
    assert_allclose(linear(got, got.pixels), wanted, atol=EXACT, rtol=0)


@pytest.mark.parametrize(("top", "left"), [(4, 10), (3, 10), (4, 9), (3, 9)])
def test_the_sensors_active_area_is_read(read, top, left):
    # ActiveArea (50829): top, left, bottom, right; the filters are counted from its corner. LibRaw starts at the
    # next even row and column, where the filters are other ones then.
    numbers = sensor((48, 660))
    got = read(dng(numbers, more=[(50829, 4, 4, (top, left, top + 40, left + 640))]))
    filters = np.roll([[0, 1], [1, 2]], (-(top % 2), -(left % 2)), (0, 1)).ravel()
    first, start = top + top % 2, left + left % 2
    wanted = expected(numbers[first : top + 40 - top % 2, start : left + 640 - left % 2], filters)
    assert_allclose(linear(got, got.pixels), wanted, atol=EXACT, rtol=0)


@pytest.mark.parametrize("options", [{"tile": (16, 64)}, {"rowsperstrip": 7}, {"byteorder": ">"}])
def test_other_ways_to_lay_the_numbers_out_say_the_same(read, options):
    assert_array_equal(read(dng(sensor(), **options)).pixels, read(dng(sensor())).pixels)


@pytest.mark.parametrize("numbers", [sensor(), sensor((40, 640, 3))])
def test_numbers_packed_without_loss_say_the_same(read, numbers):
    # Compression 7, as phones write it
    data = packed_dng(numbers)
    assert read_directory(data).number(COMPRESSION) == 7
    assert_array_equal(read(data).pixels, read(dng(numbers)).pixels)


def ending_early(data):
    """A packed DNG whose stream ends before its numbers do; LibRaw fills up with black what is missing."""
    place = data.index(b"\xff\xda") + 2000
    return data[:place] + b"\xff\xd9" + bytes(len(data) - place - 2)


def test_packed_numbers_that_end_too_early_are_refused(read):
    with pytest.raises(FileError, match="damaged"):
        read(ending_early(packed_dng(sensor())))


def test_photos_read_at_the_same_time_leave_the_error_channel_to_others(tmp_path, capfd):
    # A process has only one stderr: redirecting it to catch what LibRaw says would also swallow other threads' words
    good, broken = packed_dng(sensor()), ending_early(packed_dng(sensor()))
    paths = [tmp_path / f"{number}.dng" for number in range(40)]
    for number, path in enumerate(paths):
        path.write_bytes(broken if number % 2 else good)

    def outcome(path):
        try:
            return read_photo(path).pixels.tobytes()
        except FileError as refusal:
            return finding(refusal.code)

    wanted, words = [outcome(path) for path in paths[:2]], []
    with ThreadPoolExecutor(2) as threads:
        found = [threads.submit(outcome, path) for path in paths]
        while not all(photo.done() for photo in found):
            words.append(f"{len(words)} of another thread")
            os.write(2, f"{words[-1]}\n".encode())
    assert [photo.result() for photo in found] == wanted * 20
    assert wanted[1] == DAMAGED
    assert [line for line in capfd.readouterr().err.splitlines() if "another thread" in line] == words


def test_a_developed_dng_of_three_colours_is_read(read):
    # LinearRaw (photometric 34892), one number for each colour; halved as the others are
    numbers = sensor((40, 640, 3))
    got = read(dng(numbers))
    light = (numbers - BLACK) / (FULL - BLACK) * GAINS
    wanted = (light[::2, ::2] + light[1::2, ::2] + light[::2, 1::2] + light[1::2, 1::2]) / 4
    assert_allclose(linear(got, got.pixels), wanted, atol=EXACT, rtol=0)


# --- shading


def test_a_map_of_gains_is_applied_to_the_light(read):
    # Bilinear between points at the corners and in the middle; places are shares of the sensor, at pixel centres
    numbers = sensor(high=300)
    gains = np.array([[1.5, 1.2, 1.6], [1.1, 1.0, 1.2], [1.7, 1.3, 1.8]])
    down, across = ((np.arange(side) + 0.5) / side * 2 for side in numbers.shape)
    rows = np.array([np.interp(across, [0, 1, 2], row) for row in gains])
    field = np.array([np.interp(down, [0, 1, 2], column) for column in rows.T]).T
    got = read(dng(numbers, more=[opcodes(gain_map(gains))]))
    wanted = expected((numbers - float(BLACK)) * field + BLACK)
    assert_allclose(linear(got, got.pixels), wanted, atol=EXACT, rtol=0)


def test_each_filter_may_have_its_own_map(read):
    # As phones write it: four maps of pitch 2, one for each place in the square
    numbers = sensor(high=300)
    each = {(0, 0): 1.5, (0, 1): 1.0, (1, 0): 1.2, (1, 1): 1.3}
    codes = [gain_map([[gain]], area=(*place, 40, 640), pitch=(2, 2)) for place, gain in each.items()]
    light = numbers - float(BLACK)
    for (row, column), gain in each.items():
        light[row::2, column::2] *= gain
    got = read(dng(numbers, more=[opcodes(*codes)]))
    assert_allclose(linear(got, got.pixels), expected(light + BLACK), atol=EXACT, rtol=0)


def test_a_map_lies_on_the_active_area(read):
    # Odd area: LibRaw begins one row and one column later than the map does
    numbers, gains = sensor((48, 660), high=300), {(0, 0): 1.5, (0, 1): 1.0, (1, 0): 1.2, (1, 1): 1.3}
    codes = [gain_map([[gain, 2 * gain]], area=(*at, 40, 640), pitch=(2, 2)) for at, gain in gains.items()]
    got = read(dng(numbers, more=[(50829, 4, 4, (3, 9, 43, 649)), opcodes(*codes)]))
    light = numbers[3:43, 9:649] - float(BLACK)
    for (row, column), gain in gains.items():
        light[row::2, column::2] *= gain * (1 + (np.arange(column, 640, 2) + 0.5) / 640)
    wanted = expected(light[1:39, 1:639] + BLACK, (2, 1, 1, 0))
    assert_allclose(linear(got, got.pixels), wanted, atol=EXACT, rtol=0)


def test_a_developed_dng_has_maps_for_its_colours(read):
    numbers = sensor((40, 640, 3), high=300)
    codes = [gain_map([[1.5]], plane=0), gain_map([[1.2]], plane=1, planes=2)]
    plain, lit = (read(dng(numbers, more=more)) for more in ([], [opcodes(*codes)]))
    wanted = linear(plain, plain.pixels) * (1.5, 1.2, 1.2)
    assert_allclose(linear(lit, lit.pixels), wanted, atol=2.5 * EXACT, rtol=0)  # half a code of the other, gained too


def test_light_that_a_map_lifts_beyond_the_codes_is_at_full_scale(read):
    numbers = np.full((40, 640), 600, np.uint16)
    numbers[:, ::2] += 10  # some colour
    got = read(dng(numbers, more=[opcodes(gain_map([[1.0, 2.0]]))]))
    assert (got.pixels[:, -1] == 65535).all()
    assert (got.pixels[:, 0] < 0.985 * 65535).all()


def test_opcodes_of_other_kinds_are_left_out(read):
    other = struct.pack(">4I", 4, 0x01030000, 1, 8) + bytes(8)  # FixBadPixelsConstant
    got = read(dng(sensor(), more=[opcodes(other)]))
    assert_array_equal(got.pixels, read(dng(sensor())).pixels)


# --- full scale


@pytest.mark.parametrize("place", [(0, 0), (0, 1), (1, 0), (1, 1)])
@pytest.mark.parametrize("level", [FULL, FULL - 10])
def test_a_full_filter_is_at_full_scale_in_its_channel_and_no_other(read, place, level):
    numbers = sensor(high=400)
    numbers[10 + place[0], 20 + place[1]] = level
    got = read(dng(numbers)).pixels
    channel = (0, 1, 1, 2)[2 * place[0] + place[1]]
    assert got[5, 10, channel] == 65535
    others = got.copy()
    others[5, 10, channel] = 0
    assert others.max() < 0.985 * 65535


def test_what_the_sensor_held_is_not_called_full(read):
    # White at 90 % of the green filters' range, a fluorescent red beyond white: every number fits into the codes
    light = np.zeros((20, 320, 3))
    light[:] = 0.9 * NEUTRAL
    light[:, 160:] = (0.95, 0.3, 0.1)
    got = read(dng(mosaic(np.rint(BLACK + light * (FULL - BLACK)).astype(np.uint16))))
    assert (got.pixels < 0.985 * 65535).all()
    white, red = got.pixels[0, 0] / 65535, got.pixels[0, -1] / 65535
    assert_allclose(white, 0.45, atol=1e-3)
    assert_allclose(red, (0.95, 0.15, 0.5 / 7), atol=1e-3)


# --- upright

TURNS = {  # TIFF 6.0, tag 274: where the file's row 0 and column 0 are in the scene
    1: lambda scene: scene,
    2: lambda scene: scene[:, ::-1],
    3: lambda scene: scene[::-1, ::-1],
    4: lambda scene: scene[::-1],
    5: lambda scene: scene.swapaxes(0, 1),
    6: lambda scene: np.rot90(scene, -1),
    7: lambda scene: scene[::-1, ::-1].swapaxes(0, 1),
    8: np.rot90,
}


@pytest.mark.parametrize("orientation", TURNS)
def test_the_photo_is_turned_upright(read, orientation):
    plain = read(dng(sensor())).pixels
    assert_array_equal(read(dng(sensor(), orientation=orientation)).pixels, TURNS[orientation](plain))


# --- colours


def test_white_balanced_light_leads_to_xyz_by_the_colour_matrix(read):
    # DNG 1.7, chapter 6: ColorMatrix takes XYZ to camera RGB; white is that of AsShotNeutral, adapted to D65
    to_d50 = matrix("adaptation.csv", "xyz_to_xyz", "bradford d65 to d50")
    neutral = CAMERA_MATRIX @ WHITE
    got = read(dng(sensor(), neutral=neutral / neutral.max()))
    assert_allclose(got.to_xyz @ [1, 1, 1], WHITE, rtol=1e-12)
    xyz = np.array([30.0, 20.0, 10.0])  # under D65, so that there is nothing to adapt
    assert_allclose(got.to_xyz @ ((CAMERA_MATRIX @ xyz) / neutral), xyz, atol=0.02)
    assert got.colour_space == "camera RGB, linear"
    # The same colour seen under D50, from where Bradford's matrix leads to D65
    seen, neutral = CAMERA_MATRIX @ to_d50 @ xyz, CAMERA_MATRIX @ (100 * np.array(D50))
    got = read(dng(sensor(), neutral=neutral / neutral.max()))
    assert_allclose(got.to_xyz @ (seen / neutral), xyz, atol=0.02)


def test_a_forward_matrix_goes_before_the_colour_matrix(read):
    # ForwardMatrix1 (50964): white-balanced camera RGB to XYZ under D50
    forward = np.array([[0.45, 0.35, 0.1642], [0.2, 0.75, 0.05], [0.02, 0.1, 0.7049]])
    got = read(dng(sensor(), more=[(50964, 10, 9, rationals(*forward.ravel()))]))
    to_d50 = matrix("adaptation.csv", "xyz_to_xyz", "bradford d65 to d50")
    # The published matrix leads to a D50 of Z 0.82521 instead of 0.8249: 4e-4 of Z, which is 108.883.
    assert_allclose(got.to_xyz, 100 * np.linalg.solve(to_d50, forward), atol=0.045)


def test_of_two_calibrations_the_one_nearer_to_daylight_is_taken(read):
    other = rationals(*(CAMERA_MATRIX * [[1.3], [0.9], [0.6]]).ravel())
    usual = rationals(*CAMERA_MATRIX.ravel())
    plain = read(dng(sensor()))
    for first, second, lights in ((other, usual, (17, 21)), (usual, other, (21, 17)), (usual, other, (23, 3))):
        more = [(50721, 10, 9, first), (50722, 10, 9, second), (50778, 3, 1, lights[0]), (50779, 3, 1, lights[1])]
        assert_allclose(read(dng(sensor(), more=more)).to_xyz, plain.to_xyz, rtol=1e-12)


def test_calibration_and_analog_balance_are_part_of_the_camera(read):
    balance, calibration = (1.1, 1, 0.9), np.diag([1.02, 1, 0.97])
    more = [(50727, 5, 3, rationals(*balance)), (50723, 10, 9, rationals(*calibration.ravel()))]
    to_camera = np.diag(balance) @ calibration @ CAMERA_MATRIX
    neutral = to_camera @ WHITE
    got = read(dng(sensor(), neutral=neutral / neutral.max(), more=more))
    xyz = np.array([30.0, 20.0, 10.0])
    assert_allclose(got.to_xyz @ (to_camera @ xyz / neutral), xyz, atol=0.03)


def test_white_may_be_told_by_its_chromaticity_or_not_at_all(read):
    # AsShotWhiteXY (50729); without one, D65 is the sample's white
    for xy, white in (((0.3457, 0.3585), D50), (None, WHITE / 100)):
        more = [(50728, 0, 0, ())] + ([(50729, 5, 2, rationals(*xy))] if xy else [])
        neutral = CAMERA_MATRIX @ white
        got = read(dng(sensor(), more=more))
        wanted = expected(sensor(), gains=neutral.min() / neutral)
        assert_allclose(linear(got, got.pixels), wanted, atol=3e-4)


def test_without_a_colour_matrix_srgb_is_assumed_and_said(read):
    got = read(dng(sensor(), more=[(50721, 0, 0, ())]))
    assert flag("dng-without-matrix") in got.flags
    assert_allclose(got.to_xyz @ [1, 1, 1], WHITE, rtol=1e-12)
    assert_allclose(got.to_xyz[:, 0] / got.to_xyz[:, 0].sum(), [0.64, 0.33, 0.03], atol=1e-3)


def test_the_camera_is_kept(read):
    assert read(dng(sensor())).camera == "Probe 7"


def test_the_sensors_picture_is_found_behind_a_preview(read):
    # DNG 1.7, chapter 2: the first directory may be a preview, SubIFDs (330) lead to the sensor's picture
    file = io.BytesIO()
    tags = [(272, 2, 0, "Probe 7", True), (274, 3, 1, 6, True), (50706, 1, 4, bytes([1, 4, 0, 0]), True),
            (50721, 10, 9, rationals(*CAMERA_MATRIX.ravel()), True), (50728, 5, 3, rationals(*NEUTRAL), True),
            (50778, 3, 1, 21, True)]  # fmt: skip
    inner = [(33421, 3, 2, (2, 2), True), (33422, 1, 4, bytes([0, 1, 1, 2]), True),
             (50714, 4, 1, BLACK, True), (50717, 4, 1, FULL, True)]  # fmt: skip
    with tifffile.TiffWriter(file) as writer:
        writer.write(noise(width=64), photometric="rgb", subfiletype=1, subifds=1, extratags=tags, metadata=None)
        writer.write(sensor(), photometric=32803, subfiletype=0, extratags=inner, metadata=None)
    got = read(file.getvalue())
    assert_allclose(linear(got, np.rot90(got.pixels)), expected(sensor()), atol=EXACT, rtol=0)
    assert got.camera == "Probe 7"


# --- refusals

CUT = finding("file-cut-short")
DAMAGED = finding("file-damaged")
SQUARES = finding("dng-filters-unusual")
PACKED = finding("dng-packed-otherwise")


PACKED_START = sensor()
PACKED_START[0, 0] = 0xD8FF  # the first marker of a JPEG


REFUSED = {
    "cut": (dng(sensor())[:-200], CUT),
    "cut in the tags": (dng(sensor())[:60], CUT),
    "other filters": (dng(sensor(), (0, 1, 3, 2)), SQUARES),
    "filters in squares of 36": (dng(sensor(), more=[(33421, 3, 2, (6, 6))]), SQUARES),
    "floating point": (dng(sensor().astype(np.float32)), finding("dng-floating-point")),
    "packed in another way": (with_entry(dng(sensor()), 259, 52546), PACKED),
    "packed with loss": (with_entry(dng(sensor()), 259, 34892), PACKED),
    "said to be packed": (with_entry(dng(sensor()), 259, 7), DAMAGED),
    "four colours": (dng(sensor((40, 640, 4))),
                     finding("dng-picture-unusual")),
    "no light in white": (dng(sensor(), neutral=(0, 1, 0.5)), DAMAGED),
    "no colour in the matrix": (dng(sensor(), more=[(50721, 10, 9, rationals(*[1] * 9))]), DAMAGED),
    "white below black": (dng(sensor(), black=900, white=800), DAMAGED),
    "a map of no light": (dng(sensor(), more=[opcodes(gain_map([[0.0]]))]), DAMAGED),
    "a map whose points lie on each other": (
        dng(sensor(), more=[opcodes(gain_map([[1.0, 1.0]], spacing=(0.0, 0.0)))]), DAMAGED),
    "more maps than a sensor can have": (dng(sensor(), more=[opcodes(*[gain_map([[1.0]])] * 17)]), DAMAGED),
    "an active area beyond the sensor": (dng(sensor(), more=[(50829, 4, 4, (0, 0, 400, 6400))]), DAMAGED),
    "an active area of nothing": (dng(sensor(), more=[(50829, 4, 4, (20, 20, 20, 20))]), DAMAGED),
    "a map cut short": (dng(sensor(), more=[(51009, 7, 60, opcodes(gain_map([[1.0]]))[3][:60])]), DAMAGED),
    "too small": (dng(sensor((40, 598))), finding("too-few-pixels", width=598, height=40, least=600)),
    "wider than its numbers": (with_entry(with_entry(dng(sensor()), 256, 12_000), 257, 10_000), DAMAGED),
    "a bomb": (with_entry(with_entry(with_entry(dng(PACKED_START), 259, 7), 256, 12_001), 257, 10_000),
               finding("too-many-pixels", width=12_001, height=10_000, most=120_000_000)),
}  # fmt: skip


@pytest.mark.parametrize(("data", "problem"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_measured_is_refused_with_its_reason(tmp_path, capfd, data, problem):
    path = tmp_path / "photo.dng"
    path.write_bytes(data)
    with pytest.raises(FileError) as refusal:
        read_photo(path)
    assert Message(refusal.value.code, refusal.value.facts) == problem
    assert str(refusal.value).startswith(f"{path}: ")
    assert min(len(surface.remedy(refusal.value)) for surface in (TERMINAL, PAGE)) > 20
    assert capfd.readouterr().err == ""
