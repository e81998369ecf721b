"""Pages: a phone is let in with the code; which phones were let in, and the code for the next one."""

from __future__ import annotations

from ipaddress import ip_address

import segno
from markupsafe import Markup
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from ...errors import UsageError
from ..context import Studio, studio_of
from ..forms import text, whole
from ..pairing import LASTS, LENGTH, LONGEST_NAME, link
from ..render import REFUSAL, page
from ..request_checks import COOKIE, OPEN, posted

COOKIE_LASTS = 365 * 24 * 3600  # s
TOO_MANY = 429


def pairing(request: Request) -> Response:
    """The page for whoever was not let in yet. It uses up no code, for a link is opened by its preview too."""
    if request.state.phone:
        return RedirectResponse("/", 303)
    studio_of(request).door.renew()  # so that the computer shows a code that counts
    return _asking(request, request.query_params.get("code", "")[:20], _kind(request.headers.get("user-agent", "")))


def pair(request: Request, form: FormData) -> Response:
    """Let the phone in, if the code is right."""
    if request.state.phone:
        return RedirectResponse("/", 303)
    studio = studio_of(request)
    code, name = text(form, "code", longest=40), text(form, "name", longest=LONGEST_NAME, label="Name of this phone")
    try:
        if not studio.door.let_in(code, request.client.host if request.client else ""):
            wrong = UsageError("code-wrong", "type-the-code-again", length=LENGTH, minutes=LASTS // 60)
            return _asking(request, code, name, wrong, REFUSAL)
    except UsageError as wait:
        return _asking(request, code, name, wait, TOO_MANY)
    token = studio.phones.add(name)
    studio.door.renew()
    answer = RedirectResponse("/", 303)
    answer.set_cookie(COOKIE, token, max_age=COOKIE_LASTS, httponly=True, samesite="strict")
    return answer


def listed(request: Request) -> Response:
    """The phones that were let in, and the code for another one."""
    studio = studio_of(request)
    code, host = studio.door.code, _host(request, studio)
    return page(
        request,
        "phones.html.jinja",
        phones=studio.phones.all(),
        code=code,
        address=f"http://{host}/",
        square=_square(link(host, code)),
        minutes=LASTS // 60,
        alone=_is_alone(studio),
    )


def remove(request: Request, form: FormData) -> Response:
    """Let a phone in no longer; it may be the one that asks."""
    gone = studio_of(request).phones.remove(whole(form, "number"))
    return _left() if gone.number == request.state.phone.number else RedirectResponse("/phones", 303)


def leave(request: Request, form: FormData) -> Response:
    """The phone that asks goes."""
    studio_of(request).phones.remove(request.state.phone.number)
    return _left()


routes = [
    Route("/pair", pairing),
    Route("/pair", posted(pair, stranger=True), methods=["POST"]),
    Route("/phones", listed),
    Route("/phones/remove", posted(remove), methods=["POST"]),
    Route("/phones/leave", posted(leave), methods=["POST"]),
]


def _asking(request: Request, code: str, name: str, wrong: UsageError | None = None, status: int = 200) -> Response:
    return page(request, "pair.html.jinja", status, code=code, name=name, wrong=wrong, longest=LONGEST_NAME)


def _left() -> Response:
    answer = RedirectResponse(OPEN, 303)
    answer.delete_cookie(COOKIE, httponly=True, samesite="strict")
    return answer


def _kind(agent: str) -> str:
    """What a browser says of itself -> a name to begin with."""
    kinds = (("Tablet", "Tablet"), ("Mobi", "Phone"))
    return next((name for sign, name in kinds if sign in agent), "Computer")


def _host(request: Request, studio: Studio) -> str:
    """The page's host and port for another phone: the studio's first name with the port by which this one came."""
    port = request.url.port
    return f"{studio.hosts[0]}:{port}" if port else studio.hosts[0]


def _is_alone(studio: Studio) -> bool:
    """Whether only the computer itself can reach the page."""
    host = studio.hosts[0]
    return host == "localhost" or (host.replace(".", "").isdigit() and ip_address(host).is_loopback)


def _square(address: str) -> Markup:
    """The address as a QR code, drawn with attributes only: the page allows no styles in it."""
    drawn = segno.make(address, micro=False, error="m")
    return Markup(drawn.svg_inline(dark="#000", light="#fff", omitsize=True, title=f"QR code of {address}"))
