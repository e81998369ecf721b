"""`swatchcam card import PROFILE`: what a printer's profile may be given, and what is said of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from ...cards.validation import INTENTS, NONE, PERCEPTUAL, RELATIVE
from ...errors import UsageError
from ...messages.surface import TERMINAL
from ..options import with_options

if TYPE_CHECKING:
    from ...cards.design import CardDesign
    from ...cards.values import CardValues

OF_PROFILES = ("intent", "black_point")
OF_READINGS = ("illuminant", "observer", "geometry", "condition", "specular", "average")
_OPTIONS = (
    click.option(
        "--intent",
        type=click.Choice(INTENTS),
        default=RELATIVE,
        show_default=True,
        help="For a printer's profile: how the card was converted to it. 'none' if it was printed with colour"
        " management off.",
    ),
    click.option(
        "--black-point",
        is_flag=True,
        help="For a printer's profile: black point compensation was on when the card was printed.",
    ),
)
WORDS = {RELATIVE: "relative colorimetric", PERCEPTUAL: "perceptual"}


def profile_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add how a card was printed through a profile."""
    return with_options(_OPTIONS, command)


def refuse_options(context: click.Context, profile: bool) -> None:
    """Refuse what was typed of the options of readings for a profile, or of those of a profile for readings.

    Raises
    ------
    UsageError
        There are such options.
    """
    names = OF_READINGS if profile else OF_PROFILES
    typed = [name for name in names if context.get_parameter_source(name) is ParameterSource.COMMANDLINE]
    if typed:
        options = [f"--{name.replace('_', '-')}" for name in typed]
        raise UsageError("profile-needs-no" if profile else "only-for-profiles", "leave-these-out", options=options)


def printed_through(
    context: click.Context, path: str, design: CardDesign, name: str, numbers: Sequence[str]
) -> tuple[CardValues, list[str]]:
    """The values of a card that was printed through a profile, saved, and what is said of them."""
    from ...cards.printer_profile import import_profile, read_printer_profile

    refuse_options(context, profile=True)
    said = context.params
    typed = context.get_parameter_source("uncertainty") is ParameterSource.COMMANDLINE
    values = import_profile(
        read_printer_profile(path),
        design,
        name=name,
        intent=said["intent"],
        black_point=said["black_point"],
        numbers=numbers,
        date=said["date"],
        source=said["source"],
        uncertainty=said["uncertainty"] if typed else None,
        replace=said["replace"],
    )
    return values, _lines(values, said["intent"], said["black_point"])


def _lines(values: CardValues, intent: str, black_point: bool) -> list[str]:
    how = f"with the intent {WORDS.get(intent)}, black point compensation {'on' if black_point else 'off'}"
    ask = "Print it with colour management off, in the application and in the printer's driver."
    if intent != NONE:
        ask = f"Tell whoever prints: take the PDF as sRGB, convert it to this profile {how}, and change nothing else."
    return [
        f"Worked out {len(values.lab)} colours for card '{values.name}' (design {values.design}) from the profile.",
        "They are right only for cards that were printed like this, on the profile's paper.",
        ask,
        f"They are saved in {values.path}.",
        *map(TERMINAL.flag, values.flags),
    ]
