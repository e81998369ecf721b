"""What a studio has handled before: who has kept a heat-set strip has read what to take care of with heat."""

from __future__ import annotations

from collections import Counter

from sqlalchemy import func, select

from ..recipes.safety import HEAT, INK, named_in
from . import schema
from .library import Library
from .records import HEAT_SET


def handled(library: Library) -> Counter[str]:
    """How often, by subject of `recipes.safety`; also what was removed later.

    HEAT counts heat-set strips, INK recipes and corrections that were kept, FIXER and POWDER batches with such a part.
    """
    heated = select(func.count()).select_from(schema.record).where(schema.record.c.stage == HEAT_SET)
    mixed = select(func.count()).select_from(schema.proposal)
    recipes = select(schema.batch.c.recipe).where(schema.batch.c.recipe != "")
    with library.reading() as connection:
        found = Counter({HEAT: connection.execute(heated).scalar_one(), INK: connection.execute(mixed).scalar_one()})
        # As it is stored, a recipe holds little but the names of its parts: not read, it is looked through faster.
        for (recipe,) in connection.execute(recipes):
            found.update(named_in([recipe]))
    return +found
