"""A layer of ink reflects what the films of the drawn scenes do, and its slopes are those of its reflectance."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.colorimetry.kubelka_munk import Surface
from swatchcam.mixing.film_model import DYED, FILM, NODES, SCATTERED, Layer
from tests.paths import REFERENCE
from tests.worlds import inks
from tests.worlds.spectra import WAVELENGTHS

NODE_NM = np.linspace(380, 780, NODES)
NEVER = 1e17  # % of half strength that no load comes near
SURFACE = 0.022, 0.15
NAMES = "blue", "yellow"
# Kubelka & Munk 1931, single-constant mixing; the file's head says that these rows are constructed.
with open(REFERENCE / "kubelka_munk.csv", encoding="utf-8", newline="") as file:
    ROWS = [row for row in csv.DictReader(line for line in file if not line.startswith("#"))]
MIXED = [row for row in ROWS if row["kind"] == "mix_single_constant" and row["case"].startswith("c1")]


def told(layer, absorption, scatter=0.001, half=NEVER, binder=0.0175, surface=SURFACE):
    """The unknowns of a layer: absorption (pigments, NODES) and the rest of 1 % in a film of thickness 1."""
    theta = np.zeros(layer.unknowns)
    for p, nodes in enumerate(absorption):
        theta[layer.absorption_of(p)] = np.log(nodes)
        theta[layer.scatter_of(p)], theta[layer.crowding_of(p)] = np.log(scatter), np.log(half)
    theta[layer.binder :] = np.log(binder), *surface
    return theta


def drawn_pigments():
    """(2, NODES) absorption of two pigments of the drawn scenes in a film of 0.05 mm."""
    return 0.05 * np.array([inks.PIGMENTS[name].absorption[::4] for name in NAMES])


def between_nodes(nodes):
    """(81,) whose logarithm is straight between the nodes."""
    return np.exp(np.interp(WAVELENGTHS, NODE_NM, np.log(nodes)))


@pytest.fixture(params=[FILM, DYED])
def layer(request):
    return Layer(NAMES, request.param, inks.cloth("natural"))


def test_a_film_is_that_of_an_independent_formula():
    # Kubelka 1948 and Saunderson 1942 as the tests' drawn scenes have them, in another form and without shared code.
    layer, cloth = Layer(NAMES, FILM, inks.cloth("natural")), inks.cloth("natural")
    theta = told(layer, drawn_pigments(), scatter=0.0012)
    shares = np.array([[0.3, 1.5], [4.0, 0.0], [0.0, 8.0], [0.0, 0.0]])
    k = shares @ [between_nodes(nodes) for nodes in drawn_pigments()]
    s = 0.0175 + shares.sum(axis=1, keepdims=True) * 0.0012 * SCATTERED / WAVELENGTHS
    expected = [inks.saunderson(inks.film_reflectance(*each, 1.0, cloth), *SURFACE) for each in zip(k, s, strict=True)]
    assert_allclose(layer.reflectance(theta, shares), expected, rtol=0, atol=1e-12)


@pytest.mark.parametrize("row", MIXED, ids=[row["case"] for row in MIXED])
def test_dyed_cloth_is_that_of_the_constructed_rows(row):
    layer = Layer(("one", "two"), DYED, np.full(81, 0.8))
    theta = told(layer, np.array([np.full(NODES, 0.7875), np.full(NODES, 0.425)]), surface=(0.0, 0.0))
    one, two = (float(part.split("=")[1].split()[0]) for part in row["case"].split("% "))
    # The table has eight digits.
    assert_allclose(layer.reflectance(theta, np.array([[one, two]])), float(row["value2"]), rtol=0, atol=5.1e-9)


def test_bare_cloth_is_seen_through_the_surface_only(layer):
    theta = told(layer, drawn_pigments(), binder=1e-12)
    assert_allclose(layer.reflectance(theta, np.zeros((1, 2)))[0], Surface(*SURFACE).outside(layer.cloth), atol=1e-9)


def test_a_cloth_that_is_darker_than_thought_is_told_by_the_unknowns(layer):
    theta = told(layer, drawn_pigments())
    theta[layer.ground] = np.log(0.5)
    darker = Layer(NAMES, layer.kind, 0.5 * layer.cloth)
    mixes = np.array([[0.2, 0.1]])
    assert_allclose(
        layer.reflectance(theta, mixes), darker.reflectance(told(layer, drawn_pigments()), mixes), atol=1e-12
    )


def test_every_unknown_has_one_place(layer):
    places = np.arange(layer.unknowns)
    own = [(places[layer.absorption_of(p)], [layer.scatter_of(p)], [layer.crowding_of(p)]) for p in range(2)]
    rest = places[layer.ground], places[layer.binder :]
    found = np.concatenate([*own[0], *own[1], *rest])
    assert sorted(found) == list(places)


def test_a_pigment_has_half_its_strength_at_its_crowding_share(layer):
    crowded, free = (told(layer, drawn_pigments(), half=half) for half in (8.0, NEVER))
    assert_allclose(
        layer.reflectance(crowded, np.array([[8.0, 0.0]])), layer.reflectance(free, np.array([[4.0, 0.0]])), atol=1e-12
    )


def test_a_film_of_twice_the_thickness_absorbs_and_scatters_twice(layer):
    theta = told(layer, drawn_pigments(), half=12.0)
    twice = theta.copy()
    for p in range(2):
        twice[layer.absorption_of(p)] += np.log(2)
        twice[layer.scatter_of(p)] += np.log(2)
    twice[layer.binder] += np.log(2)
    mixes = np.array([[0.3, 1.5], [2.0, 0.0]])
    assert_allclose(layer.reflectance(theta, mixes, 2.0), layer.reflectance(twice, mixes), atol=1e-12)


SHARES = np.array([[0.3, 1.5], [4.0, 0.02], [0.0, 0.0]])
SMALL = 1e-5


def test_every_slope_is_that_of_the_reflectance(layer):
    theta = told(layer, drawn_pigments(), half=12.0)
    found = layer.slopes(theta, SHARES).theta
    for unknown, step in enumerate(SMALL * np.eye(layer.unknowns)):
        more, less = layer.reflectance(theta + step, SHARES), layer.reflectance(theta - step, SHARES)
        assert_allclose(found[..., unknown], (more - less) / (2 * SMALL), rtol=1e-4, atol=1e-7)


def test_the_slope_with_thickness_is_that_of_the_reflectance(layer):
    theta = told(layer, drawn_pigments(), half=12.0)
    more, less = (layer.reflectance(theta, SHARES, np.exp(step)) for step in (SMALL, -SMALL))
    assert_allclose(layer.slopes(theta, SHARES).strength, (more - less) / (2 * SMALL), rtol=1e-4, atol=1e-7)


def test_the_slope_with_a_share_is_that_of_the_reflectance(layer):
    theta, shares = told(layer, drawn_pigments(), half=12.0), SHARES[:2]
    for p, step in enumerate(SMALL * np.eye(2)):
        more, less = layer.reflectance(theta, shares + step), layer.reflectance(theta, shares - step)
        assert_allclose(layer.slopes(theta, shares).shares[..., p], (more - less) / (2 * SMALL), rtol=1e-4, atol=1e-7)


@given(st.floats(0, 10), st.floats(0, 10), st.floats(0.01, 5))
def test_more_dye_is_nowhere_lighter(blue, yellow, more):
    layer = Layer(NAMES, DYED, inks.cloth("natural"))
    theta = told(layer, drawn_pigments(), half=12.0)
    before, after = layer.reflectance(theta, np.array([[blue, yellow], [blue + more, yellow]]))
    assert (after <= before).all()
