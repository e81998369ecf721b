"""Which pot of a shade is meant, and what is in it."""

from __future__ import annotations

from ..colorimetry.colour_difference import delta_e_2000
from ..errors import UsageError
from ..library.library import Library
from ..library.proposal_store import proposals
from ..library.records import Batch, Record, Shade, State, batch_named, of_the_ink
from ..recipes.numbers import parse_number
from ..recipes.recipe import Recipe
from ..text import key
from .search import Target


def pot_of(library: Library, shade: Shade, name: str) -> Batch:
    """The batch of that name; the shade's last one where none is named.

    Raises
    ------
    UsageError
        There is none, or nobody said what is in it.
    """
    batches = library.batches(shade.name)
    if name:
        pot = batch_named(batches, shade.name, name)
    elif batches:
        pot = batches[-1]
    else:
        raise UsageError("shade-without-batch", "keep-a-strip-with-recipe", shade=shade.name)
    recipe_in(pot)
    return pot


def recipe_in(pot: Batch) -> Recipe:
    """What is in a pot.

    Raises
    ------
    UsageError
        Nobody said.
    """
    if pot.recipe is None:
        raise UsageError("batch-without-recipe", "say-what-is-in-batch", shade=pot.shade, batch=pot.name)
    return pot.recipe


def refuse_let_down(record: Record) -> None:
    """Raise UsageError where a record is of a let-down strip, whose colour is not that of its pot."""
    if record.let_down:
        raise UsageError("pot-strip-let-down", "photograph-the-ink-itself", number=record.number)


def cloth_of_pot(library: Library, shade: Shade, pot: Batch) -> str:
    """The cloth that the pot was proposed for, else the last one noted for the shade; "" if nobody said."""
    known = [record.cloth for record in library.records(shade.name)]
    known += [one.cloth for one in proposals(library, shade.name, pot.name)]
    return next((cloth for cloth in reversed(known) if cloth), "")


def best_pot(library: Library, shade: Shade, target: Target, state: State) -> Batch:
    """The batch with a recipe whose strip came nearest to the target, else the last one with a recipe."""
    batches = {key(batch.name): batch for batch in library.batches(shade.name) if batch.recipe}
    if not batches:
        raise UsageError("shade-without-recipe", "say-what-is-in-one-batch", shade=shade.name)
    measured = [
        record
        for record in of_the_ink(library.records(shade.name, state=state.name))
        if record.state.like(state) and key(record.batch) in batches
    ]
    if not measured:
        return list(batches.values())[-1]
    nearest = min(measured, key=lambda record: float(delta_e_2000(record.colour.lab, target.lab)))
    return batches[key(nearest.batch)]


def left_over(library: Library, shade: Shade, text: str) -> tuple[Batch, float]:
    """ "3=120" -> batch 3, and the 120 g that are left of it.

    Raises
    ------
    UsageError
        It is not written so, there is no such batch, or nobody said what is in it.
    """
    name, _, number = text.rpartition("=")
    try:
        grams = parse_number(number, "g")
    except UsageError:
        grams = 0.0
    if not name.strip() or not grams > 0:
        raise UsageError("left-over-unreadable", "write-left-over", typed=text)
    return pot_of(library, shade, name.strip()), grams
