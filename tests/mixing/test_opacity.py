"""Opacity: the film is found from two grounds, more passes follow from it, and the verdict leaves doubt where it is."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.colorimetry.kubelka_munk import Surface, film_reflectance
from swatchcam.colorimetry.spectra import reflectance_to_lab, tables, xyz_weights
from swatchcam.colorimetry.two_ground_film import SMOOTH, film_of
from swatchcam.errors import UsageError
from swatchcam.library.records import HEAT_SET, WET, State
from swatchcam.messages.message import flag
from swatchcam.messages.surface import TERMINAL
from swatchcam.mixing.opacity import Outcome, opacity, opacity_of_records
from swatchcam.report.mixing_sentences import opacity_words
from tests.worlds.picture_files import reference
from tests.worlds.studio_records import kept as studio_kept
from tests.worlds.studio_records import record

GRID = tables().wavelengths
WHITE, BLACK = np.full(81, 0.8), np.full(81, 0.04)
BARE = Surface(0.0, 0.0)  # throws nothing back
SURFACE = Surface(SMOOTH.k1 / 2, SMOOTH.k2 / 2)
# A vivid opaque yellow: it swallows blue light and scatters all.
ABSORBED = 0.02 + 1.5 / (1 + np.exp((GRID - 500) / 12))


def seen(reflectance, noise=0.0, photo="one"):
    """A colour as it would be kept, its L* known to `noise`; strips of one photo share a fifth of that."""
    lab = reflectance_to_lab(reflectance)
    usual = studio_kept()
    size = {"noise": 0.98 * noise**2, "fit": 0.02 * noise**2}
    parts = {name: size.get(name, 0.0) * np.eye(3) for name in usual.errors.parts}
    errors = replace(usual.errors, parts=parts, shared=np.sqrt(0.02) * noise * np.eye(3), photos=(photo,))
    return replace(usual, lab=tuple(map(float, lab)), errors=errors, reflectance=tuple(map(float, reflectance)))


def misread(colour, by):
    """The colour with its L* read wrong by so much, and its spectrum stretched as that asks."""
    lightness = colour.lab[0] + by
    stretch = ((lightness + 16) / (colour.lab[0] + 16)) ** 3
    reflectance = tuple(min(value * stretch, 1.0) for value in colour.reflectance)
    return replace(colour, lab=(lightness, *colour.lab[1:]), reflectance=reflectance)


def film(thickness, ground, surface=SURFACE):
    return surface.outside(film_reflectance(ABSORBED, 1.0, thickness, ground))


def pulled(thickness, noise=0.0, surface=SURFACE):
    """Over dark, over light and both bare cloths."""
    over_dark, over_light = (seen(film(thickness, ground, surface), noise) for ground in (BLACK, WHITE))
    return over_dark, over_light, (seen(BLACK, noise), seen(WHITE, noise))


def ratio(thickness, surface=SURFACE):
    weights = xyz_weights()[:, 1]
    return float(film(thickness, BLACK, surface) @ weights / (film(thickness, WHITE, surface) @ weights))


def refused(action, *given):
    with pytest.raises(UsageError) as refusal:
        action(*given)
    assert TERMINAL.remedy(refusal.value).endswith(".")
    return str(refusal.value)


# --- the film, from two grounds -----------------------------------------------------------------------------

FILMS = [(row[1].split(), (float(row[2]), float(row[3]))) for row in reference("kubelka_munk.csv", "film")]
ROWS = {(k, s, float(x[2:])): pair for (k, s, x), pair in FILMS}
STEPS = [(film, x, count) for film in {key[:2] for key in ROWS} for x, count in ((0.1, 5), (0.5, 2), (1, 2), (1, 5))]


@pytest.mark.parametrize(("which", "x", "count"), sorted(STEPS))
def test_more_passes_of_a_published_film_give_the_published_thicker_one(which, x, count):
    # kubelka_munk.csv: Kubelka 1948, eight decimals, over black and over 0.80. The last digit of what is put in may be
    # off by half: what that does to the thicker film is the tolerance.
    thin, thick = np.array(ROWS[*which, x]), np.array(ROWS[*which, x * count])
    ends = [thin + 5e-9 * np.array(ways) for ways in ((0, 0), (1, 1), (1, -1), (-1, 1), (-1, -1))]
    found = np.array([[film_of(r0, 0.0, r1, 0.8).over(g, count) for g in (0.0, 0.8)] for r0, r1 in ends])
    tolerance = 6e-9 + np.abs(found - found[0]).max(axis=0)
    assert (tolerance < 1e-5).all()
    assert (np.abs(found[0] - thick) <= tolerance).all()


@pytest.mark.parametrize("key", [key for key in ROWS if key[2] <= 1])
def test_the_constants_of_a_published_film_are_found(key):
    # kubelka_munk.csv: a = 1 + K/S; eight decimals in, fewer out where the film hides its ground.
    k, s = (float(part[2:]) for part in key[:2])
    found = film_of(ROWS[key][0], 0.0, ROWS[key][1], 0.8)
    assert found.a == pytest.approx(1 + k / s, rel=1e-4)
    assert found.b == pytest.approx(np.sqrt((1 + k / s) ** 2 - 1), rel=1e-4)
    assert found.sx == pytest.approx(s * key[2], rel=1e-4)


def test_a_film_that_absorbs_nothing_is_found_too():
    # kubelka_munk.csv: R = SX / (SX + 1) over black.
    over_white = float(film_reflectance(0.0, 1.0, 1.0, 0.8))
    found = film_of(0.5, 0.0, over_white, 0.8)
    assert found.sx == pytest.approx(1, rel=1e-6)
    assert found.over(0.0, 3) == pytest.approx(0.75, abs=1e-6)


@given(
    k=st.floats(0, 5), s=st.floats(0.05, 3), x=st.floats(0.1, 1.5), dark=st.floats(0.01, 0.3), light=st.floats(0.5, 0.9)
)
def test_any_film_over_any_two_grounds_is_found_again(k, s, x, dark, light):
    over_dark, over_light = (film_reflectance(k, s, x, ground) for ground in (dark, light))
    found = film_of(over_dark, dark, over_light, light)
    for ground, over in ((dark, over_dark), (light, over_light)):
        assert_allclose(found.over(ground), np.clip(over, 1e-4, 1), atol=1e-6)
        assert_allclose(found.over(ground, 2), film_reflectance(k, s, 2 * x, ground), atol=2e-4)


@given(st.tuples(*[st.floats(0, 1)] * 2), st.integers(1, 3))
def test_readings_that_no_film_makes_give_a_reflectance_all_the_same(over, passes):
    found = film_of(over[0], 0.04, over[1], 0.8)
    for ground in (0.04, 0.8):
        assert 0 <= found.over(ground, passes) <= 1


# --- the contrast ratio -------------------------------------------------------------------------------------


def test_the_ratio_is_that_of_the_definition():
    # opacity_definitions.csv, ISO 6504-3 and ISO 13655: Y over black / Y over white.
    definitions = [row[1] for row in reference("opacity_definitions.csv", "contrast ratio (paint, ISO)")]
    assert definitions == ["100 * Y over black / Y over white of the same dry film"]
    found = opacity(*pulled(0.5)).contrast
    assert (found.value, found.low, found.high) == pytest.approx([ratio(0.5)] * 3)


def test_the_ratio_of_neutral_published_films_is_the_published_one():
    # kubelka_munk.csv gives it in its meaning column, six decimals.
    rows = reference("kubelka_munk.csv", "film")
    for _, case, black, white, meaning, *_ in rows:
        if float(black) > 1e-3:
            colours = [seen(np.full(81, float(value))) for value in (black, white)]
            published = float(meaning.split("contrast ratio ")[1].split(";")[0])
            assert opacity(*colours).contrast.value == pytest.approx(published, abs=6e-7 + 1e-8 / float(white)), case


def test_the_ratio_rises_with_the_film_and_starts_at_that_of_the_bare_cloths():
    # opacity_definitions.csv, safe check.
    found = [opacity(*pulled(x, surface=BARE)).contrast.value for x in (1e-6, 0.1, 0.3, 1.0, 3.0, 40.0)]
    assert found[0] == pytest.approx(0.05, abs=1e-3)
    assert all(one < other for one, other in pairwise(found))
    assert found[-1] == pytest.approx(1, abs=1e-6)


def test_two_and_three_passes_of_a_vivid_ink_are_predicted_from_its_spectra():
    found = opacity(*pulled(0.4)).passes
    assert found[2].value == pytest.approx(ratio(0.8), abs=1e-4)
    assert found[3].value == pytest.approx(ratio(1.2), abs=1e-4)


def test_the_intervals_hold_the_true_ratios_as_often_as_they_say():
    rng, noise, trials = np.random.default_rng(8), 0.6, 60
    held = dict.fromkeys((1, 2, 3), 0)
    for _ in range(trials):
        surface = Surface(*rng.uniform() * np.array([SMOOTH.k1, SMOOTH.k2]))
        truth = {count: ratio(0.5 * count, surface) for count in held}
        dark, light, bare = pulled(0.5, noise, surface)
        common = rng.normal(0, np.sqrt(0.02) * noise)
        moved = [misread(each, common + rng.normal(0, np.sqrt(0.98) * noise)) for each in (dark, light, *bare)]
        found = opacity(moved[0], moved[1], (moved[2], moved[3]))
        for count, contrast in {1: found.contrast, **found.passes}.items():
            held[count] += contrast.low <= truth[count] <= contrast.high
    slack = 3 * np.sqrt(0.95 * 0.05 / trials)
    assert {count: of / trials for count, of in held.items()} == pytest.approx(dict.fromkeys(held, 0.95), abs=slack)


def test_what_two_strips_share_in_one_photo_falls_out_of_their_ratio():
    def width(photo):
        apart = [np.zeros((3, 3)), 0.5**2 * np.eye(3)]
        colours = []
        for over, own in zip(pulled(0.5, 0.2)[:2], ("one", photo), strict=True):
            parts = {name: apart[name == "fit"] for name in over.errors.parts}
            errors = replace(over.errors, parts=parts, shared=0.5 * np.eye(3), photos=(own,))
            colours.append(replace(over, errors=errors))
        found = opacity(*colours).contrast
        return found.high - found.low

    assert width("one") < width("another") / 4


# --- the verdict --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("thickness", "outcome", "words"),
    [
        (9.0, Outcome.COVERS, "Opaque in one pass"),
        (4.5, Outcome.SECOND_PASS, "Opaque in two passes"),
        (0.2, Outcome.NEEDS_BASE, "Not opaque, even in two passes"),
    ],
)
def test_each_outcome_has_its_film(thickness, outcome, words):
    found = opacity(*pulled(thickness, 0.05))
    assert found.outcome == outcome
    assert opacity_words(found).startswith(words)


def test_a_film_about_which_nothing_is_sure_cannot_be_told():
    found = opacity(*pulled(3.2, 1.0))
    assert found.outcome == Outcome.CANNOT_TELL
    assert "Pull a second pass and look" in opacity_words(found)


def test_without_the_bare_cloths_more_passes_are_not_predicted():
    found = opacity(*pulled(0.5, 0.05)[:2])
    assert (found.outcome, found.passes) == (Outcome.CANNOT_TELL, {})
    assert opacity_words(found).startswith("Not opaque in one pass")
    assert opacity_words(found).endswith("To see what a second pass would do, measure both cloths bare too.")


def test_the_criterion_can_be_another():
    assert opacity(*pulled(2.2, 0.05), criterion=0.8).outcome == Outcome.COVERS


def test_a_nominal_card_is_flagged():
    dark, light, _ = pulled(1.0)
    assert opacity(replace(dark, absolute=False), light).flags == (flag("ratio-nominal"),)
    assert opacity(dark, light).flags == ()


# --- nonsense -----------------------------------------------------------------------------------------------


def test_dark_and_light_interchanged_are_refused():
    dark, light, bare = pulled(0.5, 0.1)
    assert "lighter" in refused(opacity, light, dark)
    assert "too alike" in refused(opacity, dark, light, bare[::-1])


def test_an_opaque_ink_a_little_lighter_over_dark_by_noise_is_not_refused():
    dark, light, _ = pulled(30.0, 0.3)
    found = opacity(replace(dark, lab=(dark.lab[0] + 0.3, *dark.lab[1:])), light)
    assert found.contrast.value == found.contrast.high == 1


def test_cloths_that_are_not_those_of_the_strips_are_refused():
    dark, light, _ = pulled(0.1, 0.1)
    greys = (seen(np.full(81, 0.4)), seen(np.full(81, 0.6)))
    assert "more than the bare ones" in refused(opacity, dark, light, greys)


@pytest.mark.parametrize("criterion", [0, 1, 98, float("nan")])
def test_a_criterion_that_is_no_ratio_is_refused(criterion):
    assert "is not possible" in refused(opacity, *pulled(1.0), criterion)


def test_colours_of_different_illuminants_are_refused():
    dark, light, _ = pulled(1.0)
    assert "illuminants" in refused(opacity, dark, replace(light, illuminant="D50"))


def records():
    dark, light, bare = pulled(0.5, 0.1)
    colours = zip((dark, light, *bare), ("black", "white", "black", "white"), strict=True)
    return [record(i, colour, cloth=f"cotton, {cloth}") for i, (colour, cloth) in enumerate(colours, start=1)]


def test_records_tell_the_same_as_their_colours():
    dark, light, *bare = records()
    assert opacity_of_records(dark, light, *bare) == opacity(dark.colour, light.colour, [one.colour for one in bare])


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"state": State(WET)}, "wet strip"),
        ({"state": State(HEAT_SET)}, "same state"),
        ({"batch": "B2"}, "not from one batch"),
        ({"shade": "Kornblume"}, "not from one batch"),
        ({"cloth": "Cotton,  BLACK"}, "same cloth"),
        ({"cloth": "linen, white"}, "very cloth"),
    ],
)
def test_records_that_do_not_belong_together_are_refused(changes, words):
    dark, light, *bare = records()
    assert words in refused(opacity_of_records, dark, replace(light, **changes), *bare)


def test_one_bare_cloth_alone_is_refused():
    dark, light, bare_dark, _ = records()
    assert "Only one" in refused(opacity_of_records, dark, light, bare_dark)
