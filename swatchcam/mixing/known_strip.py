"""A known strip: a strip whose recipe is known. What the studio's pigments do is learned from its known strips."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot
from statistics import median

import numpy as np

from ..arrays import Array, Mask
from ..colorimetry.error_covariance import equal_pairs, positive, shared_errors, square
from ..errors import UsageError
from ..library.records import Batch, Record, State
from ..library.shelf.pigments import Pigment
from ..measurement.stored_colour import Kept
from ..recipes.film_weight import EVENNESS
from ..recipes.recipe import Recipe
from ..text import key

LEAST_WEIGHED = 3  # strips on a cloth, before the weight of one says how thick it is; no source
# Of a pigment's share in a pot against what was written, relative: a weak lot, ink left on a spatula, a slip of the
# scale, water gone. Common sense, no source; checked on build studios.
POT_STD = 0.06


# What two strips share of a phone's error, where they are of other pigments, and where they are in other photos;
# from build studios: without this, targets of unknown pigments come out surer than they are.
UNLIKE, OTHER_PHOTO = 0.85, 0.5
WHITISH, ALIKE = 75.0, 15.0  # L* from which on an ink may be a white; and that cloth and ink differ by; no source
LEAST_TOLD = 1e-4  # CIELAB squared: no variance of the known strips' errors is less, whatever cancels; no source


@dataclass(frozen=True)
class KnownStrip:
    """What a strip was mixed of, and what it measured; with no share at all it is binder alone."""

    # Pigment, in small letters -> g in 100 g of the whole, of the lot that counts as 1; a ready-mixed ink counts as
    # concentrate (`Pigment.counts_as`).
    shares: dict[str, float]
    shares_std: dict[str, float]  # one standard deviation of each
    colour: Kept  # D65, 10 degrees
    strip: str  # the same for all photos of one strip: its film is the same
    record: int | None = None  # its number in the library; None of a pot whose strip is not kept
    film: float = 1.0  # its thickness against the studio's usual film, as a weight tells it; 1 where nobody weighed
    film_std: float | None = None  # of that film's natural logarithm; None: as the studio's films vary
    later: bool = False  # whether it is in the later one of the two states that are mixed for
    ready: frozenset[str] = frozenset()  # those of its pigments that are ready-mixed inks, such as opaque white

    @property
    def pot(self) -> str:
        """The same for all strips of one pot, which share what its recipe is off."""
        return pot_of_strip(self.strip)


@dataclass(frozen=True)
class OnCloth:
    """The records that count as being on one cloth."""

    cloth: str
    records: tuple[Record, ...]
    assumed: int  # so many of them without a noted cloth


def on_one_cloth(records: Sequence[Record], likely: Sequence[Record], cloth: str, pot: str) -> OnCloth:
    """The records on a cloth, which may be left open where only one was ever noted (of `likely` ones, if any was).

    A strip without a noted cloth is taken to be on this one where no other was ever noted; else only where it is of the
    `pot` (see `pot_of_strip`).

    Raises
    ------
    UsageError
        Several cloths were noted, and none was named.
    """
    noted = {key(record.cloth): record.cloth for record in records if record.cloth}
    usual = {key(record.cloth): record.cloth for record in likely if record.cloth} or noted
    if not cloth and len(usual) > 1:
        raise UsageError("cloth-not-named", "choose-a-cloth", cloths=sorted(usual.values()))
    wanted = noted.get(key(cloth), cloth) or next(iter(usual.values()), "")
    alone = {*noted} == {key(wanted)}
    assumed = {
        one.number for one in records if wanted and not one.cloth and (alone or pot_of_strip(_strip_of(one)) == pot)
    }
    there = tuple(one for one in records if key(one.cloth) == key(wanted) or one.number in assumed)
    return OnCloth(wanted, there, len(assumed))


def known_strip_of(
    record: Record, batch: Batch, shelf: Mapping[str, Pigment], usual_coat: float | None = None
) -> KnownStrip | None:
    """What a record teaches, of a pot mixed of pigments on the shelf (by name in small letters); None without recipe.

    A lot of another strength counts as so much more or less pigment, a ready-mixed ink as concentrate. In a let-down
    strip clear base stands for all but its part of the pot. `usual_coat`: see `usual_coat_of`.
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
    if len(shares) > 1:  # of a strip of one pigment alone what was weighed is taken to be in it: it is a test series'
        std = slipped(shares, std)
    ready = frozenset(name for name in shares if name in shelf and shelf[name].ready)
    film, film_std = _film(record, usual_coat)
    return KnownStrip(
        shares, std, record.colour, _strip_of(record), record.number, film=film, film_std=film_std, ready=ready
    )


def slipped(shares: Mapping[str, float], std: Mapping[str, float]) -> dict[str, float]:
    """Standard deviations of the shares in a pot that was mixed for use, what may have gone wrong with it included."""
    return {name: hypot(std[name], POT_STD * share) for name, share in shares.items()}


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


def pot_of_strip(strip: str) -> str:
    """What the pot of a strip is known by, the same for all its strips (`strip_of`)."""
    return "\n".join(strip.split("\n")[:2])


def known_strips_of(
    records: Iterable[Record], batches: Iterable[Batch], shelf: Mapping[str, Pigment], later: State | None = None
) -> list[KnownStrip]:
    """What all these records, which are on one cloth, teach; those of pots without a recipe teach nothing here.

    They are air-dried or in a `later` state, such as heat-set.
    """
    records = list(records)
    pots, usual = {(key(batch.shade), key(batch.name)): batch for batch in batches}, usual_coat_of(records)
    found = [
        (record.state, known_strip_of(record, pots[key(record.shade), key(record.batch)], shelf, usual))
        for record in records
    ]
    return [replace(one, later=bool(later and state.like(later))) for state, one in found if one]


def shares_of(recipe: Recipe) -> tuple[dict[str, float], dict[str, float]]:
    """Each pigment's share, % of the whole, and its standard deviation, by the pigment's name in small letters."""
    found = {key(name): share for name, share in recipe.shares().items()}
    return {name: share.percent for name, share in found.items()}, {name: share.std for name, share in found.items()}


def whites_not_seen(known_strips: Sequence[KnownStrip]) -> list[str]:
    """The ready-mixed inks that alone hardly change this cloth's lightness, and no strip of a mix shows what they do.

    What an opaque white scatters is seen over something darker only, or where it lightens a colour.
    """
    bare = [strip.colour.lab[0] for strip in known_strips if not strip.shares]
    found = []
    for name in sorted({name for strip in known_strips for name in strip.ready}):
        own = [strip for strip in known_strips if name in strip.shares]
        if all(len(strip.shares) == 1 for strip in own):
            strongest = max(own, key=lambda strip: strip.shares[name]).colour.lab[0]
            if strongest > WHITISH and abs(strongest - (bare[0] if bare else strongest)) < ALIKE:
                found.append(name)
    return found


def seen_later(known_strips: Iterable[KnownStrip]) -> set[str]:
    """What the strips that were seen in the later state are known by."""
    return {known_strip.strip for known_strip in known_strips if known_strip.later}


def errors_of(known_strips: Sequence[KnownStrip]) -> Array:
    """(3 n, 3 n) covariance of the errors with which n known strips were measured."""
    colours = [known_strip.colour for known_strip in known_strips]
    kinds = [frozenset(known_strip.shares) for known_strip in known_strips]
    kin = np.where(equal_pairs(kinds, kinds), 1.0, UNLIKE)
    errors = square(shared_errors(colours, colours, kin, OTHER_PHOTO))
    try:
        np.linalg.cholesky(errors - LEAST_TOLD * np.eye(len(errors)))
    except np.linalg.LinAlgError:
        # Told pair by pair it may contradict itself a little: what lies below zero is taken away.
        return positive(errors, LEAST_TOLD)
    return errors


@dataclass(frozen=True)
class Given:
    """What is known of n strips before what pigments do is learned from them."""

    strips: tuple[KnownStrip, ...]
    errors: Array  # (3 n, 3 n) covariance of those with which they were measured
    shares: Array  # (n, pigments) %, as they were written
    shares_std: Array  # (n, pigments)
    film: Array  # (n,) natural logarithm of the film, as a weight tells it, else of the usual one
    film_std: Array  # (n,) of that; NaN: as the studio's films vary
    same_strip: Mask  # (n, n) photos of one strip have one film
    same_pot: Mask  # (n, n) strips of one pot share what its recipe is off
    later: Mask  # (n,) which are in the later state

    @classmethod
    def of(cls, strips: Sequence[KnownStrip], pigments: Sequence[str]) -> Given:
        """All of it."""
        film_std = [np.nan if strip.film_std is None else strip.film_std for strip in strips]
        return cls(
            tuple(strips),
            errors_of(strips),
            np.array([[strip.shares.get(name, 0.0) for name in pigments] for strip in strips]),
            np.array([[strip.shares_std.get(name, 0.0) for name in pigments] for strip in strips]),
            np.log([strip.film for strip in strips]),
            np.array(film_std),
            equal_pairs(*2 * ([strip.strip for strip in strips],)),
            equal_pairs(*2 * ([strip.pot for strip in strips],)),
            np.array([strip.later for strip in strips]),
        )

    def some(self, step: int) -> Given:
        """Of every so many strips one."""
        n, own = len(self.strips), slice(None, None, step)
        errors = self.errors.reshape(n, 3, n, 3)[own, :, own]
        return replace(
            self,
            strips=self.strips[own],
            errors=errors.reshape(3 * len(errors), -1),
            shares=self.shares[own],
            shares_std=self.shares_std[own],
            film=self.film[own],
            film_std=self.film_std[own],
            same_strip=self.same_strip[own, own],
            same_pot=self.same_pot[own, own],
            later=self.later[own],
        )

    def film_var(self, scatter: float) -> Array:
        """(n,) variance of the logarithm of each film, where a studio's films are so unlike."""
        return np.where(np.isnan(self.film_std), scatter, self.film_std) ** 2

    @property
    def open_films(self) -> Array:
        """(n, f) 1 where a strip has that film, of those that nobody weighed."""
        first = self.same_strip.argmax(axis=1)
        return np.asarray(first[:, None] == np.unique(first[np.isnan(self.film_std)]), dtype=float)
