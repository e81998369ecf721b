"""Which pot of a shade is meant, and what is in it."""

from __future__ import annotations

from ..colorimetry.colour_difference import delta_e_2000
from ..errors import UsageError
from ..library.library import Library
from ..library.proposal_store import proposals
from ..library.proposals import POT
from ..library.records import Batch, Record, Shade, State, batch_named, of_the_ink
from ..library.shelf.ledger import holdings
from ..library.shelf.studio import studio_of
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
    """The cloth that the pot was proposed for, else the shade's last one, else the studio's; "" for none."""
    known = [record.cloth for record in library.records(shade.name)]
    known += [one.cloth for one in proposals(library, shade.name, pot.name)]
    return next((cloth for cloth in reversed(known) if cloth), "") or studio_of(library).cloth


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
    name, grams = _read(text)
    return pot_of(library, shade, name), grams


def left_over_of_any(library: Library, text: str) -> tuple[Batch, float]:
    """ "river blue 3=120" -> batch 3 of river blue, and the 120 g that are left of it.

    Raises
    ------
    UsageError
        It is not written so, there is no such shade or batch, or nobody said what is in it.
    """
    name, grams = _read(text, with_shade=True)
    words, shades = name.split(), {key(shade.name): shade for shade in library.shades()}
    splits = [(" ".join(words[:at]), " ".join(words[at:])) for at in range(len(words) - 1, 0, -1)]
    if not splits:
        raise UsageError("left-over-unreadable", "write-left-over-of-any", typed=text)
    known = [(shades[key(shade)], batch) for shade, batch in splits if key(shade) in shades]
    there = {(key(batch.shade), key(batch.name)) for batch in library.batches()} if known[1:] else set()
    found = [(shade, batch) for shade, batch in known if (key(shade.name), key(batch)) in there] or known
    shade, batch = found[0] if found else (library.shade(splits[0][0]), splits[0][1])
    return pot_of(library, shade, batch), grams


def _read(text: str, with_shade: bool = False) -> tuple[str, float]:
    """What stands before the last "=", and the grams behind it."""
    name, _, number = text.rpartition("=")
    try:
        grams = parse_number(number, "g")
    except UsageError:
        grams = 0.0
    if not name.strip() or not grams > 0:
        raise UsageError(
            "left-over-unreadable", "write-left-over-of-any" if with_shade else "write-left-over", typed=text
        )
    return name.strip(), grams


def on_the_shelf(library: Library, ink: str = "") -> list[tuple[Batch, float]]:
    """Every pot of which something is known to be left, of this ink where one is named, and the grams of it."""
    left = {one.number: one.grams for one in holdings(library) if one.of == POT and one.grams}
    mine = [batch for batch in library.batches() if not ink or key(batch.ink) == key(ink)]
    return [(batch, grams) for batch in mine if (grams := left.get(batch.number))]
