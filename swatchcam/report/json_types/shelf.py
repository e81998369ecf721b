"""What the studio has, and what is left on its shelf."""

from __future__ import annotations

from typing import Annotated, TypedDict

from .colours import HeadJson, InLibraryJson
from .library_care import ChangeJson
from .weighing import AgeJson


class DropsJson(TypedDict):
    """The drops of one bottle."""

    of: Annotated[str, "the pigment or the pre-mix in it"]
    grams: Annotated[float, "weight of one drop, g"]
    percent_std: Annotated[float, "its relative standard deviation, percent, that all drops of the bottle share"]


class StudioJson(InLibraryJson):
    """What `swatchcam studio --json` prints: what the studio has and usually does; null or empty where nobody said."""

    scale_grams: Annotated[float | None, "step of the scale, g"]
    spoon_millilitres: Annotated[float | None, "what the spoon holds, ml"]
    pot_grams: Annotated[float | None, "what is usually mixed, g"]
    card: Annotated[str, "the card whose values are used where none is named"]
    cloth: Annotated[str, "the usual cloth"]
    state: Annotated[str, "the state in which shades are matched"]
    tolerance_ciede2000: Annotated[float | None, "the tolerance where a shade has none of its own"]
    drops: Annotated[list[DropsJson], "each bottle whose drops were counted onto a scale"]


class LeftJson(TypedDict):
    """What is left of something."""

    grams: Annotated[float | None, "g that are left; null if nobody ever said"]
    taken_beyond_grams: Annotated[float, "g that were taken beyond what was known to be there; weigh what is left"]


class PotLeftJson(LeftJson, AgeJson):
    """A pot on the shelf."""

    shade: Annotated[str, "the shade"]
    batch: Annotated[str, "the batch"]


class JarLeftJson(LeftJson, AgeJson):
    """A pre-mix on the shelf."""

    pre_mix: Annotated[str, "what is written on it"]
    pigment: Annotated[str, "the pigment"]
    percent: Annotated[float, "pigment in it, g in 100 g, as it was weighed"]
    percent_std: Annotated[float, "one standard deviation of that, g in 100 g"]
    lot: Annotated[str, "lot of the pigment, or empty"]


class BottleLeftJson(LeftJson):
    """A pigment, a ready-mixed ink or the clear base on the shelf."""

    pigment: Annotated[str, "the pigment, or `clear base`"]
    lot: Annotated[str, "the lot in use, or empty"]


class ShelfJson(InLibraryJson):
    """What `swatchcam shelf list --json` prints: what is left of everything on the shelf."""

    pots: Annotated[list[PotLeftJson], "pots that are not empty, by shade"]
    pre_mixes: Annotated[list[JarLeftJson], "pre-mixes that are not empty, by name"]
    pigments: Annotated[list[BottleLeftJson], "every pigment, the clear base too"]


class MakingJson(TypedDict):
    """How a pre-mix is made."""

    pre_mix: Annotated[str, "what is written on it"]
    of: Annotated[str, "what goes in: the pigment, or a stronger pre-mix"]
    ink_grams: Annotated[float, "of that, g"]
    clear_base_grams: Annotated[float, "clear base, g"]
    percent: Annotated[float, "pigment in it then, g in 100 g"]
    percent_std: Annotated[float, "one standard deviation of that, g in 100 g"]


class PreMixJson(HeadJson):
    """What `swatchcam shelf pre-mix --json` prints: what to weigh for a pre-mix."""

    makings: Annotated[list[MakingJson], "in order; the last one is the pre-mix that was asked for"]
    kept: Annotated[ChangeJson | None, "what put it on the shelf, as `undo N` prints it; null without --keep"]
    care: Annotated[list[str], "cautions, in words; empty with --keep"]
