"""Own pigments are laid in rows below the card: where each strip goes, as a file and as a sheet to print."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Sequence
from pathlib import Path

from ..cards.design import Box, CardDesign, Window, designs, is_row
from ..cards.paper import FAINT, MM, PRINTER_RIM, SIZES, Pen
from ..cards.values_file import write_text
from ..cards.values_folder import comes_with_the_tool
from ..errors import CardError, UsageError
from ..resources import user_folder
from .pigment_row import Places

SIDE, STEP = 18.0, 22.0  # mm, of a strip and from one to the next
ASIDE, BELOW = 2.0, 8.0  # mm from the card's left edge, and below its lower edge
LONGEST, ROWS = 9, 3  # strips in a row, so that the sheet takes them; rows, so that the photo does
CARD_AT = 62.0  # mm from the sheet's upper edge to the card's lower edge
BAR = 100.0  # mm
HINTS = (
    "Print at 100 % (actual size). The bar must be 100 mm long, to half a millimetre.",
    "Cut each strip to a square of 18 mm, dry and heat-set as usual, and lay it on the square of its name.",
    "Lay the card with its lower edge on the long line and its lower left corner where the lines cross. Take the"
    " photo with the card and all squares in it.",
)


def lay_row(name: str, pigments: Sequence[str], design: CardDesign) -> Places:
    """A place for each strip, in rows below the card; a pigment that comes twice has two, at different loads.

    Raises
    ------
    UsageError
        A name that no file or table can hold, or more strips than a photo can take in.
    """
    if (
        not re.fullmatch(r"[\w][\w .-]{0,63}", name)
        or name.endswith((" ", "."))
        or name in designs()
        or comes_with_the_tool(name)
    ):
        raise UsageError("row-name-unusable", "name-the-row-plainly", name=name)
    in_row = min(LONGEST, int((design.size_mm[0] - 2 * ASIDE + STEP - SIDE) // STEP))
    names = _numbered(pigments)
    if len(names) > ROWS * in_row:
        raise UsageError("too-many-strips", "make-two-rows", count=len(names), design=design.name, most=ROWS * in_row)
    top = design.size_mm[1] + BELOW
    places = [Box(ASIDE + STEP * (i % in_row), top + STEP * (i // in_row), SIDE, SIDE) for i in range(len(names))]
    return Places(name, design.name, tuple(Window(own, box) for own, box in zip(names, places, strict=True)))


def _numbered(pigments: Sequence[str]) -> list[str]:
    """Names of the strips: a pigment that comes more than once is numbered."""
    names: list[str] = []
    for pigment in pigments:
        usable = pigment == pigment.strip() and pigment.isprintable() and not pigment.startswith("#")
        if not usable or pigment in ("", "paper") or len(pigment) > 40:
            raise UsageError("pigment-name-unusable", "use-a-short-word", name=pigment)
        count = 1 + sum(name.rpartition("-")[0] == pigment for name in names)
        names.append(f"{pigment}-{count}" if pigments.count(pigment) > 1 else pigment)
    doubled = [name for name in names if names.count(name) > 1]
    if doubled:
        raise UsageError("two-strips-of-one-name", "name-pigments-otherwise", name=doubled[0])
    return names


def places_text(places: Places) -> str:
    """The row's TOML file."""
    lines = [
        "# A row of own pigments: millimetres from the card's top-left corner, x right, y down.",
        "format = 1",
        'kind = "row"',
        f"name = {_quoted(places.name)}",
        f"card = {_quoted(places.card)}",
    ]
    for window in places.windows:
        box = window.box
        lines += ["", "[[window]]", f"name = {_quoted(window.name)}"]
        lines += [f"{key} = {value:g}" for key, value in zip("xywh", (box.x, box.y, box.w, box.h), strict=True)]
    return "\n".join(lines) + "\n"


def write_places(places: Places, replace: bool) -> Path:
    """Write the row's file into the user's folder, all or nothing; an old one is kept.

    Raises
    ------
    CardError
        A card design is there, or a row of this name and it is not to be replaced; or the folder cannot be
        written to.
    """
    target = user_folder() / f"{places.name}.toml"
    if target.exists() and not is_row(target):
        raise CardError("file-of-no-row", "name-the-row-otherwise", path=target)
    if target.exists() and not replace:
        raise CardError("row-exists", "name-it-otherwise-or-replace", row=places.name)
    write_text(target, places_text(places))
    return target


def row_sheet(places: Places, design: CardDesign, paper: str) -> bytes:
    """A PDF at true size: the card's lower edge, a square with its name for each strip, a bar to check the print.

    The same bytes for the same row and paper, a key of SIZES.
    """
    from reportlab.pdfgen.canvas import Canvas

    width, height = SIZES[paper]
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(width * MM, height * MM), invariant=1, lang="en")
    canvas.setTitle(f"swatchcam pigment row {places.name}")
    canvas.setCreator("swatchcam")
    canvas.setViewerPreference("PrintScaling", "None")
    pen = Pen(canvas, height)
    left = PRINTER_RIM + 1
    _draw_card_edge(pen, left, width, design)
    for window in places.windows:
        _draw_place(pen.moved(left, CARD_AT - design.size_mm[1]), window)
    _draw_bar(pen, left + ASIDE, CARD_AT + BELOW + ROWS * STEP + 12)
    pen.text(left + ASIDE, 13, f"Pigment row {places.name}", 4.5, bold=True, room=width - 2 * (left + ASIDE))
    y = 17.0
    for hint in HINTS:
        y = pen.paragraph(left + ASIDE, y, width - 2 * (left + ASIDE), hint, 3.4) + 1.2
    canvas.save()
    return file.getvalue()


def _draw_card_edge(pen: Pen, left: float, width: float, design: CardDesign) -> None:
    right = min(left + design.size_mm[0], width - PRINTER_RIM)
    pen.line(left, CARD_AT, right, CARD_AT, width=0.3)
    pen.line(left, CARD_AT - 14, left, CARD_AT + 3, width=0.3)
    pen.text(left + ASIDE, CARD_AT - 2, f"lower edge of card {design.name}; its lower left corner here", 3, rgb=FAINT)


def _draw_place(pen: Pen, window: Window) -> None:
    box = window.box
    pen.outline(box, width=0.2)
    x, y = box.centre
    pen.text(x, y + 1, window.name, 3.2, align=0.5, room=box.w - 2)


def _draw_bar(pen: Pen, x: float, y: float) -> None:
    pen.line(x, y, x + BAR, y, width=0.3)
    for end in (x, x + BAR):
        pen.line(end, y - 2, end, y + 2, width=0.3)
    pen.text(x + BAR / 2, y + 4.5, f"{BAR:g} mm", 3, align=0.5)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def summary(places: Places) -> list[str]:
    """How to lay the row, row by row, for a person."""
    rows: dict[float, list[str]] = {}
    for window in places.windows:
        rows.setdefault(window.box.y, []).append(window.name)
    return [f"row {number}: {', '.join(names)}" for number, names in enumerate(rows.values(), start=1)]
