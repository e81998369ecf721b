"""How unlike films are is learned as a general library's statistics say, and its interval holds the truth."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import chi2

from swatchcam.colorimetry.film_scatter import PRIOR_FREEDOM, PRIOR_STD, film_scatter


def drawn_pots(rng, scatter, pots, strips):
    """Natural logarithms of films; of each pot about a level of its own."""
    return [rng.normal(rng.normal(0, 0.5), scatter, strips) for _ in range(pots)]


def test_before_a_pot_was_smeared_twice_it_is_what_is_taken_for_granted():
    for pots in ([], [[0.3]], [[0.1], [-0.5], []]):
        found = film_scatter(pots)
        assert found.std == pytest.approx(PRIOR_STD)
        assert (found.strips, found.pots) == (0, 0)


@pytest.mark.parametrize("freedom", range(3, 61))
def test_its_interval_is_that_of_chi_square(freedom):
    # Quantiles of scipy.stats, an independent library; the pots' squares and the prior's add up.
    films = np.linspace(-0.3, 0.2, freedom - 2) if freedom > 3 else np.zeros(0)
    found = film_scatter([films])
    total = PRIOR_FREEDOM * PRIOR_STD**2 + (films.var() * len(films) if len(films) else 0.0)
    assert found.std == pytest.approx(sqrt(total / freedom))
    for end, share in ((found.low, 0.975), (found.high, 0.025)):
        assert end == pytest.approx(sqrt(total / chi2.ppf(share, freedom)), rel=1e-6)


def test_only_differences_within_a_pot_count():
    pots = drawn_pots(np.random.default_rng(1), 0.1, 5, 3)
    moved = [films + place for place, films in enumerate(pots)]
    here, there = film_scatter(pots), film_scatter(reversed(moved))
    assert_allclose([there.std, there.low, there.high], [here.std, here.low, here.high])
    assert (here.strips, here.pots) == (15, 5)


def test_a_pot_of_one_strip_teaches_nothing():
    pots = drawn_pots(np.random.default_rng(2), 0.1, 4, 2)
    assert film_scatter([*pots, [9.0], []]) == film_scatter(pots)


@pytest.mark.parametrize("scatter", [0.04, 0.12, 0.3])
def test_many_pots_teach_the_true_scatter(scatter):
    # 2,000 pots of two strips: the standard deviation of a standard deviation is 1 / sqrt(2 · 2000) of it.
    found = film_scatter(drawn_pots(np.random.default_rng(3), scatter, 2000, 2))
    assert found.std == pytest.approx(scatter, rel=4 / sqrt(4000))
    assert found.low < found.std < found.high
    assert found.high / found.low < 1.1


def test_the_interval_holds_as_often_as_it_says_where_the_scatter_is_drawn_as_is_taken_for_granted():
    # Studios drawn from the prior itself (scaled inverse chi-square), 2,000 of them with one to four pots each.
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(2000):
        scatter = PRIOR_STD * sqrt(PRIOR_FREEDOM / rng.chisquare(PRIOR_FREEDOM))
        found = film_scatter(drawn_pots(rng, scatter, rng.integers(1, 5), rng.integers(2, 4)))
        held += found.low <= scatter <= found.high
    # Of 2,000 draws at 95 %, counting alone scatters by 0.5 %; three times that is allowed.
    assert held / 2000 == pytest.approx(0.95, abs=0.0146)
