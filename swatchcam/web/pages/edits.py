"""Forms: what was said of a shade, a batch or a record, said better; each leads to the page that shows it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ...colorimetry.lab_text import parse_lab
from ...errors import UsageError
from ...library.amend import amend_batch, amend_record, judge_shade, note_shade, tag_shade, target_meant
from ...library.changes import merge_shades, remove_record, remove_shade, rename_shade, set_target
from ...library.library import Library
from ...library.records import MOST_WASHES, STATES, WASHED, State
from ...measurement.pot_verdict import POT, STRIPS
from ...recipes.recipe import parse_recipe
from ...text import key
from ..context import studio_of
from ..forms import SHOWN, WEIGHTS, choice, number_or_none, text, texts, weights, whole_or_none
from ..request_checks import posted
from .changes import LAST, led, number_of
from .records import batch_of, fields_of
from .spelling import asking
from .state_fields import FOR_STATE, TREATMENTS, WASHES, state_said, treatment_said

LONG = 2000  # letters of notes and recipes
# Fields of the form -> what the page calls them, and what `amend_record` does.
OF_A_RECORD = {
    "mark": ("Written on the strip", "mark"),
    "cloth": ("Cloth", "cloth"),
    "mesh": ("Mesh", "mesh"),
    "squeegee": ("Squeegee and pulls", "squeegee"),
    "coat": ("Wet ink by weight", "coat"),
    "let_down": ("Let down with parts of clear base", "let_down"),
    "light": ("Light", "light"),
    "measured": ("Day of the photo", "measured"),
    "notes": ("Notes", "notes"),
}
OF_A_BATCH = {"new_name": "Name of the batch", "mixed": "Day it was mixed", "ink": "Ink", "notes": "Notes"}
LARGEST = 100.0  # CIEDE2000 of a tolerance: black is as far from white


def target(request: Request, form: FormData) -> Response:
    """The colour that a shade shall have, as numbers or by a record, the state it is for, and its tolerance."""
    library, name = studio_of(request).opened(), _shade(form)
    typed, record = text(form, "lab", label="L*, a*, b*"), whole_or_none(form, "record", most=LAST)
    tolerance = number_or_none(form, "tolerance", "", least=0.01, most=LARGEST)
    if typed and record is not None:
        raise UsageError("numbers-and-record", "give-only-one")
    said = state_said(form, FOR_STATE) if record is None else None  # a record's own state is the target's
    said = None if said == library.shade(name).target_state else said
    if not typed and record is None and tolerance is None and said is None:
        raise _nothing()
    wanted, state = target_meant(library, parse_lab(typed) if typed else None, record, said, tolerance)
    return led(set_target(library, name, wanted, tolerance, state), "/shade", {"name": name})


def judge(request: Request, form: FormData) -> Response:
    """Whose verdict counts when a shade is checked."""
    library, name = studio_of(request).opened(), _shade(form)
    return led(judge_shade(library, name, POT if form.get("pot") else STRIPS), "/shade", {"name": name})


def tags(request: Request, form: FormData) -> Response:
    """Tags that are put on, with commas between; or those that are ticked, taken off."""
    library, name = studio_of(request).opened(), _shade(form)
    off = texts(form, "off")
    given = off or [tag.strip() for tag in text(form, "tags").split(",") if tag.strip()]
    if not given:
        raise _nothing()
    return led(tag_shade(library, name, given, remove=bool(off)), "/shade", {"name": name})


def notes(request: Request, form: FormData) -> Response:
    """Notes in place of those that stood there."""
    library, name = studio_of(request).opened(), _shade(form)
    noted = text(form, "notes", longest=LONG, lines=True)
    return led(note_shade(library, name, noted), "/shade", {"name": name})


def rename(request: Request, form: FormData) -> Response:
    """Another name for a shade."""
    library, name = studio_of(request).opened(), _shade(form)
    fresh = text(form, "new_name", needed=True, label="New name")
    if fresh == library.shade(name).name:
        raise _unchanged()
    if key(fresh) != key(name) and _is_there(library, fresh):
        raise UsageError("shade-name-taken", "choose-another-name-or-merge", name=fresh)
    return led(rename_shade(library, name, fresh), "/shade", {"name": fresh})


def merge(request: Request, form: FormData) -> Response:
    """All batches of a shade to another one, which is the same colour."""
    library, name = studio_of(request).opened(), _shade(form)
    into = text(form, "into", needed=True, label="The other shade")
    return led(merge_shades(library, name, into), "/shade", {"name": into})


def remove(request: Request, form: FormData) -> Response:
    """Take a shade out with all its records."""
    library = studio_of(request).opened()
    return led(remove_shade(library, _shade(form)), "/shades")


def batch(request: Request, form: FormData) -> Response:
    """What a batch is: its name, recipe, ink and day."""
    library, name = studio_of(request).opened(), _shade(form)
    found = batch_of(library, name, text(form, "batch", needed=True))
    was = fields_of(found)
    said: dict[str, Any] = {field: _fresh(form, field, label, was[field]) for field, label in OF_A_BATCH.items()}
    recipe = _fresh_recipe(form, was)
    if not recipe and not any(said.values()):
        raise _unchanged()
    if recipe:
        grams = weights(form)
        parse_recipe(recipe, *grams.values())  # or it might be taken for the name of a file on this computer
        said |= {"recipe": recipe} | grams
    return led(amend_batch(library, name, found.name, **said), "/shade", {"name": name})


def _fresh_recipe(form: FormData, was: Mapping[str, str]) -> str:
    """The recipe, if it or what a drop of it weighs was changed."""
    changed = _fresh(form, "recipe", "What is in the pot", was["recipe"])
    typed = [(text(form, field), was.get(field, "")) for field, _, _ in WEIGHTS]
    if changed or all(now in ("", before) for now, before in typed):
        return text(form, "recipe", longest=LONG, lines=True) if changed else ""
    return was["recipe"]


def record(request: Request, form: FormData) -> Response:
    """What a record is of."""
    library, number = studio_of(request).opened(), number_of(request, "number")
    found = library.record(number)
    state = _fresh_state(form, found.state)
    # What was weighed on what is not kept, only what came of it: that field stands empty.
    was = vars(found) | {"coat": "", "let_down": f"{found.let_down:g}" if found.let_down else ""}
    said = {column: _fresh(form, field, label, was[column]) for field, (label, column) in OF_A_RECORD.items()}
    if not state and not any(said.values()):
        raise _unchanged()
    return led(amend_record(library, number, state=state, **said), f"/record/{number}")


def _fresh_state(form: FormData, was: State) -> str:
    """What was done to the strip, if that was changed; a number of washes alone says that it was washed."""
    chosen = choice(form, "state", STATES, default=was.name, label="The strip was")
    typed = whole_or_none(form, WASHES[0], most=MOST_WASHES, label=WASHES[1])
    washes = None if typed == was.washes else typed
    if washes and chosen not in (WASHED, was.name):
        raise UsageError("washed-and-not", "choose-washed-or-empty-it", state=chosen, washes=washes)
    chosen = WASHED if washes else chosen
    count = (washes or was.washes or 1) if chosen == WASHED else 0
    # A phone's form of an earlier version has no field for how it was done: then that stays.
    asked = chosen in TREATMENTS and TREATMENTS[chosen][0] in form
    how = treatment_said(form, chosen) if asked else was.how if chosen == was.name else ""
    fresh = State(chosen, count, how)
    return "" if fresh == was else str(fresh)


def _fresh(form: FormData, field: str, label: str, was: str) -> str:
    """What was typed in a field that was filled with `was`; "" where that was left as it was."""
    lines = field == "notes"
    typed = text(form, field, longest=LONG, label=label, lines=lines)
    if field not in form or typed == (was.strip() if lines else " ".join(was.split())):
        return ""
    if not typed:
        raise UsageError("field-emptied", "write-what-is-right", field=label, was=was[:SHOWN])
    return typed


def remove_one(request: Request, form: FormData) -> Response:
    """Take a record out."""
    library, number = studio_of(request).opened(), number_of(request, "number")
    shade = library.record(number).shade
    return led(remove_record(library, number), "/shade", {"name": shade})


def _shade(form: FormData) -> str:
    return text(form, "name", needed=True, label="Shade")


def _is_there(library: Library, name: str) -> bool:
    return key(name) in {key(shade.name) for shade in library.shades()}


def _nothing() -> UsageError:
    return UsageError("nothing-filled-in", "fill-in-the-change")


def _unchanged() -> UsageError:
    return UsageError("nothing-changed", "write-over-what-is-wrong")


routes = [
    Route("/shade/target", posted(target), methods=["POST"]),
    Route("/shade/judge", posted(judge), methods=["POST"]),
    Route("/shade/tags", posted(tags), methods=["POST"]),
    Route("/shade/notes", posted(notes), methods=["POST"]),
    Route("/shade/rename", posted(rename), methods=["POST"]),
    Route("/shade/merge", posted(merge), methods=["POST"]),
    Route("/shade/remove", posted(remove), methods=["POST"]),
    Route("/batch", posted(asking(batch)), methods=["POST"]),
    Route("/record/{number}/amend", posted(record), methods=["POST"]),
    Route("/record/{number}/remove", posted(remove_one), methods=["POST"]),
]
