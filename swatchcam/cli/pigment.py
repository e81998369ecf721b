"""`swatchcam pigment`: what each pigment does on the studio's cloth, and what stands on the shelf."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import click

from .options import (
    DECIMAL,
    IN_GRAMS,
    IN_MONEY,
    IN_PERCENT,
    NUMBER,
    library_options,
    page_option,
    photo_options,
    write_page,
)
from .output import tell, tell_done


@click.group()
def pigment() -> None:
    """Learn what your pigments do, and note what is on the shelf.

    A test series is a few strips of one pigment in clear base at known load, on your cloth. Four loads from 0.1 to
    6 g in 100 g are enough, and one strip of clear base alone for all.

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
    help="What is where: left=0.4 is 0.4 g in 100 g in the left window, right=0 clear base alone. Say it for each.",
)
@click.option("--cup", type=IN_GRAMS, default=100.0, show_default=True, help="How much of each was mixed, g.")
@click.option("--scale", type=IN_GRAMS, default=0.1, show_default=True, help="The scale's resolution, g.")
@click.option("--state", default="air-dried", show_default=True, help="What was done to the strips.")
@click.option("--cloth", default="", help="The cloth.")
@click.option("--mesh", default="", help="The screen's mesh.")
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
    beside: bool,
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
    from ..measurement.measure import measure
    from ..mixing.test_series import ALONE, keep_series, parse_loads
    from ..report.mixing import series_dict
    from ..report.mixing_text import series_text

    wanted = parse_loads(loads)
    entry = entry_of(ALONE, state, **said)
    first, *again = (str(photo) for photo in photos)
    named = beside or any(strip.startswith("beside") for strip in wanted)
    lights = [str(photo) for photo in other_light]
    measured = measure(first, card, again=again, beside=named, other_light=lights, row=row)
    opened = open_library(library, create=True)
    kept = keep_series(opened, measured, name, wanted, cup_g=cup, scale_g=scale, entry=entry)
    _print(series_dict(kept, str(opened.place)), series_text, as_json)


@pigment.command("list")
@click.option("--cloth", default="", help="The cloth. [default: the only one]")
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
    from ..mixing.workbench import set_up
    from ..report.mixing import palette_dict
    from ..report.mixing_text import palette_text

    _print(palette_dict(set_up(open_library(library), cloth, parse_state(state), ink)), palette_text, as_json)


@pigment.command()
@click.argument("name")
@click.option("--cloth", default="", help="The cloth. [default: the only one]")
@click.option("--state", default="air-dried", show_default=True, help="What was done to the strips.")
@click.option("--ink", default="", help="The ink's family. [default: all]")
@page_option
@library_options
def show(name: str, cloth: str, state: str, ink: str, page: Path | None, library: str | None, as_json: bool) -> None:
    """Show what a pigment does, load by load, and how its strength flattens.

    \b
    Example:
      swatchcam pigment show brown
    """
    from ..library.library import open_library
    from ..library.records import parse_state
    from ..mixing.workbench import set_up
    from ..report.mixing import pigment_dict
    from ..report.mixing_text import pigment_text

    facts = pigment_dict(set_up(open_library(library), cloth, parse_state(state), ink), name)
    if page:
        from ..report.mixing_page import pigment_page

        write_page(page, pigment_page(facts, date.today().isoformat()))
    _print(facts, pigment_text, as_json)


@pigment.command("set")
@click.argument("name")
@click.option(
    "--max-load", "most", type=IN_PERCENT, metavar="PERCENT", help="The maker's limit, g in 100 g of the whole."
)
@click.option("--min-grams", "least_g", type=IN_GRAMS, metavar="GRAMS", help="The smallest amount you can dispense.")
@click.option("--price", type=IN_MONEY, help="What 100 g cost, in your own money.")
@click.option("--notes", help="Anything else.")
@library_options
def set_of(name: str, library: str | None, as_json: bool, **said: Any) -> None:
    """Put a pigment on the shelf, or say anew what it is.

    \b
    Example:
      swatchcam pigment set blue --max-load 6 --min-grams 0.05 --price 11.50
    """
    from ..library.library import open_library
    from ..library.proposal_store import set_pigment

    tell_done(set_pigment(open_library(library, create=True), name, **said), as_json)


@pigment.command()
@click.argument("name")
@click.argument("lot_name", metavar="LOT")
@click.option("--since", required=True, metavar="DATE", help="The day from which it is in use, such as 2026-01-31.")
@click.option(
    "--test",
    type=NUMBER,
    metavar="RECORD",
    help="The record of one small test mix with the new lot: its strength is worked out from it.",
)
@click.option("--strength", type=DECIMAL, help="Its strength, if you know it: 1 is that of the test series.")
@library_options
def lot(
    name: str,
    lot_name: str,
    since: str,
    test: int | None,
    strength: float | None,
    library: str | None,
    as_json: bool,
) -> None:
    """Note a new lot of a pigment, and how strong it is.

    \b
    Example:
      swatchcam pigment lot blue B-207 --since 2026-11-02 --test 41
    """
    from ..library.library import open_library
    from ..mixing.pigment_lots import new_lot

    tell_done(new_lot(open_library(library), name, lot_name, since, test, strength), as_json)


def _print(facts: dict[str, Any], words: Any, as_json: bool) -> None:
    tell(facts, words, as_json)
