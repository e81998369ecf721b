"""How large the pictures in a stream of HEVC are, read from its sequence parameter sets.

The container states a size too, but the decoder believes the stream: a file that says 640 x 480 outside and
16,000 x 16,000 inside must be refused before any memory is taken. Source: ITU-T H.265 (ISO/IEC 23008-2), clause 7.3.
"""

from __future__ import annotations

from collections.abc import Iterator

SEQUENCE_PARAMETERS = 33  # H.265, table 7-1


def stream_sizes(configuration: bytes, coded: bytes) -> set[tuple[int, int]]:
    """Every size (width, height) that the decoder's configuration (`hvcC`) or the coded picture itself announces.

    Raises
    ------
    ValueError, IndexError
        The units of the stream do not fit into each other.
    """
    units = [*_configured(configuration), *_in_stream(coded, (configuration[21] & 3) + 1)]
    return {_size(unit) for unit in units if unit and (unit[0] >> 1) & 63 == SEQUENCE_PARAMETERS}


def _configured(configuration: bytes) -> Iterator[bytes]:
    """The units in an `hvcC` property (ISO/IEC 14496-15, 8.3.3)."""
    at = 23
    for _ in range(configuration[22]):
        count, at = int.from_bytes(configuration[at + 1 : at + 3], "big"), at + 3
        for _ in range(count):
            size = int.from_bytes(configuration[at : at + 2], "big")
            if at + 2 + size > len(configuration):
                raise ValueError("a parameter set is cut short")
            yield configuration[at + 2 : at + 2 + size]
            at += 2 + size


def _in_stream(coded: bytes, length_size: int) -> Iterator[bytes]:
    """The units of a coded picture, each with its length in front; the first 100 bytes of them."""
    at = 0
    while at < len(coded):
        size = int.from_bytes(coded[at : at + length_size], "big")
        at += length_size
        if not size or at + size > len(coded):
            raise ValueError("a unit of the stream is cut short")
        yield coded[at : at + min(size, 100)]
        at += size


def _size(unit: bytes) -> tuple[int, int]:
    """Width and height in a sequence parameter set (7.3.2.2)."""
    bits = _Bits(unit[2:].replace(b"\0\0\3", b"\0\0"))
    layers = (bits.take(8) >> 1) & 7
    bits.take(96)  # profile, tier and level
    if layers:
        present = bits.take(16)
        for layer in range(layers):
            two = present >> (14 - 2 * layer)
            bits.take(88 * (two >> 1 & 1) + 8 * (two & 1))
    bits.golomb()
    if bits.golomb() == 3:
        bits.take(1)
    return bits.golomb(), bits.golomb()


class _Bits:
    """Bits read one after the other."""

    def __init__(self, data: bytes) -> None:
        self.value, self.left = int.from_bytes(data, "big"), 8 * len(data)

    def take(self, count: int) -> int:
        """The next bits as a number."""
        self.left -= count
        if self.left < 0:
            raise ValueError("a parameter set ends too early")
        return (self.value >> self.left) & ((1 << count) - 1)

    def golomb(self) -> int:
        """A number in the code of Exp-Golomb (9.2)."""
        zeros = 0
        while not self.take(1):
            zeros += 1
        return (1 << zeros) - 1 + self.take(zeros)
