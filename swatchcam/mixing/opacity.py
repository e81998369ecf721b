"""Is an ink opaque? One film over dark and over light cloth -> its contrast ratio, and that of two or three passes.

The luminous reflectance Y over dark cloth divided by that over light cloth is 1 for a film that hides the cloth. From
the two cloths as well the film itself is known (Kubelka and Munk), and so what a second film on top of it would do.
A film is taken to lie on the cloth, each pass alike: cloth that drinks the first pass needs more than is said here.
Y depends on L* alone, and so do the intervals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from ..arrays import Array
from ..colorimetry.cielab import lab_to_xyz
from ..colorimetry.error_covariance import Errors
from ..colorimetry.intervals import quantile
from ..colorimetry.spectra import xyz_weights
from ..colorimetry.two_ground_film import FAINTEST, GLOSS, ratios_of_passes, surface_of
from ..errors import UsageError
from ..library.records import WET, Record, light_of
from ..measurement.measure import Measurement
from ..measurement.stored_colour import Kept, keep
from ..messages.message import Flag, flag
from ..text import key

CRITERION = 0.98  # ASTM D2805, from memory
MORE = 2, 3  # passes that are predicted; no source
TAILS = 0.025, 0.975
DRAWS = 1000  # pairs of colours that the two strips may have; no source
ALIKE = 0.8  # cloths whose own contrast ratio is above this tell little of what hides them; common practice, no source


class Outcome(StrEnum):
    """Whether an ink is opaque, and what to do about it."""

    COVERS = "covers"  # one pass does
    SECOND_PASS = "second-pass"  # a second one is enough
    NEEDS_BASE = "needs-base"  # two do not: a white (or lighter) base is needed
    CANNOT_TELL = "cannot-tell"


@dataclass(frozen=True)
class Contrast:
    """Y over dark cloth / Y over light cloth, 0..1, and the 95 % interval of the true one."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Opacity:
    """Whether an ink covers."""

    contrast: Contrast  # of the film that was measured
    passes: dict[int, Contrast]  # 2 and 3; empty where the bare cloths were not measured
    criterion: float
    outcome: Outcome
    flags: tuple[Flag, ...]


def opacity_of_records(
    dark: Record, light: Record, bare_dark: Record | None = None, bare_light: Record | None = None,
    criterion: float = CRITERION,
) -> Opacity:  # fmt: skip
    """The same as `opacity`, of records from the library.

    Raises
    ------
    UsageError
        The records are not of one ink in one state on two cloths, or as in `opacity`.
    """
    if WET in (dark.state.name, light.state.name):
        raise UsageError("wet-strip-hides-opacity", "let-both-dry")
    if not dark.state.like(light.state):
        raise UsageError("strips-in-two-states", "use-one-state", dark=dark.state, light=light.state)
    if (key(dark.shade), key(dark.batch)) != (key(light.shade), key(light.batch)):
        raise UsageError("strips-of-two-batches", "pull-same-ink")
    if key(dark.cloth) == key(light.cloth):
        raise UsageError("strips-on-one-cloth", "note-each-cloth", cloth=dark.cloth)
    _check_both(bare_dark, bare_light)
    for over, alone in ((dark, bare_dark), (light, bare_light)):
        if alone is not None and key(alone.cloth) != key(over.cloth):
            raise UsageError("bare-cloth-of-other-strip", "measure-that-very-cloth", bare=alone.cloth, cloth=over.cloth)
    if len({light_of(record) for record in (dark, light, bare_dark, bare_light) if record is not None}) > 1:
        raise UsageError("strips-for-two-lights", "use-one-light")
    bare = (bare_dark.colour, bare_light.colour) if bare_dark is not None and bare_light is not None else None
    return opacity(dark.colour, light.colour, bare, criterion)


def opacity_of_photo(
    photo: Measurement, dark: str, light: str, bare: tuple[str | None, str | None] = (None, None),
    criterion: float = CRITERION,
) -> Opacity:  # fmt: skip
    """The same as `opacity`, of strips in one photo by their names.

    Raises
    ------
    UsageError
        The photo has no strip of that name, one was named twice, or as in `opacity`.
    """
    _check_both(*bare)
    names = [dark, light, *(name for name in bare if name is not None)]
    twice = [name for name in names if names.count(name) > 1]
    if twice:
        raise UsageError("strip-named-twice", "choose-other-strip-for-each", strip=twice[0], names=names)
    over_dark, over_light, *alone = (keep(photo.colour(name), photo) for name in names)
    return opacity(over_dark, over_light, (alone[0], alone[1]) if alone else None, criterion)


def opacity(dark: Kept, light: Kept, bare: tuple[Kept, Kept] | None = None, criterion: float = CRITERION) -> Opacity:
    """Whether an ink covers, from one film over dark and over light cloth, and from the bare cloths where known.

    Parameters
    ----------
    dark, light : the film over dark and over light cloth
    bare : the dark and the light cloth alone
    criterion : contrast ratio from which a film is said to cover

    Raises
    ------
    UsageError
        Dark and light are interchanged, the cloths are too alike, or the criterion is no ratio.

    Source
    ------
    ISO 6504-3 and ISO 13655 (contrast ratio); 0.98 as in ASTM D2805, from memory.
    """
    if not 0 < criterion < 1:
        raise UsageError("criterion-not-a-ratio", "give-ratio-below-one", criterion=criterion)
    colours = (dark, light, *(bare or ()))
    if len({(colour.illuminant, colour.observer) for colour in colours}) > 1:
        raise UsageError("strips-for-two-lights", "use-one-light")
    drawn = _luminances(colours)
    _check_order(drawn[:, 0] / drawn[:, 1], dark, light)
    contrast = _contrast(_ratio_of(dark, light), drawn[:, 0] / drawn[:, 1])
    if bare:
        _check_grounds(bare, contrast)
    passes = _predicted(colours, drawn) if bare else {}
    nominal = any(not colour.absolute for colour in colours)
    flags = (flag("ratio-nominal"),) if nominal else ()
    return Opacity(contrast, passes, criterion, _judge(contrast, passes, criterion), flags)


def _predicted(colours: Sequence[Kept], drawn: Array) -> dict[int, Contrast]:
    """Contrast ratio of two and of three passes.

    The spectra are the likeliest ones; errors of Y stretch each as a whole. How much light the film's surface throws
    back is not known: each of GLOSS goes with a part of the draws.
    """
    spectra = np.array([colour.reflectance for colour in colours])
    stretch = drawn / np.array([_luminance(colour.lab[0]) for colour in colours])
    weights = xyz_weights(colours[0].illuminant, colours[0].observer)[:, 1]
    surfaces = [surface_of(share, spectra[0]) for share in GLOSS]
    likeliest = ratios_of_passes(spectra[:, None], surfaces[len(GLOSS) // 2], MORE, weights)[:, 0]
    parts = np.array_split(stretch.T[:, :, None] * spectra[:, None], len(GLOSS), axis=1)
    ratios = [ratios_of_passes(part, surface, MORE, weights) for part, surface in zip(parts, surfaces, strict=True)]
    draws = np.concatenate(ratios, axis=1)
    return {count: _contrast(float(likeliest[i]), draws[i]) for i, count in enumerate(MORE)}


def _contrast(value: float, draws: Array) -> Contrast:
    """A ratio above 1 is noise: no film is lighter over the darker cloth."""
    low, high = (quantile(np.minimum(draws, 1.0), tail) for tail in TAILS)
    return Contrast(min(value, 1.0), low, high)


def _judge(one: Contrast, more: dict[int, Contrast], criterion: float) -> Outcome:
    if one.low >= criterion:
        return Outcome.COVERS
    if more and more[2].low >= criterion:
        return Outcome.SECOND_PASS
    return Outcome.NEEDS_BASE if more and more[2].high < criterion else Outcome.CANNOT_TELL


def _check_both(bare_dark: object, bare_light: object) -> None:
    if (bare_dark is None) != (bare_light is None):
        raise UsageError("one-cloth-bare", "measure-both-bare")


def _check_order(ratios: Array, dark: Kept, light: Kept) -> None:
    if quantile(ratios, TAILS[0]) > 1:
        raise UsageError("ink-lighter-over-dark", "check-which-is-which", dark=dark.lab[0], light=light.lab[0])


def _check_grounds(bare: tuple[Kept, Kept], contrast: Contrast) -> None:
    alone = _ratio_of(*bare)
    if alone > ALIKE:
        raise UsageError("bare-cloths-alike", "use-darker-cloth", dark=bare[0].lab[0], light=bare[1].lab[0])
    if contrast.high < alone:
        raise UsageError("inked-differ-more-than-bare", "check-each-cloth")


def _ratio_of(dark: Kept, light: Kept) -> float:
    return _luminance(dark.lab[0]) / _luminance(light.lab[0])


def _luminance(lightness: float) -> float:
    """Y, 100 for white; above 0, so that a ratio can be formed."""
    return float(_y(np.array([lightness]))[0])


def _y(lightness: Array) -> Array:
    """Y of L*, any shape."""
    lab = np.stack([lightness, np.zeros_like(lightness), np.zeros_like(lightness)], axis=-1)
    return np.maximum(lab_to_xyz(lab, (100.0, 100.0, 100.0))[..., 1], 100 * FAINTEST)


def _luminances(colours: Sequence[Kept]) -> Array:
    """(DRAWS, n) Y that the colours may truly have, the same at every call."""
    values, axes = np.linalg.eigh(_lightness_covariance([colour.errors for colour in colours]))
    normal = np.random.default_rng(1).standard_normal((DRAWS, len(colours)))
    noise = normal @ (axes * np.sqrt(np.maximum(values, 0))).T
    return _y(np.array([colour.lab[0] for colour in colours]) + noise)


def _lightness_covariance(errors: Sequence[Errors]) -> Array:
    """(n, n) of L*: what all strips of one photo share makes them err together, and falls out of a ratio."""
    covariance = np.diag([float(error.covariance[0, 0]) for error in errors])
    for i, one in enumerate(errors):
        for j, other in enumerate(errors[:i]):
            if one.photos == other.photos:
                covariance[i, j] = covariance[j, i] = float(one.shared[0] @ other.shared[0])
    return covariance
