"""What the whole library is asked: the nearest shades, the test series, the last treatment, what was ever handled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection

import numpy as np
from numpy.typing import ArrayLike
from sqlalchemy import and_, func, or_, select

from ..colorimetry.nearest_index import Index
from ..recipes.recipe import BINDER, Recipe, recipe_from_json
from ..recipes.safety import COUNTED, FIXER, HEAT, INK, POWDER, named_in
from ..text import key
from . import schema
from .library import Library
from .records import HEAT_SET, Record
from .row_mapping import decoding, records_in_use, rows_of

ALONE = "binder alone"  # the shade of test strips without pigment
BARE = "bare cloth"  # that of strips without ink
SERIES = "series "  # begins that of a pigment's test series, before the pigment's name
SERIES_BEFORE = "ladder "  # the same in libraries of version 0.1
MORE = 4  # times as many records are asked for, where those of too few shades were found; no source


def series_shades(library: Library) -> frozenset[int]:
    """The numbers of the shades that nobody wants again: bare cloth, clear base alone, one pigment at each load.

    They are told by their names, and by all their recipes; bare cloth has none.
    """
    shade, batch = schema.shade.c, schema.batch.c
    named = or_(shade.key == ALONE, shade.key.startswith(SERIES), shade.key.startswith(SERIES_BEFORE))
    query = (
        select(shade.id, shade.key, batch.recipe)
        .join_from(schema.batch, schema.shade)
        .where(or_(and_(named, batch.recipe != ""), shade.key == BARE))
        .where(batch.removed.is_(None), shade.removed.is_(None))
    )
    with library.reading() as connection, decoding():
        found = [
            (row.id, _only(row.key, recipe_from_json(row.recipe) if row.recipe else None))
            for row in connection.execute(query)
        ]
    return frozenset(number for number, _ in found) - {number for number, only in found if not only}


def _only(name: str, recipe: Recipe | None) -> bool:
    """Whether a pot holds nothing but clear base and the pigment of a series of that name, or nothing."""
    if recipe is None or name == BARE:
        return recipe is None
    pigment = name.removeprefix(SERIES).removeprefix(SERIES_BEFORE)
    return {key(part.what) for part in recipe.parts} - {key(BINDER)} == ({pigment} if name != ALONE else set())


def nearest_shades(
    library: Library, lab: ArrayLike, count: int, left_out: Collection[int] = ()
) -> list[tuple[Record, float]]:
    """The `count` shades with the records nearest to a (3,) CIELAB (D65, 10 degrees), and their CIEDE2000.

    Every record is asked for at first as if each shade had one; where shades have many, more are asked for. Shades of
    the numbers `left_out` are not asked for.
    """
    numbers, labs, shades = library.labs()
    if left_out:
        stay = ~np.isin(shades, list(left_out))
        numbers, labs, shades = numbers[stay], labs[stay], shades[stay]
    index, shade_of = Index(labs, numbers), dict(zip(numbers.tolist(), shades.tolist(), strict=True))
    wanted = min(count, len(np.unique(shades)))
    asked, best = wanted, dict[int, tuple[int, float]]()
    while asked and len(best) < wanted:
        best = {}
        for number, apart in index.nearest(lab, asked):
            best.setdefault(shade_of[number], (number, apart))
        asked *= MORE
    nearest = sorted(best.values(), key=lambda found: (found[1], found[0]))[:count]
    return [(library.record(number), apart) for number, apart in nearest]


def last_treated(library: Library, state: str, shade: str = "") -> Record | None:
    """The record kept last, of a shade or of all, in the state of that name, of which somebody said how it was done.

    A number of washes says it too. None where there is no such record.
    """
    row = schema.record.c
    query = (
        records_in_use()
        .with_only_columns(row.id)
        .where(row.stage == state, row.how.is_not(None) | (row.washes > 0))
        .order_by(None)
        .order_by(row.id.desc())
        .limit(1)
    )
    if shade:
        query = query.where(schema.shade.c.key == key(shade))
    with library.reading() as connection:
        number = connection.execute(query).scalar()
    return None if number is None else library.record(number)


def said_of_strips(library: Library) -> dict[str, list[str]]:
    """Shade -> cloths and notes of all its records, each once."""
    columns = schema.shade.c.name, schema.record.c.cloth, schema.record.c.notes
    query = records_in_use().with_only_columns(*columns).order_by(None).distinct()
    found: dict[str, list[str]] = {}
    with library.reading() as connection:
        for row in rows_of(connection, query):
            found.setdefault(row.name, []).extend((row.cloth, row.notes))
    return found


def cloths_noted(library: Library) -> list[str]:
    """Every cloth that was noted of a strip in use, with a recipe or without, each once."""
    query = records_in_use().with_only_columns(schema.record.c.cloth).order_by(None).distinct()
    with library.reading() as connection:
        return list({key(row.cloth): row.cloth for row in rows_of(connection, query) if row.cloth}.values())


def handled(library: Library, subjects: Collection[str] = COUNTED) -> Counter[str]:
    """How often, by subject of `recipes.safety`; what was removed later was handled too.

    HEAT counts heat-set strips, INK recipes and corrections that were kept, FIXER and POWDER batches with such a part:
    for these two all recipes are looked through, so ask only for what is needed.
    """
    heated = select(func.count()).select_from(schema.record).where(schema.record.c.stage == HEAT_SET)
    mixed = select(func.count()).select_from(schema.proposal)
    recipes = select(schema.batch.c.recipe).where(schema.batch.c.recipe != "")
    found = Counter[str]()
    with library.reading() as connection:
        for subject, query in ((HEAT, heated), (INK, mixed)):
            if subject in subjects:
                found[subject] = connection.execute(query).scalar_one()
        if {FIXER, POWDER} & {*subjects}:
            # As it is stored, a recipe holds little but the names of its parts: it is looked through faster than read.
            for (recipe,) in connection.execute(recipes):
                found.update(named_in([recipe]))
    return +found
