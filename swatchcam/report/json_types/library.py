"""What the library holds: records, batches, shades with their history."""

from __future__ import annotations

from typing import Annotated, TypedDict

from .colours import AxesJson, HeadJson, InLibraryJson, Interval, LabJson, NumberJson
from .messages import FindingJson, FlagJson


class KeptPhotoJson(TypedDict):
    """A photo that a record rests on."""

    name: Annotated[str, "as it was called when it was kept"]
    sha256: Annotated[str, "fingerprint of the file"]
    light: Annotated[int, "1, or 2 for the other light"]


class CoatJson(TypedDict):
    """Wet ink on a strip, by weight."""

    g_per_m2: Annotated[float, "wet ink, g/m²"]
    relative_standard_uncertainty: Annotated[float, "one standard deviation of that, as a part of it"]


class StainedJson(TypedDict):
    """How much of a print came off on white cloth."""

    grade: Annotated[str, "grey scale grade for staining (ISO 105-A04), 5 (none) down to 1"]
    grades_possible: Annotated[list[str], "grades that it may be, the best first"]
    sentence: Annotated[str, "the same in words"]
    difference: Annotated[float, "dE_GS of ISO 105-A04, CIELAB units"]
    interval95: Annotated[Interval, "[low, high] of the true dE_GS"]


class KeptStainingJson(StainedJson):
    """The staining that is kept with a record."""

    measured: Annotated[str, "day of the photo"]
    photos: Annotated[list[KeptPhotoJson], "the photos it rests on"]


class RecordNameJson(TypedDict):
    """Which record."""

    number: Annotated[int, "number of the record"]
    shade: Annotated[str, "its shade"]
    batch: Annotated[str, "its batch"]
    mark: Annotated[str, "what is written on the strip, or empty"]
    state: Annotated[
        str, "what was done to the strip: `air-dried`, `heat-set, 150 °C, 4 min, press`, `washed 3 times` ..."
    ]
    treatment: Annotated[str, "of that, how: `150 °C, 4 min, press`; empty if nobody said"]
    measured: Annotated[str, "day of the photo"]
    strip: Annotated[str, "where the strip lies in the photo: `left`, `right`, or `beside-` and a number"]


class RecordJson(RecordNameJson, LabJson):
    """What `swatchcam record --json` prints: one measured strip."""

    absolute_values_may_be_judged: Annotated[bool, "false with a nominal card"]
    illuminant: Annotated[str, "the light the numbers are for"]
    observer_deg: Annotated[int, "standard observer, degrees"]
    cloth: Annotated[str, "as you said it, or empty"]
    mesh: Annotated[str, "the screen's mesh, as you said it, or empty"]
    squeegee: Annotated[str, "squeegee and pulls, as you said it, or empty"]
    coat: Annotated[CoatJson | None, "wet ink on the strip by weight; null if it was not weighed"]
    let_down: Annotated[float, "parts of clear base to one part of ink in a let-down strip; 0 for the ink itself"]
    card: Annotated[str, "name of the card's values"]
    card_grade: Annotated[str, "`measured`, `transferred`, `sister`, `profile`, `photographed` or `nominal`"]
    phone: Annotated[str, "what the photo says of the phone, or empty"]
    light: Annotated[str, "the light, as you said it, or empty"]
    photos: Annotated[list[KeptPhotoJson], "the photos it rests on"]
    staining: Annotated[
        KeptStainingJson | None, "of a white cloth that was rubbed or washed with it; null if none was graded"
    ]
    flags: Annotated[list[FlagJson], "weaknesses"]
    notes: Annotated[str, "anything else you said, or empty"]


class BatchJson(TypedDict):
    """A batch."""

    batch: Annotated[str, "name of the batch"]
    mixed: Annotated[str, "the day it was mixed, or empty"]
    ink: Annotated[str, "the ink's family, or empty"]
    recipe: Annotated[str, "what went in, in words; empty if it was not kept"]
    notes: Annotated[str, "anything else you said, or empty"]


class OfShadeJson(InLibraryJson):
    """The shade that something belongs to."""

    shade: Annotated[str, "the shade"]


class HeatTestJson(TypedDict):
    """A strip that was washed or rubbed after it was heated for this time."""

    record: Annotated[int, "number of the record after"]
    state: Annotated[str, "what was done: `washed 3 times`, `rubbed, wet` ..."]
    grey_scale_grade: Annotated[str, "grey scale grade for change in colour (ISO 105-A05), 1 to 5"]
    grey_scale_grades_possible: Annotated[list[str], "grades that it may be, the best first"]
    staining: Annotated[
        str | None, "grade of the white cloth it was washed or rubbed with (ISO 105-A04); null if nobody graded it"
    ]


class HeatTimeJson(TypedDict):
    """The strips that were heated for one time."""

    seconds: Annotated[float, "how long, s"]
    records: Annotated[list[int], "numbers of the records after heating"]
    ciede2000: Annotated[NumberJson, "how far the colour is from the dry one; mean of its strips"]
    tested: Annotated[list[HeatTestJson], "those that were washed or rubbed then"]


class HeatSeriesJson(FindingJson):
    """When heat no longer moves the colour: in `heating` of what `batch` prints. Its sentence is the answer."""

    heated: Annotated[str, "temperature and tool in words, as far as they were said"]
    celsius: Annotated[list[float] | None, "[lowest, highest] temperature, °C; null if nobody said"]
    settings: Annotated[str, "tool and setting, such as `2 dots, iron`; empty if nobody said"]
    times: Annotated[list[HeatTimeJson], "each time, the shortest first"]
    rests_from_s: Annotated[float | None, "from here on the colour rests, s; null where it does not or nobody can tell"]
    rests_to_s: Annotated[float | None, "up to here it was seen to rest, s; or null"]
    later: Annotated[FindingJson | None, "how longer heat moves it, if by more than the likely measurement error"]
    next_s: Annotated[list[float], "how long to heat further strips, s; empty if nothing is missing"]
    caution: Annotated[FindingJson, "what a colour that rests does not say"]


class BatchAccountJson(OfShadeJson, BatchJson):
    """What `swatchcam batch --json` prints: a batch with its recipe and records."""

    records: Annotated[list[RecordJson], "its records, each as `record` prints it"]
    heating: Annotated[list[HeatSeriesJson], "where strips were heated for several times: when the colour rests"]
    care: Annotated[list[str], "cautions, in words; empty where there are none"]


class ShadeJson(TypedDict):
    """A shade."""

    shade: Annotated[str, "the shade"]
    target: Annotated[AxesJson | None, "the colour wanted, D65 and 10 degrees; null if it has none"]
    target_state: Annotated[str | None, "what the target is for, such as `heat-set, 150 °C`; null if nobody said"]
    tolerance_ciede2000: Annotated[float | None, "the shade's own tolerance; null for the usual one"]
    judge: Annotated[str, "`strips` or `pot`: whose verdict counts when it is checked"]
    tags: Annotated[list[str], "its tags"]
    notes: Annotated[str, "anything else you said, or empty"]
    batches: Annotated[list[BatchJson], "its batches"]
    last: Annotated[
        RecordJson | None,
        "the record of its finished colour, the last heat-set one if there is any, as `record` prints it; or null",
    ]


class ShadesJson(InLibraryJson):
    """What `swatchcam shade list --json` prints: the shades, each with its finished colour."""

    shades: Annotated[list[ShadeJson], "each shade that fits"]


class HistoryPointJson(TypedDict):
    """A record of the history."""

    record: Annotated[int, "number of the record"]
    batch: Annotated[str, "its batch"]
    measured: Annotated[str, "day of the photo"]
    ciede2000: Annotated[float, "how far it is from the reference"]
    interval95: Interval
    delta_L: Annotated[float, "record minus reference: lightness"]
    delta_C: Annotated[float, "chroma"]
    delta_H: Annotated[float, "hue, CIELAB units"]


class SignalJson(FindingJson):
    """A point that is further off than batches usually vary."""

    point: Annotated[int, "which of `points`, the first is 0"]


class ChartJson(FindingJson):
    """A control chart; its code and sentence say what the limits rest on."""

    centre: Annotated[float | None, "mean"]
    lower_limit: Annotated[float | None, "lower limit; null from too few points"]
    upper_limit: Annotated[float | None, "upper limit; null from too few points"]
    range_upper_limit: Annotated[float | None, "upper limit of the step between neighbours; null from too few points"]
    provisional: Annotated[bool, "true if the limits rest on few points"]
    signals: Annotated[list[SignalJson], "points further off than batches usually vary, and the rule they broke"]


class HistoryJson(TypedDict):
    """A shade's history in one state."""

    state: Annotated[str, "the state of the strips"]
    reference: Annotated[str, "what they are compared with: `target`, or the first record in words"]
    points: Annotated[list[HistoryPointJson], "each record, by date"]
    charts: Annotated[dict[str, ChartJson], "control charts (ISO 7870-2), each by what it shows"]


class PairJson(TypedDict):
    """What heat setting or washing did to one strip: in `heat_and_wash` of what `keep` and `shade show` print."""

    before: Annotated[int, "number of the record before"]
    after: Annotated[int, "number of the record after"]
    batch: Annotated[str, "the batch"]
    mark: Annotated[str, "what is written on the strip, or empty"]
    let_down: Annotated[float, "parts of clear base to one part of ink in a let-down strip; 0 for the ink itself"]
    state: Annotated[str, "the state after"]
    delta_L: Annotated[NumberJson, "after minus before: lightness"]
    delta_C: Annotated[NumberJson, "after minus before: chroma"]
    delta_h_deg: Annotated[NumberJson | None, "after minus before: hue angle, degrees; null if too grey to have a hue"]
    ciede2000: Annotated[NumberJson, "the size of the change"]
    real: Annotated[bool, "true if it is more than the likely measurement error"]
    grey_scale_grade: Annotated[str, "grey scale grade for change in colour (ISO 105-A05), 1 to 5"]
    grey_scale_grades_possible: Annotated[list[str], "grades that it may be, the likeliest first"]
    sentence: Annotated[str, "the same in words"]


class StainedRecordJson(KeptStainingJson):
    """A white cloth that was rubbed or washed with a strip of the shade."""

    record: Annotated[int, "number of the strip's record"]
    batch: Annotated[str, "its batch"]
    let_down: Annotated[float, "parts of clear base to one part of ink in a let-down strip; 0 for the ink itself"]
    state: Annotated[str, "its state"]


class ShadeAccountJson(InLibraryJson, ShadeJson):
    """What `swatchcam shade show --json` prints: everything about a shade."""

    history: Annotated[list[HistoryJson], "how well it was matched, one for each state"]
    heat_and_wash: Annotated[list[PairJson], "what heat setting and washing did"]
    staining: Annotated[list[StainedRecordJson], "how much came off on white cloth, by record"]


class KeptJson(InLibraryJson):
    """What `swatchcam keep --json` prints: the record, and what was done to its strip since an earlier one."""

    record: Annotated[RecordJson, "what was kept, as `record` prints it"]
    further_records: Annotated[list[RecordJson], "the other strips of the pot that were kept with it"]
    heat_and_wash: Annotated[list[PairJson], "what heat setting or washing did to these strips"]
    treatment_before: Annotated[
        FindingJson | None, "how earlier strips of the shade were treated, if you did not say it of this one; or null"
    ]
    care: Annotated[list[str], "cautions, in words; empty where there are none"]


class NearestJson(TypedDict):
    """One of the nearest shades."""

    ciede2000: Annotated[float, "how far it is"]
    record: Annotated[RecordJson, "the shade's nearest record, as `record` prints it"]


class NearJson(HeadJson):
    """What `swatchcam near --json` prints: the shades nearest to a colour."""

    colour: Annotated[AxesJson, "the colour that was looked for, D65 and 10 degrees"]
    nearest: Annotated[list[NearestJson], "the nearest first"]
