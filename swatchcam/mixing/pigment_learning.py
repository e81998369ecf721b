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

from collections.abc import Hashable, Sequence

import numpy as np

from ..arrays import Array, Mask
from ..colorimetry.error_covariance import shared_errors
from ..colorimetry.spectra import reflectance_to_lab
from ..errors import UsageError
from .film_model import DYED, FILM, Layer, lab_slopes
from .known_strip import KnownStrip
from .pigment_model import MISFIT, OTHER_PHOTO, UNLIKE, Palette, Told, positive, square
from .prior import FILM_SCATTER, OFF, UNSEEN_CLOTH, Unlike, alike, cloth_of, first_guess, place

ROUNDS, LONGEST_STEP = 15, 1.0  # at most; of theta, in one round: more change nothing
ENOUGH, SURELY = 100, 30.0  # strips that show which theory it is; natural logarithm by which one is then out; no source
BACK = 0.7  # of a round's step, where the one before went too far; from drawn studios
STILL = 0.015  # CIELAB units by which no known strip's theory moves further: at rest; no source
LEAST_TOLD = 1e-4  # CIELAB squared: no variance of the known strips' errors is less, whatever cancels; no source
MOST_ODD = 5  # strips that are looked at one by one for whether they fit their recipe; no source
LEAST_LEFT = 0.1  # of a pigment's share in a pot, however little of it its strips show; no source


def learn(known_strips: Sequence[KnownStrip], before: Palette | None = None) -> Palette:
    """All known strips of one cloth -> the palette; of film and dyed cloth the theory that makes them likelier.

    `before` is what nearly the same strips taught: with its theory and its numbers one begins.

    Raises
    ------
    UsageError
        There is no known strip with a pigment in it.
    """
    pigments = tuple(sorted({name for known_strip in known_strips for name in known_strip.shares}))
    if not pigments:
        raise UsageError("no-pigment-in-strips", "make-test-series")
    cloth = cloth_of(known_strips)
    ground = np.full(81, UNSEEN_CLOTH) if cloth is None else cloth
    every, errors = tuple(known_strips), _errors(known_strips)
    if before is not None and before.pigments == pigments:
        return _learn(Layer(pigments, before.layer.kind, ground), every, errors, before)
    # Where there are many, some of them tell nearly as well, and at a fraction of the cost, which theory it is.
    step = -(-len(every) // ENOUGH)
    few = errors.reshape(len(every), 3, len(every), 3)[::step, :, ::step].reshape(3 * len(every[::step]), -1)
    found = [_learn(Layer(pigments, kind, ground), every[::step], few) for kind in (FILM, DYED)]
    likeliest = max(found, key=lambda palette: palette.evidence)
    if step == 1:
        return likeliest
    likely = [palette for palette in found if palette.evidence > likeliest.evidence - SURELY]
    return max(
        (_learn(palette.layer, every, errors, palette) for palette in likely), key=lambda palette: palette.evidence
    )


def _errors(known_strips: Sequence[KnownStrip]) -> Array:
    """(3 n, 3 n) covariance of the errors with which n known strips were measured."""
    colours = [known_strip.colour for known_strip in known_strips]
    kin = np.where(_equal([frozenset(known_strip.shares) for known_strip in known_strips]), 1.0, UNLIKE)
    # Told pair by pair it may contradict itself a little: what lies below zero is taken away.
    return positive(square(shared_errors(colours, colours, kin, OTHER_PHOTO)), LEAST_TOLD)


def _learn(layer: Layer, known_strips: tuple[KnownStrip, ...], errors: Array, before: Palette | None = None) -> Palette:
    """Gauss-Newton rounds: about the likeliest numbers, films and shares all is taken as linear, and weighed anew.

    `before` is what nearly the same strips taught.
    """
    written = np.array([[strip.shares.get(name, 0.0) for name in layer.pigments] for strip in known_strips])
    std = np.array([[strip.shares_std.get(name, 0.0) for name in layer.pigments] for strip in known_strips])
    usual, known, films = _films(known_strips)
    same_pot = _equal([strip.pot for strip in known_strips])
    sure, own_film, own_pot = np.isfinite(known), *(_each_by_three(same) for same in (films @ films.T, same_pot))
    mean, doubt = first_guess(layer, known_strips)
    theta, film, shares, spread = mean, usual, written, FILM_SCATTER
    if before is not None:
        theta, spread = before.theta, before.scatter.std
    part, last = 1.0, np.zeros_like(mean)
    for _ in range(ROUNDS):
        strips = _linear(layer, known_strips, theta, films @ film, shares)
        thick, theory = strips.by_film, strips.axes.reshape(len(strips.off), 3)
        moved = (thick * np.repeat(films @ (film - usual), 3)).reshape(-1, 3)
        moved = moved + np.einsum("nip,np->ni", strips.by_shares, shares - written)
        off = strips.off + strips.slope @ (theta - mean) + moved.ravel()
        slipped = (strips.by_shares * std[:, None]).reshape(len(off), -1)
        weighed = thick * np.repeat(films @ np.where(sure, known, 0.0), 3)
        near = _each_by_three(alike(strips.features, strips.features))
        known_strips_before = strips.slope @ doubt @ strips.slope.T + errors
        base = known_strips_before + (slipped @ slipped.T) * own_pot + OFF**2 * near * (theory @ theory.T)
        base = base + np.outer(weighed, weighed) * own_film
        by_film = thick[:, None] * np.repeat(films[:, ~sure], 3, axis=0)
        unlike = Unlike.of(off, base, by_film)
        scatter, gain = unlike.scatter()
        spread = scatter.std
        told = unlike.told(spread)
        step = mean + doubt @ (strips.slope.T @ told) - theta
        longest = np.abs(step).max()
        part = part if step @ last >= 0 else BACK * part  # it went too far: what is left would swing to and fro
        now, last = min(part, LONGEST_STEP / longest), step
        to_film = usual + np.where(sure, known, spread) ** 2 * (films.T @ (thick * told).reshape(-1, 3).sum(axis=1))
        to_shares = written + std**2 * (same_pot @ np.einsum("nip,ni->np", strips.by_shares, told.reshape(-1, 3)))
        to_shares = np.maximum(to_shares, LEAST_LEFT * written)
        goes = strips.slope @ step, thick * np.repeat(films @ (to_film - film), 3)
        theta, film, shares = theta + now * step, film + now * (to_film - film), shares + now * (to_shares - shares)
        if now * np.abs(goes).max() < STILL:
            break
    evidence = gain - (np.linalg.slogdet(base)[1] + off @ unlike.inverse @ off) / 2
    weight = unlike.weight(spread)
    return Palette(layer, known_strips, theta, doubt, float(evidence), strips, told, weight, scatter, unlike)


def _films(known_strips: Sequence[KnownStrip]) -> tuple[Array, Array, Array]:
    """(f,) logarithms of the films, (f,) their standard deviations, NaN as the studio's; (n, f) whose they are."""
    names = list(dict.fromkeys(strip.strip for strip in known_strips))
    first = [next(strip for strip in known_strips if strip.strip == name) for name in names]
    usual = np.log([strip.film for strip in first])
    known = np.array([np.nan if strip.film_std is None else strip.film_std for strip in first])
    return usual, known, np.array([[float(strip.strip == name) for name in names] for strip in known_strips])


def _linear(layer: Layer, known_strips: Sequence[KnownStrip], theta: Array, film: Array, shares: Array) -> Told:
    """The known strips, with the logarithms of their films (n,) and their shares (n, pigments)."""
    reflectance = layer.reflectance(theta, shares, np.exp(film))
    slopes = layer.slopes(theta, shares, np.exp(film), lab_slopes(reflectance))
    seen = np.array([known_strip.colour.lab for known_strip in known_strips])
    return Told(
        shares,
        film,
        slopes.theta.reshape(-1, layer.unknowns),
        slopes.strength.ravel(),
        slopes.shares,
        *place(reflectance),
        (seen - reflectance_to_lab(reflectance)).ravel(),
    )


def _equal(things: Sequence[Hashable]) -> Mask:
    """(n, n) which of them are the same."""
    numbers = {thing: number for number, thing in enumerate(dict.fromkeys(things))}
    one = np.array([numbers[thing] for thing in things])
    return np.asarray(one[:, None] == one[None])


def _each_by_three(pairs: Array | Mask) -> Array:
    """(n, n) -> (3 n, 3 n): the same for all three numbers of a colour."""
    return np.asarray(np.repeat(np.repeat(pairs, 3, axis=0), 3, axis=1))


def misfits(palette: Palette) -> list[KnownStrip]:
    """Known strips that do not look like what all the others say of their recipe, at 99 %, the worst first.

    One that is wrong makes its neighbours look wrong too: where there are several, look at the first. It makes all
    films look unlike as well: so of those that would be odd if films were as like as they may be, each is left out
    in turn, and judged by the scatter that the others tell.

    Source
    ------
    Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 5.4.2, for a known strip left out.
    """
    sizes = _misfit_sizes(palette.unlike, palette.scatter.low)
    odd = [at for at in np.argsort(-sizes)[:MOST_ODD] if sizes[at] > MISFIT]
    found: list[tuple[float, KnownStrip]] = []
    for at in odd:
        others = palette.unlike.without(int(at)).scatter()[0]
        found.append((float(_misfit_sizes(palette.unlike, others.std)[at]), palette.known_strips[at]))
    return [known_strip for size, known_strip in sorted(found, key=lambda each: -each[0]) if size > MISFIT]


def _misfit_sizes(unlike: Unlike, scatter: float) -> Array:
    """(n,) how far each strip is off what the others say of it (Mahalanobis 1936), squared, with that film scatter."""
    told = unlike.told(scatter).reshape(-1, 3)
    return np.asarray(np.einsum("ni,nij,nj->n", told, np.linalg.inv(unlike.blocks(scatter)), told))
