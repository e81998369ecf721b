"""What is said at the mixing table: of targets, pots, new recipes and corrections."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import counted, listed
from .surface import Catalogue, On

# Why a pot is best left as it is, behind "Leave it:".
BETTER_LEFT = {
    "no-visible-difference": "you would not see the difference",
    "too-fine-to-weigh": "to bring it to {nearest:.1f} you would have to add less than you can weigh or dispense, so"
    " you would need a finer scale",
    "state-unseen": "too few of your strips show what the target's state does to a colour",
    "not-sure-enough": "it isn't sure enough that an addition would help, and you can't undo it",
    "nothing-helps": "nothing you could add would bring it visibly nearer",
}
VAGUE = 4.0  # an interval whose ends differ by more than this factor is no number to be told
MEASURED, NOMINAL = "a measured card", "a card that was never measured"


def better_left(why: str, nearest: float, **_: Any) -> str:
    """Why a pot is best left, without a full stop."""
    return BETTER_LEFT[why].format(nearest=nearest)


def odds_words(nearer: float, worse: float, by: float) -> str:
    """What may come of an addition, from two chances of 0 to 1."""
    return f"Chances: {odds(nearer)} that the pot comes nearer, {odds(worse)} that it gets worse by more than {by:g}."


def odds(chance: float) -> str:
    """A chance as a printer says it: 9 in 10, 1 in 100."""
    hundred = round(100 * chance)
    if chance < 0.005 or chance > 0.995:
        return "less than 1 in 100" if chance < 0.5 else "more than 99 in 100"
    return f"{hundred // 10} in 10" if hundred % 10 == 0 else f"{hundred} in 100"


def right_words(right: float) -> str:
    """How likely it is that a pot is right, from a chance of 0 to 1."""
    return f"The chance is {odds(right)} that the pot is right, and only its strip is thicker or thinner than usual."


def film_words(percent: float, low: float, high: float, strips: int) -> str:
    """How unlike a studio's films are, in %; "" where no strip tells."""
    if not strips:
        return ""
    judged = f"judging from {counted(strips, 'strip')}"
    if high > VAGUE * low:
        return f"Your films vary by something between {low:.0f} and {high:.0f} % from strip to strip, {judged}."
    return f"Your films vary by {percent:.0f} % ({low:.0f} to {high:.0f} %) from strip to strip, {judged}."


def help_words(means: str, strips: int, pigments: Sequence[str]) -> str:
    """What would make a correction sure enough."""
    more = "one more strip" if strips == 1 else f"{strips} more strips"
    look, them = ("it looks", "it") if strips == 1 else ("they look", "them")
    return {
        "whole-colour": "The colour is too vivid for your photo. Measure it from a Display P3 or DNG photo, or"
        " measure a let-down strip.",
        "more-strips": f"Make {more} of the pot and photograph {them} beside the first. If {look} like it, an addition"
        " is sure enough.",
        "finer-scale": "Use a finer scale.",
        "longer-series": f"Add more strips to your test series of {listed(list(pigments))}.",
    }[means]


def _leave_it(why: str, nearest: float, **_: Any) -> str:
    return f"Leave it: {better_left(why, nearest)}."


def _unlike_cards(known_measured: bool, **_: Any) -> str:
    known, this = (MEASURED, NOMINAL) if known_measured else (NOMINAL, MEASURED)
    return f"Your known strips were measured with {known}, this colour with {this}: the two can't be compared."


def _several_cloths(cloths: Sequence[str], **_: Any) -> str:
    return f"There are strips on several cloths: {listed(cloths)}."


def _no_known_strips(state: str, cloth: str, **_: Any) -> str:
    return f"No {state} strip{f' on {cloth}' if cloth else ''} has a recipe in the library."


def _then_carried_over(known: str, **_: Any) -> str:
    return f"Your pigments are then carried over from {known or 'the cloth without a name'}."


def _if_no_slip(near: Sequence[str], remedy: str) -> str:
    asked = f"Did you mean {' or '.join(repr(each) for each in near)}? If not, "
    return f"{asked}{remedy[0].lower()}{remedy[1:]}" if near else remedy


def _photograph_it_bare(cloth: str, known: str, near: Sequence[str] = (), **_: Any) -> str:
    remedy = (
        f"Photograph bare {cloth} in a window of the card and keep it as shade 'bare cloth' on {cloth}."
        f" {_then_carried_over(known)}"
    )
    return _if_no_slip(near, remedy)


def _keep_it_bare(cloth: str, known: str, near: Sequence[str] = (), **_: Any) -> str:
    remedy = (
        f"Photograph bare {cloth} in the left window of the card and keep it: swatchcam keep PHOTO --strip left"
        f' --shade "bare cloth" --cloth "{cloth}". {_then_carried_over(known)}'
    )
    return _if_no_slip(near, remedy)


def _choices(count: int, **_: Any) -> str:
    if count < 2:
        return "There is only one choice." if count else "There is nothing to choose from."
    return f"Choose one from 1 to {count}."


def _choices_by_option(count: int, **_: Any) -> str:
    return f"Choose one from 1 to {count} with --choice." if count > 1 else _choices(count)


PROBLEMS: Catalogue = {
    # Targets.
    "no-target-named": "You haven't said which colour you want.",
    "record-for-other-light": "Record {number} is for another light.",
    "nothing-to-mix-towards": "Shade '{shade}' has neither a target nor another {state} record.",
    "target-and-record": "A target and a record were both named.",
    "target-unreadable": "The target '{target:.60}' is neither three numbers nor a photo that exists.",
    # What is known on this cloth.
    "cards-unlike": _unlike_cards,
    "cloth-not-named": _several_cloths,
    "no-known-strips": _no_known_strips,
    "no-bare-cloth": "No strip on {cloth} has a recipe yet, and no photo shows {cloth} bare.",
    "no-cloth-in-that-state": "No {state} strip has a recipe yet, on {cloth} or any other cloth.",
    "new-cloth-in-two-states": "{cloth} is new, so the target and the pot's strip must be in the same state: the target"
    " is {target}, but the strip is {strip}.",
    "no-pigment-in-strips": "There is no strip yet with a known amount of pigment in it.",
    "numbers-need-measured-card": "A card that was never measured can't reach these numbers: its own colours are only"
    " what was sent to a printer.",
    # Recipes.
    "left-over-unreadable": "'{typed}' does not give a batch and the grams left of it.",
    "leftover-named-twice": "Batch {batch} is named twice.",
    "more-left-than-wanted": "{left:g} g are left, but only {wanted:g} g are wanted.",
    "inks-mixed": "These leftovers are different inks: {inks:listed}.",
    "nothing-left": "There is nothing left to use up.",
    "nothing-to-use-up": "No leftover is any use for this colour ({count} tried): with more than a little of one, the"
    " pot would end up over {by:g} CIEDE2000 further off than a fresh one.",
    "no-room-for-pigment": "The limits leave no room for any pigment.",
    "no-usable-pigment": "Nothing is known yet about any of these pigments on this cloth.",
    "too-pale-to-weigh": "In {grams:g} g, a colour this pale takes less pigment than you can weigh.",
    # The pot in hand.
    "batch-without-recipe": "Batch {batch} of '{shade}' has no recipe.",
    "no-shade-for-pot": "You haven't said which shade the pot should become.",
    "pot-is-target": "The pot's strip and the target are the same strip.",
    "pot-not-too-strong": "This pot is not too strong: no thinner ink you can weigh would come nearer to the target.",
    "pot-unlike-any-mix": "No mix of these pigments looks like this pot (the nearest is {off:.2f} CIEDE2000 away).",
    "shade-without-batch": "Shade '{shade}' has no batch yet.",
    "shade-without-recipe": "Shade '{shade}' has no batch with a recipe.",
    "strip-kept-as-other": "This strip is already kept as record {number}, with {what} '{then}' instead of '{now}'.",
    "strip-not-of-pot": "This strip is {apart:.0f} CIEDE2000 away from what the recipe of batch {batch} gives: it is"
    " probably not from that pot.",
    # Keeping a choice.
    "no-shade-to-keep-for": "You haven't said which shade to keep this under.",
    "no-choice-of-that-number": "There is no choice {number}.",
    "pot-better-left": _leave_it,
}
REMEDIES: Catalogue = {
    "add-to-pot-instead": On(
        "See what to add to it instead: leave out --thin, or use a finer scale.",
        "See what to add to it instead, or use a finer scale.",
    ),
    "add-up-what-is-left": "Add up what is left of it.",
    "ask-for-more": On(
        "Measure what is left and correct it with 'swatchcam mix correct', or ask for more.",
        "Measure what is left and correct it on the page 'Pot', or ask for more.",
    ),
    "choose-a-cloth": On(
        "Name one with --cloth: ink looks different on each.", "Choose one: ink looks different on each."
    ),
    "choose-among-these": On(_choices_by_option, _choices),
    "do-not-keep": On("Leave out --keep: there is nothing to mix.", "There is nothing to mix."),
    "give-recipe-or-pigments": "Give its recipe, or name all the pigments that may be in it.",
    "keep-a-strip-with-recipe": On(
        'Keep a strip with its recipe: swatchcam keep PHOTO --shade "{shade}" --batch 1 --recipe "clear base 500 g,'
        ' blue 3.2 g"',
        "Keep a strip with its recipe on the page 'Photo'.",
    ),
    "loosen-limits": On(
        "Give a larger --max-load, or name other pigments.", "Allow more pigment, or choose other pigments."
    ),
    "make-test-series": On(
        "Make a test series of each pigment: swatchcam pigment series PHOTO --pigment NAME --load left=0.4"
        " --load right=1.5",
        "Make a test series of each pigment on the studio's computer.",
    ),
    "measure-target-with-this-card": On(
        "Measure a strip of the target with the same card, or have the card measured: swatchcam handbook card.",
        "Photograph a strip of the target with the same card, or have the card measured.",
    ),
    "mix-more-or-finer-scale": "Mix more, use a finer scale, or check the target: no pigment makes it lighter than the"
    " bare cloth.",
    "mix-a-fresh-pot": On(
        "Mix a fresh pot with 'swatchcam mix recipe', or ask for more ink.", "Mix a fresh pot, or ask for more ink."
    ),
    "name-the-ink": On(
        "Name one with --ink: different inks should not be mixed (common practice, no source).",
        "Choose one: different inks should not be mixed (common practice, no source).",
    ),
    "say-what-is-left": On(
        'Say what is left, for example --leftover "river blue 3=120" for 120 g of batch 3 of river blue.',
        "Weigh what is left of a pot with a known recipe, and note it on the shelf.",
    ),
    "name-a-target": On(
        "Give --target L,a,b or PHOTO:left, --record or --shade.", "Choose a shade, or type the numbers."
    ),
    "name-one-of-the-two": "Name only one of them.",
    "name-each-strip-once": "Name each strip of the pot once.",
    "name-other-record": On(
        "You can only mix for D65 and 10 degrees: name another record.",
        "You can only mix for D65 and 10 degrees: choose another record.",
    ),
    "name-right-batch-or-strip": On(
        "Name the batch with --batch, or the strip with --strip. If the recipe is wrong, use --unknown.",
        "Choose the batch, or the strip. If the recipe is wrong, tick that nobody knows what is in the pot.",
    ),
    "photograph-bare-cloth": On(_keep_it_bare, _photograph_it_bare),
    "photograph-known-strips-so": "Photograph {state} strips of your test series: pigments are carried over to a new"
    " cloth only from strips in the same state.",
    "photograph-strip-like-target": "Photograph a strip of the pot that is {target}.",
    "name-the-shade": On('Name it: --shade "river blue"', "Type its name."),
    "name-the-shade-of-pot": On(
        "Name it with --shade, or use --unknown.", "Choose it, or tick that nobody knows what is in the pot."
    ),
    "same-details-or-correct-record": On(
        "Give the same details as then, or correct the record with 'swatchcam record {number}'.",
        "Give the same details as then, or correct the record on its page.",
    ),
    "say-what-is-in-one-batch": On(
        'Give the recipe of one: swatchcam batch "{shade}" BATCH --recipe "clear base 500 g, blue 3.2 g"',
        "Keep a strip of one with its recipe.",
    ),
    "say-what-is-in-batch": On(
        'Give it: swatchcam batch "{shade}" "{batch}" --recipe "clear base 500 g, blue 3.2 g"; or use --unknown.',
        "Keep a strip of that batch with its recipe, or tick that nobody knows what is in the pot.",
    ),
    "use-values-of-that-card": On(
        "Name the card values of your known strips with --card.", "Choose the card of your known strips."
    ),
    "write-left-over-of-any": "Write it as 'river blue 3=120' for 120 g of batch 3 of river blue.",
    "write-left-over": "Write it as 3=120 for 120 g of batch 3.",
    "write-target": "Write it as L,a,b, for example 41.2,38.0,-12.5, or as photo.jpg:left.",
}
