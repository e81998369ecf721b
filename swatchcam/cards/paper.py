"""Millimetres on paper: its sizes, how cards share a sheet, and the pen that draws.

x runs right and y down, from the top-left corner of the sheet, or of a card on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from .design import Box

SIZES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # mm; ISO 216; ANSI/ASME Y14.1, 8.5 x 11 in
CARD = "card"  # paper of the card's own size
PRINTER_RIM = 5.0  # mm along the paper's edge that an office printer leaves blank
MM = 72 / 25.4  # PDF points in a millimetre

RGB = tuple[int, int, int]
BLACK = (0, 0, 0)
FAINT = (150, 150, 150)
PALE = (215, 215, 215)


@dataclass(frozen=True)
class Layout:
    """Where cards and cuts lie, mm; an origin lies off the paper where a card's rim is trimmed."""

    width: float
    height: float
    origins: tuple[tuple[float, float], ...]
    cuts_x: tuple[float, ...]
    cuts_y: tuple[float, ...]


def lay_out(size: tuple[float, float], spare: tuple[float, float], paper: str) -> Layout:
    """As many cards as the paper holds, upright or lying; no origins if it holds none.

    Parameters
    ----------
    size : mm, of a card
    spare : mm, the rim that a card may lose on the left and right each, and above and below each
    paper : a key of SIZES, or CARD
    """
    if paper == CARD:
        return Layout(*size, ((0.0, 0.0),), (), ())
    width, height = SIZES[paper]
    upright, lying = (_fill(sides, size, spare) for sides in ((width, height), (height, width)))
    return lying if len(lying.origins) > len(upright.origins) else upright


def _fill(sides: tuple[float, float], size: tuple[float, float], spare: tuple[float, float]) -> Layout:
    (xs, cuts_x), (ys, cuts_y) = (_split(*along) for along in zip(sides, size, spare, strict=True))
    return Layout(*sides, tuple((x, y) for y in ys for x in xs), cuts_x, cuts_y)


def _split(length: float, card: float, spare: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Cards along one side of the paper -> their origins, and the cuts between and beside them, mm."""
    count = int((length + 1e-9) // (card - 2 * spare))
    if count == 0:
        return (), ()
    pitch = min(card, length / count)
    start = (length - count * pitch) / 2
    origins = tuple(start + i * pitch + (pitch - card) / 2 for i in range(count))
    cuts = [start + i * pitch for i in range(count + 1)]
    # Nearer to the edge no line can be printed, and none is needed: there the paper's edge is the card's.
    return origins, tuple(cut for cut in cuts if PRINTER_RIM + 1 <= cut <= length - PRINTER_RIM - 1)


@dataclass(frozen=True)
class Pen:
    """Draws on a reportlab canvas in millimetres, y down, from a corner (left, top) of the page."""

    canvas: Any
    page_height: float
    left: float = 0.0
    top: float = 0.0

    def moved(self, dx: float, dy: float) -> Pen:
        """The same pen with its corner moved."""
        return replace(self, left=self.left + dx, top=self.top + dy)

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Millimetres from the pen's corner -> PDF points from the page's lower left."""
        return (self.left + x) * MM, (self.page_height - self.top - y) * MM

    def fill(self, boxes: Iterable[Box], rgb: RGB) -> None:
        """Fill boxes in one stroke; touching boxes drawn one by one would show hairlines between them."""
        path = self.canvas.beginPath()
        for box in boxes:
            path.rect(*self.point(box.x, box.y + box.h), box.w * MM, box.h * MM)
        self.canvas.setFillColorRGB(*(code / 255 for code in rgb))
        self.canvas.drawPath(path, stroke=0, fill=1)

    def line(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        *,
        rgb: RGB = BLACK,
        width: float = 0.15,
        dashed: bool = False,
    ) -> None:
        """A line `width` mm wide."""
        self._stroke(rgb, width, dashed)
        self.canvas.line(*self.point(x0, y0), *self.point(x1, y1))

    def outline(self, box: Box, *, rgb: RGB = BLACK, width: float = 0.15, dashed: bool = False) -> None:
        """The edge of a rectangle, the line wholly inside it."""
        self._stroke(rgb, width, dashed)
        left, low = self.point(box.x + width / 2, box.y + box.h - width / 2)
        self.canvas.rect(left, low, (box.w - width) * MM, (box.h - width) * MM)

    def circle(self, x: float, y: float, radius: float, *, rgb: RGB = BLACK, width: float = 0.25) -> None:
        """The edge of a circle around (x, y)."""
        self._stroke(rgb, width, False)
        self.canvas.circle(*self.point(x, y), radius * MM)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        *,
        bold: bool = False,
        align: float = 0.0,
        room: float = math.inf,
        rgb: RGB = BLACK,
    ) -> None:
        """Words on baseline y, set smaller if `room` mm demand it; x is their left (align 0) to right (1)."""
        from reportlab.pdfbase.pdfmetrics import stringWidth

        font = "Helvetica-Bold" if bold else "Helvetica"
        width = stringWidth(words, font, size)
        if width > room:
            size, width = size * room / width, room
        left, baseline = self.point(x - align * width, y)
        self.canvas.setFillColorRGB(*(code / 255 for code in rgb))
        self.canvas.setFont(font, size * MM)
        self.canvas.drawString(left, baseline, words)

    def paragraph(self, x: float, y: float, width: float, words: str, size: float) -> float:
        """Words broken into lines from y downwards; returns the y below them."""
        from reportlab.lib.styles import ParagraphStyle
        from reportlab.platypus import Paragraph

        paragraph = Paragraph(words, ParagraphStyle("", fontSize=size * MM, leading=1.35 * size * MM))
        height = paragraph.wrap(width * MM, 1e6)[1]
        left, upper = self.point(x, y)
        paragraph.drawOn(self.canvas, left, upper - height)
        return y + float(height) / MM

    def _stroke(self, rgb: RGB, width: float, dashed: bool) -> None:
        self.canvas.setStrokeColorRGB(*(code / 255 for code in rgb))
        self.canvas.setLineWidth(width * MM)
        self.canvas.setDash([1.6 * MM, 1.2 * MM] if dashed else [])
