"""What the tool proposed and what is on the pigment shelf: kept in the library, and read again."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from ..errors import UsageError
from ..measurement.stored_colour import DIGITS
from ..recipes.recipe import is_clear_base, recipe_json
from ..text import key, listed
from . import schema
from .changes import ColumnChange, Plan, carry_out
from .entry import day_of
from .library import Library
from .proposals import Pigment, Proposal
from .records import LONGEST, Batch, clean_name
from .row_mapping import by_name, pigments_of, proposal_of, proposals_in_use, rows_of

SAID = {"most": "its limit", "least_g": "its smallest amount", "price": "its price", "notes": "its notes"}
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


def pigments(library: Library) -> list[Pigment]:
    """The pigments on the shelf, by name."""
    with library.reading() as connection:
        return pigments_of(connection)


def pigment(library: Library, name: str) -> Pigment:
    """The pigment of that name, small and capital letters alike.

    Raises
    ------
    UsageError
        There is none; the remedy names those that are spelt alike.
    """
    return by_name(pigments(library), name, "pigment", "'swatchcam pigment list' shows those that there are.")


def keep_proposal(library: Library, proposal: Proposal, ink: str = "") -> Proposal:
    """Keep a proposal with the batch that it makes; a shade that is new is made too.

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


def remove_proposal(library: Library, number: int) -> str:
    """Take a proposal out, and its batch unless something was measured of it; it can be restored.

    Raises
    ------
    UsageError
        There is no such proposal.
    """

    def plan(there: Library) -> Plan:
        found = {proposal.number: proposal for proposal in proposals(there)}
        if number not in found:
            raise UsageError(f"There is no proposal {number}.", "'swatchcam mix predictions' lists them.")
        shade, batch = found[number].shade, found[number].batch
        out = {"removed": schema.now()}
        touches: list[ColumnChange] = [("proposal", number, out)]
        if not there.records(shade, batch):
            touches.append(("batch", by_name(there.batches(shade), batch, "batch", "").number, out))
        return f"took out proposal {number} of shade '{shade}', batch '{batch}'", touches

    return carry_out(library, plan)


def next_name(taken: Iterable[str], name: str) -> str:
    """The next free name for a pot that goes on from another: '3' -> '3.1' -> '3.2'."""
    counted, used = COUNT.fullmatch(name), {key(one) for one in taken}
    stem, count = (counted["stem"], int(counted["count"])) if counted else (name, 0)
    while True:
        count += 1
        fresh = f"{stem[: LONGEST - 1 - len(str(count))]}.{count}"
        if key(fresh) not in used:
            return fresh


def set_pigment(
    library: Library,
    name: str,
    *,
    most: float | None = None,
    least_g: float | None = None,
    price: float | None = None,
    notes: str | None = None,
) -> str:
    """Put a pigment on the shelf, or say anew what it is; None leaves a thing as it was. Units: see `Pigment`.

    Returns
    -------
    what was done, in words

    Raises
    ------
    UsageError
        A name or a number that is none, or nothing was said of a pigment that is there.
    """
    numbers = {
        "most": _number(most, "a load limit in g of 100 g", 100),
        "least_g": _number(least_g, "a least amount in g", 1000),
        "price": _number(price, "a price of 100 g", 1e9),
    }
    said: dict[str, Any] = {name: value for name, value in (numbers | {"notes": notes}).items() if value is not None}
    fresh = clean_name(name, "pigment")
    if is_clear_base(fresh):
        raise UsageError("The clear base is not a pigment.", "Choose another name.")

    def plan(there: Library) -> Plan:
        row = _pigment_row(there, fresh)
        if row is None:
            new = {"name": fresh, "key": key(fresh), "notes": ""} | said | {"removed": None}
            return f"put pigment '{fresh}' on the shelf", [("pigment", None, new)]
        if not said:
            raise UsageError(f"There is a pigment called '{fresh}' already.", "Say what shall be changed of it.")
        return f"said anew of pigment '{fresh}': {listed([SAID[name] for name in said])}", [("pigment", row, said)]

    return carry_out(library, plan)


def add_lot(
    library: Library, pigment_name: str, name: str, since: str, strength: float = 1.0, strength_std: float = 0.0
) -> str:
    """Note that a new delivery of a pigment is in use since an ISO day, and how strong it is (see `Lot`).

    Returns
    -------
    what was done, in words

    Raises
    ------
    UsageError
        No such pigment, a lot that is there already, or a name, day or number that is none.
    """
    fresh = clean_name(name, "lot")
    if not since:
        raise UsageError(f"Nobody said since when lot '{fresh}' is in use.", "Give the day, such as 2026-01-31.")
    values = {
        "name": fresh,
        "key": key(fresh),
        "since": day_of(since, "first used"),
        "strength": _number(strength, "a tinting strength", 100),
        "strength_std": _number(strength_std, "a standard deviation of a tinting strength", 100, zero=True),
        "removed": None,
    }

    def plan(there: Library) -> Plan:
        found = pigment(there, pigment_name)
        if key(fresh) in {key(lot.name) for lot in found.lots}:
            raise UsageError(f"Pigment '{found.name}' has a lot called '{fresh}' already.", "Choose another name.")
        lot = values | {"pigment_id": _pigment_row(there, found.name)}
        return f"added lot '{fresh}' of pigment '{found.name}'", [("lot", None, lot)]

    return carry_out(library, plan)


def remove_pigment(library: Library, name: str) -> str:
    """Take a pigment off the shelf, with its lots; it can be restored."""

    def plan(there: Library) -> Plan:
        found = pigment(there, name)
        removed: ColumnChange = ("pigment", _pigment_row(there, found.name), {"removed": schema.now()})
        return f"took pigment '{found.name}' off the shelf", [removed]

    return carry_out(library, plan)


def _number(value: float | None, what: str, most: float, *, zero: bool = False) -> float | None:
    """A number above 0, or 0 itself where that makes sense, and up to `most`; None stays."""
    if value is None:
        return None
    if math.isfinite(value) and 0 <= value <= most and (zero or value > 0):
        return float(value)
    raise UsageError(f"{value:g} is not {what}.", f"Give a number {'from' if zero else 'above'} 0 up to {most:g}.")


def _pigment_row(library: Library, name: str) -> int | None:
    """The number of the row of that pigment, if it is there."""
    table = schema.pigment.c
    with library.reading() as connection:
        return connection.execute(select(table.id).where(table.key == key(name), table.removed.is_(None))).scalar()


def _kept(connection: Connection, wanted: Proposal) -> int | None:
    """The proposal that this very command made."""
    table = schema.proposal.c
    same = (table.made == wanted.made, table.recipe == recipe_json(wanted.recipe))
    return connection.execute(select(table.id).where(*same)).scalar()


def _write(there: Library, connection: Connection, wanted: Proposal, ink: str) -> int:
    shade_id = schema.find_or_insert(connection, schema.shade, {"name": wanted.shade, "key": key(wanted.shade)})
    known, pot = there.batches(wanted.shade), None
    if wanted.from_batch is not None:
        otherwise = f"'swatchcam shade show \"{wanted.shade}\"' lists its batches."
        pot = by_name(known, wanted.from_batch, f"batch of '{wanted.shade}'", otherwise)
    name = wanted.batch or _usual_name(known, pot)
    _refuse_used(there, known, wanted.shade, name)
    batch_id = schema.find_or_insert(connection, schema.batch, {"shade_id": shade_id, "name": name, "key": key(name)})
    said = {"recipe": recipe_json(wanted.recipe), "mixed": date.today().isoformat()}
    said |= {"ink": ink or (pot.ink if pot else "")}
    connection.execute(schema.batch.update().where(schema.batch.c.id == batch_id).values(said))
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
        raise UsageError(
            f"Shade '{shade}' has a batch called '{same.name}' already.",
            f"Choose another name, such as '{next_name([batch.name for batch in known], same.name)}'.",
        )


def _columns(wanted: Proposal) -> dict[str, Any]:
    """Its row, apart from the batches."""
    plain = ("kind", "made", "target_words", "cloth", "words")
    rounded = [round(float(value), DIGITS) for value in wanted.reflectance]
    values = {name: getattr(wanted, name) for name in plain} | {
        "stage": str(wanted.state),
        "recipe": recipe_json(wanted.recipe),
        "covariance": json.dumps([list(map(float, row)) for row in wanted.covariance], allow_nan=False),
        "radius": float(wanted.radius),
        "reflectance": json.dumps(rounded, allow_nan=False),
        "facts": json.dumps(wanted.facts, ensure_ascii=False, allow_nan=False),
    }
    values |= dict(zip("lab", map(float, wanted.lab), strict=True))
    return values | dict(zip(("target_l", "target_a", "target_b"), wanted.target or (None,) * 3, strict=True))
