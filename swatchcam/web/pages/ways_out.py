"""What can be done where a comparison was refused: what is in the strip's state, and what would carry it over."""

from __future__ import annotations

from contextlib import suppress

from ...errors import SwatchcamError, UsageError
from ...library.library import Library
from ...library.records import AIR_DRIED, HEAT_SET, Record, Shade, State
from ...measurement.summary import Sitting
from ...recipes.let_down import parse_let_down
from .comparison import RECORD, SHADE, TARGET, Question, record_number

Way = tuple[str, str]  # an address, and what leads there in words


def ways_out(library: Library, sitting: Sitting, question: Question, refusal: SwatchcamError) -> list[Way]:
    """Comparisons that are possible, and strips that are worth treating next; none where the question is no good."""
    with suppress(SwatchcamError):
        shade = library.shade(_shade_asked(library, question))
        return [*_comparisons(library, sitting, question, shade), *_to_treat(refusal)]
    return []


def _shade_asked(library: Library, question: Question) -> str:
    if question.to not in (SHADE, TARGET, RECORD):
        raise UsageError("no-shade-chosen", "choose-from-the-shades")
    return library.record(record_number(question.record)).shade if question.to == RECORD else question.shade


def _comparisons(library: Library, sitting: Sitting, question: Question, shade: Shade) -> list[Way]:
    now, there = question.taken, _others(library, sitting, question, shade)
    kinds = {one.state.kind for one in there} | ({shade.target_state.kind} if shade.target_state else set())
    anew = {"record": "", "batch": "", "shade": shade.name, "after_heat": ""}
    ways = []
    if now.kind in {one.state.kind for one in there} and (
        question.to != SHADE or question.after_heat or question.batch
    ):
        words = f"Compare with the last {now.short} strip of {shade.name}"
        ways.append((question.address(**anew | {"to": SHADE}), words))
    if question.to != TARGET and shade.target_state and shade.target_state.like(now):
        ways.append((question.address(**anew | {"to": TARGET}), f"Compare with the target of {shade.name}"))
    if question.to == SHADE and not question.after_heat and now.name == AIR_DRIED and State(HEAT_SET) in kinds:
        words = "Compare with the last heat-set strip, as this one will be"
        ways.append((question.address(after_heat="yes"), words))
    others = sorted((kind for kind in kinds if kind != now.kind), key=lambda kind: kind.order)
    return [*ways, *((question.address(state=str(kind), after_heat=""), f"This strip is {kind}") for kind in others)]


def _others(library: Library, sitting: Sitting, question: Question, shade: Shade) -> list[Record]:
    """The records of the shade that it could be compared with: of other photos, and let down as far."""
    photos, let_down = {ref.digest for _, ref in sitting.photos}, parse_let_down(question.let_down)
    return [
        one
        for one in library.records(shade.name)
        if one.let_down == let_down and not photos & {photo.digest for photo in one.photos}
    ]


def _to_treat(refusal: SwatchcamError) -> list[Way]:
    """The records whose strips would teach most about what heat or washing does."""
    numbers = refusal.facts.get("next") or []
    return [(f"/record/{number}", f"See record {number}") for number in numbers if isinstance(number, int)]
