"""The curve of strength is that of drawn films and of dyed cloth; relative strength is what the field's terms say."""

from __future__ import annotations

import csv

import colour
import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry import strength_curve
from swatchcam.colorimetry.intervals import unit_metric
from swatchcam.colorimetry.strength_curve import StrengthCurve, curve_over_cloth, place_on
from tests.paths import REFERENCE
from tests.worlds import inks
from tests.worlds.spectra import WAVELENGTHS, difference, reflectance_lab

FILM = 0.05  # mm
RECIPES = [{"red": 1.2, "yellow": 0.4}, {"blue": 0.5}, {"green": 0.3, "black": 0.05}, {"golden": 2.0}, {"violet": 0.2}]
CLOTHS = ["white", "natural", "grey", "pink"]


def same_world(monkeypatch, *, scatter, sunk=0.0, surface=(0.0, 0.0)):
    """What is not known of ink and cloth, set to what was drawn."""
    monkeypatch.setattr(strength_curve, "SCATTER", (np.log(scatter), 0.8))
    monkeypatch.setattr(strength_curve, "SUNK", (sunk, 0.1))
    monkeypatch.setattr(strength_curve, "OUTSIDE", (surface[0], 0.01))
    monkeypatch.setattr(strength_curve, "INSIDE", (surface[1], 0.12))


def absorption(recipe):
    """(81,) of a film of the usual thickness."""
    return FILM * sum(load * inks.BUILD_PIGMENTS[name].absorption for name, load in recipe.items())


def film(recipe, strength, ground, scatter, surface=(0.0, 0.0)):
    """(81,) of a drawn film whose scatter is the same at all wavelengths; shares no code with the package."""
    inner = inks.film_reflectance(absorption(recipe), np.full(81, scatter), strength, ground)
    return inks.saunderson(inner, *surface)


# --- against drawn films ------------------------------------------------------------------------------------


@pytest.mark.parametrize("recipe", RECIPES, ids="+".join)
@pytest.mark.parametrize("ground", CLOTHS)
@pytest.mark.parametrize(("scatter", "surface"), [(0.03, (0.0, 0.0)), (0.01, inks.SURFACE), (0.2, (0.04, 0.4))])
def test_it_is_the_colour_of_a_drawn_film_in_any_thickness(monkeypatch, recipe, ground, scatter, surface):
    same_world(monkeypatch, scatter=scatter, surface=surface)
    under = inks.cloth(ground)
    curve = curve_over_cloth(film(recipe, 1.0, under, scatter, surface), under)
    for at in (-1.5, -0.7, -0.1, 0.0, 0.1, 0.7, 1.5):
        drawn = reflectance_lab(film(recipe, np.exp(at), under, scatter, surface))
        # The curve is drawn by points 0.05 apart; between them it is straight.
        assert_allclose(curve.labs(np.array([at]))[0], drawn, rtol=0, atol=0.03)


@pytest.mark.parametrize("recipe", RECIPES, ids="+".join)
@pytest.mark.parametrize("ground", CLOTHS)
def test_a_drawn_film_is_placed_on_its_curve_within_the_doubt(recipe, ground):
    # Here scatter, surface and pigment are not those that the curve takes for granted.
    under = inks.cloth(ground)
    curve = curve_over_cloth(inks.strip_reflectance(recipe, FILM, under), under)
    for factor in (0.7, 0.85, 1.15, 1.4):
        drawn = reflectance_lab(inks.strip_reflectance(recipe, factor * FILM, under))
        at, left = place_on(curve, drawn)
        along, across = doubt_at(curve, at)
        # Of one normal number, 99 % lie within 2.58 standard deviations; of two together within 3.03.
        assert abs(at - np.log(factor)) < 2.58 * along
        if abs(np.log(factor)) < 0.2:
            assert left < 3.03 * across


def doubt_at(curve, at):
    """One standard deviation of the curve's doubts: of ln strength along it, of CIEDE2000 across."""
    metric = unit_metric(curve.labs(np.array([at]))[0])
    slope, moved = metric @ curve.slope(at), metric @ curve.doubts(np.array([at]))[0]
    along = slope @ moved / (slope @ slope)
    return np.sqrt((along**2).sum()), np.linalg.norm(moved - np.outer(slope, along))


# --- what it goes through -----------------------------------------------------------------------------------


@pytest.mark.parametrize("recipe", RECIPES, ids="+".join)
@pytest.mark.parametrize("ground", ["white", "natural", "pink", "black"])
def test_at_strength_1_it_is_the_ink_itself_and_nothing_is_in_doubt(recipe, ground):
    under = inks.cloth(ground)
    seen = inks.strip_reflectance(recipe, FILM, under)
    curve = curve_over_cloth(seen, under)
    assert_allclose(curve.labs(np.zeros(1))[0], reflectance_lab(seen), atol=0.02)
    assert_allclose(curve.doubts(np.zeros(1)), 0, atol=1e-9)
    at, left = place_on(curve, reflectance_lab(seen))
    assert (at, left) == (pytest.approx(0, abs=1e-9), pytest.approx(0, abs=0.01))


def test_a_hue_that_clear_base_alone_would_darken_more_is_missed_by_a_hair():
    # A pale violet on grey cloth takes away less red light than a film's surface is thought to.
    seen, under = inks.strip_reflectance({"violet": 0.2}, FILM, "grey"), inks.cloth("grey")
    found = curve_over_cloth(seen, under).labs(np.zeros(1))[0]
    assert 0.02 < difference(found, reflectance_lab(seen)) < 0.3


@pytest.mark.parametrize("recipe", RECIPES, ids="+".join)
def test_on_white_cloth_a_stronger_ink_is_darker_throughout(recipe):
    under = inks.cloth("white")
    curve = curve_over_cloth(inks.strip_reflectance(recipe, FILM, under), under)
    assert (np.diff(curve.lab[:, 0]) < 0).all()
    assert curve.slope(0.0)[0] < 0


@pytest.mark.parametrize("ground", [*CLOTHS, "black", "blue"])
@pytest.mark.parametrize("recipe", RECIPES[:3], ids="+".join)
def test_an_ever_weaker_ink_ends_as_bare_cloth(monkeypatch, recipe, ground):
    same_world(monkeypatch, scatter=0.03)
    monkeypatch.setattr(strength_curve, "REACH", 12.0)
    under = inks.cloth(ground)
    curve = curve_over_cloth(film(recipe, 1.0, under, 0.03), under)
    assert difference(curve.lab[0], reflectance_lab(under)) < 0.01


def test_dyed_cloth_follows_the_single_constant(monkeypatch):
    same_world(monkeypatch, scatter=0.03, sunk=1.0)
    under = inks.cloth("natural")
    ratio = (1 - under) ** 2 / (2 * under)
    dye = 2.0 * absorption(RECIPES[1])

    def dyed(times):
        whole = ratio + times * dye
        return 1 + whole - np.sqrt(whole * (whole + 2))

    curve = curve_over_cloth(dyed(1.0), under)
    for at in (-1.2, 0.3, 1.2):
        assert_allclose(curve.labs(np.array([at]))[0], reflectance_lab(dyed(np.exp(at))), atol=0.03)


# --- hard cloths and inks -----------------------------------------------------------------------------------

HARD = {
    "lighter than its cloth": (np.full(81, 0.6), inks.cloth("grey")),
    "over black": (inks.strip_reflectance({"yellow": 3.0}, 0.1, "black"), inks.cloth("black")),
    "bare cloth": (inks.cloth("white"), inks.cloth("white")),
    "black ink": (np.full(81, 0.002), inks.cloth("white")),
    "nothing comes back": (np.zeros(81), np.zeros(81)),
    "all comes back": (np.ones(81), np.ones(81)),
    "brighter than white": (np.full(81, 1.05), np.full(81, 1.1)),
}


@pytest.mark.parametrize("kind", HARD)
def test_no_cloth_or_ink_leaves_it_without_numbers(kind):
    curve = curve_over_cloth(*HARD[kind])
    assert curve.lab.shape == (61, 3)
    assert np.isfinite(curve.lab).all()
    assert np.isfinite(curve.turned).all()
    assert np.isfinite(curve.slope(0.3)).all()


def test_ink_that_no_absorption_makes_so_light_moves_nowhere():
    curve = curve_over_cloth(*HARD["lighter than its cloth"])
    assert np.linalg.norm(curve.slope(0.0)) < 2.0


def test_beyond_its_ends_it_stays_where_it_ends():
    curve = curve_over_cloth(inks.strip_reflectance(RECIPES[0]), inks.cloth("white"))
    assert_allclose(curve.labs(np.array([-9.0, 9.0])), curve.lab[[0, -1]])


# --- the field's terms: relative strength, residual difference at equal strength ----------------------------


def table():
    with open(REFERENCE / "tinting_strength.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


ROWS = table()
CASE_B = [row for row in ROWS if row["kind"] == "case B"]
GROUND = 0.02


def remission(ratio):
    return 1 + ratio - np.sqrt((1 + ratio) ** 2 - 1)


def pigment(height, centre, width, at):
    return height * np.exp(-(((at - centre) / width) ** 2))


TESTS = {"A": (0.9 * 2, 540, 50), "B": (1.8, 550, 55)}
STANDARD = (2.0, 540, 50)


def dyed_curve(monkeypatch, shape):
    """The curve of a pigment that the cloth has taken in: its K/S and that of the ground add up."""
    same_world(monkeypatch, scatter=0.03, sunk=1.0)
    ground = np.full(81, remission(GROUND))
    return curve_over_cloth(remission(GROUND + pigment(*shape, WAVELENGTHS)), ground)


def test_the_cases_of_the_table_are_built_as_its_head_says():
    # By sums at 10 nm, as the table was; what the package is given below are the same spectra at 5 nm.
    shape = colour.SpectralShape(400, 700, 10)
    at = shape.wavelengths
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values
    weights = light[:, None] * colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"].copy().align(shape).values
    xyz = remission(GROUND + pigment(*STANDARD, at)) @ weights * (100 / weights[:, 1].sum())
    assert_allclose(xyz, [40.22697, 29.09942, 64.82297], rtol=0, atol=5e-5)
    whole = {name: pigment(*each, at) for name, each in TESTS.items()}
    at_540 = next(float(row["value"]) for row in CASE_B if "540 nm" in row["quantity"])
    assert 100 * whole["B"][at == 540] / 2.0 == pytest.approx(at_540, abs=1e-4)
    plain = next(float(row["value"]) for row in CASE_B if "plain sum" in row["quantity"])
    assert 100 * whole["B"].sum() / pigment(*STANDARD, at).sum() == pytest.approx(plain, abs=1e-4)


def test_a_pigment_nine_tenths_as_strong_is_told_so_and_nothing_is_left(monkeypatch):
    assert {float(row["value"]) for row in ROWS if row["quantity"] == "all five criteria"} == {90.0}
    curve = dyed_curve(monkeypatch, STANDARD)
    test = reflectance_lab(remission(GROUND + pigment(*TESTS["A"], WAVELENGTHS)))
    at, left = place_on(curve, test)
    assert 100 * np.exp(at) == pytest.approx(90.0, abs=0.15)  # the curve is searched in steps of 0.2 %
    assert left == pytest.approx(0.0, abs=0.02)


def test_where_the_hue_differs_it_lies_among_the_criteria_and_leaves_no_more_than_any(monkeypatch):
    curve = dyed_curve(monkeypatch, TESTS["B"])
    standard = reflectance_lab(remission(GROUND + pigment(*STANDARD, WAVELENGTHS)))
    at, left = place_on(curve, standard)  # so many times as much of the test pigment
    values = [float(row["value"]) for row in CASE_B]
    residuals = [float(row["check"].split("residual")[1].split("dE00 ")[1].split(";")[0]) for row in CASE_B[:1]]
    residuals += [float(row["check"].split("dE00 ")[1].split(";")[0]) for row in CASE_B[2:]]
    assert min(values) < 100 / np.exp(at) < max(values)
    # The table sums at 10 nm up to 700 nm, the package at 5 nm up to 780 nm: 0.01 apart.
    assert left < min(residuals) + 0.01
    assert left > min(residuals) - 0.15  # nor does it find what is not there


def test_a_curve_is_a_plain_value():
    line = StrengthCurve(
        np.array([-1.0, 0.0, 1.0]), np.array([[60.0, 0, 0], [50, 10, 0], [40, 20, 0]]), np.zeros((1, 3, 3))
    )
    assert_allclose(line.slope(0.5), [-10, 10, 0])
    assert_allclose(line.labs(np.array([0.5])), [[45, 15, 0]])
    assert place_on(line, np.array([45.0, 15.0, 0.0])) == (pytest.approx(0.5, abs=1e-3), pytest.approx(0, abs=0.01))
