"""A check in one sentence for the person at the table, and what to do next; the numbers stand elsewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...measurement.pot_verdict import PotOutcome
from ...measurement.verdict import Outcome
from ...messages.message import Flag
from ...text import listed

NEXT = {
    Outcome.SAME: "Keep it, so that the next batch can be compared with it.",
    Outcome.DIFFERENT: "Keep it under its batch, and see what to add to the pot; or compare it with something else.",
}
OF_POTS = {
    PotOutcome.PROPORTIONS: "Keep it under its batch, so that it counts when the pot is corrected.",
    PotOutcome.SHADE: NEXT[Outcome.DIFFERENT],
    PotOutcome.STRENGTH: NEXT[Outcome.DIFFERENT],
}
SURER = "Take one more photo of the same strips, from a little further left or right, and add it: two are surer."
PARTING = "They may differ in other light, as said above: look at them in the light in which the print will be seen."
WEAK = "The photo is weak, as said above. Before you rely on it, take another one in daylight or under a better lamp."


def lead(found: Mapping[str, Any], sample: str, reference: str) -> str:
    """One sentence of `report.measurement.check_dict`.

    Parameters
    ----------
    sample, reference : what both are called, such as "the right strip"
    """
    words = listed(found["difference"]["words"])
    if found["verdict"] == Outcome.SAME:
        return f"{_first(sample)} and {reference} are the same: the difference is certainly within your tolerance."
    if found["verdict"] == Outcome.DIFFERENT:
        return f"{_first(sample)} is {words or 'another colour'}{' than' if words else ', not that of'} {reference}."
    trend = f" If anything, {sample} is {words}." if words else ""
    return f"The photo can't tell whether {sample} and {reference} are the same within your tolerance.{trend}"


def advice(found: Mapping[str, Any], weak: Sequence[Flag] = ()) -> str:
    """What to do next; `weak` are the flags of the strip and of the photos under the first light."""
    parts = [WEAK] if weak else []
    parts += [PARTING] if found["verdict"] == Outcome.SAME and _parts_elsewhere(found) else []
    pots = OF_POTS.get(found["pots"]["outcome"]) if found["pots"] else None
    usual = NEXT.get(found["verdict"], SURER)
    return " ".join([*parts, usual if found["verdict"] == Outcome.SAME else pots or usual])


def _parts_elsewhere(found: Mapping[str, Any]) -> bool:
    """Whether two lights tell that a match may not hold under other light."""
    metamers = found["metamerism"]
    told = metamers["lights"] if metamers and metamers["told"] else []
    return any(light["interval95"][1] > found["tolerance"] for light in told)


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]
