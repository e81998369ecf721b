"""A check in one sentence for the person at the table, and what to do next; the numbers stand elsewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..colorimetry import listed
from ..verdict import DIFFERENT, SAME

NEXT = {
    SAME: "Keep it, so that the next batch can be held against it.",
    DIFFERENT: "Keep it under its batch, and let the pot tell what to add; or choose what else to judge it against.",
}
SURER = "Take one more photo of the same strips, from a little further left or right, and add it: two are surer."
WEAK = "The photo is weak, as told above. Before you rely on it, take another one in daylight or under a better lamp."


def lead(found: Mapping[str, Any], sample: str, reference: str) -> str:
    """One sentence of `report.check_dict`.

    Parameters
    ----------
    sample, reference : what both are called, such as "the right strip"
    """
    words = listed(found["difference"]["words"])
    if found["verdict"] == SAME:
        return f"{_first(sample)} and {reference} are the same: whatever is left between them is within your tolerance."
    if found["verdict"] == DIFFERENT:
        return f"{_first(sample)} is {words or 'another colour'}{' than' if words else ', not that of'} {reference}."
    trend = f" If anything, {sample} is {words}." if words else ""
    return f"The photo cannot tell whether {sample} and {reference} are the same within your tolerance.{trend}"


def advice(found: Mapping[str, Any], weak: Sequence[str] = ()) -> str:
    """What to do next; `weak` are the flags of photo and strip."""
    said = NEXT.get(found["verdict"], SURER)
    return f"{WEAK} {said}" if weak else said


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]
