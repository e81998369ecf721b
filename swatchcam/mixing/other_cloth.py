"""The studio's pigments carried from the cloth that it knows to another one, from a reading of that cloth, bare.

Strips on the known cloth are the earlier ones, those on the new cloth the later ones, and what the new cloth adds to
the numbers of a layer has a prior that strips on it judge, as with a later state (`state_shift`). The ground is read.
What else moves is how much of the ink the cloth takes up (one factor for all pigments and the binder), how much of it
sinks in, and a little of everything else. A film over white cloth hardly tells ink that sinks in from ink that
scatters, but over a darker cloth the two part: so here the layer is a film of which a part of the area is dyed cloth.
With the plain film the mean error without a strip on the new cloth was 4.8 instead of 3.6 CIEDE2000, and over dark blue
cloth 11 instead of 4 (drawn studios of the split build).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Array
from ..errors import LibraryError, SwatchcamError, UsageError
from ..library.records import Batch, Record, State
from ..library.search import BARE
from ..library.shelf.names import spelt_alike
from ..library.shelf.pigments import Pigment
from ..messages.message import Flag, flag
from ..text import key
from .film_model import DYED, FILM, SUNK, Layer
from .known_strip import KnownStrip, known_strips_of, on_one_cloth
from .prior import UNSEEN_CLOTH, cloth_of, smooth
from .state_shift import MIDDLES as STATE_MIDDLES
from .state_shift import RISES, Middles, doubt_of_shift
from .strip_choice import Alike, alike_of

# How far the numbers of a layer move to another cloth, one standard deviation: natural logarithms, but for the
# surface's shares, and log-odds of the area where ink has sunk in. Common sense, no source; checked on build studios.
UPTAKE = 0.22  # of how much ink a cloth takes up: 0.65 to 1.55 times in 95 of 100 cases
STRENGTH, BEND, BEND_LENGTH = 0.02, 0.01, 60.0  # of absorption: each pigment's, by wavelength, nm
ALL_SCATTER, SCATTER, CROWDING, BINDER = 0.1, 0.03, 0.03, 0.03
SURFACE, SUNK_IN = (0.005, 0.07), 0.7
READ, READ_LENGTH = 0.02, 80.0  # of the cloth as it was read, nm
MIDDLES = 1 / RISES, 0.1, 0.05  # of how much there is of it, and how far it is off (`state_shift`)
# Strips on a cloth for each pigment, from which it is known without another: up to there and beyond it, what is carried
# over and what its own strips tell together come nearer than these alone (drawn studios of the split build).
ENOUGH = 3


@dataclass(frozen=True)
class BareCloths:
    """Two cloths as they are without ink, (81,) reflectance each."""

    known: Array | None  # on which the pigments are known; None where it was never read
    new: Array


def layers_of(
    pigments: tuple[str, ...], under: Array | None, two_states: bool, cloths: BareCloths | None = None
) -> list[Layer]:
    """The theories that are tried; `under` (81,) is the cloth under strips of clear base, None where there is none."""
    ground = np.full(81, UNSEEN_CLOTH) if under is None else under
    if cloths is None:
        return [Layer(pigments, kind, ground, two_states) for kind in (FILM, DYED)]
    return [Layer(pigments, SUNK, ground if cloths.known is None else cloths.known, True, cloths.new)]


def moves_of(layer: Layer) -> tuple[Array | None, Middles]:
    """What is thought beforehand of what later strips add to a layer's numbers, and of how much of it there is.

    That is (of_one_state, of_one_state), a covariance of size 1, and the middles of size, off and uneven.
    """
    if layer.later_cloth is None:
        return (doubt_of_shift(layer) if layer.two_states else None), STATE_MIDDLES
    return _doubt_of_cloth(layer), MIDDLES


def _doubt_of_cloth(layer: Layer) -> Array:
    """(of_one_state, of_one_state) covariance of what another cloth adds, beforehand."""
    found, count = np.zeros((layer.of_one_state,) * 2), range(len(layer.pigments))
    scattering = [*map(layer.scatter_of, count), layer.binder]
    absorbing = np.ravel([np.r_[layer.absorption_of(p)] for p in count])
    for p in count:
        own = layer.absorption_of(p)
        found[own, own] = STRENGTH**2 + BEND**2 * smooth(BEND_LENGTH)
        found[layer.scatter_of(p), layer.scatter_of(p)] = SCATTER**2
        found[layer.crowding_of(p), layer.crowding_of(p)] = CROWDING**2
    found[layer.ground, layer.ground] = READ**2 * smooth(READ_LENGTH)
    last = range(layer.binder, layer.of_one_state)
    found[last, last] = np.square([BINDER, *SURFACE, SUNK_IN])
    for std, those in ((UPTAKE, [*absorbing, *scattering]), (ALL_SCATTER, scattering)):
        found[np.ix_(those, those)] += std**2
    return found


# --- from the library ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class CarriedOver:
    """What is known of a cloth by another one."""

    known: str  # the cloth on which the pigments are known
    new: str
    cloths: BareCloths
    known_strips: tuple[KnownStrip, ...]  # those on the new one are the later ones
    state: State  # that all are in
    rests: Alike  # the records of all of them
    own: tuple[Record, ...]  # those on the new one

    @property
    def flag(self) -> Flag:
        """What it rests on."""
        own = len({one.strip for one in self.known_strips if one.later})
        others = len({one.strip for one in self.known_strips if not one.later})
        state = self.state.short
        return flag("carried-over-from-cloth", known=self.known, cloth=self.new, state=state, others=others, own=own)


def better_known(records: Iterable[Record], cloth: str, batches: Iterable[Batch]) -> str | None:
    """Another cloth with more strips among these records, where those on this one are few; None where there is none."""
    strips = {(key(one.cloth), key(one.shade), key(one.batch), one.mark, one.let_down): one.cloth for one in records}
    count = Counter(place for place, *_ in strips)
    own = count.pop(key(cloth), 0)
    if len(count) > 1:  # a strip without a noted cloth is on one that has a name
        del count[""]
    most = max(count, key=lambda place: count[place], default="")
    pots = {(shade, batch) for place, shade, batch, *_ in strips if place == most}
    recipes = [one.recipe for one in batches if one.recipe and (key(one.shade), key(one.name)) in pots]
    if count[most] <= own or own >= ENOUGH * len({key(name) for recipe in recipes for name in recipe.shares()}):
        return None
    return next(written for (place, *_), written in strips.items() if place == most)


def carried_over(
    seen: Iterable[Record],
    done: Sequence[Record],
    here: Iterable[Record],
    state: State,
    cloths: tuple[str, str],
    mixed: tuple[Sequence[Batch], Mapping[str, Pigment]],
) -> CarriedOver | None:
    """What strips on a known cloth, and those `here` on a new one, tell of that; None where nothing shows it bare.

    `seen` are all records, `done` those in the `state` that is mixed for of which the recipe is known; `mixed` are the
    batches and the shelf.
    """
    (known, new), own = cloths, {one.number for one in here}
    # Of an unknown cloth without a name all strips are without one.
    there = on_one_cloth(done, done, known, "").records if known else [one for one in done if not one.cloth]
    other = {one.number for one in there} - own
    rests = alike_of([one for one in done if one.number in own | other], state)
    cards = {record.card for record in rests.records}
    scale = [one for one in seen if (one.colour.absolute if rests.absolute else one.card in cards)]
    bare, read = (bare_of(one for one in scale if key(one.cloth) == key(cloth)) for cloth in cloths)
    on_known, on_new = ([one for one in rests.records if one.number in numbers] for numbers in (other, own))
    # On another cloth a strip of the same pot is another strip.
    earlier = [replace(one, strip=f"{one.strip}\n{key(known)}") for one in known_strips_of(on_known, *mixed)]
    later = [replace(one, later=True) for one in known_strips_of(on_new, *mixed)]
    # Clear base alone hides little of its cloth.
    ground = cloth_of(later) if read is None else read
    if ground is None:
        return None
    return CarriedOver(known, new, BareCloths(bare, ground), (*earlier, *later), state, rests, tuple(on_new))


def bare_of(records: Iterable[Record]) -> Array | None:
    """(81,) reflectance of the bare cloth, the mean of what photos of it show; None where none does."""
    found = [one.colour.cloth or (one.colour.reflectance if key(one.shade) == BARE else None) for one in records]
    read = [each for each in found if each is not None]
    return np.mean(read, axis=0) if read else None


def not_read(cloth: str, known: str) -> Flag:
    """A word on what would count on this cloth if a photo showed it bare."""
    return flag("bare-cloth-not-read", cloth=cloth, known=known)


def nothing_known(
    cloth: str, other: str | None, states: tuple[State, State], elsewhere: bool, cloths: Iterable[str] = ()
) -> SwatchcamError:
    """Why there is nothing to mix with on a cloth in the first of two states; the second is that of the pot's strips.

    `other` cloth is known in that state, if it is not None; something is known `elsewhere`, in whatever state.
    `cloths` are all that any strip is on: one of them may be meant.
    """
    state, strips = states
    if other is None and elsewhere:
        return LibraryError("no-cloth-in-that-state", "photograph-known-strips-so", state=state, cloth=cloth)
    if other is None:
        return LibraryError("no-known-strips", "make-test-series", state=state, cloth=cloth)
    if not state.like(strips):
        return UsageError(
            "new-cloth-in-two-states", "photograph-strip-like-target", cloth=cloth, target=state, strip=strips
        )
    near = sorted({one for one in cloths if one and spelt_alike(key(cloth), key(one))})
    return LibraryError("no-bare-cloth", "photograph-bare-cloth", cloth=cloth, known=other, near=near)
