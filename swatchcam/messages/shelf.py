"""What is said of what the studio has: its scale, drops and spoons, pre-mixes, and what is left on the shelf."""

from __future__ import annotations

from collections.abc import Sequence

from ..text import listed
from .surface import Catalogue, On


def cost_words(now: float | None, whole: float | None = None, unpriced: Sequence[str] = ()) -> list[str]:
    """What is weighed now costs, and the whole pot, where that is more; or what has no price yet. None where no price
    was ever noted."""
    if now is None:
        return [f"what it costs can't be told yet: no price noted for {listed(list(unpriced))}"] if unpriced else []
    if whole is None or f"{whole:.2f}" == f"{now:.2f}":
        return [f"costs about {now:.2f}"]
    return [f"costs about {now:.2f}, the whole pot about {whole:.2f}"]


PROBLEMS: Catalogue = {
    "drops-too-few": "{drops:counted drop} weighed {grams:g} g, and on a scale with steps of {step:g} g that tells too"
    " little.",
    "drops-unreadable": "'{typed}' can't be read as drops that were weighed.",
}
REMEDIES: Catalogue = {
    "count-more-drops": "Count on until the scale shows {enough:g} g or more. You can count them into a pre-mix that"
    " you need anyway.",
    "say-its-price-or-density": On(
        "Say what it costs with --price, or what it weighs with --density.",
        "Say what it costs on the studio's computer.",
    ),
    "write-drops": "Write it like this: '200 drops = 10.2 g'.",
}
