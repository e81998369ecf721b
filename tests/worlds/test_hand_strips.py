"""The world of hand-smeared strips: its truth holds, and what is measured of its photos comes near it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.measurement.pot_verdict import PotStrip, judge_pots
from tests.worlds.hand_strips import KINDS, STRIPS, hand_studio, in_films, least_difference, pot_pair, second_pot
from tests.worlds.inks import cloth
from tests.worlds.spectra import difference, reflectance_lab

STUDIOS = (1, 4)


@pytest.fixture(scope="module", params=STUDIOS)
def studio(request):
    return hand_studio("build", request.param, 0.1)


def test_a_pot_differs_from_itself_in_nothing(studio):
    shares = studio.target(np.random.default_rng(1))
    shade, strength = least_difference(studio, shares, shares)
    assert (shade, strength) == (pytest.approx(0, abs=0.02), pytest.approx(0, abs=0.002))


def test_a_thicker_film_of_one_pot_is_strength_alone(studio):
    shares = studio.target(np.random.default_rng(1))
    shade, strength = least_difference(studio, shares, shares, (1.0, 1.2))
    assert shade < 0.02
    assert strength == pytest.approx(np.log(1.2), abs=0.003)
    thin, thick = in_films(studio, shares, np.array([0.8, 1.2]))
    assert thick[0] < thin[0]


def test_a_second_pot_is_what_was_asked_for(studio):
    rng = np.random.default_rng(2)
    first = studio.target(rng)
    assert second_pot(studio, first, "same", rng) == first
    stronger = second_pot(studio, first, "strength", rng)
    ratios = [stronger[name] / load for name, load in first.items()]
    assert_allclose(ratios, ratios[0])
    assert 0.04 < abs(np.log(ratios[0])) < 0.31
    other = second_pot(studio, first, "shade", rng)
    assert 0.6 < least_difference(studio, first, other)[0] < 4.2


@pytest.fixture(scope="module")
def pairs(tmp_path_factory):
    """One pair of pots of each kind, in one studio or the other, photographed."""
    folder = tmp_path_factory.mktemp("hand")
    drawn = [
        pot_pair(hand_studio("build", STUDIOS[place % 2], 0.1), kind, np.random.default_rng([15, place]), folder)
        for place, kind in enumerate(dict.fromkeys(KINDS))
    ]
    return [pair for pair in drawn if pair]


def test_its_photos_show_two_strips_of_each_pot_and_the_bare_cloth(pairs):
    assert {pair.kind for pair in pairs} == set(KINDS)
    for pair in pairs:
        assert [len(strips) for strips in pair.strips] == [STRIPS, STRIPS]
        for bare in filter(None, pair.cloths):
            assert difference(np.array(bare.lab), reflectance_lab(cloth(pair.ground))) < 2.5
        for one in (one for strips in pair.strips for one in strips if not one.vivid):
            assert difference(np.array(one.kept.lab), one.lab) < 2 * one.kept.radius
    assert sum(bare is not None for pair in pairs for bare in pair.cloths) > len(pairs)


def test_pots_are_split_near_the_truth(pairs):
    """A look at a few; `tests.benchmarks.strips` counts how often the intervals hold."""
    split = 0
    for pair in pairs:
        first, second = ([PotStrip(one.kept, one.vivid) for one in strips] for strips in pair.strips)
        found = judge_pots(first, second, 2.0, cloth=cloth(pair.ground).tolist())
        if found.split:
            split += 1
            assert found.split.shade == pytest.approx(pair.shade, abs=1.0)
            films = np.diff([np.mean([np.log(one.film) for one in strips]) for strips in pair.strips])[0]
            assert found.split.strips.value == pytest.approx(pair.strength + films, abs=3 * found.split.strips.std)
            assert abs(found.split.pots.value - pair.strength) < 3 * found.split.pots.std
    assert split >= 2
