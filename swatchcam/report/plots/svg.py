"""Drawings as SVG text: shapes, words, and a frame that turns values into places.

Everything a drawing needs is in it: no style sheet, no font file, no script. Users' words are escaped here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from ...text import tidy

INK, GREY, FAINT = "#1a1a1a", "#595959", "#c8c8c8"  # the first two read on white: contrast 17 and 7
SIZE = 12.0  # px of words
WIDE = 0.6  # of its size; about a letter's width in any sans-serif

Point = tuple[float, float]


@dataclass(frozen=True)
class Frame:
    """A rectangle of the drawing, px, y down, and the values along its lower and left edges."""

    left: float
    top: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, x: float, y: float) -> Point:
        """Where a pair of values lies, px."""
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return self.left + across * self.width, self.top + (1 - up) * self.height


def drawing(width: float, height: float, title: str, description: str, parts: Iterable[str]) -> str:
    """The whole drawing; the title is its name for those who do not see it."""
    name, more = tidy(title), tidy(description)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}"'
        f' height="{height:g}" role="img" aria-label={quoteattr(name)} font-family="sans-serif" font-size="{SIZE:g}">'
        f"<title>{escape(name)}</title><desc>{escape(more)}</desc>{''.join(parts)}</svg>"
    )


def path(points: Iterable[Point], *, closed: bool = False, style: str = "") -> str:
    """A line through points, px; `style` are further attributes."""
    steps = " ".join(f"{'L' if i else 'M'}{x:.2f},{y:.2f}" for i, (x, y) in enumerate(points))
    return f'<path d="{steps}{" Z" if closed else ""}" {style or line_style()}/>'


def line_style(colour: str = INK, width: float = 1.0, dash: str = "", fill: str = "none") -> str:
    """Attributes of a stroke."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'fill="{fill}" stroke="{colour}" stroke-width="{width:g}"{dashes}'


def circle(at: Point, radius: float, style: str) -> str:
    """A circle around a place, px."""
    return f'<circle cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{radius:g}" {style}/>'


def box(left: float, top: float, width: float, height: float) -> list[Point]:
    """The corners of a rectangle."""
    return [(left, top), (left + width, top), (left + width, top + height), (left, top + height)]


def arrow(start: Point, end: Point, rim: float = 5.0) -> str:
    """A line with a head that stops at the rim of the mark at its end, px; nothing where the two nearly touch."""
    length = math.dist(start, end)
    if length < 3 * rim:
        return ""
    (x, y), (to_x, to_y) = start, end
    along = (to_x - x) / length, (to_y - y) / length
    tip = to_x - rim * along[0], to_y - rim * along[1]
    back = tip[0] - 8 * along[0], tip[1] - 8 * along[1]
    wings: list[Point] = [(back[0] - 4 * along[1], back[1] + 4 * along[0]), tip]
    wings.append((back[0] + 4 * along[1], back[1] - 4 * along[0]))
    return path([start, tip], style=line_style(GREY, 1.2)) + path(wings, style=line_style(GREY, 1.2))


def placed(left: float, top: float, drawn: str) -> str:
    """A whole drawing as a part of another one, its corner there."""
    return f'<g transform="translate({left:.2f} {top:.2f})">{drawn}</g>'


def words(at: Point, text: str, *, anchor: str = "start", colour: str = INK, bold: bool = False, turn: int = 0) -> str:
    """Words whose baseline begins (anchor start), has its middle or its end at a place, px."""
    x, y = at
    weight = ' font-weight="bold"' if bold else ""
    turned = f' transform="rotate({turn} {x:.2f} {y:.2f})"' if turn else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" text-anchor="{anchor}" fill="{colour}"{weight}{turned}>'
        f"{escape(tidy(text))}</text>"
    )


def axes(frame: Frame, x_name: str, y_name: str, x_step: float | None = None) -> list[str]:
    """The frame with its ticks, grid and names; `x_step` where the ticks shall not be chosen."""
    corners = [(x, y) for x, y in zip((*frame.x, *frame.x[::-1]), (frame.y[0],) * 2 + (frame.y[1],) * 2, strict=True)]
    low, bottom = frame.top + frame.height, frame.top + frame.height + 1.4 * SIZE
    parts = []
    for value in ticks(*frame.x, step=x_step):
        x = frame.at(value, frame.y[0])[0]
        parts += [path([(x, frame.top), (x, low)], style=line_style(FAINT, 0.5))]
        parts += [words((x, bottom), shown(value), anchor="middle", colour=GREY)]
    for value in ticks(*frame.y):
        y = frame.at(frame.x[0], value)[1]
        parts += [path([(frame.left, y), (frame.left + frame.width, y)], style=line_style(FAINT, 0.5))]
        parts += [words((frame.left - 5, y + 0.35 * SIZE), shown(value), anchor="end", colour=GREY)]
    parts += [path([frame.at(*corner) for corner in corners], closed=True, style=line_style(GREY))]
    parts += [words((frame.left + frame.width / 2, low + 2.8 * SIZE), x_name, anchor="middle")] if x_name else []
    beside = frame.left - 3.6 * SIZE, frame.top + frame.height / 2
    return [*parts, words(beside, y_name, anchor="middle", turn=-90)]


def rule(frame: Frame, name: str) -> list[str]:
    """An axis along the lower edge alone."""
    low = frame.top + frame.height
    parts = [path([(frame.left, low), (frame.left + frame.width, low)], style=line_style(GREY))]
    for value in ticks(*frame.x):
        x = frame.at(value, 0)[0]
        parts += [path([(x, low), (x, low + 4)], style=line_style(GREY))]
        parts += [words((x, low + 1.5 * SIZE), shown(value), anchor="middle", colour=GREY)]
    return [*parts, words((frame.left + frame.width / 2, low + 2.8 * SIZE), name, anchor="middle")]


def legend(left: float, y: float, entries: Iterable[tuple[Callable[[Point], str], str]]) -> list[str]:
    """Marks, each with its words, one beside the other."""
    parts, x = [], left + 12
    for mark, name in entries:
        parts += [mark((x, y - 4)), words((x + 17, y), name, colour=GREY)]
        x += 17 + WIDE * SIZE * (len(name) + 2)
    return parts


def ticks(low: float, high: float, most: int = 7, step: float | None = None) -> list[float]:
    """Round values from low to high, at most about so many."""
    rough = (high - low) / most
    power = 10 ** math.floor(math.log10(rough))
    step = step or next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough)
    return [step * i for i in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)]


def shown(value: float) -> str:
    """A number on an axis, with a true minus sign."""
    return f"{round(value, 6) + 0.0:g}".replace("-", "−")


class Labels:
    """Words beside marks, where there is room; where there is none they are left out."""

    def __init__(self, taken: Iterable[Point], gap: float = 7.0) -> None:
        self.gap = gap  # px, from a place to its words
        self.boxes = [(x - 4, y - 4, x + 4, y + 4) for x, y in taken]

    def beside(self, at: Point, text: str) -> str:
        """The words, or nothing."""
        wide, gap = WIDE * SIZE * len(text), self.gap
        for x, y in ((gap, 4), (-gap - wide, 4), (-wide / 2, -gap), (-wide / 2, gap + 0.75 * SIZE)):
            left, base = at[0] + x, at[1] + y
            box = (left, base - 0.75 * SIZE, left + wide, base)
            if not any(_overlap(box, other) for other in self.boxes):
                self.boxes.append(box)
                return words((left, base), text)
        return ""


def _overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
