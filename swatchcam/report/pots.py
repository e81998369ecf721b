"""The verdict on the pots behind the strips: numbers for JSON, and the sentences that a person reads first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..colorimetry.colour_difference import describe_difference
from ..colorimetry.film_scatter import FilmScatter
from ..colorimetry.strength_split import Relative, Split
from ..measurement.pot_verdict import SURE, PotOutcome, PotVerdict, percent
from ..text import counted, listed, the_strip
from .json_types.measuring import FilmScatterJson, PercentJson, PotsJson, SplitJson
from .said import flag_dicts

CLEAR = 0.5  # %; a difference in strength that is told as none


def pots_dict(pots: PotVerdict) -> PotsJson:
    """The verdict on two pots as plain numbers and sentences."""
    return {
        "outcome": None if pots.outcome is None else pots.outcome.value,
        "sentences": pot_sentences(pots),
        "why_not": flag_dicts([pots.why_not])[0] if pots.why_not else None,
        "split": None if pots.split is None else _split_dict(pots, pots.split),
        "strips": {"reference": pots.counts[0], "sample": pots.counts[1]},
        "odd_strips": list(pots.odd),
        "more_strips": pots.more,
        "films": films_dict(pots.scatter),
    }


def _split_dict(pots: PotVerdict, found: Split) -> SplitJson:
    return {
        "shade_ciede2000": round(found.shade, 2),
        "shade_interval95": [round(found.low, 2), round(found.high, 2)],
        "shade_tolerance": round(pots.shade_tolerance, 2),
        "shade_words": _shade_words(found),
        "strips_strength": _percent(found.strips),
        "pot_strength": _percent(found.pots),
        "strength_tolerance_percent": round(percent(pots.strength_tolerance), 1),
    }


def films_dict(films: FilmScatter) -> FilmScatterJson:
    """How unlike this studio's films are."""
    low, high = (round(100 * end, 1) for end in (films.low, films.high))
    return {
        "percent": round(100 * films.std, 1),
        "interval95_percent": [low, high],
        "strips": films.strips,
        "pots": films.pots,
    }


def films_sentence(films: FilmScatterJson) -> str:
    """How unlike films are, and how that is known."""
    if not films["pots"]:
        return (
            f"Your films are assumed to vary by {films['percent']:.0f} % from strip to strip,"
            " until you keep two strips of one pot."
        )
    low, high = films["interval95_percent"]
    return (
        f"Your films vary by {films['percent']:.0f} % ({low:.0f} to {high:.0f} %) from strip to strip,"
        f" judging from {counted(films['strips'], 'strip')} of {counted(films['pots'], 'pot')}."
    )


def _percent(strength: Relative) -> PercentJson:
    value, low, high = (round(percent(strength.value + sign * SURE * strength.std), 1) for sign in (0, -1, 1))
    return {"percent": value, "interval95_percent": [low, high]}


def _shade_words(found: Split) -> list[str]:
    second, first = found.at_equal_strength
    return list(describe_difference(np.array(second), np.array(first)))


def pot_sentences(pots: PotVerdict) -> list[str]:
    """What to know of the pots, the answer first; the same on the terminal and on the page."""
    found = pots.split
    if found is None:
        return []
    return [*_answer(pots, found), *(_odd(pots.odd) if pots.odd else [])]


def _answer(pots: PotVerdict, found: Split) -> list[str]:
    match pots.outcome:
        case PotOutcome.SHADE:
            words = listed(_shade_words(found))
            way = f": it is {words}" if words else ""
            stronger = f"Besides, {_stronger(pots, found.strips)}." if _clear(found.strips) else ""
            return [f"The shade differs by {_shade(found)} beyond what strength or film explains{way}.", *_if(stronger)]
        case PotOutcome.STRENGTH:
            same = found.high <= pots.shade_tolerance
            first = "Same proportions, but the pot is" if same else "The pot is"
            shade = [] if same else [_open_shade(pots, found)]
            return [f"{first} {_by(found.pots)}: film alone doesn't explain it.", *shade]
        case PotOutcome.SAME:
            within = max(abs(percent(found.pots.value + sign * SURE * found.pots.std)) for sign in (-1, 1))
            return [f"Same ink: the same proportions, and the same strength to within {within:.0f} %."]
        case PotOutcome.PROPORTIONS:
            ask = _clear(found.strips) or pots.more
            surer = _surer(pots) if ask else "To be sure of the strength too, make another strip."
            return [f"Same proportions. {_strength_or_film(pots, found)}", surer]
        case _:
            return [_open_shade(pots, found), _strength_or_film(pots, found)]


def _open_shade(pots: PotVerdict, found: Split) -> str:
    beyond = "beyond what strength or film explains"
    if found.low == 0:
        return f"The shade may be the same: {beyond}, it is off by {found.high:.1f} at most."
    return f"The shade is off by {_shade(found)} {beyond}; up to {pots.shade_tolerance:.1f} would pass."


def _strength_or_film(pots: PotVerdict, found: Split) -> str:
    if not _clear(found.strips):
        return "There is no clear difference in strength or film."
    tell = "one photo can't tell which" if max(pots.counts) == 1 else "these strips can't tell which"
    sentence = f"{_stronger(pots, found.strips)}; {tell}."
    return sentence[:1].upper() + sentence[1:]


def _surer(pots: PotVerdict) -> str:
    if pots.more is not None and sum(pots.counts) > 2:
        return f"Make {counted(pots.more, 'more strip')} before you change the pot: {_would(pots.more)}."
    if sum(pots.counts) > 4:
        return "More strips will hardly help: weigh the ink on them, or pull them through the run's own mesh."
    which = "a second" if pots.counts[1] == 1 else "another"
    return f"Make {which} strip before you change the pot."


def _would(more: int) -> str:
    return "that should show which it is" if more == 1 else "they should show which it is"


def _stronger(pots: PotVerdict, strength: Relative) -> str:
    """ "the right strip is 15 % (9 to 21 %) stronger or thicker"."""
    strips = f"{the_strip(pots.sample)} is" if pots.counts[1] == 1 else "today's strips are"
    return f"{strips} {_by(strength, 'or thicker', 'or thinner')}"


def _by(strength: Relative, thicker: str = "", thinner: str = "") -> str:
    """ "15 % (9 to 21 %) stronger or thicker"."""
    weaker = strength.value < 0
    ends = sorted(abs(percent(strength.value + sign * SURE * strength.std)) for sign in (-1, 1))
    words = ("weaker", thinner) if weaker else ("stronger", thicker)
    return f"{abs(percent(strength.value)):.0f} % ({ends[0]:.0f} to {ends[1]:.0f} %) {' '.join(filter(None, words))}"


def _clear(strength: Relative) -> bool:
    return abs(strength.value) > SURE * strength.std


def _shade(found: Split) -> str:
    return f"{found.shade:.1f} ({found.low:.1f} to {found.high:.1f})"


def _odd(names: Sequence[str]) -> list[str]:
    words = listed([name if " " in name else the_strip(name) for name in names])
    fits, it = ("doesn't fit the other strips of its pot", "it")
    if len(names) > 1:
        fits, it = ("don't fit the other strips of their pot", "them")
    return [f"{words[:1].upper()}{words[1:]} {fits}: look at {it}, or make {it} again."]


def _if(sentence: str) -> list[str]:
    return [sentence] if sentence else []
