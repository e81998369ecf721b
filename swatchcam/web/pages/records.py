"""Pages: one record with all that was said of it, its photo, and what was said of its batch."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from ...errors import SwatchcamError
from ...library.amend import STAINING_STATES
from ...library.heat_shift import heat_series, pair
from ...library.library import Library
from ...library.records import USUAL_LIGHT, Batch, Record, batch_named, light_of
from ...measurement.stored_colour import PhotoRef
from ...recipes.parser import DROPS, TIPS
from ...recipes.recipe import as_given
from ...recipes.safety import HEAT
from ...report.cautions import care_of_recipes, first_time, heat_in
from ...report.heat_series import heat_series_dict
from ...report.library_records import batch_dict, record_dict
from ...report.library_text import coat_words
from ...report.measurement import GRADE_WORDS
from ...report.plots.heat_plot import heat_plot
from ...text import the_strip
from ..context import Studio, studio_of
from ..render import page
from .changes import done, number_of
from .chips import heat_pairs, record_chip
from .state_fields import FIELDS, WORDS, fields_of_state

SMALL = "small"  # the task, and the folder of the tray that its pictures lie in
LASTING = "private, max-age=31536000, immutable"  # a photo is known by its digest: it never changes


def record(request: Request) -> Response:
    """One record; just kept, it says so first."""
    library = studio_of(request).opened()
    found = library.record(number_of(request, "number"))
    pairs = [one for one in pair(library.records(found.shade)) if found.number in (one.before.number, one.after.number)]
    batch = batch_of(library, found.shade, found.batch)
    care = care_of_recipes([batch.recipe], heat_in([found.state, *(one.after.state for one in pairs)]))
    return page(
        request,
        "record.html.jinja",
        facts=record_dict(found),
        coat=coat_words(record_dict(found)),
        batch=batch_dict(batch),
        done=done(library, request),
        kept="kept" in request.query_params,
        chip=record_chip(found),
        strip=the_strip(found.colour.name),
        grade=GRADE_WORDS.get(found.grade, found.grade),
        photos=[photo for photo in _photos_of(found) if _lies(library, photo.digest)],
        pairs=heat_pairs(reversed(pairs)),
        care=care,
        care_open=first_time(library, care, own=1),
        may_be_aim=found.colour.absolute and light_of(found) == USUAL_LIGHT and not found.let_down,
        states=WORDS,
        said=dict.fromkeys(FIELDS, "") | fields_of_state(found.state),
        stained_by=found.state.name if found.state.name in STAINING_STATES else "",
    )


def photo(request: Request) -> Response:
    """A small picture of a photo that a record rests on; what cannot be shown is not there."""
    studio = studio_of(request)
    library = studio.opened()
    digests = {one.digest for one in _photos_of(library.record(number_of(request, "number")))}
    digest = request.path_params["digest"]
    if digest not in digests:
        raise HTTPException(404)
    try:
        file = _small(studio, library, digest)
    except SwatchcamError as error:
        raise HTTPException(404) from error
    return FileResponse(file, media_type="image/jpeg", headers={"Cache-Control": LASTING})


def batch(request: Request) -> Response:
    """What was said of a batch, to be said better."""
    library = studio_of(request).opened()
    asked = request.query_params
    found = batch_of(library, asked.get("shade", ""), asked.get("batch", ""))
    heating = [heat_series_dict(series) for series in heat_series(library.records(found.shade, found.name))]
    return page(
        request,
        "batch.html.jinja",
        shade=found.shade,
        facts=batch_dict(found),
        fields=fields_of(found),
        heating=[(facts, Markup(heat_plot(facts))) for facts in heating],
        care=(care := care_of_recipes([found.recipe], {HEAT} if heating else ())),
        care_open=first_time(library, care),
    )


def batch_of(library: Library, shade: str, name: str) -> Batch:
    """The batch of that name, of a shade.

    Raises
    ------
    UsageError
        There is no such shade, or no such batch of it.
    """
    found = library.shade(shade)
    return batch_named(library.batches(found.name), found.name, name)


def fields_of(batch: Batch) -> dict[str, str]:
    """What the form of a batch is filled with: as it was given, so that what is left as it is changes nothing."""
    parts = batch.recipe.parts if batch.recipe else ()
    each = {part.unit: f"{part.grams / part.amount:.10g}" for part in parts}
    return {
        "recipe": "\n".join(as_given(part) for part in parts),
        "drop": each.get(DROPS, ""),
        "tip": each.get(TIPS, ""),
        "ink": batch.ink,
        "mixed": batch.mixed,
        "new_name": batch.name,
        "notes": batch.notes,
    }


def _photos_of(record: Record) -> tuple[PhotoRef, ...]:
    """Those of the strip, then those of the cloth that it stained."""
    return (*record.photos, *(record.staining.photos if record.staining else ()))


def _lies(library: Library, digest: str) -> bool:
    try:
        library.photos.path(digest)
    except SwatchcamError:
        return False
    return True


def _small(studio: Studio, library: Library, digest: str) -> Path:
    """Made by a worker, once: a photo is a stranger's file."""
    target = studio.tray.folder / SMALL / f"{digest}.jpg"
    if not target.is_file():
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        studio.crew.do(SMALL, {"path": str(library.photos.path(digest)), "target": str(target)})
    return target


routes = [
    Route("/record/{number}", record),
    Route("/record/{number}/photo/{digest}.jpg", photo),
    Route("/batch", batch),
]
