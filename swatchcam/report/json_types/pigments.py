"""What pigments do and what was said of them."""

from __future__ import annotations

from typing import Annotated, TypedDict

from .colours import ColourJson, HeadJson, InLibraryJson, NumberJson, SureColourJson
from .messages import FlagJson


class LotJson(TypedDict):
    """A lot of a pigment."""

    name: Annotated[str, "the lot"]
    since: Annotated[str, "first day of its use"]
    strength: Annotated[float, "its strength; 1 is that of the test series"]
    strength_std: Annotated[float, "one standard deviation of that"]
    differs: Annotated[bool, "true if that is more than the likely measurement error"]


class ShelfJson(TypedDict):
    """What you said of a pigment."""

    most_percent: Annotated[float | None, "the maker's limit, g in 100 g of ink, or null"]
    least_g: Annotated[float | None, "the smallest amount you can dispense, g, or null"]
    price_per_100g: Annotated[float | None, "in your own money, or null"]
    ready: Annotated[bool, "true if it is a ready-mixed ink, which may fill a pot"]
    density: Annotated[float | None, "g in a millilitre, or null"]
    notes: Annotated[str, "anything else you said, or empty"]
    lots: Annotated[list[LotJson], "its lots, the oldest first"]


class PigmentNameJson(TypedDict):
    """Which pigment."""

    pigment: Annotated[str, "the pigment"]


class PalettePigmentJson(PigmentNameJson, ShelfJson):
    """A pigment of the palette."""

    known_strips_alone: Annotated[int, "strips of its test series"]
    known_strips_in_mixes: Annotated[int, "strips of mixes that hold it"]
    strength: Annotated[float | None, "its strength, the strongest is 1; null without a test series"]


class PaletteJson(HeadJson):
    """What `swatchcam pigment list --json` prints: your pigments."""

    cloth: Annotated[str, "the cloth it holds for, or empty"]
    state: Annotated[str, "the state of the strips"]
    known_strips: Annotated[int, "how many strips of known recipe there are"]
    pigments: Annotated[list[PalettePigmentJson], "each pigment"]
    flags: Annotated[list[FlagJson], "weaknesses"]


class CurveStripJson(SureColourJson):
    """What one load is predicted to give."""

    percent: Annotated[float, "load, g in 100 g"]
    working_percent: Annotated[float, "the load it acts like, as more pigment stops helping, g in 100 g"]


class KnownStripJson(ColourJson):
    """A strip of the pigment alone."""

    percent: Annotated[float, "load, g in 100 g"]
    name: Annotated[str, "which strip it is"]


class PigmentJson(HeadJson, PigmentNameJson, ShelfJson):
    """What `swatchcam pigment show --json` prints: what one pigment does, load by load."""

    cloth: Annotated[str, "the cloth it holds for, or empty"]
    state: Annotated[str, "the state of the strips"]
    layer: Annotated[str, "the theory that fits them, `film`, `dyed` or `sunk`"]
    half_strength_percent: Annotated[NumberJson, "load at which half of its strength is lost, g in 100 g"]
    curve: Annotated[list[CurveStripJson], "what is predicted, from weak to strong"]
    measured: Annotated[list[KnownStripJson], "strips of it that were measured, from weak to strong"]
    flags: Annotated[list[FlagJson], "weaknesses"]


class SeriesStripJson(SureColourJson):
    """A strip that was kept."""

    record: Annotated[int, "number of the record"]
    shade: Annotated[str, "its shade"]
    batch: Annotated[str, "its batch: the load"]
    strip: Annotated[str, "where it lies in the photo"]
    flags: Annotated[list[FlagJson], "weaknesses"]


class SeriesJson(InLibraryJson):
    """What `swatchcam pigment series --json` prints: the strips that were kept."""

    series: Annotated[list[SeriesStripJson], "each strip"]
    care: Annotated[list[str], "cautions, in words; empty where there are none"]
