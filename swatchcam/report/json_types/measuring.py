"""What photos of the card tell: the colours, and the verdict on a difference."""

from __future__ import annotations

from typing import Annotated, Literal, TypedDict

from .colours import AxesJson, HeadJson, Interval, LabJson
from .library import RecordJson, StainedJson
from .messages import FlagJson


class PhotoJson(TypedDict):
    """The first photo."""

    path: Annotated[str, "the file"]
    sha256: Annotated[str, "fingerprint of the file"]
    colour_space: Annotated[str, "what the file says of its colours"]
    taken: Annotated[str, "when it was taken, as the camera says; empty if it does not"]


class UsedPhotoJson(TypedDict):
    """One of the photos."""

    path: Annotated[str, "the file"]
    sha256: Annotated[str, "fingerprint of the file"]
    light: Annotated[int | None, "1, or 2 for the other light; null if the photo was left out"]


class UsedCardJson(TypedDict):
    """The card in the photo."""

    design: Annotated[str, "size of card"]
    number: Annotated[str | None, "8 digits of its print; null if the first photo shows none"]
    values: Annotated[str, "name of its values"]
    grade: Annotated[str, "`measured`, `transferred`, `sister`, `profile`, `photographed` or `nominal`"]
    date: Annotated[str, "when the values were measured, or empty"]
    source: Annotated[str, "where they come from"]
    uncertainty_ciede2000: Annotated[float, "of one patch value, one standard deviation"]


class UsedRowJson(TypedDict):
    """The pigment row in the photo."""

    name: Annotated[str, "the row"]
    grade: Annotated[str, "`measured` or `transferred`"]
    uncertainty_ciede2000: Annotated[float, "of one of its strips, one standard deviation"]
    seen: Annotated[bool, "whether it lay in its places in every photo"]


class ConditionsJson(TypedDict):
    """What the numbers are for."""

    illuminant: Annotated[str, "the light they are for, such as `D65`"]
    observer_deg: Annotated[int, "standard observer, 2 or 10 degrees"]
    space: Annotated[str, "`CIELAB`"]


class StripNameJson(TypedDict):
    """Which strip."""

    name: Annotated[str, "`left`, `right`, or `beside-` and a number"]


class StripJson(StripNameJson, LabJson):
    """A strip."""

    interval95_first_photo_ciede2000: Annotated[
        float | None, "the interval from the first photo alone; null if there is no other"
    ]
    standard_uncertainty_lab: Annotated[list[float], "of L, a and b, one standard deviation"]
    error_parts_lab: Annotated[
        dict[str, float],
        "parts of the error, in CIELAB units: `noise`, `light`, `fit`, `eye`, `ink`, `card`",
    ]
    area_mm2: Annotated[int, "ink measured, mm²"]
    unevenness_L: Annotated[float, "scatter of L* from place to place"]
    flags: Annotated[list[FlagJson], "weaknesses of this strip"]


class QualityJson(TypedDict):
    """How good the photo is."""

    px_per_mm: Annotated[float, "size of the card in the photo, pixels a millimetre"]
    tilt_deg: Annotated[float, "slant of the card, degrees"]
    blur_mm: Annotated[float, "blur, mm on the card"]
    tags_missing: Annotated[list[int], "numbers of square tags that could not be read"]
    light_fall: Annotated[float, "brightest light on the card over the darkest"]
    white_residual_percent: Annotated[float, "how far the card's white is off a smooth fall of light"]
    grey_spread_L: Annotated[float, "how far prints of one grey disagree, L*"]
    fit_leave_one_out_ciede2000: Annotated[float, "error of the fit of the phone's colours, on patches left out"]
    patches_used: Annotated[int, "how many patches the fit rests on"]
    patches_unused: Annotated[dict[str, str], "name of each other patch, and why it was left out"]


class MeasurementJson(HeadJson):
    """What `swatchcam measure --json` prints: the strips in photos of one scene."""

    photo: Annotated[PhotoJson, "the first photo"]
    photos: Annotated[list[UsedPhotoJson], "every photo, the first one again"]
    card: Annotated[UsedCardJson, "the card's values"]
    row: Annotated[UsedRowJson | None, "the pigment row, or null"]
    conditions: Annotated[ConditionsJson, "what the numbers are for"]
    absolute_values_may_be_judged: Annotated[bool, "false with a nominal card"]
    strips: Annotated[list[StripJson], "each strip with its colour"]
    quality: Annotated[QualityJson, "how well the card could be seen"]
    flags: Annotated[list[FlagJson], "weaknesses of the photo"]


class DifferenceJson(TypedDict):
    """A difference: sample minus reference."""

    sample: Annotated[str, "what was compared"]
    reference: Annotated[str, "with what"]
    ciede2000: Annotated[float, "the difference"]
    interval95: Annotated[Interval, "[low, high] of the true difference, CIEDE2000"]
    delta_L: Annotated[float, "sample minus reference: lightness"]
    delta_C: Annotated[float, "sample minus reference: chroma"]
    delta_H: Annotated[float, "sample minus reference: hue, CIELAB units"]
    cmc_2_1: Annotated[float, "the difference as CMC(2:1), the reference as standard"]
    words: Annotated[list[str], "directions, the strongest first"]


class SeenJson(TypedDict):
    """A difference under one light."""

    ciede2000: Annotated[float, "the difference there"]
    interval95: Annotated[Interval, "[low, high] of the true difference, CIEDE2000"]
    standard_uncertainty: Annotated[float, "one standard deviation, CIEDE2000"]


class UnderLightJson(SeenJson):
    """The difference under one light."""

    illuminant: Annotated[str, "`D65`, `A` or `LED-B3`"]


# Written as a call, since `from` is a word of Python.
_Change = TypedDict(
    "_Change",
    {
        "from": Annotated[str, "the light in which the pair is made to match"],
        "to": Annotated[str, "the light in which it is then looked at"],
    },
)


class SpecialIndexJson(_Change, SeenJson):
    """The special index of metamerism of one change of light (CIE 15, from memory)."""


class MetamerismJson(TypedDict):
    """How the difference changes with the light."""

    told: Annotated[bool, "true if both strips were photographed under two lights; false: a guess"]
    sentence: Annotated[str, "in words, at the tolerance"]
    lights: Annotated[list[UnderLightJson], "the difference under each light"]
    special_index: Annotated[
        list[SpecialIndexJson], "the difference under each light once the pair is made to match in another (CIE 15)"
    ]


class PredictedJson(AxesJson):
    """A colour as it is going to be in a later state."""

    interval95_ciede2000: Annotated[float, "the true colour lies within this distance in 95 of 100 cases"]
    pairs: Annotated[int, "how many strips, measured before and after, it rests on"]


class StatesJson(TypedDict):
    """The states of both sides of a comparison."""

    strip: Annotated[str, "what was done to the strip, such as `air-dried` or `heat-set, 150 °C, 4 min, press`"]
    reference: Annotated[str | None, "the same of the record or target; null for a target whose state nobody said"]
    carried_over: Annotated[
        Literal["strip", "reference"] | None, "the side whose later colour is predicted; null if neither is"
    ]
    compared_in: Annotated[str | None, "the state in which both are compared; null where nobody knows"]
    pairs: Annotated[int | None, "how many strips, measured in both states, the prediction rests on; or null"]


class RecalledJson(TypedDict):
    """What the library gave to a check."""

    record: Annotated[RecordJson | None, "the record that was judged against, as `record` prints it; null for a target"]
    shade: Annotated[str, "the shade, or empty"]
    target: Annotated[list[float] | None, "[L, a, b] of the target that was judged against; null for a record"]
    predicted: Annotated[PredictedJson | None, "the later colour of the side that was carried over; or null"]
    notes: Annotated[list[FlagJson], "weaknesses of the comparison"]


class PercentJson(TypedDict):
    """How much stronger or thicker; below 0 weaker or thinner."""

    percent: Annotated[float, "%"]
    interval95_percent: Annotated[Interval, "its 95 % interval, %"]


class FilmScatterJson(TypedDict):
    """How unlike the films of two strips are in this studio."""

    percent: Annotated[float, "standard deviation of the logarithm of film thickness, %"]
    interval95_percent: Annotated[Interval, "its 95 % interval, %"]
    strips: Annotated[int, "strips that taught it; 0 if it is only taken for granted"]
    pots: Annotated[int, "pots of which several strips were kept"]


class SplitJson(TypedDict):
    """A difference split into shade, and strength or film; sample against reference."""

    shade_ciede2000: Annotated[float, "difference at equal strength, CIEDE2000"]
    shade_interval95: Annotated[Interval, "its 95 % interval"]
    shade_tolerance: Annotated[float, "largest shade difference that counts as the same"]
    shade_words: Annotated[list[str], "in which direction the shade is off, at equal strength"]
    strips_strength: Annotated[PercentJson, "how much stronger or thicker the sample's strips are, on average"]
    pot_strength: Annotated[PercentJson, "how much stronger the ink in the pot is, the scatter of films counted"]
    strength_tolerance_percent: Annotated[float, "more strength that moves this colour by the tolerance, %"]


class PotStripsJson(TypedDict):
    """How many strips stand for each pot."""

    reference: Annotated[int, "strips of the pot compared with"]
    sample: Annotated[int, "strips of the pot that is judged"]


class PotsJson(TypedDict):
    """The verdict on the pots behind the strips."""

    outcome: Annotated[
        Literal["same ink", "same proportions", "different shade", "different strength", "too close to call"] | None,
        "what the strips say of the pots; null where shade can't be told from strength",
    ]
    sentences: Annotated[list[str], "the same in words, the answer first"]
    why_not: Annotated[FlagJson | None, "why shade can't be told from strength or film, or null"]
    split: Annotated[SplitJson | None, "the difference split, or null"]
    strips: Annotated[PotStripsJson, "how many strips there are"]
    odd_strips: Annotated[list[str], "strips that do not fit the others of their pot"]
    more_strips: Annotated[int | None, "further strips that would tell strength from film; null if none would"]
    films: Annotated[FilmScatterJson, "how unlike the films of two strips are"]


class StainingJson(HeadJson, StainedJson):
    """What `swatchcam check --staining --json` prints: the grade first, then all it rests on."""

    unstained: Annotated[str, "the clean cloth"]
    stained: Annotated[str, "the stained one"]
    flags: Annotated[list[FlagJson], "weaknesses of the grade"]
    caution: Annotated[str, "what the grade is not"]
    sample_photo: Annotated[MeasurementJson, "the photo, as `measure` prints it"]
    reference_photo: Annotated[MeasurementJson | None, "the photo of the clean cloth, if that is another one, or null"]


class CheckJson(HeadJson):
    """What `swatchcam check --json` prints: the verdict first, then all it rests on."""

    verdict: Annotated[Literal["same", "different", "too close to call"], "`same`, `different` or `too close to call`"]
    tolerance: Annotated[float, "largest CIEDE2000 that counts as the same"]
    sentence: Annotated[str, "the verdict in words"]
    judged: Annotated[Literal["strips", "pot"], "whose verdict decides the exit code"]
    pots: Annotated[PotsJson | None, "the verdict on the pots behind the strips; null against a target"]
    difference: Annotated[DifferenceJson, "sample minus reference"]
    metamerism: Annotated[MetamerismJson | None, "how it looks under other lights; null against a target"]
    sample_photo: Annotated[MeasurementJson, "the photo, as `measure` prints it"]
    reference_photo: Annotated[MeasurementJson | None, "the other photo, as `measure` prints it, or null"]
    recalled: Annotated[RecalledJson | None, "what the library gave; null without it"]
    states: Annotated[StatesJson | None, "the states of both sides; null without the library"]
    care: Annotated[list[str], "cautions, in words; empty where there are none"]
