"""A known strip: a strip whose recipe is known. What the studio's pigments do is learned from its known strips."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import hypot
from statistics import median

from ..library.proposals import Pigment
from ..library.records import Batch, Record
from ..measurement.stored_colour import Kept
from ..recipes.recipe import Recipe
from ..text import key

LEAST_WEIGHED = 3  # strips on a cloth, before the weight of one says how thick it is; no source
EVENNESS = 0.03  # of a film's thickness: how evenly a strip was spread; common sense, no source


@dataclass(frozen=True)
class KnownStrip:
    """What a strip was mixed of, and what it measured; with no share at all it is binder alone."""

    shares: dict[str, float]  # pigment, in small letters -> g in 100 g of the whole, of the lot that counts as 1
    shares_std: dict[str, float]  # one standard deviation of each
    colour: Kept  # D65, 10 degrees
    strip: str  # the same for all photos of one strip: its film is the same
    record: int | None = None  # its number in the library; None of a pot whose strip is not kept
    film: float = 1.0  # how thick it is, by weight: times the usual strip on its cloth; 1 where nobody weighed it
    film_std: float | None = None  # of the natural logarithm of that; None for the studio's own scatter


def known_strip_of(
    record: Record, batch: Batch, shelf: Mapping[str, Pigment], usual_coat: float | None = None
) -> KnownStrip | None:
    """What a record teaches, of a pot mixed of pigments on the shelf (by name in small letters); None without recipe.

    A lot of another strength counts as so much more or less pigment. In a let-down strip clear base stands for all but
    its part of the pot. `usual_coat`: see `usual_coat_of`.
    """
    if batch.recipe is None:
        return None
    shares, std = shares_of(batch.recipe)
    day = batch.mixed or record.measured
    for name in shares.keys() & shelf.keys():
        strength, off = shelf[name].strength(day)
        std[name] = hypot(std[name] * strength, shares[name] * off)
        shares[name] *= strength
    thinned = 1 + record.let_down
    shares, std = ({name: value / thinned for name, value in each.items()} for each in (shares, std))
    return KnownStrip(shares, std, record.colour, _strip_of(record), record.number, *_film(record, usual_coat))


def strip_of(shade: str, batch: str, mark: str = "", let_down: float = 0.0) -> str:
    """What a strip is known by; strips of a batch without a mark, let down alike, are taken for one and the same."""
    return "\n".join((key(shade), key(batch), key(mark), *([f"{let_down:g}"] if let_down else [])))


def usual_coat_of(records: Iterable[Record]) -> float | None:
    """The median weight, g/m², of wet ink on the weighed strips among these records, which are on one cloth.

    None where so few were weighed that it would not tell what is usual.
    """
    coats = {_strip_of(record): record.coat.g_m2 for record in records if record.coat}
    return median(coats.values()) if len(coats) >= LEAST_WEIGHED else None


def _strip_of(record: Record) -> str:
    return strip_of(record.shade, record.batch, record.mark, record.let_down)


def _film(record: Record, usual_coat: float | None) -> tuple[float, float | None]:
    """`film` and `film_std` of a KnownStrip."""
    if record.coat is None or usual_coat is None:
        return 1.0, None
    return record.coat.g_m2 / usual_coat, hypot(record.coat.std, EVENNESS)


def known_strips_of(
    records: Iterable[Record], batches: Iterable[Batch], shelf: Mapping[str, Pigment]
) -> list[KnownStrip]:
    """What all these records, which are on one cloth, teach; those of pots without a recipe teach nothing here."""
    records = list(records)
    pots, usual = {(key(batch.shade), key(batch.name)): batch for batch in batches}, usual_coat_of(records)
    found = (known_strip_of(record, pots[key(record.shade), key(record.batch)], shelf, usual) for record in records)
    return [known_strip for known_strip in found if known_strip]


def shares_of(recipe: Recipe) -> tuple[dict[str, float], dict[str, float]]:
    """Each pigment's share, % of the whole, and its standard deviation, by the pigment's name in small letters."""
    found = {key(name): share for name, share in recipe.shares().items()}
    return {name: share.percent for name, share in found.items()}, {name: share.std for name, share in found.items()}
