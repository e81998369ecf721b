"""`swatchcam pigment`: what each pigment does on the studio's cloth, and what is on the shelf."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import UsageError
from .groups import LazyGroup
from .options import (
    DECIMAL,
    IN_GRAMS,
    IN_MONEY,
    IN_PERCENT,
    NUMBER,
    amount_in,
    library_options,
    photo_options,
    scale_option,
)
from .output import tell, tell_changes
from .studio_defaults import usual
from .written import check_page, page_options, write_page

if TYPE_CHECKING:
    from ..library.changes import Change
    from ..library.library import Library


@click.group(cls=LazyGroup)
def pigment() -> None:
    """Learn what your pigments do, and note what is on the shelf.

    A test series is a few strips of one pigment in clear base at known load, on your cloth. Four loads from 0.1 to 6 g
    in 100 g are enough, and one strip of clear base alone for all.

    \b
    Example:
      swatchcam pigment series sample_images/test_series_1.jpg --card sample-card --pigment brown \\
        --load left=0.1 --load right=0.2
    """


@pigment.command()
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--pigment", "name", default="", metavar="NAME", help="The pigment; not needed for clear base alone.")
@click.option(
    "--load",
    "loads",
    multiple=True,
    metavar="STRIP=PERCENT",
    help="What is where: left=0.4 is 0.4 g in 100 g in the left window, right=0 clear base alone, left=100 a"
    " ready-mixed ink as it is. Repeat it for each.",
)
@click.option("--cup", type=IN_GRAMS, default=100.0, show_default=True, help="How much of each was mixed, g.")
@scale_option
@click.option("--state", default="air-dried", show_default=True, help="What was done to the strips.")
@click.option("--cloth", default="", callback=usual("cloth"), help="The cloth. [default: the studio's]")
@click.option("--mesh", default="", metavar="MESH", help="The screen's mesh.")
@click.option("--ink", default="", help="The ink's family: the clear base or the maker's series.")
@click.option("--measured", default="", metavar="DATE", help="The day of the photo. [default: what the camera says]")
@photo_options
@library_options
def series(
    photos: tuple[Path, ...],
    name: str,
    loads: tuple[str, ...],
    cup: float,
    scale: float,
    state: str,
    card: str | None,
    other_light: tuple[Path, ...],
    row: str | None,
    loose: bool,
    library: str | None,
    as_json: bool,
    **said: Any,
) -> None:
    """Keep the strips of a test series that PHOTO shows.

    \b
    Examples:
      swatchcam pigment series one.jpg --pigment blue --load left=0.1 --load right=0.4 --cloth "white cotton"
      swatchcam pigment series bare.jpg --load left=0 --cloth "white cotton"
    """
    from ..library.entry import entry_of
    from ..library.library import open_library
    from ..library.search import ALONE, handled
    from ..measurement.measure import measure
    from ..mixing.test_series import keep_series, parse_loads
    from ..report.mixing import series_dict
    from ..report.mixing_text import series_text

    wanted = parse_loads(loads)
    entry = entry_of(ALONE, state, **said)
    first, *again = (str(photo) for photo in photos)
    named = loose or any(strip.startswith("beside") for strip in wanted)
    lights = [str(photo) for photo in other_light]
    measured = measure(first, card, again=again, beside=named, other_light=lights, row=row, keep_print=True)
    opened = open_library(library, create=True)
    known = frozenset(handled(opened))
    kept = keep_series(opened, measured, name, wanted, cup_g=cup, scale_g=scale, entry=entry)
    tell(series_dict(kept, str(opened.place), name), partial(series_text, known=known), as_json)


@pigment.command("list")
@click.option(
    "--cloth", default="", callback=usual("cloth"), help="The cloth. [default: the studio's, else the only one]"
)
@click.option("--state", default="air-dried", show_default=True, help="What was done to the strips.")
@click.option("--ink", default="", help="The ink's family. [default: all]")
@library_options
def list_pigments(cloth: str, state: str, ink: str, library: str | None, as_json: bool) -> None:
    """List the pigments: how many known strips each has, how strong it is, its limits and lots.

    \b
    Example:
      swatchcam pigment list --cloth "white cotton"
    """
    from ..library.library import open_library
    from ..library.records import parse_state
    from ..mixing.workbench import bench_of_pigments
    from ..report.mixing import palette_dict
    from ..report.mixing_text import palette_text

    tell(palette_dict(bench_of_pigments(open_library(library), cloth, parse_state(state), ink)), palette_text, as_json)


@pigment.command()
@click.argument("name")
@click.option(
    "--cloth", default="", callback=usual("cloth"), help="The cloth. [default: the studio's, else the only one]"
)
@click.option("--state", default="air-dried", show_default=True, help="What was done to the strips.")
@click.option("--ink", default="", help="The ink's family. [default: all]")
@page_options
@library_options
def show(
    name: str,
    cloth: str,
    state: str,
    ink: str,
    page: Path | None,
    replace: bool,
    library: str | None,
    as_json: bool,
) -> None:
    """Show what a pigment does, load by load, and where more of it stops helping.

    \b
    Example:
      swatchcam pigment show brown
    """
    from ..library.library import open_library
    from ..library.records import parse_state
    from ..mixing.workbench import bench_of_pigments
    from ..report.mixing import pigment_dict
    from ..report.mixing_text import pigment_text

    check_page(page, replace)
    facts = pigment_dict(bench_of_pigments(open_library(library), cloth, parse_state(state), ink), name)
    if page:
        from ..report.mixing_page import pigment_page

        write_page(page, pigment_page(facts, date.today().isoformat()))
    tell(facts, pigment_text, as_json)


@pigment.command("set")
@click.argument("name")
@click.option("--max-load", "most", type=IN_PERCENT, metavar="PERCENT", help="The maker's limit, g in 100 g of ink.")
@click.option("--min-grams", "least_g", type=IN_GRAMS, metavar="GRAMS", help="The smallest amount you can dispense.")
@click.option("--price", type=IN_MONEY, help="What 100 g cost, in your own money.")
@click.option(
    "--ready/--no-ready", default=None, help="It is a ready-mixed ink, such as opaque white: up to 100 % of a pot."
)
@click.option("--density", type=amount_in("g/ml"), metavar="G/ML", help="What a millilitre weighs, g.")
@click.option("--notes", help="Anything else about the pigment.")
@click.option("--lot", default="", metavar="LOT", help="Note a new lot of it.")
@click.option("--since", default="", metavar="DATE", help="With --lot: its first day of use, such as 2026-01-31.")
@click.option(
    "--test-mix",
    type=NUMBER,
    metavar="N",
    help="With --lot: the record of one small mix with the new lot; its strength is worked out from it.",
)
@click.option(
    "--strength", type=DECIMAL, help="With --lot: its strength, if you know it; 1 is that of the test series."
)
@library_options
def set_of(
    name: str,
    lot: str,
    since: str,
    test_mix: int | None,
    strength: float | None,
    library: str | None,
    as_json: bool,
    **said: Any,
) -> None:
    """Put a pigment or a ready-mixed ink on the shelf, or note its limit, price, notes or a new lot.

    Clear base has a price and a density too. Of several changes all are made, or none if one of them can't be.

    \b
    Examples:
      swatchcam pigment set blue --max-load 6 --min-grams 0.05 --price 11.50
      swatchcam pigment set white --ready --price 3.80
      swatchcam pigment set "clear base" --price 1.20
      swatchcam pigment set blue --lot B-207 --since 2026-11-02 --test-mix 41
    """
    from ..library.changes import carry_out_together
    from ..library.library import open_library
    from ..library.shelf.pigments import set_pigment
    from ..mixing.test_series import new_lot

    _refuse_half_a_lot(lot, since, test_mix, strength)
    steps: list[Callable[[Library], Change]] = []
    if not lot or any(value is not None for value in said.values()):
        steps.append(lambda there: set_pigment(there, name, **said))
    if lot:
        steps.append(lambda there: new_lot(there, name, lot, since, test_mix, strength))
    tell_changes(carry_out_together(open_library(library, create=not lot), steps), as_json)


def _refuse_half_a_lot(lot: str, since: str, test_mix: int | None, strength: float | None) -> None:
    if lot and not since:
        raise UsageError("lot-without-day", "give-its-first-day", lot=lot)
    if not lot and (since or test_mix is not None or strength is not None):
        raise UsageError("no-lot-named", "name-the-lot")
