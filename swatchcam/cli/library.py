"""`swatchcam library`: the whole library: fill it from photos, save it, look after it, hand it on."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from .options import NUMBER, library_options


@click.group()
def library() -> None:
    """Fill the library from photos, back it up, look after it, print it, hand it on.

    \b
    Example:
      swatchcam library fill photos/ --card studio-7
    """


@library.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--list", "listing", type=click.Path(path_type=Path), help="A CSV list that says what each photo shows.")
@click.option("--card", metavar="NAME", help="The card's values: a name or a file.")
@click.option("--strip", metavar="NAME", help="The strip of your own pigments, lying beside the card or not.")
@click.option("--cloth", default="", help="The cloth, where the list does not say.")
@click.option("--ink", default="", help="The ink's family, where the list does not say.")
@click.option(
    "--processes", type=click.IntRange(1, 64), help="So many photos at once. [default: 1, from 30 photos on 2]"
)
@library_options
def fill(
    folder: Path,
    listing: Path | None,
    card: str | None,
    strip: str | None,
    cloth: str,
    ink: str,
    processes: int | None,
    library: str | None,
    as_json: bool,
) -> None:
    """Measure and keep all photos of a FOLDER.

    A photo's name says what it shows: 'SHADE, BATCH, STAGE.jpg', such as 'river blue, 3, heat-set.jpg'; all but the
    shade may be left out, and 'left' or 'strip B' may follow. Or write a list: a CSV table with the columns photo and
    shade, and any of window, batch, strip, stage, cloth, mesh, squeegee, ink, measured, mixed, recipe, notes, again,
    other_lamp. Stop it when you like: what is in already is not measured again.

    \b
    Examples:
      swatchcam library fill photos/ --card studio-7
      swatchcam library fill photos/ --card studio-7 --list photos.csv
    """
    from ..library.batch_import import fill as fill_library
    from ..library.batch_import import scenes_by_list, scenes_by_name
    from ..library.entry import Entry
    from ..library.library import open_library
    from ..report.library_records import fill_dict
    from ..report.library_text import fill_text

    common = Entry("", cloth=cloth, ink=ink, take_over=False)
    scenes, unread = (scenes_by_list(listing, folder, common), []) if listing else scenes_by_name(folder, common)
    opened = open_library(library, create=True)
    with _progress("Measuring") as progress:
        filled = fill_library(opened, scenes, unread, card=card, strip=strip, processes=processes, progress=progress)
    _print(fill_dict(filled, str(opened.place)), fill_text, as_json)


@library.command()
@library_options
def where(library: str | None, as_json: bool) -> None:
    """Say where the library and its photos lie, and how much is in it.

    \b
    Example:
      swatchcam library where
    """
    from ..library.library import open_library
    from ..report.library_records import where_dict
    from ..report.library_text import where_text

    _print(where_dict(open_library(library)), where_text, as_json)


@library.command()
@click.argument("number", type=NUMBER)
@library_options
def record(number: int, library: str | None, as_json: bool) -> None:
    """Show one record with all that was said of it.

    \b
    Example:
      swatchcam library record 12
    """
    from ..library.library import open_library
    from ..report.library_records import record_dict
    from ..report.library_text import details_text

    _print(record_dict(open_library(library).record(number)), details_text, as_json)


@library.command()
@click.argument("number", type=NUMBER)
@click.option("--stage", default="", help="What was done to the drawdown: wet, air-dried, heat-set, or 'washed 3'.")
@click.option("--label", default="", help="What is written on the strip.")
@click.option("--cloth", default="", help="The cloth.")
@click.option("--mesh", default="", help="The screen's mesh.")
@click.option("--squeegee", default="", help="Squeegee, number of pulls and the like.")
@click.option("--lamp", default="", help="The light.")
@click.option("--measured", default="", metavar="DATE", help="The day of the photo.")
@click.option("--notes", default="", help="Anything else.")
@library_options
def amend(
    number: int,
    stage: str,
    label: str,
    cloth: str,
    mesh: str,
    squeegee: str,
    lamp: str,
    measured: str,
    notes: str,
    library: str | None,
    as_json: bool,
) -> None:
    """Say anew what a record is of. Its colour stays as it was measured.

    \b
    Example:
      swatchcam library amend 12 --stage heat-set --cloth linen
    """
    from ..library.amend import amend_record
    from ..library.library import open_library

    said = {"strip": label, "cloth": cloth, "mesh": mesh, "squeegee": squeegee, "light": lamp, "notes": notes}
    _done(amend_record(open_library(library), number, stage=stage, measured=measured, **said), as_json)


@library.command()
@click.argument("number", type=NUMBER)
@library_options
def remove(number: int, library: str | None, as_json: bool) -> None:
    """Take a record out. It stays where it is, marked; 'library restore' brings it back.

    \b
    Example:
      swatchcam library remove 12
    """
    from ..library.changes import remove_record
    from ..library.library import open_library

    _done(remove_record(open_library(library), number), as_json)


@library.command()
@library_options
def log(library: str | None, as_json: bool) -> None:
    """List what was renamed, merged, tagged or taken out, the newest first.

    \b
    Example:
      swatchcam library log
    """
    from ..library.library import open_library
    from ..report.library_records import log_dict
    from ..report.library_text import log_text

    _print(log_dict(open_library(library)), log_text, as_json)


@library.command()
@click.argument("number", type=NUMBER)
@library_options
def restore(number: int, library: str | None, as_json: bool) -> None:
    """Undo the change with this NUMBER in the log: bring back what was taken out, the old name, the old target.

    \b
    Example:
      swatchcam library restore 4
    """
    from ..library.changes import restore as undo
    from ..library.library import open_library

    _done(undo(open_library(library), number), as_json)


@library.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@library_options
def backup(file: Path, library: str | None, as_json: bool) -> None:
    """Save everything, photos too, into one FILE. Keep it on another disk.

    \b
    Example:
      swatchcam library backup 2026-01-31.zip
    """
    from ..library.backup import back_up
    from ..library.library import open_library
    from ..report.library_records import count_dict
    from ..report.library_text import count_text

    _print(count_dict(back_up(open_library(library), file), "saved to", file), count_text, as_json)


@library.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@library_options
def unpack(file: Path, library: str | None, as_json: bool) -> None:
    """Bring a backup back, into a library that is still empty.

    \b
    Example:
      swatchcam library unpack 2026-01-31.zip --library new.sqlite
    """
    from ..library.backup import unpack as bring_back
    from ..library.library import open_library
    from ..report.library_records import count_dict
    from ..report.library_text import count_text

    opened = open_library(library, create=True)
    _print(count_dict(bring_back(file, opened), "brought back from", file), count_text, as_json)


@library.command()
@click.option("--again", is_flag=True, help="Measure every record anew from its photos too.")
@library_options
def verify(again: bool, library: str | None, as_json: bool) -> None:
    """Read every photo and record anew, and say what is not as it was.

    \b
    Exit code: 0 all is as it was, 3 something is not.

    \b
    Example:
      swatchcam library verify --again
    """
    from ..library.backup import verify as look
    from ..library.library import open_library
    from ..report.library_records import verify_dict
    from ..report.library_text import verify_text

    opened = open_library(library)
    with _progress("Reading") as progress:
        facts = verify_dict(*look(opened, again, progress))
    _print(facts, verify_text, as_json)
    click.get_current_context().exit(3 if facts["broken"] else 0)


@library.command()
@click.argument("shades", nargs=-1, metavar="[SHADE...]")
@click.option("--output", default="shades.html", show_default=True, type=click.Path(path_type=Path), help="The page.")
@click.option("--replace", is_flag=True, help="Write over a page that is there already.")
@library_options
def page(shades: tuple[str, ...], output: Path, replace: bool, library: str | None, as_json: bool) -> None:
    """Make one web page of a shade, of several, or of all: swatches, recipes, plots, history, small photos.

    The page needs no other file and no network, and prints on A4.

    \b
    Examples:
      swatchcam library page
      swatchcam library page "river blue" --output river.html
    """
    from ..library.library import open_library
    from ..report.publish import write_page

    _done(f"wrote {write_page(open_library(library), shades, output, replace)}", as_json)


@library.command()
@click.argument("shades", nargs=-1, metavar="[SHADE...]")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="To print on.")
@click.option("--output", default="shades.pdf", show_default=True, type=click.Path(path_type=Path), help="The PDF.")
@click.option("--replace", is_flag=True, help="Write over a PDF that is there already.")
@library_options
def cards(shades: tuple[str, ...], paper: str, output: Path, replace: bool, library: str | None, as_json: bool) -> None:
    """Make a PDF of swatch cards for the wall, with recipes, of the shades that are named or of all.

    \b
    Examples:
      swatchcam library cards
      swatchcam library cards "river blue" brick --paper letter
    """
    from ..library.library import open_library
    from ..report.publish import write_cards

    _done(f"wrote {write_cards(open_library(library), shades, paper, output, replace)}", as_json)


@library.command()
@click.argument("form", metavar="csv|json|cgats", type=click.Choice(["csv", "json", "cgats"]))
@click.option("--output", type=click.Path(path_type=Path), help="The file. [default: shades.csv, .json or .txt]")
@click.option("--replace", is_flag=True, help="Write over a file that is there already.")
@library_options
def export(form: str, output: Path | None, replace: bool, library: str | None, as_json: bool) -> None:
    """Hand everything on to other programs: as a CSV table, JSON, or CGATS.17 text (ISO 28178).

    \b
    Example:
      swatchcam library export csv --output spring.csv
    """
    from ..library.library import open_library
    from ..report.publish import ENDINGS, write_export

    target = output or Path(f"shades{ENDINGS[form]}")
    _done(f"wrote {write_export(open_library(library), form, target, replace)}", as_json)


@library.command()
@library_options
def upgrade(library: str | None, as_json: bool) -> None:
    """Bring a library up to date that an older swatchcam wrote. Back it up first.

    \b
    Example:
      swatchcam library upgrade
    """
    from ..library.library import open_library

    _done(f"{open_library(library, create=True).place} is up to date", as_json)


@contextmanager
def _progress(label: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on stderr that is told how much of how much is done."""
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def tell(done: int, steps: int) -> None:
            bar.length = max(steps, 1)
            bar.update(done - bar.pos)

        yield tell


def _print(facts: dict[str, Any], text: Any, as_json: bool) -> None:
    click.echo(json.dumps(facts, ensure_ascii=False, indent=2) if as_json else text(facts))


def _done(words: str, as_json: bool) -> None:
    _print({"done": words}, lambda facts: f"{facts['done'][:1].upper()}{facts['done'][1:]}.", as_json)
