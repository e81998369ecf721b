"""What a photo's channels see of a spectrum is learned from the card's patches, for cameras and lights at hand.

No photo is drawn here: camera, light and inks are spectra, and what the camera sees is their sum. The tool knows the
cameras for building, so half of those are asked of it as strangers, taken out of its table.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.cielab import lab_to_xyz, xyz_to_lab
from swatchcam.colorimetry.spectra import tables
from swatchcam.illumination.solve import Field, Light, Tone
from swatchcam.measurement import camera_response as module
from swatchcam.measurement.camera_response import MODES, known_spectra, learn_response, predict
from swatchcam.measurement.colour_matrix import balance
from tests.worlds.inks import BUILD_PIGMENTS, random_recipe, strip_reflectance
from tests.worlds.spectra import (
    BUILD_CAMERAS,
    BUILD_FAIR_LIGHTS,
    cameras,
    difference,
    illuminant,
    reflectance_lab,
    weights,
)

STRANGERS = BUILD_CAMERAS[1::4]
LIGHTS = ("daylight 5000", "window north", "cool LED 5100", "cool LED b")
NOISE = 0.002  # relative, of each channel of each patch
EYE = weights(illuminant("D65"), 10)


@pytest.fixture(scope="module")
def inks():
    """(60, 81) strips of textile pigments, none of them on the card."""
    rng = np.random.default_rng(12)
    return np.array([strip_reflectance(random_recipe(rng, BUILD_PIGMENTS)) for _ in range(60)])


@pytest.fixture(scope="module", autouse=True)
def strangers():
    """The tool's table of cameras, without those that are asked here."""
    known = [eye / eye.max() for name, eye in cameras().items() if name in STRANGERS]
    keep = [eye for eye in tables().cameras if min(np.abs(eye - other).max() for other in known) > 1e-4]
    assert len(keep) == len(tables().cameras) - len(STRANGERS)
    fewer = replace(tables(), cameras=np.array(keep))
    eyes = (fewer.cameras[:, None] * fewer.lights[None, :, :, None]).reshape(-1, 81, 3)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_eyes", lambda: eyes)
        yield


def true_weights(camera, light, paper):
    """(81, 3) weights of a camera under a light; the stock gives 1 in each channel."""
    seen = cameras()[camera] * BUILD_FAIR_LIGHTS[light][:, None]
    return seen / (paper @ seen)


@pytest.fixture(scope="module")
def fitted(plain, printed, values):
    """Camera, light -> the balance of a photo without fault, but for a little noise."""
    nothing = Tone((0.0,) * len(plain.light.tone.terms), 0.0)
    even = Field(np.zeros((1, 3)), np.zeros((1, 1)), 0, plain.card.pose.design.size_mm)
    light = Light(nothing, even, even, 0.0, 0.0, 1.0, 0.0, ())

    def make(eye, known=values):
        rng = np.random.default_rng(3)
        samples = []
        for sample in plain.card.samples:
            rgb = printed.reflectance[sample.name] @ eye * (1 + rng.normal(0, NOISE, 3))
            seen = tuple(float(v) for v in rgb)
            samples.append(replace(sample, rgb=seen, rgb_std=(1e-4,) * 3, spread=0.0, clipped=0.0))
        return balance(replace(plain.card, samples=tuple(samples)), light, known)

    return make


@pytest.fixture(scope="module")
def learned(fitted, printed, values):
    """(camera, light) -> true weights, balance and response."""
    found = {}
    for camera in STRANGERS:
        for light in LIGHTS:
            eye = true_weights(camera, light, printed.paper)
            fit = fitted(eye)
            found[camera, light] = eye, fit, learn_response(fit, values)
    return found


def rms(off):
    return float(np.sqrt(np.mean(off**2)))


def in_xyz(off, fit):
    """Errors of channels (n, 3) in units of XYZ, where channels of all cameras count alike."""
    return fit.xyz(off)


def test_inks_that_are_not_on_the_card_are_predicted_better_than_by_matrix_or_by_what_cameras_do_on_average(
    learned, inks, monkeypatch, values
):
    by_response, by_matrix, by_mean = [], [], []
    for eye, fit, response in learned.values():
        seen = inks @ eye
        by_response.append(rms(in_xyz(inks @ response.weights - seen, fit)))
        by_matrix.append(rms(inks @ EYE - fit.xyz(seen)))  # what a matrix takes the camera for: an eye
        with monkeypatch.context() as patch:
            patch.setattr(module, "MISFIT", 1e3)  # the patches then say nothing
            by_mean.append(rms(in_xyz(inks @ learn_response(fit, values).weights - seen, fit)))
    # 0.21 of XYZ against 0.88 and 1.35 were found.
    assert np.mean(by_response) < 0.3 * np.mean(by_mean)
    assert np.mean(by_response) < 0.2 * np.mean(by_matrix)


def test_the_stated_modes_cover_the_truth(learned, inks):
    """How far each ink is off in each channel, over what the modes say: one on average if they are right."""
    ratios = []
    for eye, _, response in learned.values():
        off = inks @ (response.weights - eye)
        stated = np.einsum("nl,klc->nkc", inks, response.modes)
        ratios.append(off / np.sqrt((stated**2).sum(axis=1)))
    ratios = np.array(ratios)
    # Inks are alike and share one error in a photo, so that each photo is about one draw: wide limits.
    assert 0.3 < np.mean(ratios**2) < 1.3
    assert np.mean(np.abs(ratios) > 1.96) < 0.06


@pytest.mark.parametrize("camera", STRANGERS[:3])
def test_bare_white_gives_one_and_no_doubt(learned, printed, values, camera):
    _, _, response = learned[camera, "window north"]
    paper = values.spectra["paper"]
    assert_allclose(paper @ response.weights, 1, atol=2e-3)
    assert np.sqrt((np.einsum("l,klc->kc", paper, response.modes) ** 2).sum(axis=0)).max() < 5e-3


def test_what_the_greys_will_show_is_predicted(learned, printed, values):
    greys = [name for name, lab in values.lab.items() if np.hypot(*lab[1:]) < 6]
    assert len(greys) > 6
    for eye, _, response in learned.values():
        predicted = predict(response, values)
        assert set(predicted) == set(values.lab)
        for name in greys:
            assert_allclose(np.cbrt(predicted[name]), np.cbrt(printed.spectra[name] @ eye), atol=0.006)


def test_colours_alone_teach_less_than_spectra(fitted, printed, values, inks):
    by_lab = replace(values, spectra={})
    errors = {"spectra": [], "lab": []}
    for camera in STRANGERS:
        eye = true_weights(camera, "cool LED b", printed.paper)
        for key, known in (("spectra", values), ("lab", by_lab)):
            fit = fitted(eye, known)
            response = learn_response(fit, known)
            errors[key].append(rms(in_xyz(inks @ (response.weights - eye), fit)))
    assert np.mean(errors["spectra"]) < 0.4 * np.mean(errors["lab"])


def test_spectra_guessed_from_colours_have_those_colours(values):
    names = list(values.lab)
    guessed = known_spectra(values, names)
    lab = np.array([values.lab[name] for name in names])
    assert difference(reflectance_lab(guessed), lab).max() < 0.5
    assert guessed.shape == (len(names), 81)


def test_the_answer_is_read_only_and_the_same_each_time(learned, values):
    _, fit, response = learned[STRANGERS[0], LIGHTS[0]]
    again = learn_response(fit, values)
    assert np.array_equal(again.weights, response.weights)
    assert response.modes.shape == (MODES, 81, 3)
    for array in (response.weights, response.modes):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_the_learned_eye_gives_nearer_colours_than_the_matrix(learned, inks, values):
    """Each ink's colour: by the matrix, and by the matrix less what the response says of such a spectrum."""
    white = lab_to_xyz(np.array([100.0, 0, 0]), EYE.sum(axis=0))
    true = reflectance_lab(inks)
    by_matrix, by_response = [], []
    for eye, fit, response in learned.values():
        xyz = fit.xyz(inks @ eye)
        excess = fit.xyz(inks @ response.weights) - inks @ EYE
        by_matrix.append(difference(xyz_to_lab(np.maximum(xyz, 1e-3), white), true).mean())
        by_response.append(difference(xyz_to_lab(np.maximum(xyz - excess, 1e-3), white), true).mean())
    assert np.mean(by_response) < 0.2 * np.mean(by_matrix)  # 0.28 and 2.06 were found
