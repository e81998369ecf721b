"""Which values are taken for the card in a photo: the named ones, those of its print, or what there is."""

from __future__ import annotations

from dataclasses import replace

from ..errors import CardError
from ..messages.message import flag
from .design import CardDesign
from .print_number import spoken
from .sister import sister_values
from .values import CardValues, load_values, nominal_values
from .values_file import design_of, header_in, numbers_in
from .values_folder import NOMINAL, edition_name, find_card, find_values, own_files, values_of_print


class UsualCard(str):
    """The card that the studio usually uses: it counts only where the photo shows no number of a print.

    A card that somebody names for this photo is a plain string.
    """


def choose_values(
    design: CardDesign, card: str | None, illuminant: str, observer: int, number: str | None = None
) -> CardValues:
    """The values to use for the card in a photo.

    Parameters
    ----------
    card : name or file of values, or "nominal"; a `UsualCard` is asked after the print's number
    number : of the print, as the photo shows it; None where it shows none

    Returns
    -------
    the named values, else those of the print, else the colours as sent for a print without values; for a card without
    a number the usual one, else the user's only one, else the colours as sent

    Raises
    ------
    CardError
        The named values belong to another design or another print, two files say that they are of this print, or the
        user's folder leaves it open which to take.
    """
    light = illuminant, observer
    if card and not isinstance(card, UsualCard):
        return _named(design, card, *light, number)
    if number is not None:
        return _of_print(design, number, *light)
    names = without_number(design, card)
    if len(names) > 1:
        raise CardError("several-cards", "say-which-card", design=design.name, cards=names)
    values = _named(design, names[0], *light, None)
    unseen = () if card or not values.numbers else (flag("print-number-not-seen", values=values.name),)
    return replace(values, flags=(*values.flags, *unseen))


def taken_alone(card: str | None, number: str | None) -> bool:
    """Whether somebody chose the colours as sent: then nothing that other photos made of the print is used."""
    return card == NOMINAL and (number is None or not isinstance(card, UsualCard))


def without_number(design: CardDesign, usual: str | None) -> list[str]:
    """What a card of this design may be measured with if it shows no number; several names must be told apart.

    Values that were read come first, then what a first photo made of a print without a number, and values of a numbered
    print last.
    """
    if usual and (usual == NOMINAL or design_of(find_values(usual)) == design.name):
        return [usual]
    own = _own(design)
    unread = [name for name, numbers in own.items() if not numbers]
    numbered = [name for name, numbers in own.items() if numbers and name != edition_name(design.name, numbers[0])]
    return _untied(design) or unread or numbered or [NOMINAL]


def _own(design: CardDesign) -> dict[str, tuple[str, ...]]:
    """The user's own values of a design by name, each with the prints that it is of."""
    return {path.stem: numbers_in(header_in(path)) for path in own_files() if design_of(path) == design.name}


def _untied(design: CardDesign) -> list[str]:
    """Those of no print, without what a first photo made of one without a number: it is of none that bears one."""
    return [name for name, numbers in _own(design).items() if not numbers and name != edition_name(design.name, None)]


def _named(design: CardDesign, card: str, illuminant: str, observer: int, number: str | None) -> CardValues:
    if card == NOMINAL:
        return nominal_values(design, illuminant, observer)
    values = _of_design(design, load_values(find_card(card), illuminant, observer))
    if number and number in values.sisters:
        return sister_values(values, number)
    check_print(values, number)
    return values


def check_print(values: CardValues, number: str | None) -> None:
    """Refuse values that are said to be of other prints than the one with this number.

    Raises
    ------
    CardError
        They are, with the values that this print has.
    """
    if number and values.numbers and number not in values.numbers:
        own = values_of_print(number)
        raise CardError(
            "values-of-other-print",
            "tie-or-leave-out",
            values=values.name,
            numbers=[spoken(one) for one in values.numbers],
            number=spoken(number),
            digits=number,
            own=own.stem if own else None,
        )


def _of_print(design: CardDesign, number: str, illuminant: str, observer: int) -> CardValues:
    path = values_of_print(number)
    if path:
        values = _of_design(design, load_values(path, illuminant, observer))
        return values if number in values.numbers else sister_values(values, number)
    values = nominal_values(design, illuminant, observer)
    names = _untied(design)
    if not names:
        return values
    hint = flag("print-without-values", number=spoken(number), digits=number, cards=names)
    return replace(values, flags=(*values.flags, hint))


def _of_design(design: CardDesign, values: CardValues) -> CardValues:
    if values.design != design.name:
        raise CardError(
            "values-of-other-design",
            "choose-the-values",
            design=design.name,
            values=values.name,
            values_design=values.design,
        )
    return values
