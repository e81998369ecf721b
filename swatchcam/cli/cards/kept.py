"""`swatchcam card list`, `use` and `remove`: which cards there are, which is used for what, and which goes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ...cards.print_number import spoken
from ...errors import CardError, UsageError
from ...text import listed, typed
from ..options import library_options
from ..output import tell, tell_change
from ..studio_defaults import studio_of

if TYPE_CHECKING:
    from ...cards.collection import Kept
    from ...cards.design import CardDesign
    from ...report.json_types import CardRemovedJson, CardsJson, CardTiedJson
    from ...report.json_types.cards import KeptCardJson


@click.command("list")
@library_options
@click.pass_context
def list_cards(context: click.Context, library: str | None, as_json: bool) -> None:
    """List your cards and pigment rows, and say which card is used when a photo shows no number.

    \b
    Example:
      swatchcam card list
    """
    from ...cards.collection import kept_cards
    from ...cards.design import designs
    from ...resources import user_folder

    usual = getattr(studio_of(context), "card", "")
    facts: CardsJson = {
        "folder": str(user_folder()),
        "cards": [_kept_dict(kept) for kept in kept_cards()],
        "without_number": {name: _unnumbered(found, usual) for name, found in designs().items()},
    }
    tell(facts, cards_text, as_json)


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam card use studio-7\n"
    "  swatchcam card use studio-7 --print 04821093\n"
    "  swatchcam card use studio-7 --print 04821094 --sister\n"
    "  swatchcam card use nominal",
)
@click.argument("name")
@click.option(
    "--print",
    "numbers",
    multiple=True,
    metavar="NUMBER",
    help="The 8 digits on the print that has these values. Repeat it if several prints share them.",
)
@click.option(
    "--sister",
    is_flag=True,
    help="With --print: this print was not read, but came from the same run as the one that was. Its colours are a"
    " little less sure.",
)
@library_options
def use(name: str, numbers: tuple[str, ...], sister: bool, library: str | None, as_json: bool) -> None:
    """Say which card's values to use: for every card without a number, or with --print for one print.

    NAME is the name of the values; nominal stands for the colours as sent to the printer.
    """
    from ...cards.collection import tie
    from ...library.library import open_library
    from ...library.shelf.studio import set_studio

    if sister and not numbers:
        raise UsageError("sister-without-number", "give-the-sisters-number")
    if not numbers:
        tell_change(set_studio(open_library(library, create=True), card=name), as_json)
        return
    tied = tie(name, numbers, sister)
    facts: CardTiedJson = {
        "card": tied.name,
        "numbers": list(tied.numbers),
        "numbers_before": list(tied.before),
        "taken_from": list(tied.taken_from),
        "path": str(tied.path),
    }
    prints = listed([*map(spoken, tied.numbers)])
    lines = [f"Photos of print {prints} are now measured with '{tied.name}'."]
    if sister:
        lines = [f"Photos of print {prints} are now measured with '{tied.name}', read from a sister print."]
    if gone := [spoken(number) for number in tied.before if number not in tied.numbers]:
        lines.append(f"They are no longer used for print {listed(gone)}.")
    if tied.taken_from:
        lines.append(f"Until now they were measured with {listed(tied.taken_from)}.")
    tell(facts, lambda _: "\n".join(lines), as_json)


@click.command()
@click.argument("name")
@library_options
@click.pass_context
def remove(context: click.Context, name: str, library: str | None, as_json: bool) -> None:
    """Remove a card's values or a pigment row. Its files are kept in another folder.

    \b
    Example:
      swatchcam card remove studio-6
    """
    from ...cards.collection import CARD, put_away

    gone = put_away(name, getattr(studio_of(context), "card", ""))
    facts: CardRemovedJson = {
        "removed": gone.name,
        "kind": gone.kind,
        "numbers": list(gone.numbers),
        "files": [{"was": str(was), "now": str(now)} for was, now in gone.files],
    }
    lines = [f"Removed {'card' if gone.kind == CARD else 'pigment row'} '{gone.name}'."]
    if gone.numbers:
        lines.append(f"Print {listed([*map(spoken, gone.numbers)])} has no values now.")
    lines += ["To bring it back, move:"]
    lines += [f"  {typed(str(now))} to {typed(str(was))}" for was, now in gone.files]
    tell(facts, lambda _: "\n".join(lines), as_json)


def _unnumbered(design: CardDesign, usual: str) -> list[str]:
    """What a card of this design without a number is measured with; nothing while a file stands in the way."""
    from ...cards.choice import without_number

    try:
        return without_number(design, usual)
    except CardError:
        return []


def _kept_dict(kept: Kept) -> KeptCardJson:
    return {
        "name": kept.name,
        "kind": kept.kind,
        "design": kept.design,
        "grade": kept.grade,
        "date": kept.date,
        "numbers": list(kept.numbers),
        "uncertainty": kept.uncertainty,
        "own": kept.own,
        "path": kept.path,
        "faulty": kept.faulty,
    }


def cards_text(facts: CardsJson) -> str:
    """The same for a person."""
    lines = []
    for kind, title in (("card", "Cards"), ("row", "Pigment rows")):
        found = [kept for kept in facts["cards"] if kept["kind"] == kind]
        if found:
            width = max(len(kept["name"]) for kept in found)
            lines += [title, *(f"  {kept['name']:<{width}}  {_about(kept)}" for kept in found), ""]
    lines += ["A card without a number is measured with", *_without_number(facts["without_number"]), ""]
    return "\n".join([*lines, f"Your own are in {facts['folder']}."])


def _about(kept: KeptCardJson) -> str:
    """What is known of a card or row, in one line."""
    size = f"{'below ' * (kept['kind'] == 'row')}{kept['design']}"
    told = [size] if kept["design"] else []
    from ...cards.values import PHOTOGRAPHED

    unread = kept["grade"] == PHOTOGRAPHED
    known = "never measured, first seen" if unread else kept["grade"] or "no values yet"
    told += [f"{known}{' on ' * bool(kept['date'])}{kept['date']}"]
    told += [] if unread or kept["uncertainty"] is None else [f"good to {kept['uncertainty']:.2g}"]
    told += [f"print {listed([*map(spoken, kept['numbers'])])}"] if kept["numbers"] else []
    told += [] if kept["own"] else ["comes with the tool"]
    return "; ".join(["can't be used: see card show" if kept["faulty"] else ", ".join(told)])


def _without_number(names: dict[str, list[str]]) -> list[str]:
    """Which sizes of card are measured with which values."""
    sizes: dict[tuple[str, ...], list[str]] = {}
    for size, found in names.items():
        sizes.setdefault(tuple(found), []).append(size)
    return [f"  {listed(those)}: {_one_of(found)}" for found, those in sizes.items()]


def _one_of(names: Sequence[str]) -> str:
    if not names:
        return "nothing, until the file that can't be used is corrected or removed"
    if len(names) > 1:
        return f"{' or '.join(names)}; say which: swatchcam card use NAME"
    return "nominal, the colours as sent to the printer" if names[0] == "nominal" else Path(names[0]).stem
