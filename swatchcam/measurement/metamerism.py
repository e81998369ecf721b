"""Two strips that match in daylight may differ under a bulb: their reflectances, seen under other lights.

The spectra are those behind what the phone saw. One light leaves them half open, so what is said here is a guess until
photos under two lights were given. Propagation is that of `error_budget`: each colour is taken to the other light with
the slopes and the doubt of its reflectance; light, fit and eye cancel in the difference as they do there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Array
from ..colorimetry.cielab import lab_to_xyz, xyz_to_lab
from ..colorimetry.colour_difference import delta_e_2000
from ..colorimetry.error_covariance import covariance_of_difference
from ..colorimetry.intervals import interval_of_difference
from ..colorimetry.spectra import xyz_weights
from ..text import listed
from .error_budget import Colour, error_parts, lab_slope, with_slopes

REFERENCE = "D65"
LIGHTS = {"D65": "in daylight", "A": "under a bulb", "LED-B3": "under an LED lamp"}
TESTS = tuple(light for light in LIGHTS if light != REFERENCE)
SURE = 1.96  # standard deviations of half a 95 % interval


@dataclass(frozen=True)
class DifferenceUnder:
    """A colour difference under one light."""

    delta_e: float  # CIEDE2000
    low: float  # 95 % interval of the true one
    high: float

    @property
    def std(self) -> float:
        """Standard uncertainty, CIEDE2000."""
        return (self.high - self.low) / (2 * SURE)


@dataclass(frozen=True)
class Metamerism:
    """How one pair of colours differs from light to light."""

    sample: str
    reference: str
    under: dict[str, DifferenceUnder]  # illuminant -> difference
    index: dict[str, DifferenceUnder]  # illuminant -> special index of metamerism, change from REFERENCE to it
    told: bool  # both colours were photographed under two lights; otherwise all this is a guess


def metamerism(sample: Colour, reference: Colour) -> Metamerism:
    """The difference of two colours under each of LIGHTS, and the special index of metamerism.

    Source
    ------
    CIE 15:2018, clause 9, special metamerism index: change in illuminant, with the multiplicative correction and
    CIEDE2000 as difference; from memory, the text was not at hand.
    """
    one, other = (_Spectrum(colour) for colour in (sample, reference))
    under = {light: _difference(one.under(light), other.under(light)) for light in LIGHTS}
    index = {light: _difference(*_matched(one, other, light)) for light in TESTS}
    told = all(_two_lights(colour) for colour in (sample, reference))
    return Metamerism(sample.name, reference.name, under, index, told)


def sentence(found: Metamerism, tolerance: float) -> str:
    """What a metamerism means at a tolerance, CIEDE2000, in words."""
    outcomes = {light: _outcome(seen, tolerance) for light, seen in found.under.items()}
    numbers = ", ".join(_number(light, seen) for light, seen in found.under.items())
    return f"They {_phrase(outcomes)}: CIEDE2000 {numbers}."


def _outcome(seen: DifferenceUnder, tolerance: float) -> str:
    if seen.high <= tolerance:
        return "match"
    return "differ" if seen.low > tolerance else "may differ"


def _phrase(outcomes: dict[str, str]) -> str:
    """Every light under the word that holds there, daylight's word first."""
    if set(outcomes.values()) == {"match"}:
        return f"also match {listed([LIGHTS[light] for light in TESTS])}"
    phrases: list[str] = []
    for word in dict.fromkeys(outcomes.values()):
        lights = [LIGHTS[light] for light, own in outcomes.items() if own == word]
        said = "not" if word == "differ" and phrases == ["match in daylight"] else word
        phrases.append(f"{said} {listed(lights)}")
    return " but ".join(phrases[:2]) + "".join(f", and {phrase}" for phrase in phrases[2:])


def _number(light: str, seen: DifferenceUnder) -> str:
    place = "in" if light == REFERENCE else "under"
    doubt = "" if light == REFERENCE else f" (± {seen.std:.1f})"
    return f"{seen.delta_e:.1f}{doubt} {place} {light}"


@dataclass(frozen=True)
class _Spectrum:
    """A colour with what its reflectance would do under any light."""

    colour: Colour

    def weights(self, light: str) -> Array:
        """(81, 3) reflectance -> XYZ under a light, for the colour's observer."""
        return xyz_weights(light, self.colour.balance.observer)

    def xyz(self, light: str) -> Array:
        """(3,) under a light; where a row in the photo moved the colour, moved in proportion."""
        own = self.colour.balance.illuminant
        white = self.weights(own).sum(axis=0)
        moved = lab_to_xyz(np.array(self.colour.lab), white) / self._plain(own)
        return np.asarray(self._plain(light) * moved)

    def _plain(self, light: str) -> Array:
        return np.asarray(np.maximum(self.colour.reflectance @ self.weights(light), 1e-4))

    def under(self, light: str) -> Colour:
        """The colour under a light; under its own it is the colour itself, with all that is known of it."""
        if light == self.colour.balance.illuminant:
            return self.colour
        xyz, white = self.xyz(light), self.weights(light).sum(axis=0)
        return self.seen_as(xyz_to_lab(xyz, white), lab_slope(xyz, white) @ self.weights(light).T)

    def seen_as(self, lab: Array, to_lab: Array) -> Colour:
        """The colour with another CIELAB, which moves by `to_lab` (3, 81) with the reflectance."""
        views = with_slopes(self.colour.views, self.colour.found, to_lab)
        parts = self.colour.parts | error_parts(views, self.colour.found, to_lab)
        # Elsewhere two inks of one colour are taken to be of the same pigments, and their ink errors to cancel.
        # Here that is the very question: what the ink leaves open is each one's own, like noise.
        parts |= {"noise": parts["noise"] + parts["ink"], "ink": np.zeros((3, 3))}
        return replace(self.colour, lab=(float(lab[0]), float(lab[1]), float(lab[2])), parts=parts, views=views)


def _matched(sample: _Spectrum, standard: _Spectrum, light: str) -> tuple[Colour, Colour]:
    """Both colours under a light, the first one's XYZ corrected by what it takes to match under the reference."""
    weights, white = sample.weights(light), sample.weights(light).sum(axis=0)
    ratio = standard.xyz(REFERENCE) / sample.xyz(REFERENCE)
    xyz, own = sample.xyz(light) * ratio, standard.xyz(light)
    slope = lab_slope(xyz, white)
    # The corrected XYZ is a product, so each reflectance moves it through both lights.
    of_sample = (slope * ratio) @ weights.T - (slope * xyz / sample.xyz(REFERENCE)) @ sample.weights(REFERENCE).T
    of_standard = lab_slope(own, white) @ weights.T
    of_standard = of_standard - (slope * xyz / standard.xyz(REFERENCE)) @ standard.weights(REFERENCE).T
    return (
        sample.seen_as(xyz_to_lab(xyz, white), of_sample),
        standard.seen_as(xyz_to_lab(own, white), of_standard),
    )


def _difference(sample: Colour, reference: Colour) -> DifferenceUnder:
    lab, other = np.array(sample.lab), np.array(reference.lab)
    covariance = covariance_of_difference(sample, reference)
    return DifferenceUnder(float(delta_e_2000(lab, other)), *interval_of_difference(lab, other, covariance))


def _two_lights(colour: Colour) -> bool:
    """Under one light all photos are alike."""
    return colour.views[0].alike < len(colour.views)
