"""Pages: a drawdown on the tray is kept in the library, once, however often the form arrives."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from markupsafe import Markup
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from ..entry import Entry, entry_of
from ..errors import SwatchcamError
from ..keeping import origin_of, prepare, put
from ..library import Library
from ..plots import swatch
from ..recipe import DROP_G, SCALE_G, TIP_G, Recipe, parse_recipe
from ..record import AIR_DRIED, HEAT_SET, WASHED, WET, Record, key
from ..sitting import Sitting
from .answer import PHOTO, sitting_on
from .forms import choice, number_or_none, text, whole_or_none
from .gate import posted
from .judge import strip_words
from .studio import item_of, studio_of
from .view import REFUSAL, page

WORDS = ("label", "cloth", "mesh", "squeegee", "lamp", "ink")  # short things that may be said of a drawdown
DAYS = ("mixed", "measured")
STAGES = {
    AIR_DRIED: "air-dried",
    HEAT_SET: "heat-set",
    WASHED: "washed",
    WET: "still wet",
}
FIELDS = ("shade", "batch", "stage", "washes", "recipe", "scale", "drop", "tip", "notes", *WORDS, *DAYS)
NOTES = 2000  # letters


def ask(request: Request) -> Response:
    """What is to be said of the drawdown."""
    return _form(request, {"shade": item_of(request, PHOTO).asked.get("shade", "")})


def keep(request: Request, form: FormData) -> Response:
    """Keep it, and go to its record; a form that arrives again leads to the record that is there."""
    item, studio = item_of(request, PHOTO), studio_of(request)
    sitting = sitting_on(item)
    strip = sitting.drawdown(text(form, "strip")).name
    try:
        entry = _entry(form)
        library = studio.opened(create=True)
        record = _there(library, sitting, strip, entry) or put(library, prepare(sitting, strip, entry))
    except SwatchcamError as error:
        return _form(request, {name: value for name, value in form.items() if isinstance(value, str)}, error)
    return RedirectResponse(f"/record/{record.number}?kept=1", 303)


def _entry(form: FormData) -> Entry:
    stage = choice(form, "stage", tuple(STAGES), default=AIR_DRIED)
    if stage == WASHED:
        stage = f"{WASHED} {whole_or_none(form, 'washes', most=999) or 1}"
    said: dict[str, Any] = {name: text(form, name, longest=NOTES) for name in (*WORDS, *DAYS)}
    notes = text(form, "notes", longest=NOTES, lines=True)
    entry = entry_of(text(form, "shade", needed=True), stage, batch=text(form, "batch"), **said)
    return replace(entry, recipe=_recipe(form), notes=notes)


def _recipe(form: FormData) -> Recipe | None:
    """What was typed; unlike on the command line never the name of a file, which would be one of the computer's."""
    written = text(form, "recipe", longest=NOTES, lines=True)
    weights = (("scale", "scale's step", SCALE_G), ("drop", "one drop", DROP_G), ("tip", "one spoon tip", TIP_G))
    grams = [number_or_none(form, name, "g", label=label) or usual for name, label, usual in weights]
    return parse_recipe(written, *grams) if written else None


def _there(library: Library, sitting: Sitting, strip: str, entry: Entry) -> Record | None:
    """The record that this form made when it arrived before: the same drawdown, said to be the same."""
    for record in library.records(digest=sitting.digest):
        if origin_of(record.photos[0].digest, record.colour.name) != origin_of(sitting.digest, strip):
            continue
        batch = key(entry.batch) in ("", key(record.batch))
        if batch and key(record.shade) == key(entry.shade) and record.stage == entry.stage:
            return record
    return None


def _form(request: Request, said: dict[str, str], error: SwatchcamError | None = None) -> Response:
    item, studio = item_of(request, PHOTO), studio_of(request)
    sitting = sitting_on(item)
    strip = sitting.drawdown(said.get("strip") or request.query_params.get("strip")).name
    library = studio.found()
    last = library.latest() if library else {}
    facts: dict[str, Any] = {
        "item": item,
        "strip": strip,
        "name": strip_words(strip),
        "drawn": Markup(swatch(sitting.drawdown(strip).lab, strip_words(strip), size=(400, 160))),
        "said": dict.fromkeys(FIELDS, "") | said,
        "problem": error,
        "shades": [shade.name for shade in library.shades()] if library else [],
        "batches": {name: record.batch for name, record in last.items()},
        "stages": STAGES,
    }
    return page(request, "keep.html.jinja", status=REFUSAL if error else 200, **facts)


routes = [
    Route("/photo/{id}/keep", ask),
    Route("/photo/{id}/keep", posted(keep), methods=["POST"]),
]
