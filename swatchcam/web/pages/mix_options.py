"""What may be chosen in the forms of the mixing table: shades, strips, pots, pigments."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import Any

from markupsafe import Markup
from starlette.datastructures import FormData

from ...colorimetry.cielab import Lab
from ...errors import SwatchcamError
from ...library.library import Library
from ...library.records import DRY, Batch, Record, of_the_ink
from ...mixing.target import of_shade
from ...recipes.recipe import BINDER
from ...report.plots.colour_plots import chip
from ...text import key, the_strip
from ..context import Studio
from ..render import moment
from .chips import filled
from .pot_strip import RECENT, cloth_of, cloths_of, in_hand, measured, record_of
from .result import pot_of

SMALL = (80, 64)  # px
Facts = dict[str, Any]
Known = Sequence[tuple[Record, Batch]]  # of `with_recipe`, read once for a page


def offered(library: Library, known: Known) -> Facts:
    """For each form: shades, and pigments, cloths, states and inks of the strips whose recipe is `known`.

    What the pigments do is not learned for that: it takes too long for a page.
    """
    cloths = cloths_of(known)
    records, used = [record for record, _ in known], [batch for _, batch in known]
    whats = [part.what for batch in used if batch.recipe for part in batch.recipe.parts if part.what != BINDER]
    states = sorted({record.state.kind for record in records} | {DRY}, key=lambda state: state.order)
    return {
        "shades": [shade.name for shade in library.shades()],
        "pigments": _once(whats),
        "cloths": [cloth for cloth in cloths if cloth],
        "several": len(cloths) > 1,
        "nameless": "" in cloths,  # the bench has no word for those
        "states": [str(state) for state in states],
        "inks": _once([batch.ink for batch in used]),
    }


def for_recipe(studio: Studio, library: Library, said: FormData, known: Known) -> tuple[str, Facts]:
    """The template of the form, and what it shows beside `offered`; so are the others."""
    strips = {
        f"photo:{item.id}:{name}": f"{the_strip(name)}, photo of {moment(item.made)}"
        for item, names in measured(studio.tray)
        for name in names
    }
    like = str(said.get("like", ""))
    if like and like not in strips:
        with suppress(SwatchcamError):  # it may have gone while the form was filled in
            strips = {like: words_of(studio, library, like)} | strips
    shade = str(said.get("shade", ""))
    own = {"cloth_of_it": cloth_of(library, shade, cloths_of(known)), "taken": _taken(library, shade)}
    return "recipe.html.jinja", {"strips": strips} | own


def for_pot(studio: Studio, library: Library, said: FormData, known: Known) -> tuple[str, Facts]:
    """The form for the pot in hand; a list of strips where none was named."""
    pot = in_hand(studio.tray, library, said)
    if pot is None:
        last = of_the_ink(record for record, _ in known)[: -RECENT - 1 : -1]
        choice = {
            "photos": [
                (item, name, the_strip(name), small_chip(lab, the_strip(name)))
                for item, strips in measured(studio.tray)
                for name, lab in reversed(strips.items())
            ],
            "records": [(record, small_chip(record.colour.lab, f"record {record.number}")) for record in last],
        }
        return "which.html.jinja", choice
    pots = _by_shade([batch for batch in library.batches() if batch.recipe])
    return "correct.html.jinja", {
        "pot": pot,
        "drawn": filled(pot.colour.lab, pot.words),
        "pots": pots,
        "likely": _likely(studio, pots, said),
    }


def for_again(_studio: Studio, library: Library, said: FormData, known: Known) -> tuple[str, Facts]:
    """The form that mixes a shade again; a list of shades where none was named."""
    name = str(said.get("shade", ""))
    if not name:
        mixed = _by_shade([batch for batch in library.batches() if batch.recipe])
        return "which_shade.html.jinja", {"mixed": list(mixed)}
    shade = library.shade(name)
    batches = [batch for batch in library.batches(shade.name) if batch.recipe]
    own = {"cloth_of_it": cloth_of(library, shade.name, cloths_of(known)), "taken": _taken(library, shade.name)}
    return "mix_again.html.jinja", {"shade": shade.name, "batches": batches[::-1]} | own


def _taken(library: Library, name: str) -> str:
    """What is taken for the target of a shade that has none, in words; "" where it has one, or there is nothing."""
    with suppress(SwatchcamError):
        shade = library.shade(name)
        return "" if shade.target else of_shade(library, shade, DRY).words
    return ""


def small_chip(lab: Lab, name: str) -> Markup:
    """A small chip that stands at the head of a row."""
    return Markup(chip(lab, name, size=SMALL).replace("<svg ", '<svg class="chip" ', 1))


def words_of(studio: Studio, library: Library, like: str) -> str:
    """A strip that the address names; raises UsageError where it is not there."""
    kind, _, rest = like.partition(":")
    if kind == "record":
        record = record_of(library, rest)
        return f"record {record.number}: {record.shade}, batch {record.batch}"
    photo, _, name = rest.partition(":")
    return f"{the_strip(name)}, photo of {moment(studio.tray.item(photo).made)}"


def _once(names: Sequence[str]) -> list[str]:
    """Each name once, however it is written, in order; not the empty one."""
    return sorted({key(name): name for name in names if name}.values(), key=key)


def _by_shade(batches: Sequence[Batch]) -> dict[str, list[Batch]]:
    """Shade -> its batches, the last one first; first the shade that was mixed last."""
    found: dict[str, list[Batch]] = {}
    for batch in sorted(batches, key=lambda one: -one.number):
        found.setdefault(batch.shade, []).append(batch)
    return found


def _likely(studio: Studio, pots: dict[str, list[Batch]], said: FormData) -> str:
    """The number of the last pot of the shade that the photo was taken for, where that was said."""
    photo = str(said.get("photo", ""))
    asked, library = studio.tray.item(photo).asked if photo else {}, studio.found()
    pot = pot_of(library, asked) if library else None
    if pot:
        own = (batch for batch in pots.get(pot.shade, []) if batch.name == pot.batch)
        return next((str(batch.number) for batch in own), "")
    wanted = key(asked.get("shade") or "")
    return next((str(batches[0].number) for shade, batches in pots.items() if key(shade) == wanted), "")
