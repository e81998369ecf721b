"""What went into a pot: clear base and pigments by weight, by drops or by spoon tips, and how sure each weight is."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from ..errors import LibraryError, UsageError
from ..text import key
from .measures import NONE, Measures
from .numbers import check_number
from .parser import DROPS, GRAMS, ML, SPOONS, UNITS, Written, plain, read_written

BINDER = "binder"  # the clear base, as it is stored
CLEAR_BASE = "clear base"  # the same, as it is said
LEAST_G, MOST_G, MOST_STEP_G = 1e-6, 1e6, 1e3  # of one part; of a scale's step, a drop or a spoon tip; no source
# What a scale's step, a drop and a spoon tip are unless the studio says otherwise; common practice, no source.
SCALE_G, DROP_G, TIP_G = 0.1, 0.05, 0.1
DROP_STD, TIP_STD = 0.2, 0.5  # of the weight of a single one; common practice, no source
FORMAT, LATER = 1, ("source", "common")


@dataclass(frozen=True)
class Part:
    """One thing that was added."""

    what: str  # BINDER, or the pigment's name
    amount: float  # as it was given
    unit: str  # one of UNITS; tips are of a spoon
    grams: float
    grams_std: float  # one standard deviation: the scale's resolution, or how unlike drops, tips and spoons are
    number: str = ""  # the maker's number, as free text
    source: str = ""  # the bottle whose drops were counted, or the pre-mix; "" where it was weighed as it is
    common: float = 0.0  # g, one standard deviation: the part of `grams_std` that all doses of that source share


NO_BASE = Part(BINDER, 0.0, GRAMS, 0.0, 0.0)  # in a pot of ready-mixed inks alone


@dataclass(frozen=True)
class Share:
    """How much of a pigment is in the pot."""

    percent: float  # g in 100 g of the whole
    std: float  # one standard deviation, same unit


@dataclass(frozen=True)
class Recipe:
    """Everything that went into the pot."""

    parts: tuple[Part, ...]

    @property
    def grams(self) -> float:
        """Weight of the whole."""
        return sum(part.grams for part in self.parts)

    def shares(self) -> dict[str, Share]:
        """Each pigment's share; the weights of the parts err independently.

        Source
        ------
        JCGM 100:2008, 5.1.2, for 100 m / (m + rest).
        """
        return {part.what: self._share(part) for part in self.parts if part.what != BINDER}

    def _share(self, part: Part) -> Share:
        whole = self.grams
        rest_std = math.hypot(*(other.grams_std for other in self.parts if other is not part))
        own, rest = part.grams / whole, 1 - part.grams / whole
        return Share(100 * own, 100 / whole * math.hypot(rest * part.grams_std, own * rest_std))


def parse_recipe(
    text: str,
    scale_g: float = SCALE_G,
    drop_g: float | None = None,
    tip_g: float = TIP_G,
    *,
    measures: Measures = NONE,
) -> Recipe:
    """What a person wrote -> the recipe.

    Parameters
    ----------
    text : parts separated by ',', ';' or lines; each a name, perhaps the maker's number in brackets, and an amount
        in g, kg, mg, drops, (spoon) tips, ml or spoons
    scale_g, drop_g, tip_g : the scale's step, and the weight of one drop and of one spoon tip, g; where nobody says
        what a drop weighs, it is that of the bottle, else DROP_G
    measures : the drops of the studio's bottles, its spoon, and densities

    Raises
    ------
    UsageError
        A part has no name or no amount, an amount makes no sense or can be read in two ways, nothing is said of the
        clear base (0 g of it is said too), a pigment is there twice, or nobody said what the spoon holds.
    """
    check_number(scale_g, "scale-step", LEAST_G, MOST_STEP_G)
    check_number(DROP_G if drop_g is None else drop_g, "drop-grams", LEAST_G, MOST_STEP_G)
    check_number(tip_g, "tip-grams", LEAST_G, MOST_STEP_G)
    parts = tuple(_weighed(part, scale_g, drop_g, tip_g, measures) for part in read_written(text, scale_g))
    _check_parts(parts)
    return Recipe(parts)


def is_clear_base(name: str) -> bool:
    """Whether a name is one of the clear base; no pigment may have it."""
    return key(name) in (BINDER, CLEAR_BASE)


def called(what: str) -> str:
    """What a part is called where people read it."""
    return CLEAR_BASE if what == BINDER else what


def as_given(part: Part) -> str:
    """A part as a person would write it; `parse_recipe` reads it back exactly."""
    number = f" (maker {part.number})" if part.number else ":" if part.what[-1].isdigit() else ""
    unit = part.unit.removesuffix("s") if part.amount == 1 else part.unit
    return f"{called(part.what)}{number} {plain(part.amount)} {unit}"


def recipe_json(recipe: Recipe) -> str:
    """The recipe as one JSON object; `recipe_from_json` reads it back exactly.

    Raises
    ------
    UsageError
        Something is in it twice, or nothing is said of the clear base.
    """
    _check_parts(recipe.parts)
    # What an earlier version does not know is left out where it says nothing.
    parts = [
        {name: value for name, value in asdict(part).items() if name not in LATER or value} for part in recipe.parts
    ]
    facts = {"format": FORMAT, "parts": parts}
    return json.dumps(facts, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def recipe_from_json(text: str) -> Recipe:
    """The recipe back from `recipe_json`.

    Raises
    ------
    LibraryError
        The text is not what was written.
    """
    try:
        facts: dict[str, Any] = json.loads(text)
        if facts["format"] != FORMAT:
            raise ValueError(f"format {facts['format']}")
        parts = tuple(_kept(**part) for part in facts["parts"])
        _check_parts(parts)
        return Recipe(parts)
    except (KeyError, TypeError, ValueError, RecursionError, UsageError) as error:
        cause = error.code if isinstance(error, UsageError) else str(error)
        raise LibraryError("kept-recipe-unreadable", "verify-or-restore", cause=cause) from error


def _weighed(part: Written, scale_g: float, drop_g: float | None, tip_g: float, measures: Measures) -> Part:
    """A part with its weight.

    A weight is the difference of two readings, empty and full, each anywhere within the scale's step d: together
    d / sqrt(6). What was counted or spooned errs by `_unweighed`.

    Source
    ------
    JCGM 100:2008, 4.3.7 (a rectangle of width d has the variance d² / 12).
    """
    what = BINDER if is_clear_base(part.what) else part.what
    if not part.amount:
        if what != BINDER:
            raise UsageError("amount-not-above-zero", "correct-or-leave-out", entry=part.entry)
        return NO_BASE
    common = 0.0
    bottle = measures.counted(part.what, part.amount) if part.unit == DROPS and drop_g is None else None
    if part.unit == GRAMS:
        grams, std = part.amount, scale_g / math.sqrt(6)
    elif bottle:
        grams, std, common = bottle
    else:
        grams, std = _unweighed(part, DROP_G if drop_g is None else drop_g, tip_g, measures)
    if not LEAST_G <= grams <= MOST_G:
        raise UsageError("amount-beyond-any-pot", "give-an-amount-for-a-pot", entry=part.entry)
    source = f"drops of {what}" if bottle else ""
    return Part(what, part.amount, part.unit, grams, std, part.number, source, common)


def _unweighed(part: Written, drop_g: float, tip_g: float, measures: Measures) -> tuple[float, float]:
    """Grams of what was counted or spooned, and their standard deviation.

    One half of the variance is each one's own and fades with their number; the other (the bottle, the spoon, the
    hand) is common to all of the part and does not. That halving is ours, no source.
    """
    if part.unit == SPOONS and measures.spoon_ml is None:
        raise UsageError("spoon-unknown", "say-what-the-spoon-holds", entry=part.entry)
    if part.unit in (ML, SPOONS):
        each = (measures.spoon_ml or 0.0) if part.unit == SPOONS else 1.0
        return measures.spooned(part.what, part.amount * each, is_clear_base(part.what))
    each, spread = (drop_g, DROP_STD) if part.unit == DROPS else (tip_g, TIP_STD)
    grams = part.amount * each
    return grams, grams * spread * math.sqrt((1 + 1 / part.amount) / 2)


def _check_parts(parts: Sequence[Part]) -> None:
    """Refuse an ingredient that is there twice, a recipe that says nothing of clear base, and one of nothing."""
    names = set[str]()
    for part in parts:
        if part.what.casefold() in names:
            raise UsageError("ingredient-twice", "add-up-or-rename", what=called(part.what))
        names.add(part.what.casefold())
    if BINDER not in names:
        raise UsageError("no-clear-base", "say-if-there-is-none")
    if not any(part.grams for part in parts):
        raise UsageError("amount-not-above-zero", "correct-or-leave-out", entry=as_given(parts[0]))


def _kept(
    what: str,
    amount: float,
    unit: str,
    grams: float,
    grams_std: float,
    number: str,
    source: str = "",
    common: float = 0.0,
) -> Part:
    texts = all(isinstance(text, str) for text in (what, number, source))
    if not (texts and what) or unit not in UNITS:
        raise ValueError(f"the part {what!r} in {unit!r}")
    none = what == BINDER and amount == grams == grams_std == 0  # a pot of ready-mixed inks alone
    for value in (amount, grams, grams_std):
        if not isinstance(value, float) or not 0 <= value < math.inf or not (value or none):
            raise ValueError(f"{what!r} has the amount {value!r}")
    if not isinstance(common, float) or not 0 <= common <= grams_std:
        raise ValueError(f"{what!r} shares an error of {common!r}")
    return Part(what, amount, unit, grams, grams_std, number, source, common)
