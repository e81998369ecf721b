"""What a pot or a run of ink costs, by the prices on the shelf: of all that is in it, clear base too."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ...recipes.recipe import BINDER, Recipe, called
from ...text import key
from ..library import Library
from .pigments import Pigment, clear_base, pigments

Prices = Mapping[str, float]  # name in small letters, or BINDER -> what 100 g cost, in the studio's own money


@dataclass(frozen=True)
class Cost:
    """What some ink costs, in the studio's own money."""

    total: float | None  # None where something in it has no price, and of nothing
    unpriced: tuple[str, ...] = ()  # what in it has no price, as the recipe calls it
    priced: bool = True  # whether anything in it has a price


def prices_of(shelf: Iterable[Pigment], base: Pigment | None) -> dict[str, float]:
    """The prices on a shelf, and that of the clear base, where somebody said them."""
    own = {key(pigment.name): pigment.price for pigment in shelf} | {BINDER: base.price if base else None}
    return {name: price for name, price in own.items() if price is not None}


def cost_of(recipe: Recipe, prices: Prices) -> Cost:
    """What all that is in a recipe costs."""
    parts = [(BINDER if part.what == BINDER else key(part.what), part) for part in recipe.parts if part.grams]
    unpriced = tuple(called(part.what) for name, part in parts if name not in prices)
    total = sum(prices[name] * part.grams / 100 for name, part in parts if name in prices)
    return Cost(None if unpriced or not parts else total, unpriced, len(unpriced) < len(parts))


def cost_of_run(library: Library, recipe: Recipe, grams: float) -> Cost:
    """What so many grams of ink of a recipe cost, by the prices on the library's shelf today."""
    whole = cost_of(recipe, prices_of(pigments(library), clear_base(library)))
    total = None if whole.total is None else whole.total * grams / recipe.grams
    return Cost(total, whole.unpriced, whole.priced)
