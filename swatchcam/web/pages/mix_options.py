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
from ...library.proposals import POT
from ...library.records import DRY, HEAT_SET, STATES, WET, Batch, Record, State, of_the_ink
from ...library.search import cloths_noted
from ...library.shelf.ledger import holdings
from ...mixing.pot_lookup import on_the_shelf
from ...mixing.target import of_shade
from ...recipes.recipe import BINDER
from ...report.plots.colour_plots import chip
from ...text import key, the_strip
from ..context import Studio
from ..render import moment
from .chips import filled
from .mix_question import OF_THE_STRIP
from .pot_strip import RECENT, RECORD, SHADE, InHand, cloth_of, cloths_of, in_hand, measured, record_of
from .result import pot_of, records_on, sitting_on
from .state_fields import FIELDS, FOR_STATE, asked_state, state_typed

SMALL = (80, 64)  # px
OFFERED = 40  # old pots that may be ticked
Facts = dict[str, Any]
Known = Sequence[tuple[Record, Batch]]  # of `with_recipe`, read once for a page


def offered(library: Library, known: Known) -> Facts:
    """For each form: shades, states of a target, cloths, and pigments and inks of the strips whose recipe is `known`.

    What the pigments do is not learned for that: it takes too long for a page. To a cloth on which nothing is known
    they can be carried over, so all may be chosen that were ever noted.
    """
    cloths = cloths_of(known)
    records, used = [record for record, _ in known], [batch for _, batch in known]
    whats = [part.what for batch in used if batch.recipe for part in batch.recipe.parts if part.what != BINDER]
    kinds = {record.state.kind for record in records if record.state.name != WET} | {DRY, State(HEAT_SET)}
    return {
        "shades": [shade.name for shade in library.shades()],
        "pigments": _once(whats),
        "cloths": _once([*cloths, *cloths_noted(library)]),
        "several": len(cloths) > 1,
        "nameless": len(cloths) > 1 and not all(record.cloth for record, _ in known),  # those are on none of them
        "for_state": FOR_STATE,
        "target_states": [str(kind) for kind in sorted(kinds, key=lambda kind: kind.order)],
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
    shade, (kind, _, rest) = str(said.get("shade", "")), like.partition(":")
    own = _of_a_shade(library, shade, known)
    # What stands in the list beside a name; of the other shades it would take too long to look up.
    aims = {one.name: one.target_state.short for one in library.shades() if one.target_state}
    aims |= {library.shade(shade).name: own["aim_state"]} if own["aim_state"] else {}
    if kind == "record" and like in strips:
        aims[like] = record_of(library, rest).state.short
    photo, _, name = rest.partition(":")
    tapped = _state_of(studio, library, photo, name) if kind == "photo" else None
    return "recipe.html.jinja", {"strips": strips, "aims": aims, "tapped": tapped.short if tapped else ""} | own


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
        "of_the_strip": OF_THE_STRIP,
        "strip_asked": None if pot.record else _strip_asked(studio, library, said),
        "aims": _aims(library, pot),
        "left": pots_left(library).get(pot.batch.number) if pot.batch else None,
    }


def for_again(_studio: Studio, library: Library, said: FormData, known: Known) -> tuple[str, Facts]:
    """The form that mixes a shade again; a list of shades where none was named."""
    name = str(said.get("shade", ""))
    if not name:
        mixed = _by_shade([batch for batch in library.batches() if batch.recipe])
        return "which_shade.html.jinja", {"mixed": list(mixed)}
    shade = library.shade(name)
    batches = [batch for batch in library.batches(shade.name) if batch.recipe]
    own = _of_a_shade(library, shade.name, known)
    facts = {"shade": shade.name, "batches": batches[::-1], "left": pots_left(library)}
    return "mix_again.html.jinja", facts | own


def for_use_up(_studio: Studio, library: Library, said: FormData, known: Known) -> tuple[str, Facts]:
    """The form that makes something of what is left of old pots; the newest first, and those that were named."""
    there, named = on_the_shelf(library), said.getlist("pots")
    listed = [one for at, one in enumerate(reversed(there)) if at < OFFERED or str(one[0].number) in named]
    own = _of_a_shade(library, str(said.get("shade", "")), known)
    return "use_up.html.jinja", {"rests": listed, "more": len(there) - len(listed)} | own


def _of_a_shade(library: Library, name: str, known: Known) -> Facts:
    """What a fresh pot of a shade would be mixed for, as far as it is known; "" where it is not.

    That is its cloth, in words what is taken for its target where it has none, and what was done to the cloth that has
    that colour, as it was typed and short.
    """
    found = {"cloth_of_it": cloth_of(library, name, cloths_of(known)), "taken": "", "aim": "", "aim_state": ""}
    with suppress(SwatchcamError):
        shade = library.shade(name)
        aim = of_shade(library, shade)
        found["taken"] = "" if shade.target else aim.words
        found |= {"aim": str(aim.state), "aim_state": aim.state.short} if aim.state else {}
    return found


def _aims(library: Library, pot: InHand) -> dict[str, str]:
    """Those of a pot's targets of which the library knows what was done to their cloth -> that, in words."""
    found = {f"{RECORD}:{one.number}": one.state for one in pot.beside}
    with suppress(SwatchcamError):
        aim = of_shade(library, library.shade(pot.record.shade), but=pot.record.batch) if pot.record else None
        found |= {SHADE: aim.state} if aim and aim.state else {}
    return {target: str(state) for target, state in found.items() if target in pot.targets}


def _state_of(studio: Studio, library: Library, photo: str, strip: str) -> State | None:
    """What was done to a strip on the tray, as it is kept, or as was said when its photo was sent."""
    with suppress(SwatchcamError):
        item = studio.tray.item(photo)
        sitting = sitting_on(item)
        kept = records_on(library, sitting).get(sitting.strip_named(strip or None).name)
        return kept.state if kept else state_typed(item.asked.get("state", ""))
    return None


def _strip_asked(studio: Studio, library: Library, said: FormData) -> Facts:
    """What the form needs that asks what was done to the pot's strip; air-dried, unless something else was said."""
    photo, typed = str(said.get("photo", "")), str(said.get("state", ""))
    state = state_typed(typed) or _state_of(studio, library, photo, str(said.get("strip", ""))) or DRY
    asked = asked_state(library, str(studio.tray.item(photo).asked.get("shade", "")), state)
    own = {name: str(said[name]) for name in FIELDS[1:] if name in said}
    return asked | {"said": asked["said"] | own | ({"state": typed} if typed in STATES else {})}


def pots_left(library: Library) -> dict[int, float | None]:
    """Number of a batch -> g that are left of it, of the pots on the shelf."""
    return {one.number: one.grams for one in holdings(library) if one.of == POT}


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
