"""The verdict on two pots in numbers and in sentences: the answer first, whole sentences, nothing left out."""

from __future__ import annotations

import re

import numpy as np
import pytest

from swatchcam.colorimetry.film_scatter import FilmScatter, film_scatter
from swatchcam.measurement.pot_verdict import PotStrip, judge_pots
from swatchcam.report.json_types.measuring import FilmScatterJson, PotsJson
from swatchcam.report.pots import films_dict, films_sentence, pots_dict
from tests.report.typed import faults
from tests.worlds.inks import cloth
from tests.worlds.paper_pots import RECIPES, Paste, strips_of

PASTE = Paste("white", 0.03, 0.15, (0.025, 0.25))
EVEN = FilmScatter(0.03, 0.02, 0.05, 40, 20)
MORE = {name: 1.3 * load for name, load in RECIPES[1].items()}
BLUER = RECIPES[0] | {"blue": 0.1}
JUDGED = {  # what is judged -> strips of both pots, and the sentence that must be there
    "same": ((RECIPES[0], [0.0] * 3), (RECIPES[0], [0.0] * 3), "Same ink: the same proportions, and the same strength"),
    "stronger": ((RECIPES[1], [0.0] * 3), (MORE, [0.0] * 3), "Same proportions, but the pot is"),
    "shade": ((RECIPES[0], [0.0]), (BLUER, [0.2]), "The shade differs by"),
    "thicker": ((RECIPES[0], [0.0]), (RECIPES[0], [0.12]), "one photo can't tell which"),
    "no difference": ((RECIPES[0], [0.0]), (RECIPES[0], [0.0]), "There is no clear difference in strength or film."),
    "odd": ((RECIPES[0], [0.0, 0.0]), (RECIPES[0], [0.0, 0.0]), "doesn't fit the other strips of its pot"),
}


@pytest.mark.parametrize("kind", JUDGED)
def test_what_is_said_of_pots_is_said_in_whole_sentences(kind):
    first, second, sentence = JUDGED[kind]
    drawn = [first, second] + [(BLUER, [0.0])] * (kind == "odd")
    pots = [[PotStrip(strip) for strip in strips] for strips in strips_of(PASTE, drawn, np.random.default_rng(6), 0.2)]
    if kind == "odd":
        pots[1] += pots.pop()
    scatter = EVEN if kind in ("same", "stronger") else None
    found = judge_pots(*pots, 2.0, scatter, cloth("white").tolist())
    told = pots_dict(found)
    assert faults(told, PotsJson) == []
    assert any(sentence in one for one in told["sentences"])
    for one in [*told["sentences"], films_sentence(told["films"])]:
        assert re.fullmatch(r"[A-Z].*\.", one)
        assert "  " not in one
    assert bool(told["odd_strips"]) == (kind == "odd")


def judged(first, second, scatter=None, noise=0.2):
    strips = strips_of(PASTE, [first, second], np.random.default_rng(6), noise)
    return judge_pots(*([PotStrip(one) for one in pot] for pot in strips), 2.0, scatter, cloth("white").tolist())


def test_weaker_and_thinner_are_said_of_the_other_way_round():
    thin = pots_dict(judged((RECIPES[0], [0.0]), (RECIPES[0], [-0.15])))
    thick = pots_dict(judged((RECIPES[0], [-0.15]), (RECIPES[0], [0.0])))
    assert "weaker or thinner" in thin["sentences"][0]
    assert "stronger or thicker" in thick["sentences"][0]
    low, high = thin["split"]["strips_strength"]["interval95_percent"]
    assert low < thin["split"]["strips_strength"]["percent"] < high < 0


def test_two_strips_are_told_in_the_plural_and_asked_for_more():
    asked = set()
    for scatter in (0.06, 0.07, 0.08):
        known = FilmScatter(scatter, 0.03, 0.1, 40, 20)
        told = pots_dict(judged((RECIPES[0], [0.0, 0.0]), (RECIPES[0], [0.0, 0.0]), known))
        if more := told["more_strips"]:
            asked.add(more)
            would = "that should show which it is" if more == 1 else "they should show which it is"
            ending = f"Make {more} more strip{'s' * (more > 1)} before you change the pot: {would}."
            assert told["sentences"][-1] == ending
    assert asked
    told = pots_dict(judged((RECIPES[0], [0.0, 0.0]), (RECIPES[0], [0.14, 0.14])))
    assert told["sentences"][0].startswith("Same proportions. Today's strips are")
    assert "these strips can't tell which" in told["sentences"][0]


def test_a_shade_is_off_first_and_strength_beside_it():
    told = pots_dict(judged((RECIPES[0], [0.0]), (BLUER, [0.2])))["sentences"]
    assert re.match(
        r"The shade differs by [\d.]+ \([\d.]+ to [\d.]+\) beyond what strength or film explains: it is ", told[0]
    )
    assert re.fullmatch(r"Besides, the strip .+ is \d+ % \(\d+ to \d+ %\) stronger or thicker\.", told[1])


def test_where_nothing_can_be_split_nothing_is_claimed():
    strips = strips_of(PASTE, [(RECIPES[0], [0.0]), (RECIPES[0], [0.1])], np.random.default_rng(6), 0.2)
    told = pots_dict(judge_pots(*([PotStrip(one) for one in pot] for pot in strips), 2.0))
    assert faults(told, PotsJson) == []
    assert (told["sentences"], told["split"], told["outcome"]) == ([], None, None)
    assert told["why_not"]["sentence"]


def test_films_are_told_as_known_only_once_they_were_learned():
    guess, learned = films_dict(film_scatter()), films_dict(film_scatter([[0.0, 0.1], [0.0, 0.1, 0.2]]))
    assert faults([guess, learned], list[FilmScatterJson]) == []
    assert films_sentence(guess).startswith("Your films are assumed to vary by ")
    assert films_sentence(guess).endswith("until you keep two strips of one pot.")
    assert "judging from 5 strips of 2 pots." in films_sentence(learned)
