"""Today's strip against what the library holds: the last batch of a shade, its target, or any record.

What is in another state than the strip is compared with it as one of both is going to be: see `carry_over`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ..colorimetry.cielab import Lab
from ..errors import LibraryError, UsageError
from ..measurement.check import Photos
from ..measurement.measure import Measurement
from ..measurement.pot_verdict import PotStrip, PotVerdict, judge_pots
from ..measurement.stored_colour import Kept
from ..measurement.verdict import (
    DEFAULT_TOLERANCE,
    Difference,
    Verdict,
    between_means,
    between_pots,
    judge,
    mean_against_target,
)
from ..messages.message import Flag, flag
from ..recipes.film_weight import Coat
from ..text import listed
from .carry_over import REFERENCE, STRIP, Carried, States, shift_model
from .heat_prediction import HeatPrediction
from .labels import pot_words
from .pots import cloth_of, strip_of_record, strips_of_pot, studio_films, unused_coats
from .records import AIR_DRIED, DRY, HEAT_SET, USUAL_LIGHT, WET, Record, Shade, State, batch_named, light_of

if TYPE_CHECKING:
    from .library import Library


@dataclass(frozen=True)
class ReferenceRequest:
    """What a strip shall be judged against."""

    shade: str = ""
    batch: str = ""  # by default the last one
    record: int | None = None
    against_target: bool = False  # the shade's target
    state: State = DRY
    after_heat: bool = False  # judge the colour that the strip is going to have once it is heat-set
    let_down: float = 0.0  # of the strip: parts of clear base to one part of ink; 0 for the ink itself

    @property
    def anything(self) -> bool:
        """Whether the library is asked at all."""
        return bool(self.shade or self.batch or self.against_target or self.after_heat or self.record is not None)


@dataclass(frozen=True)
class Recalled:
    """The verdict, and what it was reached with."""

    verdict: Verdict
    record: Record | None  # None against a target
    shade: Shade | None
    states: States
    predicted: HeatPrediction | None  # what was carried over to the other's state, as it is going to be
    notes: tuple[Flag, ...]
    pots: PotVerdict | None = None  # of the pots behind the strips; None against a target
    others: tuple[Record, ...] = ()  # the other strips of the record's pot that it stands with


def check_recalled(
    library: Library,
    photo: str,
    card: str | None,
    wanted: ReferenceRequest,
    *,
    strips: Sequence[str] = (),
    tolerance: float | None = None,
    beside: bool = False,
    coats: Sequence[Coat] = (),
    **how: Any,
) -> tuple[Recalled, Measurement]:
    """Measure a photo as `measure` does, and judge strips of one pot, by default the last strip, as `check_kept` does.

    `coats` are the films of the strips by weight, in their order.
    """
    photos = Photos.of(photo, card, strips, beside=beside, **how)
    named = photos.strips(strips)
    if coats and len(coats) != len(named):
        raise UsageError("coats-unlike-strips", "weigh-each-strip", coats=len(coats), strips=len(named))
    of_pot = [one.of_pot for one in named]
    if coats:
        of_pot = [replace(one, coat=(coat.g_m2, coat.std)) for one, coat in zip(of_pot, coats, strict=True)]
    return check_kept(library, of_pot, wanted, tolerance), photos.first


def check_kept(
    library: Library, strips: Sequence[PotStrip], wanted: ReferenceRequest, tolerance: float | None = None
) -> Recalled:
    """Judge strips of one pot that were just measured against what the library holds.

    A record stands with the other strips of its pot that were made alike. `tolerance` is by default the shade's own,
    else the studio's, else DEFAULT_TOLERANCE.

    Raises
    ------
    UsageError
        No such shade, batch or record, a shade without a target, a record of this very strip, or another light.
    LibraryError
        The states differ, and there are too few pairs to carry one over to the other.
    """
    from .shelf.studio import studio_of  # it loads SQLAlchemy, which a check without a library can do without

    colour = strips[0].colour
    record = _wanted_record(library, colour, wanted)
    shade = library.shade(record.shade if record else wanted.shade)
    _refuse_other_light(colour, shade, record)
    said = tolerance, shade.tolerance, studio_of(library).tolerance, DEFAULT_TOLERANCE
    limit = next(one for one in said if one is not None)
    known = [one for one in library.records(record.shade) if not _same_photo(one, colour)] if record else []
    others = strips_of_pot(record, known) if record else []
    samples, target = [strip.colour for strip in strips], None if record else _target(shade)
    states = _states(wanted, shade, record)
    carried = _carried(library, states, shade, samples, others) if states.side else None
    return Recalled(
        judge(_difference(samples, others, target, states, carried), limit),
        record,
        shade,
        states,
        carried.predicted if carried else None,
        (*_notes(colour, shade, record, states, carried), *unused_coats(strips, [] if carried else others)),
        _pots(library, others, strips, limit) if others and not carried else None,
        tuple(others[1:]),
    )


def _states(wanted: ReferenceRequest, shade: Shade, record: Record | None) -> States:
    reference = record.state if record else shade.target_state
    if wanted.after_heat and reference and reference.order < State(HEAT_SET).order:
        raise UsageError(
            "reference-not-heat-set",
            "choose-what-is-heat-set",
            record=record.number if record else None,
            shade=shade.name,
            state=reference,
        )
    if wanted.state.name == WET and reference is None:
        raise UsageError("wet-against-target", "dry-it-first")
    return States.of(wanted.state, reference, after_heat=wanted.after_heat)


def _carried(
    library: Library, states: States, shade: Shade, samples: Sequence[Kept], others: Sequence[Record]
) -> Carried:
    """The side that comes first as it is going to be, by the ink and cloth of the record, else of the shade's last."""
    said = {"strip": str(states.strip), "reference": str(states.reference) if states.reference else None}
    model_of = next(iter((*others, *reversed(library.records(shade.name)))), None)
    if model_of is None:
        raise LibraryError("shade-without-record", "keep-a-strip-of-it", shade=shade.name, **said)
    ink = {batch.name: batch.ink for batch in library.batches(shade.name)}[model_of.batch]
    light = samples[0].illuminant, samples[0].observer
    model = shift_model(library, states.start, states.end, ink, model_of.cloth, light, **said)
    if states.side == STRIP:
        return model.carry(samples)
    return model.carry([one.colour for one in others] if others else _target(shade))


def _pots(library: Library, others: Sequence[Record], strips: Sequence[PotStrip], limit: float) -> PotVerdict:
    cloth = next((strip.colour.cloth for strip in strips if strip.colour.cloth), None) or cloth_of(library, others[0])
    return judge_pots([strip_of_record(one) for one in others], strips, limit, studio_films(library), cloth)


def _difference(
    samples: Sequence[Kept], others: Sequence[Record], target: Lab | None, states: States, carried: Carried | None
) -> Difference:
    """Between strips and records, or a target; both in one state."""
    references, doubt = [record.colour for record in others], carried.doubt if carried else 0.0
    names = (
        states.words(listed([sample.name for sample in samples]), STRIP),
        states.words(pot_words(others) or "target", REFERENCE),
    )
    if carried and states.side == STRIP:
        samples = carried.moved(samples)
    elif carried:
        references, target = carried.moved(references), target and carried.predicted.lab
    if target is not None:
        return mean_against_target(samples, target, *names, doubt)
    return between_means(samples, references, names, doubt) if carried else between_pots(samples, references, names)


def _wanted_record(library: Library, colour: Kept, wanted: ReferenceRequest) -> Record | None:
    """The record to judge against; None for the shade's target."""
    _refuse_contradictions(wanted)
    if wanted.against_target:
        return None
    if wanted.record is None:
        return _last_alike(library, colour, wanted)
    record = library.record(wanted.record)
    if _same_photo(record, colour) and record.colour.name == colour.name:
        raise UsageError("record-is-this-strip", "choose-another-record", record=record.number, shade=record.shade)
    if record.let_down != wanted.let_down:
        raise UsageError(
            "record-let-down-otherwise",
            "say-the-let-down",
            record=record.number,
            let_down=wanted.let_down,
            there=[record.let_down],
        )
    return record


def _refuse_contradictions(wanted: ReferenceRequest) -> None:
    if wanted.record is not None and (wanted.shade or wanted.batch or wanted.against_target):
        raise UsageError("record-and-more-named", "give-only-one")
    if wanted.record is None and not wanted.shade:
        raise UsageError("nothing-to-compare-with", "choose-shade-or-record")
    if wanted.against_target and wanted.batch:
        raise UsageError("batch-and-target-named", "leave-out-batch-or-target")
    if wanted.against_target and wanted.let_down:
        raise UsageError("let-down-against-target", "leave-out-target-or-let-down", let_down=wanted.let_down)
    if wanted.after_heat and wanted.state.name != AIR_DRIED:
        raise UsageError("strip-not-air-dried", "leave-out-after-heat", state=wanted.state)


def _last_alike(library: Library, colour: Kept, wanted: ReferenceRequest) -> Record:
    """The last record of the shade, or of its batch, in the state that the strip is in or is going to be in.

    Like is compared with like: a let-down strip with one let down as far, ink with ink.
    """
    shade = library.shade(wanted.shade)
    state = State(HEAT_SET) if wanted.after_heat else wanted.state
    batch = batch_named(library.batches(shade.name), shade.name, wanted.batch).name if wanted.batch else None
    # A strip that is kept already is not judged against itself.
    known = [one for one in library.records(shade.name, batch) if not _same_photo(one, colour)]
    alike = [record for record in known if record.let_down == wanted.let_down]
    fit = [record for record in alike if record.state.like(state)]
    if not fit and known and not alike:
        there = sorted({record.let_down for record in known})
        raise UsageError(
            "no-record-let-down-so",
            "say-the-let-down",
            shade=shade.name,
            batch=batch,
            let_down=wanted.let_down,
            there=there,
        )
    if not fit:
        raise _nothing_to_judge_by(shade, batch, state, alike)
    return fit[-1]


def _same_photo(record: Record, colour: Kept) -> bool:
    return bool({photo.digest for photo in record.photos} & set(colour.errors.photos))


def _nothing_to_judge_by(shade: Shade, batch: str | None, state: State, known: Sequence[Record]) -> UsageError:
    if not known:
        return UsageError("no-other-record", "keep-a-strip-of-it", shade=shade.name, batch=batch)
    return UsageError(
        "no-record-in-that-state",
        "give-the-state",
        shade=shade.name,
        batch=batch,
        state=state.short,  # like is compared with like, however it was done
        there=sorted({record.state.short for record in known}),
        target=shade.target is not None,
    )


def _target(shade: Shade) -> Lab:
    if shade.target is None:
        raise UsageError("shade-without-target", "give-it-a-target", shade=shade.name)
    return shade.target


def _refuse_other_light(colour: Kept, shade: Shade, record: Record | None) -> None:
    light = light_of(record) if record else USUAL_LIGHT
    if light != (colour.illuminant, colour.observer):
        raise UsageError(
            "other-viewing-light",
            "measure-for-that-light",
            record=record.number if record else None,
            shade=shade.name,
            wanted=light,
            measured=(colour.illuminant, colour.observer),
        )


def _notes(
    colour: Kept, shade: Shade, record: Record | None, states: States, carried: Carried | None
) -> tuple[Flag, ...]:
    notes: list[Flag] = []
    alike = record is not None and colour.errors.frame and colour.errors.frame == record.colour.errors.frame
    if not (alike or (colour.absolute and (record is None or record.colour.absolute))):
        notes.append(flag("card-unmeasured-between-photos"))
    if states.reference is None:
        notes.append(flag("target-without-state", shade=shade.name))
    return (*notes, *states.flags, *(carried.predicted.flags if carried else ()))
