"""Proposals, a pigment and outcomes of an invented studio, as `report.mixing` puts them for pages and plots."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from swatchcam.library.records import DRY, Batch
from swatchcam.library.shelf.pigments import Lot, Pigment
from swatchcam.mixing.order import Order, Proposed
from swatchcam.mixing.prediction_check import checked_predictions, prediction_rate
from swatchcam.mixing.recommend import again, correction_for, recipe_for
from swatchcam.mixing.requests import Answer
from swatchcam.mixing.search import Target
from swatchcam.mixing.thinning_choices import thinning_for
from swatchcam.mixing.use_up import leftover_on, use_up
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.recipe import GRAMS, Part, Recipe
from swatchcam.report.mixing import answer_dict, pigment_dict, prediction_check_dict
from tests.worlds.cheap_measurements import proposal
from tests.worlds.inkworld import film_world, made_by
from tests.worlds.studio_records import batch, kept, record, with_lab

ORDER = Order(300, 0.01)
POT = Recipe(tuple(Part(what, g, GRAMS, g, 0.01) for what, g in (("binder", 295.0), ("red", 3.0), ("yellow", 2.0))))
OLD = batch(3, recipe=POT)
SHELF = {"red": Pigment("red", 6.0, 0.05, 11.5, "Stir well.", (Lot("R-2", "2026-01-05", 0.9, 0.02),))}
COLOUR = kept()
MISSES = (0.3, -0.4, 0.2, 9.0, -0.1, -12.0)  # of a*, from what was predicted; two of them far too large
KEPT_APART = "kind", "srgb_approx"  # strings that are no user's


@cache
def bench() -> Bench:
    """What one studio learned from test series of four."""
    return Bench("white cotton", DRY, tuple(film_world(1).series()), {}, {}, True)


@cache
def answers() -> dict[str, dict[str, Any]]:
    """One dict of each kind of proposal; do not write into them."""
    return {
        "recipe": _told(recipe_for(bench(), _wanted(red=0.8, yellow=0.5), ORDER)),
        "correction": _told(correction_for(bench(), _wanted(red=1.3, yellow=1.5), POT, ORDER)),
        "thinning": _told(thinning_for(bench(), _wanted(red=0.2, yellow=0.15), POT, ORDER, 400)),
        "left": _told(correction_for(bench(), _wanted(red=1.0, yellow=2 / 3), POT, ORDER)),
        "again": _again(),
        "use-up": _use_up(),
        "far": _told(recipe_for(bench(), Target((60.0, -60.0, 40.0), "a leaf"), ORDER)),
    }


@cache
def pigment_facts() -> dict[str, Any]:
    """What red does, and what is said of it."""
    return pigment_dict(replace(bench(), shelf=SHELF), "red")


@cache
def prediction_check_facts(count: int = len(MISSES)) -> dict[str, Any]:
    """How so many proposals came out."""
    lightness, a, b = COLOUR.lab
    proposals = [
        proposal(number=n, shade="Mohnrot", batch=f"B{n}", made="2026-02-20T12:00:00Z") for n in range(1, count + 1)
    ]
    records = [
        with_lab(record(n, batch=f"B{n}"), (lightness, a + miss, b)) for n, miss in enumerate(MISSES[:count], start=1)
    ]
    return prediction_check_dict(prediction_rate(checked_predictions(proposals, records)))


def renamed(facts: Any, name: str) -> Any:
    """The same facts, every word of a user's, and every sentence, put in `name`'s place."""
    if isinstance(facts, dict):
        return {key: each if key in KEPT_APART else renamed(each, name) for key, each in facts.items()}
    if isinstance(facts, list):
        return [renamed(each, name) for each in facts]
    return name if isinstance(facts, str) else facts


def in_a_kitchen(facts: dict[str, Any]) -> dict[str, Any]:
    """The same pot of two pigments with a coarse scale: one in drops, the other from a pre-mix that is made first."""
    (weighing,) = facts["weighing"]
    base, first, last, close = weighing["steps"]
    pre_mix = f"{last['what']} 10 %"
    make = last | {"way": "make", "grams": 0.0, "pre_mix": pre_mix, "words": f"First make the {pre_mix} pre-mix."}
    steps = [
        make,
        base | {"grams": 48.0},
        first | {"way": "count", "grams": 0.0, "drops": 6},
        last | {"grams": 4.0, "pre_mix": pre_mix},
        close,
    ]
    numbered = [step | {"step": number} for number, step in enumerate(steps, start=1)]
    choices = [choice | {"tools_ciede2000": 0.41} for choice in facts["choices"]]
    return facts | {"weighing": [weighing | {"steps": numbered}], "choices": choices}


def _wanted(**shares: float) -> Target:
    return made_by(bench().palette, shares)


def _again() -> dict[str, Any]:
    """A strip of the pot is the target, and taught the palette too; 80 g of that pot are left."""
    known_strip = film_world(1).known_strip({"red": 1.0, "yellow": 2 / 3}, 950)
    target = Target(known_strip.colour.lab, "a strip", known_strip.colour)
    return _told(
        again(bench().with_known_strip(known_strip), target, POT, ORDER, [(POT, 80.0, OLD.mixed)]), ((OLD, 80.0),)
    )


def _use_up() -> dict[str, Any]:
    """80 g of a pot of red and yellow are left, for a colour that is a little browner."""
    target, left = _wanted(red=0.9, yellow=0.7, black=0.05), leftover_on(bench(), OLD, 80.0)
    return _told(use_up(bench(), target, [left], ORDER))


def _told(proposed: Proposed, rests: tuple[tuple[Batch, float], ...] = ()) -> dict[str, Any]:
    return answer_dict(Answer(proposed, bench(), None, rests=rests), ORDER)
