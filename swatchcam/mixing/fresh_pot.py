"""A fresh pot, from what the library knows: a recipe for a new colour, the same shade again, or leftovers used up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from ..colorimetry.cielab import Lab
from ..errors import UsageError
from ..library.library import Library
from ..library.proposal_store import proposals
from ..library.proposals import RECIPE
from ..library.records import Batch, Shade, State
from ..library.search import series_shades
from ..library.shelf.studio import studio_of
from ..messages.message import Flag, flag
from ..text import key
from .order import Order, Proposed
from .pot_lookup import best_pot, left_over, left_over_of_any, on_the_shelf, recipe_in
from .recommend import again, recipe_for
from .requests import Answer, PrintConditions
from .search import Target
from .target import TargetRequest, as_usual, in_state, of_shade, target_of
from .use_up import Leftover, leftover_on, nearest_thinned, use_up, worth
from .workbench import Bench, bench_for, set_up

WORKED_OUT, LISTED = 6, 5  # shades near to what leftovers give, and those of them that are told; no source


def new_recipe(
    library: Library, asked: TargetRequest, order: Order, place: PrintConditions, wanted: Target | None = None
) -> Answer:
    """A recipe for the colour that is asked for, or for `wanted` where that is known already."""
    target, shade = (as_usual(library, in_state(wanted, asked.state)), None) if wanted else target_of(library, asked)
    bench = _bench_for(library, target, place)
    return Answer(recipe_for(bench, target, order), bench, shade)


def repeated(
    library: Library, asked: TargetRequest, order: Order, place: PrintConditions, rests: Sequence[str] = ()
) -> Answer:
    """A shade once more, old pots first: `rests` are "BATCH=GRAMS"."""
    shade = library.shade(asked.shade)
    target, _ = target_of(library, asked)
    bench = _bench_for(library, target, place)
    best = best_pot(library, shade, target, bench.state)
    old: dict[str, tuple[Batch, float]] = {}
    for text in rests:
        batch, grams = left_over(library, shade, text)
        if batch.name in old:
            raise UsageError("leftover-named-twice", "add-up-what-is-left", batch=batch.name)
        old[batch.name] = (batch, grams)
    known = [(recipe_in(batch), grams, batch.mixed) for batch, grams in old.values()]
    return Answer(again(bench, target, recipe_in(best), order, known), bench, shade, best, rests=tuple(old.values()))


def _bench_for(library: Library, target: Target, place: PrintConditions) -> Bench:
    """The bench for a fresh pot, which is for the studio's usual cloth where none was named."""
    return bench_for(library, target, place.cloth or studio_of(library).cloth, place.ink)


def used_up(
    library: Library,
    asked: TargetRequest,
    order: Order,
    place: PrintConditions,
    given: Sequence[str] = (),
    all_of_it: bool = False,
) -> Answer:
    """A pot of what is left of old ones: `given` are "SHADE BATCH=GRAMS", by default all that is on the shelf.

    With `all_of_it` it becomes as large as what is left makes it.
    """
    target, shade = target_of(library, asked)
    bench = _bench_for(library, target, place)
    leftovers, flags = _leftovers(library, bench, place.ink, given)
    return _of(use_up(bench, target, leftovers, order, all_of_it), bench, shade, flags)


def shades_from_leftovers(
    library: Library,
    state: State,
    order: Order,
    place: PrintConditions,
    given: Sequence[str] = (),
    all_of_it: bool = False,
) -> list[Answer]:
    """Of the studio's shades in a state those that can be made of what is left, what saves most first; none of none."""
    bench = set_up(library, place.cloth or studio_of(library).cloth, state, place.ink)
    leftovers, flags = _leftovers(library, bench, place.ink, given)
    # What is wrong with the order itself is refused here, and not taken for no use below.
    whole = math.fsum(one.grams for one in leftovers)
    (replace(order, grams=whole) if all_of_it else order).check()
    bench.strengths(order.pigments)
    colours = _colours(library)
    apart = nearest_thinned(bench, leftovers, np.array([lab for _, lab in colours]).reshape(-1, 3))
    found = []
    for at in np.argsort(apart, kind="stable")[:WORKED_OUT]:
        shade = colours[at][0]
        with suppress(UsageError):  # a shade without a colour in this state, or that no leftover is of use for
            target = of_shade(library, shade, state)
            found.append(_of(use_up(bench, target, leftovers, order, all_of_it), bench, shade, flags))
    return sorted(found, key=lambda answer: -worth(answer.proposed.choices[0]))[:LISTED]


def _of(proposed: Proposed, bench: Bench, shade: Shade | None, flags: tuple[Flag, ...]) -> Answer:
    rests = tuple((rest.batch, rest.grams) for rest in proposed.choices[0].saved.rests)
    return Answer(replace(proposed, flags=(*proposed.flags, *flags)), bench, shade, rests=rests)


def _leftovers(
    library: Library, bench: Bench, ink: str, given: Sequence[str]
) -> tuple[list[Leftover], tuple[Flag, ...]]:
    """What is left, and a flag where some of it is of no use; what was named and is of no use is refused."""
    named = [left_over_of_any(library, text) for text in given]
    for at, (batch, _) in enumerate(named):
        if batch.number in {other.number for other, _ in named[:at]}:
            raise UsageError("leftover-named-twice", "add-up-what-is-left", batch=batch.name)
    there = named or on_the_shelf(library, ink)
    if not there:
        raise UsageError("nothing-left", "say-what-is-left")
    inks = {key(batch.ink): batch.ink for batch, _ in there if batch.ink} | ({key(ink): ink} if ink else {})
    if len(inks) > 1:
        raise UsageError("inks-mixed", "name-the-ink", inks=sorted(inks.values()))
    if named:
        return [leftover_on(bench, batch, grams) for batch, grams in named], ()
    found, others = [], []
    for batch, grams in there:
        try:
            found.append(leftover_on(bench, batch, grams))
        except UsageError:
            others.append(f"batch {batch.name} of {batch.shade}")
    if not found:
        raise UsageError("nothing-left", "say-what-is-left")
    return found, (flag("leftovers-left-out", pots=others),) if others else ()


def _colours(library: Library) -> list[tuple[Shade, Lab]]:
    """Every shade that somebody may want again, with its colour, as `target.of_shade` takes it."""
    last, series = library.latest(), series_shades(library)
    made_for = {key(one.shade): one.target for one in reversed(proposals(library)) if one.kind == RECIPE and one.target}
    found = []
    for shade in library.shades():
        own = shade.target or made_for.get(key(shade.name))
        lab = own or (last[shade.name].colour.lab if shade.name in last else None)
        if lab and shade.number not in series:
            found.append((shade, lab))
    return found
