"""What nobody says in a command is as the studio usually does it, where `swatchcam studio` was told."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from ..errors import SwatchcamError
from ..recipes.recipe import SCALE_G

if TYPE_CHECKING:
    from ..library.library import Library
    from ..library.shelf.settings import Studio
    from ..recipes.measures import Measures

KNOWN = "swatchcam.studio"


def usual(field: str, otherwise: Any = None) -> Callable[..., Any]:
    """The callback of an option: left out, it is this field of the studio, else `otherwise`."""

    def fill(context: click.Context, _param: click.Parameter, value: Any) -> Any:
        if value not in (None, "") or context.resilient_parsing:
            return value
        found = getattr(studio_of(context), field, None)
        return (value if otherwise is None else otherwise) if found in (None, "") else found

    return fill


def usual_card(context: click.Context, _param: click.Parameter, value: str | None) -> str | None:
    """The callback of --card: left out, it is the studio's card, which counts where no number of a print is seen."""
    found = None if value or context.resilient_parsing else getattr(studio_of(context), "card", None)
    if not found:
        return value
    from ..cards.choice import UsualCard

    return UsualCard(found)


def needed(field: str) -> Callable[..., Any]:
    """The same for an option that must be said if the studio does not say it."""
    fill = usual(field)

    def asked(context: click.Context, param: click.Parameter, value: Any) -> Any:
        found = fill(context, param, value)
        if found is None and not context.resilient_parsing:
            raise click.MissingParameter(ctx=context, param=param)
        return found

    return asked


def studio_of(context: click.Context) -> Studio | None:
    """What was said of the studio; None where there is no library. Looked up once a command."""
    if KNOWN not in context.meta:
        context.meta[KNOWN] = _read(context.params.get("library"))
    found: Studio | None = context.meta[KNOWN]
    return found


def measures_in(address: str | None) -> Measures:
    """What the recipe of a library's studio is read by; nothing is known where there is no library."""
    from ..library.shelf.tools import measures_of
    from ..recipes.measures import NONE

    return _looked_up(address, measures_of) or NONE


def _read(address: str | None) -> Studio | None:
    from ..library.connection import find_place
    from ..library.shelf.settings import studio_in

    try:
        file = find_place(address).file
    except SwatchcamError:
        return None
    return studio_in(file) if file else _looked_up(address, _studio)


def _studio(library: Library) -> Studio:
    from ..library.shelf.studio import studio_of as studio

    return studio(library)


def _looked_up(address: str | None, look: Callable[[Library], Any]) -> Any:
    """Whatever is wrong with the library is told by who needs it for more than defaults."""
    from ..library.connection import find_place

    try:
        place = find_place(address)
        if place.file is not None and not place.file.exists():
            return None
        from ..library.library import open_library

        return look(open_library(address))
    except SwatchcamError:
        return None


scale_as_usual = partial(
    click.option,
    "--scale",
    callback=usual("scale_g", SCALE_G),
    help=f"The scale's resolution, g. [default: the studio's, else {SCALE_G:g}]",
)
grams_as_usual = partial(
    click.option,
    "--grams",
    callback=needed("pot_g"),
    help="How much ink is wanted. [default: what the studio usually mixes]",
)
