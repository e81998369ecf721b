"""Ink films and dyed cloth reflect what Kubelka, Munk and Saunderson say."""

from __future__ import annotations

import csv
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp

from swatchcam.colorimetry.kubelka_munk import (
    Surface,
    dyed_reflectance,
    film_reflectance,
    ratio_of_reflectance,
    reflectance_of_ratio,
)
from tests.paths import REFERENCE
from tests.worlds import inks

# Kubelka & Munk 1931, Kubelka 1948, Saunderson 1942: computed from the published formulas, film rows confirmed by
# integrating the differential equation; the mixing rows are constructed. The file's head says which is which.
with open(REFERENCE / "kubelka_munk.csv", encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(line for line in file if not line.startswith("#")))
shares = st.floats(0, 1, allow_nan=False)
amounts = st.floats(0, 50, allow_nan=False)


def column(kind, name):
    return np.array([float(row[name]) for row in ROWS if row["kind"] == kind])


def numbers(kind, pattern):
    found = [re.fullmatch(pattern, row["case"]) for row in ROWS if row["kind"] == kind]
    return np.array([[float(number) for number in match.groups()] for match in found if match]).T


def test_ratio_of_every_tabled_reflectance():
    # The table prints eight digits.
    assert_allclose(
        ratio_of_reflectance(column("ks_of_R", "value1")), column("ks_of_R", "value2"), rtol=5e-8, atol=1e-12
    )


def test_reflectance_of_every_tabled_ratio():
    assert_allclose(reflectance_of_ratio(column("R_of_ks", "value1")), column("R_of_ks", "value2"), rtol=0, atol=5.1e-9)


def test_film_over_black_and_over_white_as_tabled():
    k, s, x = numbers("film", r"K=(\S+) S=(\S+) X=(\S+)")
    assert_allclose(film_reflectance(k, s, x, 0.0), column("film", "value1"), rtol=0, atol=5.1e-9)
    assert_allclose(film_reflectance(k, s, x, 0.8), column("film", "value2"), rtol=0, atol=5.1e-9)


def test_film_that_absorbs_nothing_as_tabled():
    (x,) = numbers("film_limit", r"K=0 S=1 X=(\S+) over black")
    assert_allclose(film_reflectance(0.0, 1.0, x, 0.0), column("film_limit", "value1"), rtol=0, atol=5.1e-9)


def test_surface_as_tabled():
    (inner,) = numbers("saunderson", r"internal R=(\S+) k1=0.04 k2=0.6")
    assert_allclose(Surface(0.04, 0.6).outside(inner), column("saunderson", "value2"), rtol=0, atol=5.1e-9)


def test_dyed_cloth_as_in_the_constructed_rows():
    one, other = numbers("mix_single_constant", r"c1=(\S+) % c2=(\S+) %")
    mixed = [row for row in ROWS if row["kind"] == "mix_single_constant" and row["case"].startswith("c1")]
    found = dyed_reflectance(0.7875 * one + 0.425 * other, 0.8)
    assert_allclose(found, [float(row["value2"]) for row in mixed], rtol=0, atol=5.1e-9)


def test_a_film_is_that_of_an_independent_formula():
    # The scenes of the tests draw their films in the form with a, b and tanh, and share no code with the package.
    paste = inks.BUILD_PIGMENTS["green"]
    under = inks.cloth("natural")
    expected = inks.film_reflectance(2 * paste.absorption, 2 * paste.scatter + 0.35, 0.05, under)
    assert_allclose(film_reflectance(2 * paste.absorption, 2 * paste.scatter + 0.35, 0.05, under), expected, atol=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_a_film_grows_as_its_differential_equation_says(seed):
    # Kubelka & Munk 1931: dR/dX = S - 2 (K + S) R + S R², begun at the ground, integrated by a general library.
    rng = np.random.default_rng([1931, seed])
    k, s = np.exp(rng.uniform(np.log(0.01), np.log(20), 2))
    thickness, ground = rng.uniform(0.01, 2), rng.uniform(0, 1)
    grown = solve_ivp(
        lambda _, r: s - 2 * (k + s) * r + s * r * r, (0, thickness), [ground], method="LSODA", rtol=1e-10, atol=1e-12
    )
    assert_allclose(film_reflectance(k, s, thickness, ground), grown.y[0, -1], rtol=0, atol=1e-8)


@given(amounts, amounts, st.floats(0, 3), st.floats(0, 3), shares)
def test_two_films_on_top_of_each_other_are_one_thick_film(k, s, below, above, ground):
    lower = film_reflectance(k, s, below, ground)
    assert_allclose(film_reflectance(k, s, above, lower), film_reflectance(k, s, below + above, ground), atol=1e-9)


@given(amounts, amounts, st.floats(0, 10), shares)
def test_a_film_neither_lights_up_nor_swallows_more_than_all(k, s, thickness, ground):
    assert -1e-12 <= film_reflectance(k, s, thickness, ground) <= 1 + 1e-12


@given(amounts, st.floats(0, 3), shares)
def test_a_film_that_does_not_scatter_lets_light_through_twice(k, thickness, ground):
    # Bouguer-Lambert law, down and up again.
    assert_allclose(film_reflectance(k, 0.0, thickness, ground), ground * np.exp(-2 * k * thickness), atol=1e-9)


@given(shares, st.floats(0, 0.2), st.floats(0, 0.9))
def test_inside_and_outside_of_a_surface_undo_each_other(inner, k1, k2):
    surface = Surface(k1, k2)
    assert_allclose(surface.inside(surface.outside(inner)), inner, atol=1e-9)


@pytest.mark.parametrize("reflectance", [1e-6, 0.01, 0.5, 1.0])
def test_ratio_and_reflectance_undo_each_other(reflectance):
    assert_allclose(reflectance_of_ratio(ratio_of_reflectance(reflectance)), reflectance, rtol=1e-9)
