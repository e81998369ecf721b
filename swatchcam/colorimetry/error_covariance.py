"""What a difference of two colours must know of their errors, and how sure it then is.

Propagation follows JCGM 100:2008: what two colours share cancels in their difference. It does not matter whether they
were measured now, in one photo or in several, or months ago.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from ..arrays import Array, Mask
from .colour_frame import WAYS
from .intervals import interval_of_difference

INK_REACH = 23.0  # CIELAB units over which the ink error of two colours stays alike; no source
FRAME_REACH = 15.0  # the same, of the patches of an unmeasured print: what its frame does not hold; no source
FEWEST_SHARED = 12  # patches that two cards must have in common for their patterns to be compared; no source

NO_SHIFT = np.zeros((3, 1))
NO_SHIFT.setflags(write=False)

Covariance = Array
Pattern = dict[str, tuple[float, float, float]]


@dataclass(frozen=True)
class Errors:
    """What a difference must know of one colour's error, whether it was measured now or long ago."""

    parts: dict[str, Covariance]  # (3, 3) each, read-only
    shared: Array  # (3, n) ΔLab for each independent error that all strips of its photos share
    pattern: Pattern  # patch -> ΔLab that the first photo's fit leaves on it
    photos: tuple[str, ...]  # equal where two colours come from the same photos
    frame: str = ""  # equal where an unmeasured print was taken for the same; empty where the card was measured
    # (3, ways) ΔLab for each independent unknown of such a print
    frame_shift: Array = field(default_factory=lambda: NO_SHIFT)

    @property
    def covariance(self) -> Covariance:
        """(3, 3) of Lab, all parts."""
        return self.of(*self.parts) + self.frame_shift @ self.frame_shift.T

    def of(self, *names: str) -> Covariance:
        """(3, 3) of Lab, these parts."""
        return np.sum([self.parts[name] for name in names], axis=0)


class Measured(Protocol):
    """A colour that was measured, now or long ago."""

    @property
    def name(self) -> str:
        """What it is called in its photo."""

    @property
    def lab(self) -> tuple[float, float, float]:
        """CIELAB."""

    @property
    def errors(self) -> Errors:
        """How far off it may be."""


def covariance_of_difference(one: Measured, other: Measured) -> Covariance:
    """(3, 3) of Lab one minus Lab other: what both share cancels.

    In the same photos fit and eye cancel as far as both colours depend on them alike, and the ink error as far as the
    colours are alike; between photos as far as both balances leave the same pattern of errors on the card (same
    phone, same light).
    """
    way = np.array(one.lab) - np.array(other.lab)
    alike = float(_near(way, INK_REACH))
    a, b = one.errors, other.errors
    own = a.of("noise", "light") + b.of("noise", "light")
    if a.photos == b.photos:
        differing = a.shared - b.shared
        systematic, same = differing @ differing.T, 1.0
    else:
        same = alike * _same_pattern(a.pattern, b.pattern)
        systematic = a.of("fit") + b.of("fit") + (1 - same) * (a.of("eye") + b.of("eye"))
    cards_alike = _near(way, FRAME_REACH) if a.frame and a.frame == b.frame else alike * same
    card = (1 - cards_alike) * (a.of("card") + b.of("card")) + _frames_apart(a, b)
    return own + systematic + (1 - alike * same) * (a.of("ink") + b.of("ink")) + card


def _near(way: Array, reach: float) -> Array:
    """(..., 3) CIELAB from one colour to another -> (...) 0..1: how far an error of that reach is the same in both."""
    return np.asarray(np.exp(-(way**2).sum(axis=-1) / (2 * reach**2)))


def _frames_apart(one: Errors, other: Errors) -> Covariance:
    """(3, 3) of the difference, from what is unknown of unmeasured prints."""
    if one.frame == other.frame:
        differing = one.frame_shift - other.frame_shift
        return differing @ differing.T
    return one.frame_shift @ one.frame_shift.T + other.frame_shift @ other.frame_shift.T


def shared_errors(
    ones: Sequence[Measured],
    others: Sequence[Measured],
    kin: Array | float = 1.0,
    between_photos: float = 1.0,
) -> Array:
    """(n, m, 3, 3) covariance of the errors of each of n colours with those of m: half of what cancels between them.

    Of a colour with itself all cancels; of two it is what `covariance_of_difference` leaves out of the sum of both.

    Parameters
    ----------
    kin : (n, m) or a number, 0..1: how much of the ink error two colours share that are of unlike pigments
    between_photos : 0..1: how much of what one photo shares with another is believed
    """
    longest = max(colour.errors.shared.shape[1] for colour in (*ones, *others))  # several photos share more than one
    a, b = (_stacked(colours, longest) for colours in (ones, others))
    way = a.lab[:, None] - b.lab[None]
    alike = _near(way, INK_REACH)
    together = equal_pairs([one.errors.photos for one in ones], [other.errors.photos for other in others])
    itself = equal_pairs([(one.name, one.lab) for one in ones], [(other.name, other.lab) for other in others])
    same = np.where(together, 1.0, between_photos * alike * _patterns(ones, others))
    one_frame = equal_pairs([one.errors.frame for one in ones], [other.errors.frame for other in others])
    one_frame &= np.array([bool(one.errors.frame) for one in ones])[:, None]
    cards = a.card[:, None] + b.card[None]
    apart = np.asarray(kin)[..., None, None] * (a.ink[:, None] + b.ink[None]) + cards
    found = (alike * same)[..., None, None] * apart / 2
    if one_frame.any():  # many a library has none, and these are its largest arrays
        found += np.where(one_frame, _near(way, FRAME_REACH) - alike * same, 0.0)[..., None, None] * cards / 2
        frames = one_frame[..., None, None] * np.einsum("nik,mjk->nmij", a.frame, b.frame)
        found += (frames + np.swapaxes(frames, 2, 3)) / 2
    found += np.where(together, 0.0, same)[..., None, None] * (a.eye[:, None] + b.eye[None]) / 2
    i, j = np.nonzero(together)
    differing = a.shared[i] - b.shared[j]
    found[i, j] += (a.fit[i] + b.fit[j] + a.eye[i] + b.eye[j] - differing @ np.swapaxes(differing, 1, 2)) / 2
    i, j = np.nonzero(together & itself)
    found[i, j] = a.whole[i]
    return found


@dataclass(frozen=True)
class _Stacked:
    """Of n colours what their errors have in common with others."""

    lab: Array  # (n, 3)
    fit: Array  # (n, 3, 3)
    eye: Array  # (n, 3, 3)
    ink: Array  # (n, 3, 3)
    card: Array  # (n, 3, 3)
    whole: Array  # (n, 3, 3)
    shared: Array  # (n, 3, longest); what a colour has less of is 0
    frame: Array  # (n, 3, ways) likewise


def _stacked(colours: Sequence[Measured], longest: int) -> _Stacked:
    errors = [colour.errors for colour in colours]
    parts = {name: np.array([each.parts[name] for each in errors]) for name in errors[0].parts}
    shared = _filled_up([each.shared for each in errors], longest)
    frame = _filled_up([each.frame_shift for each in errors], WAYS)
    whole = np.sum(list(parts.values()), axis=0) + frame @ np.swapaxes(frame, 1, 2)
    lab = np.array([colour.lab for colour in colours])
    return _Stacked(lab, parts["fit"], parts["eye"], parts["ink"], parts["card"], whole, shared, frame)


def _filled_up(rows: Sequence[Array], longest: int) -> Array:
    """(n, 3, longest) of arrays (3, up to that many)."""
    filled = np.zeros((len(rows), 3, longest))
    for place, row in enumerate(rows):
        filled[place, :, : row.shape[1]] = row
    return filled


def positive(covariance: Array, least: float) -> Array:
    """A covariance without the little below zero that rounding may have left."""
    values, axes = np.linalg.eigh((covariance + covariance.T) / 2)
    return np.asarray((axes * np.maximum(values, least)) @ axes.T)


def square(blocks: Array) -> Array:
    """(n, m, 3, 3) -> (3 n, 3 m)."""
    n, m = blocks.shape[:2]
    return np.asarray(blocks.transpose(0, 2, 1, 3).reshape(3 * n, 3 * m))


def blocks_of(square: Array) -> Array:
    """(3 n, 3 m) -> (n, m, 3, 3)."""
    n, m = square.shape[0] // 3, square.shape[1] // 3
    return np.asarray(square.reshape(n, 3, m, 3).transpose(0, 2, 1, 3))


def equal_pairs(ones: Sequence[Hashable], others: Sequence[Hashable]) -> Mask:
    """(n, m) which of these are the same."""
    numbers = {each: number for number, each in enumerate(dict.fromkeys([*ones, *others]))}
    first, second = (np.array([numbers[each] for each in those]) for those in (ones, others))
    return np.asarray(first[:, None] == second[None])


def _patterns(ones: Sequence[Measured], others: Sequence[Measured]) -> Array:
    """(n, m) how alike the patterns are that the photos of each pair leave; both windows of a photo leave the same."""
    of_photos: dict[tuple[str, ...], Pattern] = {}
    for colour in (*ones, *others):
        of_photos.setdefault(colour.errors.photos, colour.errors.pattern)
    alike = _alike_patterns(list(of_photos.values()))
    numbers = {photos: number for number, photos in enumerate(of_photos)}
    first, second = ([numbers[colour.errors.photos] for colour in colours] for colours in (ones, others))
    return np.asarray(alike[np.ix_(first, second)])


def interval(one: Measured, other: Measured, level: float = 0.95) -> tuple[float, float]:
    """Interval of the true CIEDE2000 between two colours."""
    return interval_of_difference(np.array(one.lab), np.array(other.lab), covariance_of_difference(one, other), level)


def interval_to(one: Measured, target: Array, level: float = 0.95) -> tuple[float, float]:
    """Interval of the true CIEDE2000 between a colour and a target known exactly."""
    return interval_of_difference(np.array(one.lab), target, one.errors.covariance, level)


def _same_pattern(one: Pattern, other: Pattern) -> float:
    """0..1: how alike the errors are that two balances leave on the same patches."""
    return float(_alike_patterns([one, other])[0, 1])


def _alike_patterns(patterns: Sequence[Pattern]) -> Array:
    """(n, n) the same of each pair: the cosine between them, over the patches that both have."""
    places = {name: place for place, name in enumerate(dict.fromkeys(name for each in patterns for name in each))}
    left, there = np.zeros((len(patterns), len(places), 3)), np.zeros((len(patterns), len(places)))
    for number, pattern in enumerate(patterns):
        which = [places[name] for name in pattern]
        left[number, which], there[number, which] = list(pattern.values()) or np.zeros((0, 3)), 1.0
    flat = left.reshape(len(patterns), -1)
    square = (left**2).sum(axis=-1) @ there.T  # of each, over the patches that the other has too
    size = np.sqrt(square * square.T)
    cosine = np.divide(flat @ flat.T, size, out=np.ones_like(size), where=size > 0)
    return np.where(there @ there.T < FEWEST_SHARED, 0.0, np.clip(cosine, 0, 1))
