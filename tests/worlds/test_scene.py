"""The drawn photos are what they say: sums of spectra, films, prints, places, and a truth one can trust."""

from __future__ import annotations

import csv
import io
import itertools
from dataclasses import fields, replace

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image, ImageCms, ImageOps

from swatchcam.cards.design import designs
from swatchcam.cards.values import load_values
from tests.worlds.inks import (
    BUILD_PIGMENTS,
    FINAL_PIGMENTS,
    cloth,
    film_reflectance,
    near_pair,
    saunderson,
    smoothest_reflectance,
    strip_reflectance,
)
from tests.worlds.lens import Pose, look
from tests.worlds.phone import (
    Phone,
    camera_fit,
    expose,
    matrix_profile,
    motion_kernel,
    rgb_matrix,
    stored,
    tone_table,
    write_jpeg,
)
from tests.worlds.plane import Sheet, paint_tag, tag_modules
from tests.worlds.printers import BUILD_PRINTERS, FINAL_PRINTERS, print_card, write_values
from tests.worlds.random_scenes import HARD_KINDS, WORLDS, random_scene, reshoot
from tests.worlds.scene import Cover, Glare, Loose, Scene, Shadow, corners, ink, render, sensor
from tests.worlds.spectra import (
    BUILD_CAMERAS,
    BUILD_FAIR_LIGHTS,
    FINAL_CAMERAS,
    REFERENCE,
    WAVELENGTHS,
    cameras,
    colour_matching,
    difference,
    illuminant,
    reflectance_lab,
    reflectance_xyz,
    white_xyz,
    xyz_lab,
)

DESIGN = designs()["a5"]
CARD = print_card(DESIGN, "inkjet")
SMALL = (800, 600)
RED, BLUE = {"red": 1.5, "yellow": 0.5}, {"blue": 0.8}


def reference(name):
    with open(REFERENCE / name, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def number(text):
    return float(text.split("=")[1])


# --- spectra ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", reference("whitepoints.csv"), ids=lambda row: "-".join(list(row.values())[:3]))
def test_the_perfect_diffuser_has_the_published_white_point(row):
    # ASTM E308 and CIE 015:2018; the two series themselves differ by up to 0.016.
    found = white_xyz(illuminant(row["illuminant"]), int(row["observer_deg"]))
    assert_allclose(found, [float(row[axis]) for axis in "XYZ"], atol=0.021)


def test_a_flat_spectrum_has_the_colour_of_white_at_its_own_level():
    light = illuminant("D65")
    assert_allclose(reflectance_xyz(np.full(81, 0.2), light, 10), 0.2 * white_xyz(light, 10), rtol=1e-12)


def test_tristimulus_values_are_the_plain_sum_over_wavelengths():
    reflectance, light, table = strip_reflectance(RED), illuminant("A"), colour_matching(10)
    by_hand = [0.0, 0.0, 0.0]
    whole = sum(light[i] * table[i][1] for i in range(81))
    for i in range(81):
        for axis in range(3):
            by_hand[axis] += 100 * reflectance[i] * light[i] * table[i][axis] / whole
    assert_allclose(reflectance_xyz(reflectance, light, 10), by_hand, rtol=1e-12)


@pytest.mark.parametrize("row", [row for row in reference("lab_examples.csv") if row["kind"] == "xyz_to_lab"])
def test_cielab_agrees_with_published_examples(row):
    # Sharma, Wu & Dalal 2005, table 1; four decimals.
    xyz, white, lab = ([float(row[key]) for key in keys] for keys in (("X", "Y", "Z"), ("Xn", "Yn", "Zn"), "Lab"))
    assert_allclose(xyz_lab(np.array(xyz), np.array(white)), lab, atol=6e-5)


def test_cameras_and_all_else_are_split_without_overlap():
    assert len(cameras()) == 52
    assert set(BUILD_CAMERAS) | set(FINAL_CAMERAS) == set(cameras())
    build, final = WORLDS["build"], WORLDS["final"]
    for field in fields(build):
        assert not set(getattr(build, field.name)) & set(getattr(final, field.name)), field.name


def test_every_light_is_a_light():
    for world in WORLDS.values():
        for name, light in (world.fair_lights | world.bad_lights).items():
            assert light.shape == WAVELENGTHS.shape, name
            assert light.min() >= 0, name
            assert light.mean() == pytest.approx(1), name


def test_fair_lights_are_near_daylight_and_bad_ones_are_not_or_have_gaps():
    for world in WORLDS.values():
        for name, light in world.fair_lights.items():
            x, y = white_xyz(light, 2)[:2] / white_xyz(light, 2).sum()
            assert 0.28 < x < 0.39, name
            assert abs(y - (-3 * x**2 + 2.87 * x - 0.275)) < 0.02, name  # the daylight locus, CIE 15
        for name, light in world.bad_lights.items():
            xyz = white_xyz(light, 2)
            assert xyz[0] / xyz.sum() > 0.4 or np.median(light) < 0.6, name


# --- inks ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", [row for row in reference("kubelka_munk.csv") if row["kind"] == "film"])
def test_a_film_reflects_what_kubelka_says(row):
    # Kubelka 1948; eight decimals.
    k, s, x = (number(part) for part in row["case"].split())
    k, s = np.array([k]), np.array([s])
    assert_allclose(film_reflectance(k, s, x, np.zeros(1)), float(row["value1"]), atol=6e-9)
    assert_allclose(film_reflectance(k, s, x, np.array([0.8])), float(row["value2"]), atol=6e-9)


@pytest.mark.parametrize("row", [row for row in reference("kubelka_munk.csv") if row["kind"] == "film_limit"])
def test_a_film_that_absorbs_nothing_has_the_published_limit(row):
    _, s, x = (number(part) for part in row["case"].removesuffix(" over black").split())
    assert_allclose(film_reflectance(np.zeros(1), np.array([s]), x, np.zeros(1)), float(row["value1"]), atol=6e-9)


@pytest.mark.parametrize("row", [row for row in reference("kubelka_munk.csv") if row["kind"] == "saunderson"])
def test_the_surface_reflects_what_saunderson_says(row):
    assert_allclose(saunderson(np.array([float(row["value1"])]), 0.04, 0.6), float(row["value2"]), atol=6e-9)


def test_an_infinitely_thick_film_follows_the_published_ratio():
    for row in reference("kubelka_munk.csv"):
        if row["kind"] == "R_of_ks":
            k = np.array([float(row["value1"])])
            assert_allclose(film_reflectance(k, np.ones(1), 1e4, np.zeros(1)), float(row["value2"]), atol=6e-9)


def test_pigments_cover_the_hues_and_get_darker_with_load():
    for pigments in (BUILD_PIGMENTS, FINAL_PIGMENTS):
        hues = []
        for name in pigments:
            pale, full, deep = (reflectance_lab(strip_reflectance({name: load})) for load in (0.3, 1.0, 3.0))
            assert deep[0] < full[0] < pale[0], name
            if np.hypot(*full[1:]) > 20:
                hues.append(np.rad2deg(np.arctan2(full[2], full[1])) % 360)
        gaps = np.diff(sorted([*hues, min(hues) + 360]))
        assert gaps.max() < 100


@pytest.mark.parametrize("size", [0.1, 0.5, 2.0, 4.5])
def test_near_pairs_differ_by_what_was_wanted(size):
    first, second = near_pair(np.random.default_rng(3), size)
    assert difference(*(reflectance_lab(strip_reflectance(recipe)) for recipe in (first, second))) == pytest.approx(
        size, abs=0.011
    )


@pytest.mark.parametrize("lab", [(50, 60, 30), (85, -5, 80), (25, 20, -40), (60, -45, 5), (96, 0, 0)])
def test_the_smoothest_reflectance_has_the_wanted_colour(lab):
    spectrum = smoothest_reflectance(np.array(lab))
    assert 0 < spectrum.min() < spectrum.max() < 1
    assert_allclose(reflectance_lab(spectrum), lab, atol=1e-4)


def test_a_colour_no_surface_has_is_told_apart():
    with pytest.raises(ValueError, match="no smooth reflectance"):
        smoothest_reflectance(np.array([95.0, 120.0, 0.0]))


# --- printed cards ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("printer", [*BUILD_PRINTERS, *FINAL_PRINTERS])
def test_a_print_has_greys_in_order_and_colours_in_plenty(printer):
    card = print_card(DESIGN, printer)
    lab = card.true_lab("D50", 2)
    greys = sorted(DESIGN.greys, key=lambda patch: patch.srgb[0])
    lightness = [lab[patch.name][0] for patch in greys]
    assert all(one <= two + 1e-9 for one, two in itertools.pairwise(lightness))
    assert lab["paper"][0] - lab[greys[0].name][0] > 70
    assert max(np.hypot(*(lab[patch.name] - lab["paper"])[1:]) for patch in greys) < 9
    assert max(np.hypot(*colour[1:]) for colour in lab.values()) > 60
    for name, spectrum in card.spectra.items():
        assert spectrum.min() > 0, name
        assert spectrum.max() < 1, name


def test_prints_drift_by_what_was_asked_and_no_more():
    plain = np.array(list(CARD.true_lab().values()))
    assert_allclose(list(print_card(DESIGN, "inkjet", seed=5).true_lab().values()), plain)
    changed = np.array(list(print_card(DESIGN, "inkjet", seed=5, drift=0.02).true_lab().values()))
    assert 0.3 < difference(plain, changed).mean() < 4


def test_the_instrument_is_off_by_the_stated_amount():
    true = np.array(list(CARD.true_lab().values()))
    errors = [difference(true, np.array(list(CARD.values(0.3, seed).values()))) for seed in range(40)]
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(0.3, rel=0.03)
    assert_allclose(list(CARD.values().values()), true)


def test_written_values_are_read_back_by_the_tool(tmp_path):
    lab = CARD.values(0.3, seed=1)
    values = load_values(write_values(tmp_path / "mine.csv", DESIGN.name, lab, uncertainty=0.3))
    assert (values.grade, values.design, values.uncertainty) == ("measured", "a5", 0.3)
    assert values.lab.keys() == lab.keys()
    assert_allclose([values.lab[name] for name in lab], list(lab.values()), atol=6e-5)


# --- the picture of the plane -------------------------------------------------------------------------------


def test_a_rectangle_covers_exactly_its_area_and_centre():
    sheet = Sheet(np.zeros((60, 80, 3), dtype=np.float32), (2.0, 1.0), 4.0)
    sheet.paint((5.13, 3.71, 8.4, 6.2), np.ones(3))
    cover = sheet.pixels[..., 0].astype(float)
    assert cover.sum() / 16 == pytest.approx(8.4 * 6.2, rel=1e-5)
    xs, ys = sheet.centres(slice(0, 60), slice(0, 80))
    assert (cover.sum(axis=0) @ xs) / cover.sum() == pytest.approx(
        5.13 + 4.2, abs=1e-3
    )  # a part pixel counts at its centre
    assert (cover.sum(axis=1) @ ys) / cover.sum() == pytest.approx(3.71 + 3.1, abs=1e-3)


def test_a_printed_tag_has_the_area_of_its_black_modules():
    sheet = Sheet(np.zeros((100, 100, 3), dtype=np.float32), (0.0, 0.0), 6.7)
    modules = tag_modules(cv2.aruco.DICT_APRILTAG_36H11, 3)
    paint_tag(sheet, (1.03, 0.57, 13.0, 13.0), modules, np.ones(3))
    assert sheet.pixels[..., 0].sum() / 6.7**2 == pytest.approx(modules.mean() * 169, rel=1e-4)
    assert sheet.pixels.max() <= 1 + 1e-6


# --- where things lie ---------------------------------------------------------------------------------------

POSES = {
    "flat": Pose(),
    "turned": Pose(rotation=200, fraction=0.6, offset=(0.1, -0.05)),
    "tilted": Pose(rotation=12, tilt_x=28, tilt_y=-15, fraction=0.7),
    "lens": Pose(rotation=-5, k1=-0.06, k2=0.02, fraction=0.85),
    "curled": Pose(tilt_x=10, curl=6, fraction=0.75),
}


@pytest.mark.parametrize("pose", POSES.values(), ids=POSES)
def test_projecting_and_back_returns_to_the_point(pose):
    view = look(pose, DESIGN.size_mm, SMALL)
    points = np.random.default_rng(0).uniform((0, 0), DESIGN.size_mm, (50, 2))
    assert_allclose(view.unproject(view.project(points)), points, atol=2e-3)


@pytest.mark.parametrize("pose", POSES.values(), ids=POSES)
def test_all_tags_are_found_where_the_pose_puts_them(pose):
    shot = render(Scene(CARD, pose=pose, phone=Phone(blur=0.6)), (1600, 1200))
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36H11), parameters)
    found, numbers, _ = detector.detectMarkers(cv2.cvtColor(shot.pixels, cv2.COLOR_RGB2GRAY))
    assert sorted(numbers.ravel()) == [0, 1, 2, 3, 4, 5]
    misses = np.array([four[0] - shot.corners[f"tag {i}"] for four, i in zip(found, numbers.ravel(), strict=True)])
    assert np.abs(misses.mean(axis=1)).max() < 0.2  # px, each tag's centre
    assert np.abs(misses.mean(axis=(0, 1))).max() < 0.06  # px: half a pixel of confusion would show here


@pytest.mark.parametrize("pose", POSES.values(), ids=POSES)
def test_patches_are_drawn_where_the_pose_puts_them(pose):
    scene = Scene(CARD, pose=pose, phone=Phone(blur=0.6))
    raw, _, view = sensor(scene, (1600, 1200))
    stock = (
        0.8
        * camera_sum(scene.camera, scene.light, CARD.paper)[1]
        / camera_sum(scene.camera, scene.light, CARD.paper).max()
    )
    for name in ("L4", "R4", "M4", "A6", "D6", "D12"):
        box = next(patch.box for patch in DESIGN.patches if patch.name == name)
        rim = np.array([[-0.8, -0.8], [box.w + 0.8, -0.8], [box.w + 0.8, box.h + 0.8], [-0.8, box.h + 0.8]])
        ring = view.project(rim + np.array([box.x, box.y]))
        near = cv2.fillPoly(np.zeros(raw.shape[:2], np.uint8), [np.rint(ring * 256).astype(np.int32)], 1, shift=8)
        ink_there = cv2.moments(near * (stock - raw[..., 1].astype(float)))
        four = corners(scene, view)[name]
        whole = cv2.moments((four - four[0]).astype(np.float32))
        for axis, moment in ((0, "m10"), (1, "m01")):
            expected = four[0][axis] + whole[moment] / whole["m00"]
            assert ink_there[moment] / ink_there["m00"] == pytest.approx(expected, abs=0.08)  # px


def test_a_flat_pose_without_a_lens_is_a_homography():
    scene = Scene(CARD, pose=POSES["tilted"])
    places = corners(scene, look(scene.pose, DESIGN.size_mm, SMALL))
    width, height = DESIGN.size_mm
    outer = np.array([[0, 0], [width, 0], [width, height], [0, height]])
    matrix, _ = cv2.findHomography(outer, places["card"])
    for patch in DESIGN.patches:
        box = patch.box
        seen = cv2.perspectiveTransform(np.array([[[box.x, box.y], [box.x + box.w, box.y + box.h]]]), matrix)[0]
        assert_allclose(places[patch.name][[0, 2]], seen, atol=1e-5)


def test_the_card_fills_the_wanted_part_of_the_frame_where_it_was_wanted():
    pose = Pose(rotation=30, tilt_x=20, tilt_y=10, fraction=0.62, offset=(0.05, -0.08))
    four = look(pose, DESIGN.size_mm, SMALL).project(np.array([[0, 0], [210, 0], [210, 148], [0, 148]]))
    filled = np.ptp(four, axis=0) / SMALL
    assert filled.max() == pytest.approx(0.62, abs=1e-4)
    middle = (four.min(axis=0) + four.max(axis=0)) / 2
    assert_allclose(middle, [0.55 * 800 - 0.5, 0.42 * 600 - 0.5], atol=0.05)


# --- light and colour ---------------------------------------------------------------------------------------


def inner(shot_corners, name):
    """Rows and columns well inside something seen straight on."""
    four = shot_corners[name]
    (left, top), (right, bottom) = four.min(axis=0), four.max(axis=0)
    return slice(int(top) + 4, int(bottom) - 3), slice(int(left) + 4, int(right) - 3)


def camera_sum(camera, light, reflectance):
    table = cameras()[camera]
    return np.array([sum(table[i, c] * light[i] * reflectance[i] for i in range(81)) for c in range(3)])


@pytest.mark.parametrize("camera", BUILD_CAMERAS[::7])
@pytest.mark.parametrize("light", list(BUILD_FAIR_LIGHTS)[::4])
def test_a_pixel_is_the_direct_sum_of_light_reflectance_and_sensitivity(camera, light):
    lamp = BUILD_FAIR_LIGHTS[light]
    scene = Scene(CARD, {"left": ink(RED), "right": None}, light=lamp, camera=camera, phone=Phone(exposure=0.7))
    raw, _, view = sensor(scene, SMALL)
    places = corners(scene, view)
    paper = camera_sum(camera, lamp, CARD.paper)
    assert raw.dtype == np.float32
    expected = {
        "left": strip_reflectance(RED),
        "right": cloth("white"),
        "L3": CARD.reflectance["L3"],
        "A1": CARD.reflectance["A1"],
    }
    for name, spectrum in expected.items():
        part = raw[inner(places, name)].reshape(-1, 3).astype(float)
        assert np.ptp(part, axis=0).max() < 1e-5
        assert_allclose(part.mean(axis=0), 0.7 * camera_sum(camera, lamp, spectrum) / paper.max(), rtol=1e-5)


def test_the_truth_of_an_uneven_film_is_the_mean_that_a_camera_sees():
    scene = Scene(CARD, {"left": ink(RED, uneven=0.25), "right": ink(BLUE, uneven=0.1)}, weave=0.15)
    raw, spectra, view = sensor(scene, (1600, 1200))
    places = corners(scene, view)
    paper = camera_sum(scene.camera, scene.light, CARD.paper)
    for name in ("left", "right"):
        seen = raw[inner(places, name)].mean(axis=(0, 1), dtype=float)
        expected = 0.8 * camera_sum(scene.camera, scene.light, spectra[name]) / paper.max()
        assert_allclose(seen, expected, rtol=4e-3)
    even = 0.8 * camera_sum(scene.camera, scene.light, strip_reflectance(RED)) / paper.max()
    assert (
        abs(raw[inner(places, "left")].mean(axis=(0, 1), dtype=float) / even - 1).max() > 0.02
    )  # so the check above says something


def test_truth_is_cielab_of_the_mean_reflectance():
    shot = render(Scene(CARD, {"left": ink(RED), "right": ink(BLUE)}), SMALL)
    assert_allclose(shot.truth["left"], reflectance_lab(strip_reflectance(RED)))
    assert_allclose(shot.truth["right"], reflectance_lab(strip_reflectance(BLUE)))


def test_two_lamps_give_their_mixture():
    lamp, other = illuminant("D65"), illuminant("A")
    scene = Scene(CARD, {"left": ink(RED)}, light=lamp, other_light=other, other_share=(0.3, 0.3))
    raw, _, view = sensor(scene, SMALL)
    weights = [table / (light @ table).max() for light in (lamp, other) for table in [cameras()[scene.camera]]]
    mixed = 0.7 * (lamp * strip_reflectance(RED)) @ weights[0] + 0.3 * (other * strip_reflectance(RED)) @ weights[1]
    mixed *= 0.8 / ((lamp * CARD.paper) @ weights[0]).max()
    assert_allclose(raw[inner(corners(scene, view), "left")].mean(axis=(0, 1), dtype=float), mixed, rtol=1e-4)


def test_light_falls_off_as_asked():
    scene = Scene(CARD, slope=0.2, pose=Pose(fraction=0.9))
    raw, _, view = sensor(scene, SMALL)
    places = corners(scene, view)
    left, right = (raw[inner(places, name)].mean() for name in ("L2", "R6"))  # the same grey, 184 mm apart
    assert right / left == pytest.approx((1 + np.tanh(0.2 * 92 / 210)) / (1 - np.tanh(0.2 * 92 / 210)), rel=2e-3)


def test_the_sensor_without_effects_only_clips():
    raw = np.random.default_rng(0).uniform(0, 1.3, (20, 30, 3)).astype(np.float32)
    assert np.array_equal(expose(raw.copy(), Phone(), (0,)), np.minimum(raw, 1))


def test_noise_has_the_stated_variance():
    raw = np.full((400, 400, 3), 0.36, dtype=np.float32)
    noisy = expose(raw, Phone(electrons=2500, read_noise=0.004), (1,))
    assert noisy.var() == pytest.approx(0.36 / 2500 + 0.004**2, rel=0.02)
    assert noisy.mean() == pytest.approx(0.36, abs=1e-4)


def test_flare_adds_a_share_of_the_mean_and_vignetting_darkens_the_corners():
    raw = np.zeros((100, 140, 3), dtype=np.float32)
    raw[:, :70] = 0.5
    assert_allclose(expose(raw.copy(), Phone(flare=0.01), (0,))[50, [10, 130]], [[0.5025] * 3, [0.0025] * 3], rtol=1e-5)
    even = expose(np.full((100, 140, 3), 0.5, dtype=np.float32), Phone(vignetting=0.2), (0,))
    assert even[0, 0, 0] == pytest.approx(0.4, abs=1e-6)
    assert even[50, 70, 0] == pytest.approx(0.5, abs=1e-4)


def test_shaking_spreads_light_along_its_way():
    kernel = motion_kernel((6.0, 3.0))
    ys, xs = np.mgrid[: kernel.shape[0], : kernel.shape[1]] - kernel.shape[0] // 2
    assert kernel.sum() == pytest.approx(1)
    assert (kernel * xs).sum() == pytest.approx(0, abs=1e-6)
    assert (kernel * xs * xs).sum() == pytest.approx(36 / 12, abs=0.25)
    assert (kernel * xs * ys).sum() == pytest.approx(18 / 12, abs=0.1)


# --- development --------------------------------------------------------------------------------------------


def test_the_neutral_tone_curve_is_srgb():
    # IEC 61966-2-1.
    table = tone_table(0.0, 0.0, 0.0)
    for row in reference("srgb_iec61966.csv"):
        if row["section"] == "encode_linear":
            code = round(float(row["name"]) * 65535)
            assert table[code] == pytest.approx(255 * float(row["v1"]), abs=0.03)


@pytest.mark.parametrize(
    ("space", "section"), [("sRGB", "srgb_rgb_to_xyz_from_primaries"), ("Display P3", "display_p3_rgb_to_xyz")]
)
def test_colour_spaces_have_their_published_matrices(space, section):
    rows = [row for row in reference("srgb_iec61966.csv") if row["section"] == section]
    published = [[float(row[key]) for key in ("v1", "v2", "v3")] for row in rows]
    # The white summed from spectra differs from the tabulated one in the fourth digit.
    assert_allclose(rgb_matrix(space) / 100, published, atol=3e-4)


def test_every_tone_curve_rises():
    for contrast, brighten, lift in itertools.product((0, 0.35, 1), (0, 0.15), (0, 0.02)):
        table = tone_table(contrast, brighten, lift)
        assert np.diff(table).min() >= -1e-5
        assert table[0] == pytest.approx(255 * lift)
        assert table[-1] == pytest.approx(255)


@pytest.mark.parametrize("camera", BUILD_CAMERAS[::5])
def test_the_fitted_matrix_keeps_white_and_comes_near_the_colours(camera):
    light = illuminant("D65")
    matrix = camera_fit(camera, light.tobytes(), "sRGB")
    assert_allclose(matrix.sum(axis=1), 1, atol=1e-12)
    scene = Scene(CARD, {"left": ink({"red": 0.6}), "right": ink({"blue": 0.2})}, camera=camera)
    shot = render(scene, SMALL)
    linear = [
        np.interp(
            shot.pixels[inner(shot.corners, name)].mean(axis=(0, 1)), tone_table(0, 0, 0), np.linspace(0, 1, 65536)
        )
        for name in ("left", "right")
    ]
    paper = np.interp(shot.pixels[inner(shot.corners, "card")][2, 2], tone_table(0, 0, 0), np.linspace(0, 1, 65536))
    scale = paper[1] / (reflectance_xyz(CARD.paper, light, 2)[1] / 100)
    lab = xyz_lab(np.array(linear) / scale @ rgb_matrix("sRGB").T, white_xyz(light, 2))
    true = reflectance_lab(np.array([strip_reflectance({"red": 0.6}), strip_reflectance({"blue": 0.2})]), "D65", 2)
    assert difference(lab, true).max() < 9  # a camera is not an eye


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_file_is_upright_when_its_tag_is_heeded(tmp_path, orientation):
    shot = render(Scene(CARD, phone=Phone(quality=98, subsampling=0)), (400, 300))
    path = write_jpeg(shot, tmp_path / "photo.jpg", orientation=orientation)
    with Image.open(path) as file:
        assert file.size == ((400, 300) if orientation < 5 else (300, 400))
        assert file.getexif().get(0x0112, 1) == orientation
        upright = np.asarray(ImageOps.exif_transpose(file)).astype(float)
    assert np.abs(upright - shot.pixels).mean() < 2
    assert stored(shot.pixels, orientation).dtype == np.uint8


def test_the_written_profiles_mean_what_the_common_ones_mean():
    ours = ImageCms.getOpenProfile(io.BytesIO(matrix_profile("sRGB")))
    wide = ImageCms.getOpenProfile(io.BytesIO(matrix_profile("Display P3")))
    common = ImageCms.createProfile("sRGB")
    codes = np.random.default_rng(2).integers(0, 256, (16, 16, 3)).astype(np.uint8)
    picture = Image.fromarray(codes)
    same = np.asarray(ImageCms.profileToProfile(picture, ours, common)).astype(int)
    assert np.abs(same - codes).max() <= 1
    # W3C colour tests: P3 0.21604 0.49418 0.13151 is sRGB 0 128 0.
    green = Image.new("RGB", (1, 1), tuple(round(255 * v) for v in (0.21604, 0.49418, 0.13151)))
    assert_allclose(ImageCms.profileToProfile(green, wide, common).getpixel((0, 0)), (0, 128, 0), atol=2)


def test_a_wide_picture_carries_its_profile(tmp_path):
    path = write_jpeg(render(Scene(CARD, phone=Phone(space="Display P3")), (400, 300)), tmp_path / "photo.jpg")
    with Image.open(path) as file:
        assert file.info["icc_profile"] == matrix_profile("Display P3")


# --- effects one by one -------------------------------------------------------------------------------------

GROUND = Scene(CARD, {"left": ink(RED), "right": ink(BLUE)}, pose=Pose(fraction=0.6))
EFFECTS = {
    "weave": {"weave": 0.1},
    "card edge": {"card_edge": 0.3},
    "cloth piece": {"cloth_rect": (-10.0, -10.0, 230.0, 168.0)},
    "loose": {"loose": (Loose("old", (20.0, 155.0, 30.0, 30.0), ink(BLUE)),)},
    "cover": {"covers": (Cover((10.0, 10.0, 20.0, 20.0), cloth("grey"), True),)},
    "second card": {"second_card": (0.0, 155.0)},
    "slope": {"slope": 0.2},
    "bow": {"bow": 0.1},
    "shadow": {"shadow": Shadow((100.0, 70.0), 20, 0.4)},
    "glare": {"glare": Glare((60.0, 60.0), 15, 0.4)},
    "other light": {"other_light": illuminant("A"), "other_share": (0.0, 0.4)},
    "uneven ink": {"windows": {"left": ink(RED, uneven=0.2), "right": ink(BLUE)}},
    "ragged ink": {"windows": {"left": ink(RED, extent=(0.1, 0.1, 0.9, 0.9), ragged=1.0), "right": ink(BLUE)}},
    "lint": {"windows": {"left": ink(RED, specks=9), "right": ink(BLUE)}},
    "mirror": {"mirrored": True},
} | {
    name: {"phone": Phone(**{name: value})}
    for name, value in {
        "vignetting": 0.2,
        "flare": 0.02,
        "blur": 1.0,
        "motion": (4.0, 1.0),
        "electrons": 2000.0,
        "read_noise": 0.01,
        "white_error": (0.05, -0.05),
        "grey_world": 1.0,
        "matrix_light": "A",
        "saturation": 1.2,
        "space": "Display P3",
        "contrast": 0.3,
        "brighten": 0.1,
        "lift": 0.02,
        "local": 0.3,
        "sharpen": 0.6,
    }.items()
}


@pytest.fixture(scope="module")
def plain():
    return render(GROUND, (400, 300))


@pytest.mark.parametrize("effect", EFFECTS.values(), ids=EFFECTS)
def test_each_effect_shows_and_leaves_no_trace_when_it_is_off(effect, plain):
    changed = render(replace(GROUND, **effect), (400, 300))
    assert np.abs(changed.pixels.astype(int) - plain.pixels).max() > 3
    off = replace(replace(GROUND, **effect), **{name: getattr(GROUND, name) for name in effect})
    assert np.array_equal(render(off, (400, 300)).pixels, plain.pixels)


def test_effects_of_strength_nought_are_no_effects(plain):
    nothing = {
        "covers": (Cover((500.0, 500.0, 5.0, 5.0), cloth("grey")),),
        "other_light": illuminant("A"),
        "shadow": Shadow((100.0, 70.0), 20, 0.0),
        "glare": Glare((60.0, 60.0), 15, 0.0),
        "windows": {"left": ink(RED, extent=(0.0, 0.0, 1.0, 1.0)), "right": ink(BLUE)},
    }
    assert np.array_equal(render(replace(GROUND, **nothing), (400, 300)).pixels, plain.pixels)


def test_a_mirrored_photo_has_its_corners_mirrored(plain):
    shot = render(replace(GROUND, mirrored=True), (400, 300))
    assert np.array_equal(shot.pixels, plain.pixels[:, ::-1])
    assert_allclose(shot.corners["L1"], np.array([399, 0]) + plain.corners["L1"] * (-1, 1))


def test_ink_that_the_phone_cannot_store_is_told():
    vivid = replace(GROUND, windows={"left": ink({"green": 2.0}), "right": ink({"brown": 0.3})})
    shot = render(vivid, (400, 300))
    assert shot.clipped == {"left": 1.0, "right": 0.0}
    assert shot.pixels[inner(shot.corners, "left")].min() == 0


def test_sharpening_leaves_even_ground_alone(plain):
    shot = render(replace(GROUND, phone=Phone(sharpen=0.8)), (400, 300))
    where = inner(plain.corners, "left")
    assert_allclose(shot.pixels[where].mean(axis=(0, 1)), plain.pixels[where].mean(axis=(0, 1)), atol=0.1)


# --- scenes at random ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["fair", *HARD_KINDS])
@pytest.mark.parametrize("split", ["build", "final"])
def test_random_scenes_can_be_drawn_again(kind, split):
    one, two = (random_scene(np.random.default_rng(11), split, kind) for _ in range(2))
    assert one.kind == kind
    world = WORLDS[split]
    assert one.camera in world.cameras
    lights = {light.tobytes() for light in (world.fair_lights | world.bad_lights).values()}
    assert one.light.tobytes() in lights
    assert np.array_equal(render(one, (240, 180)).pixels, render(two, (240, 180)).pixels)


def test_hard_is_any_of_the_hard_kinds():
    rng = np.random.default_rng(4)
    kinds = {random_scene(rng, kind="hard").kind for _ in range(40)}
    assert len(kinds) > 6
    assert kinds <= set(HARD_KINDS)


def test_fair_scenes_show_the_whole_card_unclipped_and_differ_by_less_than_five_or_so():
    rng = np.random.default_rng(9)
    sizes = []
    for _ in range(12):
        scene = random_scene(rng)
        shot = render(scene, (320, 240))
        card = shot.corners["card"]
        assert (card > -0.5).all()
        assert (card < (319.5, 239.5)).all()
        tilt = np.hypot(scene.pose.tilt_x, scene.pose.tilt_y)
        assert tilt <= 25.001
        sizes.append(difference(shot.truth["left"], shot.truth["right"]))
    assert max(sizes) < 7
    assert np.ptp(sizes) > 2


def test_anchors_lie_in_the_frame_with_a_truth_of_their_own():
    scene = random_scene(np.random.default_rng(2), anchors=6)
    shot = render(scene, (320, 240))
    names = [piece.name for piece in scene.loose]
    assert names == [f"anchor {i}" for i in range(1, 7)]
    for name in names:
        assert (shot.corners[name] > 0).all()
        assert (shot.corners[name] < (319, 239)).all()
    assert len({tuple(np.round(shot.truth[name], 3)) for name in names}) == 6


def test_a_second_photo_shows_the_same_ink():
    rng = np.random.default_rng(21)
    scene = random_scene(rng)
    one, two = render(scene, SMALL), render(reshoot(scene, rng), SMALL)
    assert not np.array_equal(one.pixels, two.pixels)
    for name in ("left", "right"):
        assert difference(one.truth[name], two.truth[name]) < 0.02  # it is summed over other sheet pixels
