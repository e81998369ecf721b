"""Corrections: of a record, of a batch, or several changes together. All of it can be undone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from sqlalchemy import Connection

from ..errors import UsageError
from ..recipes.recipe import DROP_G, SCALE_G, TIP_G, recipe_json
from ..text import key
from . import schema
from .changes import Plan, carry_out, is_noted, log
from .entry import day_of, recipe_of, single_spaced
from .library import Library
from .records import Batch, clean_name, parse_state

COLUMNS = {"mark": "strip", "state": "stage"}  # what a person says -> the column that holds it


def amend_record(library: Library, number: int, *, state: str = "", measured: str = "", **said: str) -> str:
    """Say anew what a record is of; what is left empty stays. `said`: mark, cloth, mesh, squeegee, light, notes.

    Returns
    -------
    what was done, in words

    Raises
    ------
    UsageError
        No such record, a state or day that is none, or nothing was said.
    """
    values: dict[str, Any] = {COLUMNS.get(name, name): single_spaced(said[name]) for name in said if said[name].strip()}
    if state:
        found = parse_state(state)
        values |= {"stage": found.name, "washes": found.washes}
    if measured:
        values["measured"] = day_of(measured, "measured")

    def plan(there: Library) -> Plan:
        record = there.record(number)
        _refuse_nothing(values)
        words = f"amended record {number} of shade '{record.shade}', batch '{record.batch}': {_told(values)}"
        return words, [("record", number, values)]

    return carry_out(library, plan)


def amend_batch(
    library: Library,
    shade: str,
    batch: str,
    *,
    new_name: str = "",
    recipe: str = "",
    scale: float = SCALE_G,
    drop: float = DROP_G,
    tip: float = TIP_G,
    mixed: str = "",
    **said: str,
) -> str:
    """Say anew what a batch is, or give it another name; what is left empty stays. `said`: ink, notes.

    Returns
    -------
    what was done, in words

    Raises
    ------
    UsageError
        No such shade or batch, a name that is taken, a recipe or day that cannot be read, or nothing was said.
    """
    values: dict[str, Any] = {name: single_spaced(text) for name, text in said.items() if text.strip()}
    if mixed:
        values["mixed"] = day_of(mixed, "mixed")
    if recipe.strip():
        values["recipe"] = recipe_json(recipe_of(recipe, scale, drop, tip))
    if new_name:
        values |= {"name": clean_name(new_name, "batch"), "key": key(new_name)}

    def plan(there: Library) -> Plan:
        found = batch_named(there, shade, batch)
        _refuse_nothing(values)
        taken = {key(other.name) for other in there.batches(shade) if other.number != found.number}
        if values.get("key") in taken:
            raise UsageError(f"Shade '{found.shade}' has a batch called '{new_name}' already.", "Choose another name.")
        return f"amended batch '{found.name}' of shade '{found.shade}': {_told(values)}", [
            ("batch", found.number, values)
        ]

    return carry_out(library, plan)


def batch_named(library: Library, shade: str, name: str) -> Batch:
    """The batch of that name, small and capital letters alike.

    Raises
    ------
    UsageError
        No such shade, or it has no such batch; the remedy names those that it has.
    """
    known = library.batches(library.shade(shade).name)
    for batch in known:
        if key(batch.name) == key(name):
            return batch
    there = ", ".join(batch.name for batch in known) or "none"
    raise UsageError(f"Shade '{shade}' has no batch called '{name}'.", f"It has: {there}.")


def _refuse_nothing(values: dict[str, Any]) -> None:
    if not values:
        raise UsageError("Nothing was said that is to be changed.", "Put --help behind the command to see what can be.")


def _told(values: dict[str, Any]) -> str:
    """The columns that are set, in the words of the options."""
    words = {column: said for said, column in COLUMNS.items()}
    return ", ".join(words.get(name, name) for name in values if name not in ("key", "washes"))


def carry_out_together(library: Library, steps: Sequence[Callable[[Library], str]]) -> list[str]:
    """Make several changes in one transaction: all of them, each with a number of its own, or none.

    `steps` are changes such as `rename_shade`, each given the library as the earlier ones left it.

    Returns
    -------
    what was done, in words, one for each step

    Raises
    ------
    UsageError
        One of them cannot be carried out; then none is.
    """
    began, tried = schema.now(), list[list[str]]()

    def work(connection: Connection) -> list[str]:
        for done in tried:  # a server that was lost may have kept them
            if all(is_noted(connection, began, words) for words in done):
                return done
        there = library.during(connection)
        tried.append([step(there) for step in steps])
        return tried[-1]

    return library.writing(work)


def number_of(library: Library, done: str) -> int:
    """The number of a change that was just made, by what was done: with it the change can be undone."""
    return next(change.number for change in log(library) if change.words == done)
