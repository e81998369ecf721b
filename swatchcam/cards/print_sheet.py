"""Card design -> sheet to print, at true size: a PDF of vector shapes, and the same drawing as PNG.

Page 1 carries as many cards as the paper holds; pages 2 and 3 come from `print_guide`.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from itertools import chain

import numpy as np

from ..errors import CardError, UsageError
from .design import Box, CardDesign, Tag
from .paper import BLACK, CARD, FAINT, MM, PRINTER_RIM, SIZES, Layout, Pen, lay_out
from .print_guide import draw_map, draw_steps
from .print_number import spoken, tag_ids
from .tag_family import tag_modules

RIM = 4.0  # mm of blank stock around a card's ink that no cut takes away
DPI_LIMITS = (72, 600)


def card_sheet(design: CardDesign, paper: str, numbers: Sequence[str] = ()) -> bytes:
    """The PDF to print: page 1 the cards at true size, page 2 how to use them, page 3 the patch names.

    The same bytes for the same arguments. Colours are DeviceRGB, exactly the codes of the design.

    Parameters
    ----------
    paper : 'a4', 'letter' or 'card'
    numbers : eight digits for each card on page 1, or none: the label is then for a number written by hand

    Raises
    ------
    UsageError
        The paper is unknown, or too small for the card.
    CardError
        The design cannot be printed: a tag that does not exist, items too near to each other or to the edge.
    """
    from reportlab.pdfgen.canvas import Canvas

    sheet = arrange(design, paper)
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(sheet.width * MM, sheet.height * MM), invariant=1, lang="en")
    canvas.setTitle(f"swatchcam card {design.name}")
    canvas.setSubject("Reference card at true size: print page 1 at 100 %, on one side")
    canvas.setCreator("swatchcam")
    # Viewers that heed these open their print dialogue at actual size and one-sided.
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.setViewerPreference("Duplex", "Simplex")
    pen = Pen(canvas, sheet.height)
    for (x, y), number in zip(sheet.origins, numbers or [""] * len(sheet.origins), strict=True):
        _draw_card(pen.moved(x, y), design, number)
    _draw_cuts(pen, sheet)
    canvas.showPage()
    width, height = SIZES["letter" if paper == "letter" else "a4"]
    canvas.setPageSize((width * MM, height * MM))
    draw_steps(Pen(canvas, height), width, design, _cutting_words(sheet), bool(numbers))
    canvas.showPage()
    draw_map(Pen(canvas, height), width, design)
    canvas.save()
    return file.getvalue()


def sheet_png(pdf: bytes, dpi: int) -> bytes:
    """Page 1 of the PDF as PNG, exactly `dpi` pixels to the inch, the top-left corners in register.

    Raises
    ------
    UsageError
        The resolution is outside DPI_LIMITS.
    """
    import pypdfium2

    low, high = DPI_LIMITS
    if not low <= dpi <= high:
        raise UsageError("resolution-out-of-range", "choose-a-resolution", dpi=dpi, least=low, most=high)
    file = io.BytesIO()
    document = pypdfium2.PdfDocument(pdf)
    try:
        page = document[0]
        width, height = page.get_size()
        columns, rows = round(width * dpi / 72), round(height * dpi / 72)
        # A page that is not a whole number of pixels would be stretched to one: move its far edges instead.
        short = 1e-3
        page.set_mediabox(0, height - rows * 72 / dpi + short, columns * 72 / dpi - short, height)
        page.render(scale=dpi / 72).to_pil().convert("RGB").save(file, "PNG", dpi=(dpi, dpi))
    finally:
        document.close()
    return file.getvalue()


def cards_per_sheet(design: CardDesign, paper: str) -> int:
    """How many cards page 1 carries; raises as `card_sheet`."""
    return len(arrange(design, paper).origins)


def arrange(design: CardDesign, paper: str) -> Layout:
    """Where the cards lie on the paper; raises as `card_sheet`.

    A card may lose blank rim where it meets its neighbour or the paper's edge, evenly on both sides, but
    keeps RIM.
    """
    if paper not in (*SIZES, CARD):
        raise UsageError("paper-unknown", "choose-a-paper", paper=paper, papers=[*SIZES, CARD])
    _check_printable(design)
    sheet = lay_out(design.size_mm, _spare_rim(design), paper)
    if not sheet.origins:
        width, height = design.size_mm
        raise UsageError(
            "card-larger-than-paper", "choose-another-size", design=design.name, width=width, height=height, paper=paper
        )
    return sheet


def strip(design: CardDesign) -> Box:
    """The scale bar with its words and numbers, mm; with the label it is all the writing on a card."""
    bar, unit = design.scale_bar, _unit(design)
    return Box(bar.x - 1.5 * unit, bar.y - 8 * unit, bar.w + 4.5 * unit, 13 * unit)


def _unit(design: CardDesign) -> float:
    """Writing grows with the label: 1 on the A5 card."""
    return design.label.h / 12


def _module(design: CardDesign, tag: Tag) -> float:
    return tag.box.w / len(tag_modules(design.tag_family, tag.id))


def _ink(design: CardDesign) -> dict[str, Box]:
    named = {f"tag {tag.id}": tag.box for tag in design.tags}
    named |= {f"patch {patch.name}": patch.box for patch in design.patches}
    named |= {f"window {window.name}": window.box for window in design.windows}
    return named | {"the label": design.label, "the scale bar": strip(design)}


def _spare_rim(design: CardDesign) -> tuple[float, float]:
    """The rim that may be trimmed: left and right each, above and below each, mm."""
    boxes, (width, height) = _ink(design).values(), design.size_mm
    keep = max([RIM, *(_module(design, tag) for tag in design.tags)])
    aside = min(chain.from_iterable((box.x, width - box.x - box.w) for box in boxes))
    above = min(chain.from_iterable((box.y, height - box.y - box.h) for box in boxes))
    return aside - keep, above - keep


def _check_printable(design: CardDesign) -> None:
    if min(_spare_rim(design)) < -1e-9:
        raise CardError("ink-near-edge", "leave-a-blank-rim", design=design.name, rim=RIM)
    ink = _ink(design)
    # A tag is found by the white around it, at least one module; writing must not touch what is measured.
    rooms = {f"tag {tag.id}": _module(design, tag) for tag in design.tags}
    for name, room in (rooms | {"the label": 0.0, "the scale bar": 0.0}).items():
        for other, box in ink.items():
            if other != name and _gap(ink[name], box) < room - 1e-9:
                raise CardError(
                    "items-too-close", "keep-white-between", design=design.name, item=name, other=other, room=room
                )


def _gap(one: Box, two: Box) -> float:
    """White between two boxes, mm; negative when they overlap."""
    aside = max(two.x - one.x - one.w, one.x - two.x - two.w)
    return max(aside, two.y - one.y - one.h, one.y - two.y - two.h)


def _draw_card(pen: Pen, design: CardDesign, number: str) -> None:
    for tag in (*design.tags, *_number_tags(design, number)):
        side, black = _module(design, tag), np.argwhere(tag_modules(design.tag_family, tag.id))
        pen.fill([Box(tag.box.x + i * side, tag.box.y + j * side, side, side) for j, i in black], BLACK)
    for patch in design.patches:
        pen.fill([patch.box], patch.srgb)
    for window in design.windows:
        _draw_window(pen, window.box, _unit(design))
    _draw_strip(pen, design, _unit(design))
    _draw_label(pen, design, _unit(design), number)


def _number_tags(design: CardDesign, number: str) -> list[Tag]:
    return [Tag(tag, box) for tag, box in zip(tag_ids(number), design.number_boxes, strict=True)] if number else []


def _draw_window(pen: Pen, box: Box, unit: float) -> None:
    """All of it inside the window, so that it falls away with the piece."""
    x, y = box.centre
    pen.outline(box, rgb=FAINT, width=0.2, dashed=True)
    pen.text(x + 4 * unit, y + 1.2 * unit, "cut out", 4 * unit, align=0.5, rgb=FAINT)
    for up in (-unit, unit):
        pen.line(x - 13 * unit, y - 1.4 * up, x - 6 * unit, y + 1.4 * up, rgb=FAINT, width=0.3)
        pen.circle(x - 14.2 * unit, y - 1.9 * up, 1.3 * unit, rgb=FAINT, width=0.3)


def _draw_strip(pen: Pen, design: CardDesign, unit: float) -> None:
    bar, (width, height) = design.scale_bar, design.size_mm
    upper, middle, lower = (bar.y - up * unit for up in (6.0, 3.3, 0.9))
    pen.text(bar.x, upper, f"swatchcam card {design.name}", 2.6 * unit, bold=True)
    pen.text(bar.x + bar.w / 2, upper, f"{width:g} × {height:g} mm", 2 * unit, align=0.5)
    pen.text(bar.x + bar.w, upper, "this side up", 2.6 * unit, bold=True, align=1)
    words = "Lay flat on the cloth, ink in the windows. Even light, no flash. Phone square above, whole card in view."
    pen.text(bar.x, middle, words, 2 * unit, room=bar.w)
    pen.text(bar.x, lower, f"Check with a ruler: this bar must be {bar.w:g} mm long.", 2 * unit, room=bar.w)
    pen.line(bar.x, bar.y, bar.x + bar.w, bar.y)
    for mark in range(int(bar.w) + 1):
        length = 2.4 if mark % 10 == 0 else 1.8 if mark % 5 == 0 else 1.2
        pen.line(bar.x + mark, bar.y, bar.x + mark, bar.y + length * unit)
    for mark in range(0, int(bar.w) + 1, 10):
        pen.text(bar.x + mark, bar.y + 4.6 * unit, str(mark), 2 * unit, align=0.5)


def _draw_label(pen: Pen, design: CardDesign, unit: float, number: str) -> None:
    box = design.label
    pen.outline(box)
    room = min(tag.box.x for tag in _number_tags(design, number)) - box.x if number else box.w
    line = box.y + 10 * unit
    for x, words in ((box.x, "Card no."), (box.x + room / 2, "Date printed")):
        pen.text(x + 2 * unit, box.y + 3.4 * unit, words, 2.4 * unit)
        if number and x == box.x:
            pen.text(x + 2 * unit, line, spoken(number), 4.4 * unit, bold=True, room=room / 2 - 3 * unit)
        else:
            pen.line(x + 2 * unit, line, x + room / 2 - 2 * unit, line)


def _draw_cuts(pen: Pen, sheet: Layout) -> None:
    for x in sheet.cuts_x:
        pen.line(x, PRINTER_RIM, x, sheet.height - PRINTER_RIM, rgb=FAINT, width=0.2, dashed=True)
    for y in sheet.cuts_y:
        pen.line(PRINTER_RIM, y, sheet.width - PRINTER_RIM, y, rgb=FAINT, width=0.2, dashed=True)


def _cutting_words(sheet: Layout) -> str:
    count = len(sheet.cuts_x) + len(sheet.cuts_y)
    if not count:
        return "The card fills the sheet: the edge of the paper is its edge."
    return f"Cut the sheet apart along the long faint dashed line{'s' * (count > 1)}, from edge to edge."
