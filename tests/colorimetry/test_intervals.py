"""What is said to be sure is sure: fits agree with a library's, and intervals hold the truth as often as they say."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.optimize
import scipy.stats
from numpy.testing import assert_allclose, assert_array_equal

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.colorimetry.intervals import interval_of_difference, radius_of_lab, unit_metric
from swatchcam.colorimetry.least_squares import least_squares

TIME = np.linspace(0, 4, 40)
FADING = 3 * np.exp(-0.7 * TIME) + 0.5 + np.random.default_rng(1).normal(0, 0.05, TIME.size)


def fading(p):
    return (p[0] * np.exp(-p[1] * TIME) + p[2] - FADING) / 0.05


def line(p):
    return np.array([p[0] + p[1] * t - y for t, y in ((0, 1), (1, 2), (2, 4), (3, 4))])


def rosenbrock(p):  # Rosenbrock 1960: least at (1, 1)
    return np.array([10 * (p[1] - p[0] ** 2), 1 - p[0]])


def beale(p):  # Beale 1958: least at (3, 0.5)
    return np.array([factor - p[0] * (1 - p[1] ** power) for power, factor in ((1, 1.5), (2, 2.25), (3, 2.625))])


def stubborn(p):  # large residuals stay, where damped Gauss-Newton steps crawl
    return np.array([np.exp(0.3 * p[0]) - 2, np.exp(0.3 * p[0] * p[1]) - 4, p[0] + p[1] - 1, p[0] - p[1] - 2])


PROBLEMS = [
    (fading, [1, 1, 0]),
    (line, [0, 0]),
    (rosenbrock, [-1.2, 1]),
    (beale, [1, 1]),
    (stubborn, [1, 1]),
]


@pytest.mark.parametrize(("function", "start"), PROBLEMS)
def test_a_fit_agrees_with_a_library(function, start):
    fit, exact = least_squares(function, start), least_squares(function, start, steps=200, tolerance=1e-15)
    theirs = scipy.optimize.least_squares(function, start, jac="3-point", xtol=1e-13, ftol=1e-13, gtol=1e-13)
    assert fit.converged
    assert exact.converged
    assert_allclose(exact.x, theirs.x, rtol=1e-6, atol=1e-6)
    assert (np.abs(fit.x - theirs.x) <= 1e-4 * np.sqrt(np.diag(fit.covariance))).all()
    assert exact.residuals @ exact.residuals == pytest.approx(2 * theirs.cost, rel=1e-10, abs=1e-12)
    # Marquardt 1963: the covariance of residuals with unit variance.
    assert_allclose(exact.covariance, np.linalg.inv(theirs.jac.T @ theirs.jac), rtol=1e-5, atol=1e-7)


def test_a_straight_line_has_the_covariance_of_the_textbook():
    # Ordinary least squares on t = 0..3: (X^T X)^-1 = [[14, -6], [-6, 4]] / 20.
    fit = least_squares(line, [0, 0])
    assert_allclose(fit.covariance, np.array([[14, -6], [-6, 4]]) / 20, rtol=1e-8)
    assert_allclose(fit.x, [1.1, 1.1], rtol=1e-9)
    assert_allclose(fit.residuals, [0.1, 0.2, -0.7, 0.4], rtol=0, atol=1e-9)


def test_stated_covariance_is_the_scatter_of_repeated_fits():
    rng, fits = np.random.default_rng(7), []
    truth = np.array([3, 0.7, 0.5])
    for _ in range(400):
        seen = truth[0] * np.exp(-truth[1] * TIME) + truth[2] + rng.normal(0, 0.05, TIME.size)
        fits.append(
            least_squares(lambda p, seen=seen: (p[0] * np.exp(-p[1] * TIME) + p[2] - seen) / 0.05, truth, steps=8)
        )
    off = np.array([fit.x - truth for fit in fits])
    # Squared distance in units of the stated covariance: 3 on average, with a standard error of 0.12.
    distance = np.array([o @ np.linalg.solve(fit.covariance, o) for fit, o in zip(fits, off, strict=True)])
    assert distance.mean() == pytest.approx(3, abs=0.36)


def test_what_was_known_before_draws_the_answer():
    # One number, read as 5 ± 1, and taken for 1 ± 0.5 before: weights 1 and 4.
    fit = least_squares(lambda p: p - 5, [1.0], prior_std=0.5)
    assert_allclose(fit.x, [1.8], rtol=1e-9)
    assert_allclose(fit.covariance, [[0.2]], rtol=1e-8)
    assert_allclose(fit.residuals, [-3.2], rtol=1e-9)


def test_a_number_that_nothing_fixes_is_said_to_be_unknown():
    fit = least_squares(lambda p: np.array([p[0] - 1, 2 * (p[0] - 1), 0.5]), [0.0, 5.0])
    assert_allclose(fit.x, [1, 5], rtol=1e-6)
    assert fit.covariance[0, 0] == pytest.approx(0.2, rel=1e-6)
    assert fit.covariance[1, 1] > 1e12


def test_two_numbers_of_which_only_the_sum_is_seen_are_both_unknown():
    fit = least_squares(lambda p: np.array([p[0] + p[1] - 1, 3 * (p[0] + p[1] - 1)]), [0.0, 5.0])
    assert fit.x.sum() == pytest.approx(1, abs=1e-6)
    assert fit.covariance.diagonal().min() > 1e9
    assert np.ones(2) @ fit.covariance @ np.ones(2) < 1e-3 * fit.covariance.max()


def test_a_step_into_no_number_is_shortened():
    fit = least_squares(lambda p: np.sqrt(p - 0.5) - 0.1 if p[0] > 0.5 else p * np.nan, [30.0])
    assert fit.converged
    assert_allclose(fit.x, [0.51], rtol=1e-6)


def test_a_fit_cut_short_says_so():
    assert not least_squares(rosenbrock, [-1.2, 1], steps=3).converged


def test_a_fit_that_its_slopes_mislead_says_so():
    # A ripple finer than the distance over which slopes are taken: no step leads down the slope that is seen.
    assert not least_squares(lambda p: 5 + 1e-3 * np.sin(1e6 * p), [0.0]).converged


def test_a_start_without_numbers_is_an_error():
    with pytest.raises(ValueError, match="no numbers near"):
        least_squares(lambda p: p * np.nan, [1.0])


def test_a_fit_cannot_be_changed_and_leaves_its_start_alone():
    start = np.array([0.0, 0.0])
    fit = least_squares(line, start)
    assert_array_equal(start, [0, 0])
    for array in (fit.x, fit.covariance, fit.residuals):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


# Greys, a vivid red and yellow, and the blue where CIEDE2000 turns its ellipses; noise alike in all directions, mostly
# in lightness (thickness of the ink), in hue or chroma (camera), and known exactly in one direction.
def turned(lab, variances):
    hue = np.arctan2(lab[2], lab[1])
    axes = np.array([[1, 0, 0], [0, np.cos(hue), -np.sin(hue)], [0, np.sin(hue), np.cos(hue)]])
    return np.array(lab, dtype=float), axes @ np.diag(variances) @ axes.T


PLACES = {
    "grey": turned((50, 0, 0), (0.09, 0.09, 0.09)),
    "near grey": turned((60, 2, -2), (0.01, 0.3, 0.02)),
    "blue": turned((30, 15, -45), (0.25, 0.01, 0.02)),
    "purple": turned((40, 40, -50), (0.02, 0.1, 0.5)),
    "red": turned((45, 65, 40), (0.3, 0.02, 0.02)),
    "yellow": turned((85, 0, 85), (0.01, 0.05, 0.3)),
    "dark": turned((12, 3, -3), (0.04, 0.02, 0.0)),
}


def trials(target, covariance, multiple, count, seed):
    """CIEDE2000 of true colours so many times the noise away from the target, in all directions, and measured ones."""
    # Sobol points scatter less than random ones: 64 tell as much as several hundred.
    points = scipy.stats.norm.ppf(scipy.stats.qmc.Sobol(6, rng=seed).random(count))
    root = np.linalg.cholesky(covariance + 1e-12 * np.eye(3))
    noise, away = points[:, :3] @ root.T, points[:, 3:]
    sigma = np.sqrt(np.mean(delta_e_2000(target + noise, target) ** 2))
    for _ in range(8 if multiple else 0):
        away *= (multiple * sigma / delta_e_2000(target + away, target))[:, None]
    true = target + (away if multiple else 0 * away)
    return delta_e_2000(true, target), true + noise


def misses(place, multiple, count, seed, draws=1000):
    """How many intervals lie above the truth, and how many below it."""
    target, covariance = PLACES[place]
    true, seen = trials(target, covariance, multiple, count, seed)
    ends = np.array([interval_of_difference(lab, target, covariance, draws=draws) for lab in seen])
    return np.array([np.sum(ends[:, 0] > true), np.sum(ends[:, 1] < true)])


@pytest.fixture(scope="module")
def missed():
    """(4 multiples of the noise, 7 places, above or below) misses in 64 trials each, at 95 %."""
    multiples = (0.1, 0.5, 1, 3)
    return np.array(
        [
            [misses(place, multiple, 64, 100 * i + j) for j, place in enumerate(PLACES)]
            for i, multiple in enumerate(multiples)
        ]
    )


def test_intervals_hold_the_truth_as_often_as_they_say_at_every_distance(missed):
    # 448 trials at each distance. In 1800 other trials each, 94.6 to 96.1 % of the intervals held the truth.
    share = 1 - missed.sum(axis=(1, 2)) / (64 * len(PLACES))
    assert (share >= 0.93).all(), share
    assert (share <= 0.975).all(), share


def test_intervals_hold_the_truth_in_every_region_and_kind_of_noise(missed):
    share = 1 - missed.sum(axis=(0, 2)) / (64 * len(missed))
    assert (share >= 0.93).all(), dict(zip(PLACES, share, strict=True))
    assert (share <= 0.98).all(), dict(zip(PLACES, share, strict=True))


def test_far_from_the_noise_no_more_than_half_the_misses_lie_on_one_side(missed):
    # At three times the noise: 2.5 % on either side, of 448 trials; near it, all lie above by construction.
    assert (missed[3].sum(axis=0) <= 0.04 * 64 * len(PLACES)).all()
    assert (missed[:3, :, 1] == 0).all()


@pytest.mark.parametrize("place", PLACES)
def test_equal_colours_get_an_interval_from_0_in_95_of_100_cases(place):
    target, covariance = PLACES[place]
    rng = np.random.default_rng(5)
    seen = target + rng.multivariate_normal(np.zeros(3), covariance, 100_000)
    away = delta_e_2000(seen, target)
    radius = radius_of_lab(target, covariance)
    assert np.mean(away <= radius) == pytest.approx(0.95, abs=0.005)
    # The interval starts at 0 just as long as the difference lies within the noise.
    order = np.argsort(away)
    inside, outside = seen[order[away[order] < 0.98 * radius][-1]], seen[order[away[order] > 1.02 * radius][0]]
    assert interval_of_difference(inside, target, covariance)[0] == 0
    assert interval_of_difference(outside, target, covariance)[0] > 0


@pytest.mark.parametrize("level", [0.68, 0.9, 0.99])
def test_the_radius_holds_the_share_that_is_asked_for(level):
    target, covariance = PLACES["blue"]
    seen = np.random.default_rng(6).multivariate_normal(target, covariance, 100_000)
    radius = radius_of_lab(target, covariance, level)
    assert np.mean(delta_e_2000(seen, target) <= radius) == pytest.approx(level, abs=0.005)


GREY = np.array([50.0, 0, 0])
SIGMA = 0.05
# Around a mid grey CIEDE2000 is the plain distance of (L*, 1.5 a*, b*): eqs. 2-22 of Sharma et al. 2005.
ROUND = np.diag([1, 1 / 1.5**2, 1]) * SIGMA**2


@pytest.mark.parametrize("times", [0.0, 0.5, 1.5, 2.5, 3.2, 4.0, 7.0])
@pytest.mark.parametrize("away", [(1, 0, 0), (0, 0.6 / 1.5, -0.8)])
def test_ends_are_those_of_the_noncentral_chi_squared_distribution(times, away):
    # Neyman's construction by the exact distribution of a distance in three dimensions.
    def ends(share):
        def short(size):
            return share - scipy.stats.ncx2.cdf(times**2, 3, size**2)

        return scipy.optimize.brentq(short, 1e-9, 30) if short(1e-9) < 0 < short(30) else 0.0

    alone = np.sqrt(scipy.stats.chi2.ppf(0.95, 3))
    low = ends(0.95) if ends(0.95) < alone else max(ends(0.975), alone)
    high = max(ends(0.025), alone)
    ours = interval_of_difference(GREY + times * SIGMA * np.array(away), GREY, ROUND)
    # 2 % of a standard deviation, as even points allow; chroma itself is weighed down by 1 % here.
    assert_allclose(np.array(ours) / SIGMA, [low, high], rtol=0.012, atol=0.03)


@pytest.mark.parametrize(("seen", "low", "high"), [(3.0, 3 - 1.96 * 0.4, 3 + 1.96 * 0.4), (0.9, 0.9 - 1.645 * 0.4, 0)])
def test_noise_in_lightness_alone_gives_the_interval_of_one_normal_number(seen, low, high):
    covariance = np.diag([0.16, 0, 0])
    high = high or 0.9 + 1.96 * 0.4
    ours = interval_of_difference(GREY + np.array([seen, 0, 0]), GREY, covariance)
    expected = delta_e_2000([[50 + low, 0, 0], [50 + high, 0, 0]], GREY)
    assert_allclose(ours, expected, rtol=0, atol=0.01)


def test_equal_readings_are_not_said_to_be_equal_beyond_the_noise():
    for target, covariance in PLACES.values():
        low, high = interval_of_difference(target, target, covariance)
        assert low == 0
        assert high == pytest.approx(radius_of_lab(target, covariance), rel=0.005)


@pytest.mark.parametrize("place", PLACES)
def test_small_differences_are_as_long_as_their_ciede2000(place):
    lab = PLACES[place][0]
    ways = np.random.default_rng(9).normal(size=(200, 3)) * 0.5
    expected = delta_e_2000(lab + ways / 2, lab - ways / 2)
    assert_allclose(np.linalg.norm(ways @ unit_metric(lab).T, axis=1), expected, rtol=0.03)


def test_an_interval_grows_with_the_noise_and_the_level():
    target, covariance = PLACES["red"]
    lab = target + np.array([1.5, 2.0, -1.0])
    ends = np.array([interval_of_difference(lab, target, covariance * factor) for factor in (0.01, 0.1, 1, 4)])
    assert (np.diff(ends[:, 0]) < 0).all()
    assert (np.diff(ends[:, 1]) > 0).all()
    levels = np.array([interval_of_difference(lab, target, covariance, level) for level in (0.5, 0.8, 0.95, 0.99)])
    assert (np.diff(levels[:, 0]) < 0).all()
    assert (np.diff(levels[:, 1]) > 0).all()


def test_without_noise_the_interval_is_the_difference():
    nothing = np.zeros((3, 3))
    assert interval_of_difference([52, 1, 1], GREY, nothing) == (delta_e_2000([52, 1, 1], GREY),) * 2
    assert interval_of_difference(GREY, GREY, nothing) == (0, 0)
    assert radius_of_lab(GREY, nothing) == 0


FAR = [
    ((90, 5, -45), (38, 80, 46)),
    ((5, 0, 0), (98, 0, 0)),
    ((50, 40, -10), (50, -10, 20)),
    ((50, 100, -100), (50, -1e-9, 1e-9)),
    ((50, 10, -10), (50, -10, 10)),  # exactly opposite hues, where CIEDE2000 jumps
]


@pytest.mark.parametrize(("lab", "target"), FAR)
@pytest.mark.parametrize("variance", [1e-8, 1e-2, 4])
def test_a_huge_difference_has_an_interval_around_it(lab, target, variance):
    low, high = interval_of_difference(lab, target, variance * np.eye(3))
    assert 0 < low <= delta_e_2000(lab, target) * (1 + 1e-9)
    assert delta_e_2000(lab, target) * (1 - 1e-9) <= high < 150


def test_noise_beyond_all_colours_still_gives_numbers():
    low, high = interval_of_difference([50, 1, 0], GREY, 1e4 * np.eye(3))
    assert low == 0
    assert np.isfinite(high)


def test_the_same_input_gives_the_same_interval_and_is_left_alone():
    target, covariance = PLACES["blue"]
    lab = target + np.array([0.3, 0.2, -0.4])
    before = lab.copy(), target.copy(), covariance.copy()
    first = interval_of_difference(lab, target, covariance)
    np.random.default_rng().normal(size=10)
    assert interval_of_difference(lab, target, covariance) == first
    for array, copy in zip((lab, target, covariance), before, strict=True):
        assert_array_equal(array, copy)


def test_an_interval_compares_few_colours(monkeypatch):
    # A measurement waits for this: 40 rounds of the noise are about 15 ms.
    rounds = []

    def counted(lab, target):
        rounds.append(np.ndim(lab) > 1)
        return delta_e_2000(lab, target)

    monkeypatch.setattr("swatchcam.colorimetry.intervals.delta_e_2000", counted)
    rng = np.random.default_rng(8)
    for target, covariance in PLACES.values():
        for scale in (0, 0.1, 1, 10):
            rounds.clear()
            interval_of_difference(target + scale * rng.normal(size=3), target, covariance)
            assert sum(rounds) <= 40
