"""Pages: what was changed in the library, and undoing it. A form that changed something leads on with its number."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from urllib.parse import urlencode

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from ...errors import UsageError
from ...library.changes import Change
from ...library.changes import undo as undo_change
from ...library.library import Library
from ...report.json_types import ChangeJson
from ...report.library_care import log_dict
from ..context import studio_of
from ..forms import text, whole_or_none
from ..render import page
from ..request_checks import posted

NUMBER, LAST = re.compile(r"[0-9]{1,9}"), 999_999_999  # of a record or a change; no database has larger ones
ON_THE_SHELF = re.compile(r"/shelf/(?:pot|pre-mix|pigment)/[0-9]{1,9}")
NO_QUERY: Mapping[str, str] = {}
AT_ONCE = 50  # changes on a page


def listed(request: Request) -> Response:
    """The changes, the newest first."""
    library = studio_of(request).found()
    changes = log_dict(library)["changes"] if library else []
    before = number_in(request.query_params.get("before", ""))
    wanted = [change for change in changes if before is None or change["number"] < before]
    return page(
        request,
        "changes.html.jinja",
        changes=wanted[:AT_ONCE],
        older=wanted[AT_ONCE - 1]["number"] if wanted[AT_ONCE:] else None,
        done=done(library, request) if library else None,
    )


def undo(request: Request, form: FormData) -> Response:
    """Undo a change, and go back to the page it was undone on, where that is still there."""
    library = studio_of(request).opened()
    return led(undo_change(library, number_of(request, "number")), *_back(library, form))


def _back(library: Library, form: FormData) -> tuple[str, dict[str, str]]:
    """Where a change was undone, if that is there still; else the list of changes."""
    shade, record = text(form, "shade"), whole_or_none(form, "record", most=LAST)
    shelf = text(form, "shelf")
    if ON_THE_SHELF.fullmatch(shelf):
        return shelf, {}
    with suppress(UsageError):
        if record is not None:
            return f"/record/{library.record(record).number}", {}
        if shade:
            return "/shade", {"name": library.shade(shade).name}
    return ("/shades" if form.get("wall") else "/changes"), {}


def done(library: Library, request: Request) -> ChangeJson | None:
    """The change by which a form led here. The address holds its number alone: no link can put words on a page."""
    number = number_in(request.query_params.get("done", ""))
    if number is None:
        return None
    return next((change for change in log_dict(library)["changes"] if change["number"] == number), None)


def led(done: Change, path: str, query: Mapping[str, str] = NO_QUERY) -> Response:
    """To the page that shows what a change did."""
    return RedirectResponse(f"{path}?{urlencode({**query, 'done': done.number})}", 303)


def number_of(request: Request, name: str) -> int:
    """A number in the path; what is none has no page."""
    number = number_in(request.path_params[name])
    if number is None:
        raise HTTPException(404)
    return number


def number_in(typed: str) -> int | None:
    """The number of a record or a change."""
    return int(typed) if NUMBER.fullmatch(typed) else None


routes = [
    Route("/changes", listed),
    Route("/changes/{number}/undo", posted(undo), methods=["POST"]),
]
