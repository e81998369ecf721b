"""Marks of plots, SVG: they differ in shape, so they can be told apart in a black-and-white print."""

from __future__ import annotations

from .colour_plots import (
    FILLED,
    OPEN,
    R,
)
from .svg import (
    GREY,
    INK,
    Point,
    arrow,
    box,
    circle,
    line_style,
    path,
)


def disc(at: Point) -> str:
    """A filled disc: the one that counts."""
    return circle(at, R - 0.5, FILLED)


def hollow_disc(at: Point) -> str:
    """A hollow disc: the others."""
    return circle(at, R - 0.5, OPEN)


def square(at: Point) -> str:
    """A hollow square: the pot as it is."""
    return path(box(at[0] - R, at[1] - R, 2 * R, 2 * R), closed=True, style=OPEN)


def saltire(at: Point) -> str:
    """A diagonal cross: what went wrong."""
    (x, y), style = at, line_style(INK, 2.2)
    return path([(x - R, y - R), (x + R, y + R)], style=style) + path([(x - R, y + R), (x + R, y - R)], style=style)


def dash(at: Point) -> str:
    """A stroke: a curve."""
    return path([(at[0] - 10, at[1]), (at[0] + 10, at[1])])


def whisker(at: Point) -> str:
    """An upright with a cap: how far at most."""
    x, y = at
    return path([(x, y + 8), (x, y - 6)], style=line_style(GREY, 1)) + cap((x, y - 6))


def way(at: Point) -> str:
    """An arrow: from one to the other."""
    return arrow((at[0] - 10, at[1]), (at[0] + 8 + R, at[1]))


def cap(at: Point) -> str:
    """The end of a whisker."""
    return path([(at[0] - R, at[1]), (at[0] + R, at[1])], style=line_style(GREY, 1.6))
