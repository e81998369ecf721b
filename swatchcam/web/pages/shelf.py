"""Pages: what is left on the shelf, in pots, pre-mixes and bottles; what is weighed or taken is noted with one tap."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Sequence
from threading import Lock
from typing import Any
from urllib.parse import urlencode

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ...errors import SwatchcamError, UsageError
from ...library.changes import Change
from ...library.library import Library
from ...library.proposals import PIGMENT, POT, PRE_MIX, Kind
from ...library.shelf.ledger import Holding, holding, holdings, take, weigh_left
from ...recipes.scale_resolution import FINE_G, as_read
from ...report.said import age_dict, age_words
from ...text import key
from ..context import Studio, studio_of
from ..forms import choice, number, text
from ..render import REFUSAL, page
from ..request_checks import posted
from .changes import done, led, number_in

KINDS: dict[str, tuple[Kind, str]] = {
    "pot": (POT, "Pots"),
    "pre-mix": (PRE_MIX, "Pre-mixes"),
    "pigment": (PIGMENT, "Pigments and clear base"),
}
AT_ONCE = 20  # of a kind, on one page
FEW = 12  # things that nobody needs to search among
LEFT, TAKEN = "left", "taken"
MOST_G = 1e6  # as the ledger takes it
REMEMBERED = 500  # forms that were sent last
_SENT: OrderedDict[str, Change] = OrderedDict()  # key of a form, and what it said -> what that did
_WRITING = Lock()  # what was sent already is looked up and then written: a form may arrive twice


def listed(request: Request) -> Response:
    """What is on the shelf, or what of it fits the search; of one kind, further on, where that is asked for."""
    studio, asked = studio_of(request), request.query_params
    library, typed = studio.found(), asked.get("text", "").strip()
    every = holdings(library) if library else []
    fit = _fitting(every, typed)
    only = asked.get("of", "")
    if only and only not in KINDS:
        raise HTTPException(404)
    return page(
        request,
        "shelf.html.jinja",
        text=typed,
        only=only,
        found=len(fit),
        many=len(every) > FEW,
        further=further,
        parts=[_part(studio, fit, kind, only, asked.get("after", "")) for kind in KINDS if only in ("", kind)],
    )


def show(request: Request) -> Response:
    """One pot, pre-mix or bottle."""
    return _one(request, FormData())


def note(request: Request, form: FormData) -> Response:
    """Note what is left of it, or what was taken; a form that arrives twice counts once."""
    library = studio_of(request).opened()
    what = _holding(library, request)
    try:
        with _WRITING:
            noted = _noted(library, what, form)
    except SwatchcamError as error:
        return _one(request, form, error)
    return led(noted, place_of(what))


def _noted(library: Library, what: Holding, form: FormData) -> Change:
    how = choice(form, "how", (LEFT, TAKEN), label="What you weighed")
    grams = number(form, "grams", "g", most=MOST_G, label="Weight")
    # Another weight under the same key, from a page gone back to, is another.
    sent = "|".join((key_sent, place_of(what), how, repr(grams))) if (key_sent := text(form, "key")) else ""
    if sent in _SENT:
        return _SENT[sent]
    found = weigh_left(library, what, grams) if how == LEFT else take(library, what, grams)
    if sent:
        _SENT[sent] = found
        if len(_SENT) > REMEMBERED:
            _SENT.popitem(last=False)
    return found


def _one(request: Request, said: FormData, error: SwatchcamError | None = None) -> Response:
    studio = studio_of(request)
    library = studio.opened()
    what = _holding(library, request)
    return page(
        request,
        "holding.html.jinja",
        status=REFUSAL if error else 200,
        what=what,
        told=told(what, studio.today()),
        said=said,
        key=secrets.token_hex(16),
        problem=error,
        done=done(library, request),
    )


def _holding(library: Library, request: Request) -> Holding:
    """What the address names.

    Raises
    ------
    UsageError
        It is not on the shelf, or no longer.
    """
    of, which = request.path_params["of"], number_in(request.path_params["number"])
    if of not in KINDS or which is None:
        raise HTTPException(404)
    found = holding(library, KINDS[of][0], which)
    if found is None:
        raise UsageError("not-on-the-shelf", "choose-what-is-there")
    return found


def _fitting(every: Sequence[Holding], typed: str) -> list[Holding]:
    """Those in whose names every word that was typed occurs."""
    words = key(typed).split()
    return [one for one in every if all(word in key(f"{one.shade} {one.name} {one.lot}") for word in words)]


def _part(studio: Studio, fit: Sequence[Holding], kind: str, only: str, after: str) -> dict[str, Any]:
    """Those of a kind: as many as fit on the page, and where the others are."""
    of, heading = KINDS[kind]
    those = [one for one in fit if one.of == of]
    first = (number_in(after) or 0) if only else 0
    shown = those[first : first + AT_ONCE]
    return {
        "kind": kind,
        "heading": heading,
        "count": len(those),
        "shown": [(one, told(one, studio.today())) for one in shown],
        "first": first,
        "next": first + AT_ONCE if first + AT_ONCE < len(those) else None,
        "before": max(first - AT_ONCE, 0) if first else None,
    }


def told(what: Holding, today: str) -> dict[str, str]:
    """What it is called, what is left of it, and how old it is; in words."""
    name = f"{what.shade}, batch {what.name}" if what.of == POT else what.name
    left = "not weighed yet" if what.grams is None else f"{as_read(what.grams, FINE_G)} g left"
    if what.beyond:
        left = "more was taken than was known to be there, so weigh it"
    return {"name": name, "left": left, "age": age_words(age_dict(what.mixed, today)), "path": place_of(what)}


def place_of(what: Holding) -> str:
    """The address of its page."""
    return f"/shelf/{what.of}/{what.number}"


def further(part: dict[str, Any], text: str, after: int) -> str:
    """The address of the same kind, from the one with this place on."""
    return "/shelf?" + urlencode({"of": part["kind"], "text": text, "after": after})


routes = [
    Route("/shelf", listed),
    Route("/shelf/{of}/{number}", show),
    Route("/shelf/{of}/{number}", posted(note), methods=["POST"]),
]
