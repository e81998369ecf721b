"""Three numbers from a camera, or six from two lights -> the likeliest reflectance that explains them.

A camera is not an eye, so a colour cannot be had from it by a formula that is right for every ink. But inks are not
any spectra: of all reflectances that would look to the camera as this one does, the likeliest is taken, and how much
the others differ from it says how far the colour may be off. What is likely is learned from published reflectances
of ordinary things (`spectra`), those of like colour first, and from the studio's own pigments where they are known.

The spectrum is sought as the logit of reflectance, normally distributed about a mean, by Gauss-Newton steps
(maximum a posteriori; the linear form of the estimate is that of Wiener: Haneishi et al. 2000,
doi:10.1364/AO.39.006621).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from ..arrays import Array
from .cielab import lab_to_xyz, white_point, xyz_to_lab
from .spectra import reflectance_to_lab, tables, xyz_weights

FAINTEST, BRIGHTEST = 0.005, 0.98  # reflectances beyond these are taken as these: their logit means little
GREYS = (0.03, 0.06, 0.12, 0.2, 0.35, 0.5, 0.7, 0.85)  # flat spectra: blacks, greys and white inks
GREY_WEIGHT = 12.0  # one grey counts as this many ordinary things
NEAR = 15.0  # CIELAB units: things of this distance in hue and chroma count for a colour
LIGHTNESS_REACH = 2.0  # a paler tint of the same hue has the same shape: lightness counts so many times less
FEW = 3.0  # with no more neighbours than this the mean shape is drawn to flat
EVERYWHERE = 0.002  # weight of what is far off
# Bends that no neighbour has shown: of the logit, for a grey and for a colour of VIVID chroma; and their length, nm.
WIGGLE_GREY, WIGGLE_VIVID, WIGGLE_LENGTH = 0.06, 0.3, 30.0
VIVID = 60.0
LEVEL = 1.5  # of the logit: how light or dark it is, is not known before
MODES = 20
STEPS, STILL = 40, 1e-5
READING = 0.05  # XYZ; exactly enough for a guess


@dataclass(frozen=True)
class Knowledge:
    """Reflectances that are known: where they lie in colour, what shape they have, how much each counts."""

    lab: Array  # (n, 3) CIELAB, D65 and 10 degrees
    shape: Array  # (n, 81) logit of reflectance, less its mean
    level: float  # mean logit of all
    weight: Array  # (n,)

    def more(self, reflectances: Array, weight: float) -> Knowledge:
        """With further reflectances (m, 81), each counting as `weight` ordinary things."""
        shape, _ = _shapes(reflectances)
        return Knowledge(
            np.vstack([self.lab, reflectance_to_lab(reflectances)]),
            np.vstack([self.shape, shape]),
            self.level,
            np.append(self.weight, np.full(len(reflectances), weight)),
        )


@dataclass(frozen=True)
class Expectation:
    """What is expected of one reflectance before it is seen: its logit is mean + modes · (standard normal numbers)."""

    mean: Array  # (81,)
    modes: Array  # (MODES, 81)


@dataclass(frozen=True)
class Recovered:
    """The likeliest reflectances, and how they would move."""

    reflectance: Array  # (m, 81)
    gain: Array  # (m, 81, channels) change of reflectance for a change of what was seen
    doubt: Array  # (m, 81, MODES) what was seen leaves open: independent standard deviations


@cache
def published() -> Knowledge:
    """What published reflectances teach."""
    things = np.vstack([tables().reflectances, np.repeat(np.array(GREYS)[:, None], tables().wavelengths.size, axis=1)])
    shape, level = _shapes(things)
    weight = np.append(np.ones(len(things) - len(GREYS)), np.full(len(GREYS), GREY_WEIGHT))
    return Knowledge(reflectance_to_lab(things), shape, float(level.mean()), weight)


def expect(knowledge: Knowledge, lab: Array | None = None) -> Expectation:
    """What is likely for a colour of about this CIELAB (3,), D65 and 10 degrees; without one, for any colour."""
    weight = knowledge.weight
    trust, wiggle = 0.0, WIGGLE_VIVID
    if lab is not None:
        wiggle = WIGGLE_GREY + (WIGGLE_VIVID - WIGGLE_GREY) * min(float(np.hypot(lab[1], lab[2])) / VIVID, 1.0)
        off = (knowledge.lab - lab) / (LIGHTNESS_REACH, 1.0, 1.0)
        weight = weight * np.exp(-0.5 * (off**2).sum(axis=1) / NEAR**2)
        trust = float(weight.sum() / (weight.sum() + FEW))
        weight = weight + EVERYWHERE
    weight = weight / weight.sum()
    mean = trust * (weight @ knowledge.shape)
    off_shape = knowledge.shape - mean
    spread = (off_shape * weight[:, None]).T @ off_shape + LEVEL**2 + wiggle**2 * _bends()
    values, axes = np.linalg.eigh(spread)
    modes = axes[:, -MODES:] * np.sqrt(np.maximum(values[-MODES:], 0))
    return Expectation(knowledge.level + mean, modes.T)


def recover(seen: Array, std: Array, weights: Array, expectation: Expectation) -> Recovered:
    """The likeliest reflectances behind what was seen.

    Parameters
    ----------
    seen, std : (m, channels) and its standard deviation
    weights : (81, channels) reflectance times these is what is seen
    """
    modes = expectation.modes
    count = len(modes)
    numbers, damping = np.zeros((len(seen), count)), np.full(len(seen), 0.01)
    light, off, cost = _trial(numbers, seen, std, weights, expectation)
    for _ in range(STEPS):
        slope = _slope(light, std, weights, modes)
        normal = slope @ slope.transpose(0, 2, 1) + (1 + damping)[:, None, None] * np.eye(count)
        gradient = (slope @ off[..., None])[..., 0] + numbers
        trial = numbers - np.linalg.solve(normal, gradient[..., None])[..., 0]
        light_new, off_new, cost_new = _trial(trial, seen, std, weights, expectation)
        better = cost_new < cost
        gain = np.where(better, cost - cost_new, 0.0)
        numbers = np.where(better[:, None], trial, numbers)
        light = np.where(better[:, None], light_new, light)
        off = np.where(better[:, None], off_new, off)
        cost = np.where(better, cost_new, cost)
        damping = np.where(better, 0.3 * damping, 6 * damping)
        if (gain < STILL * np.maximum(cost, 1)).all() and (better | (damping > 1e3)).all():
            break
    slope = _slope(light, std, weights, modes)
    inverse = np.linalg.inv(slope @ slope.transpose(0, 2, 1) + np.eye(count))
    along = modes.T * (light * (1 - light))[:, :, None]  # (m, 81, MODES)
    gain_of = along @ inverse @ slope / std[:, None, :]
    # (I - K J) times the standard normal numbers: what is left of the expectation's own spread (Joseph's form).
    doubt = along @ (np.eye(count) - inverse @ slope @ slope.transpose(0, 2, 1))
    return Recovered(light, gain_of, doubt)


def guess_spectra(xyz: Array, weights: Array) -> Array:
    """(n, 81) the likeliest reflectances behind colours: xyz (n, 3) of them and the weights (81, 3) that gave it."""
    std = np.full(xyz.shape, READING)
    first = recover(xyz, std, weights, expect(published())).reflectance
    found = np.empty_like(first)
    # Colours of one neighbourhood share what is expected of them, which takes longer to find than they do.
    place = np.round(reflectance_to_lab(first) / NEAR).astype(int)
    for where in np.unique(place, axis=0):
        rows = (place == where).all(axis=1)
        found[rows] = recover(xyz[rows], std[rows], weights, expect(published(), NEAR * where)).reflectance
    return found


def lab_under(lab: Array, old: tuple[str, int], new: tuple[str, int]) -> Array:
    """CIELAB (n, 3) under one illuminant and observer -> the colour expected under another.

    By the likeliest reflectances behind it: a change of white point alone is off by twice as much, because it knows
    nothing of how inks and paints absorb. What these reflectances miss of the colour is kept as a ratio.
    """
    xyz, was, becomes = lab_to_xyz(lab, white_point(*old)), xyz_weights(*old), xyz_weights(*new)
    guessed = guess_spectra(xyz, was)
    return xyz_to_lab(guessed @ becomes * (xyz / (guessed @ was)), white_point(*new))


def _trial(
    numbers: Array, seen: Array, std: Array, weights: Array, expectation: Expectation
) -> tuple[Array, Array, Array]:
    light = 1 / (1 + np.exp(-(expectation.mean + numbers @ expectation.modes)))
    off = (light @ weights - seen) / std
    return light, off, (off**2).sum(axis=1) + (numbers**2).sum(axis=1)


def _slope(light: Array, std: Array, weights: Array, modes: Array) -> Array:
    """(m, MODES, channels) of `off`."""
    return np.einsum("kl,ml,lc->mkc", modes, light * (1 - light), weights) / std[:, None, :]


def _shapes(reflectances: Array) -> tuple[Array, Array]:
    """(n, 81) logit less its mean, and that mean (n, 1)."""
    bounded = np.clip(reflectances, FAINTEST, BRIGHTEST)
    logit = np.log(bounded / (1 - bounded))
    level = logit.mean(axis=1, keepdims=True)
    return logit - level, level


@cache
def _bends() -> Array:
    """(81, 81) correlation of the logit over wavelengths, as far as no published reflectance tells."""
    grid = tables().wavelengths
    return np.asarray(np.exp(-0.5 * ((grid[:, None] - grid) / WIGGLE_LENGTH) ** 2))
