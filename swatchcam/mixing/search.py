"""What to put together so that the cloth gets a colour: several choices, and what is to be expected of each.

One search serves every pot. A `Vessel` says what is in already and what may be put in: pigments into binder for a new
recipe, pigments into the pot in hand for a correction, a strong pot and pigments into binder for a thinner one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from ..arrays import Array, Mask
from ..colorimetry.cielab import Lab
from ..colorimetry.colour_difference import delta_e_2000
from ..colorimetry.intervals import scatter
from ..errors import UsageError
from ..library.records import State
from ..measurement.stored_colour import Kept
from ..recipes.dosing import Dose
from .descent import seek
from .pigment_model import Content, Palette, Prediction

Shelf = Mapping[str, float]  # pigment -> how strong it is now, as part of its strength in the known strips

MOST = 10.0  # % of all pigments together: above it prints rub and wash off; from memory, no figure was found
THINGS = 3  # that may be put in, unless more are asked for; no source
STRONG = "\nstrong ink"  # as a thing that is put in; no pigment is called so, for a name has no break in it
FAINTEST, ALL = 2e-5, 1.0  # g of a thing in 1 g: less of a pigment is not worth opening its bottle
# Where the search starts, g of each thing in 1 g, by how many things there are. No source; with three, differential
# evolution came no nearer to ten made-up colours by more than 0.05 CIEDE2000 (tests/mixing/test_descent.py).
STARTS = {1: (0.001, 0.006, 0.03), 2: (0.001, 0.006, 0.02), 3: (0.0008, 0.004, 0.015)}
STARTS_OF_MANY = (0.001, 0.006)
WEIGHED = 12  # mixes of each number of things whose uncertainty is worked out; no source
DRAWS = 500  # colours that a mix may have, of which the mean difference is taken; no source


@dataclass(frozen=True)
class Target:
    """The colour that is wanted, D65 and 10 degrees."""

    lab: Lab
    words: str
    measured: Kept | None = None  # a strip; None if only the numbers are known
    reflectance: tuple[float, ...] | None = None  # (81,) where there is one
    state: State | None = None  # what was done to the cloth that has this colour; None if nobody said


@dataclass(frozen=True)
class Limits:
    """What a mix may hold."""

    most: float = MOST  # % of all pigments together, but for ready-mixed inks
    each: Mapping[str, float] = field(default_factory=dict)  # pigment -> % at most; of a ready-mixed ink as it counts
    things: int = THINGS  # how many may be put in
    ready: frozenset[str] = frozenset()  # the ready-mixed inks; each of them stands in `each`

    def of_each(self, palette: Palette) -> Array:
        """(pigments,) % of each at most."""
        usual = np.array([np.inf if name in self.ready else self.most for name in palette.pigments])
        return np.minimum(usual, [self.each.get(name, self.most) for name in palette.pigments])

    def load(self, palette: Palette, shares: Array) -> Array:
        """(...) % of all but ready-mixed inks in mixes with such shares (..., pigments)."""
        return np.asarray(shares @ np.array([float(name not in self.ready) for name in palette.pigments]))


USUAL_LIMITS = Limits()


@dataclass(frozen=True)
class Vessel:
    """What is in a pot already, and what may be put in."""

    base: Array  # (pigments,) % of what is in; in a pot that keeps its size, of the whole
    things: tuple[str, ...]  # that may be put in
    content: Array  # (things, pigments) % of each pigment in each of them
    grows: bool  # the pot grows by what is put in; else binder makes room
    room: float = 1.0  # g for 1 g of pot that may be put in at most
    pot: str = ""  # the pot with known strips that is in it, or that may be put in as STRONG
    rests: Mapping[str, float] = field(default_factory=dict)  # further such pots that are in it -> part of the whole
    std: Mapping[str, float] = field(default_factory=dict)  # pigment -> of `base`, %, one standard deviation

    def shares(self, amounts: Array, places: Array, brought: Array | float = 0.0) -> Array:
        """(m, pigments) %, with amounts (m, k), g for 1 g of pot, of the things at places (m, k).

        `brought`, (m,) g for 1 g of pot, is the binder that pre-mixes of them bring along.
        """
        whole = self.base + np.einsum("mk,mkp->mp", amounts, self.content[places])
        return whole / (1 + amounts.sum(axis=1) + brought)[:, None] if self.grows else whole

    def part(self, amounts: Mapping[str, float], brought: float = 0.0) -> float:
        """How much of the whole, 0..1, comes from the pot that has known strips, with amounts in g for 1 g of pot."""
        return 1 / (1 + sum(amounts.values()) + brought) if self.grows else amounts.get(STRONG, 0.0)


@dataclass(frozen=True)
class Mix:
    """One choice."""

    amounts: dict[str, float]  # what to put in -> g for 1 g of the pot
    content: Content  # what comes out
    predicted: Prediction
    distance: float  # CIEDE2000 of the predicted colour from the aim
    expected: float  # CIEDE2000 from the target that is to be expected of the ink, its uncertainty included
    doses: tuple[Dose, ...] = ()  # how it is put in, where that is decided
    exact: float = np.nan  # what would be expected if its amounts could be put in exactly

    @property
    def shares(self) -> Mapping[str, float]:
        """Pigment -> % of the whole that comes out."""
        return self.content.shares

    @property
    def load(self) -> float:
        """Pigment in the whole, %."""
        return sum(self.shares.values())


def new_pot(palette: Palette, shelf: Shelf | None = None) -> Vessel:
    """A pot of binder into which pigments go.

    `shelf` says which pigments there are, and how strong each is now (1: as in its strips); by default all that are
    known.

    Raises
    ------
    UsageError
        None of them is known.
    """
    strengths = dict.fromkeys(palette.pigments, 1.0) if shelf is None else shelf
    names = tuple(name for name in palette.pigments if name in strengths)
    if not names:
        raise UsageError("no-usable-pigment", "make-test-series")
    content = np.array([100 * palette.vector({name: strengths[name]}) for name in names])
    return Vessel(np.zeros(len(palette.pigments)), names, content, grows=False)


def pot_in_hand(palette: Palette, shares: Mapping[str, float], shelf: Shelf | None = None, pot: str = "") -> Vessel:
    """A pot to which pigments can only be added: what its known strips tell is in it, or what was written."""
    fresh = new_pot(palette, shelf)
    return Vessel(palette.vector(palette.in_pot(pot, shares)), fresh.things, fresh.content, grows=True, pot=pot)


def fresh_pot_for(palette: Palette, strong: Mapping[str, float], shelf: Shelf | None = None, pot: str = "") -> Vessel:
    """A fresh pot of binder into which a little of a strong ink goes (STRONG), and pigments if need be."""
    fresh = new_pot(palette, shelf)
    content = np.vstack([palette.vector(palette.in_pot(pot, strong)), fresh.content])
    return Vessel(fresh.base, (STRONG, *fresh.things), content, grows=False, pot=pot)


def pot_with_rest(palette: Palette, rest: Mapping[str, float], part: float, shelf: Shelf | None = None) -> Vessel:
    """A new pot of which `part`, 0..1, is what was left of an old one with the shares `rest`, %."""
    fresh = new_pot(palette, shelf)
    return Vessel(part * palette.vector(rest), fresh.things, fresh.content, grows=False, room=1 - part)


def mixes(
    palette: Palette, target: Target, vessel: Vessel, limits: Limits = USUAL_LIMITS, always: str | None = None
) -> list[Mix]:
    """The best mixes of each number of things, what is best to be expected first; none if the limits leave no room.

    `always` is a thing that goes into every mix: the strong pot that shall be thinned.
    """
    fixed = () if always is None else (vessel.things.index(always),)
    roomy = np.flatnonzero(_room(palette, vessel, limits) >= FAINTEST)
    if limits.load(palette, vessel.base) >= limits.most or not set(fixed) <= set(roomy):
        return []
    free = [int(place) for place in roomy if place not in fixed]
    aim = aim_of(palette, target)
    found: list[Mix] = []
    for count in range(0 if fixed else 1, min(limits.things, len(free)) + 1):
        sets = np.array([fixed + more for more in combinations(free, count)])
        found += _of(palette, target, aim, vessel, limits, sets)
    if vessel.base.any() and not vessel.grows:
        found.append(weighed(palette, target, vessel, {}))  # what is left of an old pot may need only binder
    return sorted(found, key=lambda mix: mix.expected)


def _of(palette: Palette, target: Target, aim: Array, vessel: Vessel, limits: Limits, sets: Array) -> list[Mix]:
    """The best mixes of these sets (n, k) of things."""
    starts = np.array(STARTS.get(sets.shape[1], STARTS_OF_MANY))
    places = np.repeat(sets, len(starts), axis=0)
    room = _room(palette, vessel, limits)[places]
    # What is thin already, such as a pot of ink, is taken in larger amounts.
    amounts = np.tile(starts, len(sets))[:, None] * 100 / np.maximum(vessel.content.sum(axis=1), 1e-9)[places]

    def to_shares(amounts: Array) -> Array:
        return vessel.shares(_within(palette, vessel, limits, amounts, places), places)

    reached = seek(palette, aim, amounts, np.full(places.shape, FAINTEST), room, to_shares)
    amounts = _within(palette, vessel, limits, reached.amounts, places)
    best: dict[tuple[int, ...], int] = {}
    for row in np.argsort(reached.distance):
        best.setdefault(tuple(places[row]), int(row))
    several = [
        {vessel.things[p]: float(g) for p, g in zip(which, amounts[row], strict=True)}
        for which, row in list(best.items())[:WEIGHED]
    ]
    return weighed_all(palette, target, vessel, several)


def _left(palette: Palette, vessel: Vessel, limits: Limits) -> Array:
    """(pigments,) % of each that may still go in."""
    return np.asarray(np.maximum(limits.of_each(palette) - vessel.base, 0))


def _room(palette: Palette, vessel: Vessel, limits: Limits) -> Array:
    """(things,) how much of each may be put in, g for 1 g of the pot."""
    left, content = _left(palette, vessel, limits), vessel.content
    each = np.where(content > 0, left / np.where(content > 0, content, 1.0), np.inf)
    return np.asarray(np.minimum(each.min(axis=1), min(vessel.room, ALL)))


def _within(palette: Palette, vessel: Vessel, limits: Limits, amounts: Array, places: Array) -> Array:
    """The amounts, all of them less where together they would be more than the limits or the pot allow."""
    added = np.einsum("mk,mkp->mp", amounts, vessel.content[places])
    each = np.where(added > 0, _left(palette, vessel, limits) / np.maximum(added, 1e-12), np.inf).min(axis=1)
    together = (limits.most - limits.load(palette, vessel.base)) / np.maximum(limits.load(palette, added), 1e-12)
    whole = np.inf if vessel.grows else vessel.room / amounts.sum(axis=1)
    return np.asarray(amounts * np.minimum(1, np.minimum(np.minimum(each, together), whole))[:, None])


def keeps_to(palette: Palette, limits: Limits, shares: Array, there: Array | float = 0.0) -> Mask:
    """(m,) whether mixes with such shares (m, pigments), %, keep to the limits.

    `there`, (pigments,) %, is what was in before: of what was too much already there need only be no more.
    """
    each = (shares <= np.maximum(limits.of_each(palette), there) + 1e-9).all(axis=1)
    return np.asarray(each & (limits.load(palette, shares) <= limits.most + 1e-9))


def weighed(
    palette: Palette,
    target: Target,
    vessel: Vessel,
    amounts: Mapping[str, float],
    std: Mapping[str, float] | None = None,
    brought: float = 0.0,
) -> Mix:
    """A mix with what is to be expected of it; `std` of the shares that come out, %, one standard deviation.

    `brought` is the binder that pre-mixes bring along, g for 1 g of the pot.
    """
    return weighed_all(palette, target, vessel, [amounts], std, brought)[0]


def weighed_all(
    palette: Palette,
    target: Target,
    vessel: Vessel,
    several: Sequence[Mapping[str, float]],
    std: Mapping[str, float] | None = None,
    brought: float = 0.0,
) -> list[Mix]:
    """The same for several mixes at once."""
    if not several:
        return []
    contents = [_content(palette, vessel, amounts, std or {}, brought) for amounts in several]
    found, each = [], palette.predict_all(contents, target.measured).each
    for amounts, content, predicted in zip(several, contents, each, strict=True):
        lab, aim = np.array(predicted.lab), aimed_at(predicted, target)
        expected = float(np.mean(delta_e_2000(lab + scatter(predicted.ink, DRAWS), aim)))
        found.append(Mix(dict(amounts), content, predicted, float(delta_e_2000(lab, aim)), expected))
    return found


def _content(
    palette: Palette, vessel: Vessel, amounts: Mapping[str, float], std: Mapping[str, float], brought: float
) -> Content:
    """What comes out of such amounts."""
    places = np.array([[vessel.things.index(thing) for thing in amounts]], dtype=int)
    whole = vessel.shares(np.array([list(amounts.values())], dtype=float), places, brought)[0]
    shares = {name: float(share) for name, share in zip(palette.pigments, whole, strict=True) if share > 0}
    both = np.hypot(palette.vector(vessel.std), palette.vector(std)).tolist()
    parts = {**vessel.rests, vessel.pot: vessel.part(amounts, brought)} if vessel.pot else vessel.rests
    return Content(shares, dict(zip(palette.pigments, both, strict=True)), parts)


def aimed_at(predicted: Prediction, target: Target) -> Array:
    """(3,) CIELAB that a prediction counts its distance from: the same as `aim_of`, of a target it was made for."""
    return np.array(target.lab) if target.measured is None else np.subtract(predicted.lab, predicted.miss)


def aim_of(palette: Palette, target: Target) -> Array:
    """(3,) CIELAB to aim at: for a measured target less what its error shares with that of the known strips."""
    return np.array(target.lab) if target.measured is None else palette.aim(target.measured)
