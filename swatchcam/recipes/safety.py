"""What to take care of with ink and heat: short lines said where amounts are given, heat is used, or powder is weighed.

Common practice of the trade, no source: these lines replace no data sheet, no local rule and no trained person.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from ..text import key, listed

INK, FIXER, POWDER, HEAT, LOAD, WHITE, DISPOSAL = "ink", "fixer", "powder", "heat", "load", "white", "disposal"
COUNTED = INK, FIXER, POWDER, HEAT  # of these a library can tell how often they were handled
# What may hurt a person first, then what spoils the print.
LINES: Mapping[str, tuple[str, ...]] = {
    INK: (
        "Follow the ink maker's safety data sheet first; where it says otherwise, it is right.",
        "Wear gloves and an apron, air the room, and do not eat or drink where ink is mixed. Its"
        " preservatives can give you a rash: wash ink off your skin at once.",
        "Thin concentrates splash: wear safety glasses when you drip, pour or stir them.",
        "What has held ink never goes back to the kitchen: no jar, no spoon. Label every pot.",
    ),
    FIXER: (
        "Fixer (cross-linker, hardener): isocyanate and aziridine can make you allergic for life, through the skin or"
        " the air. Wear gloves and safety glasses, air the room, and wear the mask that its data sheet names.",
        "Add it last, only to what you print within its pot life, and write that time on the pot. Never pour what is"
        " left back into ink without fixer.",
        "Never heat fixer, or ink with it, beyond what its data sheet says.",
    ),
    POWDER: (
        "Dry pigment: do not stir up dust. Wet it with a little clear base before you stir, and wipe up with a damp"
        " cloth. Wear the mask that its data sheet names.",
    ),
    HEAT: (
        "Hot press, dryer or iron: keep to the time and temperature of the ink's maker and to the machine's manual."
        " Where a licence or training is required, only those who have it may run it.",
        "Let the print dry before you heat it. Hot plates and steam burn: keep hands and face away.",
        "Air the room and don't lean over the print: the first fumes can carry ammonia and formaldehyde.",
        "Keep press, iron and cables away from wet screens and the washout, and never touch them with wet hands.",
    ),
    LOAD: (),
    WHITE: ("White settles in the pot: stir it up from the bottom before you weigh. It lies thick and dries slowly.",),
    DISPOSAL: (
        "Left-over ink and wash water go where the local rules say, and down the drain only if these allow it.",
        "Scrape screen and squeegee before you wash them: less is left to get rid of.",
    ),
}
OVER_LIMIT = (
    "{} beyond the most that the ink's maker allows: the print may rub off and wash out. Test rubbing and"
    " washing first, or print a second pass of a weaker ink."
)
# What names such an ingredient, in English, German, French and Spanish; from memory, no source.
NAMED = {
    FIXER: re.compile(
        "fixer|fixativ|fixing agent|cross[- ]?link|hardener|isocyanat|azirid"
        "|fixier|vernetzer|härter|fixateur|r[ée]ticul|durcisseur|fijador|endureced"
    ),
    POWDER: re.compile(r"powder|pulver|poudre|polvo|\b(?:dry|trocken\w*)\b"),
}


def named_in(names: Iterable[str]) -> frozenset[str]:
    """Which of FIXER and POWDER these names of ingredients tell of."""
    keys = [key(name) for name in names]
    return frozenset(subject for subject, words in NAMED.items() if any(map(words.search, keys)))


def care_lines(subjects: Iterable[str], over_limit: Sequence[str] = ()) -> tuple[str, ...]:
    """The lines on these subjects: INK where ink is mixed, and so on.

    Parameters
    ----------
    over_limit : pigments whose load is above what the maker allows

    Source
    ------
    Common practice; that makers state a limit of the load is read in the trade press, no number is.
    """
    load = (OVER_LIMIT.format(f"{listed(over_limit)} {'is' if len(over_limit) == 1 else 'are'}"),) if over_limit else ()
    wanted = {*subjects, LOAD}
    return tuple(line for subject, lines in {**LINES, LOAD: load}.items() if subject in wanted for line in lines)


def subjects_of(lines: Iterable[str]) -> tuple[str, ...]:
    """What lines of `care_lines` are about, in their order."""
    told = set(lines)
    return tuple(subject for subject, own in LINES.items() if told & set(own))
