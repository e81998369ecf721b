"""`swatchcam mix use-up`: what is left of old pots, of whatever shade, into a new one."""

from __future__ import annotations

from typing import Any

import click

from ...errors import UsageError
from ..mix import asked_of, check_kept, mixing_options, order_of, place_of, state_of, tell_answer
from ..options import IN_GRAMS, library_options, photo_options
from ..output import tell

ANY = 1.0  # g: an order that says how it is weighed, but not how much


@click.command("use-up")
@click.option("--grams", type=IN_GRAMS, help="How much ink is wanted. [default: as much as the leftovers make]")
@click.option("--shade", default="", metavar="NAME", help="The shade: its colour is wanted, or it is kept under it.")
@click.option(
    "--leftover",
    "given",
    multiple=True,
    metavar="BATCH=GRAMS",
    help="What is left of a batch, with its shade: 'river blue 3=180'. [default: every pot on the shelf]",
)
@mixing_options
@photo_options
@library_options
def use_up(grams: float | None, shade: str, given: tuple[str, ...], library: str | None, **rest: Any) -> None:
    """Use up leftovers of any shade: as much old ink as the colour can take, and a little pigment.

    A pot of old ink comes about as near to the colour as a fresh one, and you see how much clear base it saves. Name no
    colour to see which of your shades the leftovers come nearest to.

    \b
    Examples:
      swatchcam mix use-up --leftover "river blue 3=180" --leftover "moss 1=95"
      swatchcam mix use-up --shade "slate" --grams 400 --leftover "river blue 3=180" --keep
    """
    from ...library.library import open_library
    from ...mixing.fresh_pot import used_up

    check_kept(rest)
    opened, order, place = open_library(library), order_of(grams or ANY, rest), place_of(rest)
    if not (shade or rest["target"] or rest["record"]):
        _tell_shades(opened, order, place, given, grams is None, rest)
        return
    answer = used_up(opened, asked_of(rest | {"shade": shade}), order, place, given, all_of_it=grams is None)
    tell_answer(opened, answer, shade, order.grams, rest)


def _tell_shades(
    library: Any, order: Any, place: Any, given: tuple[str, ...], all_of_it: bool, rest: dict[str, Any]
) -> None:
    """Say which shades the leftovers come nearest to."""
    from ...library.records import DRY
    from ...library.shelf.studio import studio_of
    from ...mixing.fresh_pot import shades_from_leftovers
    from ...report.shelf.leftovers import leftovers_dict, leftovers_text

    if rest["keep"] or rest["page"] or rest["choice"] > 1:
        raise UsageError("no-target-named", "name-a-target")
    state = state_of(rest["target_state"]) or studio_of(library).state or DRY
    tell(
        leftovers_dict(shades_from_leftovers(library, state, order, place, given, all_of_it), order),
        leftovers_text,
        rest["as_json"],
    )
