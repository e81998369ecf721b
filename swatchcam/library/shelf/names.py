"""Names of pigments as people type them: a new one that is spelt like a known one is asked about."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from sqlalchemy import select

from ...errors import UsageError
from ...recipes.recipe import BINDER, CLEAR_BASE, is_clear_base, recipe_from_json
from ...text import key
from .. import schema
from ..library import Library
from ..row_mapping import rows_of
from .pigments import pigments

SLIP = "pigment-spelt-alike"  # the code of the question
PRE_MIX_NAME = re.compile(r"(.*\S)\s+(\d+(?:[.,]\d+)?)\s*%")  # "blue 10 %"
SHORT = 3  # letters of a name; in a shorter one, such as K, PR or 赤, another letter is another pigment; no source
LONG = 8  # letters of a word, from which two of them may be wrong; no source


def names_known(library: Library) -> dict[str, str]:
    """All that the studio weighs, by its name in small letters: what is on the shelf, and in any recipe."""
    recipes = (
        select(schema.batch.c.recipe)
        .where(schema.batch.c.recipe != "", schema.batch.c.removed.is_(None))
        .distinct()
        .order_by(schema.batch.c.recipe)
    )
    with library.reading() as connection:
        parts = [part.what for row in rows_of(connection, recipes) for part in recipe_from_json(row.recipe).parts]
    names = [*parts, CLEAR_BASE, *(pigment.name for pigment in pigments(library))]
    return {key(name): name for name in names if name != BINDER}


def refuse_slips(known: Mapping[str, str], names: Iterable[str]) -> None:
    """Ask about a name that is not known but spelt like one that is; on the shelf it is known.

    Raises
    ------
    UsageError
        There is such a name, or one of a pre-mix: its clear base would count as pigment.
    """
    for name in names:
        if key(name) in known or name == BINDER:
            continue
        if pre_mix := PRE_MIX_NAME.fullmatch(name.strip()):
            raise UsageError("pre-mix-no-pigment", "write-what-is-in-it", name=name, pigment=pre_mix[1])
        near = next((written for one, written in known.items() if spelt_alike(key(name), one)), None)
        if near is not None:
            raise UsageError("pigment-spelt-alike", "correct-it-or-put-it-on-the-shelf", name=name, near=near)


def pigment_meant(library: Library, name: str) -> str:
    """A pigment as the studio writes it; one that is really new as it was typed.

    Raises
    ------
    UsageError
        It is new and spelt like a known one, or it is a pre-mix or the clear base.
    """
    if is_clear_base(name):
        raise UsageError("clear-base-no-pigment", "name-a-pigment")
    known = names_known(library)
    pre_mix = PRE_MIX_NAME.fullmatch(name.strip())
    if pre_mix and key(name) not in known:
        raise UsageError("pre-mix-no-pigment", "name-its-pigment", name=name, pigment=pre_mix[1], percent=pre_mix[2])
    refuse_slips(known, [name])
    return known.get(key(name), name)


def spelt_alike(one: str, other: str) -> bool:
    """Whether one of two names, in small letters, may be a slip of the other: "bleu" and "blue".

    Names with other numbers, such as "blue 1" and "blue 2", or with other words are different things; very short ones
    always are.
    """
    if re.findall(r"\d+", one) != re.findall(r"\d+", other):
        return False
    if min(sum(map(str.isalpha, name)) for name in (one, other)) < SHORT:
        return False
    if slips(one.replace(" ", ""), other.replace(" ", "")) <= 1:
        return True
    words = list(zip(one.split(), other.split(), strict=False))
    same = len(words) == len(one.split()) == len(other.split())
    return same and all(slips(a, b) <= (2 if min(len(a), len(b)) >= LONG else 1) for a, b in words)


def slips(one: str, other: str) -> int:
    """How many letters were left out, added, mistaken or swapped with the next.

    Source
    ------
    Damerau 1964, doi:10.1145/363958.363994; each letter is touched once.
    """
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, start=1):
        before, above, row = row, before, [i]
        for j, b in enumerate(other, start=1):
            least = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and b == one[i - 2]:
                least = min(least, above[j - 2] + 1)
            row.append(least)
    return row[-1]
