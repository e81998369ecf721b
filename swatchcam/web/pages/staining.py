"""Page: how much of a print came off on white cloth, from a photo that was sent as one of stained cloth."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ...errors import SwatchcamError, UsageError
from ...library.amend import STAINING_STATES, keep_staining
from ...library.library import Library
from ...library.records import Record
from ...measurement.staining import cloths_in, staining_of
from ...measurement.summary import Sitting
from ...report.staining import graded_dict, next_lines
from ...text import the_strip
from ..context import Studio, item_of, studio_of
from ..forms import text, whole
from ..inbox import TrayItem
from ..render import REFUSAL, page
from ..request_checks import posted
from .changes import LAST, led, number_in
from .chips import filled
from .result import PHOTO, shows_cloth, sitting_on

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
    library = studio.found()
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
        stained=pair[-1].name,
        records=_stainers(library) if library else [],
        chosen=number_in(item.asked.get("record", "")),
        held=_held(library, sitting) if library else [],
        **again,
    )


def keep(request: Request, form: FormData) -> Response:
    """Keep the grade with the strip that was rubbed or washed."""
    studio, item = studio_of(request), item_of(request, PHOTO)
    if not shows_cloth(item):
        raise UsageError("photo-of-strips", "measure-it-as-cloth")
    sitting, number = sitting_on(item, cloth=True), whole(form, "record", least=1, most=LAST, label="The strip")
    done = keep_staining(studio.opened(), number, sitting, text(form, "strip"))
    return led(done, f"/record/{number}")


def _stainers(library: Library) -> list[Record]:
    """The strips that may have stained a cloth, the last one first."""
    return [record for record in reversed(library.records()) if record.state.name in STAINING_STATES]


def _held(library: Library, sitting: Sitting) -> list[int]:
    """The records with which the grade of these photos is kept."""
    photos = tuple(photo for _, photo in sitting.photos)
    return [record.number for record in _stainers(library) if record.staining and record.staining.photos == photos]


def outcome_of_cloth(sitting: Sitting) -> str:
    """The grade in a few words, for the list of photos; "" where there is none."""
    with suppress(SwatchcamError):
        return f"staining grade {staining_of(*cloths_in(sitting)).grade}"
    return ""


def facts_of(item: TrayItem) -> Any:
    """The `report.measurement.measurement_dict` of an item that is measured."""
    assert item.answer is not None
    return item.answer["facts"]


routes = [Route("/photo/{id}/staining", posted(keep), methods=["POST"])]
