"""Which pot, pre-mix or pigment a person means: "river blue 3", "blue 1 %", "blue"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches

from sqlalchemy import Table, select

from ...errors import UsageError
from ...recipes.drops import Drops
from ...recipes.recipe import CLEAR_BASE, is_clear_base
from ...text import key
from .. import schema
from ..changes import Change
from ..library import Library
from ..proposals import PIGMENT, POT, PRE_MIX, Kind
from ..row_mapping import rows_of
from .ledger import CLEAR_BASE_UNSAID, Holding, holding, holdings
from .names import pigment_meant
from .pigments import set_pigment
from .pre_mixes import set_pre_mix_drops

_Named = tuple[Kind, int, str, str]  # kind, number of its row, shade, name
KINDS: tuple[Kind, ...] = (POT, PRE_MIX, PIGMENT)
MOST_NAMED = 4  # in a question


def thing_called(library: Library, typed: str) -> Holding:
    """What is called so: a pot by its shade and batch, a pre-mix, a pigment or the clear base.

    The batch may be left out where only one pot of the shade is on the shelf, or was ever mixed. A first word "pot",
    "pre-mix" or "pigment" tells things of one name apart.

    Raises
    ------
    UsageError
        There is nothing of that name, or more than one thing.
    """
    there = _all(library)
    meant = _meant(library, there, typed)
    if len(meant) > 1:
        names = [spelt(*one) for one in meant[:MOST_NAMED]]
        raise UsageError("several-called-so", "name-one-of-these", typed=typed[:60], names=names)
    if not meant and is_clear_base(typed):
        return CLEAR_BASE_UNSAID
    found = holding(library, *meant[0][:2]) if meant else None
    if found is None:
        raise UsageError("nothing-called-so", "choose-from-the-shelf", typed=typed[:60], near=_near(there, typed))
    return found


def set_drops(library: Library, name: str, drops: Drops) -> Change:
    """Note what a drop weighs of a pigment's bottle, or of a pre-mix's where the name says percent.

    Raises
    ------
    UsageError
        There is no such pre-mix, or no such pigment but one that is spelt much alike.
    """
    if name.rstrip().endswith("%"):
        return set_pre_mix_drops(library, name.strip(), drops)
    return set_pigment(library, pigment_meant(library, name), drops=drops)


def spelt(of: Kind, _number: int, shade: str, name: str) -> str:
    """How a thing is written so that nothing else can be meant."""
    return f"{of} {shade}, {name}" if of == POT else f"{of} {name}"


def _all(library: Library) -> list[_Named]:
    pots = (
        select(schema.batch.c.id, schema.shade.c.name.label("shade"), schema.batch.c.name)
        .join(schema.shade)
        .where(schema.batch.c.removed.is_(None), schema.shade.c.removed.is_(None))
        .order_by(schema.batch.c.id)
    )
    with library.reading() as connection:
        named: list[_Named] = [(POT, row.id, row.shade, row.name) for row in rows_of(connection, pots)]
        others: tuple[tuple[Kind, Table], ...] = ((PRE_MIX, schema.pre_mix), (PIGMENT, schema.pigment))
        for kind, table in others:
            query = select(table.c.id, table.c.name).where(table.c.removed.is_(None)).order_by(table.c.key)
            named += [(kind, row.id, "", row.name) for row in rows_of(connection, query)]
    return named


def _meant(library: Library, there: Sequence[_Named], typed: str) -> list[_Named]:
    """Those that are called so: exactly, else with other stops between shade and batch, else by the shade alone."""
    exact = [one for one in there if key(typed) == key(spelt(*one))]
    for kind in KINDS:
        if not exact and key(typed).startswith(f"{kind} "):
            of_kind = [one for one in there if one[0] == kind]
            exact = _in_other_words(library, of_kind, key(typed).removeprefix(f"{kind} "))
    return exact or _in_other_words(library, there, typed)


def _alike(there: Sequence[_Named], typed: str) -> list[_Named]:
    if is_clear_base(typed):
        typed = CLEAR_BASE
    return [one for one in there if _plain(typed) in (_plain(f"{one[2]} {one[3]}"), _plain(f"{one[2]} batch {one[3]}"))]


def _in_other_words(library: Library, there: Sequence[_Named], typed: str) -> list[_Named]:
    """A pigment or a pre-mix may be called as a shade is: then pots of that are meant just as well."""
    alike = _alike(there, typed)
    return alike if any(of == POT for of, *_ in alike) else [*alike, *_of_shade(library, there, typed)]


def _of_shade(library: Library, there: Sequence[_Named], typed: str) -> list[_Named]:
    """Its pots on the shelf; where none is, all that were ever mixed."""
    pots = [one for one in there if one[0] == POT and _plain(one[2]) == _plain(typed)]
    filled = {one.number for one in holdings(library) if one.of == POT} if len(pots) > 1 else set[int]()
    return [one for one in pots if one[1] in filled] or pots


def _plain(words: str) -> str:
    """Without what people put between a shade and its batch, and before a percent sign."""
    return " ".join(re.sub(r"[,;:/]+(?!\d)|(?<!\d)[,;:/]+", " ", key(words).replace("%", " % ")).split())


def _near(there: Sequence[_Named], typed: str) -> list[str]:
    names = {_plain(f"{shade} {name}"): f"{shade} {name}".strip() for _, _, shade, name in there}
    return [names[one] for one in get_close_matches(_plain(typed), names, n=3, cutoff=0.6)]
