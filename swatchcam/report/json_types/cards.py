"""Cards and pigment rows."""

from __future__ import annotations

from typing import Annotated, NotRequired, TypedDict

from .messages import FlagJson


class UncertaintyJson(TypedDict):
    """How good one value is."""

    value: Annotated[float, "of one value, CIEDE2000, one standard deviation"]
    unit: Annotated[str, "`CIEDE2000`"]


class MeaningJson(UncertaintyJson):
    """How good one value of a card is."""

    meaning: Annotated[str, "`one standard deviation`"]


class PatchJson(TypedDict):
    """A patch of a card."""

    name: Annotated[str, "the patch, or `paper`"]
    srgb: Annotated[list[int] | None, "[red, green, blue] sent to the printer, 0 to 255; null for bare stock"]
    lab: Annotated[list[float], "[L, a, b] of its values"]


class CardJson(TypedDict):
    """What `swatchcam card show --json`, `card import` and `card learn` print: a card's colours."""

    card: Annotated[str, "name of the card's values"]
    design: Annotated[str, "size of card"]
    grade: Annotated[str, "`measured`, `transferred`, `sister`, `profile`, `photographed` or `nominal`"]
    illuminant: Annotated[str, "the light the values are for"]
    observer: Annotated[int, "standard observer, 2 or 10 degrees"]
    geometry: Annotated[str, "of the instrument, such as `45/0`, or empty"]
    date: Annotated[str, "when they were measured, or empty"]
    source: Annotated[str, "where they come from"]
    uncertainty: Annotated[MeaningJson, "how good one value is"]
    path: Annotated[str, "the file they are saved in; empty if there is none"]
    flags: Annotated[list[FlagJson], "weaknesses of the values"]
    patches: Annotated[list[PatchJson], "each patch"]


class CardPrintJson(TypedDict):
    """What `swatchcam card print --json` prints: the files it made."""

    design: Annotated[str, "size of card"]
    paper: Annotated[str, "paper in the printer: `a4`, `letter` or `card`"]
    cards_per_sheet: Annotated[int, "how many cards are on page 1"]
    scale_bar_mm: Annotated[float, "how long the bar must be once it is printed, mm"]
    pdf: Annotated[str, "the file to print"]
    png: Annotated[str | None, "the picture of page 1, or null"]
    dpi: Annotated[int | None, "dots per inch of that picture, or null"]


class PlaceOnRowJson(TypedDict):
    """The place of one strip."""

    name: Annotated[str, "the strip"]
    x: Annotated[float, "mm to the right of the card's top-left corner"]
    y: Annotated[float, "mm down from it"]
    w: Annotated[float, "width, mm"]
    h: Annotated[float, "height, mm"]


class KnownPlaceJson(PlaceOnRowJson):
    """The place of one strip, and its colour."""

    lab: NotRequired[Annotated[list[float], "[L, a, b] of the strip, D65 and 10 degrees; left out until it is known"]]


class RowJson(TypedDict):
    """What `swatchcam row show --json`, `row import` and `row learn` print: a pigment row."""

    row: Annotated[str, "the row"]
    card: Annotated[str, "size of the card that it lies below"]
    places: Annotated[list[KnownPlaceJson], "each strip"]
    grade: Annotated[str | None, "`measured` or `transferred`; null until its colours are known"]
    uncertainty: Annotated[UncertaintyJson | None, "how good one value is; null until the colours are known"]
    flags: Annotated[list[FlagJson], "weaknesses of what was learned"]


class RowPrintJson(TypedDict):
    """What `swatchcam row print --json` prints: the places and the files it made."""

    row: Annotated[str, "the row"]
    card: Annotated[str, "size of the card that it lies below"]
    places: Annotated[list[PlaceOnRowJson], "each strip"]
    path: Annotated[str, "the file that holds the places"]
    pdf: Annotated[str, "the file to print"]
    png: Annotated[str | None, "the picture of it, or null"]
