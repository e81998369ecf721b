"""Values that an instrument read otherwise than a phone sees the card: gloss, and the glow of brightened stock.

A sphere that includes gloss reads 2 to 4 % of surface light on top of every patch. In the photo it is missing, as
if the phone had too little flare, and that is where it shows. A brightener in the stock turns ultraviolet into
blue around 440 nm, as much as the instrument's light or the photo's has of it; a lamp without leaves bare white and
light tints too dull in the blue against the inks that hide the glow. What the header says of the reading is the
prior, what the photo leaves over is the evidence, and both are Gaussian; what remains open widens the intervals.
Readings at 45/0 whose stock looks in the photo as it was read stay as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from ...arrays import Array, triple
from ...cards.reading_settings import EXCLUDED, INCLUDED, UNKNOWN, gloss_of
from ...cards.values import CardValues
from ...colorimetry.cielab import lab_to_xyz, white_point, xyz_to_lab
from ...colorimetry.spectra import tables, xyz_weights
from ...errors import FitError, LightError
from ...geometry.rectify import FlatCard
from ...illumination.solve import FLARE_PRIOR, Light
from ...messages.message import flag
from ..camera_response import Evidence, Response
from ..colour_matrix import Balance, fit_matrices

Seen = tuple[Light, Balance, Response]
Estimate = tuple[float, float]  # and its standard deviation

# Reflectance that the readings hold and a phone does not see, and its standard deviation: between a matt surface and
# the 4 % of a smooth one (Fresnel, refractive index 1.5). The spread has no source.
GLOSS: dict[str, Estimate] = {INCLUDED: (0.02, 0.015), EXCLUDED: (0.003, 0.004), UNKNOWN: (0.015, 0.018)}
# Flare of white that fair drawn photos show, and how far it varies. The tone curve takes a part of what is missing, so
# it is seen how much of a step in gloss comes back as flare; FLARE_PRIOR is what the light's solution holds against it.
FLARE, FLARE_SPREAD, LEAST_FOUND = 0.004, 0.003, 0.15
# nm: where a brightener glows and how far to both sides (425 to 450 nm, tests/reference/measurement_conditions.csv),
# what lies around it, and where ink shuts out the ultraviolet.
GLOW, GLOW_WIDTHS, AROUND, ULTRAVIOLET = 440.0, (13.0, 20.0), (410.0, 500.0), 390.0
LEAST_GLOW = 0.015  # reflectance at 440 nm over the line between AROUND; less is no brightener
GLOW_SHARE = 0.6  # of the glow that was read: how far the photo's may differ, one standard deviation; no source
HIDDEN_GLOW = 0.05  # the same in reflectance, where the reading shut it out (M2, M3); no source
LEAST_XYZ = 1e-4  # of white: no colour is darker
STEP = 0.02  # of reflectance, for slopes
# Standard deviations from which on the photo shows another glow than was read: at a first look, and step by step.
SUSPECT, SURE = 2.5, 2.0


@dataclass(frozen=True)
class Doubt:
    """What the header of the values leaves open."""

    gloss: Estimate
    # How far the glow that was read may be more than the photo's, one standard deviation; below 0 how far less; 0 for
    # not at all. What was read with ultraviolet has about as much as any light of a photo, what was read without none.
    glow: float


def as_seen(card: FlatCard, values: CardValues, solve: Callable[[CardValues], Seen]) -> tuple[CardValues, Seen]:
    """The values as the phone sees the print, and what the photo shows by them; `solve` finds it for given values.

    Raises
    ------
    SwatchcamError
        As `solve` does.
    """
    doubt = doubt_of(values)
    values, seen, left = _without_gloss(card, values, doubt.gloss, solve) if doubt.gloss[1] else (values, None, 0.0)
    seen = seen or solve(values)
    if doubt.glow:
        with suppress(FitError, LightError):  # what no photo can show is not tried any further
            values, seen = _with_this_glow(values, seen, doubt.glow, solve)
    light, fitted, response = seen
    return values, (light, fitted, _unsure_of_gloss(response, values, left))


def doubt_of(values: CardValues) -> Doubt:
    """What is open of the reading: nothing for one at 45/0 of a stock that was seen to hold no brightener."""
    if not values.absolute:
        return Doubt((0.0, 0.0), 0.0)  # no instrument read it
    told = gloss_of(values.geometry)
    gloss = (0.0, 0.0) if told == "" else GLOSS[values.specular or told or UNKNOWN]
    if not values.spectra:
        return Doubt(gloss, 0.0)
    if values.condition in ("M2", "M3"):
        return Doubt(gloss, -HIDDEN_GLOW)
    read = glow_read(values)
    return Doubt(gloss, GLOW_SHARE * read if read > LEAST_GLOW else 0.0)


def glow_read(values: CardValues) -> float:
    """How far the bare stock's reflectance at 440 nm rises over what lies around it."""
    low, peak, high = np.interp((AROUND[0], GLOW, AROUND[1]), tables().wavelengths, values.spectra["paper"])
    return float(peak - low - (high - low) * (GLOW - AROUND[0]) / (AROUND[1] - AROUND[0]))


def changed(values: CardValues, gloss: float = 0.0, glow: float = 0.0) -> CardValues:
    """The values with so much less gloss, and so much less glow of the bare stock at its peak, both reflectances."""
    names, light = list(values.lab), (values.illuminant, values.observer)
    white, lab = white_point(*light), np.array([values.lab[name] for name in values.lab])
    xyz = lab_to_xyz(lab, white) - gloss * white
    spectra = values.spectra
    if spectra:
        less = glow * glow_of(values)
        xyz = xyz - less @ xyz_weights(*light)
        spectra = {name: spectra[name] - gloss - less[at] for at, name in enumerate(names)}
    lab = xyz_to_lab(np.maximum(xyz, LEAST_XYZ * white), white)
    return replace(values, lab={name: triple(row) for name, row in zip(names, lab, strict=True)}, spectra=spectra)


def glow_of(values: CardValues) -> Array:
    """(n, 81) what each patch glows for 1 at the peak of the bare stock: ink hides it and holds back ultraviolet."""
    grid = tables().wavelengths
    emission = np.exp(-0.5 * ((grid - GLOW) / np.where(grid < GLOW, *GLOW_WIDTHS)) ** 2)
    ink = np.clip(np.array(list(values.spectra.values())) / values.spectra["paper"], 0, 1)
    shut = np.array([np.interp(ULTRAVIOLET, grid, row) for row in ink])
    # The glow passes the ink once, on its way out; ultraviolet is held back as far as light there is, there and back.
    return np.asarray(emission * np.sqrt(ink) * shut[:, None])


def _without_gloss(
    card: FlatCard, values: CardValues, prior: Estimate, solve: Callable[[CardValues], Seen]
) -> tuple[CardValues, Seen, float]:
    """The values without their gloss, what the photo shows by them, and the standard deviation of what is left."""
    if not (values.specular or gloss_of(values.geometry) in (INCLUDED, EXCLUDED)):
        values = replace(values, flags=(*values.flags, flag("card-gloss-unknown")))
    base, seen = _first_that_fits(values, (prior[0], 0.0, 2 * prior[0]), solve)
    other, moved = _first_that_fits(values, (base + STEP, base - STEP), solve)
    flare, changed_flare = (_flare(card, values, light) for light in (seen[0], moved[0]))
    found = float(np.clip((changed_flare - flare) / (other - base), LEAST_FOUND, 1))
    doubt = np.hypot(FLARE_SPREAD, FLARE_PRIOR * np.sqrt((1 - found) / found))
    weight = prior[1] ** 2 / (prior[1] ** 2 + doubt**2)
    by_flare = base + FLARE - flare / found
    gloss, seen = _first_that_fits(values, (prior[0] + float(weight) * (by_flare - prior[0]), base), solve)
    return changed(values, gloss), seen, float(np.sqrt(1 - weight) * prior[1])


def _first_that_fits(
    values: CardValues, amounts: Sequence[float], solve: Callable[[CardValues], Seen]
) -> tuple[float, Seen]:
    """The first amount of gloss without which something can be made of the photo, and what that is."""
    for amount in amounts[:-1]:
        try:
            return amount, solve(changed(values, amount))
        except (FitError, LightError):
            continue
    return amounts[-1], solve(changed(values, amounts[-1]))


def _flare(card: FlatCard, values: CardValues, light: Light) -> float:
    """The flare that was found, as reflectance."""
    white = float(np.median(light.tone.apply(card.white_rgb)))
    return light.tone.flare / white * _paper(values)


def _paper(values: CardValues) -> float:
    white = white_point(values.illuminant, values.observer)
    return float(lab_to_xyz(np.array(values.lab["paper"]), white)[1]) / 100


def _unsure_of_gloss(response: Response, values: CardValues, left: float) -> Response:
    return replace(response, veil=left / _paper(values)) if left else response


def _with_this_glow(
    values: CardValues, seen: Seen, prior: float, solve: Callable[[CardValues], Seen]
) -> tuple[CardValues, Seen]:
    """The values with the glow that the photo shows, if it is surely another one than was read."""
    found = seen[2].evidence
    rough, std = _difference(found, _slope(seen[1], values, found))
    sign = float(np.sign(prior))
    step = sign * STEP
    if sign * rough < SUSPECT * std:
        return values, seen
    tried = changed(values, glow=step)
    _, other, learned = solve(tried)
    if list(other.left_out) == list(seen[1].left_out):
        whole = _difference(found, (learned.evidence.off - found.off) / step)
        # What the tone curve takes can only make it less sure; else the step came upon something else.
        rough, std = whole if whole[1] >= std else (rough, std)
    if sign * rough < SURE * std:
        return values, seen
    weight = prior**2 / (prior**2 + std**2)
    best = changed(values, glow=weight * rough)
    best = replace(best, flags=(*best.flags, flag("card-glows-less" if rough > 0 else "card-glows-more")))
    light, fitted, response = solve(best)
    return best, (light, fitted, _unsure_of_glow(response, best, float(np.sqrt(weight)) * std))


def _difference(found: Evidence, slope: Array) -> Estimate:
    """How much less than read the stock glows in the photo, and its standard deviation, by the patches alone."""
    inverse = np.linalg.inv(found.slope.T @ found.slope + np.eye(found.slope.shape[1]))
    seen = slope - found.slope @ (inverse @ (found.slope.T @ slope))  # what no eye of a camera explains
    information = float(seen @ slope)
    return -float(seen @ found.off) / information, 1 / np.sqrt(information)


def _slope(fitted: Balance, values: CardValues, found: Evidence) -> Array:
    """(3 n,) change of what is left over for less glow, the light and the tone curve as they are."""
    glow, names = glow_of(values), list(values.lab)
    patches = STEP * glow[[names.index(name) for name in fitted.left_out]]
    eye = xyz_weights(fitted.illuminant, fitted.observer)
    xyz = lab_to_xyz(fitted.patch_lab, white_point(fitted.illuminant, fitted.observer))
    paper = fitted.paper_xyz - STEP * glow[names.index("paper")] @ eye
    before, after = (
        fit_matrices(fitted.patch_rgb[None], wanted, found.weights, stock)[0]
        for wanted, stock in ((xyz, fitted.paper_xyz), (xyz - patches @ eye, paper))
    )
    change = fitted.patch_rgb @ (after - before).T + patches @ (eye + found.mean)
    return np.einsum("nij,nj->ni", found.weights, change).ravel() / STEP


def _unsure_of_glow(response: Response, values: CardValues, std: float) -> Response:
    """One more way in which the channels may be off: what the bare stock is in the blue scales every colour there."""
    stock = std * glow_of(values)[list(values.lab).index("paper")] @ response.weights
    return replace(response, modes=np.concatenate([response.modes, (response.weights * stock)[None]]))
