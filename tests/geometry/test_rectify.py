"""The card square-on: every pixel where it belongs, every patch as the camera saw it, bad exposure refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.cards.design import Box
from swatchcam.colorimetry.srgb import encode_srgb
from swatchcam.errors import LightError
from swatchcam.geometry.pose import find_card
from swatchcam.geometry.rectify import flatten, full_scale, inner, square_on
from swatchcam.messages.message import flag
from swatchcam.photo.icc_profile import srgb
from swatchcam.photo.photo import decoded
from tests.worlds.lens import Pose, look
from tests.worlds.phone import camera_answer, development_matrix
from tests.worlds.scene import Cover, render

SIZE = (1200, 900)
LIE = Pose(rotation=8, tilt_x=15, tilt_y=-10, fraction=0.9, k1=0.02)


@pytest.fixture(scope="module")
def plain(plain_scene, as_photo):
    shot = render(plain_scene, SIZE)
    photo = as_photo(shot.pixels)
    pose = find_card(photo)
    return photo, pose, flatten(photo, pose), shot


@pytest.fixture(scope="module")
def leaning(plain_scene, as_photo):
    """A tilted photo with its pose, and a photo of the same size whose code values say where a pixel lies."""
    photo = as_photo(render(replace(plain_scene, pose=LIE), SIZE).pixels)
    places = np.zeros((*SIZE[::-1], 3), dtype=np.uint16)
    places[..., 0] = 40 * np.arange(1, SIZE[0] + 1)
    places[..., 1] = 40 * np.arange(1, SIZE[1] + 1)[:, None]
    return find_card(photo), replace(photo, pixels=places, decode=srgb(65536).decode)


def exposed(plain_scene, as_photo, exposure, **changes):
    phone = replace(plain_scene.phone, exposure=exposure)
    photo = as_photo(render(replace(plain_scene, phone=phone, **changes), SIZE).pixels)
    return flatten(photo, find_card(photo))


# --- where things are ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("area", [Box(0, 0, 210, 148), Box(120, 40, 64, 52), Box(-5, 90, 40, 50)])
@pytest.mark.parametrize("scale", [3.0, 5.7])
def test_pixel_i_j_shows_the_point_half_a_pixel_in(leaning, printed, area, scale):
    pose, places = leaning
    found = square_on(places, pose, area, scale)
    assert found.shape == (round(area.h * scale), round(area.w * scale), 3)
    x = area.x + (np.arange(found.shape[1]) + 0.5) / scale
    y = area.y + (np.arange(found.shape[0]) + 0.5) / scale
    true = look(LIE, printed.design.size_mm, SIZE).project(np.stack(np.meshgrid(x, y), axis=-1))
    off = found[..., :2] / 40 - 1 - pose.to_photo(np.stack(np.meshgrid(x, y), axis=-1))
    # The nearest pixel of the photo is shown, so half a pixel each way; the map between its knots adds a tenth.
    assert np.abs(off).max() < 0.6
    assert_allclose(off.mean(axis=(0, 1)), 0, atol=0.05)
    assert_allclose(found[..., :2] / 40 - 1, true, rtol=0, atol=0.8)


def test_what_the_photo_does_not_show_is_black(leaning):
    pose, places = leaning
    assert not square_on(places, pose, Box(-400, -300, 50, 40), 2.0).any()


def test_the_pixels_of_a_box_are_those_with_their_centres_inside():
    rows, columns = inner(Box(10, 20, 4, 3), 0.5, 2.0)  # 10.5 to 13.5 mm across, 20.5 to 22.5 mm down
    assert [(i + 0.5) / 2 for i in range(columns.start, columns.stop)] == [10.75, 11.25, 11.75, 12.25, 12.75, 13.25]
    assert [(i + 0.5) / 2 for i in range(rows.start, rows.stop)] == [20.75, 21.25, 21.75, 22.25]


# --- what the camera saw ------------------------------------------------------------------------------------


def developed(scene):
    """Name -> (3,) linear RGB that the phone makes of a patch or the stock, from the spectra alone."""
    answer, phone = camera_answer(scene.camera, scene.light), scene.phone
    white = answer(np.ones(81))
    matrix = development_matrix(phone, scene.camera, scene.light) @ np.diag(white[1] / white)
    level = phone.exposure / answer(scene.card.paper).max()
    return {name: matrix @ (level * answer(spectrum)) for name, spectrum in scene.card.spectra.items()}


def test_a_patch_is_what_the_camera_saw_to_half_a_code(plain, plain_scene):
    _, _, card, _ = plain
    true = developed(plain_scene)
    for sample in card.samples:
        wanted = 255 * encode_srgb(np.clip(true[sample.name], 0, 1))
        # A flat patch without noise is rounded to a whole code: nobody can do better than half of one.
        assert_allclose(255 * encode_srgb(np.array(sample.rgb)), wanted, rtol=0, atol=0.55, err_msg=sample.name)
        assert sample.clipped == 0
        assert sample.spread < 1e-4


def test_bare_white_is_what_the_camera_saw_and_lies_clear_of_everything(plain, plain_scene):
    _, pose, card, _ = plain
    assert_allclose(card.white_rgb, np.tile(developed(plain_scene)["paper"], (len(card.white_rgb), 1)), atol=0.004)
    boxes = [item.box for item in (*pose.design.tags, *pose.design.patches, *pose.design.windows)]
    x, y = card.white_at.T
    for box in boxes:
        assert not ((x > box.x) & (x < box.x + box.w) & (y > box.y) & (y < box.y + box.h)).any()
    # Spread over the whole frame: no quarter of the card is left without.
    middle = np.array(pose.design.size_mm) / 2
    quarters = (card.white_at > middle) @ [1, 2]
    assert min(np.bincount(quarters, minlength=4)) > 40


def test_the_mean_is_taken_in_linear_light(plain_scene, as_photo):
    noisy = replace(plain_scene, phone=replace(plain_scene.phone, electrons=2500, read_noise=0.01))
    photo = as_photo(render(noisy, SIZE).pixels)
    true = developed(plain_scene)
    for sample in flatten(photo, find_card(photo)).samples:
        if min(true[sample.name]) > 0.1:  # noise about black is cut off at black
            assert_allclose(sample.rgb, true[sample.name], rtol=0.015, atol=0.001, err_msg=sample.name)
            assert sample.spread > 0.01


def test_a_hair_across_a_patch_does_not_change_it(plain, plain_scene, as_photo):
    box = next(patch.box for patch in plain_scene.card.design.patches if patch.name == "B7")
    hair = Cover((box.x - 1, box.y + 5.3, box.w + 2, 0.25), np.full(81, 0.03))
    photo = as_photo(render(replace(plain_scene, covers=(hair,)), SIZE).pixels)
    found, clean = ({s.name: s for s in c.samples}["B7"] for c in (flatten(photo, find_card(photo)), plain[2]))
    assert found.pixels < clean.pixels
    assert_allclose(found.rgb, clean.rgb, rtol=0.01)


def test_sixteen_bits_say_the_same_as_eight(plain):
    photo, pose, card, _ = plain
    wide = replace(photo, pixels=photo.pixels.astype(np.uint16) * 257, decode=srgb(65536).decode)
    found = flatten(wide, pose)
    # Interpolation between pixels is rounded to the code: sixteen bits round less.
    assert_allclose([s.rgb for s in found.samples], [s.rgb for s in card.samples], rtol=0.002, atol=2e-4)
    assert_allclose(found.white_rgb, card.white_rgb, atol=0.003)


@pytest.mark.parametrize("bits", [8, 16])
def test_codes_are_decoded_by_the_files_own_table(bits):
    kind = np.uint8 if bits == 8 else np.uint16
    table = np.random.default_rng(1).random((2**bits, 3)).astype(np.float32)
    coded = np.random.default_rng(2).integers(0, 2**bits, (5, 7, 3)).astype(kind)
    plainly = [[[table[coded[i, j, k], k] for k in range(3)] for j in range(7)] for i in range(5)]
    assert np.array_equal(decoded(coded, table), np.array(plainly, dtype=np.float32))


def test_one_channel_at_full_scale_is_enough():
    coded = np.array([[[254, 10, 10], [10, 254, 10], [10, 10, 254], [250, 250, 250]]], dtype=np.uint8)
    assert full_scale(coded).tolist() == [[True, True, True, False]]
    assert full_scale(coded.astype(np.uint16) * 257).tolist() == [[True, True, True, False]]


def test_the_photo_is_left_as_it_was_and_the_card_cannot_be_changed(plain):
    photo, pose, card, shot = plain
    before = photo.pixels.copy()
    again = flatten(photo, pose)
    assert np.array_equal(photo.pixels, before)
    assert np.array_equal(photo.pixels, shot.pixels)
    assert again.samples == card.samples
    assert np.array_equal(again.pixels, card.pixels)
    for array in (card.pixels, card.white_at, card.white_rgb):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


# --- exposure -----------------------------------------------------------------------------------------------


def test_white_at_full_scale_is_refused(plain_scene, as_photo):
    with pytest.raises(LightError, match="white of the card is overexposed") as refusal:
        exposed(plain_scene, as_photo, 1.1)
    assert refusal.value.remedy == "expose-lower"


def test_a_little_white_at_full_scale_is_flagged_and_left_out(plain_scene, as_photo):
    card = exposed(plain_scene, as_photo, 0.9, slope=0.16, slope_angle=45)
    clipped = len(card.clipped_at) / (len(card.clipped_at) + len(card.white_at))
    assert 0 < clipped < 0.15
    assert card.flags == (flag("white-partly-overexposed", share=clipped),)
    assert card.white_rgb.max() < 0.985


def test_a_dark_photo_is_refused(plain_scene, as_photo):
    with pytest.raises(LightError, match="too dark"):
        exposed(plain_scene, as_photo, 0.06)


def test_a_patch_at_full_scale_says_how_much_of_it(plain_scene, as_photo):
    box = next(patch.box for patch in plain_scene.card.design.patches if patch.name == "A3")
    shine = Cover((box.x, box.y, box.w, box.h / 2), np.full(81, 3.0))
    card = exposed(plain_scene, as_photo, 0.75, covers=(shine,))
    clipped = {sample.name: sample.clipped for sample in card.samples}
    assert clipped["A3"] == pytest.approx(0.5, abs=0.05)
    assert clipped["A5"] == 0


@pytest.mark.parametrize("edge", [{"blur": 2.0}, {"blur": 0.6, "sharpen": 0.8}], ids=["blurred", "sharpened"])
def test_the_margin_keeps_what_reaches_over_a_patchs_edge_out(plain_scene, as_photo, edge):
    photo = as_photo(render(replace(plain_scene, phone=replace(plain_scene.phone, **edge)), SIZE).pixels)
    card, true = flatten(photo, find_card(photo)), developed(plain_scene)
    for sample in card.samples:
        wanted = 255 * encode_srgb(np.clip(true[sample.name], 0, 1))
        # At 1.5 mm and three standard deviations of the blur a thousandth of the white around is left.
        assert_allclose(255 * encode_srgb(np.array(sample.rgb)), wanted, rtol=0, atol=1.2, err_msg=sample.name)
        assert sample.spread < 0.05, sample.name
