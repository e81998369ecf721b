"""Card designs: what is printed where.

A design (`calibration/<design>.toml`) is geometry: it says where tags, patches and windows lie. What the
patches of one printed card measure is another matter, and another file (`values`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

from ..errors import CardError
from ..messages.message import Message, finding
from ..resources import calibration_folder, user_folder
from .print_number import IDS, TAGS
from .toml_file import read_toml, reading_entries, real, whole

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
    number_boxes: tuple[Box, ...] = ()  # where the three tags of a print's number lie in the label; or none

    @property
    def greys(self) -> tuple[Patch, ...]:
        """The grey patches, in card order."""
        return tuple(patch for patch in self.patches if patch.role == "grey")

    @property
    def named(self) -> list[tuple[str, Box]]:
        """What has a name of its own, and where it lies: patches, then windows."""
        items: list[Patch | Window] = [*self.patches, *self.windows]
        return [(item.name, item.box) for item in items]

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
            tuple(box.scaled(factor) for box in self.number_boxes),
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
                    raise CardError("designs-of-one-name", "rename-the-design", name=design.name, path=path)
                _own_tags(design, owners, path)
                found[design.name] = design
    return found


def _own_tags(design: CardDesign, owners: dict[tuple[str, int], str], path: Path) -> None:
    for tag in design.tags:
        other = owners.setdefault((design.tag_family, tag.id), design.name)
        if other != design.name:
            names = [other, design.name]
            raise CardError("tag-number-taken", "number-its-own-tags", tag=tag.id, designs=names, path=path)


def is_row(path: Path) -> bool:
    """Whether a TOML file describes a row of strips, not a card."""
    try:
        return read_toml(path).get("kind") in ROW_KINDS
    except CardError:
        return False  # reading it as a card will tell what is wrong


def read_design(path: Path) -> list[CardDesign]:
    """One design file -> the design and its other sizes.

    Raises
    ------
    CardError
        The file is not TOML, lacks something, or describes a card that cannot be.
    """
    data = read_toml(path)
    try:
        with reading_entries():
            sizes = _sizes(data)
    except CardError as error:
        error.at("in-design", design=path)
        raise
    for design in sizes:
        _check(design, path)
    return sizes


def _sizes(data: dict[str, Any]) -> list[CardDesign]:
    base = _design(data)
    others = [
        base.resized(str(entry["name"]), real(entry["scale"]), whole(entry["first_tag"]))
        for entry in data.get("size", [])
    ]
    return [base, *others]


def _design(data: dict[str, Any]) -> CardDesign:
    if data["format"] != FORMAT:
        raise CardError("format-unknown", "correct-the-file", format=data["format"], known=FORMAT)
    width, height = (real(side) for side in data["size_mm"])
    if data["tag_family"] not in FAMILIES:
        raise CardError("tag-family-unknown", "correct-the-file", family=data["tag_family"], known=list(FAMILIES))
    bar = data["scale"]
    return CardDesign(
        name=str(data["name"]),
        title=str(data["title"]),
        size_mm=(width, height),
        tag_family=str(data["tag_family"]),
        tags=tuple(_tag(entry) for entry in data["tag"]),
        patches=tuple(_patch(entry) for entry in data["patch"]),
        windows=tuple(Window(str(entry["name"]), _box(entry)) for entry in data["window"]),
        scale_bar=Box(real(bar["x"]), real(bar["y"]), real(bar["length"]), 0.0),
        label=_box(data["label"]),
        number_boxes=tuple(_square(entry) for entry in data.get("number", [])),
    )


def _tag(entry: dict[str, Any]) -> Tag:
    return Tag(whole(entry["id"]), _square(entry))


def _square(entry: dict[str, Any]) -> Box:
    side = real(entry["size"])
    return Box(real(entry["x"]), real(entry["y"]), side, side)


def _patch(entry: dict[str, Any]) -> Patch:
    red, green, blue = (whole(code) for code in entry["srgb"])
    if entry["role"] not in ROLES:
        raise CardError(
            "patch-role-unknown", "correct-the-file", patch=entry["name"], role=entry["role"], known=list(ROLES)
        )
    if not all(0 <= code <= 255 for code in (red, green, blue)):
        raise CardError("patch-colour-impossible", "correct-the-file", patch=entry["name"])
    return Patch(str(entry["name"]), _box(entry), (red, green, blue), str(entry["role"]))


def _box(entry: dict[str, Any]) -> Box:
    return Box(*(real(entry[key]) for key in ("x", "y", "w", "h")))


def _check(design: CardDesign, path: Path) -> None:
    problems = list(_faults(design))
    if problems:
        raise CardError("design-faulty", "correct-these", path=path, problems=problems)


def _faults(design: CardDesign) -> Iterator[Message]:
    """What is wrong with a design, each with the names of all items for which it is."""
    names = [*(name for name, _ in design.named), *(f"tag {tag.id}" for tag in design.tags)]
    if unusable := [name for name in (design.name, *names) if not _usable(name)]:
        yield finding("names-unusable", names=unusable)
    if doubled := sorted({name for name in names if names.count(name) > 1}):
        yield finding("names-doubled", names=doubled)
    for kind, least in LEAST.items():
        if len(vars(design)[kind]) < least:
            yield finding("too-few-items", kind=kind, least=least)
    if unknown := [tag.id for tag in design.tags if not 0 <= tag.id < FAMILIES[design.tag_family]]:
        yield finding("tags-not-in-family", tags=unknown, family=design.tag_family)
    if sides := [side for side in design.size_mm if not SIDES[0] <= side <= SIDES[1]]:
        yield finding("sides-unusual", sides=sides, least=SIDES[0], most=SIDES[1])
    if len(design.number_boxes) not in (0, TAGS):
        yield finding("number-boxes-miscounted", count=len(design.number_boxes), wanted=TAGS)
    # A design of one's own from before prints had numbers may use these tags: it goes on working, without a number.
    if design.number_boxes and (shared := [tag.id for tag in design.tags if tag.id in IDS]):
        yield finding("tags-of-numbers", tags=shared, first=IDS[0], last=IDS[-1])
    yield from _faults_of_place(design)


def _faults_of_place(design: CardDesign) -> Iterator[Message]:
    number = [(f"number {place}", box) for place, box in enumerate(design.number_boxes, 1)]
    boxes = [(f"tag {tag.id}", tag.box) for tag in design.tags]
    boxes += [*design.named, *number]
    bar = replace(design.scale_bar, h=HAIR)  # a line, yet something to be drawn
    written = [*boxes, ("the label", design.label), ("the scale bar", bar)]
    card = Box(0, 0, *design.size_mm)
    if outside := [name for name, box in written if not _inside(box, card)]:
        yield finding("items-outside-card", names=outside)
    if flat := [name for name, box in written if not (box.w > 0 and box.h > 0)]:
        yield finding("items-without-area", names=flat)
    half = design.label.w / 2  # the left half stays for words
    right_half = replace(design.label, x=design.label.x + half, w=half)
    if astray := [name for name, box in number if not _inside(box, right_half)]:
        yield finding("number-outside-label", names=astray)
    if pairs := [(one, two) for (one, a), (two, b) in combinations(boxes, 2) if _overlap(a, b)]:
        yield finding("items-overlap", pairs=pairs)


def _inside(box: Box, outer: Box) -> bool:
    right, low = outer.x + outer.w + HAIR, outer.y + outer.h + HAIR
    return box.x >= outer.x and box.y >= outer.y and box.x + box.w <= right and box.y + box.h <= low


def _overlap(a: Box, b: Box) -> bool:
    across = a.x + HAIR < b.x + b.w and b.x + HAIR < a.x + a.w
    return across and a.y + HAIR < b.y + b.h and b.y + HAIR < a.y + a.h


def _usable(name: str) -> bool:
    return name.isprintable() and name == name.strip() and not name.startswith("#") and name not in ("", "paper")
