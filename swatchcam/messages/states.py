"""What is said of states: what was done to a strip, what a target is for, and going from one to the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import counted, duration, listed
from .surface import Catalogue, On


def _unreadable(left: str, typed: str, **_: Any) -> str:
    return f"I can't read '{left}'." if left == typed else f"I can't read '{left}' in '{typed}'."


def _for(seconds: Sequence[float]) -> str:
    return listed([duration(each) for each in seconds])


def _too_few(times: Sequence[float], least: int, next: Sequence[float], **_: Any) -> str:
    return (
        f"Too few times to tell when the colour rests: {len(times)} so far, at least {least} are needed."
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
        f"The colour still moves: by CIEDE2000 {moved:.1f} ({low:.1f} to {high:.1f}) from {duration(start)} to"
        f" {duration(end)}. Heat strips for {_for(next)} too."
    )


def _coarse(start: float, end: float, moved: float, high: float, next: Sequence[float], **_: Any) -> str:
    return (
        f"Can't tell yet whether the colour rests: from {duration(start)} to {duration(end)} it seems to move by"
        f" CIEDE2000 {moved:.1f}, but it may be {high:.1f}. Heat more strips, for {_for(next)}, and photograph them all"
        " together; or heat one strip again and again: that tells most."
    )


def _later(seconds: float, ways: Sequence[str], moved: float, low: float, high: float, **_: Any) -> str:
    way = listed(ways) if ways else "another colour"
    size = f"CIEDE2000 {moved:.1f} ({low:.1f} to {high:.1f})"
    return f"Longer heat moves it: after {duration(seconds)} it is {way}, by {size}."


# Name of a state -> what is done to a strip so that it is in it.
ACTIONS = {"heat-set": "heat-set", "washed": "wash", "rubbed": "rub"}


def _states_differ(start: str, end: str, pairs: int, least: int, ink: str, cloth: str, **_: Any) -> str:
    of = f"{f'ink {ink!r}' if ink else 'no ink noted'}, {f'cloth {cloth!r}' if cloth else 'no cloth noted'}"
    there = f"Only {counted(pairs, 'strip')}" if pairs else "No strip"
    was = "were" if pairs > 1 else "was"
    return (
        f"One colour is {start}, the other {end}. {there} ({of}) {was} measured in both states, and {least} are needed."
    )


def _compare_alike(start: str, end: str, action: str, more: int, next: Sequence[int], **_: Any) -> str:
    do = ACTIONS.get(action, "keep")
    if (start, action) in (("air-dried", "washed"), ("air-dried", "rubbed")):
        do = f"heat-set and {do}"  # ink that is only dry would come off
    done = "" if action == end else f" {end.removeprefix(action).strip()}"
    which = f": {'record' if len(next) == 1 else 'records'} {listed([str(one) for one in next])} would help most"
    return (
        f"Compare with a strip or a target in the same state, or {do} {counted(more, 'more strip')}{done}"
        f" and keep {'it' if more == 1 else 'them'} again{which if next else ''}."
    )


def _dry_it(reference: str = "", **_: Any) -> str:
    if reference == "wet":
        return "What you compare with is wet: choose a dry strip or a dry target instead."
    return "Let it dry, and measure it again."


def _reference_not_heat_set(record: int | None, shade: str, state: str, **_: Any) -> str:
    what = f"The target of shade '{shade}'" if record is None else f"Record {record}"
    return f"{what} is {state}, so a colour after heat setting can't be compared with it."


def _carried_over(side: str, start: str, end: str, **_: Any) -> str:
    whose = {"strip": "the strip", "reference": "what you compare with"}[side]
    return f"{whose} is {start}: its colour once {end} is predicted"


def _treated_otherwise(others: int, pairs: int, states: Sequence[str], **_: Any) -> str:
    was = "was" if others == 1 else "were"
    return (
        f"{others} of the {pairs} strips behind this prediction {was} not treated the same way"
        f" ({', then '.join(states)})"
    )


def _few(count: int, enough: int, state: str, **_: Any) -> str:
    if not count:
        return f"no strip of known recipe is {state} yet, so this colour is hardly more than a guess"
    was = "was" if count == 1 else "were"
    return f"only {counted(count, 'strip')} of known recipe {was} {state}; with {enough} or more this is surer"


PROBLEMS: Catalogue = {
    "state-unknown": "There is no state '{typed}'.",
    "treatment-unreadable": _unreadable,
    "temperature-impossible": "'{typed}' can't be right: it must be between {low:g} and {high:g} °C.",
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
    "resting-is-not-fast": "A colour that rests doesn't mean that the ink is fast: wash one strip and rub another. Your"
    " ink maker's data come first.",
    "staining-of-other-state": "Record {record} is {state}, neither rubbed nor washed.",
    "state-without-target": "Shade '{shade}' has no target.",
    "states-differ": _states_differ,
    "wet-not-carried-over": "One colour is {start}, the other {end}, and no one can predict a dry colour from wet ink.",
    "wet-against-target": "Wet ink changes colour as it dries, so it can't be compared with a target.",
    "target-wet": "Wet ink changes colour as it dries, so it can't be a target.",
    "state-without-kept-strip": "What was done to the strip matters only beside a strip or a target that you kept.",
    "wet-not-matched": "Wet ink changes colour as it dries, so a pot can't be mixed to match it.",
    "reference-not-heat-set": _reference_not_heat_set,
    "target-in-other-state": "You said that the target is {said}, but it is kept as {known}.",
    "third-state": "The target is {target}, but the pot's strip is {strip}.",
}

REMEDIES: Catalogue = {
    "choose-a-state": "Choose {states:comma} or 'washed 3'.",
    "correct-the-state-first": On(
        "Keep the strip again once it is rubbed or washed, or correct its state:"
        " swatchcam record {record} --state rubbed",
        "Keep the strip again once it is rubbed or washed, or correct its state on its page.",
    ),
    "write-the-treatment": On(
        "Write it like this: 'heat-set 150 C 4 min press', 'washed 3 times 40 C' or 'rubbed wet'.",
        "Write it like this: '150 C 4 min press' for heat setting, '40 C' for washing, 'wet' for rubbing.",
    ),
    "compare-alike-or-pair-more": _compare_alike,
    "leave-out-the-state": On(
        "Leave out --target-state, or correct the state where it is kept.",
        "Leave the target's state empty, or correct it where it is kept.",
    ),
    "photograph-it-dry": "Photograph a strip of the pot that is air-dried or in the same state as the target.",
    "choose-a-dry-state": "Choose air-dried, heat-set, washed or rubbed.",
    "dry-it-first": _dry_it,
    "choose-what-is-heat-set": On(
        "Choose what is heat-set, or leave out --after-heat.",
        "Choose what is heat-set, or untick 'as it will be once heat-set'.",
    ),
}

FLAGS: Catalogue = {
    "few-in-state": _few,
    "target-state-unsaid": On(
        "you haven't said what was done to the cloth with this colour, so this is for {aimed} ink: say it"
        " with --target-state",
        "nobody has said what was done to the cloth with this colour, so this is for {aimed} ink",
    ),
    "target-taken-like-the-pot": On(
        "the strip you want to match is taken to be {taken}, like the pot's, but {shade} is meant to be {known}: add"
        " --target-state to say what was done to it",
        "the strip you want to match is taken to be {taken}, like the pot's, but {shade} is meant to be {known}: go"
        " back and say what was done to it",
    ),
    "carried-over": _carried_over,
    "pairs-treated-otherwise": _treated_otherwise,
    "treated-differently": "both are {state}, but not in the same way: {hows[0]}; {hows[1]}",
    "target-without-state": On(
        "the target doesn't say whether it is for dry or heat-set ink, so it was compared as it is: swatchcam shade set"
        ' "{shade}" --target-state heat-set',
        "the target doesn't say whether it is for dry or heat-set ink, so it was compared as it is: say so on the page"
        " of {shade}",
    ),
}
