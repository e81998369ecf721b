"""Which values are taken for the card in a photo: the named ones, those of its print, or what there is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ..errors import CardError
from ..messages.message import flag
from .design import CardDesign
from .print_number import spoken
from .values import CardValues, load_values, nominal_values
from .values_file import design_of, header_in, numbers_in
from .values_folder import NOMINAL, find_values, own_files, values_of_print


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
    if card == NOMINAL or (card and design_of(find_values(card)) == design.name):
        return _named(design, card, *light, None)
    return _only_one(design, *light)


def _named(design: CardDesign, card: str, illuminant: str, observer: int, number: str | None) -> CardValues:
    if card == NOMINAL:
        return nominal_values(design, illuminant, observer)
    values = _of_design(design, load_values(card, illuminant, observer))
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
    return values


def _of_print(design: CardDesign, number: str, illuminant: str, observer: int) -> CardValues:
    path = values_of_print(number)
    if path:
        return _of_design(design, load_values(path, illuminant, observer))
    values = nominal_values(design, illuminant, observer)
    maybe = [path.stem for path in _candidates(design) if not numbers_in(header_in(path))]
    if not maybe:
        return values
    hint = flag("print-without-values", number=spoken(number), digits=number, cards=maybe)
    return replace(values, flags=(*values.flags, hint))


def _only_one(design: CardDesign, illuminant: str, observer: int) -> CardValues:
    """Of a card without a number: values that are of a numbered print come last, and are never taken unsaid."""
    mine = _candidates(design)
    free = [path for path in mine if not numbers_in(header_in(path))]
    found = free or mine
    if len(found) > 1:
        raise CardError("several-cards", "say-which-card", design=design.name, cards=[path.stem for path in found])
    if not found:
        return nominal_values(design, illuminant, observer)
    values = load_values(found[0], illuminant, observer)
    unseen = () if free else (flag("print-number-not-seen", values=values.name),)
    return replace(values, flags=(*values.flags, *unseen))


def _candidates(design: CardDesign) -> list[Path]:
    return [path for path in own_files() if design_of(path) == design.name]


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
