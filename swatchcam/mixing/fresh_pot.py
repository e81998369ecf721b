"""A fresh pot, from what the library knows: a recipe for a new colour, or the same shade again."""

from __future__ import annotations

from collections.abc import Sequence

from ..errors import UsageError
from ..library.library import Library
from ..library.records import Batch
from ..library.shelf.studio import studio_of
from .order import Order
from .pot_lookup import best_pot, left_over, recipe_in
from .recommend import again, recipe_for
from .requests import Answer, PrintConditions
from .search import Target
from .target import TargetRequest, as_usual, in_state, target_of
from .workbench import bench_for


def new_recipe(
    library: Library, asked: TargetRequest, order: Order, place: PrintConditions, wanted: Target | None = None
) -> Answer:
    """A recipe for the colour that is asked for, or for `wanted` where that is known already."""
    target, shade = (as_usual(library, in_state(wanted, asked.state)), None) if wanted else target_of(library, asked)
    bench = bench_for(library, target, place.cloth or studio_of(library).cloth, place.ink)
    return Answer(recipe_for(bench, target, order), bench, shade)


def repeated(
    library: Library, asked: TargetRequest, order: Order, place: PrintConditions, rests: Sequence[str] = ()
) -> Answer:
    """A shade once more, old pots first: `rests` are "BATCH=GRAMS"."""
    shade = library.shade(asked.shade)
    target, _ = target_of(library, asked)
    bench = bench_for(library, target, place.cloth or studio_of(library).cloth, place.ink)
    best = best_pot(library, shade, target, bench.state)
    old: dict[str, tuple[Batch, float]] = {}
    for text in rests:
        batch, grams = left_over(library, shade, text)
        if batch.name in old:
            raise UsageError("leftover-named-twice", "add-up-what-is-left", batch=batch.name)
        old[batch.name] = (batch, grams)
    known = [(recipe_in(batch), grams, batch.mixed) for batch, grams in old.values()]
    return Answer(again(bench, target, recipe_in(best), order, known), bench, shade, best, rests=tuple(old.values()))
