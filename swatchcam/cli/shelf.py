"""`swatchcam shelf`: what is left of pots, pre-mixes and pigments."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from ..errors import UsageError
from .groups import LazyGroup
from .options import COUNT, IN_GRAMS, IN_PERCENT, library_options
from .output import tell, tell_change
from .studio_defaults import scale_as_usual

if TYPE_CHECKING:
    from ..library.changes import Change
    from ..library.library import Library
    from ..recipes.premix import Making


@click.group(cls=LazyGroup)
def shelf() -> None:
    """Know what is left: pots, pre-mixes and pigments, with grams, age and lot.

    When you keep a proposal, the pot that it makes goes on the shelf, and what it takes comes off. Older pots are not
    on the shelf until you weigh them.

    \b
    Example:
      swatchcam shelf list
    """


@shelf.command("list")
@library_options
def list_shelf(library: str | None, as_json: bool) -> None:
    """List what is on the shelf: how much is left, how old it is, which lot.

    \b
    Example:
      swatchcam shelf list
    """
    from ..library.library import open_library
    from ..report.shelf.stock import shelf_dict, shelf_text

    tell(shelf_dict(open_library(library)), shelf_text, as_json)


@shelf.command()
@click.argument("what", metavar="WHAT")
@click.argument("grams", type=IN_GRAMS)
@click.option("--took", is_flag=True, help="GRAMS is what was taken out, for a run for example, not what is left.")
@library_options
def weigh(what: str, grams: float, took: bool, library: str | None, as_json: bool) -> None:
    """Note how much is left of something: its GRAMS without the jar, 0 if it is empty.

    WHAT is a pot by its shade and batch, a pre-mix or a pigment. If more is taken than was known to be there, you are
    told: the next weighing puts it right.

    \b
    Examples:
      swatchcam shelf weigh "river blue 3" 212
      swatchcam shelf weigh "river blue 3" 85 --took
      swatchcam shelf weigh "blue 1 %" 40
      swatchcam shelf weigh "clear base" 1850
    """
    from ..library.library import open_library
    from ..library.shelf.finding import thing_called
    from ..library.shelf.ledger import take, weigh_left

    opened = open_library(library)
    tell_change((take if took else weigh_left)(opened, thing_called(opened, what), grams), as_json)


@shelf.command("pre-mix")
@click.argument("pigment")
@click.option(
    "--percent", type=IN_PERCENT, default=10.0, show_default=True, help="Pigment in the pre-mix: usually 10 or 1."
)
@click.option(
    "--grams", type=IN_GRAMS, default=0.0, help="Make at least this much. [default: as little as can be weighed well]"
)
@scale_as_usual(type=IN_GRAMS)
@click.option("--keep", is_flag=True, help="You have made it: put it on the shelf.")
@click.option(
    "--ink-grams", "ink", type=IN_GRAMS, help="With --keep: the ink as you weighed it. [default: as proposed]"
)
@click.option(
    "--base-grams",
    "base",
    type=IN_GRAMS,
    metavar="GRAMS",
    help="With --keep: the clear base as you weighed it. [default: as proposed]",
)
@click.option("--lot", default="", metavar="LOT", help="With --keep: the pigment's lot. [default: the one in use]")
@click.option("--mixed", default="", metavar="DATE", help="With --keep: the day it was made. [default: today]")
@click.option(
    "--counted",
    "drops",
    type=COUNT,
    metavar="N",
    help="With --keep: how many drops of the ink you counted into it; that tells what a drop of its bottle weighs.",
)
@library_options
def pre_mix(
    pigment: str,
    percent: float,
    grams: float,
    scale: float,
    keep: bool,
    ink: float | None,
    base: float | None,
    lot: str,
    mixed: str,
    drops: int | None,
    library: str | None,
    as_json: bool,
) -> None:
    """Work out a pre-mix: a pigment thinned with clear base, to weigh what is too little for your scale.

    A weak one is made from a strong one, so that neither takes much pigment. Keep it once it is made: what it took
    comes off the shelf.

    \b
    Examples:
      swatchcam shelf pre-mix blue --percent 10
      swatchcam shelf pre-mix blue --percent 10 --keep --ink-grams 20.1 --base-grams 180.4 --counted 400
    """
    from ..library.library import open_library
    from ..library.shelf.names import pigment_meant
    from ..library.shelf.pre_mixes import pre_mixes_of
    from ..recipes.premix import makings
    from ..report.shelf.stock import pre_mix_dict, pre_mix_text

    if not keep and (ink, base, lot, mixed, drops) != (None, None, "", "", None):
        raise UsageError("pre-mix-not-kept", "keep-or-leave-out-the-weights")
    opened = open_library(library, create=keep)
    name = pigment_meant(opened, pigment)
    found = makings(name, percent / 100, scale, grams, pre_mixes_of(opened, name))
    done = None
    if keep:
        *first, wanted = found
        if first:
            raise UsageError("stronger-pre-mix-first", "make-and-keep-it-first", name=first[0].made.name)
        done, made = _kept(opened, wanted, ink, base, scale, drops, lot=lot, mixed=mixed)
        found = (made,)
    tell(pre_mix_dict(found, done), pre_mix_text, as_json)


def _kept(
    library: Library,
    told: Making,
    ink: float | None,
    base: float | None,
    scale: float,
    drops: int | None,
    *,
    lot: str,
    mixed: str,
) -> tuple[Change, Making]:
    from ..library.shelf.pre_mixes import keep_pre_mix
    from ..recipes.drops import counted_drops
    from ..recipes.premix import as_weighed

    made = as_weighed(told, ink, base, scale)
    counted = None if drops is None else counted_drops(drops, made.ink_g, scale)
    return keep_pre_mix(library, made, lot=lot, mixed=mixed, drops=counted), made
