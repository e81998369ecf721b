"""Files that a command writes where a person says: never over another one unless --replace is given."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import UsageError
from ..files import check_free, write_output

if TYPE_CHECKING:
    from ..measurement.measure import Measurement

PICTURE, PAGE = ("FILE.png", "--picture"), ("FILE.html", "--page")  # a name like it, and the option

REPLACING = "Write over a file that is already there."
replace_option = click.option("--replace", is_flag=True, help=REPLACING)
_page = click.option("--page", type=click.Path(path_type=Path), metavar=PAGE[0], help="Write a page to print.")
_picture = click.option(
    "--picture",
    type=click.Path(path_type=Path),
    metavar=PICTURE[0],
    help="Draw what was found into a PNG: tags, patches by their error, windows, sampled ink, light.",
)


def page_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add --page and --replace."""
    return _page(replace_option(command))


def picture_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add --picture and --replace."""
    return _picture(replace_option(command))


def output_options(
    metavar: str, usual: str, default: str | None = None, *, replacing: str = REPLACING
) -> Callable[..., Any]:
    """Add --output and --replace; `usual` says where the file is put otherwise, if that is not always `default`."""

    def add(command: Callable[..., Any]) -> Callable[..., Any]:
        words = "Where to put the file." + (f" [default: {usual}]" if usual else "")
        option = click.option(
            "--output",
            type=click.Path(path_type=Path),
            metavar=metavar,
            default=default,
            show_default=default is not None,
            help=words,
        )
        return option(click.option("--replace", is_flag=True, help=replacing)(command))

    return add


def check_page(page: Path | None, replace: bool) -> None:
    """Before any work: the page may be written there.

    Raises
    ------
    UsageError
        As `files.check_free`.
    """
    if page is not None:
        check_free(page, replace, *PAGE)


def check_picture(picture: Path | None, replace: bool, photos: Iterable[Path]) -> None:
    """Before any work: the picture may be written there; over a photo that is measured it never may.

    Raises
    ------
    UsageError
        As `files.check_free`, or it is one of the photos.
    """
    if picture is None:
        return
    if any(_same_file(picture, photo) for photo in photos):
        raise UsageError(
            "picture-over-photo", "choose-another-name", path=picture, example=PICTURE[0], option=PICTURE[1]
        )
    check_free(picture, replace, *PICTURE)


def write_page(page: Path, html: str) -> None:
    """Write a page, and say where it is."""
    write_output(page, html.encode(), PAGE[1])
    click.echo(f"The page is in {page}.", err=True)


def draw_picture(measured: Measurement, picture: Path | None) -> None:
    """Draw what was found, if that was asked for, and say where it is."""
    if picture is not None:
        from ..report.overlay import write_picture

        write_picture(measured, picture)
        click.echo(f"The picture of what was found is in {picture}.", err=True)


def say(words: str) -> None:
    """How far the work is, on stderr."""
    click.echo(words, err=True)


def check_both_free(pdf: Path, png: Path | None, replace: bool) -> None:
    """Neither the PDF nor the picture of it may spoil another file."""
    check_free(pdf, replace, "FILE.pdf")
    if png:
        check_free(png, replace, "FILE.png")


def write_file(path: Path, data: bytes) -> None:
    """Write the file, and say so."""
    say(f"Writing {path} ...")
    write_output(path, data)


def _same_file(one: Path, other: Path) -> bool:
    try:
        return os.path.samefile(one, other)
    except (OSError, ValueError):
        return False  # one of them is not there
