"""What cannot be had from the pigments at hand is said, and what would help; so is how a match holds in other light."""

from __future__ import annotations

import numpy as np
import pytest

from swatchcam.mixing.gamut import HIT, LIGHTS, Means, metameric_shift, reach_of
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.search import USUAL_LIMITS, Limits, Target, mixes, new_pot
from tests.worlds.inks import smoothest_reflectance, strip_reflectance
from tests.worlds.inkworld import film_world, made_by, usual
from tests.worlds.spectra import SHAPE, WAVELENGTHS, reflectance_lab

VIOLET = strip_reflectance({"violet": 0.5, "golden": 0.3})
METAMER = smoothest_reflectance(reflectance_lab(VIOLET))


@pytest.fixture(scope="module")
def palette():
    return usual()[1]


def reached(palette, target, limits=USUAL_LIMITS):
    vessel = new_pot(palette)
    best = min(mixes(palette, target, vessel, limits), key=lambda mix: mix.distance)
    return best, reach_of(palette, target, vessel, limits, best)


def means(reach):
    return {need.means for need in reach.needs}


@pytest.mark.parametrize(
    "hidden", [{"red": 1.0}, {"blue": 0.3, "yellow": 1.0}, {"black": 0.2, "blue": 0.3, "red": 0.5}]
)
def test_what_can_be_had_needs_nothing(palette, hidden):
    best, reach = reached(palette, made_by(palette, hidden))
    assert reach.hit
    assert reach.needs == ()
    assert reach.distance == best.distance <= HIT


@pytest.mark.parametrize(
    ("lab", "way"),
    [
        ((60.0, -75.0, 40.0), "more vivid"),
        ((75.0, 55.0, 90.0), "more vivid"),
        ((45.0, 45.0, -70.0), "more vivid"),
        ((97.0, 0.0, 0.0), "lighter"),
    ],
)
def test_what_no_mix_gives_needs_another_pigment(palette, lab, way):
    best, reach = reached(palette, Target(lab, "out of reach"))
    assert not reach.hit
    assert reach.distance == best.distance > HIT
    (another,) = [need for need in reach.needs if need.means == Means.ANOTHER_PIGMENT]
    assert way in another.direction


def test_a_deep_black_is_bought_ready_mixed(palette):
    _, reach = reached(palette, Target((6.0, 0.5, 0.5), "black"), Limits(most=3.0))
    assert Means.READY_BLACK in means(reach)


@pytest.mark.parametrize("lab", [(6.0, 25.0, 5.0), (45.0, 40.0, -75.0)])
def test_of_what_is_no_black_no_black_is_said(palette, lab):
    _, reach = reached(palette, Target(lab, "dark red, vivid blue"))
    assert not reach.hit
    assert Means.READY_BLACK not in means(reach)


def test_what_more_of_the_same_would_give_needs_a_stronger_load(palette):
    deep = made_by(palette, {"red": 4.0, "yellow": 4.0})
    best, reach = reached(palette, deep, Limits(most=3.0))
    assert best.load <= 3.0 + 1e-9
    (stronger,) = [need for need in reach.needs if need.means == Means.STRONGER_LOAD]
    assert stronger.load == pytest.approx(8, rel=0.05)
    assert stronger.over == {}
    assert stronger.nearest < 0.6 * best.distance


def test_a_limit_of_one_pigment_is_told_too(palette):
    _, reach = reached(palette, made_by(palette, {"yellow": 5.0}), Limits(each={"yellow": 2.0}))
    (stronger,) = [need for need in reach.needs if need.means == Means.STRONGER_LOAD]
    assert stronger.over["yellow"] == pytest.approx(5, rel=0.05)


def test_a_light_limit_is_no_reason_where_it_does_not_bind(palette):
    _, reach = reached(palette, Target((60.0, -75.0, 40.0), "vivid green"))
    assert Means.STRONGER_LOAD not in means(reach)


def test_one_bottle_more_is_told_where_it_helps(palette):
    hidden = {"blue": 0.6, "red": 0.5, "yellow": 1.0}
    _, reach = reached(palette, made_by(palette, hidden), Limits(things=2))
    (more,) = [need for need in reach.needs if need.means == Means.MORE_PIGMENTS]
    # Black in place of red makes the same colour just as exactly: which of the two is told is left to rounding.
    assert len(more.pigments) == 3
    assert {"blue", "yellow"} < set(more.pigments)
    assert ("red" in more.pigments) != ("black" in more.pigments)
    assert more.nearest < 0.05


# --- under another light -------------------------------------------------------------------------------------


@pytest.mark.parametrize("light", LIGHTS)
def test_equal_spectra_are_equal_under_every_light(light):
    assert metameric_shift(VIOLET, VIOLET, light) == pytest.approx(0, abs=1e-9)
    # The correction takes away what differs under D65 already.
    assert metameric_shift(0.8 * VIOLET, VIOLET, light) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("light", LIGHTS)
def test_the_shift_is_much_the_same_either_way(light):
    one, other = metameric_shift(VIOLET, METAMER, light), metameric_shift(METAMER, VIOLET, light)
    assert one > 1
    # With equal colours under D65 only CIEDE2000 itself is left, which is symmetric.
    assert one == pytest.approx(other, rel=0.01)


@pytest.mark.parametrize("light", LIGHTS)
def test_the_shift_is_that_of_a_direct_computation(light):
    """CIE 15:2018, clause 9, by colour-science from the spectra; 10 degrees."""
    import colour

    cmfs = colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"].copy().align(SHAPE)

    def xyz(reflectance, name):
        spectrum = colour.SpectralDistribution(reflectance, WAVELENGTHS)
        lamp = colour.SDS_ILLUMINANTS[name].copy().align(SHAPE)
        return colour.sd_to_XYZ(spectrum, cmfs, lamp, method="Integration")

    sample = strip_reflectance({"magenta": 0.5, "blue": 0.1, "yellow": 0.15, "black": 0.07})
    corrected = xyz(sample, light) * xyz(VIOLET, "D65") / xyz(sample, "D65")
    white = colour.XYZ_to_xy(xyz(np.ones(81), light))
    labs = [colour.XYZ_to_Lab(each / 100, white) for each in (corrected, xyz(VIOLET, light))]
    expected = float(colour.delta_E(*labs, method="CIE 2000"))
    assert metameric_shift(sample, VIOLET, light) == pytest.approx(expected, abs=0.01)


# --- faults --------------------------------------------------------------------------------------------------


def test_with_four_bottles_allowed_a_fifth_may_be_thought_of():
    names = "black", "blue", "green", "red", "yellow"
    many = learn(film_world(2, names).series(2))
    assert reached(many, Target((45.0, 45.0, -75.0), "vivid"), Limits(things=4))[1].needs


@pytest.mark.parametrize("limits", [Limits(things=2), Limits(most=1.2)])
def test_what_these_pigments_can_give_needs_no_other(palette, limits):
    _, reach = reached(palette, made_by(palette, {"blue": 0.6, "red": 0.5, "yellow": 1.0}), limits)
    assert any(need.nearest is not None and need.nearest < 0.05 for need in reach.needs)
    assert Means.ANOTHER_PIGMENT not in means(reach)
