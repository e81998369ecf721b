"""Card designs: what is printed where.

A design (`calibration/<design>.toml`) is geometry: it says where tags, patches and windows lie. What the
patches of one printed card measure is another matter, and another file (`values`).
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

from ..errors import CardError
from ..resources import calibration_folder, user_folder

FORMAT = 1
ROLES = ("colour", "grey")
A5_WIDTH = 210.0  # mm, ISO 216; lengths on a card are told for one of this width
HAIR = 1e-6  # mm; items of a resized card may touch within rounding
SIDES = 20.0, 2000.0  # mm; of a card that can be printed and photographed
FAMILIES = {"36h11": 587}  # tag numbers in a family that can be printed and found (Olson 2011)
LEAST = {"tags": 4, "patches": 1, "windows": 1}  # a pose is solved from four tags
ROW_KINDS = ("row", "strip")  # what a pigment row's files say they are; "strip" is the older word


@dataclass(frozen=True)
class Box:
    """A rectangle on the card in millimetres, (x, y) its top-left corner; x right, y down."""

    x: float
    y: float
    w: float
    h: float

    @property
    def centre(self) -> tuple[float, float]:
        """The middle of the box, mm."""
        return self.x + self.w / 2, self.y + self.h / 2

    def scaled(self, factor: float) -> Box:
        """The box on a card printed `factor` times larger."""
        return Box(self.x * factor, self.y * factor, self.w * factor, self.h * factor)


@dataclass(frozen=True)
class Tag:
    """One square fiducial; `box` is the outer edge of its black border."""

    id: int
    box: Box


@dataclass(frozen=True)
class Patch:
    """One printed colour; `srgb` (0..255) is what goes to the printer, not what the print measures."""

    name: str
    box: Box
    srgb: tuple[int, int, int]
    role: str


@dataclass(frozen=True)
class Window:
    """One cut-out through which the cloth shows."""

    name: str
    box: Box


@dataclass(frozen=True)
class CardDesign:
    """Geometry of a card, millimetres from its top-left corner."""

    name: str
    title: str
    size_mm: tuple[float, float]
    tag_family: str
    tags: tuple[Tag, ...]
    patches: tuple[Patch, ...]
    windows: tuple[Window, ...]
    scale_bar: Box
    label: Box

    @property
    def greys(self) -> tuple[Patch, ...]:
        """The grey patches, in card order."""
        return tuple(patch for patch in self.patches if patch.role == "grey")

    def resized(self, name: str, factor: float, first_tag: int) -> CardDesign:
        """The same card printed `factor` times larger, with tags numbered from `first_tag`."""
        return CardDesign(
            name,
            f"{self.title}, {name} size",
            (self.size_mm[0] * factor, self.size_mm[1] * factor),
            self.tag_family,
            tuple(Tag(first_tag + i, tag.box.scaled(factor)) for i, tag in enumerate(self.tags)),
            tuple(replace(patch, box=patch.box.scaled(factor)) for patch in self.patches),
            tuple(replace(window, box=window.box.scaled(factor)) for window in self.windows),
            # The scale bar stays a whole number of millimetres, or it could not check the print's size.
            Box(self.scale_bar.x * factor, self.scale_bar.y * factor, round(self.scale_bar.w * factor, -1), 0),
            self.label.scaled(factor),
        )


@cache
def designs() -> dict[str, CardDesign]:
    """Every design known here by name, all sizes of each; the user's own come last.

    Raises
    ------
    CardError
        A design file cannot be read, or two designs share a name or a tag number.
    """
    found: dict[str, CardDesign] = {}
    owners: dict[tuple[str, int], str] = {}
    for folder in (calibration_folder(), user_folder()):
        for path in sorted(folder.glob("*.toml")):
            for design in [] if is_row(path) else read_design(path):
                if design.name in found:
                    raise CardError(
                        f"Two card designs are called '{design.name}'.",
                        f"Rename the one in {path} and try again.",
                    )
                for tag in design.tags:
                    other = owners.setdefault((design.tag_family, tag.id), design.name)
                    if other != design.name:
                        raise CardError(
                            f"Card designs '{other}' and '{design.name}' both use tag number {tag.id}.",
                            f"Give the design in {path} tag numbers of its own.",
                        )
                found[design.name] = design
    return found


def is_row(path: Path) -> bool:
    """Whether a TOML file describes a row of strips, not a card."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8")).get("kind") in ROW_KINDS
    except (OSError, ValueError, RecursionError):
        return False  # reading it as a card will tell what is wrong


def read_design(path: Path) -> list[CardDesign]:
    """One design file -> the design and its other sizes.

    Raises
    ------
    CardError
        The file is not TOML, lacks something, or describes a card that cannot be.
    """
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise CardError(f"Card design {path} cannot be read: {error}.", "Mend the file and try again.") from error
    try:
        sizes = _sizes(data)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        what = f"lacks {error}" if isinstance(error, KeyError) else f"holds a wrong value ({error})"
        raise CardError(f"Card design {path} {what}.", "Mend the file and try again.") from error
    for design in sizes:
        _check(design, path)
    return sizes


def _sizes(data: dict[str, Any]) -> list[CardDesign]:
    base = _design(data)
    others = [
        base.resized(str(entry["name"]), _number(entry["scale"]), _whole(entry["first_tag"]))
        for entry in data.get("size", [])
    ]
    return [base, *others]


def _design(data: dict[str, Any]) -> CardDesign:
    if data["format"] != FORMAT:
        raise ValueError(f"format {data['format']}, this version reads format {FORMAT}")
    width, height = (_number(side) for side in data["size_mm"])
    if data["tag_family"] not in FAMILIES:
        raise ValueError(f"tag family '{data['tag_family']}', known are: {', '.join(FAMILIES)}")
    bar = data["scale"]
    return CardDesign(
        name=str(data["name"]),
        title=str(data["title"]),
        size_mm=(width, height),
        tag_family=str(data["tag_family"]),
        tags=tuple(_tag(entry) for entry in data["tag"]),
        patches=tuple(_patch(entry) for entry in data["patch"]),
        windows=tuple(Window(str(entry["name"]), _box(entry)) for entry in data["window"]),
        scale_bar=Box(_number(bar["x"]), _number(bar["y"]), _number(bar["length"]), 0.0),
        label=_box(data["label"]),
    )


def _tag(entry: dict[str, Any]) -> Tag:
    side = _number(entry["size"])
    return Tag(_whole(entry["id"]), Box(_number(entry["x"]), _number(entry["y"]), side, side))


def _patch(entry: dict[str, Any]) -> Patch:
    red, green, blue = (_whole(code) for code in entry["srgb"])
    if entry["role"] not in ROLES or not all(0 <= code <= 255 for code in (red, green, blue)):
        raise ValueError(f"patch {entry['name']}")
    return Patch(str(entry["name"]), _box(entry), (red, green, blue), str(entry["role"]))


def _box(entry: dict[str, Any]) -> Box:
    return Box(*(_number(entry[key]) for key in ("x", "y", "w", "h")))


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise ValueError(f"'{value}' is not a number")
    return float(value)


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"'{value}' is not a whole number")
    return value


def _check(design: CardDesign, path: Path) -> None:
    for what, names in _faults(design):
        if names:
            raise CardError(f"Card design {path} {what}: {', '.join(names)}.", "Mend the file and try again.")


def _faults(design: CardDesign) -> Iterator[tuple[str, list[str]]]:
    """(what can be wrong with a design, names of the items for which it is)."""
    items: list[Patch | Window] = [*design.patches, *design.windows]
    names = [*(item.name for item in items), *(f"tag {tag.id}" for tag in design.tags)]
    boxes = [(f"tag {tag.id}", tag.box) for tag in design.tags]
    boxes += [(item.name, item.box) for item in items]
    yield "has a name that values files could not hold", [name for name in (design.name, *names) if not _usable(name)]
    yield "uses a name twice", sorted({name for name in names if names.count(name) > 1})
    yield "has too few of these", [f"{kind} (at least {n})" for kind, n in LEAST.items() if len(vars(design)[kind]) < n]
    unknown = [f"{tag.id}" for tag in design.tags if not 0 <= tag.id < FAMILIES[design.tag_family]]
    yield f"has tag numbers that are not in family {design.tag_family}", unknown
    bar = replace(design.scale_bar, h=HAIR)  # a line, yet something to be drawn
    written = [*boxes, ("the label", design.label), ("the scale bar", bar)]
    card = Box(0, 0, *design.size_mm)
    yield "has items outside the card", [name for name, box in written if not _inside(box, card)]
    yield "has items without area", [name for name, box in written if not (box.w > 0 and box.h > 0)]
    pairs = combinations(boxes, 2)
    yield "has items that overlap", [f"{one} and {two}" for (one, a), (two, b) in pairs if _overlap(a, b)]
    sides = [f"{side:g} mm" for side in design.size_mm if not SIDES[0] <= side <= SIDES[1]]
    yield "has a side that no card has", sides


def _inside(box: Box, card: Box) -> bool:
    return box.x >= 0 and box.y >= 0 and box.x + box.w <= card.w + HAIR and box.y + box.h <= card.h + HAIR


def _overlap(a: Box, b: Box) -> bool:
    across = a.x + HAIR < b.x + b.w and b.x + HAIR < a.x + a.w
    return across and a.y + HAIR < b.y + b.h and b.y + HAIR < a.y + a.h


def _usable(name: str) -> bool:
    return name.isprintable() and name == name.strip() and not name.startswith("#") and name not in ("", "paper")
