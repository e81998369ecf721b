"""What is said of a strip's film: wet ink that was weighed on it, and ink that was let down for it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import let_down_words, listed
from .library import whose
from .surface import Catalogue, On


def _thinned(parts: float) -> str:
    return let_down_words(parts) or "of the ink itself"


def _none_let_down_so(shade: str, batch: str | None, let_down: float, **_: Any) -> str:
    return f"{whose(shade, batch)} has no other record {'that is ' if let_down else ''}{_thinned(let_down)}."


def _let_down_otherwise(record: int, let_down: float, there: Sequence[float], **_: Any) -> str:
    return f"Record {record} is {_thinned(there[0])}, but your strip is {_thinned(let_down)}."


def _known(there: Sequence[float], record: int | None = None, **_: Any) -> str:
    """What there is to compare with; "" where the problem has just said it of one record."""
    return "" if record else f"There are {listed([f'strips {_thinned(parts)}' for parts in there])}. "


def _say_let_down(there: Sequence[float], **facts: Any) -> str:
    ways = [f"give --let-down {parts:g}" if parts else "leave out --let-down" for parts in there]
    return f"{_known(there, **facts)}If yours is such a strip, {' or '.join(ways)}."


def _choose_let_down(there: Sequence[float], **facts: Any) -> str:
    return (
        f"{_known(there, **facts)}If yours is such a strip, type how far it is let down, or nothing for the ink itself."
    )


PROBLEMS: Catalogue = {
    "let-down-without-kept-strip": "A let-down strip is compared with one that is let down as far.",
    "coat-without-kept-strip": "A weight of ink helps only if the other strip was weighed too.",
    "pot-against-numbers": "A pot can be judged only against another pot's strips, not against numbers.",
    "coats-unlike-strips": "You gave {coats:counted weight} of ink for {strips:counted strip}.",
    # What was typed
    "coat-below-scale": "{grams:g} g of ink is too little for a scale that shows steps of {step:g} g.",
    "coat-unreadable": "'{typed}' can't be read as a weight of ink on an area.",
    "let-down-unreadable": "'{typed}' does not say how far the ink was let down.",
    "mark-said-twice": "Two strips have the mark '{mark}': they would count as one.",
    "more-said-than-strips": "You gave {option} {said:counted time} for {strips:counted strip}.",
    # Let-down strips
    "let-down-against-target": "A target is a colour of the ink itself, and your strip is let down.",
    "no-record-let-down-so": _none_let_down_so,
    "pot-strip-let-down": "Record {number} is of a let-down strip, so its colour is not that of the pot.",
    "record-let-down-no-target": "Record {record} is of a let-down strip, which is never the colour of its shade.",
    "record-let-down-otherwise": _let_down_otherwise,
}
REMEDIES: Catalogue = {
    "choose-a-record-of-the-ink": On(
        "Choose a record of the ink itself: 'swatchcam shade show \"{shade}\"' lists them.",
        "Choose a record of the ink itself.",
    ),
    "leave-out-target-or-let-down": On(
        "Leave out --against-target or --let-down.", "Choose the last batch of the shade instead."
    ),
    "photograph-the-ink-itself": "Photograph a strip of the ink itself.",
    "compare-with-strips": On("Leave out --judge pot, or compare with strips.", "Compare with strips."),
    "say-the-let-down": On(_say_let_down, _choose_let_down),
    "once-for-each-strip": On("Give it once for each --strip, in their order.", "Give it once for each strip."),
    "mark-each-strip": "Give each strip its own mark, such as A and B.",
    "name-shade-or-record": On(
        "Compare with a kept strip, by --shade or --record, or leave out --coat.", "Compare with a kept strip."
    ),
    "weigh-each-strip": On(
        "Give --coat once for each strip, in their order, or leave it out.", "Give one weight for each strip, or none."
    ),
    "weigh-strips-together": "Weigh {strips} such strips together and write it like this: '{shown} g on {strips}"
    " strips of {area}'. Or use a finer scale, and type every digit that it shows.",
    "write-a-coat": "Write it like this: '0.72 g on 10x10 cm' or '7.2 g on 10 strips of 10x10 cm'.",
    "write-a-let-down": "Type how many parts of clear base went to one part of ink: 10 or 1:10.",
}
