"""How a page, a refusal and a failure are put out."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from ..errors import SwatchcamError
from ..messages.message import Flag, flag_from_json, message_from_json
from ..messages.surface import PAGE
from .request_checks import FILE, FILES, MEGABYTE, REQUEST, STATIC, form_token, wants_json
from .wording import on_page

if TYPE_CHECKING:
    from jinja2 import Environment

REFUSAL = 422
# What is said where no view has anything better to say.
SAID = {
    400: (
        "What was sent cannot be read.",
        "Open the page only by the address that the studio's computer shows, and try again.",
    ),
    401: ("This phone was not let in yet, or not any more.", "Open the first page on it, and type the code."),
    403: ("The form is not one of this page as it is now.", "Go back, load the page again, and send it once more."),
    404: ("There is no such page.", "Go back, or begin at the first page."),
    405: ("That address does not work this way.", "Go back, and use the links and buttons there."),
    408: ("It took too long to arrive.", "Go where the network is stronger, and send it again."),
    413: (
        "That is too much at once.",
        f"Send at most {FILES} photos, none larger than {FILE // MEGABYTE} MB, and {REQUEST // MEGABYTE} MB together.",
    ),
    503: ("Too much is being sent at this moment.", "Wait a minute, and send it again."),
    500: ("Something in the program failed; nothing that was kept is lost.", "The studio's computer shows more."),
}


def page(request: Request, template: str, /, status: int = 200, **facts: Any) -> HTMLResponse:
    """A template filled with facts. It also knows `token` of its forms, `here`, `phone` (None before it is let in)."""
    here = "/" + request.scope["path"].lstrip("/")  # "*" is asked for too
    always = {"token": form_token(request), "here": here, "phone": request.state.phone}
    return HTMLResponse(_templates().get_template(template).render(always | facts), status_code=status)


def refusal(request: Request, error: SwatchcamError, status: int = REFUSAL) -> Response:
    """The page of a refusal, or its two sentences as JSON for a script."""
    return _told(request, "refusal.html.jinja", status, problem(error), remedy(error))


def refused(request: Request, status: int) -> Response:
    """The page for what is refused or failed outside of any view."""
    words = SAID.get(status, SAID[400])
    return _told(request, "error.html.jinja", status, *words)


def static(name: str) -> str:
    """The address of a file in static/, which changes when the file does."""
    data = files(__package__).joinpath("static", name).read_bytes()
    return f"{STATIC}{name}?v={sha256(data).hexdigest()[:12]}"


def moment(time: str) -> str:
    """ "2026-01-31T13:05:00+00:00" -> "2026-01-31 14:05", by the computer's clock."""
    return datetime.fromisoformat(time).astimezone().strftime("%Y-%m-%d %H:%M")


def problem(error: SwatchcamError) -> str:
    """What the page says is wrong."""
    return on_page(PAGE.problem(error))


def remedy(error: SwatchcamError) -> str:
    """What the page says to do next."""
    return on_page(PAGE.remedy(error))


def flagged(flag: Any) -> str:
    """What the page says of a flag, which may be one of a record, or of an answer's JSON."""
    return PAGE.flag(flag if isinstance(flag, Flag) else flag_from_json(flag))


def changed(change: Any) -> str:
    """What the page says of a change, which is that of a log's JSON."""
    return PAGE.change(message_from_json(change))


def _told(request: Request, name: str, status: int, problem: str, remedy: str) -> Response:
    said = {"problem": problem, "remedy": remedy}
    return JSONResponse(said, status) if wants_json(request) else page(request, name, status, **said)


@cache
def _templates() -> Environment:
    from jinja2 import PackageLoader

    from ..report.html_page import environment

    templates = environment()
    templates.loader = PackageLoader(__package__)
    templates.globals["static"] = cache(static)
    templates.filters["moment"] = moment
    templates.filters["on_page"] = on_page
    templates.filters["problem"] = problem
    templates.filters["remedy"] = remedy
    templates.filters["flagged"] = flagged
    templates.filters["finding"] = PAGE.finding
    templates.filters["changed"] = changed
    templates.filters["stem"] = lambda name: Path(name).stem
    return templates
