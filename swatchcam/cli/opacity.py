"""`swatchcam opacity`: does an ink cover the cloth, and how many passes does it need?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import UsageError
from .options import DECIMAL, NUMBER, library_options, photo_options
from .output import tell

if TYPE_CHECKING:
    from ..measurement.stored_colour import Kept
    from ..mixing.opacity import Opacity

    Found = tuple[Opacity, dict[str, tuple[str, Kept]]]  # and each place's name and colour


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam opacity white.jpg\n"
    "  swatchcam opacity sample_images/two_cloths.jpg --card sample-card --bare-light beside-1 --bare-dark beside-2\n"
    "  swatchcam opacity --records 12 13 --bare-records 10 11",
)
@click.argument("photo", required=False, type=click.Path(path_type=Path))
@click.option("--over-light", metavar="STRIP", help="The strip over light cloth. [default: left]")
@click.option("--over-dark", metavar="STRIP", help="The strip over dark cloth. [default: right]")
@click.option("--bare-light", metavar="STRIP", help="The light cloth without ink, such as beside-1.")
@click.option("--bare-dark", metavar="STRIP", help="The dark cloth without ink.")
@click.option("--records", nargs=2, type=NUMBER, metavar="LIGHT DARK", help="Two records of the library instead.")
@click.option("--bare-records", nargs=2, type=NUMBER, metavar="LIGHT DARK", help="The records of the bare cloths.")
@click.option(
    "--criterion",
    type=DECIMAL,
    default=0.98,
    show_default=True,
    help="Contrast ratio from which an ink is said to cover.",
)
@photo_options
@library_options
def opacity(
    photo: Path | None,
    over_light: str | None,
    over_dark: str | None,
    bare_light: str | None,
    bare_dark: str | None,
    records: tuple[int, int] | None,
    bare_records: tuple[int, int] | None,
    criterion: float,
    card: str | None,
    other_light: tuple[Path, ...],
    row: str | None,
    loose: bool,
    library: str | None,
    as_json: bool,
) -> None:
    """See whether an ink covers.

    Pull the same ink in the same way on light cloth and on dark cloth, and lay both on the card: light on the left,
    dark on the right.

    The contrast ratio is how light it looks over dark cloth, as a part of how light it looks over light cloth. With
    both cloths measured bare too, what a second and a third pass would do is predicted.
    """
    from ..measurement.strip_names import any_loose
    from ..report.quantities import opacity_dict, opacity_text

    strips = {"over_light": over_light, "over_dark": over_dark, "light_cloth": bare_light, "dark_cloth": bare_dark}
    _refuse_contradictions(photo, any(strips.values()), records, bare_records)
    if records is not None:
        found, colours = _of_records(library, records, bare_records, criterion)
    else:
        strips |= {"over_light": over_light or "left", "over_dark": over_dark or "right"}
        beside = loose or any_loose(*strips.values())
        how = {"other_light": [str(each) for each in other_light], "row": row, "beside": beside}
        found, colours = _of_photo(str(photo), card, strips, criterion, how)
    facts = opacity_dict(found, colours)
    tell(facts, opacity_text, as_json)


def _refuse_contradictions(photo: Path | None, strips: bool, records: object, bare_records: object) -> None:
    if photo is None and records is None:
        raise UsageError("no-photo-and-no-records", "give-a-photo-or-records")
    if photo is not None and (records or bare_records):
        raise UsageError("photo-and-records", "give-a-photo-or-records")
    if photo is None and strips:
        raise UsageError("strips-without-a-photo", "name-bare-records")


def _of_photo(
    photo: str, card: str | None, strips: dict[str, str | None], criterion: float, how: dict[str, Any]
) -> Found:
    from ..measurement.measure import measure
    from ..measurement.stored_colour import keep
    from ..mixing.opacity import opacity_of_photo

    names = {place: name for place, name in strips.items() if name}
    measured = measure(photo, card, **how)
    bare = (names.get("dark_cloth"), names.get("light_cloth"))
    found = opacity_of_photo(measured, names["over_dark"], names["over_light"], bare, criterion)
    return found, {place: (name, keep(measured.colour(name), measured)) for place, name in names.items()}


def _of_records(
    place: str | None, records: tuple[int, int], bare_records: tuple[int, int] | None, criterion: float
) -> Found:
    from ..library.labels import record_words
    from ..library.library import open_library
    from ..mixing.opacity import opacity_of_records

    library = open_library(place)
    numbers = dict(
        zip(("over_light", "over_dark", "light_cloth", "dark_cloth"), records + (bare_records or ()), strict=False)
    )
    of = {where: library.record(number) for where, number in numbers.items()}
    found = opacity_of_records(
        of["over_dark"], of["over_light"], of.get("dark_cloth"), of.get("light_cloth"), criterion
    )
    return found, {where: (record_words(record), record.colour) for where, record in of.items()}
