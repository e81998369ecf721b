"""What is thought of pigments beforehand: found back from exact readings where they can be seen, and wide elsewhere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.mixing.film_model import DYED, FILM, Layer
from swatchcam.mixing.prior import BEND, FILM_OPEN, LEVEL, SURFACE, cloth_of, first_guess
from tests.worlds.inks import PIGMENTS
from tests.worlds.inkworld import THICKNESS, film_world

SEEN = 0.55  # of the logarithm: where absorption is surer than this it was seen
NAMES = "black", "blue", "red", "yellow"


@pytest.fixture(scope="module")
def world():
    return film_world(1)


@pytest.fixture(scope="module")
def known_strips(world):
    return world.series(exact=True)


def layer_of(known_strips, kind=FILM, pigments=NAMES):
    ground = cloth_of(known_strips)
    return Layer(pigments, kind, np.full(81, 0.8) if ground is None else ground)


def own(layer, pigment, numbers):
    """The numbers of a pigment's absorption, of a mean or of the diagonal of a covariance."""
    return numbers[layer.absorption_of(layer.pigments.index(pigment))]


@pytest.mark.parametrize("name", NAMES)
def test_absorption_is_found_back_where_it_can_be_seen(known_strips, name):
    layer = layer_of(known_strips)
    mean, covariance = first_guess(layer, known_strips)
    true = np.log(THICKNESS * PIGMENTS[name].absorption[::4])
    error = own(layer, name, mean) - true
    std = np.sqrt(own(layer, name, np.diag(covariance)))
    # How strong the pigment is as a whole is left open, for the film of a strip may be thick: its shape is seen.
    seen = np.sqrt(std**2 - FILM_OPEN**2) < SEEN
    assert seen.sum() >= 7  # yellow absorbs at these only
    # Surface, binder and crowding are only thought of yet: from 8 to 30 % instead of 25 they alone move it by a fifth.
    assert np.abs(error[seen]).max() < 0.3
    assert (np.abs(error) < 2 * std).all()


@pytest.mark.parametrize("kind", [FILM, DYED])
@pytest.mark.parametrize("taught", [True, False])
def test_the_covariance_is_one(known_strips, kind, taught):
    known = known_strips if taught else []
    _, covariance = first_guess(layer_of(known, kind), known)
    # Inverted where neighbouring nodes are alike to one part in a million.
    assert_allclose(covariance, covariance.T, rtol=0, atol=1e-9)
    assert np.linalg.eigvalsh(covariance).min() > 0


def test_of_a_pigment_without_known_strips_nothing_is_thought():
    layer = layer_of([])
    mean, covariance = first_guess(layer, [])
    for name in NAMES:
        assert_allclose(own(layer, name, mean), 0, atol=1e-12)
        assert_allclose(own(layer, name, np.diag(covariance)), LEVEL**2 + BEND**2, rtol=1e-5)


def test_mixes_teach_nothing_of_one_pigment_alone(world):
    mixed = [world.exact({"red": 1.0, "yellow": 1.0}, 1)]
    mean, covariance = first_guess(layer_of(mixed), mixed)
    alone = first_guess(layer_of([]), [])
    assert_allclose(mean, alone[0])
    assert_allclose(covariance, alone[1])


def test_a_longer_series_makes_absorption_surer(world, known_strips):
    layer = layer_of(known_strips)
    few = [known_strip for known_strip in known_strips if known_strip.shares.get("red", 0) < 1]
    unsure, sure = (own(layer, "red", np.diag(first_guess(layer, known)[1])) for known in (few, known_strips))
    assert (sure < unsure).all()


def test_a_known_strip_that_is_nearly_bare_or_nearly_black_tells_little(world):
    def unsure(load):
        known = [world.exact({}, 0), world.exact({"red": load}, 1)]
        layer = layer_of(known, pigments=("red",))
        return np.diag(first_guess(layer, known)[1])[layer.absorption_of(0)][8]  # 540 nm, where red absorbs

    assert unsure(1.0) < 0.5 * min(unsure(0.003), unsure(9.0))


def test_a_cloth_that_nobody_measured_is_less_sure(known_strips):
    without = [known_strip for known_strip in known_strips if known_strip.shares]
    layer = layer_of(known_strips)
    seen, unseen = (np.diag(first_guess(layer, known)[1])[layer.ground] for known in (known_strips, without))
    assert (unseen > 10 * seen).all()


def test_the_cloth_is_the_mean_of_all_bare_strips(world):
    bare = [world.exact({}, number) for number in (1, 2)]
    assert cloth_of(world.series(exact=True)[1:]) is None
    assert_allclose(SURFACE.outside(cloth_of(bare)), world.reflectance({}), atol=1e-12)


def test_black_cloth_is_not_darker_than_nothing(world):
    black = replace(world.exact({}, 0).colour, reflectance=(0.02,) * 81)
    assert cloth_of([replace(world.exact({}, 0), colour=black)]).min() > 0
