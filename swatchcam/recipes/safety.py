"""What to take care of with ink, said wherever amounts are given: the maker's safety data sheet comes first.

Common practice of the trade, no source: these lines replace no data sheet and no trained person.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..text import listed

ALWAYS = (
    "Follow the ink maker's safety data sheet first; where it says otherwise, it is right.",
    "Wear gloves and an apron, air the room, and do not eat or drink where ink is mixed.",
    "What has held ink never goes back to the kitchen: no jar, no spoon. Label every pot.",
)
POWDER = (
    "Dry pigment: do not stir up dust. Wet it with a little clear base before you stir, and wipe up with a damp cloth.",
    "Wear the mask that the data sheet of the pigment names.",
)
WHITE = ("White settles in the pot: stir it up from the bottom before you weigh. It lies thick and dries slowly.",)
HEAT = (
    "Hot press, dryer or iron: keep to the temperature and time of the ink's maker and to the manual of the machine.",
    "Let the print dry before it is heated, keep hands off hot plates, and air the room: the first steam carries"
    " what the data sheet warns of.",
    "Where a licence or training is asked for to run the machine, only those who have it run it.",
)
DISPOSAL = (
    "Left-over ink and wash water go where the local rules say, and down the drain only if these allow it.",
    "Scrape screen and squeegee back into the pot before you wash them: less is left to get rid of.",
)
OVER_LIMIT = (
    "{} beyond the most that the ink's maker allows: the print may rub off and wash out. Test rubbing and"
    " washing first, or print a second pass of a weaker ink."
)


def care_lines(
    *,
    powder: bool = False,
    over_limit: Sequence[str] = (),
    white: bool = False,
    heat: bool = False,
    disposal: bool = False,
) -> tuple[str, ...]:
    """Short lines to print under an amount, the general ones first.

    Parameters
    ----------
    powder : dry pigment is handled
    over_limit : pigments whose load is above what the maker allows
    white : there is a white base
    heat : the print is heat set
    disposal : ink is left over, or something is washed

    Source
    ------
    Common practice; that makers state a limit of the load is read in the trade press, no number is.
    """
    # What spoils the print comes right after what may hurt a person.
    load = (OVER_LIMIT.format(f"{listed(over_limit)} {'is' if len(over_limit) == 1 else 'are'}"),) if over_limit else ()
    chosen = ((powder, POWDER), (bool(over_limit), load), (white, WHITE), (heat, HEAT), (disposal, DISPOSAL))
    return ALWAYS + tuple(line for wanted, lines in chosen if wanted for line in lines)
