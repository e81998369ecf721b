"""The studio's pigments on one cloth: learned from all its known strips together.

The layer's theory (`film_model`) with numbers that are not known, how far the theory is off in each part of colour
space, each strip's film, what each pot's recipe is off, and how a phone errs alike in like colours are all taken as
normally distributed, and all strips are explained at once (Gauss-Newton steps to the likeliest numbers; Tarantola 2005,
Inverse Problem Theory, 3.4.10). What the theory leaves over is carried to neighbouring colours, as Kennedy & O'Hagan
2001, doi:10.1111/1467-9868.00294, do for models that are not quite true.

How unlike a studio's films are nobody needs to say: of all scatters the strips tell which are likely (the evidence of
MacKay 1992, doi:10.1162/neco.1992.4.3.415), about what is thought of it beforehand.

What is seen is CIELAB with its covariance, not the estimated reflectance: a phone's three channels know no more, and
evidence that is counted twice makes predictions false (tried on build studios: 1.4 instead of 1.1 CIEDE2000). Unlike
pigments share less of a phone's error than similar ones do: when all of it was taken as shared, the intervals for
targets made of other pigments held the truth only half the time. Between photos half is taken as shared. Scatter,
surface and crowding have wide priors, so they stay at their starting values where the data say nothing about them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Array, Mask
from ..colorimetry.spectra import reflectance_to_lab
from ..errors import UsageError
from .film_model import Layer, lab_slopes
from .known_strip import Given, KnownStrip
from .other_cloth import BareCloths, layers_of, moves_of
from .pigment_model import Palette, Told
from .prior import FILM_SCATTER, OFF, Unlike, alike, cloth_of, first_guess, place
from .state_shift import Middles, StateShift, judge_shift, usual_shift, with_shift

ROUNDS, LONGEST_STEP = 15, 1.0  # at most; of theta, in one round: more change nothing
ENOUGH, SURELY = 100, 30.0  # strips that show which theory it is; natural logarithm by which one is then out; no source
# Of a round's step where the one before went too far, and where it went the same way (cosine), at most; from drawn
# studios: after fifteen rounds predictions are within 0.01 CIEDE2000 of where they come to rest.
BACK, FASTER, SAME_WAY, MOST_OF_IT = 0.7, 1.3, 0.5, 2.0
STILL, NEARLY = 0.01, 0.3  # CIELAB units by which no known strip's theory moves further: at rest; no source
LEAST_LEFT = 0.1  # of a pigment's share in a pot, however little of it its strips show; no source


def learn(
    known_strips: Sequence[KnownStrip],
    before: Palette | None = None,
    *,
    two_states: bool = False,
    cloths: BareCloths | None = None,
) -> Palette:
    """All known strips -> the palette; of several theories the one that makes them likeliest.

    `before` is what nearly the same strips taught: with its theory and its numbers one begins. The palette of
    `two_states` tells the later one, even where no strip shows it: then it hardly knows. With two `cloths` the later
    strips are those on the new one, and the palette tells of that.

    Raises
    ------
    UsageError
        There is no known strip with a pigment in it.
    """
    pigments = tuple(sorted({name for known_strip in known_strips for name in known_strip.shares}))
    if not pigments:
        raise UsageError("no-pigment-in-strips", "make-test-series")
    layers = layers_of(pigments, cloth_of(known_strips), two_states, cloths)
    given = Given.of(known_strips, pigments)
    for layer in layers:
        if before is not None and layer.like(before.layer):
            return _learn(layer, given, before)
    # Where there are many, some of them tell nearly as well, and at a fraction of the cost, which theory it is.
    step = -(-len(known_strips) // ENOUGH)
    still = STILL if step == 1 else NEARLY
    found = [_learn(layer, given.some(step), still=still) for layer in layers]
    likeliest = max(found, key=lambda palette: palette.evidence)
    if step == 1:
        return likeliest
    likely = [palette for palette in found if palette.evidence > likeliest.evidence - SURELY]
    return max((_learn(palette.layer, given, palette) for palette in likely), key=lambda palette: palette.evidence)


@dataclass(frozen=True)
class _Thought:
    """The likeliest numbers so far."""

    theta: Array  # (unknowns,)
    film: Array  # (n,) logarithms
    shares: Array  # (n, pigments) %

    def towards(self, other: _Thought, part: float) -> _Thought:
        """Part of the way from here to there."""
        pairs = zip(vars(self).values(), vars(other).values(), strict=True)
        return _Thought(*(here + part * (there - here) for here, there in pairs))


def _learn(layer: Layer, given: Given, before: Palette | None = None, still: float = STILL) -> Palette:
    """Gauss-Newton rounds: about the likeliest numbers, films and shares all is taken as linear, and weighed anew.

    `before` is what nearly the same strips taught.
    """
    first, thought = first_guess(layer, given.strips)
    mean = np.concatenate([first, np.zeros(layer.unknowns - len(first))])
    moves, middles = moves_of(layer)
    here = _start(given, mean, before)
    scatter, shift = (before.scatter.std, before.shift) if before else (FILM_SCATTER, usual_shift(middles))
    part, last, weighs, nearly = 1.0, np.zeros_like(mean), before is None, False
    for left in range(ROUNDS, 0, -1):
        strips = _linear(layer, given, here)
        off = _off(given, strips, here, mean)
        if moves is not None and given.later.any() and (weighs or left == 1):
            shift = _shift(given, strips, off, thought, (moves, middles), scatter)
        doubt = with_shift(thought, moves, shift.size)
        base = _before(given, strips, doubt, shift)
        if weighs or left == 1:
            unlike = Unlike.of(off, base, _by_film(given, strips))
            found, gain = unlike.scatter()
            scatter, told = found.std, unlike.told(found.std)
        else:
            told = _told(given, strips, off, base, scatter)
        likely = _likely(given, strips, told, scatter, mean + doubt @ (strips.slope.T @ told))
        step, films = likely.theta - here.theta, likely.film - here.film
        part, last = _part(part, step, last), step
        now = min(part, LONGEST_STEP / np.abs(step).max())
        moved = now * max(np.abs(strips.slope @ step).max(), np.abs(strips.by_film * np.repeat(films, 3)).max())
        here = here.towards(likely, now)
        if moved < still and weighs:
            break
        # Of many the scatter is judged when they are nearly at rest with that of before, and at rest: it takes long.
        weighs = before is None or moved < still or (moved < NEARLY and not nearly)
        nearly = nearly or moved < NEARLY
    evidence = gain - (np.linalg.slogdet(base)[1] + off @ unlike.inverse @ off) / 2
    weight = unlike.weight(scatter)
    return Palette(layer, given.strips, here.theta, doubt, float(evidence), strips, told, weight, found, unlike, shift)


def _told(given: Given, strips: Told, off: Array, base: Array, scatter: float) -> Array:
    """(3 n,) what the strips are off, weighed by how much it tells where films are so unlike."""
    return np.asarray(np.linalg.solve(base + _films(given, strips, scatter), off))


def _films(given: Given, strips: Told, scatter: float) -> Array:
    """(3 n, 3 n) covariance of films that nobody weighed, where they are so unlike."""
    films = strips.by_film * np.repeat(np.isnan(given.film_std), 3) * scatter
    return np.asarray(np.outer(films, films) * _each_by_three(given.same_strip))


def _start(given: Given, mean: Array, before: Palette | None) -> _Thought:
    """Where one begins: at what is thought of pigments and was written of strips, or at what was learned before."""
    here = _Thought(mean, given.film.copy(), given.shares.copy())
    if before is None:
        return here
    known = {strip.strip: at for at, strip in enumerate(before.known_strips)}
    for at, strip in enumerate(given.strips):
        if strip.strip in known:
            here.film[at] = before.strips.film[known[strip.strip]]
            here.shares[at] = before.strips.shares[known[strip.strip]]
    return replace(here, theta=before.theta)


def _part(before: float, step: Array, last: Array) -> float:
    """How much of a step is made: less where the one before went too far, more where it creeps on the same way."""
    way = float(step @ last)
    if way < 0:
        return BACK * before
    creeps = way > SAME_WAY * float(np.linalg.norm(step) * np.linalg.norm(last))
    return min(FASTER * before, MOST_OF_IT) if creeps and before * np.abs(last).max() < LONGEST_STEP else before


def _off(given: Given, strips: Told, here: _Thought, mean: Array) -> Array:
    """(3 n,) what the strips' Lab is off what was thought beforehand."""
    moved = (strips.by_film * np.repeat(here.film - given.film, 3)).reshape(-1, 3)
    moved = moved + np.einsum("nip,np->ni", strips.by_shares, here.shares - given.shares)
    return np.asarray(strips.off + strips.slope @ (here.theta - mean) + moved.ravel())


def _before(given: Given, strips: Told, doubt: Array, shift: StateShift) -> Array:
    """(3 n, 3 n) covariance of that, but for the films that nobody weighed."""
    slipped = (strips.by_shares * given.shares_std[:, None]).reshape(len(strips.off), -1)
    weighed = strips.by_film * np.repeat(np.nan_to_num(given.film_std), 3)
    theory = strips.axes.reshape(len(strips.off), 3)
    near = alike(strips.features, strips.features)
    apart = OFF**2 * near + np.outer(given.later, given.later) * (
        shift.off**2 * near + shift.uneven**2 * given.same_strip
    )
    found = strips.slope @ doubt @ strips.slope.T + given.errors
    found += (slipped @ slipped.T) * _each_by_three(given.same_pot)
    found += (theory @ theory.T) * _each_by_three(apart)
    if weighed.any():
        found += np.outer(weighed, weighed) * _each_by_three(given.same_strip)
    return found


def _shift(
    given: Given, strips: Told, off: Array, thought: Array, moving: tuple[Array, Middles], scatter: float
) -> StateShift:
    """How much there is of what the later strips add, judging from what the strips are off; `moving` as `moves_of`."""
    moves, middles = moving
    added, both = strips.slope[:, len(thought) :], np.outer(given.later, given.later)
    axes = strips.axes.reshape(len(off), 3)
    parts = (
        added @ moves @ added.T,
        (axes @ axes.T) * _each_by_three(both * alike(strips.features, strips.features)),
        (axes @ axes.T) * _each_by_three(both & given.same_strip),
    )
    none = with_shift(thought, moves, 0.0)
    base = _before(given, strips, none, StateShift(0.0, 0.0, 0.0, 0)) + _films(given, strips, scatter)
    return judge_shift(off, base, parts, given.later, middles)


def _by_film(given: Given, strips: Told) -> Array:
    """(3 n, f) how the strips' Lab moves with the logarithms of the films that nobody weighed."""
    return np.asarray(strips.by_film[:, None] * np.repeat(given.open_films, 3, axis=0))


def _likely(given: Given, strips: Told, told: Array, scatter: float, theta: Array) -> _Thought:
    """The likeliest numbers, films and shares, judging from what the strips are off, weighed."""
    by_film = given.same_strip @ (strips.by_film * told).reshape(-1, 3).sum(axis=1)
    by_shares = given.same_pot @ np.einsum("nip,ni->np", strips.by_shares, told.reshape(-1, 3))
    shares = np.maximum(given.shares + given.shares_std**2 * by_shares, LEAST_LEFT * given.shares)
    return _Thought(theta, given.film + given.film_var(scatter) * by_film, shares)


def _linear(layer: Layer, given: Given, here: _Thought) -> Told:
    """The known strips about the likeliest numbers so far."""
    rows = [np.flatnonzero(given.later == later).tolist() for later in (False, True)]
    parts = [_seen(layer, here, where, later) for where, later in zip(rows, (False, True), strict=True) if where]
    back = np.argsort(rows[0] + rows[1])
    reflectance, theta, strength, shares = (np.concatenate(each)[back] for each in zip(*parts, strict=True))
    seen = np.array([known_strip.colour.lab for known_strip in given.strips])
    return Told(
        here.shares,
        here.film,
        theta.reshape(-1, layer.unknowns),
        strength.ravel(),
        shares,
        *place(reflectance),
        (seen - reflectance_to_lab(reflectance)).ravel(),
    )


def _seen(layer: Layer, here: _Thought, where: list[int], later: bool) -> tuple[Array, Array, Array, Array]:
    """Reflectance and slopes of the strips at some places, all in one state."""
    shares, film = here.shares[where], np.exp(here.film[where])
    reflectance = layer.reflectance(here.theta, shares, film, later)
    slopes = layer.slopes(here.theta, shares, film, lab_slopes(reflectance), later)
    return reflectance, slopes.theta, slopes.strength, slopes.shares


def _each_by_three(pairs: Array | Mask) -> Array:
    """(n, n) -> (3 n, 3 n): the same for all three numbers of a colour."""
    return np.asarray(np.repeat(np.repeat(pairs, 3, axis=0), 3, axis=1))
