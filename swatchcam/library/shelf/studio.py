"""What the studio has and usually does: its scale and spoon, its usual pot, card, cloth, state and tolerance."""

from __future__ import annotations

import json
from collections.abc import Collection
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from ...cards.values import load_values
from ...cards.values_folder import NOMINAL, find_card
from ...errors import UsageError
from ...measurement.verdict import check_tolerance
from ...messages.message import change
from ...recipes.numbers import check_number
from .. import schema
from ..changes import Change, ColumnChange, Plan, carry_out
from ..library import Library
from ..records import WET, State, clean_name
from ..row_mapping import decoding, rows_of
from .settings import FIELDS, Studio, studio_from


def studio_of(library: Library) -> Studio:
    """What was said of the studio.

    Raises
    ------
    LibraryError
        A row is not what was written.
    """
    with library.reading() as connection:
        return studio_within(connection)


def studio_within(connection: Connection) -> Studio:
    """The same within a transaction."""
    query = select(schema.studio).where(schema.studio.c.removed.is_(None))
    with decoding():
        return studio_from((row.name, row.value) for row in rows_of(connection, query))


def set_studio(
    library: Library,
    *,
    scale_g: float | None = None,
    spoon_ml: float | None = None,
    pot_g: float | None = None,
    card: str | None = None,
    cloth: str | None = None,
    state: State | None = None,
    tolerance: float | None = None,
    forget: Collection[str] = (),
) -> Change:
    """Say what the studio has; None leaves a thing as it was, and what is in `forget` (of FIELDS) is forgotten.

    Raises
    ------
    UsageError
        A number, a name or a state that is none, or nothing was said.
    CardError
        There are no values of that name, or they can't be used.
    """
    given = {"scale_g": scale_g, "spoon_ml": spoon_ml, "pot_g": pot_g, "tolerance": tolerance}
    said: dict[str, Any] = {name: float(value) for name, value in given.items() if value is not None}
    _check(said)
    if card is not None:
        said["card"] = _card(card)
    if cloth is not None:
        said["cloth"] = clean_name(cloth, "cloth")
    if state is not None:
        if state.name == WET:
            raise UsageError("target-wet", "choose-a-dry-state")
        said["state"] = str(state)

    def plan(there: Library) -> Plan:
        known = _rows(there)
        gone = [name for name in FIELDS if name in forget and name in known and name not in said]
        if not said and not gone:
            raise UsageError("nothing-to-change", "say-what-to-change")
        touches = [_touch(name, value, known.get(name)) for name, value in said.items()]
        touches += [("studio", known[name], {"removed": schema.now()}) for name in gone]
        told = said | (
            {"card": Path(said["card"]).name} if "card" in said else {}
        )  # where it lies is nobody's business
        return change("studio-set", said=told, forgotten=gone), touches

    return carry_out(library, plan)


def _check(said: dict[str, Any]) -> None:
    if "scale_g" in said:
        check_number(said["scale_g"], "scale-step", 1e-4, 10)
    if "spoon_ml" in said:
        check_number(said["spoon_ml"], "spoon-size", 0.5, 100)
    if "pot_g" in said:
        check_number(said["pot_g"], "usual-pot", 1, 1e6)
    if "tolerance" in said:
        check_tolerance(said["tolerance"])


def _card(typed: str) -> str:
    """A card's name; a file keeps its place, wherever the next command is given."""
    named = clean_name(typed, "card")
    if named == NOMINAL:
        return named
    found = find_card(named)
    load_values(found)  # what can't be used is refused now, not by every photo from now on
    return str(found.absolute()) if len(Path(named).parts) > 1 or found == Path(named) else named


def _touch(name: str, value: Any, row: int | None) -> ColumnChange:
    stored = {"value": json.dumps(value, ensure_ascii=False)}
    return ("studio", row, stored if row else {"name": name} | stored | {"removed": None})


def _rows(library: Library) -> dict[str, int]:
    query = select(schema.studio).where(schema.studio.c.removed.is_(None))
    with library.reading() as connection:
        return {row.name: row.id for row in rows_of(connection, query)}
