"""How a page, a refusal and a failure are put out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from functools import cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path, PureWindowsPath
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from ..cards.values import NEVER_MEASURED
from ..errors import SwatchcamError, UsageError
from ..messages.message import Flag, flag_from_json, message_from_json
from ..messages.surface import PAGE
from ..report.json_types.messages import FlagJson
from ..text import duration
from .request_checks import FILE, FILES, REQUEST, STATIC, form_token, wants_json

if TYPE_CHECKING:
    from jinja2 import Environment

REFUSAL = 422
FOR_SCRIPTS = ("code", "facts", "remedy", "where")  # of a refusal
# What is refused where no view has anything better to say.
REFUSED = {
    400: UsageError("request-not-read", "open-the-address-shown"),
    401: UsageError("phone-not-let-in", "type-the-code"),
    403: UsageError("form-outdated", "load-the-form-again"),
    404: UsageError("no-such-page", "begin-at-the-first-page"),
    405: UsageError("address-used-otherwise", "use-links-and-buttons"),
    408: UsageError("request-too-slow", "go-where-the-network-is-stronger"),
    413: UsageError("too-much-at-once", "send-less", photos=FILES, of_one=FILE, of_all=REQUEST),
    503: UsageError("too-much-being-sent", "wait-and-send-again"),
    500: UsageError("page-failed", "look-at-the-computer"),
}


def page(request: Request, template: str, /, status: int = 200, **facts: Any) -> HTMLResponse:
    """A template filled with facts. It also knows `token` of its forms, `here`, `phone` (None before it is let in)."""
    here = "/" + request.scope["path"].lstrip("/")  # "*" is asked for too
    always = {"token": form_token(request), "here": here, "phone": request.state.phone}
    return HTMLResponse(_templates().get_template(template).render(always | facts), status_code=status)


def refusal(request: Request, error: SwatchcamError, status: int = REFUSAL) -> Response:
    """The page of a refusal; for a script its code and facts as JSON, with the page's two sentences."""
    if wants_json(request):
        return JSONResponse(refusal_dict(error), status)
    return page(request, "refusal.html.jinja", status, problem=PAGE.problem(error), remedy=PAGE.remedy(error))


def refusal_dict(error: SwatchcamError) -> dict[str, Any]:
    """For a script: code, facts, the name of the remedy, where it happened; the sentences are `problem` and `next`."""
    facts = _for_phones(error.as_json())
    return {name: facts[name] for name in FOR_SCRIPTS} | {"problem": PAGE.problem(error), "next": PAGE.remedy(error)}


def _for_phones(facts: Any) -> Any:
    """The same without folders and addresses: where things lie on the studio's computer is no phone's business."""
    if isinstance(facts, dict):
        return {name: _for_phones(each) for name, each in facts.items() if not _is_place(each)}
    if isinstance(facts, list):
        return [_for_phones(each) for each in facts if not _is_place(each)]
    return facts


def _is_place(fact: Any) -> bool:
    return isinstance(fact, str) and ("://" in fact or PureWindowsPath(fact).is_absolute() or fact.startswith("/"))


def refused(request: Request, status: int) -> Response:
    """The page for what is refused or failed outside of any view."""
    return refusal(request, REFUSED.get(status, REFUSED[400]), status)


def static(name: str) -> str:
    """The address of a file in static/, which changes when the file does."""
    data = files(__package__).joinpath("static", name).read_bytes()
    return f"{STATIC}{name}?v={sha256(data).hexdigest()[:12]}"


def moment(time: str) -> str:
    """ "2026-01-31T13:05:00+00:00" -> "2026-01-31 14:05", by the computer's clock."""
    return datetime.fromisoformat(time).astimezone().strftime("%Y-%m-%d %H:%M")


def telling(flags: Iterable[FlagJson]) -> list[FlagJson]:
    """The flags of a record whose page tells in words of its own that its card was never measured."""
    return [flag for flag in flags if flag["code"] not in NEVER_MEASURED]


def flagged(flag: Any) -> str:
    """What the page says of a flag, which may be one of a record, or of an answer's JSON, or a bare sentence."""
    return PAGE.flag(flag if isinstance(flag, Flag) else flag_from_json(flag))


def changed(change: Any) -> str:
    """What the page says of a change, which is that of a log's JSON."""
    return PAGE.change(message_from_json(change))


@cache
def _templates() -> Environment:
    from jinja2 import PackageLoader

    from ..report.cautions import care_heading
    from ..report.html_page import environment

    templates = environment()
    templates.loader = PackageLoader(__package__)
    templates.globals["static"] = cache(static)
    templates.filters["moment"] = moment
    templates.filters["problem"] = PAGE.problem
    templates.filters["remedy"] = PAGE.remedy
    templates.filters["flagged"] = flagged
    templates.filters["telling"] = telling
    templates.filters["finding"] = PAGE.finding
    templates.filters["changed"] = changed
    templates.filters["care_heading"] = care_heading
    templates.filters["duration"] = duration
    templates.filters["stem"] = lambda name: Path(name).stem
    return templates
