"""The pot behind the strips: each outcome, each reason for none, odd strips, and how many more would tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.film_scatter import FilmScatter, film_scatter
from swatchcam.measurement.pot_verdict import (
    ODD,
    SHADE_SHARE,
    PotOutcome,
    PotStrip,
    curve_of,
    films_of,
    judge_pots,
    percent,
)
from swatchcam.measurement.verdict import Outcome
from tests.worlds.inks import cloth
from tests.worlds.paper_pots import RECIPES, Paste, paste, second_pot, strips_of

PASTE = Paste("white", 0.03, 0.15, (0.025, 0.25))
MAUVE = {"violet": 0.5, "golden": 0.3}
EVEN = FilmScatter(0.03, 0.02, 0.05, 40, 20)  # rails and a straight edge, learned from many pots


def pots(*made, paste=PASTE, seed=1, noise=0.3, seen=True):
    """Strips of each pot, [(recipe, ln films)]; their photos show the bare cloth unless said."""
    ground = tuple(map(float, cloth(paste.ground))) if seen else None
    drawn = strips_of(paste, made, np.random.default_rng(seed), noise)
    return [[PotStrip(replace(strip, cloth=ground)) for strip in strips] for strips in drawn]


def more(recipe, factor=1.0, **grams):
    return {
        name: load * factor for name, load in (recipe | {n: recipe.get(n, 0) + g for n, g in grams.items()}).items()
    }


def judged(*made, tolerance=2.0, scatter=None, **how):
    return judge_pots(*pots(*made, **how), tolerance, scatter)


# --- outcomes -----------------------------------------------------------------------------------------------

EVEN_FILMS = [0.0] * 3
OUTCOMES = {
    "one pot smeared thin and thick": ((MAUVE, [0.0]), (MAUVE, [0.15]), None, PotOutcome.PROPORTIONS),
    "more of one pigment": ((MAUVE, [0.0]), (more(MAUVE, golden=0.06), [0.05]), None, PotOutcome.SHADE),
    "more of all": ((MAUVE, [0.0]), (more(MAUVE, 1.2), [0.0]), None, PotOutcome.PROPORTIONS),
    "twice as much of all": ((MAUVE, EVEN_FILMS), (more(MAUVE, 2.0), EVEN_FILMS), EVEN, PotOutcome.STRENGTH),
    "one pot, even films": ((MAUVE, EVEN_FILMS), (MAUVE, EVEN_FILMS), EVEN, PotOutcome.SAME),
    "a little of one pigment": ((MAUVE, [0.0]), (more(MAUVE, golden=0.012), [0.0]), None, PotOutcome.OPEN),
}
JUDGED = {
    PotOutcome.SAME: Outcome.SAME,
    PotOutcome.PROPORTIONS: Outcome.TOO_CLOSE,
    PotOutcome.OPEN: Outcome.TOO_CLOSE,
    PotOutcome.SHADE: Outcome.DIFFERENT,
    PotOutcome.STRENGTH: Outcome.DIFFERENT,
}


def test_every_outcome_is_among_those_below():
    assert {outcome for *_, outcome in OUTCOMES.values()} == set(PotOutcome) == set(JUDGED)


@pytest.mark.parametrize("kind", OUTCOMES)
def test_each_outcome(kind):
    first, second, scatter, outcome = OUTCOMES[kind]
    found = judged(first, second, scatter=scatter)
    assert found.why_not is None
    assert found.outcome is outcome
    for strips in Outcome:
        assert found.judged(strips) is JUDGED[outcome]
    assert found.counts == (len(first[1]), len(second[1]))
    assert (found.more is not None) <= (outcome is PotOutcome.PROPORTIONS)


def test_a_shade_is_off_before_anything_is_said_of_strength():
    found = judged((MAUVE, EVEN_FILMS), (more(MAUVE, 2.0, golden=0.2), EVEN_FILMS), scatter=EVEN)
    assert found.outcome is PotOutcome.SHADE
    assert found.split.pots.value > found.strength_tolerance


def test_the_tolerance_scales_both_of_its_parts():
    tight, wide = (judged((MAUVE, [0.0]), (more(MAUVE, golden=0.04), [0.0]), tolerance=each) for each in (1.5, 6.0))
    assert wide.shade_tolerance == pytest.approx(4 * tight.shade_tolerance) == pytest.approx(6.0 * SHADE_SHARE)
    assert wide.strength_tolerance == pytest.approx(4 * tight.strength_tolerance)
    assert_allclose(wide.strength_tolerance * wide.split.sensitivity, 6.0)
    assert (tight.outcome, wide.outcome is PotOutcome.SHADE) == (PotOutcome.SHADE, False)
    assert tight.split == wide.split


def test_films_that_were_weighed_tell_strength_from_film():
    films = [0.0, 0.2, -0.1, 0.15]
    first, second = pots((MAUVE, films[:2]), (more(MAUVE, 1.3), films[2:]), noise=0.1)
    assert judge_pots(first, second, 2.0).outcome is PotOutcome.PROPORTIONS
    coats = [(7.2 * float(np.exp(film)), 0.01) for film in films]
    weighed = [replace(strip, coat=coat) for strip, coat in zip([*first, *second], coats, strict=True)]
    found = judge_pots(weighed[:2], weighed[2:], 2.0)
    assert found.outcome is PotOutcome.STRENGTH
    assert found.split.pots.value == pytest.approx(np.log(1.3), abs=1.96 * found.split.pots.std)
    assert found.split.pots.std < 0.05
    # Where one was not weighed, its film may be any, and the others' weights tell nothing.
    partly = judge_pots(weighed[:2], [weighed[2], second[1]], 2.0)
    assert partly.split == judge_pots(first, second, 2.0).split


def test_percent_is_of_the_other_strength():
    assert percent(np.log(1.2)) == pytest.approx(20)
    assert percent(np.log(0.8)) == pytest.approx(-20)


# --- no split -----------------------------------------------------------------------------------------------


def other_light(strip):
    return replace(strip, colour=replace(strip.colour, illuminant="D50"))


def other_observer(strip):
    return replace(strip, colour=replace(strip.colour, observer=2))


PAIR = (MAUVE, [0.0]), (MAUVE, [0.2])
BLACK = {"black": 6.0}
WHY_NOT = {
    "cloth-not-seen": lambda: pots(*PAIR, seen=False),
    "split-of-cut-off-colour": lambda: [pots(*PAIR)[0], [replace(one, vivid=True) for one in pots(*PAIR)[1]]],
    "split-of-black": lambda: pots((BLACK, [0.0]), (BLACK, [0.2]), paste=Paste("white", 0.001, 0.15, (0.0, 0.25))),
    "ink-hides-cloth": lambda: pots(*PAIR, paste=Paste("grey", 60.0, 0.0, (0.025, 0.25))),
    "split-for-other-light": lambda: [[other_light(one) for one in strips] for strips in pots(*PAIR)],
}


@pytest.mark.parametrize("code", WHY_NOT)
def test_where_nothing_can_be_split_it_says_why_and_the_strips_verdict_stands(code):
    found = judge_pots(*WHY_NOT[code](), 2.0)
    assert (found.why_not.code, found.split, found.outcome, found.more) == (code, None, None, None)
    for strips in Outcome:
        assert found.judged(strips) is strips


def test_another_observer_is_another_light():
    first, second = pots(*PAIR)
    assert judge_pots(first, [other_observer(second[0])], 2.0).why_not.code == "split-for-other-light"


def test_a_cloth_that_is_known_otherwise_is_enough():
    first, second = pots(*PAIR, seen=False)
    found = judge_pots(first, second, 2.0, cloth=tuple(map(float, cloth("white"))))
    assert found.outcome is PotOutcome.PROPORTIONS
    seen = judge_pots(*pots(*PAIR), 2.0)
    assert found.split == seen.split


def test_one_photo_that_shows_the_cloth_is_enough():
    first, second = pots(*PAIR)
    hidden = [replace(one, colour=replace(one.colour, cloth=None)) for one in first]
    assert judge_pots(hidden, second, 2.0).split == judge_pots(first, second, 2.0).split


# --- odd strips ---------------------------------------------------------------------------------------------


def test_the_strip_that_two_others_outvote_is_named():
    three, two = pots((MAUVE, [0.0, 0.1, -0.1]), (MAUVE, [0.05, -0.05]))
    (stray,), _ = pots((more(MAUVE, blue=0.2), [0.0]), (MAUVE, [0.0]))
    stray = replace(stray, colour=replace(stray.colour, name="stray"))
    for first, second in (([*three[:2], stray], two), (two, [stray, *three[1:]])):
        assert judge_pots(first, second, 2.0).odd == ("stray",)


def test_of_two_strips_none_is_called_odd():
    first, _ = pots((MAUVE, [0.0, 0.1]), (MAUVE, [0.0]))
    (stray,), _ = pots((more(MAUVE, blue=0.2), [0.0]), (MAUVE, [0.0]))
    assert judge_pots([first[0], stray], [first[1]], 2.0).odd == ()


def test_few_fair_strips_are_called_odd():
    rng, pots_drawn, called = np.random.default_rng(12), 400, 0
    for place in range(pots_drawn):
        made, first = paste(rng), RECIPES[rng.integers(len(RECIPES))]
        counts = ((3, 1), (1, 3), (4, 2))[place % 3]
        films = [rng.normal(0, 0.12, count) for count in counts]
        drawn = strips_of(made, [(first, films[0]), (second_pot(first, "same", rng), films[1])], rng)
        strips = [[PotStrip(one) for one in pot] for pot in drawn]
        called += bool(judge_pots(*strips, 2.0, cloth=cloth(made.ground).tolist()).odd)
    # One pot in each has three strips or more; counting alone leaves 1.1 % open, twice that is allowed.
    assert called / pots_drawn <= ODD + 0.022


# --- how many more would tell -------------------------------------------------------------------------------


def told(factor, scatter, counts, further=0):
    """The verdict, with so many further strips of the second pot that agree with the first of it."""
    films = [0.0] * counts[0], [0.0] * (counts[1] + further)
    return judged((MAUVE, films[0]), (more(MAUVE, factor), films[1]), scatter=replace(EVEN, std=scatter), noise=0.0)


@pytest.mark.parametrize("counts", [(1, 1), (2, 1), (3, 2)], ids=str)
def test_as_many_more_strips_as_it_asks_for_do_tell(counts):
    """To within one strip; from the fifth on, one more hardly makes anything surer."""
    asked = set()
    for factor in (1.0, 1.01, 1.2, 1.22, 0.8):
        for scatter in (0.035, 0.04, 0.05, 0.06, 0.07):
            found = told(factor, scatter, counts)
            if found.outcome is not PotOutcome.PROPORTIONS:
                continue
            does = [decided(told(factor, scatter, counts, further)) for further in range(1, 6)]
            if found.more is None:
                assert not any(does)
            elif found.more < 5:
                asked.add(found.more)
                assert does.index(True) + 1 == pytest.approx(found.more, abs=1)
    assert len(asked) >= 3


def decided(found):
    return found.outcome in (PotOutcome.SAME, PotOutcome.STRENGTH)


# --- films of one pot ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("recipe", RECIPES, ids="+".join)
def test_the_films_of_one_pots_strips_are_read_from_their_colours(recipe):
    films = np.array([-0.25, 0.0, 0.2])
    (strips,) = pots((recipe, films), noise=0.0)
    found = np.array(films_of(strips, cloth("white").tolist()))
    assert_allclose(found - found.mean(), films - films.mean(), atol=0.03)


def test_films_are_not_read_where_they_cannot_be():
    (strips,) = pots((MAUVE, [0.0, 0.2]), noise=0.0)
    assert films_of(strips, None) == []
    assert films_of([replace(one, vivid=True) for one in strips], cloth("white").tolist()) == []
    (stray,) = pots((more(MAUVE, blue=0.4), [0.0]), noise=0.0)
    assert films_of([*strips, *stray], cloth("white").tolist()) == []
    (hiding,) = pots((MAUVE, [0.0, 0.2]), noise=0.0, paste=Paste("grey", 60.0, 0.0, (0.025, 0.25)))
    assert films_of(hiding, cloth("grey").tolist()) == []


def test_without_a_library_the_usual_scatter_is_taken():
    found = judged(*PAIR)
    assert found.scatter == film_scatter()
    assert curve_of([pots(*PAIR)[0][0].colour], cloth("white").tolist()).lab.shape == (61, 3)
