"""What is left on the shelf: whatever comes into a pot, a pre-mix or a bottle, or goes out of it, is a row of its own.

Rows are only ever added, and what is left is their sum: so of two people who take from one pot at once nothing is
lost. A weighing counts for all before it. More may go out than was known to be there, because people spill and weigh
amiss: then 0 g are left with a note, and the next weighing puts it right. What nobody ever said an amount of is not
counted: it stays unknown until it is weighed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, Table, select

from ...messages.message import change
from ...recipes.numbers import check_number
from ...recipes.recipe import CLEAR_BASE
from ...text import key
from .. import schema
from ..changes import NEW, Change, ColumnChange, Plan, carry_out
from ..library import Library
from ..proposals import PIGMENT, POT, PRE_MIX, Kind, Used
from ..row_mapping import rows_of

DIGITS = 4  # decimals of grams, as of recipes; sums are exact in whole numbers of the last one
LEAST_G, MOST_G = 10.0**-DIGITS, 1e6
COLUMNS: dict[Kind, str] = {POT: "batch_id", PRE_MIX: "pre_mix_id", PIGMENT: "pigment_id"}
MIXED, USED, WEIGHED, TAKEN = "mixed", "used", "weighed", "taken"  # why there is a row


@dataclass(frozen=True)
class Holding:
    """A pot, a pre-mix or a pigment's bottle, and what is left of it."""

    of: Kind
    number: int  # of its row
    name: str  # of the batch, of the pre-mix or of the pigment
    grams: float | None  # left; None where nobody ever said
    beyond: float = 0.0  # g that went out beyond what was known to be there; the next weighing puts it right
    shade: str = ""  # of a pot
    mixed: str = ""  # ISO date, of a pot and a pre-mix; "" if nobody said
    lot: str = ""  # of a pre-mix's pigment, or the one of a pigment that is in use

    @property
    def there(self) -> bool:
        """Whether it is still to be told of: an empty pot is not."""
        return self.grams is None or self.grams > 0 or self.beyond > 0


CLEAR_BASE_UNSAID = Holding(PIGMENT, 0, CLEAR_BASE, None)  # until somebody says its price or weighs it


def holdings(library: Library, *kinds: Kind) -> list[Holding]:
    """What is on the shelf: pots and pre-mixes that are not empty, and every pigment, the clear base too; by name.

    `kinds`: by default all. A pot is on it once somebody said how much there is: by keeping a proposal, or by weighing.
    """
    with library.reading() as connection:
        return [
            one for kind in kinds or COLUMNS for one in _holdings(connection, kind) if one.of == PIGMENT or one.there
        ]


def holding(library: Library, of: Kind, number: int) -> Holding | None:
    """One of them, empty or not; None where that pot, pre-mix or pigment is not in use."""
    with library.reading() as connection:
        return next(iter(_holdings(connection, of, number)), None)


def weigh_left(library: Library, what: Holding, grams: float) -> Change:
    """Note what is left of something, by the scale; 0 for an empty pot.

    Raises
    ------
    UsageError
        That is no weight.
    """
    check_number(grams, "stock-grams", 0, MOST_G)

    def plan(there: Library) -> Plan:
        known = holding(there, what.of, what.number) or what
        facts = {"of": what.of, "shade": what.shade, "name": what.name, "grams": grams, "before": known.grams}
        return change("stock-weighed", **facts), _noted(there, what, grams, WEIGHED)

    return carry_out(library, plan)


def take(library: Library, what: Holding, grams: float) -> Change:
    """Note that so much was taken out of something, for a run for example.

    Raises
    ------
    UsageError
        That is no weight.
    """
    check_number(grams, "stock-grams", LEAST_G, MOST_G)

    def plan(there: Library) -> Plan:
        known = holding(there, what.of, what.number) or what
        left = None if known.grams is None else round(known.grams - known.beyond - grams, DIGITS)
        facts = {"of": what.of, "shade": what.shade, "name": what.name, "grams": grams, "left": left}
        return change("stock-taken", **facts), _noted(there, what, -grams, TAKEN)

    return carry_out(library, plan)


def _noted(there: Library, what: Holding, grams: float, why: str) -> list[ColumnChange]:
    """A row; and before it one for the clear base, of which nobody has said anything yet."""
    with there.reading() as connection:
        number = _bottle(connection, what.name) if what == CLEAR_BASE_UNSAID else what.number
    if number is not None:
        return [("stock", None, row_of(what.of, number, grams, why))]
    base = {"name": what.name, "key": key(what.name), "notes": "", "removed": None}
    return [("pigment", None, base), ("stock", None, row_of(PIGMENT, NEW, grams, why))]


def move(connection: Connection, of: Kind, number: int, grams: float, why: str, made: str) -> None:
    """Within a transaction: so many grams came into something, or went out of it (below 0)."""
    _add(connection, row_of(of, number, grams, why), made)


def use(connection: Connection, used: Iterable[Used], made: str) -> None:
    """Within a transaction: what went into a pot came off the shelf. A pigment that is not on it takes no part."""
    for one in used:
        number = _bottle(connection, one.name) if one.of == PIGMENT else one.number
        if one.of == PRE_MIX and number is None:
            number = _bottle(connection, one.name, schema.pre_mix)
        if number is not None and one.grams > 0:
            move(connection, one.of, number, -one.grams, USED, made)
            if one.emptied:
                _add(connection, row_of(one.of, number, 0.0, WEIGHED), made)


def rows_made(connection: Connection, made: str, table: Table) -> list[int]:
    """The rows that one command added to a table."""
    query = select(table.c.id).where(table.c.made == made, table.c.removed.is_(None))
    return list(connection.execute(query).scalars())


def jars_filled(connection: Connection, made: str) -> dict[int, list[int]]:
    """Numbers of the pre-mixes that one command filled -> the rows by which they were emptied and filled."""
    table, found = schema.stock.c, dict[int, list[int]]()
    mine = (table.made == made, table.why.in_((MIXED, WEIGHED)), table.removed.is_(None))
    for row in connection.execute(select(table.pre_mix_id, table.id).where(*mine, table.pre_mix_id.is_not(None))):
        found.setdefault(row.pre_mix_id, []).append(row.id)
    return found


def moved_since(connection: Connection, of: Kind, number: int, made: str) -> bool:
    """Whether anything came into something, went out of it or was weighed after that command."""
    table = schema.stock.c
    later = (table[COLUMNS[of]] == number, table.made > made, table.removed.is_(None))
    return connection.execute(select(table.id).where(*later).limit(1)).scalar() is not None


def row_of(of: Kind, number: Any, grams: float, why: str) -> dict[str, Any]:
    """A new row, for a change: so many grams came, or went (below 0), or are left where they were WEIGHED."""
    named = {COLUMNS[of]: number, "grams": round(float(grams), DIGITS), "weighed": why == WEIGHED}
    return named | {"why": why, "day": date.today().isoformat(), "removed": None}


def left_of(connection: Connection, of: Kind) -> dict[int, float]:
    """Number -> g that are left by the rows, below 0 where more went out; nothing where nobody said."""
    column, table = schema.stock.c[COLUMNS[of]], schema.stock
    query = select(table).where(column.is_not(None), table.c.removed.is_(None)).order_by(table.c.id)
    left: dict[int, int] = {}
    for row in rows_of(connection, query):
        number, grams = getattr(row, COLUMNS[of]), round(row.grams * 10**DIGITS)
        if row.weighed or (number not in left and grams > 0):
            left[number] = grams
        elif number in left:
            left[number] += grams
    return {number: grams / 10**DIGITS for number, grams in left.items()}


def _add(connection: Connection, row: dict[str, Any], made: str) -> None:
    schema.insert(connection, schema.stock, row | {"made": made})


def _bottle(connection: Connection, name: str, of: Table = schema.pigment) -> int | None:
    table = of.c
    return connection.execute(select(table.id).where(table.key == key(name), table.removed.is_(None))).scalar()


def _holdings(connection: Connection, of: Kind, number: int | None = None) -> list[Holding]:
    """Those of a kind that are in use; of the pots only those that there is a row of, unless one is asked for."""
    left, query = left_of(connection, of), _QUERIES[of]
    table = {POT: schema.batch, PRE_MIX: schema.pre_mix, PIGMENT: schema.pigment}[of]
    if number is not None:
        query = query.where(table.c.id == number)
    rows = rows_of(connection, query)
    if of == POT and number is None:
        rows = [row for row in rows if row.id in left]
    lots = _lots(connection) if of == PIGMENT else {}
    return [_holding(of, row, left.get(row.id), lots.get(row.id, "")) for row in rows]


def _holding(of: Kind, row: Row[Any], left: float | None, lot: str) -> Holding:
    grams = None if left is None else max(left, 0.0)
    beyond = max(-(left or 0.0), 0.0)
    if of == PIGMENT:
        return Holding(of, row.id, row.name, grams, beyond, lot=lot)
    if of == PRE_MIX:
        return Holding(of, row.id, row.name, grams, beyond, mixed=row.mixed, lot=row.lot)
    return Holding(of, row.id, row.name, grams, beyond, row.shade_name, row.mixed)


def _lots(connection: Connection) -> dict[int, str]:
    """Number of a pigment -> its lot that is in use today."""
    table, today = schema.lot.c, date.today().isoformat()
    query = select(schema.lot).where(table.removed.is_(None), table.since <= today).order_by(table.since, table.id)
    return {row.pigment_id: row.name for row in rows_of(connection, query)}


_POTS = (
    select(schema.batch, schema.shade.c.name.label("shade_name"))
    .join(schema.shade)
    .where(schema.batch.c.removed.is_(None), schema.shade.c.removed.is_(None))
    .order_by(schema.shade.c.key, schema.batch.c.id)
)
_QUERIES = {
    POT: _POTS,
    PRE_MIX: select(schema.pre_mix).where(schema.pre_mix.c.removed.is_(None)).order_by(schema.pre_mix.c.key),
    PIGMENT: select(schema.pigment).where(schema.pigment.c.removed.is_(None)).order_by(schema.pigment.c.key),
}
