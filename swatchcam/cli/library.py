"""`swatchcam library`: the whole library: filled from photos, saved, looked after, handed on."""

from __future__ import annotations

from pathlib import Path

import click

from ..errors import UsageError
from ..files import check_free
from .groups import LazyGroup
from .options import library_options
from .output import progress, tell, tell_done
from .written import output_options, replace_option


@click.group(cls=LazyGroup, lazy={"fill": "swatchcam.cli.library_fill:fill"})
def library() -> None:
    """Fill the library from photos, back it up, look after it, export it.

    \b
    Example:
      swatchcam library fill photos/ --card studio-7
    """


@library.command()
@library_options
def where(library: str | None, as_json: bool) -> None:
    """See where the library and its photos are, and how much is in it.

    \b
    Example:
      swatchcam library where
    """
    from ..library.library import open_library
    from ..report.library_care import where_dict
    from ..report.library_text import where_text

    tell(where_dict(open_library(library)), where_text, as_json)


@library.command()
@click.argument("form", metavar="csv|json|cgats", type=click.Choice(["csv", "json", "cgats"]))
@output_options("FILE", "shades.csv, .json or .txt")
@library_options
def export(form: str, output: Path | None, replace: bool, library: str | None, as_json: bool) -> None:
    """Write everything for other programs: as a CSV table, JSON, or CGATS.17 text (ISO 28178).

    \b
    Example:
      swatchcam library export csv --output spring.csv
    """
    from ..library.library import open_library
    from ..report.publish import ENDINGS, write_export

    target = output or Path(f"shades{ENDINGS[form]}")
    check_free(target, replace, f"FILE{ENDINGS[form]}")
    tell_done(f"wrote {write_export(open_library(library), form, target, replace)}", as_json)


@library.command()
@click.argument("file", metavar="FILE.zip", type=click.Path(path_type=Path))
@replace_option
@library_options
def backup(file: Path, replace: bool, library: str | None, as_json: bool) -> None:
    """Back up everything, photos too, into one FILE. Keep it on another disk, such as a USB stick.

    A name alone lands in the folder you are in; a stick has an address of its own, on Windows such as E:\\ALL.zip.

    \b
    Examples:
      swatchcam library backup 2026-01-31.zip
      swatchcam library backup /media/stick/2026-01-31.zip
    """
    from ..library.backup import back_up
    from ..library.library import open_library
    from ..report.library_care import count_dict
    from ..report.library_text import count_text

    check_free(file, replace, "FILE.zip", "swatchcam library backup")
    tell(count_dict(back_up(open_library(library), file, replace), "saved to", file), count_text, as_json)


@library.command()
@click.argument("file", type=click.Path(path_type=Path))
@library_options
def restore(file: Path, library: str | None, as_json: bool) -> None:
    """Bring a backup back, into a library that is still empty.

    \b
    Example:
      swatchcam library restore 2026-01-31.zip --library new.sqlite
    """
    from ..library.backup import restore
    from ..library.library import open_library
    from ..report.library_care import count_dict
    from ..report.library_text import count_text

    if file.name.isdecimal() and not file.exists():
        raise UsageError("backup-is-a-number", "undo-or-name-a-backup", number=file.name)
    opened = open_library(library, create=True)
    tell(count_dict(restore(file, opened), "brought back from", file), count_text, as_json)


@library.command()
@click.option("--remeasure", is_flag=True, help="Measure every record again from its photos too.")
@library_options
def verify(remeasure: bool, library: str | None, as_json: bool) -> None:
    """Read every photo and record again, and say what is not as it was.

    \b
    Exit code: 0 all is as it was, 3 something is not.

    \b
    Example:
      swatchcam library verify --remeasure
    """
    from ..library.library import open_library
    from ..library.verify import verify as look
    from ..report.library_care import verify_dict
    from ..report.library_text import verify_text

    opened = open_library(library)
    with progress("Reading") as reached:
        facts = verify_dict(*look(opened, remeasure, reached))
    tell(facts, verify_text, as_json)
    click.get_current_context().exit(3 if facts["broken"] else 0)


@library.command()
@library_options
def upgrade(library: str | None, as_json: bool) -> None:
    """Bring a library that an older swatchcam wrote up to date. Back it up first.

    \b
    Example:
      swatchcam library upgrade
    """
    from ..library.library import open_library

    tell_done(f"{open_library(library, create=True).place} is up to date", as_json)
