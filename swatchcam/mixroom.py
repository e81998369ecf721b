"""The questions of a person at the mixing table, from the photo to the proposal that the library keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from .bench import Bench, set_up
from .check import default_window, parse_target, split_photo
from .colorimetry import delta_e_2000
from .entry import Entry
from .errors import UsageError
from .keeping import origin_of, prepare, put
from .kept import Kept, keep
from .ladder import lot_strength
from .library import Library
from .measure import Measurement, measure
from .mixing import Target
from .pots import add_lot, keep_proposal, proposals, set_pigment
from .proposal import CORRECTION, THINNING, Proposal
from .propose import Choice, Order, Proposed, again, correction_for, recipe_for, stand_in, thinning_for
from .recipe import Recipe
from .record import DRY, USUAL_LIGHT, Batch, Record, Shade, Stage, key, light_of
from .rows import by_name
from .tint import tint_of


@dataclass(frozen=True)
class Asked:
    """Which colour is wanted: numbers, a drawdown in a photo, a record, or a shade of the library."""

    target: str = ""  # "L,a,b" or PHOTO[:DRAWDOWN]
    record: int | None = None
    shade: str = ""
    card: str | None = None  # of the target's photo
    how: dict[str, Any] = field(default_factory=dict)  # whatever else `measure` takes


@dataclass(frozen=True)
class Answer:
    """What came out, and on what it rests."""

    proposed: Proposed
    bench: Bench
    shade: Shade | None
    pot: Batch | None = None  # the pot in hand
    record: Record | None = None  # its drawdown, as the library now holds it
    rests: tuple[tuple[Batch, float], ...] = ()  # old pots that go in, g


def new_recipe(library: Library, asked: Asked, order: Order, cloth: str = "", stage: Stage = DRY) -> Answer:
    """A recipe for the colour that is asked for."""
    bench = set_up(library, cloth, stage)
    target, shade = target_of(library, asked, stage)
    return Answer(recipe_for(bench, target, order), bench, shade)


def corrected(
    library: Library,
    photos: Sequence[str],
    asked: Asked,
    order: Order,
    *,
    batch: str = "",
    window: str | None = None,
    beside: str | None = None,
    entry: Entry | None = None,
    unknown: bool = False,
    thinner_g: float | None = None,
    card: str | None = None,
    **how: Any,
) -> Answer:
    """What to do with the pot in hand, of which a drawdown was photographed; that drawdown is kept.

    Parameters
    ----------
    asked : the target; where it names only the shade, the strip `beside` in the same photo, else the shade's target,
        else its last record of another batch
    order : its grams are what is in the pot now
    batch : the pot; by default the shade's last one
    beside : the drawdown in the photo that is the target
    unknown : nobody knows what is in the pot; nothing is kept then
    thinner_g : ask for so many grams of a thinner ink instead of an addition

    Raises
    ------
    UsageError
        No such shade, batch or drawdown, a pot without a recipe, or whatever `propose` refuses.
    SwatchcamError
        Whatever `measure`, `set_up` or the library refuse.
    """
    entry = entry or Entry(asked.shade)
    first, *again_photos = photos
    measurement = measure(first, card, again=again_photos, beside=_named_beside(window, beside), **how)
    name = window or default_window(measurement)
    colour = keep(measurement.colour(name), measurement)
    if unknown:
        bench = set_up(library, entry.cloth, entry.stage)
        target, shade = _wanted(library, asked, measurement, beside, colour, None, entry.stage)
        bench, recipe = stand_in(bench, colour, order.grams, order)
        return Answer(_done(bench, target, recipe, order, thinner_g), bench, shade)
    shade = library.shade(asked.shade)
    pot = _pot(library, shade, batch)
    cloth = entry.cloth or _cloth_of(library, shade, pot)
    said = vars(entry) | {"shade": shade.name, "batch": pot.name, "cloth": cloth}
    record = _kept(library, measurement, name, Entry(**said))
    target, _ = _wanted(library, asked, measurement, beside, colour, pot, entry.stage)
    bench = set_up(library, record.cloth, record.stage)
    assert pot.recipe is not None  # _pot refuses a pot without one
    return Answer(_done(bench, target, pot.recipe, order, thinner_g), bench, shade, pot, record)


def repeated(
    library: Library, asked: Asked, order: Order, rests: Sequence[str] = (), cloth: str = "", stage: Stage = DRY
) -> Answer:
    """A shade once more, old pots first: `rests` are "BATCH=GRAMS"."""
    shade = library.shade(asked.shade)
    bench = set_up(library, cloth, stage)
    target, _ = target_of(library, asked, stage)
    best = _best_pot(library, shade, target, stage)
    assert best.recipe is not None  # _best_pot takes only such
    old = tuple(_rest(library, shade, text) for text in rests)
    known = [(batch.recipe, grams) for batch, grams in old if batch.recipe]
    return Answer(again(bench, target, best.recipe, order, known), bench, shade, best, rests=old)


def keep_choice(library: Library, answer: Answer, shade: str, batch: str, number: int = 1) -> Proposal:
    """Keep the choice of that number, 1 for the recommended one, as a batch that is going to be mixed.

    Raises
    ------
    UsageError
        There is no such choice, no shade was named, or the batch is there already.
    """
    found = answer.proposed.choices
    if not 1 <= number <= len(found):
        raise UsageError(f"There is no choice {number}.", f"Choose from 1 to {len(found)}.")
    named = shade or (answer.shade.name if answer.shade else "")
    if not named:
        raise UsageError("Nobody said for which shade to keep this.", 'Name it: --shade "river blue"')
    return keep_proposal(library, _proposal(answer, found[number - 1], named, batch))


def target_of(library: Library, asked: Asked, stage: Stage = DRY) -> tuple[Target, Shade | None]:
    """The colour that is asked for, and the shade it is of.

    Raises
    ------
    UsageError
        Nothing was named, more than one thing, or it has no colour.
    SwatchcamError
        Whatever `measure` refuses.
    """
    shade = library.shade(asked.shade) if asked.shade and (asked.record is None and not asked.target) else None
    if asked.target and asked.record is not None:
        raise UsageError("A target and a record were both named.", "Name one of them.")
    if asked.record is not None:
        return _of_record(library.record(asked.record)), None
    if asked.target:
        return _of_text(asked), None
    if shade is None:
        raise UsageError(
            "Nobody said which colour is wanted.", "Give --target L,a,b or PHOTO:left, --record or --shade."
        )
    return _of_shade(library, shade, stage), shade


def _of_text(asked: Asked) -> Target:
    if not Path(asked.target).exists() and asked.target.replace(";", ",").count(",") >= 2:
        return Target(parse_target(asked.target), asked.target)
    photo, window = split_photo(asked.target)
    measured = measure(photo, asked.card, beside=_named_beside(window), **asked.how)
    return _of_drawdown(measured, window or default_window(measured), photo)


def _of_drawdown(measured: Measurement, window: str, photo: str) -> Target:
    colour = keep(measured.colour(window), measured)
    return Target(colour.lab, f"{Path(photo).name}:{window}", colour, colour.reflectance)


def _of_record(record: Record) -> Target:
    if light_of(record) != USUAL_LIGHT:
        raise UsageError(
            f"Record {record.number} is for another light.",
            "Mixing is done for D65 and 10 degrees: name another record.",
        )
    words = f"record {record.number} ({record.shade}, batch {record.batch}, {record.stage})"
    return Target(record.colour.lab, words, record.colour, record.colour.reflectance)


def _of_shade(library: Library, shade: Shade, stage: Stage, but: str = "") -> Target:
    if shade.target is not None:
        return Target(shade.target, f"the target of {shade.name}")
    records = [
        record
        for record in library.records(shade.name, stage=stage.name)
        if record.stage == stage and key(record.batch) != key(but)
    ]
    if not records:
        raise UsageError(
            f"Shade '{shade.name}' has neither a target nor another {stage} record.",
            f'Give it a target: swatchcam shade target "{shade.name}" 41.2,38.0,-12.5',
        )
    return _of_record(records[-1])


def _wanted(
    library: Library,
    asked: Asked,
    measurement: Measurement,
    beside: str | None,
    colour: Kept,
    pot: Batch | None,
    stage: Stage,
) -> tuple[Target, Shade | None]:
    """The target of a correction."""
    if beside:
        if beside == colour.name:
            raise UsageError("The pot's drawdown and the target are one and the same.", "Name two drawdowns.")
        return _of_drawdown(measurement, beside, measurement.photo.path), None
    if asked.target or asked.record is not None or pot is None:
        return target_of(library, asked, stage)
    shade = library.shade(asked.shade)
    return _of_shade(library, shade, stage, pot.name), shade


def _named_beside(*windows: str | None) -> bool:
    return any((window or "").startswith("beside") for window in windows)


def _pot(library: Library, shade: Shade, name: str) -> Batch:
    batches = library.batches(shade.name)
    if name:
        pot = by_name(batches, name, f"batch of '{shade.name}'", f"'swatchcam shade show \"{shade.name}\"' lists them.")
    elif batches:
        pot = batches[-1]
    else:
        raise UsageError(f"Shade '{shade.name}' has no batch yet.", "Name the batch that is in the pot with --batch.")
    if pot.recipe is None:
        raise UsageError(
            f"Nobody said what is in batch {pot.name} of '{shade.name}'.",
            f'Say it: swatchcam shade batch "{shade.name}" "{pot.name}" --recipe "binder 500 g, blue 3.2 g";'
            " or ask with --unknown.",
        )
    return pot


def _cloth_of(library: Library, shade: Shade, pot: Batch) -> str:
    """The cloth that the pot was proposed for, or "": then that of the shade's last record is taken over."""
    known = [proposal.cloth for proposal in proposals(library, shade.name, pot.name) if proposal.cloth]
    return known[-1] if known else ""


def _kept(library: Library, measurement: Measurement, window: str, entry: Entry) -> Record:
    """The drawdown's record: the one that is there already, or a new one."""
    origin = origin_of(measurement.photo.digest, window)
    for record in library.records(entry.shade, entry.batch, digest=measurement.photo.digest):
        if origin_of(record.photos[0].digest, record.colour.name) == origin:
            return record
    return put(library, prepare(measurement, window, entry))


def _done(bench: Bench, target: Target, pot: Recipe, order: Order, thinner_g: float | None) -> Proposed:
    if thinner_g is None:
        return correction_for(bench, target, pot, order)
    return thinning_for(bench, target, pot, order, thinner_g)


def _best_pot(library: Library, shade: Shade, target: Target, stage: Stage) -> Batch:
    """The batch with a recipe whose drawdown came nearest to the target, else the last one with a recipe."""
    batches = {key(batch.name): batch for batch in library.batches(shade.name) if batch.recipe}
    if not batches:
        raise UsageError(
            f"Shade '{shade.name}' has no batch with a recipe.",
            f'Say what was in one: swatchcam shade batch "{shade.name}" BATCH --recipe "binder 500 g, blue 3.2 g"',
        )
    measured = [
        r for r in library.records(shade.name, stage=stage.name) if r.stage == stage and key(r.batch) in batches
    ]
    if not measured:
        return list(batches.values())[-1]
    nearest = min(measured, key=lambda record: float(delta_e_2000(record.colour.lab, target.lab)))
    return batches[key(nearest.batch)]


def _rest(library: Library, shade: Shade, text: str) -> tuple[Batch, float]:
    name, _, number = text.rpartition("=")
    try:
        grams = float(number.strip().removesuffix("g"))
    except ValueError:
        grams = 0.0
    if not name.strip() or not grams > 0:
        raise UsageError(f"'{text}' is no batch with what is left of it.", "Write it as 3=120 for 120 g of batch 3.")
    return _pot(library, shade, name.strip()), grams


def _proposal(answer: Answer, choice: Choice, shade: str, batch: str) -> Proposal:
    proposed, foreseen = answer.proposed, choice.mix.foreseen
    from_pot = answer.pot.name if answer.pot and proposed.kind in (CORRECTION, THINNING) else None
    covariance = tuple(tuple(float(value) for value in row) for row in foreseen.covariance)
    return Proposal(
        kind=THINNING if choice.roads else proposed.kind,
        shade=shade,
        batch=batch,
        from_batch=from_pot,
        recipe=choice.pot,
        target=proposed.target.lab,
        target_words=proposed.target.words,
        lab=foreseen.lab,
        covariance=covariance,  # type: ignore[arg-type]
        radius=foreseen.radius,
        reflectance=tuple(round(float(value), 5) for value in foreseen.reflectance),
        cloth=answer.bench.cloth,
        stage=answer.bench.stage,
        words="",
        facts={
            "expected": round(choice.mix.expected, 3),
            "tints": len(answer.bench.tints),
            "part": choice.part,
            "made": date.today().isoformat(),
        },
    )


def new_lot(
    library: Library, pigment: str, lot: str, since: str, test: int | None = None, strength: float | None = None
) -> str:
    """Note a new lot of a pigment, its strength from the record of a small test mix with it; what was done, in words.

    Raises
    ------
    UsageError
        A test and a strength were both given, no such record, or the pigment is not in it.
    """
    if test is not None and strength is not None:
        raise UsageError("A test mix and a strength were both given.", "Give one of them.")
    if test is None:
        return add_lot(library, pigment, lot, since, 1.0 if strength is None else strength)
    record = library.record(test)
    bench = set_up(library, record.cloth, record.stage)
    name = f"record {record.number}"
    (pot,) = [batch for batch in library.batches(record.shade) if key(batch.name) == key(record.batch)]
    tint = tint_of(record, pot, {shelf: one for shelf, one in bench.shelf.items() if shelf != key(pigment)})
    if tint is None:
        raise UsageError(
            f"Nobody said what was in the test mix (batch {pot.name} of '{pot.shade}').",
            f'Say it: swatchcam shade batch "{pot.shade}" "{pot.name}" --recipe "binder 100 g, {pigment} 1 g"',
        )
    rest = replace(bench, tints=tuple(one for one in bench.tints if one.name != name))
    found, std = lot_strength(rest, tint, pigment)
    if key(pigment) not in bench.shelf:
        set_pigment(library, bench.names.get(key(pigment), pigment))
    done = add_lot(library, pigment, lot, since, round(found, 4), round(std, 4))
    return f"{done}: {found:.2f} ±{1.96 * std:.2f} times as strong as the ladder's"
