"""`swatchcam measure`: the colours in a photo of the card."""

from __future__ import annotations

from pathlib import Path

import click

from .options import measuring_options


@click.command(
    epilog="\b\nExample:\n  swatchcam measure sample_images/good_pair.jpg --card sample-card",
)
@click.argument("photo", type=click.Path(path_type=Path))
@measuring_options
def measure(
    photo: Path, card: str | None, illuminant: str, observer: str, beside: bool, picture: Path | None, as_json: bool
) -> None:
    """Measure the drawdowns in a PHOTO of the card: CIELAB, and how sure it is."""
    from ..measure import measure as measure_photo
    from ..report import as_json as to_json
    from ..report import measurement_dict, measurement_text

    result = measure_photo(str(photo), card, illuminant=illuminant, observer=int(observer), beside=beside)
    if picture:
        from ..picture import write_picture

        write_picture(result, picture)
    facts = measurement_dict(result)
    click.echo(to_json(facts) if as_json else measurement_text(facts))
    if picture:
        click.echo(f"The picture of what was found is in {picture}.", err=True)
