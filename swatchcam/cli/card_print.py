"""`swatchcam card print`: the card, or a pigment row's sheet, as a PDF to print and a PNG to look at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import UsageError
from ..text import listed
from .groups import json_option
from .output import tell
from .written import check_both_free, output_options, say, write_file

if TYPE_CHECKING:
    from ..cards.design import CardDesign
    from ..report.json_types import CardPrintJson

DPI, ROW_DPI = 300, 150


@click.command(
    "print",
    epilog="\b\nExamples:\n"
    "  swatchcam card print\n"
    "  swatchcam card print --paper letter --output card.pdf\n"
    "  swatchcam card print --design a6 --no-png\n"
    "  swatchcam card print halm yellow yellow red red blue blue black",
)
@click.argument("row", nargs=-1, metavar="[ROW PIGMENT...]")
@click.option("--design", default="a5", show_default=True, metavar="NAME", help="Card design: a4, a5, a6 or your own.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter", "card"]),
    default="a4",
    show_default=True,
    help="Paper in the printer; 'card' is paper of the card's own size, with no room for a row.",
)
@output_options(
    "FILE.pdf",
    "swatchcam-card-DESIGN-PAPER.pdf, or swatchcam-row-ROW.pdf; its PNG goes beside it",
    replacing="Write over a file that is already there, and replace a row of this name; the old row is kept.",
)
@click.option("--png/--no-png", default=True, show_default=True, help="Draw page 1 as a PNG too.")
@click.option(
    "--dpi", type=click.IntRange(72, 600), help="Dots per inch of the PNG. [default: 300, of a pigment row's sheet 150]"
)
@json_option
def print_card(
    row: tuple[str, ...],
    design: str,
    paper: str,
    output: Path | None,
    png: bool,
    dpi: int | None,
    replace: bool,
    as_json: bool,
) -> None:
    """Make the card: a PDF to print at true size, and a PNG of it. With ROW, make a sheet for a pigment row.

    Page 1 holds as many cards as the paper does, page 2 says how to print, cut and use them, page 3 is a map of
    the patch names for whoever reads the patches with a spectrophotometer. Each card has its own number, which the
    camera reads: print one copy of each sheet, and make another sheet for more cards.

    A row holds one strip of each PIGMENT, 18 mm square, below the card. Write a pigment twice for two places: a weak
    and a strong load.
    """
    from ..cards.print_register import new_numbers
    from ..cards.print_sheet import card_sheet, cards_per_sheet, sheet_png
    from .cards.shown import find_design

    found = find_design(design)
    if row:
        _print_row(row, found, paper, output, (dpi or ROW_DPI) if png else None, replace, as_json)
        return
    dpi = dpi or DPI
    pdf_path = output or Path(f"swatchcam-card-{design}-{paper}.pdf")
    png_path = pdf_path.with_suffix(".png") if png else None
    check_both_free(pdf_path, png_path, replace)
    count = cards_per_sheet(found, paper)
    say(f"Drawing {count} card{'s' * (count > 1)} on page 1, instructions and a map on pages 2 and 3 ...")
    numbers = new_numbers(count) if found.number_boxes else []
    pdf = card_sheet(found, paper, numbers)
    write_file(pdf_path, pdf)
    if png_path:
        say(f"Drawing page 1 as a picture, {dpi} dots per inch ...")
        write_file(png_path, sheet_png(pdf, dpi))
    facts: CardPrintJson = {
        "design": design,
        "paper": paper,
        "cards_per_sheet": count,
        "numbers": numbers,
        "scale_bar_mm": found.scale_bar.w,
        "pdf": str(pdf_path),
        "png": str(png_path) if png_path else None,
        "dpi": dpi if png_path else None,
    }
    tell(facts, _as_text, as_json)


def _print_row(row: tuple[str, ...], design: CardDesign, paper: str, *rest: Any) -> None:
    from .cards.rows import print_row

    name, *pigments = row
    if not pigments:
        raise UsageError("row-without-pigments", "name-its-pigments", row=name)
    if paper == "card":
        raise UsageError("row-on-card-paper", "choose-row-paper")
    print_row(name, pigments, design, paper, *rest)


def _as_text(facts: CardPrintJson) -> str:
    from ..cards.print_number import spoken

    count, bar = facts["cards_per_sheet"], facts["scale_bar_mm"]
    files = [f"To print:   {facts['pdf']}  (page 1: {count} card{'s' * (count > 1)} {facts['design']})"]
    if facts["png"]:
        files.append(f"To look at: {facts['png']}  ({facts['dpi']} dots per inch)")
    if facts["numbers"]:
        files.append(f"Card no.:   {listed([spoken(number) for number in facts['numbers']])}")
    copies = "Print one copy only: another would have the same number. For more cards, run this command again."
    steps = [
        'Print page 1 on matt white card stock at 100 % ("actual size", not "fit to page").',
        *([copies] if facts["numbers"] else []),
        f"Lay a ruler on the bar: it must be {bar:g} mm long, or the card is not true to size.",
        "Follow page 2 to cut and use the card.",
    ]
    return "\n".join([*files, "", "What to do next:", *(f"  {i}. {step}" for i, step in enumerate(steps, 1))])
