"""The whole library as one object."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypedDict

from .library import CoatJson, KeptPhotoJson, KeptStainingJson
from .messages import FlagJson


class ExportedShadeJson(TypedDict):
    """A shade."""

    number: Annotated[int, "number of the shade"]
    name: Annotated[str, "the shade"]
    target_lab: Annotated[list[float] | None, "[L, a, b] of the colour wanted, D65 and 10 degrees, or null"]
    target_state: Annotated[str | None, "what the target is for: `heat-set, 150 °C, 4 min, press`; null if nobody said"]
    tolerance_ciede2000: Annotated[float | None, "the shade's own tolerance; null for the usual one"]
    judge: Annotated[str, "`strips` or `pot`: whose verdict counts when it is checked"]
    tags: Annotated[list[str], "its tags"]
    notes: Annotated[str, "anything else you said, or empty"]


class RecipePartJson(TypedDict):
    """A part of a recipe."""

    what: Annotated[str, "pigment, clear base or ink"]
    number: Annotated[str, "the maker's number, or empty"]
    amount: Annotated[float, "how much, as you said it"]
    unit: Annotated[str, "of what you said"]
    grams: Annotated[float, "the same, g"]
    standard_uncertainty_g: Annotated[float, "one standard deviation, g"]


class ExportedBatchJson(TypedDict):
    """A batch."""

    number: Annotated[int, "number of the batch"]
    shade: Annotated[str, "its shade"]
    name: Annotated[str, "the batch"]
    mixed_date: Annotated[str, "the day it was mixed, or empty"]
    ink: Annotated[str, "the ink's family, or empty"]
    recipe: Annotated[list[RecipePartJson] | None, "what went in, or null"]
    notes: Annotated[str, "anything else you said, or empty"]


class ErrorsJson(TypedDict):
    """The account of a record's error."""

    format: Annotated[int, "version of this account"]
    parts: Annotated[dict[str, list[list[float]]], "covariance of L, a and b of each part of the error"]
    shared: Annotated[list[list[float]], "L, a and b by each error that all strips of these photos share"]
    pattern: Annotated[dict[str, list[float]], "L, a and b by each error that all photos of this card share"]
    photos: Annotated[list[str], "fingerprints of the photos"]


class ExportedRecordJson(TypedDict):
    """A record."""

    number: Annotated[int, "number of the record"]
    shade: Annotated[str, "its shade"]
    batch: Annotated[str, "its batch"]
    mark: Annotated[str, "what is written on the strip, or empty"]
    state: Annotated[str, "`wet`, `air-dried`, `heat-set`, `washed` or `rubbed`"]
    washes: Annotated[int, "how often it was washed"]
    treatment: Annotated[str, "how it was heated, washed or rubbed: `150 °C, 4 min, press`; empty if nobody said"]
    measured_date: Annotated[str, "day of the photo"]
    place_in_photo: Annotated[str, "where the strip lies: `left`, `right`, or `beside-` and a number"]
    illuminant: Annotated[str, "the light the numbers are for"]
    observer_deg: Annotated[int, "standard observer, degrees"]
    lab: Annotated[list[float], "[L, a, b]"]
    interval95_ciede2000: Annotated[float, "the true colour lies within this distance in 95 of 100 cases"]
    absolute_values_may_be_judged: Annotated[bool, "false with a nominal card"]
    reflectance_380_to_780_nm: Annotated[list[float], "the likeliest reflectance behind it, every 5 nm"]
    errors_lab: Annotated[ErrorsJson, "the account of its error"]
    cloth: Annotated[str, "as you said it, or empty"]
    mesh: Annotated[str, "the screen's mesh, as you said it, or empty"]
    squeegee: Annotated[str, "squeegee and pulls, as you said it, or empty"]
    coat: Annotated[CoatJson | None, "wet ink on the strip by weight; null if it was not weighed"]
    let_down: Annotated[float, "parts of clear base to one part of ink in a let-down strip; 0 for the ink itself"]
    card: Annotated[str, "name of the card's values"]
    grade: Annotated[str, "`measured`, `transferred`, `sister`, `profile`, `photographed` or `nominal`"]
    phone: Annotated[str, "what the photo says of the phone, or empty"]
    light: Annotated[str, "the light, as you said it, or empty"]
    staining: Annotated[KeptStainingJson | None, "of a white cloth that was rubbed or washed with it, or null"]
    photos: Annotated[list[KeptPhotoJson], "the photos it rests on"]
    flags: Annotated[list[FlagJson], "weaknesses"]
    notes: Annotated[str, "anything else you said, or empty"]


class ExportedProposalJson(TypedDict):
    """A proposal."""

    number: Annotated[int, "number of the proposal"]
    kind: Annotated[str, "`recipe`, `correction`, `thinning` or `again`"]
    shade: Annotated[str, "its shade"]
    batch: Annotated[str, "the batch that it makes"]
    from_batch: Annotated[str | None, "the batch that it corrects, or null"]
    made: Annotated[str, "when, ISO 8601, UTC"]
    target: Annotated[list[float] | None, "[L, a, b] of the colour wanted, or null"]
    target_words: Annotated[str, "the same in words"]
    lab: Annotated[list[float], "[L, a, b] predicted, D65 and 10 degrees"]
    radius: Annotated[float, "the true colour lies within this CIEDE2000 of that in 95 of 100 cases"]
    reflectance: Annotated[list[float], "predicted, 380 to 780 nm, every 5 nm"]
    cloth: Annotated[str, "the cloth, or empty"]
    words: Annotated[str, "what was said of it, or empty"]
    facts: Annotated[dict[str, Any], "what else was weighed"]
    covariance: Annotated[list[list[float]], "of L, a and b"]
    state: Annotated[str, "the state it holds for"]
    target_state: Annotated[str | None, "the state that the target is for; null if nobody said"]
    recipe: Annotated[list[RecipePartJson], "all that is in the pot then"]


class ExportedLotJson(TypedDict):
    """A lot of a pigment."""

    name: Annotated[str, "the lot"]
    since: Annotated[str, "first day of its use"]
    strength: Annotated[float, "its strength; 1 is that of the test series"]
    strength_std: Annotated[float, "one standard deviation of that"]


class ExportedPigmentJson(TypedDict):
    """A pigment."""

    name: Annotated[str, "the pigment"]
    most: Annotated[float | None, "the maker's limit, g in 100 g of ink, or null"]
    least_g: Annotated[float | None, "the smallest amount you can dispense, g, or null"]
    price: Annotated[float | None, "of 100 g, in your own money, or null"]
    ready: Annotated[bool, "true if it is a ready-mixed ink"]
    density: Annotated[float | None, "g in a millilitre, or null"]
    notes: Annotated[str, "anything else you said, or empty"]
    lots: Annotated[list[ExportedLotJson], "its lots, the oldest first"]


class LibraryJson(TypedDict):
    """What `swatchcam library export json` writes: everything in the library but the photos."""

    format: Annotated[Literal["swatchcam-library-2"], "`swatchcam-library-2`; the number changes when keys change"]
    shades: Annotated[list[ExportedShadeJson], "each shade"]
    batches: Annotated[list[ExportedBatchJson], "each batch"]
    records: Annotated[list[ExportedRecordJson], "each record, by date"]
    proposals: Annotated[list[ExportedProposalJson], "recipes and corrections that were kept"]
    pigments: Annotated[list[ExportedPigmentJson], "the pigments on the shelf"]
