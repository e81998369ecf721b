"""The boxes of an image file in the ISO base media format: its items, what they are, where their bytes lie.

Read here because pillow-heif is too late: a file of 1 MB whose items share their bytes takes 3.2 GB when it opens it,
and a picture of 30,000 x 30,000 that is cropped to 640 x 480, 2.9 GB when it decodes it (measured, version 1.8.1).
Source: ISO/IEC 14496-12 (boxes, `meta`), ISO/IEC 23008-12 (HEIF: items, properties, the primary item).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

from .header import cut_short, damaged

FULL_BOX = 4  # bytes of version and flags before the content of some boxes


@dataclass(frozen=True)
class BoxItem:
    """A picture or a piece of metadata: its kind, properties in order of use, and (start, end) of its bytes."""

    kind: bytes
    properties: tuple[tuple[bytes, bytes], ...]
    extents: tuple[tuple[int, int], ...]

    def property(self, name: bytes) -> bytes | None:
        """The first property of that name."""
        return next((content for found, content in self.properties if found == name), None)


@dataclass(frozen=True)
class Container:
    """The items of a file by number; `references` are (kind, from, to)."""

    primary: int
    items: dict[int, BoxItem]
    references: tuple[tuple[bytes, int, tuple[int, ...]], ...]

    def to(self, kind: bytes, number: int) -> tuple[int, ...]:
        """The items that an item refers to in that way, such as a grid to its tiles."""
        return next((to for name, start, to in self.references if (name, start) == (kind, number)), ())

    def referring(self, kind: bytes, number: int) -> tuple[int, ...]:
        """The items that refer to an item in that way, such as metadata to its picture."""
        return tuple(start for name, start, to in self.references if name == kind and number in to)


def read_container(data: bytes) -> Container | None:
    """The bytes of a file -> its items; None if it has no still pictures.

    Raises
    ------
    FileError
        The file is cut short, or its boxes contradict each other.
    """
    try:
        top = dict(_boxes(data, 0, len(data)))
        if b"meta" not in top:
            return None
        meta = dict(_boxes(data, top[b"meta"][0] + FULL_BOX, top[b"meta"][1]))
        return _container(data, top, meta)
    except (struct.error, ValueError, KeyError, IndexError) as error:
        raise damaged() from error


def content(data: bytes, item: BoxItem) -> bytes:
    """The bytes of an item."""
    return b"".join(data[start:end] for start, end in item.extents)


def _container(data: bytes, top: dict[bytes, tuple[int, int]], meta: dict[bytes, tuple[int, int]]) -> Container:
    parts = {name: _Cursor(data, *place) for name, place in meta.items()}
    kinds, extents = _kinds(parts[b"iinf"]), _extents(parts[b"iloc"], *meta.get(b"idat", (0, 0)), len(data))
    properties = _properties(data, meta[b"iprp"])
    items = {
        number: BoxItem(kind, properties.get(number, ()), extents.get(number, ())) for number, kind in kinds.items()
    }
    primary = parts[b"pitm"]
    number = primary.number(2 if primary.version() == 0 else 4)
    references = tuple(_references(data, meta[b"iref"])) if b"iref" in meta else ()
    claimed = sum(end - start for item in items.values() for start, end in item.extents)
    if number not in items or claimed > 2 * len(data):  # items that share their bytes over and over are a trap
        raise damaged()
    return Container(number, items, references)


class _Cursor:
    """Big-endian numbers read one after the other, up to an end."""

    def __init__(self, data: bytes, start: int, end: int) -> None:
        self.data, self.at, self.end = data, start, end

    def take(self, size: int) -> bytes:
        start, self.at = self.at, self.at + size
        if self.at > self.end:
            raise ValueError("a box ends too early")
        return self.data[start : self.at]

    def number(self, size: int) -> int:
        return int.from_bytes(self.take(size), "big")

    def version(self) -> int:
        """The version of a full box; its flags are left out."""
        return self.number(FULL_BOX) >> 24


def _boxes(data: bytes, start: int, end: int) -> Iterator[tuple[bytes, tuple[int, int]]]:
    """Name, and start and end of the content, of the boxes in a row; the later of two of one name comes last."""
    while start + 8 <= end:
        size, name = struct.unpack_from(">I4s", data, start)
        head = 8
        if size == 1:
            size, head = struct.unpack_from(">Q", data, start + 8)[0], 16
        if size == 0:  # up to the end
            size = end - start
        if size < head:
            raise damaged()
        if start + size > end:
            raise cut_short() if end == len(data) else damaged()
        yield name, (start + head, start + size)
        start += size


def _kinds(iinf: _Cursor) -> dict[int, bytes]:
    """Item number -> its kind (23008-12 and 14496-12, 8.11.6)."""
    iinf.take(2 if iinf.version() == 0 else 4)
    kinds = {}
    for name, place in _boxes(iinf.data, iinf.at, iinf.end):
        entry = _Cursor(iinf.data, *place)
        version = entry.version()
        if name == b"infe" and version in (2, 3):
            number = entry.number(2 if version == 2 else 4)
            entry.take(2)
            kinds[number] = entry.take(4)
    return kinds


def _extents(iloc: _Cursor, idat: int, idat_end: int, size: int) -> dict[int, tuple[tuple[int, int], ...]]:
    """Item number -> start and end of its pieces in the file (14496-12, 8.11.3)."""
    version = iloc.version()
    sizes, more = iloc.number(1), iloc.number(1)
    offset_size, length_size, base_size, index_size = sizes >> 4, sizes & 15, more >> 4, more & 15
    if offset_size not in (4, 8) or length_size not in (4, 8):
        raise damaged()
    found = {}
    for _ in range(iloc.number(2 if version < 2 else 4)):
        number = iloc.number(2 if version < 2 else 4)
        inside = version > 0 and iloc.number(2) & 15
        iloc.take(2)
        start = iloc.number(base_size) + (idat if inside else 0)
        pieces = []
        for _ in range(iloc.number(2)):
            iloc.take(index_size if version > 0 else 0)
            first = start + iloc.number(offset_size)
            pieces.append((first, first + iloc.number(length_size)))
        if any(end > (idat_end if inside else size) for _, end in pieces):
            raise damaged() if inside else cut_short()
        found[number] = tuple(pieces)
    return found


def _properties(data: bytes, iprp: tuple[int, int]) -> dict[int, tuple[tuple[bytes, bytes], ...]]:
    """Item number -> its properties (14496-12, 8.11.14)."""
    boxes = list(_boxes(data, *iprp))
    every = [(name, data[slice(*place)]) for name, place in _boxes(data, *dict(boxes)[b"ipco"])]
    found = {}
    for ipma in (_Cursor(data, *place) for name, place in boxes if name == b"ipma"):
        version_flags = ipma.number(FULL_BOX)
        wide = version_flags & 1
        for _ in range(ipma.number(4)):
            number = ipma.number(4 if version_flags >> 24 else 2)
            used = [ipma.number(2) & 0x7FFF if wide else ipma.number(1) & 0x7F for _ in range(ipma.number(1))]
            found[number] = tuple(every[index - 1] for index in used if index)
    return found


def _references(data: bytes, iref: tuple[int, int]) -> Iterator[tuple[bytes, int, tuple[int, ...]]]:
    """Kind, from, to (14496-12, 8.11.12)."""
    wide = 4 if _Cursor(data, *iref).version() else 2
    for name, place in _boxes(data, iref[0] + FULL_BOX, iref[1]):
        box = _Cursor(data, *place)
        start = box.number(wide)
        yield name, start, tuple(box.number(wide) for _ in range(box.number(2)))
