"""A print that nobody has read, in a photo -> what it most likely is, and what that leaves unknown.

Neither print nor phone is known: of both only what is likely (`print_space`, and how phones render). The likeliest
pair that explains the photo's patches is sought by Gauss-Newton steps (maximum a posteriori, as `spectral_recovery`).
What the pair leaves open is mostly a common error of all colours: a `ColourFrame`. Whoever reads later photos of the
print with the same values is off by the same, so differences between days are not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from ...arrays import Array, triple
from ...cards.print_space import PrintSpace, print_space, stored
from ...cards.validation import PAPER
from ...cards.values import PHOTOGRAPHED, CardValues
from ...colorimetry.cielab import Lab, white_point, xyz_to_lab
from ...colorimetry.colour_frame import frame_of
from ...colorimetry.spectra import reflectance_to_lab, xyz_weights
from ...geometry.rectify import NEAR_BLACK, FlatCard
from ...illumination.solve import Light, solve_light
from ...illumination.tone_curve import Tone, waves
from ..camera_response import Response, eye_errors
from ..colour_matrix import Balance, hue_axes, lab_weights, stated_matrix

# No source for these. The first five are CIEDE2000-like standard deviations of one patch.
BEFORE = 5.0  # of the mean print
PATCH_STD = 1.3  # what neither the ways of prints nor a phone explain of it
SEEN_STD = 0.8  # how well its own photo shows it
OWN_STD = 0.7  # what stays of it afterwards, at least,
LEFT = 0.5  # and this share of what prints and phones left over: inks in between are no patch
PRINTABLE = 0.003, 1.1  # reflectances
# Of a phone's tone curve (terms of `Tone`): makers raise contrast a little; flare of full scale; and variance, for
# phones that are not among the measured cameras.
TONE_MEAN, TONE_STD = np.array([-0.03, 0.02, 0.0, 0.0, 0.0]), np.array([0.07, 0.035, 0.015, 0.01, 0.007])
FLARE_STD, PHONE_WIDER = 0.006, 1.5
FRAME_WIDER = 1.5  # what patches have in common besides; colours of drawn printers then lie inside
HUBER = 3.0  # standard deviations beyond which a patch's misfit counts in proportion, not squared
ROUNDS, STILL, STEP = 8, 0.02, 1e-3  # at most; standard deviations that are nothing, and over which slopes are taken
CODED, DARKEST = 1.2, 1e-4  # of full scale, light that a tone curve is followed to; of the stock's light
WHITE = white_point("D65", 10)


@dataclass(frozen=True)
class _Seen:
    """What the fit is made on: m usable patches."""

    which: Array  # (m,) rows of the print space
    rgb: Array  # (m, 3) file's linear light
    white: Array  # (m, 3) the same of bare stock in their places
    axes: Array  # (m, 3, 3) Lab error -> units of CIEDE2000
    stated: Array  # (3, 3) light relative to the stock -> XYZ relative to the stock's, as the file says
    eyes: Array  # (1 + eyes, 81, 3) reflectance times these is what cameras take for XYZ; then how they differ


Stock = tuple[Array, Array]  # reflectance (81,) of a print's bare stock, and independent standard deviations (n, 81)


def photographed(card: FlatCard, key: str, values: CardValues, stock: Stock | None = None) -> CardValues:
    """The values of an unmeasured print as one photo shows it; `values` are what it has so far: name, light, flags.

    `key` names its frame: the same for equal photos and stocks; `stock` is what its bare stock is, where that is known:
    a photo shows all else relative to it.

    Raises
    ------
    LightError
        The light cannot be undone.
    """
    space = print_space(card.pose.design)
    before = replace(values, spectra={}, uncertainty=BEFORE, lab=_lab(space.reflectance(space.usual), card, values))
    light = solve_light(card, before)
    numbers, doubt, off = _fit(_seen(card, light, space), space, light.tone)
    spectra = _on_stock(space.reflectance(numbers), stock)
    moved = _on_stock(space.reflectance(numbers + FRAME_WIDER * doubt), stock)
    if stock is not None:
        moved = np.concatenate([moved, spectra * (1 + stock[1] / stock[0])[:, None]])
    lab = _lab(spectra, card, values)
    rows = np.array(list(lab.values()))
    frame, rest = frame_of(key, rows, reflectance_to_lab(moved, values.illuminant, values.observer) - rows)
    return replace(
        values,
        grade=PHOTOGRAPHED,
        uncertainty=float(np.hypot(max(OWN_STD, off), rest)),
        lab=lab,
        spectra=dict(zip(_names(card), spectra, strict=True)),
        frame=frame,
    )


def sharpened(values: CardValues, fitted: Balance, response: Response) -> CardValues:
    """An unmeasured print with what its photo shows of its single patches.

    The frame stays: what is taken over is by how much each patch is seen off what values and phone together predict.
    """
    seen = list(fitted.left_out)
    predicted = np.array([values.spectra[name] for name in seen]) @ response.weights
    off = fitted.xyz(fitted.patch_rgb - predicted)
    white = white_point(values.illuminant, values.observer)
    size = float(3 * np.mean(np.einsum("nij,nj->ni", lab_weights(fitted.patch_lab, white), off) ** 2))
    own = max(size - SEEN_STD**2, OWN_STD**2)
    share = own / (own + SEEN_STD**2)
    eye = xyz_weights(values.illuminant, values.observer)
    moves = share * off @ np.linalg.solve(eye.T @ eye, eye.T)
    spectra = values.spectra | {
        name: np.clip(values.spectra[name] + move, *PRINTABLE) for name, move in zip(seen, moves, strict=True)
    }
    rows = reflectance_to_lab(np.array(list(spectra.values())), values.illuminant, values.observer)
    lab = {name: triple(row) for name, row in zip(spectra, rows, strict=True)}
    left = float(np.hypot(OWN_STD, LEFT * np.sqrt(own)))
    return replace(values, uncertainty=left, spectra=spectra, lab=lab)


def _on_stock(spectra: Array, stock: Stock | None) -> Array:
    """Prints (..., n, 81), the stock last, as they are on the stock that is known."""
    return spectra if stock is None else spectra * (stock[0] / spectra[..., -1:, :])


def _names(card: FlatCard) -> list[str]:
    return [*(patch.name for patch in card.pose.design.patches), PAPER]


def _lab(spectra: Array, card: FlatCard, values: CardValues) -> dict[str, Lab]:
    rows = reflectance_to_lab(spectra, values.illuminant, values.observer)
    return {name: triple(row) for name, row in zip(_names(card), rows, strict=True)}


def _seen(card: FlatCard, light: Light, space: PrintSpace) -> _Seen:
    """The patches that can be used, and the bare stock's light in their places as the file codes it."""
    place = {name: row for row, name in enumerate(_names(card))}
    good = [s for s in card.samples if not (s.overexposed or s.spoilt) and min(s.rgb) > NEAR_BLACK]
    which = np.array([place[sample.name] for sample in good])
    coded = np.linspace(0, CODED, 4001)
    white = np.interp(light.field.at(np.array([s.at for s in good])), light.tone.apply(coded), coded)
    lab = reflectance_to_lab(space.reflectance(space.usual))
    stated = stated_matrix(card.to_xyz, WHITE, WHITE) / WHITE[:, None]
    return _Seen(which, np.array([s.rgb for s in good]), white, hue_axes(lab[which]), stated, _eyes(space))


@cache
def _eyes(space: PrintSpace) -> Array:
    """(1 + modes, 81, 3) of measured cameras, each with the matrix that suits the mean print best."""
    spectra, eye = space.reflectance(space.usual), xyz_weights()
    xyz = spectra @ eye
    mean, modes = eye_errors(spectra, eye, xyz[:-1], xyz[-1], lab_weights(xyz_to_lab(xyz[:-1], WHITE), WHITE))
    return np.concatenate([(eye + mean)[None], modes])


def _fit(seen: _Seen, space: PrintSpace, start: Tone) -> tuple[Array, Array, float]:
    """The likeliest print (k,), what is left open of it as independent standard deviations (k, k), and the misfit.

    The misfit is how far off, CIEDE2000-like, print and phone together leave the patches, root mean square.
    """
    count = len(space.modes)
    mean, precision = _prior(count, len(seen.eyes) - 1)
    steps = STEP * np.diag(precision) ** -0.5
    at = mean.copy()
    at[count : count + 6] = *start.terms, start.flare

    for _ in range(ROUNDS):
        off = _off(at[None], seen, space)[0]
        slope = (_off(at + np.diag(steps), seen, space) - off) / steps[:, None]  # (numbers, 3 m)
        weight = 1 / np.sqrt(1 + (off / HUBER) ** 2)  # a stained patch must not bend the print
        normal = (slope * weight) @ slope.T + precision
        step = np.linalg.solve(normal, slope @ (off * weight) + precision @ (at - mean))
        at = at - step
        if np.abs(step * STEP / steps).max() < STILL:
            break
    values, axes = np.linalg.eigh(np.linalg.inv(normal)[:count, :count])
    misfit = PATCH_STD * float(np.sqrt(3 * np.mean(_off(at[None], seen, space) ** 2)))
    return at[:count], (axes * np.sqrt(np.maximum(values, 0))).T, misfit


def _prior(prints: int, eyes: int) -> tuple[Array, Array]:
    """Mean and precision of the unknowns: numbers of the print, tone curve and flare, the phone's matrix, its eye."""
    known = stored()
    mean = np.concatenate([np.zeros(prints), TONE_MEAN, [0.0], known["phone_mean"], np.zeros(eyes)])
    std = np.concatenate([np.ones(prints), TONE_STD, [FLARE_STD]])
    precision = np.eye(len(mean))
    precision[: len(std), : len(std)] = np.diag(std**-2)
    phone = slice(len(std), len(std) + 6)
    precision[phone, phone] = np.linalg.inv(PHONE_WIDER * known["phone_covariance"])
    return mean, precision


def _off(numbers: Array, seen: _Seen, space: PrintSpace) -> Array:
    """(t, numbers) trials -> (t, 3 m): colours as the phone shows them, less those of the print, in PATCH_STD."""
    count = len(space.modes)
    prints, tones, matrices, eyes = np.split(numbers, [count, count + 6, count + 12], axis=1)
    weights = seen.eyes[0] + np.tensordot(eyes, seen.eyes[1:], axes=1)
    xyz = space.reflectance(prints) @ weights
    stock, patches = xyz[:, -1:], xyz[:, seen.which]
    more = matrices.reshape(-1, 3, 2)
    matrix = seen.stated + np.concatenate([-more.sum(axis=2, keepdims=True), more], axis=2)
    light = np.array([_relative(tone, seen) for tone in tones])
    shown = np.maximum(light @ matrix.transpose(0, 2, 1), DARKEST) * stock
    off = xyz_to_lab(shown, WHITE) - xyz_to_lab(patches, WHITE)
    return np.einsum("mij,tmj->tmi", seen.axes, off).reshape(len(numbers), -1) / PATCH_STD


def _relative(numbers: Array, seen: _Seen) -> Array:
    """(m, 3) scene light of the patches relative to the stock, by a tone curve (terms, then flare)."""
    tone = Tone(tuple(numbers[:-1]), float(numbers[-1]))
    return np.maximum(tone.unbend(waves(seen.rgb)), DARKEST) / tone.apply(seen.white)
