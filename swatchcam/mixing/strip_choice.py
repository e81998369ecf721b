"""Of a library of years the known strips that tell most of what is asked; what pigments do is learned from these.

Learning takes longer with the square and the cube of how many strips there are, so of many only so many are taken: the
pot's own and those of the target's photos always, the test series from end to end, then what is near in colour to what
is asked, and for the rest what is unlike all that was taken. Strips that lie in one photo go together: their errors are
alike, and their difference is the surest thing that is known of them.

Means of many strips in place of the strips themselves were tried (drawn studios, `tests/benchmarks/mixing_speed.py`)
and came no nearer to what all of them teach: a mean forgets which of its strips lay beside which other one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from ..arrays import Array
from ..colorimetry.cielab import Lab
from ..library.heat_prediction import ENOUGH
from ..library.records import Record, State
from ..measurement.stored_colour import Kept
from .known_strip import KnownStrip, strip_of
from .prior import LESS_IN_CHROMA

MOST = 300  # strips from which is learned; with them a recipe or a correction takes about two seconds
EACH = 8  # strips of each pigment's test series, where there are more; no source
NEAR = 0.6  # of all, series included, before those come that are only unlike the others; from drawn studios
IN_PHOTO = 8  # strips of one photo that go together; one with more was hardly photographed so; no source
# Where a strip lies: CIELAB with chroma drawn together, as differences count less there, and so many units for each
# e-fold of a share, %, that is not much less than LITTLE; from drawn studios.
FOR_SHARES, LITTLE = 5.0, 0.05
AS_NEAR, AS_MUCH = 1, 2  # digits of a distance, and of the logarithm of a load, in which two are equal; no source


@dataclass(frozen=True)
class Alike:
    """Records that may be held against each other."""

    records: tuple[Record, ...]
    absolute: bool  # false if all colours are of one nominal card
    left_out: int  # records of other cards
    others: int = 0  # strips among them that were heated, washed or rubbed clearly otherwise


def alike_of(records: Sequence[Record], state: State) -> Alike:
    """Those of these records that were treated alike, where they are enough, and measured on one scale.

    That is on measured cards, or on the one nominal card with the most: two nominal cards err each in its own way.
    """
    treated = [record for record in records if not record.state.treated_unlike(state)]
    if (count := len(_strips_in(treated, state))) >= ENOUGH:
        records, others = treated, 0
    else:
        others = len(_strips_in(records, state)) - count
    absolute = any(record.colour.absolute for record in records)
    cards = Counter(record.card for record in records).most_common(1)
    same = tuple(one for one in records if (one.colour.absolute if absolute else one.card == cards[0][0]))
    return Alike(same, absolute, len(records) - len(same), others)


def _strips_in(records: Iterable[Record], state: State) -> set[str]:
    """What the strips in a state are known by."""
    return {strip_of(one.shade, one.batch, one.mark, one.let_down) for one in records if one.state.like(state)}


def choose(
    known_strips: Sequence[KnownStrip], about: Sequence[Kept | Lab] = (), pot: str = "", most: int = MOST
) -> tuple[KnownStrip, ...]:
    """The strips that tell most, in their order, oldest first; all where there are no more than `most`.

    `about` are the colours that are asked about, `pot` what it is known by (`pot_of_strip`). Of what
    tells as much the newest comes first. It may be a few more than `most`: what belongs together is not torn apart.
    """
    if len(known_strips) <= most:
        return tuple(known_strips)
    kin, taken = _by_photo(known_strips), set(_own(known_strips, about, pot, most))
    places = _places(known_strips)
    _take(chain(_series(known_strips, most), _first_with_each(known_strips)), taken, kin, most)
    if about:
        labs = np.array([colour.lab if isinstance(colour, Kept) else colour for colour in about])
        _take(_near(places[:, :3], _drawn_together(labs)), taken, kin, round(NEAR * most))
    _take(_unlike(places, taken), taken, kin, most)
    return tuple(known_strips[place] for place in sorted(taken))


def _take(ranked: Iterator[int], taken: set[int], kin: Sequence[Sequence[int]], most: int) -> None:
    """Take strips in turn, each with those of its photo, until there are so many."""
    while len(taken) < most and (place := next(ranked, None)) is not None:
        taken.update(kin[place])


def _by_photo(known_strips: Sequence[KnownStrip]) -> list[list[int]]:
    """Of each strip those in its photo, unless they are very many, and itself in both states."""
    found: dict[tuple[str, ...], list[int]] = {}
    same: dict[str, dict[bool, int]] = {}
    for place, known_strip in enumerate(known_strips):
        found.setdefault(known_strip.colour.errors.photos, []).append(place)
        same.setdefault(known_strip.strip, {})[known_strip.later] = place
    beside = (found[known_strip.colour.errors.photos] for known_strip in known_strips)
    kin = [those if len(those) <= IN_PHOTO else [place] for place, those in enumerate(beside)]
    return [[*those, *same[one.strip].values()] for those, one in zip(kin, known_strips, strict=True)]


def _own(known_strips: Sequence[KnownStrip], about: Sequence[Kept | Lab], pot: str, most: int) -> list[int]:
    """The strips of the photos in which what is asked about was measured, and of the pot (the last, if very many)."""
    photos = {colour.errors.photos for colour in about if isinstance(colour, Kept)}
    beside = [place for place, strip in enumerate(known_strips) if strip.colour.errors.photos in photos]
    of_pot = [place for place, strip in enumerate(known_strips) if pot and strip.pot == pot]
    return beside + of_pot[-(most // 2) :]


def _series(known_strips: Sequence[KnownStrip], most: int) -> Iterator[int]:
    """Strips of one pigment alone, evenly from its palest to its strongest, and of binder alone."""
    alone: dict[str, list[int]] = {}
    for place, known_strip in enumerate(known_strips):
        if len(known_strip.shares) < 2:
            alone.setdefault(next(iter(known_strip.shares), ""), []).append(place)
    each = min(EACH, max(most // (4 * len(alone) + 1), 2))
    for name, places in alone.items():
        loads = np.log([max(known_strips[place].shares.get(name, 1.0), 1e-6) for place in places])
        newest = -np.arange(len(places))
        for wanted in np.linspace(loads.min(), loads.max(), each):
            yield places[np.lexsort((newest, np.round(np.abs(loads - wanted), AS_MUCH)))[0]]


def _first_with_each(known_strips: Sequence[KnownStrip]) -> Iterator[int]:
    """The newest strip with each pigment: without any it would be unknown."""
    newest = {name: place for place, known_strip in enumerate(known_strips) for name in known_strip.shares}
    return iter(sorted(newest.values()))


def _near(places: Array, about: Array) -> Iterator[int]:
    """All strips, from the nearest to the farthest from what is asked about, (n, 3) and (m, 3)."""
    apart = np.linalg.norm(places[:, None] - about[None], axis=-1).min(axis=1)
    return iter(np.lexsort((-np.arange(len(apart)), np.round(apart, AS_NEAR))).tolist())


def _unlike(places: Array, taken: set[int]) -> Iterator[int]:
    """Strips that are not taken, each as unlike as can be to all that are, and to those before it."""
    apart, known = np.full(len(places), np.inf), set[int]()
    while True:
        for place in taken - known:
            apart = np.minimum(apart, np.linalg.norm(places - places[place], axis=1))
        known = set(taken)
        apart[list(known)] = -1.0
        newest = len(apart) - 1 - int(np.argmax(np.round(apart[::-1], AS_NEAR)))
        if apart[newest] < 0:
            return
        yield newest


def _places(known_strips: Sequence[KnownStrip]) -> Array:
    """(n, 3 + pigments) where each strip lies in colour and recipe."""
    names = sorted({name for known_strip in known_strips for name in known_strip.shares})
    shares = np.array([[known_strip.shares.get(name, 0.0) for name in names] for known_strip in known_strips])
    labs = np.array([known_strip.colour.lab for known_strip in known_strips])
    recipe = FOR_SHARES * np.log1p(shares / LITTLE).reshape(len(labs), -1)
    return np.hstack([_drawn_together(labs), recipe])


def _drawn_together(labs: Array) -> Array:
    """(n, 3) CIELAB with chroma on a scale on which equal differences count about alike."""
    chroma = np.maximum(np.hypot(labs[:, 1], labs[:, 2]), 1e-9)
    less = np.log1p(LESS_IN_CHROMA * chroma) / (LESS_IN_CHROMA * chroma)
    return labs * np.column_stack([np.ones_like(less), less, less])
