"""Dossiers -> a PDF of shade cards for the wall, to cut apart: colour, numbers, and a place for the real strip."""

from __future__ import annotations

import io
from collections.abc import Sequence
from unicodedata import combining, normalize

from ..cards.design import Box
from ..cards.paper import FAINT, MM, PRINTER_RIM, SIZES, Layout, Pen, lay_out
from ..colorimetry.cielab import Lab
from ..errors import UsageError
from ..library.labels import NOT_ABSOLUTE, lab_words, recipe_words
from ..text import tidy
from .plots.colour_plots import OUT_OF_GAMUT, screen_colour
from .shade_summary import Dossier

SIZE = 98.0, 90.0  # mm, of one card
EDGE = 5.0  # mm of white inside the cut
CHIP = Box(EDGE, EDGE, 60.0, 40.0)
STRIP = Box(SIZE[0] - EDGE - 20.0, EDGE, 20.0, 20.0)  # where the real strip is glued on
CUT_OFF = 10.0  # mm of the chip's corner, of a colour that sRGB cannot hold
NAME, WORDS, REMARK = 5.0, 2.7, 2.2  # mm, of letters
SMALLEST = 1.7  # mm; smaller cannot be read on a wall
NAME_LINES = 2
FACT_LINES = (1, 1, 2, 2, 1)  # at most, of each of `facts`; with the name they just fit
LEADING = 1.3  # of the letters' size
UNITS = ("°C", "°F", "h", "min", "s")  # of how hot and how long
ROOM = SIZE[0] - 2 * EDGE  # mm, of a line


def wall_cards(found: Sequence[Dossier], paper: str = "a4", title: str = "Shade cards") -> bytes:
    """A PDF of a card for each dossier, several on a sheet with lines to cut along.

    Long words wrap and shrink, and at the smallest letters end in an ellipsis. The same bytes for the same input.

    Parameters
    ----------
    paper : a key of paper.SIZES

    Raises
    ------
    UsageError
        There is no such paper, or no shade to print.
    """
    from reportlab.pdfgen.canvas import Canvas

    if paper not in SIZES:
        raise UsageError("paper-unknown", "choose-a-paper", paper=paper, papers=list(SIZES))
    if not found:
        raise UsageError("shade-to-print-missing", "add-a-shade")
    sheet = lay_out(SIZE, (0.0, 0.0), paper)
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(sheet.width * MM, sheet.height * MM), invariant=1, lang="en")
    canvas.setTitle(tidy(title))
    canvas.setCreator("swatchcam")
    canvas.setViewerPreference("PrintScaling", "None")
    for first in range(0, len(found), len(sheet.origins)):
        _draw_sheet(Pen(canvas, sheet.height), sheet, found[first : first + len(sheet.origins)])
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def _draw_sheet(pen: Pen, sheet: Layout, found: Sequence[Dossier]) -> None:
    for x in sheet.cuts_x:
        pen.line(x, PRINTER_RIM, x, sheet.height - PRINTER_RIM, rgb=FAINT, width=0.2, dashed=True)
    for y in sheet.cuts_y:
        pen.line(PRINTER_RIM, y, sheet.width - PRINTER_RIM, y, rgb=FAINT, width=0.2, dashed=True)
    for (x, y), one in zip(sheet.origins, found, strict=False):
        _draw_card(pen.moved(x, y), one)


def _draw_card(pen: Pen, found: Dossier) -> None:
    _draw_chip(pen, found)
    pen.outline(STRIP, rgb=FAINT, width=0.2)
    pen.text(STRIP.centre[0], STRIP.centre[1] - 0.7, "glue the strip here,", 2.0, align=0.5)
    pen.text(STRIP.centre[0], STRIP.centre[1] + 2.1, f"{STRIP.w:g} mm", 2.0, align=0.5)
    below = STRIP.y + STRIP.h
    for line in _parted(strip_state(found)):
        below += LEADING * WORDS
        pen.text(STRIP.x + STRIP.w, below, line, WORDS, align=1, room=STRIP.x + STRIP.w - CHIP.x - CHIP.w - 2)
    y = _draw_words(pen, CHIP.y + CHIP.h + 0.8, found.shade.name, NAME, NAME_LINES, bold=True)
    for fact, most in zip(facts(found), FACT_LINES, strict=False):
        y = _draw_words(pen, y, fact, WORDS, most)


def facts(found: Dossier) -> list[str]:
    """What a card says below the name: the finished colour, the target, the batch, its recipe, cloth and mesh."""
    latest, target = found.finished, found.shade.target
    aim = f"Target {lab_words(target)}, tolerance {found.tolerance:g}" if target else "No target"
    if latest is None:
        return ["No record yet", aim]
    record = latest.record
    batch = next(chapter.batch for chapter in found.chapters if chapter.batch.name == record.batch)
    doubt = "" if record.colour.absolute else f", {NOT_ABSOLUTE}"
    ground = ", ".join(part for part in (record.cloth, record.mesh) if part)
    return [
        f"{_first(record.state.short)} {lab_words(record.colour.lab)}, ± {record.colour.radius:.1f}{doubt}",
        aim,
        f"batch {record.batch}, {record.state}, {record.measured}",
        recipe_words(batch.recipe),
        ground or "cloth and mesh not noted",
    ]


def shown_colour(found: Dossier) -> tuple[Lab, tuple[str, int], str] | None:
    """The colour of the big chip, its light, and what it is: the target or, without one, the finished colour."""
    if found.shade.target is not None:
        return found.shade.target, found.light, "target"
    if found.finished is None:
        return None
    colour = found.finished.record.colour
    return colour.lab, (colour.illuminant, colour.observer), "last strip"


def strip_state(found: Dossier) -> str:
    """What has been done to the strip that belongs on the card: what the target is for, else what is shown."""
    if found.shade.target is not None:
        return str(found.shade.target_state or "")
    return str(found.finished.record.state) if found.finished else ""


def _draw_chip(pen: Pen, found: Dossier) -> None:
    shown = shown_colour(found)
    if shown is None:
        pen.outline(CHIP, rgb=FAINT, dashed=True)
        pen.text(*CHIP.centre, "no colour yet", WORDS, align=0.5)
        return
    lab, light, what = shown
    code, inside = screen_colour(lab, *light)
    _fill_chip(pen, code, 0.0 if inside else CUT_OFF)
    x, base = STRIP.x + STRIP.w, CHIP.y + CHIP.h
    pen.text(x, base - 3.4, f"chip: {what}", REMARK, align=1)
    if not inside:
        pen.text(x, base, OUT_OF_GAMUT, REMARK, align=1, room=x - CHIP.x - CHIP.w - 2)


def _fill_chip(pen: Pen, code: str, cut: float) -> None:
    """The chip without `cut` mm of its upper right corner."""
    left, top, right, low = CHIP.x, CHIP.y, CHIP.x + CHIP.w, CHIP.y + CHIP.h
    shape = pen.canvas.beginPath()
    shape.moveTo(*pen.point(left, top))
    for x, y in ((right - cut, top), (right, top + cut), (right, low), (left, low)):
        shape.lineTo(*pen.point(x, y))
    shape.close()
    pen.canvas.setFillColor(code)
    pen.canvas.drawPath(shape, stroke=0, fill=1)


def _draw_words(pen: Pen, y: float, words: str, size: float, most: int, bold: bool = False) -> float:
    """Words from y downwards in at most so many lines; returns the y below them."""
    lines, size = fitted(printable(words), size, most, bold)
    for line in lines:
        y += LEADING * size
        pen.text(EDGE, y, line, size, bold=bold)
    return y + 0.3


def fitted(words: str, size: float, most: int, bold: bool = False) -> tuple[list[str], float]:
    """Lines that fit, and the size of letters, mm, at which they do: smaller if need be, cut short at the smallest."""
    while len(lines := _broken(words, size, bold)) > most and size > SMALLEST:
        size = max(0.95 * size, SMALLEST)
    if len(lines) > most:
        lines = [*lines[: most - 1], lines[most - 1][:-2] + "…"]
    return lines, size


def _broken(words: str, size: float, bold: bool) -> list[str]:
    """Lines no wider than a card's; a word that is wider by itself is broken."""
    lines = [""]
    for word in words.split():
        joined = f"{lines[-1]} {word}".strip()
        if _width(joined, size, bold) <= ROOM:
            lines[-1] = joined
            continue
        lines += [""] if lines[-1] else []
        for letter in word:
            if _width(lines[-1] + letter, size, bold) > ROOM:
                lines.append("")
            lines[-1] += letter
    return lines


def _parted(state: str) -> list[str]:
    """A state on up to three lines: what was done, how hot and how long, with what."""
    done, *how = printable(state).split(", ")
    measured = [part for part in how if part.split()[-1] in UNITS]
    rest = [part for part in how if part not in measured]
    return list(filter(None, (done, ", ".join(measured), ", ".join(rest))))


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _width(words: str, size: float, bold: bool) -> float:
    """In mm; the fonts are those of `Pen.text`."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(stringWidth(words, "Helvetica-Bold" if bold else "Helvetica", size))


def printable(words: str) -> str:
    """Words in letters that every PDF viewer has: others lose their accents, or become a question mark."""
    return "".join(_printable(sign) for sign in tidy(words))


def _printable(sign: str) -> str:
    for attempt in (sign, "".join(part for part in normalize("NFKD", sign) if not combining(part))):
        if attempt.encode("cp1252", "ignore").decode("cp1252") == attempt:
            return attempt
    return "?"
