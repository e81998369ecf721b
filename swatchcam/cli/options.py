"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import click

from ..cards.reading_settings import UNKNOWN
from ..cards.validation import CONDITIONS, ILLUMINANTS, OBSERVERS, SPECULAR
from ..errors import UsageError
from ..recipes.numbers import parse_amount, parse_count, parse_number
from ..recipes.recipe import DROP_G, SCALE_G, TIP_G
from .groups import json_option
from .studio_defaults import scale_as_usual, usual_card
from .written import picture_options


class Number(click.IntRange):
    """The number of a record or a change; help does not tell how far a database can count."""

    name = "number"

    def __init__(self) -> None:
        super().__init__(1, 2**31 - 1)

    def _describe_range(self) -> str:
        return ""


NUMBER = Number()


class Typed(click.ParamType):
    """A number as people write it, with a point or a comma: 300, 0,25 or '300 g'."""

    def __init__(self, name: str, read: Callable[[str], float]) -> None:
        self.name, self.read = name, read

    def convert(self, value: Any, param: click.Parameter | None, _context: click.Context | None) -> float:
        """Raises UsageError, which names the option."""
        if isinstance(value, float | int):  # a default
            return value
        try:
            return self.read(value)
        except UsageError as error:
            if param:
                error.at("in-option", option=param.opts[0])
            raise


def amount_in(unit: str) -> Typed:
    """A number of this unit, without a sign."""
    return Typed(unit or "number", partial(parse_amount, unit=unit))


IN_GRAMS, IN_PERCENT, IN_MONEY = amount_in("g"), amount_in("%"), amount_in("")
COUNT = Typed("number", parse_count)
DECIMAL = Typed("float", parse_number)  # any number: what it is for refuses what makes no sense
DEGREES = [str(angle) for angle in OBSERVERS]

# What is in a photo.
_PHOTO: tuple[Callable[..., Any], ...] = (
    click.option(
        "--card",
        metavar="NAME",
        callback=usual_card,
        help="The card's values: a name, a file, or nominal for the colours as sent to the printer. Left out, the"
        " number in the photo decides; without a number it is the studio's card, else your only one of this size, else"
        " nominal.",
    ),
    click.option(
        "--other-light",
        multiple=True,
        type=click.Path(path_type=Path),
        metavar="PHOTO",
        help="A photo of the same scene under another light; you may repeat it.",
    ),
    click.option("--row", metavar="NAME", help="The row of your own pigments, lying beside the card or not."),
    click.option("--loose", is_flag=True, help="Measure loose strips lying beside the card too."),
)

_OPTIONS: tuple[Callable[..., Any], ...] = (
    _PHOTO[0],
    click.option(
        "--illuminant",
        type=click.Choice(["D65", "D50", "A", "C"]),
        default="D65",
        show_default=True,
        help="Light that CIELAB is for; D65 is textile practice.",
    ),
    click.option(
        "--observer",
        type=click.Choice(["10", "2"]),
        default="10",
        show_default=True,
        help="CIE standard observer, degrees.",
    ),
    *_PHOTO[1:],
    picture_options,
    json_option,
)

card_option = _PHOTO[0]
scale_option = scale_as_usual(type=IN_GRAMS)
_COUNTING: tuple[Callable[..., Any], ...] = (
    click.option(
        "--drop",
        type=IN_GRAMS,
        help=f"What one drop weighs, g. [default: as counted for its bottle, else {DROP_G:g}]",
    ),
    click.option("--tip", type=IN_GRAMS, default=TIP_G, show_default=True, help="What one spoon tip weighs, g."),
)
# How a recipe was weighed and counted.
WEIGHING = (scale_option, *_COUNTING)
_COAT_HELP = "Wet ink on the strip by weight: '0.72 g on 10x10 cm', or '7.2 g on 10 strips of 10x10 cm'"
COAT = click.option("--coat", default="", metavar="TEXT", help=f"{_COAT_HELP}.")
COATS = click.option("--coat", "coats", multiple=True, metavar="TEXT", help=f"{_COAT_HELP}; once for each --strip.")
LET_DOWN = partial(click.option, "--let-down", default="", metavar="PARTS")
# What a person says of a strip that is kept; the same words head the columns of a list of photos.
_ENTRY: tuple[Callable[..., Any], ...] = (
    click.option("--shade", required=True, metavar="NAME", help="The shade; it is made if it is new."),
    click.option("--batch", default="", metavar="NAME", help="The pot. [default: the day of the photo]"),
    click.option(
        "--state",
        default="air-dried",
        show_default=True,
        help="What was done to the strip: wet, air-dried, 'heat-set 150 C 4 min press', 'washed 3 times 40 C',"
        " 'rubbed wet'.",
    ),
    click.option(
        "--mark",
        "marks",
        multiple=True,
        help="What you wrote on the strip, if the batch has several; once for each --strip. [default: A, B ... for"
        " several]",
    ),
    click.option("--cloth", default="", help="The cloth."),
    click.option("--mesh", default="", metavar="MESH", help="The screen's mesh."),
    click.option("--squeegee", default="", help="Squeegee, number of pulls and the like."),
    click.option("--light", default="", help="The light, such as 'north window'."),
    click.option("--ink", default="", help="The ink's family: the clear base or the maker's series."),
    click.option(
        "--recipe",
        default="",
        metavar="TEXT|FILE",
        help="'clear base 500 g, red 3.2 g, black 2 drops, white 1 tip', or a file.",
    ),
    # Where nobody says it, a coat's digits tell it.
    click.option(
        "--scale", type=IN_GRAMS, help=f"The scale's resolution, g. [default: the studio's, else {SCALE_G:g}]"
    ),
    *_COUNTING,
    COATS,
    LET_DOWN(
        help="For this strip one part of the ink was thinned with so many parts of clear base: 10, or 1:10. The recipe"
        " stays that of the pot."
    ),
    click.option("--mixed", default="", metavar="DATE", help="The day the pot was mixed, such as 2026-01-31."),
    click.option(
        "--measured", default="", metavar="DATE", help="The day of the photo. [default: what the camera says]"
    ),
    click.option("--notes", default="", help="Anything else about this strip."),
)

_LIBRARY: tuple[Callable[..., Any], ...] = (
    click.option(
        "--library",
        metavar="FILE|ADDRESS",
        is_eager=True,  # what the studio usually does is looked up in it
        help="Another library: a file, or postgresql://user@host/database."
        " [default: SWATCHCAM_LIBRARY, else one in your data folder]",
    ),
)

# What a file of readings may leave open; shared by the readings of a card and of a row.
_READING: tuple[Callable[..., Any], ...] = (
    click.option(
        "--illuminant",
        type=click.Choice(ILLUMINANTS),
        help="Light the Lab values are for. [default: what the file says; D65 if it holds spectra]",
    ),
    click.option(
        "--observer",
        type=click.Choice(DEGREES),
        help="Standard observer the Lab values are for, degrees. [default: what the file says; 10 if it holds spectra]",
    ),
    click.option(
        "--geometry", help="Geometry of the instrument: 45/0, 0/45, d/8 or 8/d. [default: what the file says]"
    ),
    click.option(
        "--specular",
        type=click.Choice([*SPECULAR, UNKNOWN]),
        help="For d/8 and 8/d: whether gloss is in the readings (SCI) or not (SCE). [default: what the file says]",
    ),
    click.option(
        "--condition",
        type=click.Choice(CONDITIONS),
        help="Measurement condition of ISO 13655: M0 and M1 with ultraviolet, M2 without, M3 polarised. [default: what"
        " the file says, else unknown]",
    ),
    click.option("--date", help="Day of the reading, such as 2026-01-31. [default: what the file says]"),
    click.option("--source", help="Who read it, with what. [default: the file's instrument and name]"),
    click.option(
        "--uncertainty",
        type=DECIMAL,
        default=0.5,
        show_default=True,
        help="How far a reading may be from the truth, CIEDE2000 (one standard deviation).",
    ),
)


def strips_option(what: str) -> Callable[..., Any]:
    """Add --strip: which strips of a photo are meant, by default today's."""
    return click.option(
        "--strip",
        "strips",
        multiple=True,
        metavar="STRIP",
        help=f"{what}: left, right or beside-1, beside-2 ... Repeat it for several strips of one pot. [default: right,"
        " today's strip]",
    )


def refuse_more_than_strips(strips: Sequence[str], **said: Sequence[str]) -> None:
    """Refuse more marks or weights than there are strips.

    Raises
    ------
    UsageError
        There are more.
    """
    count = max(len(strips), 1)
    for name, each in said.items():
        if len(each) > count:
            raise UsageError(
                "more-said-than-strips", "once-for-each-strip", option=f"--{name}", said=len(each), strips=count
            )


def judge_option(what: str) -> Callable[..., Any]:
    """Add --judge: whether the verdict of the strips counts, or that of the pot behind them."""
    return click.option("--judge", type=click.Choice(["strips", "pot"]), help=f"{what}: the strips, or the pot.")


numbers_option = click.option(
    "--numbers", is_flag=True, help="Tell all numbers too: L*, a*, b*, their differences, the conditions."
)


def measuring_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options in the order they are listed in the help."""
    return with_options(_OPTIONS, command)


def photo_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add only what is in a photo: its card, row, loose strips, and photos under another light."""
    return with_options(_PHOTO, command)


def entry_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add what a person says of a strip that is kept."""
    return with_options(_ENTRY, command)


def library_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add which library is meant."""
    return with_options(_LIBRARY, command)


def library_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add which library is meant, and --json."""
    return with_options((*_LIBRARY, json_option), command)


def reading_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add what a spectrophotometer's file may leave open."""
    return with_options(_READING, command)


def with_options(options: tuple[Callable[..., Any], ...], command: Callable[..., Any]) -> Callable[..., Any]:
    """Add options in the order they are listed."""
    for option in reversed(options):
        command = option(command)
    return command
