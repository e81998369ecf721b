"""A form of the mixing table -> the question as JSON that a worker understands (`web.jobs.mixing_task`)."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from starlette.datastructures import FormData, UploadFile

from ...colorimetry.lab_text import parse_lab, plain_lab
from ...errors import UsageError
from ...library.library import Library
from ...library.proposals import AGAIN, CORRECTION, RECIPE, THINNING, USE_UP
from ...library.records import Batch, parse_state
from ...measurement.summary import Sitting, sitting_dict
from ...mixing.order import Order
from ...mixing.pot_lookup import on_the_shelf
from ...mixing.search import MOST
from ...recipes.recipe import SCALE_G
from ...text import key, the_strip
from ..context import Studio
from ..forms import FINEST, choice, number, number_or_none, text, texts, ticked, whole_or_none
from .pot_strip import NUMBERS, SHADE, STRIP, InHand, cloth_of, cloths_of, in_hand, record_of, with_recipe
from .result import sitting_on
from .state_fields import FOR_STATE, state_said
from .studio_form import usual

TypedFields = list[tuple[str, str | UploadFile]]  # as `FormData` takes it

SCALES = (0.01, 0.1, 1.0)  # g, steps of a scale
UNSENT = ("token", "key")  # fields that are not what a person typed
# What a question leaves open.
OPEN: dict[str, Any] = {
    "of": "",  # the pot in hand, for people
    "asked": {},
    "sitting": None,  # as `measurement.summary.sitting_dict`
    "strip": None,  # in it, that is wanted
    "record": None,  # of the pot's strip
    "hand": {},
    "thinner_g": None,
    "rests": [],
    "given": [],  # old pots to use up, "SHADE BATCH=GRAMS"; none for all on the shelf
    "all_of_it": False,  # whether the pot becomes as large as they make it
}
ANY_SHADE = "any of your shades"
ANY_G = 1.0  # an order that says how it is weighed, but not how much
UNKNOWN = "a pot that nobody knows"
OF_THE_STRIP = "What was done to the pot’s strip?"
STEP = "The scale’s step"


def question(kind: str, studio: Studio, library: Library, form: FormData) -> dict[str, Any]:
    """What is asked with a form of this kind, one of `library.proposals.KINDS`.

    Raises
    ------
    UsageError
        A field is empty, cannot be read, or does not go with another.
    """
    asks = {RECIPE: _recipe, CORRECTION: _correction, THINNING: _correction, AGAIN: _again, USE_UP: _use_up}
    plain: dict[str, Any] = {
        "kind": kind,
        "order": asdict(_order(studio, form, kind)),
        "place": _place(form),
        "typed": typed(form),
    }
    found = plain | OPEN | asks[kind](studio, library, form, kind)
    return found | {"asked": {"state": _target_state(form)} | found["asked"]}


def typed(form: FormData) -> TypedFields:
    """What a person typed, to fill the form with it again."""
    return [(name, said) for name, said in form.multi_items() if isinstance(said, str) and name not in UNSENT]


def lab_typed(said: str) -> str:
    """Three numbers as people type them -> "L,a,b"; raises UsageError where they are no colour."""
    try:
        return plain_lab(parse_lab(said))
    except UsageError as error:
        error.at("in-field", field="L*, a*, b*")
        raise


def _recipe(studio: Studio, library: Library, form: FormData, _kind: str) -> dict[str, Any]:
    fields = {"a shade": text(form, "shade"), "a strip": text(form, "like"), "numbers": text(form, "numbers")}
    said = {what: value for what, value in fields.items() if value}
    if not said:
        raise UsageError("colour-not-chosen", "choose-a-colour")
    if len(said) > 1:
        raise UsageError("several-colours", "give-only-one", colours=list(said))
    if fields["a shade"]:
        return _of_shade(library, form, fields["a shade"])
    if fields["numbers"]:
        numbers = lab_typed(fields["numbers"])
        return {"words": _numbers(numbers), "asked": {"target": numbers}}
    return _like(studio, library, form, fields["a strip"])


def _like(studio: Studio, library: Library, form: FormData, said: str) -> dict[str, Any]:
    """What is asked with a strip, "photo:ID:NAME" or "record:N"."""
    kind, _, rest = said.partition(":")
    if kind == "record":
        record = record_of(library, rest)
        words = f"record {record.number}, {record.shade}"
        known = {key(cloth) for cloth in cloths_of(with_recipe(library))}
        place = _place(form, record.cloth if key(record.cloth) in known else "")
        return {"words": words, "asked": {"record": record.number}, "place": place}
    photo, _, name = rest.partition(":")
    sitting = sitting_on(studio.tray.item(photo))
    strip = sitting.strip_named(name).name
    return {"words": _strip_of(sitting, strip), "sitting": sitting_dict(sitting), "strip": strip}


def _of_shade(library: Library, form: FormData, named: str) -> dict[str, Any]:
    shade = library.shade(named).name
    return {"words": shade, "asked": {"shade": shade}, "place": _place_for(library, form, shade)}


def _correction(studio: Studio, library: Library, form: FormData, kind: str) -> dict[str, Any]:
    """What is asked of the pot in hand."""
    pot = in_hand(studio.tray, library, form)
    if pot is None:
        raise UsageError("pot-strip-not-chosen", "choose-a-measured-strip")
    unknown = ticked(form, "unknown")
    batch = None if unknown or pot.record else _batch(library, form)
    shade = pot.record.shade if pot.record else batch.shade if batch else ""
    target, aim, asked = _target(library, form, pot, shade, unknown)
    beside = target.partition(":")[2] if target.startswith(f"{STRIP}:") else None
    found: dict[str, Any] = {
        "words": aim,
        "of": pot.words if pot.record else f"{batch.shade}, batch {batch.name}" if batch else UNKNOWN,
        "asked": {"shade": shade} | asked,
        "hand": {"batch": batch.name if batch else "", "unknown": unknown, "beside": beside},
        "thinner_g": number(form, "want", "g", least=1, label="How much of the thinner ink")
        if kind == THINNING
        else None,
    }
    if pot.record:
        found["place"] = _place(form) | {"state": ""} | ({} if unknown else {"cloth": ""})
        found["record"] = pot.record.number
    if pot.sitting:
        found["sitting"] = sitting_dict(pot.sitting)
        found["hand"]["strip"] = pot.colour.name
        found["hand"]["others"] = [name for name in texts(form, "also") if name in pot.further and name != beside]
    return found


def _target(
    library: Library, form: FormData, pot: InHand, shade: str, unknown: bool
) -> tuple[str, str, dict[str, Any]]:
    """Which target was chosen, its words, and what of it is asked for."""
    target = choice(form, "target", pot.targets, default=pot.likeliest, label="What should it become?")
    numbers, other = text(form, "numbers"), text(form, "shade")
    if numbers and target != NUMBERS:
        raise UsageError("numbers-not-chosen", "choose-numbers-or-empty-them")
    if target == NUMBERS:
        found = lab_typed(text(form, "numbers", needed=True))
        return target, _numbers(found), {"target": found}
    if target == SHADE:
        wanted = library.shade(other).name if other else shade
        if not wanted:
            raise UsageError("no-shade-for-pot", "choose-the-shade")
        if not unknown and key(wanted) != key(shade):
            raise UsageError("pot-of-another-shade", "choose-the-pots-shade", shade=shade, wanted=wanted)
        return target, wanted, {"shade": wanted}
    kind, _, name = target.partition(":")
    if kind == STRIP:
        return target, the_strip(name), {}
    record = record_of(library, name)
    # A record says its own state; what was tapped for another target is not of it.
    return target, f"record {record.number}, {record.shade}", {"record": record.number, "state": ""}


def _again(studio: Studio, library: Library, form: FormData, _kind: str) -> dict[str, Any]:
    asked, rests = _of_shade(library, form, text(form, "shade", needed=True)), []
    for batch in library.batches(asked["words"]):
        label = f"What is left of batch {batch.name}"
        left = number_or_none(form, f"left-{batch.number}", "g", label=label)
        rests += [f"{batch.name}={left:.10g}"] if left else []
    return asked | {"rests": rests}


def _use_up(studio: Studio, library: Library, form: FormData, kind: str) -> dict[str, Any]:
    """What is asked of leftovers: a pot for a colour, or which shades they come nearest to."""
    there = {str(batch.number): (batch, grams) for batch, grams in on_the_shelf(library)}
    chosen = texts(form, "pots")
    if not set(chosen) <= there.keys():
        raise UsageError("pot-gone", "choose-what-is-there")
    usual_cloth = {"words": ANY_SHADE, "place": _place(form, usual(studio).cloth)}
    asked = usual_cloth | (_recipe(studio, library, form, kind) if text(form, "shade") or text(form, "numbers") else {})
    given = [f"{batch.shade} {batch.name}={grams:.10g}" for batch, grams in map(there.__getitem__, chosen)]
    return asked | {"given": given, "all_of_it": not text(form, "grams")}


def _grams(form: FormData, kind: str) -> float:
    """How much is wanted, or in the pot; of leftovers it may be left open."""
    if kind == USE_UP and not text(form, "grams"):
        return ANY_G
    return number(
        form, "grams", "g", label="What is in the pot now" if kind in (CORRECTION, THINNING) else "How much ink"
    )


def _order(studio: Studio, form: FormData, kind: str) -> Order:
    most = number_or_none(form, "most", "%", label="Pigments together")
    order = Order(
        _grams(form, kind),
        number_or_none(form, "scale", "g", least=FINEST, most=10, label=STEP) or usual(studio).scale_g or SCALE_G,
        tuple(name for name in texts(form, "pigments") if name),
        whole_or_none(form, "things", most=4, label="Maximum number of pigments"),
        MOST if most is None else most,  # not 0: the order refuses that
    )
    order.check()
    return order


def _place(form: FormData, cloth: str = "") -> dict[str, str]:
    """Where it is mixed for; `cloth` is that of what is asked for, where none was chosen."""
    strips = state_said(form, OF_THE_STRIP)  # of a pot in hand; no other form asks it
    return {"cloth": text(form, "cloth") or cloth, "state": str(strips or ""), "ink": text(form, "ink")}


def _target_state(form: FormData) -> str:
    """What was said to be done to the cloth that has the colour wanted; "" where nothing was."""
    typed = text(form, "target_state", label=FOR_STATE)
    try:
        return str(parse_state(typed)) if typed else ""
    except UsageError as error:
        error.at("in-field", field=FOR_STATE)
        raise


def _place_for(library: Library, form: FormData, shade: str) -> dict[str, str]:
    """The same for a shade that is asked for."""
    return _place(form, cloth_of(library, shade, cloths_of(with_recipe(library))))


def _batch(library: Library, form: FormData) -> Batch:
    """The pot that was chosen in the list of those with a recipe."""
    chosen = text(form, "pot")
    if not chosen:
        raise UsageError("pot-not-chosen", "choose-the-pot")
    found = {str(batch.number): batch for batch in library.batches()}
    if chosen not in found:
        raise UsageError("pot-gone", "choose-another-pot")
    return found[chosen]


def _strip_of(sitting: Sitting, strip: str) -> str:
    return f"{the_strip(strip)} of {sitting.photos[0][1].name}"


def _numbers(lab: str) -> str:
    return f"the numbers {lab.replace(',', ', ')}"
