"""Page: how much of a print came off on white cloth, from a photo that was sent as one of stained cloth."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from ...errors import SwatchcamError, UsageError
from ...measurement.staining import Staining, staining_of
from ...measurement.stored_colour import Kept
from ...measurement.summary import Sitting
from ...report.staining import graded_dict, next_lines
from ...text import the_strip
from ..context import Studio
from ..inbox import TrayItem
from ..render import REFUSAL, page
from .chips import filled

LARGE = (400, 320)  # px of a chip; the page fits it in


def staining_page(
    request: Request, studio: Studio, item: TrayItem, sitting: Sitting, again: dict[str, Any]
) -> Response:
    """The grade of an item that gave a sitting; `again` is what the form needs that measures it once more."""
    found, problem, pair = None, None, sitting.strips
    try:
        pair = clean, stained = cloths_in(sitting, request.query_params.get("strip", ""))
        found = graded_dict(staining_of(clean, stained), facts_of(item))
    except SwatchcamError as error:
        problem = error
    weak = dict.fromkeys(flag for kept in pair for flag in sitting.flags[kept.name])
    return page(
        request,
        "staining.html.jinja",
        status=REFUSAL if problem else 200,
        item=item,
        found=found,
        problem=problem,
        weak=list(weak),
        chips=[(kept.name, filled(kept.lab, the_strip(kept.name), size=LARGE)) for kept in sitting.strips],
        todo=next_lines(found["grade"]) if found else [],
        other=pair[0].name,
        **again,
    )


def cloths_in(sitting: Sitting, stained: str = "") -> tuple[Kept, Kept]:
    """The clean cloth and the stained one; stained is the last window where nobody says.

    Raises
    ------
    UsageError
        There is no strip of that name, or only one.
    """
    dirty = sitting.strip_named(stained or None)
    clean = next((kept for kept in sitting.strips if kept.name != dirty.name), None)
    if clean is None:
        raise UsageError("no-second-strip", "show-both-cloths", photo=sitting.photos[0][1].name)
    return clean, dirty


def graded(sitting: Sitting, stained: str = "") -> Staining:
    """The grade of a photo of cloth; raises SwatchcamError."""
    return staining_of(*cloths_in(sitting, stained))


def outcome_of_cloth(sitting: Sitting) -> str:
    """The grade in a few words, for the list of photos; "" where there is none."""
    with suppress(SwatchcamError):
        return f"staining grade {graded(sitting).grade}"
    return ""


def facts_of(item: TrayItem) -> Any:
    """The `report.measurement.measurement_dict` of an item that is measured."""
    assert item.answer is not None
    return item.answer["facts"]
