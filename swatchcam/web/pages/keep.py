"""Pages: a strip on the tray is kept in the library, once, however often the form arrives."""

from __future__ import annotations

from dataclasses import replace
from threading import Lock
from typing import Any

from markupsafe import Markup
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from ...errors import SwatchcamError, UsageError
from ...library.entry import Entry, day_of, entry_of
from ...library.library import Library
from ...library.records import DRY, Record
from ...library.save import prepare_strips, put_strips
from ...library.shelf.names import SLIP
from ...measurement.summary import Sitting
from ...recipes.recipe import Recipe, parse_recipe
from ...report.plots.colour_plots import chip
from ...text import key, the_strip
from ..context import Studio, item_of, studio_of
from ..forms import FINEST, WEIGHTS, number_or_none, text, weights
from ..render import REFUSAL, page
from ..request_checks import posted
from .result import PHOTO, pot_of, records_on, sitting_on
from .spelling import asking
from .state_fields import FIELDS as OF_THE_STATE
from .state_fields import asked_state, last_kept, state_said, state_typed

WORDS = ("mark", "cloth", "mesh", "squeegee", "light", "ink")  # short things that may be said of a strip
DAYS = ("mixed", "measured")
OF_THE_FILM = ("coat", "let_down")
FIELDS = ("shade", "batch", "recipe", "scale", "drop", "tip", "notes", *WORDS, *DAYS, *OF_THE_FILM)
NOTES = 2000  # letters
_WRITING = Lock()  # what is there already is looked up and then written: a button may be pressed twice


def ask(request: Request) -> Response:
    """What is to be said of the strip; what it was judged as, it is kept as."""
    asked, library = item_of(request, PHOTO).asked, studio_of(request).found()
    pot = pot_of(library, asked) if library else None
    said = {"shade": pot.shade, "batch": pot.batch} if pot else {"shade": asked.get("shade", "")}
    state = state_typed(request.query_params.get("state") or asked.get("state", ""))
    filled = asked_state(library, said["shade"], state)["said"]
    return _form(request, said | filled | {"let_down": request.query_params.get("let_down", "")})


def keep(request: Request, form: FormData) -> Response:
    """Keep it, and go to its record; a form that arrives again leads to the record that is there."""
    item, studio = item_of(request, PHOTO), studio_of(request)
    sitting = sitting_on(item)
    strip = sitting.strip_named(text(form, "strip")).name
    also = [other.name for other in sitting.strips if other.name != strip and form.get(f"also-{other.name}")]
    try:
        record = _put(studio.opened(create=True), sitting, [strip, *also], _entry(studio, form))
    except SwatchcamError as error:
        if error.code == SLIP:
            raise
        return _form(request, {name: value for name, value in form.items() if isinstance(value, str)}, error)
    return RedirectResponse(f"/record/{record.number}?kept=1", 303)


def _put(library: Library, sitting: Sitting, strips: list[str], entry: Entry) -> Record:
    """The first strip's record, that is made with those of the others, or that this form made when it arrived before.

    What was weighed is the first strip; several are marked A, B ...
    """
    with _WRITING:
        there = _there(library, sitting, strips[0], entry)
        if there:
            return there
        others = replace(entry, mark="", coat=None)
        return put_strips(library, prepare_strips(sitting, strips, [entry, *[others] * (len(strips) - 1)]))[0]


def _entry(studio: Studio, form: FormData) -> Entry:
    state = state_said(form, "The strip is") or DRY
    said: dict[str, Any] = {name: text(form, name, longest=NOTES) for name in (*WORDS, *DAYS, *OF_THE_FILM)}
    scale = number_or_none(form, "scale", "g", least=FINEST, label=WEIGHTS[0][1])
    notes = text(form, "notes", longest=NOTES, lines=True)
    entry = entry_of(text(form, "shade", needed=True), str(state), batch=text(form, "batch"), scale=scale, **said)
    _refuse_days_to_come(studio, entry)
    return replace(entry, recipe=_recipe(form), notes=notes)


def _recipe(form: FormData) -> Recipe | None:
    """What was typed; unlike on the command line never the name of a file, which would be one of the computer's."""
    written = text(form, "recipe", longest=NOTES, lines=True)
    grams = weights(form)
    return parse_recipe(written, *grams.values()) if written else None


def _refuse_days_to_come(studio: Studio, entry: Entry) -> None:
    for day in (day_of(entry.mixed, "mixed"), day_of(entry.measured, "measured")):
        if day > studio.today():
            raise UsageError("day-in-future", "correct-the-day", day=day)


def _there(library: Library, sitting: Sitting, strip: str, entry: Entry) -> Record | None:
    """The record of the same strip, if all that is said now is said of it already.

    Raises
    ------
    UsageError
        It was kept under this shade and batch, and something else is said of it now.
    """
    record = records_on(library, sitting).get(strip)
    if record is None or key(record.shade) != key(entry.shade) or key(entry.batch) not in ("", key(record.batch)):
        return None
    batch = next(one for one in library.batches(record.shade) if one.name == record.batch)
    of_strip = ("mark", "cloth", "mesh", "squeegee", "light", "notes", "measured", *OF_THE_FILM)
    before = {name: getattr(record, name) for name in of_strip}
    before |= {name: getattr(batch, name) for name in ("ink", "mixed", "recipe")}
    if record.state == entry.state and all(getattr(entry, name) in ("", None, was) for name, was in before.items()):
        return record
    raise UsageError("strip-kept-before", "correct-the-record", record=record.number)


def _form(request: Request, said: dict[str, str], error: SwatchcamError | None = None) -> Response:
    item, studio = item_of(request, PHOTO), studio_of(request)
    sitting = sitting_on(item)
    strip = sitting.strip_named(said.get("strip") or request.query_params.get("strip")).name
    library = studio.found()
    last = {batch.shade: batch.name for batch in library.batches()} if library else {}
    facts: dict[str, Any] = {
        "item": item,
        "strip": strip,
        "name": the_strip(strip),
        "others": _others(library, sitting, strip),
        "drawn": Markup(chip(sitting.strip_named(strip).lab, the_strip(strip), size=(400, 160))),
        **asked_state(library, said.get("shade", ""), None),
        "said": dict.fromkeys((*FIELDS, *OF_THE_STATE), "") | said,
        "last_kept": _last_kept(library, sitting, said),
        "problem": error,
        "shades": [shade.name for shade in library.shades()] if library else [],
        "batches": last,
    }
    return page(request, "keep.html.jinja", status=REFUSAL if error else 200, **facts)


def _last_kept(library: Library | None, sitting: Sitting, said: dict[str, str]) -> Record | None:
    """The last strip of the shade, or of the batch where it is known: this one may be the same, one state further."""
    if library is None or not said.get("shade"):
        return None
    records = library.records(said["shade"], said.get("batch") or None)
    return last_kept(records, (ref.digest for _, ref in sitting.photos))


def _others(library: Library | None, sitting: Sitting, strip: str) -> dict[str, str]:
    """The other strips of the photo that are not kept yet, and what they are called."""
    kept = records_on(library, sitting) if library else {}
    return {one.name: the_strip(one.name) for one in sitting.strips if one.name not in (strip, *kept)}


routes = [
    Route("/photo/{id}/keep", ask),
    Route("/photo/{id}/keep", posted(asking(keep)), methods=["POST"]),
]
