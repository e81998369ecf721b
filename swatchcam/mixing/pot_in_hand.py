"""The pot in hand: its strip photographed, measured or kept before, its target and its recipe looked up.

What to add to it is decided in `pot_correction`.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from ..colorimetry.colour_difference import delta_e_2000
from ..errors import UsageError
from ..library.entry import Entry
from ..library.library import Library
from ..library.proposal_store import proposals
from ..library.proposals import CORRECTION
from ..library.records import DRY, Batch, Record, Shade, State
from ..library.save import marks_for, origin_of, prepare, put
from ..library.shelf.studio import studio_of
from ..measurement.measure import measure
from ..measurement.stored_colour import Kept
from ..measurement.strip_names import any_loose, refuse_named_twice
from ..measurement.summary import Sitting, sitting_of
from ..messages.message import Flag, flag
from ..text import key
from .known_strip import KnownStrip, pot_of_strip, strip_of
from .order import Proposed, check_target
from .pigment_model import Palette
from .pot_lookup import cloth_of_pot, pot_of, recipe_in, refuse_let_down
from .prior import MISFIT
from .recommend import UNKNOWN_POT, correction_for, known_strip_for, stand_in
from .requests import Answer, CorrectionRequest
from .search import Target
from .target import TargetRequest, of_shade, of_strip, target_of
from .thinning_choices import thinning_for
from .workbench import Bench, bench_for

ANOTHER_POT = 15.0  # CIEDE2000 off what a recipe predicts, beyond which a strip is hardly of that pot; no source


def photographed(photos: Sequence[str], request: CorrectionRequest) -> Sitting:
    """The strips of the pot in hand, and of its target, in photos; raises whatever `measure` refuses."""
    first, *more = photos
    beside = any_loose(request.hand.strip, request.hand.beside, *request.hand.others)
    return sitting_of(measure(first, request.asked.card, again=more, beside=beside, **request.asked.how))


def strips_kept(library: Library, sitting: Sitting, answer: Answer) -> Answer:
    """The answer once the pot's strips are kept, so that they teach the next one; raises whatever the library does."""
    kept = tuple(put(library, prepare(sitting, strip, entry)) for strip, entry in answer.entries)
    return replace(answer, records=(*answer.records, *kept), entries=())


def correct_sitting(library: Library, sitting: Sitting, request: CorrectionRequest) -> Answer:
    """What to do with the pot in hand, of which strips were photographed.

    Nothing is kept: the answer's `entries` say what to keep the pot's strips as. The target is what is asked for; where
    only the shade is named, the strip `hand.beside` in the same photo, else the shade's target, else its last record of
    another batch.

    Raises
    ------
    UsageError
        No such shade, batch or strip, a pot without a recipe, a strip that cannot be of this pot, or whatever
        `recommend` refuses.
    SwatchcamError
        Whatever `set_up` or the library refuse.
    """
    asked, hand, place = request.asked, request.hand, request.place
    colours = _strips(sitting, request)
    if hand.unknown:
        strips = place.state or DRY
        target = _wanted(library, request, sitting, None, strips)
        cloth = place.cloth or studio_of(library).cloth
        bench = bench_for(library, target, cloth, place.ink, strips, colours)
        shade = library.shade(asked.shade) if asked.shade else None
        return _of_unknown_pot(bench, shade, target, colours, request, strips)
    if not asked.shade:
        raise UsageError("no-shade-for-pot", "name-the-shade-of-pot")
    shade = library.shade(asked.shade)
    found = {colour.name: _kept_already(library, shade, sitting, colour.name, request) for colour in colours}
    kept = [record for record in found.values() if record]
    pot = pot_of(library, shade, kept[0].batch if kept else hand.batch)
    noted = kept[0].cloth if kept else ""
    cloth = noted or place.cloth or cloth_of_pot(library, shade, pot)
    strips = kept[0].state if kept else place.state or DRY
    target, own = _wanted(library, request, sitting, pot, strips), pot_of_strip(strip_of(shade.name, pot.name))
    bench = bench_for(library, target, cloth, place.ink, strips, colours, own)
    weak = *_taken_like_the_pot(library, shade, pot, request, strips), *_gone_on(library, pot)
    bench = replace(bench, flags=(*bench.flags, *weak))
    new = [colour for colour in colours if not found[colour.name]]
    said = dict(zip([colour.name for colour in colours], hand.marks, strict=False))
    marked = [said.get(colour.name, "") for colour in new]
    marks = marks_for(library, pot.shade, pot.name, marked, several=len(colours) > 1)
    learned = _with_strips(bench, new, marks, pot, strips)
    proposed = _done(learned, target, pot, request)
    entries = [Entry(shade.name, pot.name, strips, mark=mark, cloth=bench.cloth) for mark in marks]
    names = [colour.name for colour in new]
    return Answer(proposed, learned, shade, pot, tuple(kept), entries=tuple(zip(names, entries, strict=True)))


def _strips(sitting: Sitting, request: CorrectionRequest) -> list[Kept]:
    """The strips of the pot in the photo.

    Raises
    ------
    UsageError
        One is not there, is named twice, or is the target.
    """
    hand = request.hand
    colours = [sitting.strip_named(name) for name in (hand.strip, *hand.others)]
    names = [colour.name for colour in colours]
    refuse_named_twice(names)
    if hand.beside in names:
        raise UsageError("pot-is-target", "choose-two-strips")
    return colours


def _with_strips(bench: Bench, colours: Sequence[Kept], marks: Sequence[str], pot: Batch, state: State) -> Bench:
    """The bench with new strips of a pot in that state, and a flag where one is not what the recipe predicts."""
    doubts: list[Flag] = []
    more = bench
    for colour, mark in zip(colours, marks, strict=True):
        check_target(bench, Target(colour.lab, "the pot", colour))
        name = strip_of(pot.shade, pot.name, mark)
        known_strip = known_strip_for(bench, recipe_in(pot), colour, name, pot.mixed, state)
        doubts += _doubt(bench.palette_of(state), known_strip, pot)
        more = more.with_known_strip(known_strip)
    return replace(more, flags=(*bench.flags, *doubts[:1]))


def correct_record(library: Library, number: int, request: CorrectionRequest) -> Answer:
    """As `correct_sitting`, of a pot whose strip is kept already, as the record of that number.

    The target is the one that is asked for, else the shade's own, else its last record of another batch.
    """
    asked, hand = request.asked, request.hand
    record = library.record(number)
    if asked.record == number:
        raise UsageError("pot-is-target", "choose-two-strips")
    refuse_let_down(record)
    itself, _ = target_of(library, TargetRequest(record=number))
    shade = library.shade(asked.shade or record.shade)
    if not hand.unknown:
        _refuse_other(record, shade, request)
    if asked.target or asked.record is not None:
        target = target_of(library, asked, record.state)[0]
    else:
        target = of_shade(library, shade, asked.state, record.state, record.batch)
    own = pot_of_strip(strip_of(shade.name, record.batch))
    cloth = record.cloth or request.place.cloth
    bench = bench_for(library, target, cloth, request.place.ink, record.state, [record.colour], own)
    if hand.unknown:
        return _of_unknown_pot(bench, shade, target, [record.colour], request, record.state)
    check_target(bench, itself)
    pot = pot_of(library, shade, record.batch)
    return Answer(_done(bench, target, pot, request), bench, shade, pot, (record,))


def _wanted(library: Library, request: CorrectionRequest, sitting: Sitting, pot: Batch | None, strips: State) -> Target:
    """The target of a correction; one in the photo of the pot's strips is in their state, unless another is said."""
    asked, beside = request.asked, request.hand.beside
    if beside:
        return of_strip(sitting, beside, asked.state or strips)
    if asked.target or asked.record is not None or pot is None:
        return target_of(library, asked, strips)[0]
    return of_shade(library, library.shade(asked.shade), asked.state, strips, pot.name)


def _taken_like_the_pot(
    library: Library, shade: Shade, pot: Batch, request: CorrectionRequest, strips: State
) -> tuple[Flag, ...]:
    """A flag where a target beside the pot's strips counts as done like them, and the shade is to be in another."""
    if request.hand.beside is None or request.asked.state:
        return ()
    with suppress(UsageError):  # nobody said what the shade shall be
        known = of_shade(library, shade, None, strips, pot.name).state
        if known and not known.like(strips):
            return (flag("target-taken-like-the-pot", taken=strips, shade=shade.name, known=known),)
    return ()


def _gone_on(library: Library, pot: Batch) -> tuple[Flag, ...]:
    """A flag where the pot was corrected before: all of it is in another pot then."""
    later = [one for one in proposals(library, pot.shade) if one.from_batch == pot.name and one.kind == CORRECTION]
    return tuple(flag("pot-gone-on", batch=pot.name, into=one.batch, number=one.number) for one in later[-1:])


def _of_unknown_pot(
    bench: Bench,
    shade: Shade | None,
    target: Target,
    colours: Sequence[Kept],
    request: CorrectionRequest,
    strips: State,
) -> Answer:
    order = request.order
    bench, recipe = stand_in(bench, colours[0], order.grams, order, colours[1:], strips)
    if request.thinner_g is None:
        return Answer(correction_for(bench, target, recipe, order, strips=UNKNOWN_POT), bench, shade)
    proposed = thinning_for(bench, target, recipe, order, request.thinner_g, strips=UNKNOWN_POT)
    return Answer(proposed, bench, shade)


def _doubt(palette: Palette, known_strip: KnownStrip, pot: Batch) -> tuple[Flag, ...]:
    """A flag where a strip is not what the pot's recipe predicts.

    Raises
    ------
    UsageError
        It is so far off that it is hardly of this pot.
    """
    predicted = palette.predict(known_strip.shares, known_strip.colour, known_strip.shares_std)
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
            refuse_let_down(record)
            _refuse_other(record, shade, request)
            return record
    return None


def _refuse_other(record: Record, shade: Shade, request: CorrectionRequest) -> None:
    """Raise UsageError where a record is of something else than is said now."""
    said = {
        "shade": (shade.name, record.shade),
        "batch": (request.hand.batch, record.batch),
        "cloth": (request.place.cloth, record.cloth),
        "state": _states(request.place.state, record.state),
    }
    for what, (now, then) in said.items():
        if now and then and key(now) != key(then):
            raise UsageError(
                "strip-kept-as-other",
                "same-details-or-correct-record",
                number=record.number,
                what=what,
                then=then,
                now=now,
            )


def _states(now: State | None, then: State) -> tuple[str, str]:
    return ("", "") if now is None or now.like(then) else (str(now), str(then))


def _done(bench: Bench, target: Target, pot: Batch, request: CorrectionRequest) -> Proposed:
    recipe, strips = recipe_in(pot), pot_of_strip(strip_of(pot.shade, pot.name))
    if request.thinner_g is None:
        return correction_for(bench, target, recipe, request.order, pot.mixed, strips)
    return thinning_for(bench, target, recipe, request.order, request.thinner_g, pot.mixed, strips)
