"""`swatchcam keep`: a strip's colour into the library, under its shade and batch."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from .options import (
    entry_options,
    library_option,
    measuring_options,
    numbers_option,
    refuse_more_than_strips,
    strips_option,
)
from .output import tell
from .studio_defaults import measures_in
from .written import check_picture, draw_picture


@click.command(
    epilog="\b\nExamples:\n"
    '  swatchcam keep today.jpg --shade "river blue" --batch 3 --recipe "clear base 500 g, blue 3.2 g, black 4 drops"\n'
    '  swatchcam keep pressed.jpg --shade "river blue" --batch 3 --state heat-set\n'
    '  swatchcam keep pressed.jpg --shade "river blue" --strip left --mark B\n'
    '  swatchcam keep today.jpg --shade "river blue" --batch 3 --strip left --strip right\n'
    '  swatchcam keep today.jpg --shade "river blue" --batch 3 --coat "0.72 g on 10x10 cm"\n'
    '  swatchcam keep thinned.jpg --shade "river blue" --batch 3 --let-down 10',
)
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path))
@numbers_option
@entry_options
@strips_option("The strip to keep")
@measuring_options
@library_option
def keep(
    photos: tuple[Path, ...],
    strips: tuple[str, ...],
    marks: tuple[str, ...],
    coats: tuple[str, ...],
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
    from ..library.history import treatment_before
    from ..library.library import open_library
    from ..library.save import prepare_strips, put_strips
    from ..library.search import handled
    from ..measurement.measure import measure as measure_photo
    from ..measurement.strip_names import any_loose
    from ..measurement.summary import sitting_of
    from ..report.library_records import kept_dict
    from ..report.library_text import kept_text

    check_picture(picture, replace, (*photos, *other_light))
    said |= {"measures": measures_in(library)} if said["recipe"] else {}
    said_of = [entry_of(mark=mark, coat=coat, **said) for mark, coat in _of_each(strips, marks, coats)]
    first, *again = (str(photo) for photo in photos)
    result = measure_photo(
        first,
        card,
        illuminant=illuminant,
        observer=int(observer),
        beside=loose or any_loose(*strips),
        again=again,
        other_light=[str(photo) for photo in other_light],
        row=row,
        keep_print=True,
    )
    sitting = sitting_of(result)
    prepared = prepare_strips(sitting, strips or (sitting.usual,), said_of)
    opened = open_library(library, create=True)
    known = frozenset(handled(opened))
    records = put_strips(opened, prepared)
    numbers_kept = {record.number for record in records}
    of_shade = opened.records(records[0].shade)
    pairs = [found for found in pair(of_shade) if found.after.number in numbers_kept]
    facts = kept_dict(
        records, pairs, str(opened.place), said_of[0].recipe, before=treatment_before(of_shade, records[0])
    )
    tell(facts, partial(kept_text, numbers=numbers, known=known), as_json)
    draw_picture(result, picture)


def _of_each(strips: tuple[str, ...], marks: tuple[str, ...], coats: tuple[str, ...]) -> list[tuple[str, ...]]:
    """What is said of each strip: its mark and its coat.

    Raises
    ------
    UsageError
        More is said than there are strips.
    """
    refuse_more_than_strips(strips, mark=marks, coat=coats)
    count = max(len(strips), 1)
    return list(zip(*((*said, *[""] * (count - len(said))) for said in (marks, coats)), strict=True))
