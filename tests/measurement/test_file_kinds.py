"""One scene, stored as each kind of file that phones write, says the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.errors import LightError
from swatchcam.measurement.measure import measure
from swatchcam.measurement.verdict import between
from swatchcam.photo.header import GAIN_MAP
from tests.worlds.phone import camera_answer, matrix_profile
from tests.worlds.picture_files import (
    ISO_21496,
    dng,
    heic,
    iccp,
    jpeg,
    mosaic,
    opencv,
    png,
    with_second_picture,
    with_segments,
)
from tests.worlds.scene import render, sensor
from tests.worlds.spectra import difference

SIZE = (1600, 1200)
NOISE = 0.3  # CIEDE2000 between two photos of one scene, a little more than is seen
USUAL = {"quality": 92, "chroma": 420, "matrix_coefficients": 6}  # as phones code their HEIC pictures
BLACK, FULL = 256, 4095


@pytest.fixture(scope="module")
def measured(values_path, tmp_path_factory):
    """The bytes of a file -> their measurement."""
    folder = tmp_path_factory.mktemp("kinds")

    def go(data):
        path = folder / "photo"
        path.write_bytes(data)
        return measure(str(path), str(values_path))

    return go


@pytest.fixture(scope="module")
def as_png(measured, fair):
    return measured(opencv(fair.shot.pixels, ".png"))


def apart(one, other):
    """Largest CIEDE2000 between the strips of two measurements."""
    return max(difference(np.array(a.lab), np.array(b.lab)) for a, b in zip(one.colours, other.colours, strict=True))


def check_truth(found, as_png, shot):
    """Each colour as near to the truth as from a PNG, and their difference the true one."""
    for colour, usual in zip(found.colours, as_png.colours, strict=True):
        true = shot.truth[colour.name]
        assert difference(np.array(colour.lab), true) < difference(np.array(usual.lab), true) + NOISE
    pair, true = between(*found.colours[::-1]), difference(shot.truth["right"], shot.truth["left"])
    assert pair.low <= true <= pair.high
    assert pair.delta_e == pytest.approx(true, abs=0.3)


def raw_photo(scene, **options):
    """The scene as the sensor saw it: 12 bits, the filters in squares of four, white as the camera saw it."""
    light, _, _ = sensor(scene, SIZE)
    numbers = np.clip(np.rint(BLACK + mosaic(light) * (FULL - BLACK)), 0, FULL).astype(np.uint16)
    white = camera_answer(scene.camera, scene.light)(np.ones(81))
    return dng(numbers, black=BLACK, white=FULL, neutral=white / white.max(), **options)


def test_a_heic_says_the_same_as_a_png(measured, as_png, fair):
    found = measured(heic(fair.shot.pixels, **USUAL))
    assert apart(found, as_png) < NOISE
    check_truth(found, as_png, fair.shot)
    assert found.flags == as_png.flags[1:]  # the PNG does not say what its colours are


def test_a_heic_of_ten_bits_and_tiles_says_the_same(measured, as_png, fair):
    sixteen = fair.shot.pixels.astype(np.uint16) * 257
    found = measured(heic(sixteen, 10, tile_size=512, **USUAL))
    assert found.photo.pixels.dtype == np.uint16
    assert apart(found, as_png) < NOISE


def test_a_wide_heic_is_measured_by_its_profile_or_its_numbers(measured, fair_scene):
    pixels = render(replace(fair_scene, phone=replace(fair_scene.phone, space="Display P3")), SIZE).pixels
    by_profile = measured(heic(pixels, icc_profile=matrix_profile("Display P3"), **USUAL))
    by_numbers = measured(heic(pixels, color_primaries=12, **USUAL))
    by_png = measured(png(pixels, iccp(matrix_profile("Display P3"))))
    assert {found.photo.colour_space for found in (by_profile, by_numbers, by_png)} == {"Display P3"}
    assert apart(by_profile, by_png) < NOISE
    assert apart(by_numbers, by_profile) < 0.05


def test_a_dng_is_as_near_to_the_truth_as_a_png(measured, as_png, fair, fair_scene):
    found = measured(raw_photo(fair_scene))
    check_truth(found, as_png, fair.shot)
    assert found.photo.linear
    assert found.photo.pixels.shape == fair.shot.pixels.shape


def test_a_dng_stored_turned_says_the_same(measured, fair_scene):
    upright, turned = measured(raw_photo(fair_scene)), measured(raw_photo(fair_scene, orientation=3))
    assert apart(turned, upright) < NOISE


def test_an_overexposed_dng_is_refused_though_its_white_balance_leaves_room(measured, fair_scene):
    too_bright = replace(fair_scene, phone=replace(fair_scene.phone, exposure=1.3))
    with pytest.raises(LightError, match="overexposed"):
        measured(raw_photo(too_bright))


def test_a_gain_map_changes_a_flag_and_nothing_else(measured, fair):
    plain = jpeg(fair.shot.pixels, quality=92)
    small = jpeg(np.ascontiguousarray(fair.shot.pixels[::4, ::4]))
    found = measured(with_second_picture(with_segments(plain, (0xE2, ISO_21496)), small))
    alone = measured(plain)
    assert apart(found, alone) == 0
    assert found.flags == (alone.flags[0], GAIN_MAP, *alone.flags[1:])
