"""`swatchcam measure`: the colours in photos of the card."""

from __future__ import annotations

from pathlib import Path

import click

from .options import measuring_options
from .output import tell
from .written import check_picture, draw_picture


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam measure sample_images/good_pair.jpg --card sample-card\n"
    "  swatchcam measure one.jpg two.jpg three.jpg --other-light lamp.jpg",
)
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path))
@measuring_options
def measure(
    photos: tuple[Path, ...],
    card: str | None,
    illuminant: str,
    observer: str,
    other_light: tuple[Path, ...],
    row: str | None,
    loose: bool,
    picture: Path | None,
    replace: bool,
    as_json: bool,
) -> None:
    """Measure the colours of the strips in a PHOTO of the card, and how sure they are.

    A strip is a drawdown: a test print or smear of one ink on cloth.

    Several photos of the same scene under the same light are measured together; the first is the one that is named
    and drawn.
    """
    from ..measurement.measure import measure as measure_photo
    from ..report.measurement import measurement_dict
    from ..report.measurement_text import measurement_text

    check_picture(picture, replace, (*photos, *other_light))
    first, *again = (str(photo) for photo in photos)
    result = measure_photo(
        first,
        card,
        illuminant=illuminant,
        observer=int(observer),
        beside=loose,
        again=again,
        other_light=[str(photo) for photo in other_light],
        row=row,
    )
    facts = measurement_dict(result)
    tell(facts, measurement_text, as_json)
    draw_picture(result, picture)
