"""What the library gave to a check -> one dict, for `report.measurement.check_dict`."""

from __future__ import annotations

from ..library.carry_over import STRIP
from ..library.compare import Recalled
from ..library.heat_prediction import HeatPrediction
from .json_types.measuring import PredictedJson, RecalledJson, StatesJson
from .library_records import record_dict
from .said import flag_dicts


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
