"""What the studio knows, brought together for mixing on one cloth: strips, the palette they teach, and its shelf."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

from ..colorimetry.cielab import Lab
from ..errors import LibraryError, UsageError
from ..library.heat_prediction import ENOUGH
from ..library.labels import in_order
from ..library.library import Library
from ..library.records import DRY, USUAL_LIGHT, WET, Batch, Record, State, light_of
from ..library.shelf.pigments import Pigment, clear_base, pigments
from ..library.shelf.prices import Cost, cost_of, prices_of
from ..library.shelf.tools import drops_of, least_of, tools_of
from ..measurement.stored_colour import Kept
from ..messages.message import Flag, flag
from ..recipes.dosing import Tools
from ..recipes.recipe import Recipe
from ..text import key
from .known_strip import (
    KnownStrip,
    known_strips_of,
    on_one_cloth,
    seen_later,
    usual_coat_of,
    whites_not_seen,
)
from .other_cloth import CarriedOver, better_known, carried_over, not_read, nothing_known
from .pigment_learning import learn
from .pigment_model import Palette
from .search import MOST, THINGS, Limits, Target
from .strip_choice import Alike, alike_of, choose

FEW_STEPS = 3  # strips of a pigment alone, below which its strength at other loads is a guess; no source


@dataclass(frozen=True)
class Bench:
    """Everything that is needed to mix on one cloth."""

    cloth: str
    state: State
    known_strips: tuple[KnownStrip, ...]  # from which the tool learns
    shelf: Mapping[str, Pigment]  # by name in small letters
    names: Mapping[str, str]  # name in small letters -> as the studio writes it
    absolute: bool  # false if all colours are of one nominal card
    flags: tuple[Flag, ...] = ()
    every: tuple[KnownStrip, ...] = ()  # all that the library has, where these are not all
    usual_coat: float | None = None  # g/m², where enough strips were weighed
    before: Palette | None = field(default=None, compare=False, repr=False)  # what most of them taught
    later: State | None = None  # the other state, beside air-dried, in which strips were measured; or None
    carried: CarriedOver | None = None  # where most strips are on another cloth
    tools: Tools = field(default_factory=Tools)  # what the studio doses with; the scale's step is the order's
    base: Pigment | None = None  # what was said of the clear base

    @cached_property
    def palette(self) -> Palette:
        """What the known strips teach of the state that is mixed for."""
        return self.palette_of(self.state)

    def palette_of(self, state: State) -> Palette:
        """What they teach of a state: the one that is mixed for, or the state of a strip."""
        return self._learned if self.is_later(state) else self._learned.of_earlier

    @cached_property
    def _learned(self) -> Palette:
        cloths = self.carried.cloths if self.carried else None
        return learn(self.known_strips, self.before, two_states=self.later is not None, cloths=cloths)

    def is_later(self, state: State) -> bool:
        """Whether a strip in this state, on this cloth, is one of the later ones."""
        return self.carried is not None or (self.later is not None and state.like(self.later))

    @property
    def of_later_state(self) -> bool:
        """Whether it is mixed for the later of two states."""
        return self.later is not None and self.palette.later

    def shows(self, known_strip: KnownStrip) -> bool:
        """Whether a strip lies on this cloth."""
        return self.carried is None or known_strip.later

    @property
    def all_known(self) -> tuple[KnownStrip, ...]:
        """All known strips of the library, oldest first; the tool may learn from only some of them."""
        return self.every or self.known_strips

    @property
    def warnings(self) -> tuple[Flag, ...]:
        """What is weak, and which strip fits what is known of its recipe least, if it does not."""
        odd = misfits(self.palette)
        if not odd:
            return self.flags
        return (*self.flags, flag("recipe-unlike-colour", record=odd[0].record))

    def with_known_strip(self, known_strip: KnownStrip) -> Bench:
        """The same with one strip more."""
        return replace(self, known_strips=(*self.known_strips, known_strip), before=vars(self).get("_learned"))

    def strengths(self, only: Collection[str] = (), day: str = "") -> dict[str, float]:
        """Pigments that may be used, by default all that are known -> strength of the lot in use on an ISO day.

        By default that is today.

        Raises
        ------
        UsageError
            Nothing is known of a pigment that was named.
        """
        for name in only:
            self.palette.vector({key(name): 1.0})
        wanted = {key(name) for name in only} or set(self.palette.pigments)
        when = day or date.today().isoformat()
        return {
            name: self.shelf[name].strength(when)[0] if name in self.shelf else 1.0
            for name in self.palette.pigments
            if name in wanted
        }

    def limits(self, things: int = THINGS, most: float = MOST) -> Limits:
        """What a mix may hold, each pigment's own limit among it."""
        today = date.today().isoformat()
        # Limits are for what is weighed; of a stronger lot that works like more.
        said = {name: 100.0 if one.ready and one.most is None else one.most for name, one in self.shelf.items()}
        each = {name: own * self.shelf[name].strength(today)[0] for name, own in said.items() if own is not None}
        return Limits(most, each, things, self.ready)

    @property
    def ready(self) -> frozenset[str]:
        """The ready-mixed inks on the shelf."""
        return frozenset(name for name, pigment in self.shelf.items() if pigment.ready)

    def weighs(self, pigment: str, share: float) -> float:
        """% to weigh of a pigment, of the lot of its test series, that counts as a share of the pot, %."""
        return share / self.shelf[pigment].counts_as if pigment in self.shelf else share

    @property
    def least_g(self) -> dict[str, float]:
        """Pigment -> the smallest amount that can be dispensed, where somebody said."""
        return least_of(self.shelf.values())

    def tools_for(self, scale_g: float) -> Tools:
        """What is dosed with on a scale of that step."""
        drops = drops_of(self.shelf.values()) | dict(self.tools.drops)
        return replace(self.tools, scale_g=scale_g, drops=drops, least_g=self.least_g)

    def cost(self, recipe: Recipe) -> Cost:
        """What all that is in a recipe costs."""
        return cost_of(recipe, prices_of(self.shelf.values(), self.base))


def misfits(palette: Palette) -> list[KnownStrip]:
    """Known strips that do not look like what all the others say of their recipe, the worst first."""
    return [palette.known_strips[at] for at in palette.unlike.misfits(palette.scatter.low)]


def bench_for(
    library: Library,
    target: Target,
    cloth: str = "",
    ink: str = "",
    strips: State | None = None,
    about: Sequence[Kept | Lab] = (),
    pot: str = "",
) -> Bench:
    """The bench on which is mixed for a target: for its state or, where nobody said one, for that of the pot's strips.

    Raises as `set_up`.
    """
    aimed = target.state or strips or DRY
    bench = set_up(library, cloth, aimed, ink, [target.measured or target.lab, *about], pot, strips)
    return bench if target.state else replace(bench, flags=(flag("target-state-unsaid", aimed=aimed), *bench.flags))


def bench_of_pigments(library: Library, cloth: str = "", state: State = DRY, ink: str = "") -> Bench:
    """The bench on which pigments are looked at in a state; raises as `set_up`, and where no strip is in that state."""
    bench = set_up(library, cloth, state, ink)
    if bench.later and not seen_later(bench.all_known):
        raise LibraryError("no-known-strips", "make-test-series", state=state, cloth=bench.cloth)
    return bench


def set_up(
    library: Library,
    cloth: str = "",
    state: State = DRY,
    ink: str = "",
    about: Sequence[Kept | Lab] = (),
    pot: str = "",
    strips: State | None = None,
) -> Bench:
    """The bench for a cloth and a state; `cloth` may be left open where only one was ever used.

    It holds the strips in that state, the air-dried ones, and those in the state of the pot's `strips`. Where few are
    on that cloth, it holds those in that one state on another cloth too (`other_cloth`). If there are very many known
    strips, the tool learns from those that tell most of the colours asked `about` and of the pot in hand
    (`strip_choice.choose`).

    Raises
    ------
    UsageError
        Wet ink is to be matched; several cloths, and none was named; or strips in a third state, or in a second one
        where all is carried over from another cloth.
    LibraryError
        No strip in the library has a recipe, on this cloth, in this state, and none can be carried over.
    """
    if WET in (state.name, (strips or state).name):
        raise UsageError("wet-not-matched", "dry-it-first")
    batches = [batch for batch in library.batches() if batch.recipe and (not ink or key(batch.ink) == key(ink))]
    pots, later = {(key(batch.shade), key(batch.name)) for batch in batches}, _later(state, strips or state)
    seen = [record for record in _in_states(library, {DRY, later or DRY}) if light_of(record) == USUAL_LIGHT]
    known = [record for record in seen if (key(record.shade), key(record.batch)) in pots]
    done = [record for record in known if record.state.like(state)]
    here = on_one_cloth(known, done or known, cloth, pot)
    cloth, other = here.cloth, better_known(done, here.cloth, batches)
    shelf = {key(pigment.name): pigment for pigment in pigments(library)}
    carried: CarriedOver | None = None
    flags: tuple[Flag, ...] = (flag("cloth-assumed", count=here.assumed, cloth=cloth),) if here.assumed else ()
    if other is not None and state.like(strips or state):
        carried = carried_over(seen, done, here.records, state, (other, cloth), (batches, shelf))
        flags += (carried.flag if carried else not_read(cloth, other),)
    rests = carried.rests if carried else alike_of(here.records, state)
    if not rests.records:
        cloths = {one.cloth for one in seen}
        raise nothing_known(cloth, other, (state, strips or state), elsewhere=bool(known), cloths=cloths)
    every = carried.known_strips if carried else tuple(known_strips_of(rests.records, batches, shelf, later))
    flags = (*_flags(every, rests), *_few(every, rests, DRY if carried else state), *flags)
    chosen, coat = choose(every, about, pot), usual_coat_of(carried.own if carried else rests.records)
    bench = Bench(cloth, state, chosen, shelf, _names(batches, shelf), rests.absolute, flags, every, coat)
    later = None if carried else later
    return replace(bench, later=later, carried=carried, tools=tools_of(library), base=clear_base(library))


def _later(aimed: State, strips: State) -> State | None:
    """The state beside air-dried that is mixed for, or that a pot's strips are in."""
    found = [state.kind for state in (aimed, strips) if not state.like(DRY)]
    if found[1:] and found[0] != found[1]:
        raise UsageError("third-state", "photograph-it-dry", target=aimed, strip=strips)
    return found[0] if found else None


def _in_states(library: Library, states: Collection[State]) -> list[Record]:
    """The records in these states, oldest first."""
    found = [one for state in states for one in library.records(state=state.name) if one.state.like(state)]
    return list(in_order(found))


def _few(known_strips: Sequence[KnownStrip], rests: Alike, state: State) -> tuple[Flag, ...]:
    """Flags where few strips show the state that is mixed for, or were treated otherwise."""
    count = len(seen_later(known_strips))
    found = []
    if not state.like(DRY) and count < ENOUGH:
        found.append(flag("few-in-state", count=count, enough=ENOUGH, state=state.short))
    if rests.others:
        found.append(flag("pairs-treated-otherwise", others=rests.others, pairs=count, states=[str(state)]))
    return tuple(found)


def _names(batches: Sequence[Batch], shelf: Mapping[str, Pigment]) -> dict[str, str]:
    written = {key(part.what): part.what for batch in batches if batch.recipe for part in batch.recipe.parts}
    return written | {name: pigment.name for name, pigment in shelf.items()}


def _flags(known_strips: Sequence[KnownStrip], rests: Alike) -> tuple[Flag, ...]:
    flags = []
    if rests.left_out:
        flags.append(flag("strips-left-out", count=rests.left_out, others=not rests.absolute))
    if not rests.absolute:
        flags.append(flag("all-nominal"))
    if all(known_strip.shares for known_strip in known_strips):
        flags.append(flag("no-clear-base-strip"))
    flags += [flag("white-not-seen", pigment=name) for name in whites_not_seen(known_strips)]
    alone = Counter(next(iter(known_strip.shares)) for known_strip in known_strips if len(known_strip.shares) == 1)
    names = sorted({name for known_strip in known_strips for name in known_strip.shares})
    if none := [name for name in names if not alone[name]]:
        flags.append(flag("no-test-series", pigments=none, enough=FEW_STEPS + 1))
    for name in names:
        if 0 < alone[name] < FEW_STEPS:
            flags.append(flag("short-test-series", pigment=name, count=alone[name], enough=FEW_STEPS + 1))
    return tuple(flags)
