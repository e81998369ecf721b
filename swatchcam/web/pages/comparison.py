"""What a strip on the tray is judged against, as a person chose it on the page -> the answer of the command line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from starlette.datastructures import FormData

from ...colorimetry.cielab import Lab
from ...colorimetry.lab_text import parse_lab
from ...errors import UsageError
from ...library.compare import ReferenceRequest, check_kept
from ...library.records import AIR_DRIED, STATES, State, parse_state
from ...measurement.pot_verdict import STRIPS, PotStrip, judge_pots
from ...measurement.stored_colour import Kept
from ...measurement.summary import Sitting
from ...measurement.verdict import (
    DEFAULT_TOLERANCE,
    Difference,
    Outcome,
    between_pots,
    judge,
    mean_against_target,
)
from ...recipes.let_down import parse_let_down
from ...recipes.numbers import parse_amount
from ...report.json_types import CheckJson, MeasurementJson
from ...report.library_records import recalled_dict, states_dict
from ...report.measurement import verdict_dict
from ...text import let_down_words, listed, the_strip
from ..context import Studio
from ..forms import SHOWN
from .state_fields import FIELDS as OF_THE_STATE
from .state_fields import state_said
from .studio_form import usual

STRIP, SHADE, TARGET, RECORD, NUMBERS = "strip", "shade", "target", "record", "numbers"
SIGNS = {Outcome.SAME: "=", Outcome.DIFFERENT: "≠", Outcome.TOO_CLOSE: "?"}
SHAPES = {
    Outcome.SAME: "same",
    Outcome.DIFFERENT: "different",
    Outcome.TOO_CLOSE: "close",
}  # of the frame around the sign
Caption = tuple[str, str]  # a name, and what stands below it
NAMES = ("to", "other", "shade", "batch", "record", "numbers", "tolerance", "state", "let_down")


@dataclass(frozen=True)
class Question:
    """One strip, and what it is judged against."""

    strip: str  # the strip
    to: str = ""  # STRIP, SHADE, TARGET, RECORD or NUMBERS; "" for nothing: only the colours are told
    other: str = ""  # the other strip in the same photo
    shade: str = ""
    batch: str = ""
    record: str = ""
    numbers: str = ""  # L,a,b
    tolerance: str = ""
    state: str = ""  # what was said to be done to the strip; "" where nobody said
    after_heat: bool = False
    same: tuple[str, ...] = ()  # further strips of the same pot in the photo
    let_down: str = ""  # parts of clear base to one part of ink, of a let-down strip

    @property
    def taken(self) -> State:
        """The state that the strip is taken to be in.

        Raises
        ------
        UsageError
            What was said is no state.
        """
        return parse_state(self.state or AIR_DRIED)

    def address(self, **otherwise: str) -> str:
        """Where the same is asked, or something else instead."""
        said = {name: getattr(self, name) for name in NAMES} | {"strip": self.strip}
        said |= {"after_heat": "yes" if self.after_heat else ""} | {f"same-{name}": "yes" for name in self.same}
        return "?" + urlencode({name: value for name, value in (said | otherwise).items() if value})


def question_of(said: Mapping[str, str], sitting: Sitting, asked: Mapping[str, Any]) -> Question:
    """What was said with the page's address, else what the photo was sent for (`asked` of its item).

    That is the shade or the colour which the pot was to become; else the other strip in the photo.

    Raises
    ------
    UsageError
        There is no strip of that name.
    """
    found = {name: said[name].strip() for name in NAMES if said.get(name, "").strip()}
    if said.get("state") in STATES and any(name in said for name in OF_THE_STATE[1:]):
        found["state"] = str(state_said(FormData(said), "What was done to the strip") or "")
    strip = sitting.strip_named(said.get("strip") or None).name
    others = [kept.name for kept in sitting.strips if kept.name != strip]
    if "to" not in found:
        found = _sent_for(others, asked) | found
    if found.get("to") != STRIP:
        found.pop("other", None)
    elif found.get("other") not in others:
        found["other"] = others[0] if others else ""
    same = tuple(name for name in others if said.get(f"same-{name}") and name != found.get("other"))
    return Question(strip, after_heat=bool(said.get("after_heat")), same=same, **found)


def _sent_for(others: list[str], asked: Mapping[str, Any]) -> dict[str, str]:
    state = {"state": asked["state"]} if asked.get("state") else {}
    if asked.get("shade") and not asked.get("aim"):
        return {"to": SHADE, "shade": asked["shade"]} | state
    if others:  # beside the pot's strip lies the one that is wanted: the surest way
        return {"to": STRIP} | state
    return ({"to": NUMBERS, "numbers": asked["aim"]} if asked.get("aim") else {}) | state


def judged(studio: Studio, sitting: Sitting, facts: MeasurementJson, question: Question) -> CheckJson:
    """The dict of `swatchcam check --json`; `facts` is the `report.measurement.measurement_dict` of the sitting.

    Raises
    ------
    UsageError
        Something that was asked for is not there, or cannot be read.
    LibraryError
        The library refuses.
    """
    strips = [_of_pot(sitting, name) for name in (question.strip, *question.same)]
    colour = strips[0].colour
    if question.after_heat and question.to not in (SHADE, TARGET, RECORD):
        raise UsageError("after-heat-without-shade", "choose-shade-or-untick")
    tolerance = parse_amount(question.tolerance, "") if question.tolerance else None
    if question.to in (SHADE, TARGET, RECORD):
        recalled = check_kept(studio.opened(), strips, _wanted(question), tolerance)
        judge_by = recalled.shade.judge if recalled.shade else STRIPS
        known, states = recalled_dict(recalled), states_dict(recalled)
        return verdict_dict(
            recalled.verdict, None, facts, recalled=known, pots=recalled.pots, judge=judge_by, states=states
        )
    limit = next(one for one in (tolerance, usual(studio).tolerance, DEFAULT_TOLERANCE) if one is not None)
    if question.to == NUMBERS:
        wanted, words = parse_lab(question.numbers), listed([strip.colour.name for strip in strips])
        return verdict_dict(judge(mean_against_target([s.colour for s in strips], wanted, words), limit), None, facts)
    other = _of_pot(sitting, _other(sitting, question).name)
    pots = judge_pots([other], strips, limit)
    metamers = sitting.metamerism(colour.name, other.colour.name)
    return verdict_dict(judge(_difference(strips, other), limit), metamers, facts, pots=pots)


def _of_pot(sitting: Sitting, name: str) -> PotStrip:
    return PotStrip.of(sitting.strip_named(name), sitting.flags[name])


def _difference(strips: Sequence[PotStrip], other: PotStrip) -> Difference:
    colours = [strip.colour for strip in strips]
    return between_pots(colours, [other.colour], (listed([colour.name for colour in colours]), other.colour.name))


def strip_lab(sitting: Sitting, question: Question, found: CheckJson) -> Lab:
    """CIELAB of the strip as it was compared."""
    return _predicted(found, "strip") or sitting.strip_named(question.strip).lab


def _predicted(found: CheckJson, side: str) -> Lab | None:
    after = found["recalled"] and found["recalled"]["predicted"]
    carried = after and found["states"] and found["states"]["carried_over"] == side
    return (after["L"], after["a"], after["b"]) if after and carried else None


def reference_lab(sitting: Sitting, question: Question, found: CheckJson) -> Lab:
    """CIELAB of what was judged against, to be shown beside the strip."""
    if predicted := _predicted(found, "reference"):
        return predicted
    if question.to == STRIP:
        return sitting.strip_named(question.other).lab
    if question.to == NUMBERS:
        return parse_lab(question.numbers)
    recalled = found["recalled"]
    assert recalled is not None
    record = recalled["record"]
    lightness, a, b = (record["L"], record["a"], record["b"]) if record else recalled["target"] or []
    return lightness, a, b


def record_number(typed: str) -> int:
    """The number of a record as it was typed; raises UsageError."""
    if not (typed.isascii() and typed.isdecimal() and len(typed) < 10):
        raise UsageError("typed-not-a-record", "look-up-the-number", typed=typed[:SHOWN])
    return int(typed)


def reference_words(question: Question, found: CheckJson) -> str:
    """What was judged against, in a few words."""
    recalled = found["recalled"]
    if recalled is None:
        return the_strip(question.other) if question.to == STRIP else "the numbers"
    record, states = recalled["record"], found["states"]
    once = once_words(found, "reference")
    if record is None:
        state = f" ({_short(states['reference'])})" if states and states["reference"] and not once else ""
        return f"the target of {recalled['shade']}{state}{once}"
    what = ", ".join(filter(None, (let_down_words(record["let_down"]), "" if once else _short(record["state"]))))
    return f"batch {record['batch']} of {record['shade']}{f' ({what})' if what else ''}{once}"


def captions(question: Question, found: CheckJson) -> tuple[Caption, Caption]:
    """What stands below the strip and below what it was compared with: a name, and on a line of its own the state."""
    recalled, states = found["recalled"], found["states"]
    if recalled is None or states is None:
        return (the_strip(question.strip), ""), (reference_words(question, found), "")
    record = recalled["record"]
    name = f"batch {record['batch']} of {record['shade']}" if record else f"the target of {recalled['shade']}"
    below = []
    for side in ("strip", "reference"):
        state = states[side] or "nobody said what was done to it"
        carried = states["carried_over"] == side
        below.append(f"predicted once {states['compared_in']}; now {state}" if carried else state)
    if record and record["let_down"]:
        below[1] = f"{let_down_words(record['let_down'])}, {below[1]}"
    return (the_strip(question.strip), below[0]), (name, below[1])


def once_words(found: CheckJson, side: str) -> str:
    """What is said behind the name of the side whose later colour is predicted; "" behind that of the other."""
    states = found["states"]
    return f" once {states['compared_in']}" if states and states["carried_over"] == side else ""


def _short(state: str) -> str:
    """A state without how it was done: that stands below the colour."""
    return parse_state(state).short


def _wanted(question: Question) -> ReferenceRequest:
    how: dict[str, Any] = {
        "state": question.taken,
        "after_heat": question.after_heat,
        "let_down": parse_let_down(question.let_down),
    }
    if question.to == RECORD:
        return ReferenceRequest(record=record_number(question.record), **how)
    if not question.shade:
        raise UsageError("no-shade-chosen", "choose-from-the-shades")
    return ReferenceRequest(question.shade, question.batch, against_target=question.to == TARGET, **how)


def _other(sitting: Sitting, question: Question) -> Kept:
    if question.to != STRIP or not question.other:
        raise UsageError("no-reference", "choose-shade-or-numbers")
    if question.other == question.strip:
        raise UsageError("strip-against-itself", "choose-two-strips")
    return sitting.strip_named(question.other)
