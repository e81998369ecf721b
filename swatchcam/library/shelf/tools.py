"""What the studio doses and measures with: scale, spoon, the drops of its bottles, the pre-mixes on the shelf."""

from __future__ import annotations

from collections.abc import Iterable

from ...recipes.dosing import Tools
from ...recipes.drops import Drops
from ...recipes.measures import Measures
from ...recipes.premix import PreMix
from ...recipes.recipe import BINDER, CLEAR_BASE, SCALE_G
from ...text import key
from ..library import Library
from ..proposals import PIGMENT
from .ledger import holdings
from .pigments import Pigment, clear_base, pigments
from .pre_mixes import pre_mixes
from .studio import studio_of


def tools_of(library: Library, scale_g: float | None = None, make: bool = False) -> Tools:
    """The tools of a studio; the scale's step is the studio's own unless one is said.

    Parameters
    ----------
    make : whether pre-mixes that are not there may be made
    """
    step = scale_g if scale_g is not None else studio_of(library).scale_g
    known, jars = pigments(library), dict[str, list[PreMix]]()
    for jar in pre_mixes(library):
        if jar.grams != 0:
            jars.setdefault(key(jar.pigment), []).append(jar)
    return Tools(
        SCALE_G if step is None else step,
        drops_of(known),
        {name: tuple(sorted(those, key=lambda jar: -jar.share)) for name, those in jars.items()},
        least_of(known),
        make,
        {key(one.name): one.grams for one in holdings(library, PIGMENT) if one.grams is not None},
    )


def drops_of(shelf: Iterable[Pigment]) -> dict[str, Drops]:
    """Pigment, in small letters -> the drops of its bottle, where they were counted."""
    return {key(one.name): one.drops for one in shelf if one.drops}


def least_of(shelf: Iterable[Pigment]) -> dict[str, float]:
    """Pigment, in small letters -> the smallest amount that can be dispensed, g, where somebody said."""
    return {key(one.name): one.least_g for one in shelf if one.least_g is not None}


def measures_of(library: Library) -> Measures:
    """What a recipe that was counted and spooned is read by."""
    known, base = pigments(library), clear_base(library)
    densities = {key(one.name): one.density for one in known if one.density is not None}
    if base and base.density is not None:
        densities |= dict.fromkeys((BINDER, CLEAR_BASE), base.density)
    studio = studio_of(library)
    return Measures(drops_of(known), studio.spoon_ml, densities, studio.scale_g)
