"""The pages that go with a printed card: how to print, cut and use it, and a map of the patch names."""

from __future__ import annotations

from itertools import groupby
from xml.sax.saxutils import escape

import numpy as np

from .design import Box, CardDesign
from .paper import FAINT, PALE, Pen

MARGIN = 16.0  # mm
SIZE = 3.6  # mm, of the words
INKS = ((176, 58, 74), (168, 44, 66))  # of the sketch only

STEPS = (
    (
        "Print",
        "Take <b>matt white card stock</b>, or matt paper glued flat on white board. Not glossy, not cream.",
        "Print <b>page 1</b> at <b>100 %</b>, also called “actual size”, on one side. Switch off “fit to "
        "page”, “shrink” and “borderless”.",
        "{copies}",
        "Leave the colours to the printer: its normal best quality, the setting for the paper that is in it, "
        "nothing “vivid”, nothing “economy”. Use <b>the same settings each time</b> and write them down.",
        "<b>Check with a ruler:</b> the bar on each card must be {bar:g} mm long, to half a millimetre. If "
        "it is not, something scaled the page: throw that print away, and print again.",
        "Let the print <b>dry for a day</b> before you cut it or lay it on cloth.",
    ),
    (
        "Cut",
        "{cut}",
        "<b>Caution, sharp blade.</b> Cut the windows out with a knife along a steel rule, on a cutting mat: "
        "several light strokes, fingers well behind the edge of the rule, blade covered afterwards.",
        "Cut away every bit of the dashed line: the white around a window must be clean.",
        "{label}",
        "Do not laminate it, and keep fingers off the patches. Store it flat, dry and <b>out of the sun</b>. "
        "Print a new one when it is stained, bent or faded.",
    ),
    (
        "Use",
        "Lay the card flat on the cloth, printed side up, <b>a strip in each window</b>: the one "
        "you kept on the left, today’s on the right, the same white paper under both.",
        "<b>Even light from one side</b>: daylight from a window, without direct sun, or a cool white lamp. "
        "Other lamps off. <b>No flash.</b>",
        "Hold the phone <b>square above</b> the card, with the whole card in the picture. No shadow of "
        "yourself or the phone on it, and no shine.",
        "Until somebody has read the patches with a spectrophotometer (next page), the card can tell how far "
        "apart two inks are, but not what colour each one is.",
    ),
)
# What is said of copies, and of the label: on cards that bear a number, and on those where it is written by hand.
NUMBERED = {
    "copies": "<b>Print one copy only.</b> Each card has its own number, which the camera reads, and a second copy "
    "would have the same one. For more cards, run <b>swatchcam card print</b> again.",
    "label": "Write the <b>date printed</b> in the box, and keep the small squares beside it clean: they are the "
    "card’s number. Treat each card separately, even two from one sheet.",
}
BY_HAND = {
    "copies": "",
    "label": "Write the <b>card number</b> and the <b>date printed</b> in the box. Treat each card separately, even "
    "two from one sheet: each has its own number.",
}
FIELDS = (
    "Card no.",
    "Date read",
    "Instrument",
    "Geometry",
    "Illuminant, observer",
    "Read by",
    "Gloss (SCI or SCE)",
    "Condition (M0 to M3)",
)


def draw_steps(pen: Pen, width: float, design: CardDesign, cut: str, numbered: bool) -> None:
    """The page that says how to print, cut and use the card; `cut` says where the sheet is cut apart."""
    facts = {"bar": design.scale_bar.w, "cut": cut, **(NUMBERED if numbered else BY_HAND)}
    y = _heading(pen, width, f"Card {design.name}: print it, cut it, use it")
    for heading, *steps in STEPS:
        pen.text(MARGIN, y + 3.9, heading, 5, bold=True)
        for number, words in enumerate(filter(None, (step.format_map(facts) for step in steps)), 1):
            pen.text(MARGIN + 26, y + SIZE, str(number), SIZE, bold=True, align=1)
            y = pen.paragraph(MARGIN + 30, y, width - 2 * MARGIN - 30, words, SIZE) + 1.8
        pen.line(MARGIN, y + 1, width - MARGIN, y + 1, rgb=PALE, width=0.3)
        y += 5
    _sketch_side(pen.moved(MARGIN, y))
    _sketch_above(pen.moved(MARGIN + 105, y), design)


def draw_map(pen: Pen, width: float, design: CardDesign) -> None:
    """The page for whoever reads the patches: each name over its outline, and a place for 'paper'."""
    y = _heading(pen, width, f"Card {design.name}: the names of its patches")
    factor = (width - 2 * MARGIN) / design.size_mm[0]
    _draw_names(pen.moved(MARGIN, y), design, factor)
    y += design.size_mm[1] * factor + 7
    for words in _reading_words(design):
        y = pen.paragraph(MARGIN, y, width - 2 * MARGIN, words, SIZE) + 2
    half = (width - 2 * MARGIN) / 2
    for i, field in enumerate(FIELDS):
        x, base = MARGIN + (i % 2) * half, y + 10 + 11 * (i // 2)
        pen.text(x, base, field, SIZE)
        pen.line(x + 36, base + 0.5, x + half - 4 * (1 - i % 2), base + 0.5)


def paper_spot(design: CardDesign) -> tuple[float, float, float]:
    """The barest place among the patches, to read the stock itself: (x, y, radius), mm.

    The rim is not looked at: it may be trimmed.
    """
    boxes = _boxes(design)
    left, top = min(box.x for box in boxes), min(box.y for box in boxes)
    right, bottom = max(box.x + box.w for box in boxes), max(box.y + box.h for box in boxes)
    step = design.size_mm[0] / 420
    x, y = np.meshgrid(np.arange(left, right, step), np.arange(top, bottom, step))
    clear = np.full(x.shape, np.inf)
    for box in boxes:
        aside = np.maximum(np.maximum(box.x - x, x - box.x - box.w), 0)
        above = np.maximum(np.maximum(box.y - y, y - box.y - box.h), 0)
        clear = np.minimum(clear, np.hypot(aside, above))
    # Rounded, so that of equally bare places the same one is taken on every size of a card.
    at = np.unravel_index(np.argmax(np.round(clear / step, 3)), clear.shape)
    return float(x[at]), float(y[at]), float(0.8 * clear[at])


def _boxes(design: CardDesign) -> list[Box]:
    named = [patch.box for patch in design.patches] + [window.box for window in design.windows]
    return [tag.box for tag in design.tags] + named


def _heading(pen: Pen, width: float, words: str) -> float:
    pen.text(MARGIN, MARGIN + 4, words, 6.5, bold=True, room=width - 2 * MARGIN)
    pen.line(MARGIN, MARGIN + 8, width - MARGIN, MARGIN + 8, width=0.5)
    return MARGIN + 13


def _draw_names(pen: Pen, design: CardDesign, factor: float) -> None:
    pen.outline(Box(0, 0, *design.size_mm).scaled(factor), rgb=FAINT, width=0.3)
    pen.fill([tag.box.scaled(factor) for tag in design.tags], PALE)
    names = [patch.name for patch in design.patches] + [window.name for window in design.windows]
    for name, box in zip(names, _boxes(design)[len(design.tags) :], strict=True):
        _draw_name(pen, box.scaled(factor), name)
    x, y, radius = (value * factor for value in paper_spot(design))
    pen.circle(x, y, radius)
    pen.text(x, y + 0.2 * radius, "paper", radius, bold=True, align=0.5, room=1.75 * radius)


def _draw_name(pen: Pen, box: Box, name: str) -> None:
    x, y = box.centre
    size = min(0.5 * box.h, 6.0)
    pen.outline(box)
    pen.text(x, y + 0.36 * size, name, size, bold=True, align=0.5, room=0.86 * box.w)


def _reading_words(design: CardDesign) -> list[str]:
    rows = [list(row) for _, row in groupby(design.patches, lambda patch: patch.name.rstrip("0123456789"))]
    runs = [row[0].name if len(row) == 1 else f"{row[0].name} to {row[-1].name}" for row in rows]
    return [
        f"<b>Read in this order:</b> {escape(', '.join(runs))}, then <b>paper</b>, the bare stock inside the circle: "
        f"{len(design.patches) + 1} readings. The pale squares are the tags, nothing to read there.",
        "<b>Lay the card</b> flat on several sheets of white paper, once it has dried for a day. Keep the "
        "aperture inside the patch.",
        "<b>Hand over</b> a CSV or CGATS.17 text file with these names, as spectra or as L*, a*, b*. D65 and "
        "10 degrees are best; spectra are better still. These belong to the readings:",
    ]


def _sketch_side(pen: Pen) -> None:
    """Seen from the side, 95 x 50 mm: light from a window, phone square above."""
    pen.outline(Box(0, 4, 3, 30), width=0.4)
    pen.text(6, 6.5, "even light from one side", 3)
    for start in (9, 15, 21):
        x, y = 25.0, start + 15.0
        pen.line(6, start, x, y, rgb=FAINT, width=0.5)
        pen.line(x, y, x - 3.2, y - 0.8, rgb=FAINT, width=0.5)
        pen.line(x, y, x - 1.6, y - 2.9, rgb=FAINT, width=0.5)
    for x in (30, 86):
        pen.line(58, 11.5, x, 43.5, rgb=FAINT, width=0.3, dashed=True)
    pen.fill([Box(49, 9, 18, 2)], (60, 60, 60))
    pen.text(70, 11, "phone, square above", 3)
    pen.fill([Box(26, 44.6, 64, 1.4)], PALE)
    pen.fill([Box(32, 43.8, 10, 0.8), Box(50, 43.8, 16, 0.8), Box(74, 43.8, 10, 0.8)], (60, 60, 60))
    pen.line(5, 46.2, 100, 46.2, width=0.4)
    pen.text(58, 50.5, "card flat on the cloth", 3, align=0.5)


def _sketch_above(pen: Pen, design: CardDesign) -> None:
    """What the phone should see, 70 x 50 mm: the whole card, an ink in each window."""
    frame, width, height = Box(9, 3, 58, 43.2), *design.size_mm
    factor = min(0.88 * frame.w / width, 0.88 * frame.h / height)
    x, y = frame.centre
    card = pen.moved(x - width * factor / 2, y - height * factor / 2)
    pen.fill([frame], PALE)
    card.fill([Box(0, 0, width, height).scaled(factor)], (255, 255, 255))
    card.fill([tag.box.scaled(factor) for tag in design.tags], (0, 0, 0))
    for patch in design.patches:
        card.fill([patch.box.scaled(factor)], patch.srgb)
    for i, window in enumerate(design.windows):
        card.fill([window.box.scaled(factor)], INKS[i % 2])
    pen.text(x, 50.5, "the whole card in the picture", 3, align=0.5)
