"""Heat does to hidden studios what `heat` says, and nothing where nobody heats."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from tests.worlds import hidden_studios as pots
from tests.worlds.heat import TOOLS, Baked, random_habits
from tests.worlds.heat_pairs import cached_dry, cached_pairs, heated, pairs
from tests.worlds.hidden_studios import Strip, hidden_studio, random_studio
from tests.worlds.spectra import difference
from tests.worlds.studio_records import kept

MIX = {"red": 1.2, "yellow": 0.4, "black": 0.05}
KEPT = kept()
STUDIOS = [hidden_studio("build", number) for number in range(12)]


def usual(studio, times=1.0, hotter=0.0):
    celsius, seconds, _ = studio.habits.usual
    return Baked(celsius + hotter, times * seconds)


def test_without_heat_nothing_changes():
    """The studios are those they were before anything was known of heat, and no heat at all is a dry strip."""
    for number, studio in enumerate(STUDIOS):
        rng = np.random.default_rng([2026, 5, 1, number])
        before = random_studio(rng, "build", int(rng.integers(6, 9)))
        assert before.habits is None
        assert_array_equal(studio.reflectance(MIX, 1.1), before.reflectance(MIX, 1.1))
        assert_array_equal(studio.reflectance(MIX, 1.1), studio.reflectance(MIX, 1.1, Baked(150, 0)))
        held = [each.held({"left": Strip(MIX, 1.1, 3)}, np.random.default_rng(1)) for each in (studio, before)]
        assert_array_equal(held[0].windows["left"].reflectance, held[1].windows["left"].reflectance)
        assert held[0].cloth is studio.scene.cloth
        assert held[0].pose == held[1].pose


def test_nobody_heats_in_a_studio_without_habits():
    with pytest.raises(ValueError, match="heat"):
        replace(STUDIOS[0], habits=None).lab(MIX, baked=Baked(150, 240))


def shifts(studio, *ways, count=40):
    """(ways, count) CIEDE2000 of random recipes from dry."""
    rng = np.random.default_rng(5)
    recipes = [studio.target(rng) for _ in range(count)]
    return np.array(
        [[difference(studio.lab(each, baked=baked), studio.lab(each)) for each in recipes] for baked in ways]
    )


def test_a_shift_is_of_the_size_that_people_see():
    sizes = np.array([shifts(studio, usual(studio))[0] for studio in STUDIOS])
    assert 3 < sizes.mean() < 4
    assert 1 < np.quantile(sizes, 0.1) < 2
    assert 5 < np.quantile(sizes, 0.9) < 7.5


def test_more_time_moves_the_colour_further_until_it_rests():
    """Each doubling of a quarter of the usual time adds less; with no yellowing the colour rests for good."""
    for studio in STUDIOS:
        calm = replace(studio, habits=replace(studio.habits, yellowing=0.0))
        labs = [calm.lab(MIX), *(calm.lab(MIX, baked=usual(calm, times)) for times in (0.25, 0.5, 1, 2, 20, 40))]
        steps = [difference(one, other) for one, other in pairwise(labs)]
        assert steps[0] > steps[2] > steps[3] > steps[5]
        assert steps[5] < 0.01
        assert 0.8 <= calm.habits.dose(usual(calm)) <= 0.98


def test_hotter_is_sooner():
    for studio in STUDIOS:
        half = usual(studio, 0.5)
        assert (
            2
            < -np.log(1 - studio.habits.dose(usual(studio, 0.5, hotter=25))) / -np.log(1 - studio.habits.dose(half))
            < 7
        )


def test_far_too_much_heat_yellows():
    for studio in STUDIOS:
        dry, done = studio.lab({})[2], studio.lab({}, baked=usual(studio))[2]
        assert abs(done - dry) < 1.5
        for more in (usual(studio, 3), usual(studio, hotter=25)):
            assert 0.5 < studio.lab({}, baked=more)[2] - done < 3.5
        longer = [studio.habits.yellow(usual(studio, times)) for times in (1, 2, 4)]
        assert longer[2] == pytest.approx(2 * longer[1]) == pytest.approx(4 * longer[0])


def test_bare_cloth_yellows_and_more_ink_sinks_into_a_raw_one():
    studio = next(each for each in STUDIOS if each.ground == "white")
    baked = usual(studio, 4)
    seen = studio.held({"left": Strip(MIX, 1.0, 1, baked), "right": Strip({}, 1.0, 2, baked)}, np.random.default_rng(1))
    assert_array_equal(seen.cloth, studio.bare(baked))
    assert seen.cloth[4] < studio.scene.cloth[4]
    raw = replace(studio, ground="natural")
    assert raw.heated(baked).sunk > studio.heated(baked).sunk > studio.sunk


def test_an_iron_scatters_more_than_a_dryer_and_that_more_than_a_press():
    habits, rng = STUDIOS[0].habits, np.random.default_rng(3)
    baked = {tool: [habits.bake(tool, rng) for _ in range(2000)] for tool in TOOLS}
    for tool, celsius, time in (("iron", 9, 0.15), ("press", 3, 0.04), ("dryer", 5, 0.08)):
        assert np.std([each.celsius for each in baked[tool]]) == pytest.approx(celsius, rel=0.05)
        assert np.std([np.log(each.seconds) for each in baked[tool]]) == pytest.approx(time, rel=0.05)
    colours = {tool: np.array([STUDIOS[0].lab(MIX, baked=each) for each in baked[tool][:100]]) for tool in TOOLS}
    iron, press, dryer = (colours[tool].std(axis=0).sum() for tool in TOOLS)
    assert iron > dryer > press
    assert habits.bake("press", rng, celsius=20, seconds=5).celsius < 40


def test_habits_are_drawn_by_chance_and_tools_vary():
    assert {studio.habits.usual.tool for studio in STUDIOS} == set(TOOLS)
    again = random_habits(np.random.default_rng([2026, 16, 1, 3]), STUDIOS[3].pigments, "build")
    assert again.usual == STUDIOS[3].habits.usual
    assert again.rest == STUDIOS[3].habits.rest
    for studio in STUDIOS:
        assert 140 <= studio.habits.usual.celsius <= 165
        assert 120 <= studio.habits.usual.seconds <= 300
        own = [np.exp(studio.habits.strength[name]).mean() for name in studio.pigments]
        assert 0.5 < min(own) < max(own) < 1.6


def test_a_pair_is_one_strip_before_and_after(tmp_path):
    studio, rng = hidden_studio("build", 2), np.random.default_rng(1)
    found = pairs(studio, [{"red": 1.2}, {"blue": 0.5}, {"yellow": 2.0}], rng, tmp_path)
    assert [list(one.written) for one in found] == [["red"], ["blue"], ["yellow"]]
    for one in found:
        assert replace(one.set.strip, baked=None) == one.strip == one.dry.strip
        assert abs(one.baked.celsius - studio.habits.usual.celsius) < 40
        assert_array_equal(one.set.lab, studio.strip_lab(one.set.strip))
        for seen in (one.dry, one.set):
            assert difference(np.array(seen.kept.lab), seen.lab) < 2
        assert one.dry.kept.errors.photos != one.set.kept.errors.photos
    assert heated(studio, found[0].strip, rng).baked != found[0].baked


def test_pairs_are_photographed_once_and_the_first_stay_the_first(monkeypatch, tmp_path):
    calls = []

    def photograph(self, strips, rng, folder):
        calls.append(rng.random())
        made = {window: one if isinstance(one, Strip) else self.draw_down(one, rng) for window, one in strips.items()}
        kept = {window: replace(KEPT, name=window) for window in strips}
        return {window: pots.Sighting(made[window], kept[window], np.zeros(3), 0) for window in strips}

    monkeypatch.setattr(pots.Studio, "photograph", photograph)
    few, many = (cached_pairs("build", 1, count, 0.01, tmp_path) for count in (3, 24))
    assert len(calls) == 24
    assert (len(few), len(many)) == (3, 24)
    assert [one.strip for one in few] == [one.strip for one in many[:3]]
    short, long = (cached_dry("build", 1, count, 0.01, tmp_path) for count in (4, 6))
    assert [one.dry.strip for one in short] == [one.dry.strip for one in long[:4]]
    assert not {str(one.strip.shares) for one in many} & {str(one.dry.strip.shares) for one in long}
