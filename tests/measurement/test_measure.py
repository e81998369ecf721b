"""From a file to numbers: the same photo says the same, however it is held, stored and asked."""

from __future__ import annotations

import hashlib
import json
import warnings
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image

from swatchcam.errors import CardError, FileError, UsageError
from swatchcam.measurement.check import check_photo
from swatchcam.measurement.measure import measure
from swatchcam.measurement.verdict import between
from swatchcam.messages.surface import TERMINAL
from swatchcam.report.measurement import check_dict, measurement_dict
from tests.codes import codes
from tests.worlds.lens import Pose
from tests.worlds.phone import stored
from tests.worlds.printers import write_values
from tests.worlds.scene import Loose, ink, render, write_jpeg
from tests.worlds.spectra import difference, reflectance_lab, reflectance_xyz
from tests.worlds.spectra import illuminant as light_of

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it says at import that plotting is not there
    import colour

SMALL = (1200, 900)
NOISE = 0.3  # CIEDE2000 between two photos of one scene, a little more than is seen


@pytest.fixture(scope="module")
def measured(fair, values_path):
    return measure(str(fair.path), str(values_path))


def labs(measurement):
    return np.array([colour.lab for colour in measurement.colours])


def apart(one, other):
    """Largest CIEDE2000 between the strips of two measurements."""
    return difference(labs(one), labs(other)).max()


# --- one photo ----------------------------------------------------------------------------------------------


def test_a_fair_photo_is_measured_within_its_own_interval(measured, fair):
    for found in measured.colours:
        assert difference(found.lab, fair.shot.truth[found.name]) < found.radius
    pair = between(*measured.colours[::-1])
    true = difference(fair.shot.truth["right"], fair.shot.truth["left"])
    assert pair.low <= true <= pair.high
    assert pair.delta_e == pytest.approx(true, abs=0.3)


def test_the_same_photo_gives_the_same_numbers(measured, fair, values_path):
    before = fair.path.read_bytes()
    assert measurement_dict(measure(str(fair.path), str(values_path))) == measurement_dict(measured)
    assert fair.path.read_bytes() == before


def test_every_state_is_there_and_the_flags_are_gathered(measured, fair, values_path):
    assert measured.photo.digest == hashlib.sha256(fair.path.read_bytes()).hexdigest()
    assert measured.values.path == str(values_path)
    assert measured.pose.design.name == "a5"
    states = (measured.photo, measured.pose, measured.light, measured.balance)
    assert measured.flags == tuple(flag for state in states for flag in state.flags)
    assert [colour.name for colour in measured.colours] == ["left", "right"]


def test_a_strip_is_asked_for_by_name(measured):
    assert measured.colour("right") is measured.colours[1]
    with pytest.raises(UsageError, match="no strip called 'middle'") as refusal:
        measured.colour("middle")
    assert TERMINAL.remedy(refusal.value) == "Choose one of: left, right."


# --- the same scene, held or stored in another way ----------------------------------------------------------


def test_upside_down_is_the_same(measured, fair_scene, values_path, tmp_path):
    turned = replace(fair_scene, pose=replace(fair_scene.pose, rotation=183), shot=2)
    path = write_jpeg(render(turned, (1600, 1200)), tmp_path / "turned.jpg")
    assert apart(measure(str(path), str(values_path)), measured) < NOISE


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_a_photo_stored_turned_is_the_same(measured, fair, values_path, tmp_path, orientation):
    path = write_jpeg(fair.shot, tmp_path / "stored.jpg", orientation=orientation)
    with Image.open(path) as image:
        assert np.asarray(image).shape == stored(fair.shot.pixels, orientation).shape
    found = measure(str(path), str(values_path))
    assert found.photo.pixels.shape == measured.photo.pixels.shape
    assert apart(found, measured) < 0.1


def test_another_photo_of_the_same_scene_is_the_same(measured, fair_scene, values_path, tmp_path):
    moved = replace(
        fair_scene,
        pose=Pose(rotation=-4, tilt_x=-6, tilt_y=10, fraction=0.8),
        phone=replace(fair_scene.phone, exposure=0.62),
        shot=3,
    )
    again = measure(str(write_jpeg(render(moved, (1600, 1200)), tmp_path / "again.jpg")), str(values_path))
    assert apart(again, measured) < 2 * NOISE


@pytest.fixture(scope="module")
def in_space(plain_scene, values_path, tmp_path_factory):
    """A scene measured from a photo in a colour space that cuts nothing off: the phone shows everything paler."""
    folder = tmp_path_factory.mktemp("spaces")

    def go(space):
        phone = replace(plain_scene.phone, space=space, saturation=0.65, electrons=5000, quality=98, subsampling=0)
        shot = render(replace(plain_scene, phone=phone), SMALL)
        return measure(str(write_jpeg(shot, folder / f"{space[0]}.jpg")), str(values_path))

    return go


def test_a_wider_colour_space_says_the_same_when_no_colour_is_cut_off(in_space):
    narrow, wide = in_space("sRGB"), in_space("Display P3")
    assert "P3" in wide.photo.colour_space
    assert narrow.balance.unused == wide.balance.unused == {}
    assert {colour.strip.cut for colour in (*narrow.colours, *wide.colours)} == {(0.0, 0.0, 0.0)}
    # What is left is noise, and the tone curve found on greys that are coded alike but rounded otherwise.
    assert apart(narrow, wide) < 0.4
    pairs = [between(*m.colours).delta_e for m in (narrow, wide)]
    assert pairs[0] == pytest.approx(pairs[1], abs=0.15)


def test_a_png_says_the_same_as_a_jpeg(measured, fair, values_path, tmp_path):
    path = tmp_path / "fair.png"
    Image.fromarray(fair.shot.pixels).save(path)
    assert apart(measure(str(path), str(values_path)), measured) < NOISE


# --- what was asked -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("illuminant", "observer"), [("D50", 2), ("A", 10), ("D65", 2)])
def test_another_light_and_observer_can_be_asked_of_a_card_with_spectra(
    fair, values_path, measured, illuminant, observer
):
    found = measure(str(fair.path), str(values_path), illuminant=illuminant, observer=observer)
    assert (found.values.illuminant, found.values.observer) == (illuminant, observer)
    assert found.values.uncertainty == 0.3
    for colour_found, usual in zip(found.colours, measured.colours, strict=True):
        true = reflectance_lab(fair.shot.spectra[usual.name], illuminant, observer)
        # As good as for the usual light, and nearer to its own truth than to that of D65 and 10 degrees.
        error = difference(colour_found.lab, true)
        assert error < difference(usual.lab, fair.shot.truth[usual.name]) + 0.7
        assert error < difference(colour_found.lab, fair.shot.truth[usual.name])


@pytest.fixture(scope="module")
def by_colours(fair, lab_path):
    """The photo measured by a card of which CIELAB is known and no more."""
    return measure(str(fair.path), str(lab_path))


def test_a_card_of_colours_alone_says_wider_intervals(by_colours, measured):
    for found, usual in zip(by_colours.colours, measured.colours, strict=True):
        assert found.radius > 1.2 * usual.radius


def test_a_card_of_colours_alone_tells_differences(by_colours, fair):
    pair = between(*by_colours.colours[::-1])
    true = difference(fair.shot.truth["right"], fair.shot.truth["left"])
    assert pair.low <= true <= pair.high
    assert pair.delta_e == pytest.approx(true, abs=0.3)


def test_a_card_of_colours_alone_keeps_the_truth_within_its_interval(by_colours, fair):
    for found in by_colours.colours:
        assert difference(found.lab, fair.shot.truth[found.name]) < found.radius


def test_a_card_without_spectra_says_that_it_had_to_adapt(fair, lab_path, measured):
    found = measure(str(fair.path), str(lab_path), illuminant="D50", observer=2)
    assert "card-values-adapted" in codes(found.flags + found.values.flags)
    assert found.colours[0].radius > measured.colours[0].radius


def test_without_values_the_card_is_judged_from_its_photo_and_says_so(fair, measured):
    found = measure(str(fair.path))
    facts = measurement_dict(found)
    assert facts["card"]["grade"] == "photographed"
    assert facts["absolute_values_may_be_judged"] is False
    assert measurement_dict(measured)["absolute_values_may_be_judged"] is True
    assert "card-nominal" in codes(found.flags)
    assert found.colours[0].radius > 2 * measured.colours[0].radius
    # A difference may be judged, by its interval: what is wrong with the print's values is mostly the same in both.
    true = difference(fair.shot.truth["right"], fair.shot.truth["left"])
    pair = between(*found.colours[::-1])
    assert pair.low <= true <= pair.high
    assert pair.high - pair.low > between(*measured.colours).high - between(*measured.colours).low


def test_strips_beside_the_card_are_measured_when_asked_for(plain_scene, values_path, tmp_path):
    piece = Loose("below", (40, 160, 40, 30), ink({"green": 0.5}))
    scene = replace(plain_scene, loose=(piece,), pose=Pose(fraction=0.62))
    shot = render(scene, (1600, 1200))
    path = str(write_jpeg(shot, tmp_path / "beside.jpg"))
    assert [c.name for c in measure(path, str(values_path)).colours] == ["left", "right"]
    found = measure(path, str(values_path), beside=True)
    assert [c.name for c in found.colours] == ["left", "right", "beside-1"]
    assert difference(found.colours[2].lab, shot.truth["below"]) < 2.5


def test_values_of_another_design_are_refused(fair, printed, tmp_path):
    other = write_values(tmp_path / "halm-a4.csv", "a4", printed.values())
    with pytest.raises(CardError, match="of design 'a5'"):
        measure(str(fair.path), str(other))


def test_a_missing_photo_is_refused(tmp_path):
    with pytest.raises(FileError, match="no such file"):
        measure(str(tmp_path / "gone.jpg"))


# --- the formulas, by others --------------------------------------------------------------------------------


def test_reported_colours_are_those_that_two_libraries_find_of_the_reflectance(fair, values_path):
    from skimage.color import xyz2lab

    for illuminant, observer in (("D65", 10), ("D50", 2)):
        found = measure(str(fair.path), str(values_path), illuminant=illuminant, observer=observer)
        reflectance = np.array([c.reflectance for c in found.colours])
        xyz = reflectance_xyz(reflectance, light_of(illuminant), observer) / 100
        reported = [[d[axis] for axis in "Lab"] for d in measurement_dict(found)["strips"]]
        # The libraries' white points differ from ASTM E308 in the fifth digit: 0.01 in b*. Reports have two decimals.
        assert_allclose(reported, xyz2lab(xyz, illuminant=illuminant, observer=str(observer)), atol=0.02)
        name = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}[observer]
        assert_allclose(reported, colour.XYZ_to_Lab(xyz, colour.CCS_ILLUMINANTS[name][illuminant]), atol=0.02)


def test_reported_differences_agree_with_two_libraries(fair, values_path):
    from skimage.color import deltaE_ciede2000, deltaE_cmc

    facts = check_dict(check_photo(str(fair.path), str(values_path)))
    left, right = ([d[axis] for axis in "Lab"] for d in facts["sample_photo"]["strips"])
    told = facts["difference"]
    # Two decimals in every number: 0.01 at most in a difference near 1.
    for found in (deltaE_ciede2000(left, right), colour.difference.delta_E_CIE2000(left, right)):
        assert told["ciede2000"] == pytest.approx(float(found), abs=0.015)
    for found in (deltaE_cmc(left, right, kL=2, kC=1), colour.difference.delta_E_CMC(left, right, l=2, c=1)):
        assert told["cmc_2_1"] == pytest.approx(float(found), abs=0.015)
    assert told["delta_L"] == pytest.approx(right[0] - left[0], abs=0.011)
    assert told["delta_C"] == pytest.approx(np.hypot(*right[1:]) - np.hypot(*left[1:]), abs=0.015)


def test_a_report_is_plain_numbers_and_words(measured):
    text = json.dumps(measurement_dict(measured), allow_nan=False)
    facts = json.loads(text)
    assert facts["conditions"] == {"illuminant": "D65", "observer_deg": 10, "space": "CIELAB"}
    for told, found in zip(facts["strips"], measured.colours, strict=True):
        assert [told[axis] for axis in "Lab"] == pytest.approx(found.lab, abs=0.0051)
        assert told["C"] == pytest.approx(np.hypot(*found.lab[1:]), abs=0.0051)
        assert told["h_deg"] == pytest.approx(np.degrees(np.arctan2(found.lab[2], found.lab[1])) % 360, abs=0.051)
        assert told["interval95_ciede2000"] == pytest.approx(found.radius, abs=0.0051)
