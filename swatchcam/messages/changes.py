"""What was done to the library."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import listed
from .surface import Catalogue

# What was corrected, as its column is called, where that is no plain word.
DETAILS = {
    "most": "its limit",
    "least_g": "its smallest amount",
    "ready": "whether it is ready-mixed",
    "drop_g": "what a drop of it weighs",
}


def _target(
    shade: str, target: Sequence[float] | None, tolerance: float | None, state: str | None = None, **_: Any
) -> str:
    within = "" if tolerance is None else f", with a tolerance of {tolerance:g}"
    if target is not None:
        colour = ", ".join(f"{value:g}" for value in target)
        return f"set the target of shade '{shade}' to {colour}{f' ({state})' if state else ''}{within}"
    if state is not None:
        return f"noted that the target of shade '{shade}' is {state}{within}"
    return f"set the tolerance of shade '{shade}' to {tolerance:g}"


def _merged(shade: str, into: str, gone: str | None = None, counts: str | None = None, **_: Any) -> str:
    """`gone` and `counts` are the states of the targets of both, "" where nobody said one, None where there is none."""
    done = f"merged shade '{shade}' into '{into}'"
    if gone is None:
        return done
    done += f"; its target{f' ({gone})' if gone else ''} no longer counts"
    if counts is None:
        return f"{done}, and '{into}' has none"
    return f"{done}, that of '{into}'{f' ({counts})' if counts else ''} does"


def _added(pigment: str, details: Sequence[str] = (), **_: Any) -> str:
    noted = f" and noted {listed([DETAILS.get(each, f'its {each}') for each in details])}" if details else ""
    return f"put {_on_shelf(pigment)} on the shelf{noted}"


def _pigment(pigment: str, details: Sequence[str], **_: Any) -> str:
    return f"changed {_on_shelf(pigment)}: {', '.join(DETAILS.get(each, f'its {each}') for each in details)}"


def _on_shelf(name: str) -> str:
    return name if name == "clear base" else f"pigment '{name}'"


def _lot(lot: str, pigment: str, strength: float, interval95: float, known: str, **_: Any) -> str:
    how = {"tested": "", "said": "as you say, ", "assumed": "not tested, so taken to be "}[known]
    times = f"{strength:.2f} ±{interval95:.2f} times as strong as the lot of the test series"
    return f"added lot '{lot}' of pigment '{pigment}': {how}{times}"


CHANGES: Catalogue = {
    "shade-renamed": "renamed shade '{old}' to '{new}'",
    "target-set": _target,
    "shade-tagged": "tagged shade '{shade}': {tags:comma}",
    "shade-untagged": "removed tags from shade '{shade}': {tags:comma}",
    "shade-noted": "wrote notes on shade '{shade}'",
    "shade-judged": "shade '{shade}' is now judged by the {judge}",
    "shades-merged": _merged,
    "shade-removed": "removed shade '{shade}' with its batches and records",
    "batch-corrected": "corrected batch '{batch}' of shade '{shade}': {details:comma}",
    "record-corrected": "corrected record {record} of shade '{shade}', batch '{batch}': {details:comma}",
    "staining-kept": "kept staining grade {grade} with record {record} of shade '{shade}', batch '{batch}'",
    "record-removed": "removed record {record} of shade '{shade}', batch '{batch}'",
    "proposal-removed": "removed proposal {number} for shade '{shade}', batch '{batch}'",
    "pigment-added": _added,
    "pigment-changed": _pigment,
    "pigment-removed": "took pigment '{pigment}' off the shelf",
    "lot-added": _lot,
    "change-undone": "undid change {number}: {what:change}",
}
