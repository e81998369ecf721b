"""The studio's pigments with their lots, ready-mixed inks, and the clear base: what was said of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from sqlalchemy import Connection, select

from ...errors import UsageError
from ...measurement.metamerism import SURE
from ...messages.message import change
from ...recipes.drops import Drops
from ...recipes.numbers import check_number
from ...recipes.recipe import CLEAR_BASE, is_clear_base
from ...text import key
from .. import schema
from ..changes import Change, ColumnChange, Plan, carry_out
from ..entry import day_of
from ..library import Library
from ..records import by_name, clean_name
from ..row_mapping import rows_of

ABOVE_ZERO = 1e-9  # the smallest number that is taken for more than none
# g of concentrate that 1 g of a ready-mixed ink counts as: a factory's print paste holds 5 to 7.5 % of pigment (print
# recipe of 2011, tests/reference/print_area_facts.csv). It need not be true of an ink, for its strips tell its
# strength: it only brings all that is thought of pigments beforehand to the loads at which that was meant.
READY = 0.06
Known = Literal["tested", "said", "assumed"]  # how a lot's strength is known


@dataclass(frozen=True)
class Lot:
    """One delivery of a pigment."""

    name: str
    since: str  # ISO date from which it is in use
    strength: float  # of tinting, relative to the lot that the test series was made with
    strength_std: float  # one standard deviation, same scale


@dataclass(frozen=True)
class Pigment:
    """A pigment on the studio's shelf; None is what nobody said."""

    name: str
    most: float | None  # g in 100 g of the whole: the maker's limit
    least_g: float | None  # the smallest amount that can be dispensed, g
    price: float | None  # of 100 g, in the studio's own money
    notes: str
    lots: tuple[Lot, ...]  # the oldest first
    ready: bool = False  # a ready-mixed ink, up to the whole pot; it does not count against the load of concentrates
    density: float | None = None  # g/ml
    drops: Drops | None = None  # of its bottle, where they were counted

    @property
    def counts_as(self) -> float:
        """g of concentrate that 1 g of the lot of its test series counts as."""
        return READY if self.ready else 1.0

    def strength(self, day: str) -> tuple[float, float]:
        """g of concentrate that 1 g counts as, and its standard deviation, of the lot in use on an ISO day.

        That is the lot's tinting strength, times what a ready-mixed ink counts as.
        """
        in_use = [lot for lot in self.lots if lot.since <= day]
        strength, std = (in_use[-1].strength, in_use[-1].strength_std) if in_use else (1.0, 0.0)
        return self.counts_as * strength, self.counts_as * std


def pigments(library: Library) -> list[Pigment]:
    """The pigments and ready-mixed inks on the shelf, by name; not the clear base."""
    return [pigment for pigment in _all(library) if not is_clear_base(pigment.name)]


def clear_base(library: Library) -> Pigment | None:
    """What was said of the clear base: its price, its density; None if nothing was."""
    return next((pigment for pigment in _all(library) if is_clear_base(pigment.name)), None)


def _all(library: Library) -> list[Pigment]:
    with library.reading() as connection:
        return _pigments_of(connection)


def pigment(library: Library, name: str) -> Pigment:
    """The pigment of that name, small and capital letters alike.

    Raises
    ------
    UsageError
        There is none; the remedy names those that are spelt alike.
    """
    return by_name(
        pigments(library), name, lambda near: UsageError("pigment-unknown", "choose-a-pigment", name=name, near=near)
    )


def set_pigment(
    library: Library,
    name: str,
    *,
    most: float | None = None,
    least_g: float | None = None,
    price: float | None = None,
    notes: str | None = None,
    ready: bool | None = None,
    density: float | None = None,
    drops: Drops | None = None,
) -> Change:
    """Put a pigment on the shelf, or correct its details; None leaves a thing as it was. Units: see `Pigment`.

    The clear base can have a price, a density and notes too.

    Returns
    -------
    what was done

    Raises
    ------
    UsageError
        A name or a number that is none, or nothing was said of a pigment that is there.
    """
    _check_pigment(most, least_g, price)
    if density is not None:
        check_number(density, "density", 0.5, 3)
    given = {"most": most, "least_g": least_g, "price": price, "notes": notes, "ready": ready, "density": density}
    given |= {"drop_g": drops.grams, "drop_std": drops.std} if drops else {}
    said: dict[str, Any] = {name: value for name, value in given.items() if value is not None}
    fresh = clean_name(name, "pigment")
    if is_clear_base(fresh):
        fresh = CLEAR_BASE
        if not said or said.keys() - {"price", "density", "notes"}:
            raise UsageError("clear-base-no-pigment", "say-its-price-or-density")

    details = [name for name in said if name != "drop_std"]  # it is told with the drop itself

    def plan(there: Library) -> Plan:
        row = pigment_row(there, fresh)
        if row is None:
            new = {"name": fresh, "key": key(fresh), "notes": ""} | said | {"removed": None}
            return change("pigment-added", pigment=fresh, details=details), [("pigment", None, new)]
        if not said:
            raise UsageError("pigment-there-already", "say-what-to-change", pigment=fresh)
        return change("pigment-changed", pigment=fresh, details=details), [("pigment", row, said)]

    return carry_out(library, plan)


def _check_pigment(most: float | None, least_g: float | None, price: float | None) -> None:
    if most is not None:
        check_number(most, "pigment-most", ABOVE_ZERO, 100)
    if least_g is not None:
        check_number(least_g, "pigment-least", ABOVE_ZERO, 1000)
    if price is not None:
        check_number(price, "pigment-price", ABOVE_ZERO, 1e9)


def add_lot(
    library: Library,
    pigment_name: str,
    name: str,
    since: str,
    strength: float = 1.0,
    strength_std: float = 0.0,
    known: Known = "said",
) -> Change:
    """Note that a new delivery of a pigment is in use since an ISO day, and how strong it is (see `Lot`).

    Returns
    -------
    what was done

    Raises
    ------
    UsageError
        No such pigment, a lot that is there already, or a name, day or number that is none.
    """
    fresh = clean_name(name, "lot")
    if not since:
        raise UsageError("lot-without-day", "give-its-first-day", lot=fresh)
    check_number(strength, "lot-strength", ABOVE_ZERO, 100)
    check_number(strength_std, "lot-strength-error", 0, 100)
    values = {
        "name": fresh,
        "key": key(fresh),
        "since": day_of(since, "first used"),
        "strength": float(strength),
        "strength_std": float(strength_std),
        "removed": None,
    }

    def plan(there: Library) -> Plan:
        found = pigment(there, pigment_name)
        if key(fresh) in {key(lot.name) for lot in found.lots}:
            raise UsageError("lot-name-taken", "choose-a-free-name", pigment=found.name, lot=fresh, free=None)
        lot = values | {"pigment_id": pigment_row(there, found.name)}
        how = {"strength": strength, "interval95": SURE * strength_std, "known": known}
        return change("lot-added", lot=fresh, pigment=found.name, **how), [("lot", None, lot)]

    return carry_out(library, plan)


def remove_pigment(library: Library, name: str) -> Change:
    """Take a pigment off the shelf, with its lots; that can be undone."""

    def plan(there: Library) -> Plan:
        found = pigment(there, name)
        removed: ColumnChange = ("pigment", pigment_row(there, found.name), {"removed": schema.now()})
        return change("pigment-removed", pigment=found.name), [removed]

    return carry_out(library, plan)


def pigment_row(library: Library, name: str) -> int | None:
    """The number of the row of that pigment, if it is there."""
    table = schema.pigment.c
    with library.reading() as connection:
        return connection.execute(select(table.id).where(table.key == key(name), table.removed.is_(None))).scalar()


def _pigments_of(connection: Connection) -> list[Pigment]:
    """The pigments in use, by name, each with its lots in use."""
    lots: dict[int, list[Lot]] = {}
    by_age = select(schema.lot).where(schema.lot.c.removed.is_(None)).order_by(schema.lot.c.since, schema.lot.c.id)
    for row in rows_of(connection, by_age):
        lots.setdefault(row.pigment_id, []).append(Lot(row.name, row.since, row.strength, row.strength_std))
    query = select(schema.pigment).where(schema.pigment.c.removed.is_(None)).order_by(schema.pigment.c.key)
    return [
        Pigment(
            row.name,
            row.most,
            row.least_g,
            row.price,
            row.notes,
            tuple(lots.get(row.id, ())),
            bool(row.ready),
            row.density,
            None if row.drop_g is None else Drops(row.drop_g, row.drop_std or 0.0),
        )
        for row in rows_of(connection, query)
    ]
