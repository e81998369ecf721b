"""What the studio doses and measures with: scale, spoon, the drops of its bottles, the pre-mixes on the shelf."""

from __future__ import annotations

from ...recipes.dosing import Tools
from ...recipes.measures import Measures
from ...recipes.premix import PreMix
from ...recipes.recipe import BINDER, CLEAR_BASE, SCALE_G
from ...text import key
from ..library import Library
from ..proposals import PIGMENT
from .ledger import holdings
from .pigments import clear_base, pigments
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
        {key(one.name): one.drops for one in known if one.drops},
        {name: tuple(sorted(those, key=lambda jar: -jar.share)) for name, those in jars.items()},
        {key(one.name): one.least_g for one in known if one.least_g is not None},
        make,
        {key(one.name): one.grams for one in holdings(library, PIGMENT) if one.grams is not None},
    )


def measures_of(library: Library) -> Measures:
    """What a recipe that was counted and spooned is read by."""
    known, base = pigments(library), clear_base(library)
    densities = {key(one.name): one.density for one in known if one.density is not None}
    if base and base.density is not None:
        densities |= dict.fromkeys((BINDER, CLEAR_BASE), base.density)
    drops = {key(one.name): one.drops for one in known if one.drops}
    studio = studio_of(library)
    return Measures(drops, studio.spoon_ml, densities, studio.scale_g)
