"""`swatchcam library fill`: a folder of photos becomes records."""

from __future__ import annotations

from pathlib import Path

import click

from .options import library_options
from .output import progress, tell
from .studio_defaults import measures_in, usual_card


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--list", "listing", type=click.Path(path_type=Path), help="A CSV list that says what each photo shows.")
@click.option(
    "--card",
    metavar="NAME",
    callback=usual_card,
    help="The card's values: a name, a file, or nominal. [default: those of the print's number, else the studio's]",
)
@click.option("--row", metavar="NAME", help="The row of your own pigments, lying beside the card or not.")
@click.option("--cloth", default="", help="The cloth, where the list does not say.")
@click.option("--ink", default="", help="The ink's family, where the list does not say.")
@click.option(
    "--processes", type=click.IntRange(1, 64), help="How many photos at once. [default: 1, from 30 photos on 2]"
)
@library_options
def fill(
    folder: Path,
    listing: Path | None,
    card: str | None,
    row: str | None,
    cloth: str,
    ink: str,
    processes: int | None,
    library: str | None,
    as_json: bool,
) -> None:
    """Measure and keep all photos of a FOLDER.

    A photo's name says what it shows: 'SHADE, BATCH, STATE.jpg', such as 'river blue, 3, heat-set.jpg'; all but the
    shade may be left out, and 'left' or 'mark B' may follow. Or write a list: a CSV table with the columns photo and
    shade, and any of strip, batch, mark, state, washes, treatment, cloth, mesh, squeegee, coat, let_down, ink,
    measured, mixed, recipe, notes, again, other_light. A photo whose name can't be read is named and left out. Stop
    when you like: what is in the library already is not measured again.

    \b
    Examples:
      swatchcam library fill photos/ --card studio-7
      swatchcam library fill photos/ --card studio-7 --list photos.csv
    """
    from ..library.bulk.batch_import import fill as fill_library
    from ..library.bulk.batch_import import scenes_by_list, scenes_by_name
    from ..library.entry import Entry
    from ..library.library import open_library
    from ..report.library_care import fill_dict
    from ..report.library_text import fill_text

    common = Entry("", cloth=cloth, ink=ink, take_over=False)
    scenes, unread = (
        (scenes_by_list(listing, folder, common, measures_in(library)), [])
        if listing
        else scenes_by_name(folder, common)
    )
    opened = open_library(library, create=True)
    with progress("Measuring") as reached:
        filled = fill_library(opened, scenes, unread, card=card, row=row, processes=processes, progress=reached)
    tell(fill_dict(filled, str(opened.place)), fill_text, as_json)
