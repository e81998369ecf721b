"""What is put out around a pot: an amount, a list to weigh, whether an ink is opaque."""

from __future__ import annotations

from typing import Annotated, TypedDict

from .colours import HeadJson, Interval, LabJson
from .messages import FlagJson


class PartJson(TypedDict):
    """What and how much."""

    what: Annotated[str, "pigment, clear base or ink"]
    grams: Annotated[float, "g"]


class PutInJson(PartJson):
    """What is put in; grams of the pigment itself."""

    words: Annotated[str, "what is weighed or counted: 0.3 g, 6 drops, 4 g of the 10 % pre-mix"]


class PotPartJson(PartJson):
    """A part of what is in the pot then."""

    percent: Annotated[float, "g in 100 g"]


class MakeJson(TypedDict):
    """How a pre-mix is made."""

    of: Annotated[str, "the pigment, or the stronger pre-mix, that goes into it"]
    grams: Annotated[float, "of that, g"]
    clear_base_grams: Annotated[float, "g"]


class StepJson(TypedDict):
    """A step of weighing."""

    step: Annotated[int, "1, 2 ..."]
    way: Annotated[str, "make (a pre-mix), weigh, count (drops) or close (the pot)"]
    what: Annotated[str, "clear base, the pigment, or the ink that is put in; empty for the last step"]
    grams: Annotated[float, "what the scale shows, g; 0 where nothing is weighed"]
    drops: Annotated[int | None, "how many drops; null if it is weighed"]
    pre_mix: Annotated[str | None, "the pre-mix that is weighed, counted or made, such as blue 1 %"]
    pigment_grams: Annotated[float | None, "pigment that goes into the pot by that, g"]
    make: Annotated[MakeJson | None, "of a pre-mix that is made first"]
    words: Annotated[str, "what to do, in words"]


class WeighingJson(HeadJson):
    """A list to weigh: in `weighing` of what `mix recipe`, `mix correct` and `mix again` print."""

    steps: Annotated[list[StepJson], "what to do, in order"]
    grams: Annotated[float, "what that makes, g"]
    pot: Annotated[list[PotPartJson], "what is in it"]
    rounding_percent: Annotated[dict[str, float], "by pigment; always 0, for what is listed needs no rounding any more"]
    notes: Annotated[list[str], "always empty; weaknesses stand in `flags`"]


class LaidJson(TypedDict):
    """How much ink a pull lays down."""

    value: Annotated[float, "g/m²"]
    range: Annotated[list[float], "[low, high] that it may be, g/m²"]
    words: Annotated[str, "where it comes from"]


class AmountLineJson(TypedDict):
    """A part of the amount."""

    grams: Annotated[float, "g; the lines add up to the whole"]
    words: Annotated[str, "what it is for"]


class RunCostJson(TypedDict):
    """What the ink of a run costs."""

    shade: Annotated[str, "the shade"]
    batch: Annotated[str, "the batch whose recipe counts"]
    price: Annotated[float | None, "in your own money; null if something has no price"]
    without_price: Annotated[list[str], "what has no price"]
    words: Annotated[str, "the same in words"]


class AmountJson(HeadJson):
    """What `swatchcam amount --json` prints: how much ink to mix for a run."""

    grams: Annotated[float, "how much to mix, g"]
    covers_grams_per_m2: Annotated[float, "the most that a pull may lay down for the ink to last, g/m²"]
    grams_range: Annotated[
        list[float], "[low, high] that the run takes if a pull lays down as little or as much as it may, g"
    ]
    millilitres: Annotated[float, "the same, ml"]
    pots: Annotated[int | None, "how many pots; null if nobody said what one holds"]
    pot_millilitres: Annotated[float | None, "what one pot holds, ml, or null"]
    laid_grams_per_m2: Annotated[LaidJson, "how much ink a pull lays down"]
    lines: Annotated[list[AmountLineJson], "what the amount is made of"]
    cost: Annotated[RunCostJson | None, "what it costs, with `--shade`; else null"]
    flags: Annotated[list[FlagJson], "weaknesses"]
    care: Annotated[list[str], "cautions, in words"]


class ContrastJson(TypedDict):
    """A contrast ratio."""

    contrast_ratio: Annotated[float, "Y over dark cloth over Y over light cloth, 0 to 1"]
    interval95: Interval


class PassesJson(ContrastJson):
    """The contrast ratio of some passes."""

    passes: Annotated[int, "how many passes"]
    measured: Annotated[bool, "false: predicted"]


class FilmJson(LabJson):
    """What was measured in one place."""

    what: Annotated[str, "the strip or the record"]


class OpacityJson(HeadJson):
    """What `swatchcam opacity --json` prints: whether an ink covers dark cloth."""

    verdict: Annotated[str, "`covers`, `second-pass`, `needs-base` or `cannot-tell`"]
    sentence: Annotated[str, "the verdict in words"]
    asked_for: Annotated[float, "the contrast ratio wanted"]
    passes: Annotated[list[PassesJson], "the contrast ratio of one pass, and of more if both cloths were measured"]
    measured: Annotated[
        dict[str, FilmJson], "by place: `over_light`, `over_dark`, and the bare `light_cloth` and `dark_cloth`"
    ]
    flags: Annotated[list[FlagJson], "weaknesses"]


class AgeJson(TypedDict):
    """How old something is."""

    mixed: Annotated[str, "ISO date, or empty"]
    days_old: Annotated[int | None, "days since then; null if nobody said"]


class RestJson(AgeJson):
    """What is left of an old pot."""

    batch: Annotated[str, "the batch"]
    shade: Annotated[str, "its shade"]
    called: Annotated[str, "the same in words; the shade only where it may be another one"]
    grams: Annotated[float, "what goes in, g"]
    left_grams: Annotated[float, "what is left, g; more than that where only some of it goes in"]
