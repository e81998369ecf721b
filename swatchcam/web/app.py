"""The pages put together into one application.

A stranger's file is opened elsewhere: `jobs` runs in child processes with limits of time and memory, and what comes
back is a `Sitting`, the strips without their pixels, enough to judge, keep and mix by. So pages answer at once, and
the library is written by the server alone. Everything that was sent lies in the inbox, whole, and after a power cut
what waits is done. A form that is sent twice is kept once: the second time it finds the record that it made. Pages
show the dicts of the command line and work nothing out themselves. There is no hue in `static/style.css` and no inline
style, which the Content-Security-Policy forbids: chips are SVG.
"""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from ..errors import SwatchcamError
from .context import Studio
from .pages import (
    amount,
    changes,
    edits,
    keep,
    mix_form,
    mix_result,
    phones,
    photos,
    records,
    shades,
    shelf,
    staining,
    studio_form,
)
from .render import refusal, refused
from .request_checks import STATIC, Gate

log = logging.getLogger(__name__)


def create_app(studio: Studio) -> Starlette:
    """The page of a studio; its workers run from start-up to shutdown."""
    app = Starlette(
        routes=[
            *phones.routes,
            *photos.routes,
            *keep.routes,
            *staining.routes,
            *shades.routes,
            *records.routes,
            *edits.routes,
            *changes.routes,
            *mix_form.routes,
            *mix_result.routes,
            *amount.routes,
            *studio_form.routes,
            *shelf.routes,
            Mount(STATIC.rstrip("/"), StaticFiles(directory=Path(__file__).with_name("static"), check_dir=False)),
        ],
        middleware=[Middleware(Gate, studio=studio, refused=refused)],
        exception_handlers={SwatchcamError: _on_refusal, HTTPException: _on_status},
        lifespan=_working,
    )
    app.state.studio = studio
    return app


@asynccontextmanager
async def _working(app: Starlette) -> AsyncIterator[None]:
    crew = app.state.studio.crew
    try:
        await run_in_threadpool(crew.start)
        yield
    except Exception:
        log.exception("The page could not be opened")
        raise
    finally:
        await run_in_threadpool(crew.stop)


def _on_refusal(request: Request, error: Exception) -> Response:
    assert isinstance(error, SwatchcamError)
    return refusal(request, error)


def _on_status(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    answer = refused(request, error.status_code)
    answer.headers.update(error.headers or {})
    return answer
