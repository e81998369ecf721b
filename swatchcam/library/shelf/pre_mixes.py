"""The pre-mixes on the shelf: kept with what really was weighed, the pigment's lot, and what is left of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Connection, select

from ...errors import UsageError
from ...messages.message import change
from ...recipes.drops import Drops
from ...recipes.numbers import check_number
from ...recipes.premix import Making, PreMix
from ...recipes.recipe import CLEAR_BASE, is_clear_base
from ...text import key
from .. import schema
from ..changes import NEW, Change, ColumnChange, Plan, carry_out
from ..entry import day_of
from ..library import Library
from ..proposals import PIGMENT, PRE_MIX
from ..records import by_name, clean_name
from ..row_mapping import rows_of
from .ledger import MIXED, USED, WEIGHED, left_of, row_of
from .pigments import Pigment, pigment_row, pigments


def pre_mixes(library: Library) -> list[PreMix]:
    """Those on the shelf, by name, with the grams that are left; the empty ones too, until they are made anew."""
    query = select(schema.pre_mix).where(schema.pre_mix.c.removed.is_(None)).order_by(schema.pre_mix.c.key)
    with library.reading() as connection:
        left = left_of(connection, PRE_MIX)
        return [
            PreMix(
                row.pigment,
                row.percent / 100,
                row.std,
                max(left[row.id], 0.0) if row.id in left else None,
                None if row.drop_g is None else Drops(row.drop_g, row.drop_std or 0.0),
                row.lot,
                row.mixed,
                row.id,
            )
            for row in rows_of(connection, query)
        ]


def pre_mixes_of(library: Library, pigment: str) -> list[PreMix]:
    """Those of a pigment of which something is left."""
    return [jar for jar in pre_mixes(library) if key(jar.pigment) == key(pigment) and jar.grams != 0]


def pre_mix_named(library: Library, name: str) -> PreMix:
    """The pre-mix of that name, "blue 1 %".

    Raises
    ------
    UsageError
        There is none; the remedy names those that are spelt alike.
    """
    spelt = f"{name.removesuffix('%').rstrip()} %"
    return by_name(
        pre_mixes(library), spelt, lambda near: UsageError("pre-mix-unknown", "choose-a-pre-mix", name=name, near=near)
    )


def keep_pre_mix(
    library: Library, making: Making, *, lot: str = "", mixed: str = "", drops: Drops | None = None
) -> Change:
    """Put a pre-mix on the shelf, made of what `making` says, as it really was weighed.

    A jar of that name which is there is taken to be emptied and filled anew; the drops of its bottle stay known.
    What it was made of is booked out of its own jar or bottle, as far as that is on the shelf.

    Parameters
    ----------
    lot : of the pigment; by default that of the pre-mix it was made of, else the one in use that day
    mixed : ISO date, by default today
    drops : of what was counted into it, where that was done

    Raises
    ------
    UsageError
        A share, a name or a day that is none, or the pre-mix that it is made of is not on the shelf.
    """
    check_number(100 * making.made.share, "pre-mix-percent", 0.01, 50)
    if is_clear_base(making.made.pigment):
        raise UsageError("clear-base-no-pigment", "name-a-pigment")
    day = day_of(mixed, "mixed") or date.today().isoformat()
    if day > (date.today() + timedelta(days=1)).isoformat():  # a day ahead it may be tomorrow elsewhere
        raise UsageError("day-to-come", "write-the-day", typed=day, what="mixed")
    named, said_lot = clean_name(making.made.pigment, "pigment"), clean_name(lot, "lot") if lot else ""

    return carry_out(library, lambda there: _plan(there, making, named, day, said_lot, drops))


def fill(there: Library, connection: Connection, making: Making, made: str) -> None:
    """Within a transaction: the same, of a pre-mix that is made for a pot; what it is made of goes by its name."""
    of = pre_mix_named(there, making.of.name) if making.of else None
    planned = replace(making, of=of), making.made.pigment, date.today().isoformat()
    new: int | None = None
    for table, row, values in _plan(there, *planned)[1]:
        kept = {name: new if value is NEW else value for name, value in values.items()}
        if row is None:
            new = schema.insert(connection, schema.tables.tables[table], kept | {"made": made})
        else:
            at = schema.tables.tables[table]
            connection.execute(at.update().where(at.c.id == row).values(kept))


def _plan(there: Library, making: Making, named: str, day: str, said_lot: str = "", drops: Drops | None = None) -> Plan:
    bottle = next((one for one in pigments(there) if key(one.name) == key(named)), None)
    jar = PreMix(bottle.name if bottle else named, making.made.share, making.made.std)
    before = next((one for one in pre_mixes(there) if key(one.name) == key(jar.name)), None)
    of = _still_there(there, making.of)
    values = _columns(jar) | {"mixed": day, "lot": said_lot or (of.lot if of else _lot_on(bottle, day))}
    touches = _out(there, making, bottle) + _counted(there, making, bottle, drops)
    facts = {"name": jar.name, "grams": making.grams, "lot": values["lot"], "before": before and before.grams}
    return change("pre-mix-kept", **facts), touches + _filled(before, values, making.grams)


def set_pre_mix_drops(library: Library, name: str, drops: Drops) -> Change:
    """Note what one drop of a pre-mix's bottle weighs."""

    def plan(there: Library) -> Plan:
        found = pre_mix_named(there, name)
        values = {"drop_g": drops.grams, "drop_std": drops.std}
        return change("pre-mix-drops", name=found.name, grams=drops.grams), [("pre_mix", found.number, values)]

    return carry_out(library, plan)


def _still_there(there: Library, of: PreMix | None) -> PreMix | None:
    """The pre-mix that it is made of, as it is on the shelf.

    Raises
    ------
    UsageError
        It is not.
    """
    if of is None:
        return None
    found = next((one for one in pre_mixes(there) if one.number == of.number), None)
    if found is None:
        raise UsageError("pre-mix-unknown", "choose-a-pre-mix", name=of.name, near=[])
    return found


def _columns(jar: PreMix) -> dict[str, Any]:
    said = {"pigment": jar.pigment, "percent": 100 * jar.share, "std": jar.std}
    return {"name": jar.name, "key": key(jar.name)} | said


def _lot_on(bottle: Pigment | None, day: str) -> str:
    in_use = [lot for lot in bottle.lots if lot.since <= day] if bottle else []
    return in_use[-1].name if in_use else ""


def _filled(before: PreMix | None, values: dict[str, Any], grams: float) -> list[ColumnChange]:
    """A new jar with so much in it; or one that was emptied before."""
    if before is None or before.number is None:
        new = values | {"notes": "", "removed": None}
        return [("pre_mix", None, new), ("stock", None, row_of(PRE_MIX, NEW, grams, MIXED))]
    emptied = ("stock", None, row_of(PRE_MIX, before.number, 0.0, WEIGHED))
    return [("pre_mix", before.number, values), emptied, ("stock", None, row_of(PRE_MIX, before.number, grams, MIXED))]


def _out(there: Library, making: Making, bottle: Pigment | None) -> list[ColumnChange]:
    """What it takes off the shelf."""
    of = making.of
    rows = [row_of(PRE_MIX, of.number, -making.ink_g, USED)] if of else []
    names = {CLEAR_BASE: making.binder_g} | ({bottle.name: making.ink_g} if bottle and not of else {})
    for name, grams in names.items():
        row = pigment_row(there, name)
        rows += [row_of(PIGMENT, row, -grams, USED)] if row is not None else []
    return [("stock", None, row) for row in rows]


def _counted(there: Library, making: Making, bottle: Pigment | None, drops: Drops | None) -> list[ColumnChange]:
    """The drops that were counted tell of the bottle that they came from."""
    if drops is None:
        return []
    values = {"drop_g": drops.grams, "drop_std": drops.std}
    if making.of:
        return [("pre_mix", making.of.number, values)]
    if bottle:
        return [("pigment", pigment_row(there, bottle.name), values)]
    new = {"name": making.made.pigment, "key": key(making.made.pigment), "notes": "", "removed": None}
    return [("pigment", None, new | values)]
