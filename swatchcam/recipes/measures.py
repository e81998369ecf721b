"""What the studio counts and spoons with: its bottles' drops, its spoon, and how heavy a millilitre of each thing is.

A spoon of white weighs a third more than a spoon of colour: a volume becomes grams by the density of what is in it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from ..errors import UsageError
from ..text import key
from .drops import DROP_SCATTER, STEPS, Drops
from .numbers import NUMBER, check_number, number_of

SPOONED = re.compile(
    rf"(?P<count>\d{{1,6}})\s*spoons?(?:\s+of\s+(?P<what>[^=\d]+?))?\s*(?:=|are|weighs?)?\s*{NUMBER}\s*g", re.I
)
WATER = "water"
CLEAR_BASE_DENSITY = 1.015  # g/ml: textile acrylic binder 1.01 to 1.02, data sheet of a binder, avcochem.org
COLOUR_DENSITY = 1.0  # 1.011 worked out of 10 % acrylic in water; weigh your own
WHITE_DENSITY = 1.3  # 1.318 worked out of 30 % titanium dioxide and 15 % acrylic in water, densities from memory
# In the languages of those who asked so far; a white that is called otherwise needs its density on the shelf.
WHITES = {"white", "weiß", "weiss", "blanc", "blanco", "blanca", "bianco", "branco", "wit", "hvid", "vit"}
DENSITY_STD = 0.05  # relative, of a density that nobody said; no source
SPOON_STD = 0.10  # of a volume: 'not above 10 %' for a calibrated device (USP 1221), all of it taken as its own


@dataclass(frozen=True)
class Measures:
    """What is known of them; names in small letters."""

    drops: Mapping[str, Drops] = field(default_factory=dict)  # pigment -> its bottle's
    spoon_ml: float | None = None  # what the usual spoon holds
    densities: Mapping[str, float] = field(default_factory=dict)  # g/ml, as said on the shelf
    scale_g: float | None = None  # the scale's step, where nobody says another

    def counted(self, what: str, count: float) -> tuple[float, float, float] | None:
        """Grams of so many drops, their standard deviation, and the part of it that the whole bottle shares; None
        where nobody counted drops of that bottle onto a scale.
        """
        bottle = self.drops.get(key(what))
        if bottle is None:
            return None
        grams = count * bottle.grams
        return grams, grams * math.hypot(DROP_SCATTER / math.sqrt(count), bottle.std), grams * bottle.std

    def spooned(self, what: str, millilitres: float, binder: bool) -> tuple[float, float]:
        """Grams of a volume, and their standard deviation."""
        density, std = self._density(what, binder)
        return millilitres * density, millilitres * density * math.hypot(SPOON_STD, std)

    def _density(self, what: str, binder: bool) -> tuple[float, float]:
        """G/ml, and the relative standard deviation of it: none of what was said."""
        if (said := self.densities.get(key(what))) is not None:
            return said, 0.0
        if binder:
            return CLEAR_BASE_DENSITY, DENSITY_STD
        return WHITE_DENSITY if WHITES & set(key(what).split()) else COLOUR_DENSITY, DENSITY_STD


NONE = Measures()


def parse_spoon(text: str, scale_g: float, clear_base: float | None = None) -> float:
    """ "4.8 ml", or "10 spoons = 48 g" of clear base or "of water", on a scale with this step -> ml of one spoon.

    `clear_base` is its density, g/ml, where somebody said it.

    Raises
    ------
    UsageError
        It cannot be read, makes no sense, or moved the scale by too few steps.
    """
    words = " ".join(text.split())
    if plain := re.fullmatch(rf"{NUMBER}\s*(?:ml)?", words, re.I):
        size = number_of(plain[1])
    else:
        size = _weighed_spoon(words, scale_g, clear_base)
    check_number(size, "spoon-size", 0.5, 100)
    return size


def _weighed_spoon(words: str, scale_g: float, clear_base: float | None) -> float:
    check_number(scale_g, "scale-step", 1e-4, 100)
    found = SPOONED.fullmatch(words)
    what = key(found["what"] or "clear base") if found else ""
    density = {WATER: 1.0, "clear base": clear_base or CLEAR_BASE_DENSITY}.get(what)
    count, grams = (int(found["count"]), number_of(found[3])) if found else (0, 0.0)
    if density is None or not count or not grams:
        raise UsageError("spoon-unreadable", "write-spoon", typed=words[:40])
    if grams < STEPS * scale_g * (1 - 1e-9):
        raise UsageError("spoons-too-few", "weigh-more-spoons", spoons=count, grams=grams, enough=STEPS * scale_g)
    return grams / count / density
