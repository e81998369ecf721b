"""The hidden studios are what they say: the model of `inks` without its departures, and each departure as told."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from swatchcam.errors import FindError
from tests.worlds.hidden_studios import (
    ALWAYS,
    BINDER,
    CODES,
    WINDOWS,
    Strip,
    Studio,
    as_read,
    cached_series,
    crowded,
    dyed,
    grams_of,
    hidden_studio,
    random_discord,
    random_studio,
    shares_of,
    weigh,
)
from tests.worlds.inks import (
    BINDER_SCATTER,
    BUILD_PIGMENTS,
    SURFACE,
    cloth,
    film_reflectance,
    saunderson,
    strip_reflectance,
)
from tests.worlds.random_scenes import WORLDS
from tests.worlds.scene import render
from tests.worlds.spectra import difference

MIX = {"red": 1.2, "yellow": 0.4, "black": 0.05}


@pytest.fixture(scope="module")
def studio():
    return hidden_studio("build", 0)


@pytest.fixture
def plain(studio):
    """Without any departure from the model."""
    return replace(
        studio,
        pigments=BUILD_PIGMENTS,
        crowding={},
        discord={},
        binder_scatter=BINDER_SCATTER,
        surface=SURFACE,
        sunk=0.0,
    )


@pytest.mark.parametrize("shares", [{}, {"blue": 3.0}, MIX])
def test_without_departures_the_truth_is_the_film_of_the_scenes(plain, shares):
    assert_allclose(
        plain.reflectance(shares, 1.1), strip_reflectance(shares, 1.1 * plain.film, plain.ground), rtol=0, atol=1e-12
    )


def test_one_pigment_alone_is_not_disturbed_and_two_are_most_in_equal_parts(plain):
    curve = random_discord(np.random.default_rng(1))
    mixing = replace(plain, discord={("red", "yellow"): curve})
    assert_array_equal(mixing.disturbance({"red": 2.0}), 0 * curve)
    assert_array_equal(mixing.disturbance({}), 0 * curve)
    assert_allclose(mixing.disturbance({"yellow": 0.7, "red": 0.7}), curve)
    assert_allclose(mixing.disturbance({"yellow": 0.1, "red": 0.9}), 0.36 * curve)


def test_a_disturbance_changes_the_absorption(plain):
    curve = random_discord(np.random.default_rng(1))
    red, yellow = BUILD_PIGMENTS["red"], BUILD_PIGMENTS["yellow"]
    k = (1 + curve) * (red.absorption + yellow.absorption)
    s = red.scatter + yellow.scatter + BINDER_SCATTER
    expected = saunderson(film_reflectance(k, s, plain.film, cloth(plain.ground)), *SURFACE)
    mixing = replace(plain, discord={("red", "yellow"): curve})
    assert_allclose(mixing.reflectance({"red": 1.0, "yellow": 1.0}), expected)


def test_the_curve_of_a_disturbance_is_small_and_smooth():
    curves = np.array([random_discord(np.random.default_rng(seed)) for seed in range(200)])
    assert 0.05 < np.abs(curves).max() <= 0.06
    assert np.abs(np.diff(curves, axis=1)).max() < 0.06 * 2 * np.pi * 5 / 400


def test_a_crowded_pigment_does_half_at_its_half_load(plain):
    assert crowded(8.0, 8.0) == 4.0
    assert crowded(0.01, 8.0) == pytest.approx(0.01, rel=2e-3)
    full = replace(plain, crowding={"blue": 8.0})
    assert_allclose(full.reflectance({"blue": 8.0}), plain.reflectance({"blue": 4.0}))


def test_cloth_is_dyed_by_the_sum_of_k_over_s():
    under, depth = np.full(81, 0.8), np.full(81, 0.7)
    found = dyed(depth, under)
    assert_allclose((1 - found) ** 2 / (2 * found), 0.2**2 / 1.6 + 0.7)
    assert_allclose(dyed(0 * depth, under), under)


def test_what_sank_in_shows_by_its_area(plain):
    shown = [replace(plain, sunk=sunk).reflectance(MIX) for sunk in (0.0, 0.3, 1.0)]
    assert_allclose(shown[1], 0.7 * shown[0] + 0.3 * shown[2])
    assert difference(replace(plain, sunk=0.3).lab(MIX), plain.lab(MIX)) > 1


def test_binder_alone_is_a_film_with_the_studios_own_surface(studio):
    clear = replace(studio, sunk=0.0)
    s = np.full(81, clear.binder_scatter)
    expected = saunderson(film_reflectance(0 * s, s, clear.film, clear.scene.cloth), *clear.surface)
    assert_allclose(clear.reflectance({}), expected)


def test_a_weight_errs_by_two_readings():
    rng = np.random.default_rng(4)
    for step in (0.01, 0.05, 0.1):
        true = np.array([weigh({BINDER: 99.0, "red": 1.0}, step, rng)["red"] for _ in range(20_000)])
        assert true.mean() == pytest.approx(1.0, abs=0.02 * step)
        # The variance of 20 000 sums of two uniform numbers is known within 0.8 %, one standard deviation.
        assert true.var() == pytest.approx(step**2 / 6, rel=0.03)
        assert np.abs(true - 1.0).max() < step


def test_the_display_shows_whole_steps():
    assert as_read({BINDER: 99.874, "red": 0.126, "black": 0.004}, 0.05) == pytest.approx(
        {BINDER: 99.85, "red": 0.15, "black": 0.05}
    )


def test_shares_and_grams_are_the_same_recipe():
    assert shares_of(grams_of(MIX, 250.0)) == pytest.approx(MIX)
    assert sum(grams_of(MIX, 250.0).values()) == pytest.approx(250.0)


@pytest.mark.parametrize("split", sorted(CODES))
def test_studios_are_drawn_within_their_bounds(split):
    for number in range(8):
        studio = hidden_studio(split, number)
        assert 6 <= len(studio.pigments) <= 8
        assert set(studio.pigments) <= set(WORLDS[split].pigments)
        assert all(set(row) & set(studio.pigments) for row in ALWAYS[split])
        assert all(8 <= half <= 30 for half in studio.crowding.values())
        assert len(studio.discord) == len(studio.pigments) * (len(studio.pigments) - 1) / 2
        assert 0 <= studio.sunk <= 0.3
        assert 0.03 <= studio.film <= 0.08


def test_a_studio_is_drawn_by_its_chance_alone(studio):
    again, other = (random_studio(np.random.default_rng(seed), count=6) for seed in (3, 4))
    assert again.film == random_studio(np.random.default_rng(3), count=6).film != other.film
    assert_array_equal(hidden_studio("build", 0).lab(MIX), studio.lab(MIX))


def test_hidden_recipes_are_in_reach_or_of_strange_pigments(studio):
    rng = np.random.default_rng(2)
    targets, strangers = ([draw(rng) for _ in range(200)] for draw in (studio.target, studio.stranger))
    for recipes, known in ((targets, True), (strangers, False)):
        totals = [sum(recipe.values()) for recipe in recipes]
        assert 0.2 <= min(totals) < 0.3
        assert 4 < max(totals) <= 5
        assert {len(recipe) for recipe in recipes} == {1, 2, 3}
        assert all((name in studio.pigments) == known for recipe in recipes for name in recipe)
    assert np.isfinite([studio.lab(recipe) for recipe in targets + strangers]).all()


def test_strips_scatter_in_thickness(studio):
    rng = np.random.default_rng(6)
    thick = np.log([studio.draw_down(MIX, rng).thickness for _ in range(4000)])
    assert thick.std() == pytest.approx(studio.spread, rel=0.05)


def test_a_strips_truth_is_what_its_photo_shows(studio):
    """But for where its blotches happen to fall: far less than a film a fifth thicker makes."""
    strips = {"left": Strip({"red": 1.2}, 1.05, 1), "right": Strip({"blue": 0.3}, 0.96, 2)}
    shot = render(studio.held(strips, np.random.default_rng(1)), (400, 300))
    for window, strip in strips.items():
        assert difference(shot.truth[window], studio.strip_lab(strip)) < 0.3
    thin, thick = (studio.strip_lab(replace(strips["left"], thickness=film)) for film in (0.9, 1.1))
    assert difference(thin, thick) > 1


def test_a_strip_can_be_photographed_again(studio, tmp_path):
    rng = np.random.default_rng(8)
    strip = studio.draw_down({"red": 1.2, "yellow": 0.4}, rng)
    first = studio.photograph({"left": strip}, rng, tmp_path)["left"]
    second = studio.photograph({"left": {"blue": 0.5}, "right": strip}, rng, tmp_path)["right"]
    assert_array_equal(first.lab, second.lab)
    assert first.strip is second.strip
    assert first.kept.errors.photos != second.kept.errors.photos
    assert first.kept.lab != second.kept.lab
    for sighting in (first, second):
        assert difference(np.array(sighting.kept.lab), sighting.lab) < 1.5
    assert not list(tmp_path.iterdir())


def test_a_refused_photo_is_taken_again_and_counted(studio, monkeypatch, tmp_path):
    chances = iter([False, False, True])

    def measured(self, strips, rng, folder):
        if not next(chances, False):
            raise FindError("No card can be seen in the photo.", "Lay the printed card flat.")
        return dict.fromkeys(strips)

    monkeypatch.setattr(Studio, "measured", measured)
    rng = np.random.default_rng(1)
    assert studio.photograph({"left": MIX}, rng, tmp_path)["left"].refused == 2
    with pytest.raises(FindError):
        studio.photograph({"left": MIX}, rng, tmp_path)
    assert studio.series_strips({"left": {BINDER: 99.0, "red": 1.0}}, rng, tmp_path, 0.01) == []


def test_written_shares_miss_the_true_ones_by_the_weighing_only(studio, monkeypatch, tmp_path):
    monkeypatch.setattr(Studio, "photograph", lambda self, strips, rng, folder: strips)
    series = studio.series(4, np.random.default_rng(9), tmp_path, scale_step=0.05)
    assert len(series) == 2 + 4 * len(studio.pigments)
    assert [strip.written for strip in series[:2]] == [{}, {}]
    off = []
    for strip in series[2:]:
        (name,) = strip.written
        assert set(strip.grams) == {BINDER, name}
        assert strip.written[name] == pytest.approx(strip.grams[name])  # a cup of 100 g
        off.append(strip.sighting[name] - strip.written[name])
    assert 0.01 < np.std(off) < 0.03
    assert np.abs(off).max() < 0.056  # the pigment's own step, and of 6 % of the binder's
    assert sorted({round(strip.written[name], 2) for strip in series[2:] for name in strip.written}) == [
        0.1,
        0.4,
        1.55,
        6,
    ]


def test_a_series_is_photographed_once(monkeypatch, tmp_path):
    calls = []
    monkeypatch.setattr(Studio, "series", lambda *asked: calls.append(asked[1]) or ["series"])
    assert [cached_series("build", 3, steps, 0.01, tmp_path) for steps in (4, 4, 8)] == [["series"]] * 3
    assert calls == [4, 8]


def test_what_a_series_holds_can_be_kept(studio):
    strip = studio.draw_down(MIX, np.random.default_rng(1))
    assert pickle.loads(pickle.dumps(strip)) == strip
    assert tuple(window.name for window in studio.scene.card.design.windows) == WINDOWS
