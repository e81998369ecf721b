"""What went into a pot: binder and pigments by weight, by drops or by spoon tips, and how sure each weight is."""

from __future__ import annotations

from dataclasses import dataclass

GRAMS, DROPS, TIPS = "g", "drops", "tips"


@dataclass(frozen=True)
class Part:
    """One thing that was added."""

    what: str  # "binder", or the pigment's name
    amount: float  # as it was given
    unit: str  # GRAMS, DROPS or TIPS (of a spoon)
    grams: float
    grams_std: float  # one standard deviation: the scale's resolution, or how unlike drops and tips are
    number: str = ""  # the maker's number, as free text


@dataclass(frozen=True)
class Recipe:
    """Everything that went into the pot."""

    parts: tuple[Part, ...]
