"""`swatchcam near`: which shades of the library are nearest to a colour."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from .options import library_options, numbers_option, photo_options
from .output import tell


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam near 52.9,45.8,13.7\n"
    "  swatchcam near sample_images/good_pair.jpg:left --card sample-card --count 3",
)
@click.argument("colour", metavar="PHOTO[:STRIP]|L,a,b")
@click.option("--count", type=click.IntRange(1, 1000), default=5, show_default=True, help="How many shades to show.")
@numbers_option
@photo_options
@library_options
def near(
    colour: str,
    count: int,
    card: str | None,
    other_light: tuple[Path, ...],
    row: str | None,
    loose: bool,
    library: str | None,
    numbers: bool,
    as_json: bool,
) -> None:
    """Find the shades nearest to a colour: one that you give as L,a,b or one in a photo.

    Of each shade its nearest record is shown. Records for another light than D65 and 10 degrees are left out,
    and so are test series.
    """
    from ..library.library import open_library
    from ..library.search import nearest_shades, series_shades
    from ..measurement.check import colour_meant
    from ..report.library_records import near_dict
    from ..report.library_text import near_text

    opened = open_library(library)
    lab = colour_meant(
        colour,
        card,
        beside=loose,
        other_light=[str(photo) for photo in other_light],
        row=row,
    )
    facts = near_dict(nearest_shades(opened, lab, count, series_shades(opened)), lab)
    tell(facts, partial(near_text, numbers=numbers), as_json)
