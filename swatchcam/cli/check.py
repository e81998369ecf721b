"""`swatchcam check`: is today's strip the same as the last batch, or as the target?"""

from __future__ import annotations

from pathlib import Path

import click

from .options import measuring_options

EXIT_CODES = {"same": 0, "different": 4, "too close to call": 5}


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam check sample_images/good_pair.jpg --card sample-card\n"
    "  swatchcam check today.jpg --target 41.2,38.0,-12.5 --tolerance 1.5\n"
    "  swatchcam check today.jpg --against march.jpg:left\n"
    "  swatchcam check one.jpg two.jpg three.jpg --other-lamp lamp.jpg\n\n"
    "\b\nExit code: 0 same, 4 different, 5 too close to call, 3 refused, 2 wrong use.",
)
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--window",
    default=None,
    help="The drawdown to judge: left, right or beside-1, beside-2 ... [default: right, today's strip]",
)
@click.option("--target", metavar="L,a,b", help="Judge against these CIELAB values.")
@click.option(
    "--against",
    metavar="PHOTO[:WINDOW]",
    help="Judge against a drawdown in another photo, by default its window of the same name.",
)
@click.option(
    "--tolerance",
    type=float,
    default=2.0,
    show_default=True,
    help="Largest CIEDE2000 that counts as the same.",
)
@measuring_options
def check(
    photos: tuple[Path, ...],
    window: str | None,
    target: str | None,
    against: str | None,
    tolerance: float,
    card: str | None,
    illuminant: str,
    observer: str,
    other_lamp: tuple[Path, ...],
    strip: str | None,
    beside: bool,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Check a drawdown in PHOTO: against the other window, a target, or another photo.

    Without --target or --against, the right window (today's strip) is judged against the left one (the last batch).
    Several photos of the same scene under the same lamp are measured together; the first is the one that is named
    and drawn.
    """
    from ..check import check_photo
    from ..report import as_json as to_json
    from ..report import check_dict, check_text

    first, *again = (str(photo) for photo in photos)
    verdict, sample, reference = check_photo(
        first,
        card,
        again=again,
        other_light=[str(photo) for photo in other_lamp],
        strip=strip,
        window=window,
        target=target,
        against=against,
        tolerance=tolerance,
        illuminant=illuminant,
        observer=int(observer),
        beside=beside,
    )
    if picture:
        from ..picture import write_picture

        write_picture(sample, picture)
    facts = check_dict(verdict, sample, reference)
    click.echo(to_json(facts) if as_json else check_text(facts))
    if picture:
        click.echo(f"The picture of what was found is in {picture}.", err=True)
    click.get_current_context().exit(EXIT_CODES[verdict.outcome])
