"""When heat no longer moves the colour -> one dict -> text or JSON."""

from __future__ import annotations

from ..colorimetry.colour_shift import Range
from ..library.heat_shift import BeforeAfter, HeatedFor, HeatSeries
from ..messages.message import finding
from ..text import duration
from .json_types.colours import NumberJson
from .json_types.library import HeatSeriesJson, HeatTestJson, HeatTimeJson
from .said import finding_dict


def heat_series_dict(series: HeatSeries) -> HeatSeriesJson:
    """A series with its answer, and what a colour that rests does not say."""
    seconds = [time.seconds for time in series.times]
    start, end = (seconds[place] for place in series.course.rest) if series.course.rest else (None, None)
    return {
        **finding_dict(series.course.answer),
        "heated": _heated_words(series),
        "celsius": None if series.celsius is None else list(series.celsius),
        "settings": series.settings,
        "times": [_time_dict(time) for time in series.times],
        "rests_from_s": start,
        "rests_to_s": end,
        "later": None if series.course.later is None else finding_dict(series.course.later),
        "next_s": list(series.course.next_seconds),
        "caution": finding_dict(finding("resting-is-not-fast")),
    }


def heat_series_lines(facts: HeatSeriesJson) -> list[str]:
    """The same for a person: the answer, then each time with what was washed and rubbed."""
    lines = [f"Heated {facts['heated']}: {facts['sentence']}"]
    lines += [facts["later"]["sentence"]] if facts["later"] else []
    width = max(len(duration(time["seconds"])) for time in facts["times"])
    return [*lines, *(f"  {_time_line(time, width)}" for time in facts["times"]), facts["caution"]["sentence"]]


def _heated_words(series: HeatSeries) -> str:
    low, high = series.celsius or (0.0, 0.0)
    degrees = f"at {low:g} to {high:g} °C" if high > low else f"at {low:g} °C" if series.celsius else ""
    return ", ".join(filter(None, (degrees, series.settings))) or "(nobody said how hot)"


def _time_dict(time: HeatedFor) -> HeatTimeJson:
    return {
        "seconds": time.seconds,
        "records": [one.after.number for one in time.pairs],
        "ciede2000": _number(time.shift.ciede2000),
        "tested": [_test_dict(one) for one in time.tested],
    }


def _test_dict(one: BeforeAfter) -> HeatTestJson:
    return {
        "record": one.after.number,
        "state": str(one.after.state),
        "grey_scale_grade": one.shift.grade,
        "grey_scale_grades_possible": list(one.shift.grades),
        "staining": one.after.staining.grade if one.after.staining else None,
    }


def _time_line(time: HeatTimeJson, width: int) -> str:
    low, high = time["ciede2000"]["interval95"]
    moved = f"CIEDE2000 {time['ciede2000']['value']:5.2f} ({low:.2f} to {high:.2f}) from dry"
    tested = [f"; {_test_words(test)}" for test in time["tested"]]
    return f"{duration(time['seconds']):>{width}}  {moved}{''.join(tested)}"


def _test_words(test: HeatTestJson) -> str:
    stained = f", white cloth {test['staining']}" if test["staining"] else ""
    return f"{test['state']}: grade {test['grey_scale_grade']}{stained}"


def _number(value: Range) -> NumberJson:
    return {"value": round(value.value, 2), "interval95": [round(value.low, 2), round(value.high, 2)]}
