"""The pot in hand: its strip photographed, measured or kept before, its target and its recipe looked up.

What to add to it is decided in `pot_correction`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..colorimetry.colour_difference import delta_e_2000
from ..errors import UsageError
from ..library.entry import Entry
from ..library.library import Library
from ..library.records import Batch, Record, Shade
from ..library.save import origin_of, prepare, put
from ..measurement.measure import measure
from ..measurement.stored_colour import Kept
from ..measurement.strip_names import any_loose
from ..measurement.summary import Sitting, sitting_of
from ..messages.message import Flag, flag
from ..recipes.recipe import Recipe
from ..text import key
from .known_strip import KnownStrip, strip_of
from .order import Proposed, check_target
from .pigment_model import MISFIT
from .pot_lookup import cloth_of_pot, pot_of, recipe_in
from .recommend import correction_for, known_strip_for, stand_in
from .requests import Answer, CorrectionRequest
from .search import Target
from .target import TargetRequest, of_shade, of_strip, target_of
from .thinning_choices import thinning_for
from .workbench import Bench, set_up

ANOTHER_POT = 15.0  # CIEDE2000 off what a recipe predicts, beyond which a strip is hardly of that pot; no source


def correct_photos(library: Library, photos: Sequence[str], request: CorrectionRequest) -> Answer:
    """What to do with the pot in hand, of which a strip was photographed; that strip is kept.

    The target is what is asked for; where only the shade is named, the strip `hand.beside` in the same photo, else the
    shade's target, else its last record of another batch.

    Raises
    ------
    UsageError
        No such shade, batch or strip, a pot without a recipe, a strip that cannot be of this pot, or whatever
        `recommend` refuses; then nothing is kept.
    SwatchcamError
        Whatever `measure`, `set_up` or the library refuse.
    """
    first, *more = photos
    beside = any_loose(request.hand.strip, request.hand.beside)
    measurement = measure(first, request.asked.card, again=more, beside=beside, **request.asked.how)
    return correct_and_keep(library, sitting_of(measurement), request)


def correct_and_keep(library: Library, sitting: Sitting, request: CorrectionRequest) -> Answer:
    """The same once the photos are measured; raises as `correct_photos`."""
    answer = correct_sitting(library, sitting, request)
    if answer.entry is None:
        return answer
    record = put(library, prepare(sitting, sitting.strip_named(request.hand.strip).name, answer.entry))
    return replace(answer, record=record, entry=None)


def correct_sitting(library: Library, sitting: Sitting, request: CorrectionRequest) -> Answer:
    """Like `correct_and_keep`, but nothing is kept: the answer's `entry` says what to keep the pot's strip as."""
    asked, hand, place = request.asked, request.hand, request.place
    colour = sitting.strip_named(hand.strip)
    if hand.unknown:
        target = _wanted(library, request, sitting, colour, None)
        bench = set_up(library, place.cloth, place.state, place.ink, [target.measured or target.lab, colour])
        shade = library.shade(asked.shade) if asked.shade else None
        return _of_unknown_pot(bench, shade, target, colour, request)
    if not asked.shade:
        raise UsageError("no-shade-for-pot", "name-the-shade-of-pot")
    shade = library.shade(asked.shade)
    kept = _kept_already(library, shade, sitting, colour.name, request)
    pot = pot_of(library, shade, kept.batch if kept else hand.batch)
    cloth = kept.cloth if kept else place.cloth or cloth_of_pot(library, shade, pot)
    target, own = _wanted(library, request, sitting, colour, pot), strip_of(shade.name, pot.name)
    bench = set_up(library, cloth, place.state, place.ink, [target.measured or target.lab, colour], own)
    recipe = recipe_in(pot)
    if kept is None:
        check_target(bench, Target(colour.lab, "the pot", colour))
        known_strip = known_strip_for(bench, recipe, colour, own, pot.mixed)
        doubt = _doubt(bench, known_strip, pot)
        bench = replace(bench.with_known_strip(known_strip), flags=(*bench.flags, *doubt))
    proposed = _done(bench, target, recipe, request, pot.mixed)
    entry = None if kept else Entry(shade.name, pot.name, place.state, cloth=bench.cloth)
    return Answer(proposed, bench, shade, pot, kept, entry=entry)


def correct_record(library: Library, number: int, request: CorrectionRequest) -> Answer:
    """As `correct_photos`, of a pot whose strip is kept already, as the record of that number.

    The target is the one that is asked for, else the shade's own, else its last record of another batch.
    """
    asked, hand = request.asked, request.hand
    record = library.record(number)
    if asked.record == number:
        raise UsageError("pot-is-target", "choose-two-strips")
    itself, _ = target_of(library, TargetRequest(record=number))
    shade = library.shade(asked.shade or record.shade)
    if not hand.unknown:
        _refuse_other(record, shade, request)
    if asked.target or asked.record is not None:
        target = target_of(library, asked, record.state)[0]
    else:
        target = of_shade(library, shade, record.state, record.batch)
    about, own = [target.measured or target.lab, record.colour], strip_of(shade.name, record.batch)
    bench = set_up(library, record.cloth, record.state, request.place.ink, about, own)
    if hand.unknown:
        return _of_unknown_pot(bench, shade, target, record.colour, request)
    check_target(bench, itself)
    pot = pot_of(library, shade, record.batch)
    return Answer(_done(bench, target, recipe_in(pot), request, pot.mixed), bench, shade, pot, record)


def _wanted(library: Library, request: CorrectionRequest, sitting: Sitting, colour: Kept, pot: Batch | None) -> Target:
    """The target of a correction."""
    asked, beside, state = request.asked, request.hand.beside, request.place.state
    if beside:
        if beside == colour.name:
            raise UsageError("pot-is-target", "choose-two-strips")
        return of_strip(sitting, beside)
    if asked.target or asked.record is not None or pot is None:
        return target_of(library, asked, state)[0]
    return of_shade(library, library.shade(asked.shade), state, pot.name)


def _of_unknown_pot(
    bench: Bench, shade: Shade | None, target: Target, colour: Kept, request: CorrectionRequest
) -> Answer:
    bench, recipe = stand_in(bench, colour, request.order.grams, request.order)
    return Answer(_done(bench, target, recipe, request), bench, shade)


def _doubt(bench: Bench, known_strip: KnownStrip, pot: Batch) -> tuple[Flag, ...]:
    """A flag where a strip is not what the pot's recipe predicts.

    Raises
    ------
    UsageError
        It is so far off that it is hardly of this pot.
    """
    predicted = bench.palette.predict(known_strip.shares, known_strip.colour, known_strip.shares_std)
    miss = np.array(predicted.miss)
    apart = float(delta_e_2000(np.array(predicted.lab) - miss, predicted.lab))
    if miss @ np.linalg.solve(predicted.ink + predicted.film, miss) <= MISFIT:
        return ()
    if apart > ANOTHER_POT:
        raise UsageError("strip-not-of-pot", "name-right-batch-or-strip", apart=apart, batch=pot.name)
    return (flag("strip-unlike-recipe", apart=apart, batch=pot.name),)


def _kept_already(
    library: Library, shade: Shade, sitting: Sitting, strip: str, request: CorrectionRequest
) -> Record | None:
    """The record of this strip, where it was kept before.

    Raises
    ------
    UsageError
        It was kept as something else than is said now.
    """
    origin = origin_of(sitting.digest, strip)
    for record in library.records(digest=sitting.digest):
        if origin_of(record.photos[0].digest, record.colour.name) == origin:
            _refuse_other(record, shade, request)
            return record
    return None


def _refuse_other(record: Record, shade: Shade, request: CorrectionRequest) -> None:
    """Raise UsageError where a record is of something else than is said now."""
    said = {
        "shade": (shade.name, record.shade),
        "batch": (request.hand.batch, record.batch),
        "cloth": (request.place.cloth, record.cloth),
        "state": (str(request.place.state), str(record.state)),
    }
    for what, (now, then) in said.items():
        if now and key(now) != key(then):
            raise UsageError(
                "strip-kept-as-other",
                "same-details-or-correct-record",
                number=record.number,
                what=what,
                then=then,
                now=now,
            )


def _done(bench: Bench, target: Target, pot: Recipe, request: CorrectionRequest, mixed: str = "") -> Proposed:
    if request.thinner_g is None:
        return correction_for(bench, target, pot, request.order, mixed)
    return thinning_for(bench, target, pot, request.order, request.thinner_g, mixed)
