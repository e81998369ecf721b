"""Difference + interval + tolerance -> same, different or too close to call."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from ..arrays import Array
from ..colorimetry.colour_difference import delta_e_2000, delta_e_cmc, delta_lch, describe_difference
from ..colorimetry.error_covariance import Measured, interval, interval_to, shared_errors
from ..colorimetry.intervals import interval_of_difference
from ..errors import UsageError

DEFAULT_TOLERANCE = 2.0  # CIEDE2000; common practice, no source: a difference seen when prints lie side by side


class Outcome(StrEnum):
    """What a difference may come to."""

    SAME = "same"
    DIFFERENT = "different"
    TOO_CLOSE = "too close to call"


@dataclass(frozen=True)
class Difference:
    """One colour against another; sample minus reference."""

    sample: str
    reference: str
    delta_e: float  # CIEDE2000
    low: float  # 95 % interval of the true CIEDE2000
    high: float
    delta_l: float
    delta_c: float
    delta_h: float
    delta_e_cmc: float  # CMC(2:1), the reference as standard
    words: tuple[str, ...]


@dataclass(frozen=True)
class Verdict:
    """What a difference means at a tolerance."""

    difference: Difference
    tolerance: float
    outcome: Outcome


def between(sample: Measured, reference: Measured, reference_name: str | None = None) -> Difference:
    """The difference between two measured colours."""
    low, high = interval(sample, reference)
    name = reference_name or reference.name
    return _difference(sample.name, np.array(sample.lab), np.array(reference.lab), name, low, high)


def between_pots(samples: Sequence[Measured], references: Sequence[Measured], names: tuple[str, str]) -> Difference:
    """The difference between two pots by their strips; `names` as of `between_means`, where there are several."""
    if len(samples) == len(references) == 1:
        return between(samples[0], references[0], names[1])
    return between_means(samples, references, names)


def between_means(
    samples: Sequence[Measured], references: Sequence[Measured], names: tuple[str, str], doubt: Array | float = 0.0
) -> Difference:
    """The difference between the mean colours of several strips of two pots; `names` of the samples and the others.

    `doubt` is the (3, 3) covariance of Lab of what is not known of all strips of one pot alike.
    """
    weights = np.array([1 / len(samples)] * len(samples) + [-1 / len(references)] * len(references))
    strips = [*samples, *references]
    covariance = np.einsum("i,j,ijkl->kl", weights, weights, shared_errors(strips, strips))
    lab, other = (np.mean([strip.lab for strip in pot], axis=0) for pot in (samples, references))
    low, high = interval_of_difference(lab, other, (covariance + covariance.T) / 2 + doubt)
    return _difference(names[0], lab, other, names[1], low, high)


def against_target(sample: Measured, target: tuple[float, float, float]) -> Difference:
    """The difference between a measured colour and a target given as CIELAB."""
    low, high = interval_to(sample, np.array(target))
    return _difference(sample.name, np.array(sample.lab), np.array(target), "target", low, high)


def mean_against_target(
    samples: Sequence[Measured],
    target: tuple[float, float, float],
    name: str,
    target_name: str = "target",
    doubt: Array | float = 0.0,
) -> Difference:
    """The difference between the mean colour of several strips of one pot and a target given as CIELAB.

    `doubt` is as of `between_means`; that of the target counts alike.
    """
    lab, covariance = mean_colour(samples)
    low, high = interval_of_difference(lab, np.array(target), covariance + doubt)
    return _difference(name, lab, np.array(target), target_name, low, high)


def mean_colour(strips: Sequence[Measured]) -> tuple[Array, Array]:
    """(3,) mean CIELAB of strips, and its (3, 3) covariance: what they share does not average out."""
    covariance = shared_errors(strips, strips).mean(axis=(0, 1))
    return np.mean([strip.lab for strip in strips], axis=0), np.asarray((covariance + covariance.T) / 2)


def _difference(name: str, lab: Array, reference: Array, reference_name: str, low: float, high: float) -> Difference:
    lightness, chroma, hue = (float(v) for v in delta_lch(lab, reference))
    return Difference(
        sample=name,
        reference=reference_name,
        delta_e=float(delta_e_2000(lab, reference)),
        low=low,
        high=high,
        delta_l=lightness,
        delta_c=chroma,
        delta_h=hue,
        delta_e_cmc=float(delta_e_cmc(lab, reference)),
        words=describe_difference(lab, reference),
    )


def judge(difference: Difference, tolerance: float = DEFAULT_TOLERANCE) -> Verdict:
    """Same if the whole interval lies within the tolerance, different if all of it lies beyond.

    Raises
    ------
    UsageError
        The tolerance is not a number above zero.
    """
    check_tolerance(tolerance)
    if difference.high <= tolerance:
        return Verdict(difference, tolerance, Outcome.SAME)
    beyond = difference.low > tolerance
    return Verdict(difference, tolerance, Outcome.DIFFERENT if beyond else Outcome.TOO_CLOSE)


def check_tolerance(tolerance: float) -> None:
    """A tolerance is a number above zero.

    Raises
    ------
    UsageError
        It is not.
    """
    if not (np.isfinite(tolerance) and tolerance > 0):
        raise UsageError("tolerance-senseless", "give-a-tolerance", tolerance=tolerance)
