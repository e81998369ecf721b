"""What the tool proposed: kept in the library with what it takes off the shelf, and read again."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import asdict, replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from ..errors import UsageError
from ..measurement.stored_colour import DIGITS
from ..messages.message import change
from ..recipes.recipe import recipe_json
from ..text import key
from . import schema
from .changes import Change, Plan, carry_out
from .library import Library
from .proposals import POT, PRE_MIX, Proposal
from .records import LONGEST, Batch, batch_named, clean_name
from .row_mapping import proposal_of, proposals_in_use, rows_of
from .shelf.ledger import MIXED, jars_filled, move, moved_since, rows_made, use
from .shelf.pre_mixes import fill

COUNT = re.compile(r"(?P<stem>.+)\.(?P<count>\d{1,3})", re.ASCII)  # '3.1': the first correction of '3'


def proposals(library: Library, shade: str | None = None, batch: str | None = None) -> list[Proposal]:
    """The proposals in use, oldest first: for a shade, for a batch."""
    query = proposals_in_use()
    if shade is not None:
        query = query.where(schema.shade.c.key == key(shade))
    if batch is not None:
        query = query.where(schema.batch.c.key == key(batch))
    with library.reading() as connection:
        return [proposal_of(row) for row in rows_of(connection, query)]


def keep_proposal(library: Library, proposal: Proposal, ink: str = "") -> Proposal:
    """Keep a proposal with the batch that it makes; a shade that is new is made too.

    The new pot is on the shelf then with all that is in it, and what it uses has come off the shelf.

    A batch without a name gets the next one after the pot that it corrects, else today's date. Where nobody says the
    ink, it is that of the pot.

    Returns
    -------
    Proposal, as the library now holds it

    Raises
    ------
    UsageError
        A name that is none, no pot of that name, or a batch that is there already.
    LibraryError
        It cannot be written; then there is neither proposal nor batch.
    """
    wanted = replace(proposal, shade=clean_name(proposal.shade, "shade"), made=schema.now())
    if wanted.batch:
        wanted = replace(wanted, batch=clean_name(wanted.batch, "batch"))

    def work(connection: Connection) -> Proposal:
        # A server that was lost may have kept it at the first try.
        number = _kept(connection, wanted) or _write(library.during(connection), connection, wanted, ink)
        (row,) = rows_of(connection, proposals_in_use().where(schema.proposal.c.id == number))
        return proposal_of(row)

    return library.writing(work)


def remove_proposal(library: Library, number: int) -> Change:
    """Remove a proposal, and its batch unless something was measured of it or went out of it; that can be undone.

    Raises
    ------
    UsageError
        There is no such proposal.
    """

    def plan(there: Library) -> Plan:
        found = next((one for one in proposals(there) if one.number == number), None)
        if found is None:
            raise UsageError("proposal-unknown", "look-at-the-proposals", number=number)
        out = {"removed": schema.now()}
        done = change("proposal-removed", number=number, shade=found.shade, batch=found.batch)
        return done, [("proposal", number, out), *((table, row, out) for table, row in _never_mixed(there, found))]

    return carry_out(library, plan)


def _never_mixed(there: Library, found: Proposal) -> list[tuple[str, int]]:
    """Tables and rows of a pot that was never mixed, and of all that it took off the shelf; none of one that was."""
    pot = batch_named(there.batches(found.shade), found.shade, found.batch).number
    with there.reading() as connection:
        if there.records(found.shade, found.batch) or moved_since(connection, POT, pot, found.made):
            return []
        # A jar that somebody went on with was filled, whatever became of the pot.
        filled = jars_filled(connection, found.made)
        gone_on = {jar for jar in filled if moved_since(connection, PRE_MIX, jar, found.made)}
        kept = {row for jar in gone_on for row in filled[jar]}
        jars, stock = (rows_made(connection, found.made, table) for table in (schema.pre_mix, schema.stock))
    rows = [("pre_mix", jar) for jar in jars if jar not in gone_on]
    return [("batch", pot), *rows, *(("stock", row) for row in stock if row not in kept)]


def next_name(taken: Iterable[str], name: str) -> str:
    """The next free name for a pot that goes on from another: '3' -> '3.1' -> '3.2'."""
    counted, used = COUNT.fullmatch(name), {key(one) for one in taken}
    stem, count = (counted["stem"], int(counted["count"])) if counted else (name, 0)
    while True:
        count += 1
        fresh = f"{stem[: LONGEST - 1 - len(str(count))]}.{count}"
        if key(fresh) not in used:
            return fresh


def _kept(connection: Connection, wanted: Proposal) -> int | None:
    """The proposal that this very command made."""
    table = schema.proposal.c
    same = (table.made == wanted.made, table.recipe == recipe_json(wanted.recipe))
    return connection.execute(select(table.id).where(*same)).scalar()


def _write(there: Library, connection: Connection, wanted: Proposal, ink: str) -> int:
    shade_id = schema.find_or_insert(connection, schema.shade, {"name": wanted.shade, "key": key(wanted.shade)})
    known, pot = there.batches(wanted.shade), None
    if wanted.from_batch is not None:
        pot = batch_named(known, wanted.shade, wanted.from_batch)
    name = wanted.batch or _usual_name(known, pot)
    _refuse_used(there, known, wanted.shade, name)
    batch_id = schema.find_or_insert(connection, schema.batch, {"shade_id": shade_id, "name": name, "key": key(name)})
    said = {"recipe": recipe_json(wanted.recipe), "mixed": date.today().isoformat()}
    said |= {"ink": ink or (pot.ink if pot else "")}
    connection.execute(schema.batch.update().where(schema.batch.c.id == batch_id).values(said))
    for making in wanted.makings:
        fill(there, connection, making, wanted.made)
    use(connection, wanted.used, wanted.made)
    move(connection, POT, batch_id, wanted.recipe.grams, MIXED, wanted.made)
    values = _columns(wanted) | {"batch_id": batch_id, "from_batch_id": pot.number if pot else None}
    return schema.insert(connection, schema.proposal, values)


def _usual_name(known: Iterable[Batch], pot: Batch | None) -> str:
    taken, today = [batch.name for batch in known], date.today().isoformat()
    if pot is None and today not in taken:
        return today
    return next_name(taken, pot.name if pot else today)


def _refuse_used(there: Library, known: Iterable[Batch], shade: str, name: str) -> None:
    """A pot is mixed once: what was measured of a batch, or goes into it, is not that of another recipe."""
    same = next((batch for batch in known if key(batch.name) == key(name)), None)
    if same and (same.recipe or there.records(shade, name)):
        free = next_name([batch.name for batch in known], same.name)
        raise UsageError("batch-name-taken", "choose-a-free-name", shade=shade, batch=same.name, free=free)


def _columns(wanted: Proposal) -> dict[str, Any]:
    """Its row, apart from the batches."""
    plain = ("kind", "made", "target_words", "cloth", "words")
    rounded = [round(float(value), DIGITS) for value in wanted.reflectance]
    values = {name: getattr(wanted, name) for name in plain} | {
        "stage": str(wanted.state),
        "target_state": None if wanted.target_state is None else str(wanted.target_state),
        "recipe": recipe_json(wanted.recipe),
        "covariance": json.dumps([list(map(float, row)) for row in wanted.covariance], allow_nan=False),
        "radius": float(wanted.radius),
        "reflectance": json.dumps(rounded, allow_nan=False),
        "facts": json.dumps(wanted.facts | _used(wanted), ensure_ascii=False, allow_nan=False),
    }
    values |= dict(zip("lab", map(float, wanted.lab), strict=True))
    return values | dict(zip(("target_l", "target_a", "target_b"), wanted.target or (None,) * 3, strict=True))


def _used(wanted: Proposal) -> dict[str, Any]:
    return {"used": [asdict(each) for each in wanted.used]} if wanted.used else {}
