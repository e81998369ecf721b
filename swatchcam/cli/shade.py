"""`swatchcam shade`: the shades of the library, one by one."""

from __future__ import annotations

from typing import Any

import click

from .options import DECIMAL, NUMBER, library_options
from .output import tell, tell_done


@click.group()
def shade() -> None:
    """List shades, show how one held, give it a target, rename, merge and tag.

    \b
    Example:
      swatchcam shade show "river blue"
    """


@shade.command("list")
@click.option("--tag", help="Only shades with this tag.")
@click.option("--text", help="Only shades with this in their name, notes, cloth, ink or recipe.")
@library_options
def list_shades(tag: str | None, text: str | None, library: str | None, as_json: bool) -> None:
    """List the shades of the library, each with its last record.

    \b
    Examples:
      swatchcam shade list
      swatchcam shade list --tag spring --text linen
    """
    from ..library.library import open_library
    from ..report.library_records import shades_dict
    from ..report.library_text import shades_text

    facts = shades_dict(open_library(library), tag, text)
    tell(facts, lambda _: shades_text(facts["shades"]), as_json)


@shade.command()
@click.argument("name")
@library_options
def show(name: str, library: str | None, as_json: bool) -> None:
    """Show a shade: target, batches with recipes, how it held, what heat setting and washing did.

    The history is a control chart of single values and moving ranges (ISO 7870-2): a batch that chance does not
    explain is named, with the rule that it broke.

    \b
    Example:
      swatchcam shade show "river blue"
    """
    from ..library.library import open_library
    from ..report.library_records import shade_account
    from ..report.library_text import shade_text

    facts = shade_account(open_library(library), name)
    tell(facts, shade_text, as_json)


@shade.command()
@click.argument("name")
@click.argument("lab", metavar="[L,a,b]", required=False)
@click.option("--from-record", type=NUMBER, metavar="N", help="Take the colour of this record.")
@click.option("--tolerance", type=DECIMAL, help="CIEDE2000 that counts as the same.")
@library_options
def target(
    name: str, lab: str | None, from_record: int | None, tolerance: float | None, library: str | None, as_json: bool
) -> None:
    """Give a shade the colour that it shall have, or its own tolerance.

    \b
    Examples:
      swatchcam shade target "river blue" 41.2,-8.0,-32.5 --tolerance 1.5
      swatchcam shade target "river blue" --from-record 12
    """
    from ..colorimetry.lab_text import parse_lab
    from ..library.changes import set_target
    from ..library.compare import target_meant
    from ..library.library import open_library

    opened = open_library(library)
    wanted = target_meant(opened, parse_lab(lab) if lab else None, from_record, tolerance)
    tell_done(set_target(opened, name, wanted, tolerance), as_json)


@shade.command()
@click.argument("name")
@click.argument("batch_name", metavar="BATCH")
@click.option("--rename", "new_name", default="", metavar="NAME", help="Another name for the batch.")
@click.option("--recipe", default="", metavar="TEXT|FILE", help="What went in, in full, as for 'keep'.")
@click.option("--scale", type=DECIMAL, default=0.1, show_default=True, help="The scale's resolution, g.")
@click.option("--drop", type=DECIMAL, default=0.05, show_default=True, help="What one drop weighs, g.")
@click.option("--tip", type=DECIMAL, default=0.1, show_default=True, help="What one spoon tip weighs, g.")
@click.option("--mixed", default="", metavar="DATE", help="The day it was mixed.")
@click.option("--ink", default="", help="The ink's family.")
@click.option("--notes", default="", help="Anything else.")
@library_options
def batch(name: str, batch_name: str, library: str | None, as_json: bool, **said: Any) -> None:
    """Say anew what a batch of a shade is: its recipe, ink, day or name.

    \b
    Example:
      swatchcam shade batch "river blue" 3 --recipe "clear base 500 g, blue 3.4 g, black 4 drops"
    """
    from ..library.amend import amend_batch
    from ..library.library import open_library

    tell_done(amend_batch(open_library(library), name, batch_name, **said), as_json)


@shade.command()
@click.argument("name")
@click.argument("new_name")
@library_options
def rename(name: str, new_name: str, library: str | None, as_json: bool) -> None:
    """Give a shade another name.

    \b
    Example:
      swatchcam shade rename "river blue" "deep river"
    """
    from ..library.changes import rename_shade
    from ..library.library import open_library

    tell_done(rename_shade(open_library(library), name, new_name), as_json)


@shade.command()
@click.argument("name")
@click.argument("into")
@library_options
def merge(name: str, into: str, library: str | None, as_json: bool) -> None:
    """Move all batches of a shade to another one, for the same colour that was kept under two names.

    \b
    Example:
      swatchcam shade merge "rivr blue" "river blue"
    """
    from ..library.changes import merge_shades
    from ..library.library import open_library

    tell_done(merge_shades(open_library(library), name, into), as_json)


@shade.command()
@click.argument("name")
@click.argument("tags", nargs=-1, required=True)
@click.option("--off", is_flag=True, help="Take these tags off.")
@library_options
def tag(name: str, tags: tuple[str, ...], off: bool, library: str | None, as_json: bool) -> None:
    """Tag a shade, to find it again.

    \b
    Examples:
      swatchcam shade tag "river blue" spring linen
      swatchcam shade tag "river blue" spring --off
    """
    from ..library.changes import tag_shade
    from ..library.library import open_library

    tell_done(tag_shade(open_library(library), name, tags, remove=off), as_json)


@shade.command()
@click.argument("name")
@click.argument("text")
@library_options
def note(name: str, text: str, library: str | None, as_json: bool) -> None:
    """Write down something about a shade.

    \b
    Example:
      swatchcam shade note "river blue" "for the autumn curtains"
    """
    from ..library.changes import note_shade
    from ..library.library import open_library

    tell_done(note_shade(open_library(library), name, text), as_json)


@shade.command()
@click.argument("name")
@library_options
def remove(name: str, library: str | None, as_json: bool) -> None:
    """Take a shade out with all its batches and records; 'library restore' brings it back.

    \b
    Example:
      swatchcam shade remove "river blue"
    """
    from ..library.changes import remove_shade
    from ..library.library import open_library

    tell_done(remove_shade(open_library(library), name), as_json)
