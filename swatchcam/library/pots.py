"""The strips that stand for a pot in the library, the cloth under them, and how unlike the studio's films are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import log
from typing import TYPE_CHECKING

from ..colorimetry.film_scatter import FilmScatter, film_scatter
from ..measurement.pot_verdict import PotStrip, films_of
from ..messages.message import Flag, flag
from ..text import key
from .records import Record, light_of

if TYPE_CHECKING:
    from .library import Library

MOST_STRIPS = 120  # with a mark, the last ones: more hardly change what a studio's films are; no source


def strip_of_record(record: Record) -> PotStrip:
    """A kept strip as one of its pot."""
    coat = (record.coat.g_m2, record.coat.std) if record.coat else None
    return PotStrip.of(record.colour, record.flags, coat, record.number)


def strips_of_pot(record: Record, records: Iterable[Record]) -> list[Record]:
    """A record and those of the other strips of its pot, made alike, of each mark the last; the record itself first."""
    like = {key(one.mark): one for one in records if _made_alike(one, record)}
    return [record, *(one for mark, one in like.items() if mark != key(record.mark))]


def cloth_of(library: Library, record: Record) -> Sequence[float] | None:
    """What a photo of a strip on the same cloth showed of the bare cloth; None where nobody named the cloth.

    It is looked for in the records of the shade, then in the last one of every other shade.
    """
    if record.colour.cloth or not record.cloth:
        return record.colour.cloth
    return _cloth_in(library.records(record.shade), record.cloth) or _cloth_in(library.latest().values(), record.cloth)


def _cloth_in(records: Iterable[Record], cloth: str) -> Sequence[float] | None:
    seen = [one.colour.cloth for one in records if one.colour.cloth and key(one.cloth) == key(cloth)]
    return seen[-1] if seen else None


def unused_coats(strips: Sequence[PotStrip], others: Sequence[Record]) -> tuple[Flag, ...]:
    """A note where a weight that was given could not count."""
    weighed = any(strip.coat for strip in strips)
    unused = weighed and not (others and all(one.coat for one in others) and all(strip.coat for strip in strips))
    return (flag("coat-not-used"),) if unused else ()


def studio_films(library: Library) -> FilmScatter:
    """How unlike the films of two strips are in this studio, from the pots of which several strips were kept."""
    pots: dict[tuple[object, ...], dict[str, Record]] = {}
    for record in library.marked(MOST_STRIPS):
        alike = (
            key(record.shade),
            key(record.batch),
            key(record.cloth),
            record.state.kind,
            record.let_down,
            record.card,
        )
        pots.setdefault((*alike, light_of(record)), {})[key(record.mark)] = record
    several = [list(marks.values()) for marks in pots.values() if len(marks) > 1]
    return film_scatter(films for pot in several if (films := _films(pot)))


def _films(pot: Sequence[Record]) -> list[float]:
    """The natural logarithms of the films of a pot's strips; none where they cannot be told."""
    if all(record.coat for record in pot):
        return [log(record.coat.g_m2) for record in pot if record.coat]
    strips = [strip_of_record(record) for record in pot]
    return films_of(strips, next((strip.colour.cloth for strip in strips if strip.colour.cloth), None))


def _made_alike(one: Record, record: Record) -> bool:
    """Whether two records are of one pot, on one cloth, in one state, let down alike, and for one light."""
    same = (one.batch, one.shade, one.let_down) == (record.batch, record.shade, record.let_down)
    same = same and one.state.like(record.state) and not one.state.treated_unlike(record.state)
    scale = one.colour.absolute == record.colour.absolute and (one.colour.absolute or one.card == record.card)
    return same and scale and key(one.cloth) == key(record.cloth) and light_of(one) == light_of(record)
