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


class CardWhiteJson(TypedDict):
    """The bare stock of a card, as PTFE in a photo shows it."""

    lab: Annotated[list[float], "[L, a, b] of it"]
    interval95_ciede2000: Annotated[float, "the true colour is no further off than this in 95 of 100 cases"]


class CardJson(TypedDict):
    """What `swatchcam card show --json`, `card import` and `card learn` print: a card's colours."""

    card: Annotated[str, "name of the card's values"]
    design: Annotated[str, "size of card"]
    grade: Annotated[str, "`measured`, `transferred`, `sister`, `profile`, `photographed` or `nominal`"]
    illuminant: Annotated[str, "the light the values are for"]
    observer: Annotated[int, "standard observer, 2 or 10 degrees"]
    geometry: Annotated[str, "of the instrument, such as `45/0`, or empty"]
    condition: Annotated[str, "`M0` to `M3` of ISO 13655, or empty if nobody said"]
    specular: Annotated[str, "gloss, `included` or `excluded`; empty if nobody said, or it can't be there"]
    date: Annotated[str, "when they were measured, or empty"]
    source: Annotated[str, "where they come from"]
    uncertainty: Annotated[MeaningJson, "how good one value is"]
    numbers: Annotated[list[str], "8 digits of each print that has these values"]
    path: Annotated[str, "the file they are saved in; empty if there is none"]
    flags: Annotated[list[FlagJson], "weaknesses of the values"]
    patches: Annotated[list[PatchJson], "each patch"]
    white: NotRequired[Annotated[CardWhiteJson, "the bare stock, where PTFE in a photo told it"]]


class GreyPairJson(TypedDict):
    """A pair of a grey scale (ISO 105-A02)."""

    window: Annotated[str, "where it lies"]
    grade: Annotated[str, "of the pair, from 5 (no difference) to 1"]
    wanted: Annotated[float, "CIELAB difference that the standard says"]
    tolerance: Annotated[float, "how far a printed scale may be off"]
    measured: Annotated[float, "CIELAB difference in the photo"]
    interval95: Annotated[list[float], "[low, high] that hold the true one in 95 of 100 cases"]
    outcome: Annotated[str, "`passed`, `failed` or `cannot tell`"]


class WhiteTestJson(TypedDict):
    """The bare stock as PTFE shows it, against what the card's values say."""

    window: Annotated[str, "where the PTFE lies"]
    lab: Annotated[list[float], "[L, a, b] of the stock in this light"]
    stated: Annotated[list[float], "[L, a, b] of it by the card's values"]
    ciede2000: Annotated[float, "difference of the two"]
    allowed_ciede2000: Annotated[float, "what PTFE, photo and values leave open, in 95 of 100 cases"]
    outcome: Annotated[str, "`passed` or `failed`"]


class CardTestJson(TypedDict):
    """What `swatchcam card test --json` prints: whether card, values and phone measure right."""

    outcome: Annotated[str, "of all together: `passed`, `failed` or `cannot tell`"]
    sentence: Annotated[str, "the same in words"]
    next: Annotated[list[str], "what to do about it"]
    pairs: Annotated[list[GreyPairJson], "each pair of the grey scale"]
    white: Annotated[WhiteTestJson | None, "the card's white, where PTFE lies in a window; else null"]
    fits_values: Annotated[str, "whether the card fits its values: `passed`, `failed` or `cannot tell`"]
    patches_off_ciede2000: Annotated[float, "how far its patches are off from what the others say, root mean square"]
    values: Annotated[str, "name of the card's values"]
    grade: Annotated[str, "where they come from, as in `card show`"]
    number: Annotated[str | None, "of the print, eight digits; null where none can be read"]
    absolute95_ciede2000: Annotated[float, "how far off a colour's own numbers may typically be, in 95 of 100 cases"]
    difference95_ciede2000: Annotated[float, "the same for the difference between two similar strips in this photo"]
    flags: Annotated[list[FlagJson], "what is weak about photo and card"]


class KeptCardJson(TypedDict):
    """A card with values, or a pigment row."""

    name: Annotated[str, "the card or row"]
    kind: Annotated[str, "`card` or `row`"]
    design: Annotated[str, "size of card; of a row, the card that it lies below"]
    grade: Annotated[str, "where its values come from, as in `card show`; empty while a row has none"]
    date: Annotated[str, "when they were measured, or empty"]
    numbers: Annotated[list[str], "8 digits of each print that has these values"]
    uncertainty: Annotated[float | None, "how good one value is, CIEDE2000, one standard deviation"]
    own: Annotated[bool, "whether it lies in your folder; the others come with the tool"]
    path: Annotated[str, "its file"]
    faulty: Annotated[bool, "whether something in the file is wrong"]


class CardsJson(TypedDict):
    """What `swatchcam card list --json` prints: your cards and pigment rows, and those that come with the tool."""

    folder: Annotated[str, "your own folder of cards and rows"]
    cards: Annotated[list[KeptCardJson], "each card, then each row"]
    without_number: Annotated[
        dict[str, list[str]],
        "by size of card: what a card without a number is measured with; if several, you must say which; none while a"
        " file can't be read",
    ]


class CardTiedJson(TypedDict):
    """What `swatchcam card use NAME --print NUMBER --json` prints: which prints have these values."""

    card: Annotated[str, "name of the values"]
    numbers: Annotated[list[str], "8 digits of each print that has them now"]
    numbers_before: Annotated[list[str], "8 digits of each print that had them until now"]
    taken_from: Annotated[list[str], "other values that one of these prints had until now"]
    path: Annotated[str, "the file they are saved in"]


class MovedFileJson(TypedDict):
    """A file that was moved."""

    was: Annotated[str, "where it was"]
    now: Annotated[str, "where it is now"]


class CardRemovedJson(TypedDict):
    """What `swatchcam card remove --json` prints: where the files are now."""

    removed: Annotated[str, "the card or row"]
    kind: Annotated[str, "`card` or `row`"]
    numbers: Annotated[list[str], "8 digits of each print that has no values now"]
    files: Annotated[list[MovedFileJson], "each of its files"]


class CardPrintJson(TypedDict):
    """What `swatchcam card print --json` prints: the files it made."""

    design: Annotated[str, "size of card"]
    paper: Annotated[str, "paper in the printer: `a4`, `letter` or `card`"]
    cards_per_sheet: Annotated[int, "how many cards are on page 1"]
    numbers: Annotated[list[str], "the number of each, eight digits; none if the design has no place for one"]
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
    """What `swatchcam card show --json`, `card import` and `card learn` print of a pigment row."""

    row: Annotated[str, "the row"]
    card: Annotated[str, "size of the card that it lies below"]
    places: Annotated[list[KnownPlaceJson], "each strip"]
    grade: Annotated[str | None, "`measured` or `transferred`; null until its colours are known"]
    uncertainty: Annotated[UncertaintyJson | None, "how good one value is; null until the colours are known"]
    flags: Annotated[list[FlagJson], "weaknesses of what was learned"]


class RowPrintJson(TypedDict):
    """What `swatchcam card print ROW --json` prints: the places of a pigment row, and the files it made."""

    row: Annotated[str, "the row"]
    card: Annotated[str, "size of the card that it lies below"]
    places: Annotated[list[PlaceOnRowJson], "each strip"]
    path: Annotated[str, "the file that holds the places"]
    pdf: Annotated[str, "the file to print"]
    png: Annotated[str | None, "the picture of it, or null"]
