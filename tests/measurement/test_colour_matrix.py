"""Camera to XYZ: exact where it can be, as good on a patch left out as it says, and not misled by a wrong one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.cielab import lab_to_xyz, white_point, xyz_to_lab
from swatchcam.errors import FitError
from swatchcam.illumination.solve import Field, Light, Tone
from swatchcam.measurement import colour_matrix as module
from swatchcam.measurement.colour_matrix import balance, fit_matrices, lab_weights
from swatchcam.messages.surface import TERMINAL
from tests.codes import codes, the_one
from tests.worlds.scene import Cover, Glare
from tests.worlds.spectra import difference

WHITE = white_point("D65", 10)
# An invented camera with well-mixed channels: XYZ over the stock's -> RGB over the stock's.
CAMERA = np.array([[1.25, -0.15, -0.10], [-0.35, 1.30, 0.05], [0.02, 0.03, 0.95]])
COLOURS = np.array([[0.6, 0.2, 0.1], [0.1, 0.5, 0.3], [0.05, 0.1, 0.6], [0.7, 0.6, 0.1]])


@pytest.fixture(scope="module")
def flat(plain):
    """A flat card whose samples the test makes up, in light that is even and a tone curve that is none."""
    nothing = Tone((0.0,) * len(plain.light.tone.terms), 0.0)
    even = Field(np.zeros((1, 3)), np.zeros((1, 1)), 0, plain.card.pose.design.size_mm)
    light = Light(nothing, even, even, 0.0, 0.0, 1.0, 0.0, ())

    def make(rgb):
        """Name -> camera RGB over white; patches not named stay away."""
        samples = [
            replace(s, rgb=tuple(float(v) for v in rgb[s.name]), rgb_std=(1e-6,) * 3, spread=0.0, clipped=0.0)
            for s in plain.card.samples
            if s.name in rgb
        ]
        return replace(plain.card, samples=tuple(samples)), light

    return make


@pytest.fixture(scope="module")
def seen(values):
    """Name -> what the invented camera sees of every patch of the card."""
    paper = lab_to_xyz(np.array(values.lab["paper"]), WHITE)
    table = {
        name: CAMERA @ (lab_to_xyz(np.array(lab), WHITE) / paper) / CAMERA.sum(axis=1)
        for name, lab in values.lab.items()
    }
    return {name: rgb for name, rgb in table.items() if name != "paper" and rgb.min() > 0.02}


@pytest.fixture
def believing(monkeypatch):
    """No patch is left out as an outlier."""
    monkeypatch.setattr(module, "OUTLIER", np.inf)


def noisy(seen, size, seed=1):
    rng = np.random.default_rng(seed)
    return {name: rgb * (1 + rng.normal(0, size, 3)) for name, rgb in seen.items()}


def paper_xyz(values):
    return lab_to_xyz(np.array(values.lab["paper"]), WHITE)


def lab_of(fit, rgb):
    """(..., 3) light relative to white -> CIELAB by the matrix."""
    return xyz_to_lab(np.maximum(fit.xyz(np.asarray(rgb)), 1e-6), WHITE)


def slope_of(rgb):
    """(3, 9) change of XYZ for one of the matrix, row after row."""
    return np.kron(np.eye(3), rgb)


# --- exact --------------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("believing")
def test_bare_white_is_exact_however_bad_the_patches_are(flat, seen, values):
    fit = balance(*flat(noisy(seen, 0.05)), values)
    assert_allclose(fit.xyz(np.ones(3)), paper_xyz(values), rtol=1e-12)
    assert_allclose(lab_of(fit, np.ones(3)), values.lab["paper"], atol=1e-9)


@pytest.mark.usefixtures("believing")
def test_bare_white_has_no_fit_error(flat, seen, values):
    fit = balance(*flat(noisy(seen, 0.05)), values)
    slope = slope_of(np.ones(3))
    assert_allclose(slope @ fit.covariance @ slope.T, 0, atol=1e-9)
    assert np.trace(fit.covariance) > 1


def test_a_linear_camera_is_recovered_exactly(flat, seen, values):
    fit = balance(*flat(seen), values)
    true = paper_xyz(values)[:, None] * np.linalg.inv(CAMERA / CAMERA.sum(axis=1, keepdims=True))
    assert_allclose(fit.matrix, true, rtol=1e-4)
    assert_allclose(lab_of(fit, COLOURS), xyz_to_lab(COLOURS @ true.T, WHITE), atol=1e-3)
    assert fit.rms < 1e-4
    assert set(fit.left_out) == set(seen)
    assert fit.unused == {}


# --- leave-one-out ------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("believing")
def test_leave_one_out_is_what_fitting_without_the_patch_gives(flat, seen, values):
    rgb = noisy(seen, 0.04)
    fit = balance(*flat(rgb), values)
    rows = list(fit.left_out)
    for name in rows[::4]:
        without = balance(*flat({n: v for n, v in rgb.items() if n != name}), values)
        found = lab_of(without, rgb[name])
        assert fit.left_out[name] == pytest.approx(float(difference(found, values.lab[name])), rel=1e-6)
        assert_allclose(fit.left_out_lab[rows.index(name)], found - values.lab[name], atol=1e-6)
    assert fit.rms == pytest.approx(np.sqrt(np.mean(np.square(list(fit.left_out.values())))))


def alike_in_lch(lab, size):
    """(n, 3) steps of CIELAB that are `size` (n, 3) in lightness, chroma and hue, weighed as in CIEDE2000 without T."""
    lightness, chroma, hue = lab[:, 0] - 50, np.hypot(lab[:, 1], lab[:, 2]), np.arctan2(lab[:, 2], lab[:, 1])
    weights = 1 + 0.015 * lightness**2 / np.sqrt(20 + lightness**2), 1 + 0.045 * chroma, 1 + 0.015 * chroma
    up, out, round_ = size.T * weights
    cos, sin = np.cos(hue), np.sin(hue)
    return np.stack([up, out * cos - round_ * sin, out * sin + round_ * cos], axis=-1)


DRAWS = 600


@pytest.mark.usefixtures("believing")
def test_stated_fit_error_matches_the_scatter(flat, seen, values):
    # Errors of one CIEDE2000-like size on every patch, as the fit assumes: half of that weight for greys.
    rng = np.random.default_rng(4)
    (card, light), names = flat(seen), list(seen)
    lab = np.array([values.lab[name] for name in names])
    greys = {patch.name for patch in card.pose.design.greys}
    size = 0.4 * np.array([[2.0] if name in greys else [1.0] for name in names])
    slopes = [slope_of(colour) for colour in COLOURS]
    found, stated = [], []
    for _ in range(DRAWS):
        moved = lab + alike_in_lch(lab, size * rng.normal(size=lab.shape))
        drawn = replace(values, lab=values.lab | dict(zip(names, map(tuple, moved), strict=True)))
        fit = balance(card, light, drawn)
        found.append(fit.xyz(COLOURS))
        stated.append([np.sqrt(np.diag(slope @ fit.covariance @ slope.T)) for slope in slopes])
    # So many draws tell a spread to 3 %: three and a half of that, for each of four colours' X, Y and Z.
    assert_allclose(np.mean(stated, axis=0), np.std(found, axis=0), rtol=3.5 / np.sqrt(2 * DRAWS))
    assert np.mean(stated) == pytest.approx(np.std(found, axis=0).mean(), rel=0.05)


# --- what is left out ---------------------------------------------------------------------------------------


def test_one_wrong_patch_is_left_out_and_named(flat, seen, values):
    rgb = noisy(seen, 0.003)
    clean = balance(*flat(rgb), values)
    wrong = balance(*flat(rgb | {"B8": 1.6 * rgb["B8"]}), values)
    assert list(wrong.unused) == ["B8"]
    assert wrong.unused["B8"] == "unlike the others"
    assert the_one(wrong.flags, "patches-left-out").facts["patches"] == ["B8"]
    assert difference(lab_of(wrong, COLOURS), lab_of(clean, COLOURS)).max() < 0.2


def test_a_stained_patch_in_a_photo_is_left_out(travel, plain_scene, plain):
    box = next(patch.box for patch in plain_scene.card.design.patches if patch.name == "C7")
    stain = Cover((box.x - 1, box.y - 1, box.w + 2, box.h + 2), plain_scene.card.reflectance["A9"])
    found = travel(replace(plain_scene, covers=(stain,)))
    assert "C7" in found.fit.unused
    assert difference(found.colour("left").lab, plain.colour("left").lab) < 0.3


def test_why_a_patch_was_left_out_is_told(flat, seen, values):
    card, light = flat(seen)
    changes = {
        "A5": {"clipped": 0.3},
        "A7": {"spread": 0.4},
        "B3": {"rgb": (0.0, 0.3, 0.1)},
    }
    samples = tuple(replace(s, **changes.get(s.name, {})) for s in card.samples)
    fit = balance(replace(card, samples=samples), light, values)
    assert fit.unused["A5"] == "overexposed"
    assert fit.unused["A7"] == "uneven"
    if "B3" in seen:
        assert fit.unused["B3"] == "too vivid"
    patches = the_one(fit.flags, "patches-left-out").facts["patches"]
    assert {"A5", "A7"} <= set(patches)
    assert "B3" not in patches  # nobody can help it


def test_too_few_patches_are_refused(flat, seen, values):
    few = dict(list(seen.items())[:20])
    with pytest.raises(FitError, match="Only 20 of the card's") as refusal:
        balance(*flat(few), values)
    assert refusal.value.remedy == "uncover-the-patches"


def test_the_values_of_another_card_are_refused(flat, seen, values):
    names = [name for name in values.lab if name != "paper"]
    mixed = dict(zip(names, (values.lab[name] for name in names[7:] + names[:7]), strict=True))
    with pytest.raises(FitError, match="do not explain what the phone saw") as refusal:
        balance(*flat(seen), replace(values, lab=values.lab | mixed))
    assert "this very card" in TERMINAL.remedy(refusal.value)


def test_a_poor_fit_is_flagged(flat, seen, values):
    fit = balance(*flat(noisy(seen, 0.06)), values)
    assert "card-fits-poorly" in codes(fit.flags)


# --- many cameras at once -----------------------------------------------------------------------------------


def test_many_cameras_are_fitted_as_each_would_be_alone(flat, seen, values):
    """By scipy's general least squares on the same residuals, white exact by substitution."""
    from scipy.optimize import least_squares

    fit = balance(*flat(noisy(seen, 0.03)), values)
    white, xyz = paper_xyz(values), lab_to_xyz(fit.patch_lab, WHITE)
    weights = lab_weights(fit.patch_lab, WHITE) * fit.patch_weight[:, None, None]
    rng = np.random.default_rng(8)
    cameras = fit.patch_rgb * (1 + rng.normal(0, 0.03, (3, *fit.patch_rgb.shape)))

    def matrix(free):
        free = free.reshape(3, 2)
        return np.column_stack([white - free.sum(axis=1), free])

    for camera, found in zip(cameras, fit_matrices(cameras, xyz, weights, white), strict=True):

        def off(free, camera=camera):
            return np.einsum("nij,nj->ni", weights, camera @ matrix(free).T - xyz).ravel()

        assert_allclose(found @ np.ones(3), white, rtol=1e-12)
        assert_allclose(found, matrix(least_squares(off, np.zeros(6), xtol=1e-12).x), atol=1e-3)


# --- the photo ----------------------------------------------------------------------------------------------


def test_a_brighter_exposure_changes_nothing(travel, plain_scene, plain):
    brighter = travel(replace(plain_scene, phone=replace(plain_scene.phone, exposure=0.5)))
    assert (
        difference(brighter.colour("left").lab, plain.colour("left").lab) < 0.5
    )  # one code of the red ink's blue is 0.8


def test_nothing_is_changed_and_the_answer_is_the_same(flat, seen, values):
    card, light = flat(noisy(seen, 0.02))
    one, two = balance(card, light, values), balance(card, light, values)
    assert np.array_equal(one.matrix, two.matrix)
    assert one.left_out == two.left_out
    for array in (one.matrix, one.covariance, one.left_out_lab, one.patch_lab, one.patch_rgb, one.paper_xyz):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_glare_on_patches_is_left_out_not_believed(travel, plain_scene, plain):
    found = travel(replace(plain_scene, glare=Glare((78, 117), 4, 0.25)))
    assert "D5" in found.fit.unused
    assert difference(found.colour("right").lab, plain.colour("right").lab) < 0.4
