"""A known strip: a strip whose recipe is known. What the studio's pigments do is learned from its known strips."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import hypot

from ..library.proposals import Pigment
from ..library.records import Batch, Record
from ..measurement.stored_colour import Kept
from ..recipes.recipe import Recipe
from ..text import key


@dataclass(frozen=True)
class KnownStrip:
    """What a strip was mixed of, and what it measured; with no share at all it is binder alone."""

    shares: dict[str, float]  # pigment, in small letters -> g in 100 g of the whole, of the lot that counts as 1
    shares_std: dict[str, float]  # one standard deviation of each
    colour: Kept  # D65, 10 degrees
    strip: str  # the same for all photos of one strip: its film is the same
    record: int | None = None  # its number in the library; None of a pot whose strip is not kept


def known_strip_of(record: Record, batch: Batch, shelf: Mapping[str, Pigment]) -> KnownStrip | None:
    """What a record teaches, of a pot mixed of pigments on the shelf (by name in small letters); None without recipe.

    A lot of another strength counts as so much more or less pigment.
    """
    if batch.recipe is None:
        return None
    shares, std = shares_of(batch.recipe)
    day = batch.mixed or record.measured
    for name in shares.keys() & shelf.keys():
        strength, off = shelf[name].strength(day)
        std[name] = hypot(std[name] * strength, shares[name] * off)
        shares[name] *= strength
    strip = strip_of(record.shade, record.batch, record.mark)
    return KnownStrip(shares, std, record.colour, strip, record.number)


def strip_of(shade: str, batch: str, mark: str = "") -> str:
    """What a strip is known by; strips of a batch without a mark are taken for one and the same."""
    return "\n".join((key(shade), key(batch), key(mark)))


def known_strips_of(
    records: Iterable[Record], batches: Iterable[Batch], shelf: Mapping[str, Pigment]
) -> list[KnownStrip]:
    """What all these records teach; those of pots without a recipe teach nothing here."""
    pots = {(key(batch.shade), key(batch.name)): batch for batch in batches}
    found = (known_strip_of(record, pots[key(record.shade), key(record.batch)], shelf) for record in records)
    return [known_strip for known_strip in found if known_strip]


def shares_of(recipe: Recipe) -> tuple[dict[str, float], dict[str, float]]:
    """Each pigment's share, % of the whole, and its standard deviation, by the pigment's name in small letters."""
    found = {key(name): share for name, share in recipe.shares().items()}
    return {name: share.percent for name, share in found.items()}, {name: share.std for name, share in found.items()}
