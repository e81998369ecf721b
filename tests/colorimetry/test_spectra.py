"""The published spectra: the stored file is what its recipe says, and gives the colours that a library gives."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from swatchcam.colorimetry.cielab import WHITE_POINTS
from swatchcam.colorimetry.spectra import on_grid, reflectance_to_lab, tables, xyz_weights
from swatchcam.resources import calibration_folder
from tests.colorimetry import shipped_spectra as recipe
from tests.worlds.spectra import BUILD_CAMERAS, FINAL_CAMERAS, WAVELENGTHS, cameras, difference

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it says at import that plotting is not there
    import colour

NAMES = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
CONDITIONS = [(light, observer) for light in ("A", "C", "D50", "D65") for observer in (2, 10)]


@pytest.fixture(scope="module")
def samples():
    """(14, 81) reflectances of the test colour samples of CIE 13.3, none of which the file holds."""
    return recipe.held_out()


# --- the file -----------------------------------------------------------------------------------------------


def test_the_stored_file_is_what_its_recipe_computes():
    fresh = recipe.tables()
    with np.load(calibration_folder() / "spectra.npz") as stored:
        assert set(stored.files) == set(fresh)
        for name, wanted in fresh.items():
            if wanted.dtype.kind == "U":
                assert_array_equal(stored[name], wanted)
            else:
                # Single precision: six digits of the largest.
                assert_allclose(stored[name], wanted, rtol=0, atol=2e-7 * np.abs(wanted).max(), err_msg=name)


def test_the_file_knows_the_cameras_for_building_and_no_other():
    def plain(eye):
        return eye / eye.max()

    known = [plain(eye) for eye in tables().cameras]
    for name in BUILD_CAMERAS:
        assert min(np.abs(eye - plain(cameras()[name])).max() for eye in known) < 1e-6
    for name in FINAL_CAMERAS:
        assert min(np.abs(eye - plain(cameras()[name])).max() for eye in known) > 1e-3


def test_the_tables_cannot_be_written_to():
    found = tables()
    for array in (found.wavelengths, found.cameras, found.lights, found.reflectances, *found.weights.values()):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_sensitivities_lights_and_reflectances_are_such():
    found = tables()
    assert_array_equal(found.wavelengths, WAVELENGTHS)
    assert found.cameras.min() >= 0
    assert_allclose(found.cameras.max(axis=(1, 2)), 1, rtol=1e-6)
    assert found.lights.min() >= 0
    assert 0 < found.reflectances.min() < found.reflectances.max() < 1
    # Red, green and blue of a camera see long, middle and short waves.
    peaks = found.wavelengths[found.cameras.argmax(axis=1)]
    assert (np.diff(peaks, axis=1) < 0).all()


def test_no_reflectance_is_there_twice_and_none_of_those_kept_for_tests():
    learned = tables().reflectances
    assert len(learned) == len(recipe.reflectances()) == 99 + 15 + 7
    off = np.abs(learned[:, None] - learned).max(axis=2)
    assert off[~np.eye(len(learned), dtype=bool)].min() > 1e-3
    assert np.abs(learned[:, None] - recipe.held_out()).max(axis=2).min() > 0.02


# --- the colours --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("light", "observer"), CONDITIONS)
def test_the_perfect_diffuser_is_white(light, observer):
    total = xyz_weights(light, observer).sum(axis=0)
    assert_allclose(total, WHITE_POINTS[light, observer], rtol=1e-12)
    assert_allclose(reflectance_to_lab(np.ones(81), light, observer), [100, 0, 0], atol=1e-9)


@pytest.mark.parametrize(("light", "observer"), CONDITIONS)
def test_samples_have_the_colours_that_a_library_sums_by_astm_e308(samples, light, observer):
    spectra = colour.MultiSpectralDistributions(samples.T, WAVELENGTHS)
    shape = colour.SpectralShape(360, 780, 1)
    cmfs = colour.MSDS_CMFS[NAMES[observer]].copy().align(shape)
    lamp = colour.SDS_ILLUMINANTS[light].copy().align(shape)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it tells every alignment
        xyz = np.asarray(colour.msds_to_XYZ(spectra, cmfs=cmfs, illuminant=lamp, method="ASTM E308"))
    # Sums in steps of 5 nm from 380 against 1 nm from 360: CIE 15 calls the former enough for almost everything.
    assert_allclose(samples @ xyz_weights(light, observer), xyz, atol=0.03)
    by_library = colour.XYZ_to_Lab(xyz / 100, colour.CCS_ILLUMINANTS[NAMES[observer]][light])
    assert difference(reflectance_to_lab(samples, light, observer), by_library).max() < 0.06


def test_black_has_a_colour():
    assert_allclose(reflectance_to_lab(np.zeros(81)), [0, 0, 0], atol=1e-3)


# --- the grid -----------------------------------------------------------------------------------------------


def test_a_spectrum_on_the_grid_stays_as_it_is_and_its_ends_are_continued(samples):
    assert_allclose(on_grid(WAVELENGTHS, samples), samples, rtol=1e-12)
    short = on_grid(WAVELENGTHS[4:61:2], samples[:, 4:61:2])
    assert_allclose(short[:, :4], np.repeat(samples[:, 4:5], 4, axis=1))
    assert_allclose(short[:, 61:], np.repeat(samples[:, 60:61], 20, axis=1))
    # What an instrument reads from 400 to 680 nm in steps of 10 gives the same colour, to a third of its own error.
    off = difference(reflectance_to_lab(short), reflectance_to_lab(samples))
    assert off[:8].max() < 0.12  # the samples of moderate chroma
    assert off.max() < 0.2  # two of the vivid ones, a red and a blue: 0.17 and 0.19 were found
    assert on_grid(WAVELENGTHS, samples[0]).shape == (81,)
