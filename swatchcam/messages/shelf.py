"""What is said of what the studio has: its scale, drops and spoons, pre-mixes, and what is left on the shelf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..text import listed
from .surface import Catalogue, On

# What was said of the studio -> how it is told.
SAID = {
    "scale_g": "its scale has steps of {:g} g",
    "spoon_ml": "its spoon holds {:g} ml",
    "pot_g": "it usually mixes {:g} g",
    "card": "its card is '{}'",
    "cloth": "its cloth is '{}'",
    "state": "its shades are matched {}",
    "tolerance": "its tolerance is {:g}",
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
    words = [f"noted of the studio: {listed(noted)}"] * bool(noted) + [f"forgot {listed(gone)}"] * bool(gone)
    return "; ".join(words)


def _what(of: str, shade: str, name: str) -> str:
    return f"batch '{name}' of '{shade}'" if of == "pot" else f"{of} '{name}'"


def _weighed(of: str, shade: str, name: str, grams: float, before: float | None = None, **_: Any) -> str:
    thought = "" if before is None or abs(before - grams) < 0.05 else f" ({before:.10g} g by what came and went)"
    return f"noted that {grams:.10g} g are left of {_what(of, shade, name)}{thought}"


def _taken(of: str, shade: str, name: str, grams: float, left: float | None = None, **_: Any) -> str:
    done = f"noted that {grams:.10g} g were taken out of {_what(of, shade, name)}"
    if left is None:
        return f"{done}, which nobody has weighed yet"
    if left < 0:
        return f"{done}: {-left:.10g} g more than there was known to be, so weigh what is left"
    return f"{done}; {left:.10g} g are left"


def _pre_mix(name: str, grams: float, lot: str, before: float | None = None, **_: Any) -> str:
    of_lot = f" (lot {lot})" if lot else ""
    emptied = f"; the {before:.10g} g that were left of the one before no longer count" if before else ""
    return f"put {grams:.10g} g of pre-mix '{name}'{of_lot} on the shelf{emptied}"


PROBLEMS: Catalogue = {
    "drops-too-few": "{drops:counted drop} weighed {grams:g} g, and on a scale with steps of {step:g} g that tells too"
    " little.",
    "drops-unreadable": "'{typed}' can't be read as drops that were weighed.",
    "pre-mix-unknown": "There is no pre-mix called '{name}' on the shelf.",
}


def _pre_mix_meant(near: Sequence[str], **_: Any) -> str:
    return f"Did you mean {listed(near)}?" if near else "Put it on the shelf first."


REMEDIES: Catalogue = {
    "choose-a-pre-mix": _pre_mix_meant,
    "count-more-drops": "Count on in fifties until the scale shows {enough:g} g or more. You can count them into a"
    " pre-mix that you need anyway.",
    "name-a-pigment": "Name a pigment.",
    "say-its-price-or-density": On(
        "Say what it costs with --price, or what it weighs with --density.",
        "Say what it costs on the studio's computer.",
    ),
    "write-drops": "Write it like this: '200 drops = 10.2 g'.",
}
CHANGES: Catalogue = {
    "pre-mix-drops": "noted that a drop of pre-mix '{name}' weighs {grams:.3g} g",
    "pre-mix-kept": _pre_mix,
    "stock-taken": _taken,
    "stock-weighed": _weighed,
    "studio-set": _studio,
}
