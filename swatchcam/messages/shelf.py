"""What is said of what the studio has: its scale, drops and spoons, pre-mixes, and what is left on the shelf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..text import listed
from .surface import Catalogue, On

CLEAR_BASE = "clear base"
# What was said of the studio -> how it is told.
SAID = {
    "scale_g": "the scale has steps of {:g} g",
    "spoon_ml": "the spoon holds {:.3g} ml",
    "pot_g": "the usual pot is {:g} g",
    "card": "the card is '{}'",
    "cloth": "the cloth is '{}'",
    "state": "shades are matched when {}",
    "tolerance": "the tolerance is {:g}",
}
FORGOTTEN = {
    "scale_g": "the scale",
    "spoon_ml": "the spoon",
    "pot_g": "the usual pot",
    "card": "the card",
    "cloth": "the cloth",
    "state": "the state",
    "tolerance": "the tolerance",
}


def _studio(said: Mapping[str, Any], forgotten: Sequence[str], **_: Any) -> str:
    noted = [SAID[name].format(value) for name, value in said.items() if name in SAID]
    gone = [FORGOTTEN[name] for name in forgotten if name in FORGOTTEN]
    words = [f"noted about your studio: {listed(noted)}"] * bool(noted) + [f"forgot {listed(gone)}"] * bool(gone)
    return "; ".join(words)


def _what(of: str, shade: str, name: str) -> str:
    if name == CLEAR_BASE and of == "pigment":
        return "the clear base"
    return f"batch '{name}' of '{shade}'" if of == "pot" else f"{of} '{name}'"


def _weighed(of: str, shade: str, name: str, grams: float, before: float | None = None, **_: Any) -> str:
    thought = "" if before is None or abs(before - grams) < 0.05 else f" (the shelf said {round(before, 2):.10g} g)"
    return f"noted that {grams:.10g} g are left of {_what(of, shade, name)}{thought}"


def _taken(of: str, shade: str, name: str, grams: float, left: float | None = None, **_: Any) -> str:
    done = f"noted that {grams:.10g} g were taken out of {_what(of, shade, name)}"
    if left is None:
        return f"{done}, which nobody has weighed yet"
    if left < 0:
        return f"{done}: that is {round(-left, 2):.10g} g more than the shelf knew of, so weigh what is left"
    return f"{done}; {round(left, 2):.10g} g are left"


def _pre_mix(name: str, grams: float, lot: str, before: float | None = None, **_: Any) -> str:
    of_lot = f" (lot {lot})" if lot else ""
    emptied = f"; the {round(before, 2):.10g} g left of the old one no longer count" if before else ""
    return f"put {grams:.10g} g of pre-mix '{name}'{of_lot} on the shelf{emptied}"


def making_words(pigment_g: float, base_g: float) -> list[str]:
    """What the pre-mixes take that are made first, in a sentence; none where none is."""
    if not pigment_g:
        return []
    taken = f"{pigment_g:.10g} g of pigment and {base_g:.10g} g of clear base"
    return [f"The pre-mixes take {taken} first; what is left of them stays on your shelf."]


def cost_words(now: float | None, whole: float | None = None, unpriced: Sequence[str] = ()) -> list[str]:
    """What is weighed now costs, and the whole pot where that is more; else what has no price; at most one line."""
    if now is None:
        return [f"The cost isn't known yet: no price for {listed(list(unpriced))}."] if unpriced else []
    if whole is None or f"{whole:.2f}" == f"{now:.2f}":
        return [f"Costs about {now:.2f}."]
    return [f"Costs about {now:.2f}; the whole pot costs about {whole:.2f}."]


PROBLEMS: Catalogue = {
    "drops-of-nothing": "'{typed}' doesn't say which bottle the drops are from.",
    "nothing-called-so": "There is no pot, pre-mix or pigment called '{typed}'.",
    "pre-mix-not-kept": "You gave what was weighed, but the pre-mix isn't going to be kept.",
    "several-called-so": "'{typed}' can be more than one thing.",
    "stronger-pre-mix-first": "It is made from '{name}', which is not on the shelf.",
    "drops-too-few": "{drops:counted drop} weighed {grams:g} g: too little to go by on a scale with steps of"
    " {step:g} g.",
    "drops-unreadable": "'{typed}' can't be read as drops and their weight.",
    "spoon-unknown": "'{entry}' is in spoons, and nobody has said what the studio's spoon holds.",
    "spoon-unreadable": "'{typed}' can't be read as what a spoon holds.",
    "spoons-too-few": "{spoons:counted spoon} weighed {grams:g} g: too little to go by on this scale.",
    "pre-mix-no-pigment": "'{name}' is the name of a pre-mix, not of a pigment.",
    "pre-mix-unknown": "There is no pre-mix called '{name}' on the shelf.",
}


def _thing_meant(near: Sequence[str], **_: Any) -> str:
    if near:
        return f"Did you mean {' or '.join(repr(each) for each in near)}?"
    return "Write a pot as its shade and batch, such as 'river blue 3', a pre-mix as 'blue 1 %'."


def _thing_or_pigment(near: Sequence[str], typed: str, **_: Any) -> str:
    more = f' If it is a pigment, put it on the shelf first: swatchcam pigment set "{typed}"'
    return _thing_meant(near) + ("" if near or not typed.strip() else more)


def _one_of_these(names: Sequence[str], **_: Any) -> str:
    return f"Which one do you mean: {', '.join(repr(each) for each in names)}?"


def _pre_mix_meant(near: Sequence[str], **_: Any) -> str:
    return f"Did you mean {listed(near)}?" if near else "Put it on the shelf first."


REMEDIES: Catalogue = {
    "choose-from-the-shelf": On(_thing_or_pigment, _thing_meant),
    "keep-or-leave-out-the-weights": On("Add --keep, or leave it out.", "Keep it, or leave it out."),
    "make-and-keep-it-first": "Make that one first, and keep it.",
    "name-one-of-these": _one_of_these,
    "write-drops-of-a-bottle": "Write it like this: 'blue: 200 drops = 10.2 g'.",
    "choose-a-pre-mix": _pre_mix_meant,
    "count-more-drops": "Go on counting, 50 at a time, until the scale shows {enough:g} g or more. You can count them"
    " into a pre-mix that you need anyway.",
    "name-a-pigment": "Name a pigment.",
    "name-its-pigment": On(
        'Name the pigment in it: swatchcam shelf pre-mix "{pigment}" --percent {percent}', "Name the pigment in it."
    ),
    "write-what-is-in-it": "Write how much of it is {pigment} and how much is clear base.",
    "say-its-price-or-density": On(
        "Say what it costs with --price, or what it weighs with --density.",
        "Say what it costs on the studio's computer.",
    ),
    "say-what-the-spoon-holds": On(
        "Say it once with 'swatchcam studio --spoon \"10 spoons = 48 g\"', or weigh it.",
        "Say on the studio's computer what it holds, or weigh it.",
    ),
    "weigh-more-spoons": "Go on until the scale shows {enough:g} g or more.",
    "write-spoon": "Write it in millilitres, or like this: '10 spoons = 48 g' of clear base, or '10 spoons of water ="
    " 50 g'.",
    "write-drops": "Write it like this: '200 drops = 10.2 g'.",
}
CHANGES: Catalogue = {
    "pre-mix-drops": "noted that a drop of pre-mix '{name}' weighs {grams:.3g} g",
    "pre-mix-kept": _pre_mix,
    "stock-taken": _taken,
    "stock-weighed": _weighed,
    "studio-set": _studio,
}
