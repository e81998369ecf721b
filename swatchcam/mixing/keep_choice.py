"""A choice as a proposal that the library keeps."""

from __future__ import annotations

from datetime import date

from ..errors import UsageError
from ..library.library import Library
from ..library.proposal_store import keep_proposal
from ..library.proposals import CORRECTION, PIGMENT, POT, PRE_MIX, THINNING, Proposal, Used
from ..recipes.recipe import CLEAR_BASE, called
from .order import Choice
from .requests import Answer


def keep_choice(library: Library, answer: Answer, shade: str, batch: str, number: int = 1) -> Proposal:
    """Keep the choice of that number, 1 for the recommended one, as a batch that is going to be mixed.

    Raises
    ------
    UsageError
        There is no such choice, no shade was named, or the batch is there already.
    """
    if answer.proposed.leave:
        raise UsageError("pot-better-left", "do-not-keep", why=answer.proposed.leave, nearest=answer.proposed.nearest)
    choice = choice_of(answer, number)
    named = shade or (answer.shade.name if answer.shade else "")
    if not named:
        raise UsageError("no-shade-to-keep-for", "name-the-shade")
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
        raise UsageError("no-choice-of-that-number", "choose-among-these", number=number, count=len(found))
    return found[number - 1]


def proposal_for(answer: Answer, choice: Choice, shade: str, batch: str) -> Proposal:
    """A choice as the library would keep it, as a batch of that name."""
    proposed, predicted = answer.proposed, choice.mix.predicted
    from_pot = answer.pot.name if answer.pot and proposed.kind in (CORRECTION, THINNING) else None
    covariance = tuple(tuple(float(value) for value in row) for row in predicted.covariance)
    return Proposal(
        kind=THINNING if choice.roads else proposed.kind,
        shade=shade,
        batch=batch,
        from_batch=from_pot,
        recipe=choice.pot,
        target=proposed.target.lab,
        target_words=proposed.target.words,
        lab=predicted.lab,
        covariance=covariance,  # type: ignore[arg-type]
        radius=predicted.radius,
        reflectance=tuple(round(float(value), 5) for value in predicted.reflectance),
        cloth=answer.bench.cloth,
        state=answer.bench.state,
        target_state=proposed.target.state,
        facts={
            "expected": round(choice.mix.expected, 3),
            "tints": len(answer.bench.known_strips),
            "part": choice.part,
            "made": date.today().isoformat(),
        },
        used=used_by(answer, choice),
        makings=choice.makings,
    )


def used_by(answer: Answer, choice: Choice) -> tuple[Used, ...]:
    """What a choice takes off the shelf: the pot in hand, what is left of old pots, and what is weighed in."""
    going_in = answer.going_in(choice)
    rests = [Used(POT, r.batch.name, r.grams, r.batch.number, emptied=r.grams >= r.left) for r in going_in]
    return (*_in_hand(answer, choice), *rests, *_weighed_in(choice))


def _in_hand(answer: Answer, choice: Choice) -> list[Used]:
    """The pot in hand goes into the new one; of one that is too strong perhaps only a part."""
    pot = answer.pot
    if pot is None or answer.proposed.kind not in (CORRECTION, THINNING):
        return []
    if choice.roads:
        fresh = choice.roads.fresh
        return [Used(POT, pot.name, fresh.ink_g, pot.number, emptied=fresh.left is None)]
    return [Used(POT, pot.name, choice.pot.grams - choice.added.grams, pot.number, emptied=True)]


def _weighed_in(choice: Choice) -> list[Used]:
    """Clear base, pigments, ready-mixed inks and pre-mixes out of their bottles and jars."""
    base = choice.roads.fresh.binder_g if choice.roads else 0.0
    found = [Used(PIGMENT, called(dose.what), dose.grams) for dose in choice.doses if dose.pre_mix is None]
    for dose in choice.doses:
        if dose.pre_mix:
            found.append(Used(PRE_MIX, dose.pre_mix.name, dose.grams, dose.pre_mix.number))
    return [*found, *([Used(PIGMENT, CLEAR_BASE, base)] if base > 0 else [])]
