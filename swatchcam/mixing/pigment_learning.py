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

import numpy as np

from ..arrays import Array
from ..colorimetry.error_covariance import shared_errors
from ..colorimetry.spectra import reflectance_to_lab
from ..errors import UsageError
from .film_model import DYED, FILM, Layer, lab_slopes
from .known_strip import KnownStrip
from .pigment_model import MISFIT, OTHER_PHOTO, UNLIKE, Palette, Told, blocks_of, positive, square
from .prior import OFF, UNSEEN_CLOTH, FilmScatter, alike, cloth_of, first_guess, place, scatters

ROUNDS, STILL, LONGEST_STEP = 15, 1e-3, 1.0  # at most; of theta, at rest and in one round: more change nothing
LEAST_TOLD = 1e-4  # CIELAB squared: no variance of the known strips' errors is less, whatever cancels; no source
MOST_ODD = 5  # strips that are looked at one by one for whether they fit their recipe; no source
LEAST_LEFT = 0.1  # of a pigment's share in a pot, however little of it its strips show; no source


def learn(known_strips: Sequence[KnownStrip]) -> Palette:
    """All known strips of one cloth -> the palette; of film and dyed cloth the theory that makes them likelier.

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
    errors = _errors(known_strips)
    found = [_learn(Layer(pigments, kind, ground), tuple(known_strips), errors) for kind in (FILM, DYED)]
    return max(found, key=lambda palette: palette.evidence)


def _errors(known_strips: Sequence[KnownStrip]) -> Array:
    """(3 n, 3 n) covariance of the errors with which n known strips were measured."""
    colours = [known_strip.colour for known_strip in known_strips]
    kin = np.array(
        [
            [1.0 if one.shares.keys() == other.shares.keys() else UNLIKE for other in known_strips]
            for one in known_strips
        ]
    )
    # Told pair by pair it may contradict itself a little: what lies below zero is taken away.
    return positive(square(shared_errors(colours, colours, kin, OTHER_PHOTO)), LEAST_TOLD)


def _learn(layer: Layer, known_strips: tuple[KnownStrip, ...], errors: Array) -> Palette:
    """Gauss-Newton rounds: about the likeliest numbers, films and shares all is taken as linear, and weighed anew."""
    written = np.array([[strip.shares.get(name, 0.0) for name in layer.pigments] for strip in known_strips])
    std = np.array([[strip.shares_std.get(name, 0.0) for name in layer.pigments] for strip in known_strips])
    same_pot = np.array([[one.pot == other.pot for other in known_strips] for one in known_strips])
    usual, known, films = _films(known_strips)
    mean, doubt = first_guess(layer, known_strips)
    theta, film, shares = mean, usual, written
    for _ in range(ROUNDS):
        strips = _linear(layer, known_strips, theta, films @ film, shares)
        moved = (strips.by_film * np.repeat(films @ (film - usual), 3)).reshape(-1, 3)
        moved = moved + np.einsum("nip,np->ni", strips.by_shares, shares - written)
        off = strips.off + strips.slope @ (theta - mean) + moved.ravel()
        by_film = strips.by_film[:, None] * np.repeat(films, 3, axis=0)
        slipped = strips.by_shares * std[:, None]
        own = np.einsum("nip,mjp,nm->nmij", slipped, slipped, same_pot)
        own = own + OFF**2 * np.einsum("nm,nik,mjk->nmij", alike(strips.features, strips.features), *2 * [strips.axes])
        sure = np.isfinite(known)
        base = strips.slope @ doubt @ strips.slope.T + errors + square(own)
        base = base + (by_film[:, sure] * known[sure] ** 2) @ by_film[:, sure].T
        scatter, weight, evidence = likely_scatter(base, by_film[:, ~sure], off)
        told = weight @ off
        step = mean + doubt @ strips.slope.T @ told - theta
        longest = np.abs(step).max()
        part = min(1.0, LONGEST_STEP / longest)
        theta = theta + part * step
        film = film + part * (usual + np.where(sure, known, scatter.std) ** 2 * (by_film.T @ told) - film)
        found = written + std**2 * (same_pot @ np.einsum("nip,ni->np", strips.by_shares, told.reshape(-1, 3)))
        shares = shares + part * (np.maximum(found, LEAST_LEFT * written) - shares)
        if longest < STILL:
            break
    return Palette(layer, known_strips, theta, doubt, evidence, strips, told, weight, scatter, off, by_film[:, ~sure])


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
    slopes, to_lab = layer.slopes(theta, shares, np.exp(film)), lab_slopes(reflectance)
    seen = np.array([known_strip.colour.lab for known_strip in known_strips])
    return Told(
        shares,
        (to_lab @ slopes.theta).reshape(-1, layer.unknowns),
        (to_lab @ slopes.strength[..., None]).ravel(),
        to_lab @ slopes.shares,
        *place(reflectance),
        (seen - reflectance_to_lab(reflectance)).ravel(),
    )


def misfits(palette: Palette) -> list[KnownStrip]:
    """Known strips that do not look like what all the others say of their recipe, at 99 %, the worst first.

    One that is wrong makes its neighbours look wrong too: where there are several, look at the first. It makes all
    films look unlike as well: so of those that would be odd if films were as like as they may be, each is left out
    in turn, and judged by the scatter that the others tell.

    Source
    ------
    Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 5.4.2, for a known strip left out.
    """
    off, scatter = palette.off, palette.scatter
    base = np.linalg.inv(palette.weight) - scatter.std**2 * palette.by_film @ palette.by_film.T
    sizes = _misfit_sizes(base, palette.by_film, off, scatter.low)
    odd = [at for at in np.argsort(-sizes)[:MOST_ODD] if sizes[at] > MISFIT]
    found: list[tuple[float, KnownStrip]] = []
    for at in odd:
        rest = np.delete(np.arange(len(off)), np.s_[3 * at : 3 * at + 3])
        without = likely_scatter(base[np.ix_(rest, rest)], palette.by_film[rest], off[rest])[0]
        size = _misfit_sizes(base, palette.by_film, off, without.std)[at]
        found.append((float(size), palette.known_strips[at]))
    return [known_strip for size, known_strip in sorted(found, key=lambda each: -each[0]) if size > MISFIT]


def _misfit_sizes(base: Array, by_film: Array, off: Array, scatter: float) -> Array:
    """(n,) how far each strip is off what the others say of it (Mahalanobis 1936), squared, with that film scatter."""
    weight = np.asarray(np.linalg.inv(base + scatter**2 * by_film @ by_film.T), dtype=float)
    told = (weight @ off).reshape(-1, 3)
    own = blocks_of(weight)[range(len(told)), range(len(told))]
    return np.asarray(np.einsum("ni,nij,nj->n", told, np.linalg.inv(own), told))


def likely_scatter(base: Array, by_film: Array, off: Array) -> tuple[FilmScatter, Array, float]:
    """How unlike films are, judging from what strips are off; the inverse of their covariance; the evidence.

    Parameters
    ----------
    base : (3 n, 3 n) covariance of what n strips are off, but for their films
    by_film : (3 n, f) how they move with the logarithms of f films
    off : (3 n,) what they are off

    Source
    ------
    The evidence of each scatter, MacKay 1992, doi:10.1162/neco.1992.4.3.415; all of them at the cost of one, by the
    matrix inversion lemma along the eigenvectors of what the strips tell of their films.
    """
    tried, thought = scatters()
    inverse = np.linalg.inv(base)
    told = by_film.T @ inverse
    size, ways = np.linalg.eigh(told @ by_film)
    along, size = (ways.T @ told @ off) ** 2, np.maximum(size, 0.0)
    more = 1 + tried[:, None] ** 2 * size
    gain = (tried[:, None] ** 2 * along / more - np.log(more)).sum(axis=1) / 2 + thought
    likely = np.exp(gain - gain.max())
    evidence = gain.max() + np.log(likely.sum()) - (np.linalg.slogdet(base)[1] + off @ inverse @ off) / 2
    scatter = FilmScatter.of(tried, likely / likely.sum(), by_film.shape[1])
    shrunk = (ways * (scatter.std**2 / (1 + scatter.std**2 * size))) @ ways.T
    return scatter, inverse - told.T @ shrunk @ told, float(evidence)
