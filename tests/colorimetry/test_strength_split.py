"""What two pots' strips show is split into shade and strength as it was put together, and as surely as is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry import strength_curve
from swatchcam.colorimetry.intervals import STILL
from swatchcam.colorimetry.strength_curve import curve_over_cloth
from swatchcam.colorimetry.strength_split import Film, split
from tests.worlds.inks import cloth
from tests.worlds.paper_pots import CLOTHS, RECIPES, Paste, least_difference, paste, second_pot, strips_of
from tests.worlds.spectra import WAVELENGTHS, difference, reflectance_lab
from tests.worlds.studio_records import kept

USUAL = 0.12  # of ln film
PASTE = Paste("white", 0.03, 0.15, (0.025, 0.25))  # just as is taken for granted


def curve_of(made, strips):
    return curve_over_cloth(np.mean([strip.reflectance for strip in strips], axis=0), cloth(made.ground))


def split_of(made, pots, films=None, seed=1, noise=0.0):
    """Two pots, [(recipe, ln films)], without any measurement error unless said."""
    first, second = strips_of(made, pots, np.random.default_rng(seed), noise)
    known = films or [Film(USUAL)] * (len(first) + len(second))
    return split(first, second, curve_of(made, first), known)


def with_more(recipe, **grams):
    return recipe | {name: recipe.get(name, 0.0) + load for name, load in grams.items()}


def times(recipe, factor):
    return {name: load * factor for name, load in recipe.items()}


# --- put together, taken apart ------------------------------------------------------------------------------


@pytest.mark.parametrize("recipe", RECIPES, ids="+".join)
def test_equal_strips_are_of_one_shade_and_strength(recipe):
    found = split_of(PASTE, [(recipe, [0.0, 0.0]), (recipe, [0.0, 0.0])])
    assert found.shade == pytest.approx(0.0, abs=1e-6)
    assert (found.strips.value, found.pots.value) == (pytest.approx(0.0, abs=1e-9), pytest.approx(0.0, abs=1e-9))
    assert found.low == 0.0
    assert found.high > 0
    assert min(found.doubt) > 0.999


@pytest.mark.parametrize("ground", CLOTHS)
@pytest.mark.parametrize("recipe", RECIPES, ids="+".join)
@pytest.mark.parametrize("factor", [0.75, 0.9, 1.2])
def test_a_film_or_a_strength_that_is_known_is_found(ground, recipe, factor):
    made = replace(PASTE, ground=ground)
    for thicker in (
        split_of(made, [(recipe, [0.0]), (recipe, [np.log(factor)])]),
        split_of(made, [(recipe, [0.0]), (times(recipe, factor), [0.0])]),
    ):
        assert thicker.strips.value == pytest.approx(np.log(factor), abs=1.96 * thicker.strips.std)
        assert thicker.shade < 0.35  # what is left of 15 % of film once strength is free
        assert thicker.low == 0.0


@pytest.mark.parametrize("more", [{"blue": 0.03}, {"yellow": 0.1}, {"black": 0.01}, {"red": -0.1}], ids=str)
@pytest.mark.parametrize("film", [-0.25, 0.0, 0.2])
def test_a_difference_in_shade_is_found_whatever_the_films(more, film):
    first = RECIPES[3]
    second = with_more(first, **more)
    shade, strength = least_difference(PASTE, first, second, film)
    found = split_of(PASTE, [(first, [0.0, 0.0]), (second, [film, film])])
    assert found.shade == pytest.approx(shade, abs=0.3)
    assert found.low <= shade <= found.high
    assert found.strips.value == pytest.approx(strength + film, abs=1.96 * found.strips.std)


def test_the_colours_at_equal_strength_are_as_far_apart_as_the_shade():
    found = split_of(PASTE, [(RECIPES[0], [0.0]), (with_more(RECIPES[0], blue=0.05), [0.1])])
    assert float(difference(*map(np.array, found.at_equal_strength))) == pytest.approx(found.shade)
    assert found.low < found.shade < found.high


def test_strips_of_one_pot_in_unlike_films_show_which_way_the_curve_goes():
    # The first pot's two strips are smeared alike, or thin and thick; the second pot's strip lies far along the curve.
    alike = split_of(PASTE, [(RECIPES[1], [0.0, 0.0]), (RECIPES[1], [0.4])])
    unlike = split_of(PASTE, [(RECIPES[1], [-0.2, 0.2]), (RECIPES[1], [0.4])])
    assert unlike.high < 0.85 * alike.high


def test_one_strip_of_each_cannot_tell_strength_from_film():
    one = split_of(PASTE, [(RECIPES[0], [0.0]), (times(RECIPES[0], 1.2), [0.0])])
    three = split_of(PASTE, [(RECIPES[0], [0.0] * 3), (times(RECIPES[0], 1.2), [0.0] * 3)])
    assert one.pots.std > np.sqrt(2) * USUAL * 0.95
    assert three.pots.std == pytest.approx(np.sqrt(2 / 3) * USUAL, rel=0.1)
    assert max(one.strips.std, three.strips.std) < 0.05


def test_weighed_films_make_the_pots_strength_sure():
    films = [0.0, 0.1, 0.3, 0.25]
    pots = [(RECIPES[0], films[:2]), (times(RECIPES[0], 1.1), films[2:])]
    blind = split_of(PASTE, pots)
    weighed = split_of(PASTE, pots, [Film(0.01, film) for film in films])
    assert weighed.pots.value == pytest.approx(np.log(1.1), abs=1.96 * weighed.pots.std)
    assert weighed.pots.std < 0.4 * blind.pots.std
    assert abs(blind.pots.value - np.log(1.1)) > 0.1
    assert weighed.strips.value == pytest.approx(blind.strips.value, abs=0.02)


def test_a_film_that_hides_its_cloth_has_hardly_a_sensitivity():
    hiding, clear = replace(PASTE, scatter=20.0), PASTE
    thick, thin = (split_of(made, [(RECIPES[4], [0.0]), (RECIPES[4], [0.2])]) for made in (hiding, clear))
    assert thick.sensitivity < 0.5 * thin.sensitivity


# --- the table's cases of relative strength -----------------------------------------------------------------


def dyed(monkeypatch, height, centre, width):
    """A strip of cloth that has taken in a pigment, as the head of `tinting_strength.csv` says; and its curve."""
    monkeypatch.setattr(strength_curve, "SUNK", (1.0, 0.0))
    ratio = 0.02 + height * np.exp(-(((WAVELENGTHS - centre) / width) ** 2))
    reflectance = 1 + ratio - np.sqrt((1 + ratio) ** 2 - 1)
    bare = np.full(81, 1.02 - np.sqrt(1.02**2 - 1))
    strip = replace(kept(), lab=tuple(map(float, reflectance_lab(reflectance))), name=f"{height}")
    return strip, curve_over_cloth(reflectance, bare)


def test_nine_tenths_of_the_strength_are_found_with_nothing_left(monkeypatch):
    (standard, curve), (test, _) = (dyed(monkeypatch, height, 540, 50) for height in (2.0, 1.8))
    found = split([standard], [test], curve, [Film(USUAL)] * 2)
    assert np.exp(found.strips.value) == pytest.approx(0.9, abs=0.005)
    assert found.shade == pytest.approx(0.0, abs=0.05)


def test_where_the_hue_differs_the_interval_spans_what_criteria_say(monkeypatch):
    # They say 87 to 108 %, and leave 5.29 to 5.67 CIEDE2000.
    (standard, curve), (test, _) = (dyed(monkeypatch, *shape) for shape in ((2.0, 540, 50), (1.8, 550, 55)))
    found = split([standard], [test], curve, [Film(USUAL)] * 2)
    low, high = (100 * np.exp(found.strips.value + sign * 1.96 * found.strips.std) for sign in (-1, 1))
    assert 87.07 < 100 * np.exp(found.strips.value) < 107.97
    assert low < 95
    assert high > 101
    assert found.low < 5.29 < found.high


# --- invariances --------------------------------------------------------------------------------------------


@pytest.fixture
def five():
    """Three strips of one pot, two of another, with errors; and their curve."""
    made, rng = replace(PASTE, ground="natural"), np.random.default_rng(8)
    pots = [(RECIPES[2], rng.normal(0, 0.1, 3)), (with_more(RECIPES[2], red=0.02), rng.normal(0, 0.1, 2))]
    first, second = strips_of(made, pots, rng)
    return first, second, curve_of(made, first)


def numbers(found):
    return [found.shade, found.strips.value, found.strips.std, found.pots.value, found.pots.std]


def test_the_order_of_strips_does_not_matter(five):
    first, second, curve = five
    films = [Film(0.1), Film(0.05, 0.1), Film(0.2), Film(0.1, -0.1), Film(0.15)]
    one = split(first, second, curve, films)
    other = split([first[2], first[0], first[1]], second[::-1], curve, [films[place] for place in (2, 0, 1, 4, 3)])
    # The ends of an interval are sought to a thousandth of the noise, and rounding may end the search elsewhere.
    assert_allclose([other.low, other.high], [one.low, one.high], atol=STILL * (one.high - one.low))
    assert_allclose(numbers(other), numbers(one), atol=1e-6)
    assert_allclose([other.doubt[place] for place in (1, 2, 0, 4, 3)], one.doubt, atol=1e-6)


@pytest.mark.parametrize("more", [{}, {"red": 0.02}], ids=["one shade", "two shades"])
def test_pots_the_other_way_round_have_the_other_sign(more):
    first, second = strips_of(
        PASTE,
        [(RECIPES[2], [0.0, 0.1]), (with_more(times(RECIPES[2], 1.2), **more), [0.05, 0.1])],
        np.random.default_rng(9),
    )
    films = [Film(0.1)] * 4
    one = split(first, second, curve_of(PASTE, first), films)
    other = split(second, first, curve_of(PASTE, second), films)
    assert one.strips.value > 0.1
    # The curve is the other pot's now, and strength is told by what is left of the shade: a part of its own doubt.
    assert other.strips.value == pytest.approx(-one.strips.value, abs=0.5 * one.strips.std)
    assert other.pots.value == pytest.approx(-one.pots.value, abs=0.5 * one.pots.std)
    assert other.shade == pytest.approx(one.shade, abs=0.15)
    assert other.strips.std == pytest.approx(one.strips.std, rel=0.3)


def far_off(strips, size):
    """The same strips, as a card that was never measured tells them: one error, the same for all of one print."""
    return [
        replace(one, errors=replace(one.errors, parts=one.errors.parts | {"card": size**2 * np.eye(3)}))
        for one in strips
    ]


def test_what_is_unknown_of_a_card_cancels_between_strips_of_alike_inks():
    rng, films = np.random.default_rng(10), [Film(0.1)] * 4
    first, second = strips_of(PASTE, [(RECIPES[0], rng.normal(0, 0.1, 2)) for _ in range(2)], rng)
    curve = curve_of(PASTE, first)
    sure = split(first, second, curve, films)
    nominal = split(far_off(first, 4.0), far_off(second, 4.0), curve, films)
    assert nominal.shade == pytest.approx(sure.shade, abs=0.1)
    assert nominal.high < 1.3 * sure.high
    # Of photos that have no patches in common nothing is known to be shared.
    strangers = [
        replace(one, errors=replace(one.errors, pattern={}, photos=(f"other {place}",)))
        for place, one in enumerate(far_off(second, 4.0))
    ]
    assert split(far_off(first, 4.0), strangers, curve, films).high > 5 * nominal.high


def test_a_strip_that_is_not_of_its_pot_stands_out():
    first, other = RECIPES[1], with_more(RECIPES[1], red=0.2)
    strips, second = strips_of(PASTE, [(first, [0.0, 0.1, -0.1]), (first, [0.0, 0.05])], np.random.default_rng(3), 0.3)
    stray = strips_of(PASTE, [(other, [0.0])], np.random.default_rng(4), 0.0)[0][0]
    found = split([*strips[:2], replace(stray, name="stray")], second, curve_of(PASTE, strips[:2]), [Film(USUAL)] * 5)
    assert int(np.argmin(found.doubt)) == 2
    assert found.doubt[2] < 1e-3


# --- as surely as is said -----------------------------------------------------------------------------------

DRAWS = 400
COUNTS = ((1, 1), (2, 2), (3, 2), (1, 3))
SCATTERS = (0.05, 0.12, 0.2)
# What counting alone leaves open of 95 % in 400 draws: 1.1 %; twice that.
COUNTING = 2 * np.sqrt(0.95 * 0.05 / DRAWS)


@pytest.fixture(scope="module")
def draws():
    """Of each draw: whether the shade's interval held, and by how many standard deviations both strengths were off."""
    rng = np.random.default_rng(2026)
    return np.array([one_draw(rng, place) for place in range(DRAWS)])


def one_draw(rng, place):
    """Paste, pots, films and errors drawn from the very model that the intervals are reckoned with."""
    made, first = paste(rng), RECIPES[rng.integers(len(RECIPES))]
    second = second_pot(first, ("same", "shade")[place % 2], rng)
    counts, scatter = COUNTS[place % len(COUNTS)], SCATTERS[place % len(SCATTERS)]
    films = [rng.normal(0, scatter, count) for count in counts]
    strips = strips_of(made, [(first, films[0]), (second, films[1])], rng)
    found = split(*strips, curve_of(made, strips[0]), [Film(scatter)] * sum(counts))
    level = films[1].mean()
    shade, strength = least_difference(made, first, second, level)
    of_strips = strength + level - films[0].mean()
    return (
        found.low <= shade <= found.high,
        abs(found.strips.value - of_strips) / found.strips.std,
        abs(found.pots.value - strength) / found.pots.std,
    )


def test_the_shades_interval_holds_as_often_as_it_says(draws):
    assert 0.93 <= draws[:, 0].mean() <= 0.99


@pytest.mark.parametrize("column", [1, 2], ids=["strips", "pots"])
def test_the_strengths_interval_holds_as_often_as_it_says(draws, column):
    held = (draws[:, column] < 1.96).mean()
    assert 0.93 <= held <= 0.975 + COUNTING
