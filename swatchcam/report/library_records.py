"""What the library says -> one dict -> text or JSON, as `report.measurement` does for a photo."""

from __future__ import annotations

from collections.abc import Sequence

from ..colorimetry.colour_shift import Range
from ..colorimetry.control_chart import Chart
from ..library.carry_over import STRIP
from ..library.compare import Recalled
from ..library.heat_prediction import HeatPrediction
from ..library.heat_shift import BeforeAfter, heat_series, pair
from ..library.history import History, HistoryPoint, history, states
from ..library.labels import recipe_words
from ..library.library import Library
from ..library.records import Batch, Record, Shade, batch_named, finished, of_the_ink
from ..library.search import BARE, said_of_strips
from ..messages.message import Message
from ..recipes.film_weight import Coat
from ..recipes.recipe import Recipe
from ..recipes.safety import HEAT
from ..text import key
from .cautions import care_of_recipes, heat_in
from .heat_series import heat_series_dict
from .json_types import BatchAccountJson, KeptJson, NearJson, PairJson, RecordJson, ShadeAccountJson, ShadesJson
from .json_types.colours import FORMAT, AxesJson, NumberJson
from .json_types.library import BatchJson, ChartJson, CoatJson, HistoryJson, HistoryPointJson, ShadeJson
from .json_types.measuring import PredictedJson, RecalledJson, StatesJson
from .library_text import shift_text
from .measurement import lab_dict
from .said import finding_dict, flag_dicts
from .staining import kept_staining_dict, stained_records

NO_INK = "bare-cloth"  # the code of a flag


def record_dict(record: Record) -> RecordJson:
    """A record as plain numbers and words."""
    colour = record.colour
    return {
        "number": record.number,
        "shade": record.shade,
        "batch": record.batch,
        "mark": record.mark,
        "state": str(record.state),
        "treatment": record.state.how,
        "measured": record.measured,
        "strip": colour.name,
        **lab_dict(colour.lab, colour.illuminant, colour.observer, colour.radius),
        "absolute_values_may_be_judged": colour.absolute,
        "illuminant": colour.illuminant,
        "observer_deg": colour.observer,
        "cloth": record.cloth,
        "mesh": record.mesh,
        "squeegee": record.squeegee,
        "coat": coat_dict(record.coat),
        "let_down": record.let_down,
        "card": record.card,
        "card_grade": record.grade,
        "phone": record.phone,
        "light": record.light,
        "photos": [{"name": photo.name, "sha256": photo.digest, "light": photo.light} for photo in record.photos],
        "staining": kept_staining_dict(record.staining),
        # That no ink was found is no news where bare cloth is kept.
        "flags": flag_dicts([one for one in record.flags if one.code != NO_INK or key(record.shade) != BARE]),
        "notes": record.notes,
    }


def coat_dict(coat: Coat | None) -> CoatJson | None:
    """The weight of wet ink on a strip."""
    if coat is None:
        return None
    return {"g_per_m2": round(coat.g_m2, 2), "relative_standard_uncertainty": round(coat.std, 4)}


def shade_dict(shade: Shade, batches: Sequence[Batch], last: Record | None) -> ShadeJson:
    """A shade with its batches and the record of its finished colour."""
    return {
        "shade": shade.name,
        "target": None if shade.target is None else _axes(shade.target),
        "target_state": str(shade.target_state) if shade.target_state else None,
        "tolerance_ciede2000": shade.tolerance,
        "judge": shade.judge,
        "tags": list(shade.tags),
        "notes": shade.notes,
        "batches": [batch_dict(batch) for batch in batches],
        "last": record_dict(last) if last else None,
    }


def batch_dict(batch: Batch) -> BatchJson:
    """A batch with its recipe as given."""
    return {
        "batch": batch.name,
        "mixed": batch.mixed,
        "ink": batch.ink,
        "recipe": recipe_words(batch.recipe) if batch.recipe else "",
        "notes": batch.notes,
    }


def batch_account(library: Library, shade: str, name: str) -> BatchAccountJson:
    """A batch with its recipe and its records."""
    found = library.shade(shade).name
    batch = batch_named(library.batches(found), found, name)
    records = library.records(batch.shade, batch.name)
    heating = [heat_series_dict(series) for series in heat_series(records)]
    return {
        "format": FORMAT,
        "library": str(library.place),
        "shade": batch.shade,
        **batch_dict(batch),
        "records": [record_dict(record) for record in records],
        "heating": heating,
        "care": care_of_recipes([batch.recipe], {HEAT} if heating else ()),
    }


def history_dict(past: History) -> HistoryJson:
    """A shade's history in one state, with its control charts."""
    return {
        "state": str(past.state),
        "reference": past.reference,
        "points": [_point_dict(point) for point in past.points],
        "charts": {name: _chart_dict(chart) for name, chart in past.charts.items()},
    }


def _point_dict(point: HistoryPoint) -> HistoryPointJson:
    return {
        "record": point.record.number,
        "batch": point.record.batch,
        "measured": point.record.measured,
        "ciede2000": round(point.ciede2000, 2),
        "interval95": [round(point.low, 2), round(point.high, 2)],
        "delta_L": round(point.delta_l, 2),
        "delta_C": round(point.delta_c, 2),
        "delta_H": round(point.delta_h, 2),
    }


def _chart_dict(chart: Chart) -> ChartJson:
    return {
        "centre": round(chart.centre, 2),
        "lower_limit": None if chart.lower is None else round(chart.lower, 2),
        "upper_limit": None if chart.upper is None else round(chart.upper, 2),
        "range_upper_limit": None if chart.range_upper is None else round(chart.range_upper, 2),
        "provisional": chart.provisional,
        "signals": [{"point": signal.index, **finding_dict(signal.what)} for signal in chart.signals],
        **finding_dict(chart.basis),
    }


def pair_dict(pair: BeforeAfter) -> PairJson:
    """What heat setting or washing did to one strip."""
    shift = pair.shift
    return {
        "before": pair.before.number,
        "after": pair.after.number,
        "batch": pair.after.batch,
        "mark": pair.after.mark,
        "let_down": pair.after.let_down,
        "state": str(pair.after.state),
        "delta_L": _range(shift.lightness),
        "delta_C": _range(shift.chroma),
        "delta_h_deg": None if shift.hue is None else _range(shift.hue),
        "ciede2000": _range(shift.ciede2000),
        "real": shift.real,
        "grey_scale_grade": shift.grade,
        "grey_scale_grades_possible": list(shift.grades),
        "sentence": shift_text(pair),
    }


def _range(value: Range) -> NumberJson:
    return {"value": round(value.value, 2), "interval95": [round(value.low, 2), round(value.high, 2)]}


def _rounded(lab: Sequence[float]) -> AxesJson:
    return _axes([round(float(value), 2) for value in lab])


def _axes(lab: Sequence[float]) -> AxesJson:
    lightness, a, b = lab
    return {"L": lightness, "a": a, "b": b}


def near_dict(found: Sequence[tuple[Record, float]], lab: Sequence[float]) -> NearJson:
    """The nearest shades: each shade's nearest record, and how far it is."""
    return {
        "format": FORMAT,
        "colour": _rounded(lab),
        "nearest": [{"ciede2000": round(apart, 2), "record": record_dict(record)} for record, apart in found],
    }


def kept_dict(
    records: Sequence[Record],
    pairs: Sequence[BeforeAfter],
    place: str,
    recipe: Recipe | None = None,
    before: Message | None = None,
) -> KeptJson:
    """What `keep` prints: records of a pot of this `recipe`, and what heat setting or washing did to them.

    `before` is of `history.treatment_before`.
    """
    return {
        "format": FORMAT,
        "library": place,
        "record": record_dict(records[0]),
        "further_records": [record_dict(record) for record in records[1:]],
        "heat_and_wash": [pair_dict(pair) for pair in pairs],
        "treatment_before": None if before is None else finding_dict(before),
        "care": care_of_recipes([recipe], heat_in(record.state for record in records)),
    }


def shades_dict(library: Library, tag: str | None = None, text: str | None = None) -> ShadesJson:
    """The shades with that tag and that text in what was said of them, each with its batches and finished colour."""
    last, batches = library.latest(), dict[str, list[Batch]]()
    for batch in library.batches():
        batches.setdefault(batch.shade, []).append(batch)
    found = [
        shade_dict(shade, batches.get(shade.name, []), last.get(shade.name))
        for shade in library.shades()
        if tag is None or key(tag) in shade.tags
    ]
    said = said_of_strips(library) if text else {}
    fit = [facts for facts in found if not text or text.casefold() in _said(facts, said.get(facts["shade"], []))]
    return {"format": FORMAT, "library": str(library.place), "shades": fit}


def _said(facts: ShadeJson, of_strips: Sequence[str]) -> str:
    """Everything that was said of a shade and its strips, in small letters."""
    words = [facts["shade"], facts["notes"], *facts["tags"], *of_strips]
    for batch in facts["batches"]:
        words += [batch["batch"], batch["ink"], batch["recipe"], batch["notes"]]
    return "\n".join(words).casefold()


def shade_account(library: Library, name: str) -> ShadeAccountJson:
    """Everything about a shade: batches, history in each state, heat setting and washing."""
    shade = library.shade(name)
    records = library.records(shade.name)
    pasts, own = (
        [history(shade.target, records, state, shade.target_state) for state in states(records)],
        of_the_ink(records),
    )
    return {
        "format": FORMAT,
        "library": str(library.place),
        **shade_dict(shade, library.batches(shade.name), finished(own)),
        "history": [history_dict(past) for past in pasts if past.points],
        "heat_and_wash": [pair_dict(found) for found in pair(records)],
        "staining": stained_records(records),
    }


def recalled_dict(recalled: Recalled) -> RecalledJson:
    """What a strip was judged against."""
    record, shade = recalled.record, recalled.shade
    return {
        "record": None if record is None else record_dict(record),
        "shade": shade.name if shade else "",
        "target": None if record is not None or shade is None else list(shade.target or ()),
        "predicted": None if recalled.predicted is None else predicted_dict(recalled.predicted),
        "notes": flag_dicts(recalled.notes),
    }


def states_dict(recalled: Recalled) -> StatesJson:
    """The states of both sides, and whether one was carried over to the other's."""
    states, predicted = recalled.states, recalled.predicted
    return {
        "strip": str(states.strip),
        "reference": str(states.reference) if states.reference else None,
        "carried_over": None if predicted is None else "strip" if states.side == STRIP else "reference",
        "compared_in": states.end.short if predicted or states.reference else None,
        "pairs": predicted.pairs if predicted else None,
    }


def predicted_dict(predicted: HeatPrediction) -> PredictedJson:
    """A colour as it is going to be."""
    lightness, a, b = (round(float(value), 2) for value in predicted.lab)
    radius = round(predicted.radius, 2)
    return {"L": lightness, "a": a, "b": b, "interval95_ciede2000": radius, "pairs": predicted.pairs}
