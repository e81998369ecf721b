"""Of many mixes the few that are worth a look: few things first, and hardly worse than the best."""

from __future__ import annotations

from collections.abc import Sequence

from ..search import Mix

OTHERS = 3  # choices beside the recommended one
# CIEDE2000 by which a choice may be worse to be shown: with other things, and with fewer. No source.
NEARLY_AS_GOOD, WORTH_A_THOUGHT = 0.7, 3.0
WORTH_SAYING = 0.1  # CIEDE2000 that further things must bring to be shown; no source
WORTH_ONE_MORE = 0.3  # CIEDE2000 that a further pigment must bring; common sense, no source


def choices(found: Sequence[Mix], worth: float = WORTH_ONE_MORE) -> list[Mix]:
    """The mixes worth a look, the recommended one first; none of none.

    Recommended is the one with the fewest things that is to be expected hardly worse than the best. Then come other
    sets of things that are nearly as good, and with fewer things what is still worth a thought.
    """
    ranked = sorted(found, key=lambda mix: mix.expected)
    if not ranked:
        return []
    best: dict[int, Mix] = {}
    for mix in ranked:
        best.setdefault(len(mix.amounts), mix)
    enough = ranked[0].expected + worth
    recommended = best[min(count for count, mix in best.items() if mix.expected <= enough)]
    simpler = [
        mix
        for count, mix in best.items()
        if count < len(recommended.amounts) and mix.expected <= recommended.expected + WORTH_A_THOUGHT
    ]
    nearly = [
        mix
        for mix in ranked
        if mix.expected <= recommended.expected + NEARLY_AS_GOOD
        # The same things and some more, for nothing, are no choice.
        and not (mix.amounts.keys() > recommended.amounts.keys() and mix.expected > recommended.expected - WORTH_SAYING)
    ]
    others = [mix for mix in (*nearly[:OTHERS], *simpler) if mix is not recommended]
    return [recommended, *sorted({id(mix): mix for mix in others}.values(), key=lambda mix: mix.expected)]
