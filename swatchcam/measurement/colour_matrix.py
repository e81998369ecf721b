"""Patches -> camera to XYZ, with leave-one-out, and which patches do not fit.

A 3x3 matrix, exact on the bare white, and for a card whose values are uncertain (nominal) drawn towards what the phone
itself says its code means. Colours are not read from it (a camera is not an eye: `camera_response`,
`spectral_recovery`); it is where those begin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Mask
from ..cards.values import NOMINAL_UNCERTAINTY, CardValues
from ..colorimetry.cielab import adapt, lab_to_xyz, white_point, xyz_to_lab
from ..colorimetry.colour_difference import delta_e_2000
from ..colorimetry.colour_frame import ColourFrame
from ..errors import FitError
from ..geometry.rectify import NEAR_BLACK, FlatCard
from ..illumination.solve import Light
from ..messages.message import Flag, flag

# No number here has a source.
MIN_PATCHES, MIN_COLOURS = 24, 14  # usable patches, and those of them that are no greys: fewer are refused
TRUSTED_CARD = 0.5  # CIEDE2000; a card read as well as this stands on its own
TINY_RIDGE = 1e-6  # against dividing by zero
GREY_WEIGHT = 0.5  # many prints of few greys say the same thing many times
MAX_LEFT_OUT = 6.0  # CIEDE2000, root mean square of leave-one-out, measured card
# Why a patch was left out, beside "overexposed" and "uneven".
MISFIT, TOO_VIVID = "unlike the others", "too vivid"
POOR_FIT_WARNING = 3.0  # the same, that is flagged
CARD_SHARE, CARD_SHARE_WARNING = 2.0, 1.5  # of the uncertainty of the card's values, that may come to these two
OUTLIER = 4.5  # times the usual error of a patch: a covered, stained or misread one
LEAST_USUAL, CARD_USUAL = 0.5, 0.7  # that usual error is at least: CIEDE2000; so much of the card's uncertainty
# Of so many patches one outlier is left out at a time, the worst: one wrong patch makes its neighbours look wrong too.
AT_ONCE = 20


@dataclass(frozen=True)
class Balance:
    """Camera to XYZ for one photo: XYZ = matrix · rgb, rgb relative to the bare white."""

    matrix: Array  # (3, 3), read-only; Y = 100
    covariance: Array  # (9, 9) of its rows one after another; read-only
    illuminant: str
    observer: int
    left_out: dict[str, float]  # patch -> CIEDE2000 when the patch itself is left out of the fit
    left_out_lab: Array  # (n, 3) Lab errors of those, read-only
    patch_lab: Array  # (n, 3) card values of those, read-only
    patch_rgb: Array  # (n, 3) what the phone saw of those, read-only
    patch_weight: Array  # (n,) how much each counted, read-only
    paper_xyz: Array  # (3,) of the bare white, read-only
    unused: dict[str, str]  # patch -> why it was left out
    card_uncertainty: float  # CIEDE2000, one standard deviation of a card value
    frame: ColourFrame | None  # what all colours of an unmeasured print are off by together
    flags: tuple[Flag, ...]

    @property
    def rms(self) -> float:
        """Root mean square CIEDE2000 of leave-one-out."""
        return float(np.sqrt(np.mean(np.square(list(self.left_out.values())))))

    def xyz(self, rgb: Array) -> Array:
        """(..., 3) scene light relative to white -> (..., 3) XYZ."""
        return rgb @ self.matrix.T


def balance(card: FlatCard, light: Light, values: CardValues) -> Balance:
    """Fit camera to XYZ on the card's patches.

    Raises
    ------
    FitError
        Too few patches can be used, or the best fit leaves them unexplained.
    """
    rgb, lab, names, unused = _usable(card, light, values)
    roles = {patch.name: patch.role for patch in card.pose.design.patches}
    white = white_point(values.illuminant, values.observer)
    paper = lab_to_xyz(np.array(values.lab["paper"]), white)
    stated = stated_matrix(card.to_xyz, paper, white)
    pull = max(values.uncertainty**2 - TRUSTED_CARD**2, 0.0) + TINY_RIDGE
    while True:
        weight = np.array([GREY_WEIGHT if roles[name] == "grey" else 1.0 for name in names])
        fit = _fit(rgb, lab, weight, stated, pull, white)
        outliers = _outliers(fit.off, values.uncertainty)
        if not outliers.any() or len(names) - outliers.sum() < MIN_PATCHES:
            break
        for name in names[outliers]:
            unused[str(name)] = MISFIT
        rgb, lab, names = rgb[~outliers], lab[~outliers], names[~outliers]
    return _checked(fit, (lab, rgb, weight, paper), names, unused, values)


def _usable(card: FlatCard, light: Light, values: CardValues) -> tuple[Array, Array, NDArray[np.str_], dict[str, str]]:
    roles = {patch.name: patch.role for patch in card.pose.design.patches}
    unused, chosen = {}, []
    for sample in card.samples:
        if sample.overexposed:
            unused[sample.name] = "overexposed"
        elif sample.spoilt:
            unused[sample.name] = "uneven"
        elif roles[sample.name] == "colour" and min(sample.rgb) <= NEAR_BLACK:
            unused[sample.name] = TOO_VIVID
        else:
            chosen.append(sample)
    colours = sum(roles[sample.name] == "colour" for sample in chosen)
    if len(chosen) < MIN_PATCHES or colours < MIN_COLOURS:
        raise FitError("too-few-patches", "uncover-the-patches", usable=len(chosen), count=len(card.samples))
    at = np.array([sample.at for sample in chosen])
    rgb = light.tone.apply(np.array([sample.rgb for sample in chosen])) / light.field.at(at)
    lab = np.array([values.lab[sample.name] for sample in chosen])
    return rgb, lab, np.array([sample.name for sample in chosen]), unused


def stated_matrix(to_xyz: Array, paper: Array, white: Array) -> Array:
    """(3, 3) light relative to the bare white -> XYZ if the phone's code meant what the file says, white made exact.

    The change of observer from the file's 2 degrees is taken as one of white point.
    """
    to_wanted = adapt(to_xyz.T, white_point("D65", 2), white).T
    gains = np.linalg.solve(to_wanted, paper)
    if (gains <= 0).any():
        raise FitError("paper-not-white", "check-the-paper")
    return to_wanted * gains


@dataclass(frozen=True)
class _Fit:
    matrix: Array
    covariance: Array
    off_lab: Array  # (n, 3) leave-one-out
    off: Array  # (n,) leave-one-out CIEDE2000


def _fit(
    rgb: Array,
    lab: Array,
    weight: Array,
    stated: Array,
    pull: float,
    white: Array,
) -> _Fit:
    """Least squares in CIEDE2000-like units, white exact, with leave-one-out from the hat matrix.

    What is solved for is the departure from the stated matrix; `pull` times its square is added to the sum.
    """
    # White exact: of each row's departures the last two are free, the first is what white leaves over.
    reduced = rgb[:, 1:] - rgb[:, :1]
    xyz = lab_to_xyz(lab, white)
    weights = lab_weights(lab, white) * weight[:, None, None]  # (n, 3, 3): XYZ error -> weighted Lab error
    # Row block i: weights_i (3, 3) times [reduced_i for X | for Y | for Z].
    design = np.einsum("nij,nk->nijk", weights, reduced).reshape(len(lab), 3, 6)
    wanted = np.einsum("nij,nj->ni", weights, xyz - rgb @ stated.T)
    flat = design.reshape(-1, 6)
    inverse = np.linalg.inv(flat.T @ flat + pull * np.eye(6))
    solution = inverse @ (flat.T @ wanted.ravel())
    off = wanted - design @ solution
    hat = np.einsum("nij,jk,nlk->nil", design, inverse, design)
    left_out = np.linalg.solve(np.eye(3) - hat, off[..., None])[..., 0]
    xyz_left_out = xyz - np.linalg.solve(weights, left_out[..., None])[..., 0]
    lab_left_out = xyz_to_lab(np.maximum(xyz_left_out, 1e-6), white)
    variance = float((off**2).sum() / max(off.size - 6, 1))
    spread = np.kron(np.eye(3), [[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])  # the free numbers -> the whole matrix
    return _Fit(
        stated + (spread @ solution).reshape(3, 3),
        spread @ inverse @ spread.T * variance,
        lab_left_out - lab,
        delta_e_2000(lab_left_out, lab),
    )


def fit_matrices(rgb: Array, xyz: Array, weights: Array, paper: Array) -> Array:
    """The same fit for many cameras at once: rgb (m, n, 3) of patches with xyz (n, 3) -> (m, 3, 3), white exact.

    `weights` (n, 3, 3) take an error of XYZ to units of CIEDE2000; `paper` (3,) is the XYZ of rgb (1, 1, 1).
    """
    reduced = rgb[..., 1:] - rgb[..., :1]
    metric = weights.transpose(0, 2, 1) @ weights
    square = np.einsum("mna,mnb->mnab", reduced, reduced).reshape(*rgb.shape[:2], 4)
    normal = np.einsum("mnp,nq->mqp", square, metric.reshape(-1, 9)).reshape(-1, 3, 3, 2, 2)
    normal = normal.transpose(0, 1, 3, 2, 4).reshape(-1, 6, 6) + TINY_RIDGE * np.eye(6)
    wanted = (metric @ (xyz - rgb[..., :1] * paper)[..., None])[..., 0]
    free = np.linalg.solve(normal, np.einsum("mni,mna->mia", wanted, reduced).reshape(-1, 6, 1)).reshape(-1, 3, 2)
    return np.concatenate([paper[:, None] - free.sum(axis=2, keepdims=True), free], axis=2)


def lab_weights(lab: Array, white: Array) -> Array:
    """(n, 3, 3) that take a small XYZ error to (ΔL/S_L, ΔC/S_C, ΔH/S_H)-like units."""
    xyz = lab_to_xyz(lab, white)
    step = 1e-3 * np.maximum(xyz, 0.2)
    jacobian = np.stack(
        [
            (xyz_to_lab(xyz + step * axis, white) - xyz_to_lab(xyz - step * axis, white)) / (2 * step[:, [k]])
            for k, axis in enumerate(np.eye(3))
        ],
        axis=-1,
    )
    turn = hue_axes(lab)
    turn[:, 0, 0] /= 1 + 0.015 * (lab[:, 0] - 50) ** 2 / np.sqrt(20 + (lab[:, 0] - 50) ** 2)
    return turn @ jacobian


def hue_axes(lab: Array) -> Array:
    """(n, 3, 3) that take (ΔL, Δa, Δb) to (ΔL, ΔC/S_C, ΔH/S_H), the weights as in CIEDE2000 without T."""
    hue, chroma = np.arctan2(lab[:, 2], lab[:, 1]), np.hypot(lab[:, 1], lab[:, 2])
    turn = np.zeros((len(lab), 3, 3))
    turn[:, 0, 0] = 1
    turn[:, 1, 1], turn[:, 1, 2] = np.cos(hue) / (1 + 0.045 * chroma), np.sin(hue) / (1 + 0.045 * chroma)
    turn[:, 2, 1], turn[:, 2, 2] = -np.sin(hue) / (1 + 0.015 * chroma), np.cos(hue) / (1 + 0.015 * chroma)
    return turn


def _outliers(off: Array, uncertainty: float) -> Mask:
    limit = OUTLIER * max(float(np.median(off)), CARD_USUAL * uncertainty, LEAST_USUAL)
    outliers = off > limit
    return outliers & (off >= np.sort(off)[-max(1, len(off) // AT_ONCE)])


def _checked(
    fit: _Fit,
    patches: tuple[Array, ...],
    names: NDArray[np.str_],
    unused: dict[str, str],
    values: CardValues,
) -> Balance:
    flags = list(values.flags)
    rms = float(np.sqrt((fit.off**2).mean()))
    doubt = values.uncertainty if values.frame is None else NOMINAL_UNCERTAINTY
    if rms > np.hypot(MAX_LEFT_OUT, CARD_SHARE * doubt):
        raise FitError("card-unlike-photo", "check-card-and-light", off=rms)
    if rms > np.hypot(POOR_FIT_WARNING, CARD_SHARE_WARNING * doubt):
        flags.append(flag("card-fits-poorly", off=rms))
    covered = [name for name, why in unused.items() if why != TOO_VIVID]
    if covered:
        flags.append(flag("patches-left-out", patches=covered))
    arrays = [np.array(array) for array in (fit.matrix, fit.covariance, fit.off_lab, *patches)]
    for array in arrays:
        array.setflags(write=False)
    matrix, covariance, off_lab, lab, rgb, weight, paper = arrays
    return Balance(
        matrix=matrix,
        covariance=covariance,
        illuminant=values.illuminant,
        observer=values.observer,
        left_out={str(name): float(off) for name, off in zip(names, fit.off, strict=True)},
        left_out_lab=off_lab,
        patch_lab=lab,
        patch_rgb=rgb,
        patch_weight=weight,
        paper_xyz=paper,
        unused=unused,
        card_uncertainty=values.uncertainty,
        frame=values.frame,
        flags=tuple(flags),
    )
