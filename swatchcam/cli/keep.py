"""`swatchcam keep`: a strip's colour into the library, under its shade and batch."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from .options import entry_options, library_option, measuring_options, numbers_option, strip_option
from .output import tell
from .written import check_picture, draw_picture


@click.command(
    epilog="\b\nExamples:\n"
    '  swatchcam keep today.jpg --shade "river blue" --batch 3 --recipe "clear base 500 g, blue 3.2 g, black 4 drops"\n'
    '  swatchcam keep pressed.jpg --shade "river blue" --batch 3 --state heat-set\n'
    '  swatchcam keep pressed.jpg --shade "river blue" --strip left --mark B\n'
    '  swatchcam keep today.jpg --shade "river blue" --batch 3 --coat "0.72 g on 10x10 cm"\n'
    '  swatchcam keep thinned.jpg --shade "river blue" --batch 3 --let-down 10',
)
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path))
@numbers_option
@entry_options
@strip_option("The strip to keep")
@measuring_options
@library_option
def keep(
    photos: tuple[Path, ...],
    strip: str | None,
    card: str | None,
    illuminant: str,
    observer: str,
    other_light: tuple[Path, ...],
    row: str | None,
    loose: bool,
    picture: Path | None,
    replace: bool,
    library: str | None,
    numbers: bool,
    as_json: bool,
    **said: Any,
) -> None:
    """Measure a strip in PHOTO and keep it: its colour, how sure it is, the photo, and what you note about it.

    Where you leave out cloth, mesh, squeegee, light or ink, they are those of the shade's last record. If the same
    strip was kept before heat setting or washing, you see what that did to it.
    """
    from ..library.entry import entry_of
    from ..library.heat_shift import pair
    from ..library.library import open_library
    from ..library.save import prepare, put
    from ..measurement.measure import measure as measure_photo
    from ..measurement.strip_names import is_loose
    from ..measurement.summary import sitting_of
    from ..report.library_records import kept_dict
    from ..report.library_text import kept_text

    check_picture(picture, replace, (*photos, *other_light))
    entry = entry_of(**said)
    first, *again = (str(photo) for photo in photos)
    result = measure_photo(
        first,
        card,
        illuminant=illuminant,
        observer=int(observer),
        beside=loose or is_loose(strip),
        again=again,
        other_light=[str(photo) for photo in other_light],
        row=row,
    )
    sitting = sitting_of(result)
    prepared = prepare(sitting, strip or sitting.usual, entry)
    opened = open_library(library, create=True)
    record = put(opened, prepared)
    pairs = [found for found in pair(opened.records(record.shade)) if found.after.number == record.number]
    facts = kept_dict(record, pairs, str(opened.place))
    tell(facts, partial(kept_text, numbers=numbers), as_json)
    draw_picture(result, picture)
