"""What each request must and may bring: host, cookie, size; the headers of every answer, and forms that are sent."""

from __future__ import annotations

import asyncio
import errno
import hmac
import logging
import re
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress
from functools import wraps
from hashlib import sha256

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, Headers, MutableHeaders, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ..errors import UsageError
from ..files import disk_cause
from .context import Studio, studio_of

COOKIE = "swatchcam"
STATIC = "/static/"
OPEN = "/pair"
MEGABYTE = 1_000_000
FILES, FILE, REQUEST = 12, 80 * MEGABYTE, 200 * MEGABYTE  # a form's photos; bytes of one, and of all that is sent
TYPED = MEGABYTE  # bytes of a form without photos, which costs far more time to take apart
TOGETHER = 1000 * MEGABYTE  # bytes of all forms that are under way: they lie in memory, or where temporary files do
STRANGER = 10_000  # bytes; so much may be sent by whoever was not let in: a code and a name
FIELDS, FIELD = 400, 64 * 1024  # of a form; bytes
READING, HURRY = 300, 20  # s; so long a form may take to arrive, and a stranger's
LINGER, LINGERED = 10, 30 * MEGABYTE  # s, bytes; so much of a refused form is thrown away, so that the answer is seen
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # with no-referrer a browser would send its forms without an origin
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
LASTING = "public, max-age=31536000, immutable"  # the address of such a file changes when the file does

log = logging.getLogger(__name__)
# Or each form that a stranger spoils would be told in the terminal.
logging.getLogger("python_multipart").addHandler(logging.NullHandler())

Refusing = Callable[[Request, int], Response]  # how the refusal of this status is put out
Handler = Callable[[Request, FormData], Response]
Endpoint = Callable[[Request], Awaitable[Response]]


class Gate:
    """Stands before all pages; they find who asks in `request.state.phone`, and its cookie's token in `.key`."""

    def __init__(self, app: ASGIApp, studio: Studio, refused: Refusing) -> None:
        self.app, self.studio, self.refused = app, studio, refused
        self._under_way: list[_Call] = []

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the request through, or answer it here; whatever fails behind is told and logged here."""
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        call = _Call(scope, receive, send, self._under_way)
        request = Request(scope, call.receive)
        self._under_way.append(call)
        try:
            answer = await self._turned_away(request, call) or self.app
            await answer(scope, call.receive, call.send)
        except Exception:
            # No query and no address: what was typed is nobody's business.
            log.exception("%s %a failed", request.method, call.path)
            if not call.answered:
                answer = await run_in_threadpool(self.refused, request, 500)
                await answer(scope, call.receive, call.send)
        finally:
            self._under_way.remove(call)

    async def _turned_away(self, request: Request, call: _Call) -> Response | None:
        request.state.phone, request.state.key = None, ""
        key = _key(request)
        phone = self.studio.phones.known(key) if key else None
        if phone:
            request.state.phone, request.state.key = phone, key
            call.most = REQUEST if request.headers.get("content-type", "").startswith("multipart/") else TYPED
        status = 0
        if not self._is_ours(request.headers.get("host", "")):
            status = 400
        elif not phone and call.path != OPEN and not call.path.startswith(STATIC):
            if request.method in ("GET", "HEAD") and not wants_json(request):
                return RedirectResponse(OPEN, status_code=303)
            status = 401
        elif call.announced > call.most:
            status = 413
        return await run_in_threadpool(self.refused, request, status) if status else None

    def _is_ours(self, host: str) -> bool:
        """Another name may be a stranger's that was made to lead here, to reach the page from within a browser."""
        found = re.fullmatch(r"([a-z0-9.-]+)(?::[0-9]{1,5})?", host.lower())
        return found is not None and found[1] in self.studio.hosts


class _Call:
    """One request: how much of it was read, whether it was answered, and the headers of the answer."""

    def __init__(self, scope: Scope, receive: Receive, send: Send, under_way: Sequence[_Call]) -> None:
        headers = Headers(scope=scope)
        length = headers.get("content-length", "0")
        self.announced = int(length) if length.isdecimal() else 0  # bytes
        self.unread = self.announced > 0 or "transfer-encoding" in headers
        self.answered, self.read, self.most = False, 0, STRANGER
        # Not the path of `request.url`, which is put together with what the sender says is our name.
        self.path: str = scope["path"]
        self._lasting = self.path.startswith(STATIC) and scope["query_string"].startswith(b"v=")
        self._receive, self._send, self._under_way = receive, send, under_way

    async def receive(self) -> Message:
        """The next part of the body; HTTPException 413 where it is more than may be sent, 503 where all is too much."""
        message = await self._receive()
        self.unread = bool(message.get("more_body", False))  # nor does anything follow when the sender is gone
        self.read += len(message.get("body", b""))
        if self.read > self.most and not self.answered:
            raise HTTPException(413)
        before = self._under_way[: self._under_way.index(self)]  # whoever came first is served
        if self.read + sum(call.read for call in before) > TOGETHER and not self.answered:
            raise HTTPException(503)
        return message

    async def send(self, message: Message) -> None:
        """Pass the answer on; if the request was not read to its end, hang up after it."""
        if message["type"] == "http.response.start":
            self.answered = True
            self._add_headers(MutableHeaders(scope=message), message["status"])
        elif self.unread and not message.get("more_body", False):
            # A line that is cut while the sender still sends takes the answer with it.
            await self._send({**message, "more_body": True})
            await self._throw_away()
            message = {"type": "http.response.body", "body": b""}
        await self._send(message)

    def _add_headers(self, headers: MutableHeaders, status: int) -> None:
        for name, value in HEADERS.items():
            headers.setdefault(name, value)
        headers.setdefault("Cache-Control", LASTING if self._lasting and status in (200, 304) else "no-store")
        if self.unread:
            headers["Connection"] = "close"

    async def _throw_away(self) -> None:
        most = self.read + LINGERED
        with suppress(TimeoutError):
            async with asyncio.timeout(LINGER):
                while self.unread and self.read < most:
                    await self.receive()


def _key(request: Request) -> str:
    """The token in the cookie, or "". Python's own reader may take many seconds for one that is made to be slow."""
    sent = "; ".join(request.headers.getlist("cookie"))
    found = re.search(rf"(?:^|;)\s*{COOKIE}=([A-Za-z0-9_-]{{1,100}})\s*(?:;|$)", sent)
    return found[1] if found else ""


def wants_json(request: Request) -> bool:
    """Whether a script asks, not a person."""
    return "application/json" in request.headers.get("accept", "")


def form_token(request: Request) -> str:
    """What a form of this phone carries in its field `token`; "" for whoever was not let in."""
    key: str = request.state.key
    return hmac.new(key.encode(), b"form", sha256).hexdigest() if key else ""


def posted(view: Handler, stranger: bool = False) -> Endpoint:
    """An endpoint for POST of a view that runs in a thread once its whole form has arrived and is trusted.

    `stranger` is for the one form that is sent before there is a cookie. Refused are forms of another page (403),
    too much (413), what takes too long (408), and what cannot be read (400).
    """

    @wraps(view)
    async def endpoint(request: Request) -> Response:
        if not _from_here(request):
            raise HTTPException(403)
        try:
            form = await _form(request)
        except ClientDisconnect:
            return Response(status_code=400)  # nobody is there to read it
        try:
            if not stranger:
                _check_token(request, form)
            _check_files(form)
            return await run_in_threadpool(view, request, form)
        finally:
            await form.close()

    return endpoint


async def _form(request: Request) -> FormData:
    try:
        async with asyncio.timeout(READING if request.state.phone else HURRY):
            # A browser sends an empty part for each field of files that was left empty; those are counted too.
            return await request.form(max_files=FILES + 8, max_fields=FIELDS, max_part_size=FIELD)
    except TimeoutError as error:
        raise HTTPException(408) from error
    except ValueError as error:  # such as a sender's set of signs that cannot be read
        raise HTTPException(400) from error
    except OSError as error:
        if error.errno != errno.ENOSPC:
            raise
        raise UsageError("not-stored", "make-room", cause=disk_cause(error)) from error


def _from_here(request: Request) -> bool:
    """Whether a browser says that the form was on a page of ours; other programs say nothing, and need the token."""
    origin = request.headers.get("origin")
    if origin is None:
        return request.headers.get("sec-fetch-site", "same-origin") == "same-origin"
    return origin.lower() == f"{request.url.scheme}://{request.url.netloc}".lower()


def _check_token(request: Request, form: FormData) -> None:
    sent, right = form.get("token"), form_token(request)
    if not (right and isinstance(sent, str) and hmac.compare_digest(sent.encode(errors="replace"), right.encode())):
        raise HTTPException(403)
    if studio_of(request).phones.known(request.state.key) is None:  # it was removed while it sent
        raise HTTPException(401)


def _check_files(form: FormData) -> None:
    files = [value for _, value in form.multi_items() if isinstance(value, UploadFile) and value.filename]
    if len(files) > FILES or any((file.size or 0) > FILE for file in files):
        raise HTTPException(413)
