"""What is said of states: what was done to a strip, what a target is for, and going from one to the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import counted, duration, listed
from .surface import Catalogue, On


def _for(seconds: Sequence[float]) -> str:
    return listed([duration(each) for each in seconds])


def _too_few(times: Sequence[float], least: int, next: Sequence[float], **_: Any) -> str:
    return (
        f"{counted(len(times), 'time')} can't tell when the colour rests: it takes at least {least}."
        f" Heat strips for {_for(next)} too."
    )


def _rests(start: float, end: float, limit: float, **_: Any) -> str:
    return (
        f"From {duration(start)} on the colour rests: up to {duration(end)} it moves by less than {limit:g} CIEDE2000."
    )


def _too_short(start: float, end: float, limit: float, next: Sequence[float], **_: Any) -> str:
    return (
        f"From {duration(start)} to {duration(end)} the colour moves by less than {limit:g} CIEDE2000, but these times"
        f" are too close together to say that it rests. Heat strips for {_for(next)} too."
    )


def _moves(start: float, end: float, moved: float, low: float, high: float, next: Sequence[float], **_: Any) -> str:
    return (
        f"At {duration(end)} the colour still moves: by CIEDE2000 {moved:.1f} ({low:.1f} to {high:.1f}) since"
        f" {duration(start)}. Heat strips for {_for(next)} too."
    )


def _coarse(start: float, end: float, moved: float, high: float, next: Sequence[float], **_: Any) -> str:
    return (
        f"Can't tell yet whether the colour rests: from {duration(start)} to {duration(end)} it seems to move by"
        f" CIEDE2000 {moved:.1f}, but it may be {high:.1f}. Heat another strip for each of {_for(next)}; all strips in"
        " one photo, or one strip heated again and again, tell more."
    )


def _later(seconds: float, ways: Sequence[str], moved: float, low: float, high: float, **_: Any) -> str:
    way = listed(ways) if ways else "another colour"
    return f"Longer heat moves it: by {duration(seconds)} it is {way}, CIEDE2000 {moved:.1f} ({low:.1f} to {high:.1f})."


PROBLEMS: Catalogue = {
    "state-unknown": "There is no state '{typed}'.",
    "treatment-unreadable": "I can't read '{left}' in '{typed}'.",
    "temperature-impossible": "'{typed}' can't be right: between {low:g} and {high:g} °C is possible.",
    "time-impossible": "'{typed}' can't be right: the time must be above zero and at most a day.",
    "treatment-before": On(
        "Record {last} was treated like this: {how}. If this one was too, say so:"
        " swatchcam record {record} --state '{state}'",
        "Record {last} was treated like this: {how}. If this one was too, say so under Correct details.",
    ),
    "heated-too-few-times": _too_few,
    "colour-rests": _rests,
    "rests-too-short": _too_short,
    "colour-still-moves": _moves,
    "heat-too-coarse": _coarse,
    "moves-with-longer-heat": _later,
    "resting-is-not-fast": "A colour that rests is not yet fast ink: wash one strip and rub one. Your ink maker's data"
    " come first.",
    "state-without-target": "Shade '{shade}' has no target.",
}

REMEDIES: Catalogue = {
    "choose-a-state": "Choose {states:comma} or 'washed 3'.",
    "write-the-treatment": On(
        "Write it like this: 'heat-set 150 C 4 min press', 'washed 3 times 40 C' or 'rubbed wet'.",
        "Write it like this: '150 C 4 min press' for heat setting, '40 C' for washing, 'wet' for rubbing.",
    ),
}
