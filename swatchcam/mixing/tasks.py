"""The questions of a person at the mixing table, from the photo to the proposal that the library keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from ..colorimetry.colour_difference import delta_e_2000
from ..errors import UsageError
from ..library.entry import Entry
from ..library.library import Library
from ..library.proposal_store import keep_proposal, proposals
from ..library.proposals import CORRECTION, THINNING, Proposal
from ..library.records import DRY, Batch, Record, Shade, Stage
from ..library.row_mapping import by_name
from ..library.save import origin_of, prepare, put
from ..measurement.measure import measure
from ..measurement.stored_colour import Kept
from ..measurement.summary import Sitting, sitting_of
from ..recipes.recipe import Recipe
from ..text import key
from .order import Choice, Order, Proposed, check_target
from .pigment_model import MISFIT
from .recommend import again, correction_for, recipe_for, stand_in, tint_for
from .search import Target
from .target import Asked, named_beside, of_drawdown, of_shade, target_of
from .thinning_choices import thinning_for
from .tint import Tint, strip_of
from .workbench import Bench, set_up

SAME = "The pot's drawdown and the target are one and the same.", "Name two drawdowns."
ANOTHER_POT = 15.0  # CIEDE2000 off what a recipe foretells, beyond which a drawdown is hardly of that pot; no source


@dataclass(frozen=True)
class Place:
    """What is mixed for."""

    cloth: str = ""  # by default the only one
    stage: Stage = DRY
    ink: str = ""  # the ink's family; by default all


@dataclass(frozen=True)
class Hand:
    """The pot in hand, and where its drawdown lies in the photo."""

    batch: str = ""  # by default the shade's last one, or the one that this drawdown was kept under
    window: str | None = None
    beside: str | None = None  # the drawdown in the same photo that is the target
    unknown: bool = False  # nobody knows what is in it; nothing is kept then


@dataclass(frozen=True)
class Answer:
    """What came out, and on what it rests."""

    proposed: Proposed
    bench: Bench
    shade: Shade | None
    pot: Batch | None = None  # the pot in hand
    record: Record | None = None  # its drawdown, as the library now holds it
    rests: tuple[tuple[Batch, float], ...] = ()  # old pots that go in, g
    entry: Entry | None = None  # as which its drawdown is still to be kept


def new_recipe(library: Library, asked: Asked, order: Order, place: Place, wanted: Target | None = None) -> Answer:
    """A recipe for the colour that is asked for, or for `wanted` where that is known already."""
    bench = set_up(library, place.cloth, place.stage, place.ink)
    target, shade = (wanted, None) if wanted else target_of(library, asked, place.stage)
    return Answer(recipe_for(bench, target, order), bench, shade)


def corrected(
    library: Library,
    photos: Sequence[str],
    asked: Asked,
    order: Order,
    hand: Hand,
    place: Place,
    thinner_g: float | None = None,
) -> Answer:
    """What to do with the pot in hand, of which a drawdown was photographed; that drawdown is kept.

    Parameters
    ----------
    asked : the target; where it names only the shade, the strip `hand.beside` in the same photo, else the shade's
        target, else its last record of another batch
    order : its grams are what is in the pot now
    thinner_g : ask for so many grams of a thinner ink instead of an addition

    Raises
    ------
    UsageError
        No such shade, batch or drawdown, a pot without a recipe, a drawdown that cannot be of this pot, or whatever
        `recommend` refuses; then nothing is kept.
    SwatchcamError
        Whatever `measure`, `set_up` or the library refuse.
    """
    first, *more = photos
    beside = named_beside(hand.window, hand.beside)
    measurement = measure(first, asked.card, again=more, beside=beside, **asked.how)
    return correction(library, sitting_of(measurement), asked, order, hand, place, thinner_g)


def correction(
    library: Library,
    sitting: Sitting,
    asked: Asked,
    order: Order,
    hand: Hand,
    place: Place,
    thinner_g: float | None = None,
) -> Answer:
    """The same once the photos are measured; parameters and raises as `corrected`."""
    answer = considered(library, sitting, asked, order, hand, place, thinner_g)
    if answer.entry is None:
        return answer
    record = put(library, prepare(sitting, sitting.drawdown(hand.window).name, answer.entry))
    return replace(answer, record=record, entry=None)


def considered(
    library: Library,
    sitting: Sitting,
    asked: Asked,
    order: Order,
    hand: Hand,
    place: Place,
    thinner_g: float | None = None,
) -> Answer:
    """As `correction`, but nothing is kept: the answer's `entry` says as what the pot's drawdown is to be."""
    colour = sitting.drawdown(hand.window)
    if hand.unknown:
        bench = set_up(library, place.cloth, place.stage, place.ink)
        target = _wanted(library, asked, sitting, hand.beside, colour, None, place.stage)
        shade = library.shade(asked.shade) if asked.shade else None
        return _of_unknown_pot(bench, shade, target, colour, order, thinner_g)
    if not asked.shade:
        raise UsageError("Nobody said which shade the pot shall become.", "Name it with --shade, or say --unknown.")
    shade = library.shade(asked.shade)
    kept = _kept_already(library, shade, sitting, colour.name, hand.batch, place)
    pot = _pot(library, shade, kept.batch if kept else hand.batch)
    cloth = kept.cloth if kept else place.cloth or _cloth_of(library, shade, pot)
    bench = set_up(library, cloth, place.stage, place.ink)
    target = _wanted(library, asked, sitting, hand.beside, colour, pot, place.stage)
    recipe = recipe_in(pot)
    if kept is None:
        check_target(bench, Target(colour.lab, "the pot", colour))
        tint = tint_for(bench, recipe, colour, strip_of(shade.name, pot.name), pot.mixed)
        doubt = _doubt(bench, tint, pot)
        bench = replace(bench.with_tint(tint), flags=(*bench.flags, *doubt))
    proposed = _done(bench, target, recipe, order, thinner_g, pot.mixed)
    entry = None if kept else Entry(shade.name, pot.name, place.stage, cloth=bench.cloth)
    return Answer(proposed, bench, shade, pot, kept, entry=entry)


def corrected_from(
    library: Library,
    number: int,
    asked: Asked,
    order: Order,
    hand: Hand,
    place: Place,
    thinner_g: float | None = None,
) -> Answer:
    """As `corrected`, of a pot whose drawdown is kept already, as the record of that number.

    The target is the one that is asked for, else the shade's own, else its last record of another batch.
    """
    record = library.record(number)
    if asked.record == number:
        raise UsageError(*SAME)
    itself, _ = target_of(library, Asked(record=number))
    shade = library.shade(asked.shade or record.shade)
    if not hand.unknown:
        _refuse_other(record, shade, hand.batch, place)
    bench = set_up(library, record.cloth, record.stage, place.ink)
    if asked.target or asked.record is not None:
        target = target_of(library, asked, record.stage)[0]
    else:
        target = of_shade(library, shade, record.stage, record.batch)
    if hand.unknown:
        return _of_unknown_pot(bench, shade, target, record.colour, order, thinner_g)
    check_target(bench, itself)
    pot = _pot(library, shade, record.batch)
    return Answer(_done(bench, target, recipe_in(pot), order, thinner_g, pot.mixed), bench, shade, pot, record)


def repeated(library: Library, asked: Asked, order: Order, place: Place, rests: Sequence[str] = ()) -> Answer:
    """A shade once more, old pots first: `rests` are "BATCH=GRAMS"."""
    shade = library.shade(asked.shade)
    bench = set_up(library, place.cloth, place.stage, place.ink)
    target, _ = target_of(library, asked, place.stage)
    best = _best_pot(library, shade, target, place.stage)
    old: dict[str, tuple[Batch, float]] = {}
    for text in rests:
        batch, grams = _rest(library, shade, text)
        if batch.name in old:
            raise UsageError(f"Batch {batch.name} is named twice with --left.", "Add up what is left of it.")
        old[batch.name] = (batch, grams)
    known = [(recipe_in(batch), grams, batch.mixed) for batch, grams in old.values()]
    return Answer(again(bench, target, recipe_in(best), order, known), bench, shade, best, rests=tuple(old.values()))


def keep_choice(library: Library, answer: Answer, shade: str, batch: str, number: int = 1) -> Proposal:
    """Keep the choice of that number, 1 for the recommended one, as a batch that is going to be mixed.

    Raises
    ------
    UsageError
        There is no such choice, no shade was named, or the batch is there already.
    """
    if answer.proposed.leave:
        raise UsageError(
            f"Leave the pot as it is: {answer.proposed.leave}.", "Leave out --keep: there is nothing to mix."
        )
    choice = choice_of(answer, number)
    named = shade or (answer.shade.name if answer.shade else "")
    if not named:
        raise UsageError("Nobody said for which shade to keep this.", 'Name it: --shade "river blue"')
    return keep_proposal(library, proposal_for(answer, choice, named, batch))


def choice_of(answer: Answer, number: int) -> Choice:
    """The choice of that number, 1 for the recommended one.

    Raises
    ------
    UsageError
        There is no such choice.
    """
    found = answer.proposed.choices
    if not 1 <= number <= len(found):
        raise UsageError(f"There is no choice {number}.", f"There {_are(len(found))}: name one of them with --choice.")
    return found[number - 1]


def proposal_for(answer: Answer, choice: Choice, shade: str, batch: str) -> Proposal:
    """A choice as the library would keep it, as a batch of that name."""
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
        facts={
            "expected": round(choice.mix.expected, 3),
            "tints": len(answer.bench.tints),
            "part": choice.part,
            "made": date.today().isoformat(),
        },
    )


def _are(count: int) -> str:
    return f"is {count}" if count == 1 else f"are {count}"


def _wanted(
    library: Library,
    asked: Asked,
    sitting: Sitting,
    beside: str | None,
    colour: Kept,
    pot: Batch | None,
    stage: Stage,
) -> Target:
    """The target of a correction."""
    if beside:
        if beside == colour.name:
            raise UsageError(*SAME)
        return of_drawdown(sitting, beside)
    if asked.target or asked.record is not None or pot is None:
        return target_of(library, asked, stage)[0]
    return of_shade(library, library.shade(asked.shade), stage, pot.name)


def _of_unknown_pot(
    bench: Bench, shade: Shade | None, target: Target, colour: Kept, order: Order, thinner_g: float | None
) -> Answer:
    bench, recipe = stand_in(bench, colour, order.grams, order)
    return Answer(_done(bench, target, recipe, order, thinner_g), bench, shade)


def _doubt(bench: Bench, tint: Tint, pot: Batch) -> tuple[str, ...]:
    """A warning where a drawdown is not what the pot's recipe foretells.

    Raises
    ------
    UsageError
        It is so far off that it is hardly of this pot.
    """
    foreseen = bench.palette.foresee(tint.shares, tint.colour, tint.shares_std)
    miss = np.array(foreseen.miss)
    apart = float(delta_e_2000(np.array(foreseen.lab) - miss, foreseen.lab))
    if miss @ np.linalg.solve(foreseen.ink + foreseen.film, miss) <= MISFIT:
        return ()
    if apart > ANOTHER_POT:
        raise UsageError(
            f"This drawdown is {apart:.0f} CIEDE2000 off what the recipe of batch {pot.name} gives: hardly that pot.",
            "Name the batch with --batch, or the drawdown with --window; if the recipe is wrong, ask with --unknown.",
        )
    return (
        f"This drawdown is {apart:.1f} CIEDE2000 off what the recipe of batch {pot.name} gives: is it of that pot, and"
        " was everything weighed as noted?",
    )


def _pot(library: Library, shade: Shade, name: str) -> Batch:
    batches = library.batches(shade.name)
    if name:
        pot = by_name(batches, name, f"batch of '{shade.name}'", f"'swatchcam shade show \"{shade.name}\"' lists them.")
    elif batches:
        pot = batches[-1]
    else:
        raise UsageError(f"Shade '{shade.name}' has no batch yet.", "Name the batch that is in the pot with --batch.")
    recipe_in(pot)
    return pot


def recipe_in(pot: Batch) -> Recipe:
    """What is in a pot.

    Raises
    ------
    UsageError
        Nobody said.
    """
    if pot.recipe is None:
        raise UsageError(
            f"Nobody said what is in batch {pot.name} of '{pot.shade}'.",
            f'Say it: swatchcam shade batch "{pot.shade}" "{pot.name}" --recipe "binder 500 g, blue 3.2 g";'
            " or ask with --unknown.",
        )
    return pot.recipe


def _cloth_of(library: Library, shade: Shade, pot: Batch) -> str:
    """The cloth that the pot was proposed for, else that of the shade's last record; "" if nobody said."""
    known = [one.cloth for one in proposals(library, shade.name, pot.name)]
    known = known or [record.cloth for record in library.records(shade.name)]
    return known[-1] if known else ""


def _kept_already(
    library: Library, shade: Shade, sitting: Sitting, window: str, batch: str, place: Place
) -> Record | None:
    """The record of this drawdown, where it was kept before.

    Raises
    ------
    UsageError
        It was kept as something else than is said now.
    """
    origin = origin_of(sitting.digest, window)
    for record in library.records(digest=sitting.digest):
        if origin_of(record.photos[0].digest, record.colour.name) == origin:
            _refuse_other(record, shade, batch, place)
            return record
    return None


def _refuse_other(record: Record, shade: Shade, batch: str, place: Place) -> None:
    """Raise UsageError where a record is of something else than is said now."""
    said = {
        "shade": (shade.name, record.shade),
        "batch": (batch, record.batch),
        "cloth": (place.cloth, record.cloth),
        "state": (str(place.stage), str(record.stage)),
    }
    for what, (now, then) in said.items():
        if now and key(now) != key(then):
            raise UsageError(
                f"This drawdown was kept before as record {record.number}, {what} '{then}' and not '{now}'.",
                f"Say the same, or put the record right: swatchcam library amend {record.number}",
            )


def _done(
    bench: Bench, target: Target, pot: Recipe, order: Order, thinner_g: float | None, mixed: str = ""
) -> Proposed:
    if thinner_g is None:
        return correction_for(bench, target, pot, order, mixed)
    return thinning_for(bench, target, pot, order, thinner_g, mixed)


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
