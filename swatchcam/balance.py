"""Patches -> camera to XYZ, chosen by leave-one-out, and how far it can be trusted.

Two models, both exact on the bare white, and for a card whose values are uncertain (nominal) drawn towards what the
phone itself says its code means: a 3x3 matrix, and root-polynomial regression of degree 2, which keeps a
colour's chromaticity when its light dims (Finlayson, Mackiewicz & Hurlbert 2015, doi:10.1109/TIP.2015.2405336).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .colorimetry import adapt, delta_e_2000, lab_to_xyz, white_point, xyz_to_lab
from .errors import FitError
from .flatten import MAX_CLIPPED_PATCH, NEAR_BLACK, FlatCard
from .light import Light
from .values import CardValues

MIN_PATCHES = 24
MIN_COLOURS = 14
ROOT_RIDGE = 1.0  # draws the root terms towards none, in XYZ of white 100 and CIEDE2000 units
TRUSTED_CARD = 0.5  # CIEDE2000; a card read as well as this stands on its own
TINY_RIDGE = 1e-6
GREY_WEIGHT = 0.5  # many prints of few greys say the same thing many times
MAX_LEFT_OUT = 6.0  # CIEDE2000, root mean square of leave-one-out, measured card
POOR_FIT_WARNING = 3.0
OUTLIER = 4.5  # times the robust spread: a covered, stained or misread patch
PARSIMONY = 0.75  # the larger model must be at least this much better


@dataclass(frozen=True)
class Balance:
    """Camera to XYZ for one photo: XYZ = matrix · terms(rgb), rgb relative to the bare white."""

    model: str  # "matrix" or "root-polynomial"
    matrix: NDArray[np.float64]  # (3, terms), read-only; Y = 100
    covariance: NDArray[np.float64]  # (3 terms, 3 terms) of its rows one after another; read-only
    illuminant: str
    observer: int
    left_out: dict[str, float]  # patch -> CIEDE2000 when the patch itself is left out of the fit
    left_out_lab: NDArray[np.float64]  # (n, 3) Lab errors of those, read-only
    patch_lab: NDArray[np.float64]  # (n, 3) card values of those, read-only
    unused: dict[str, str]  # patch -> why it was left out
    card_uncertainty: float  # CIEDE2000, one standard deviation of a card value
    flags: tuple[str, ...]

    @property
    def rms(self) -> float:
        """Root mean square CIEDE2000 of leave-one-out."""
        return float(np.sqrt(np.mean(np.square(list(self.left_out.values())))))

    def xyz(self, rgb: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 3) scene light relative to white -> (..., 3) XYZ."""
        return self.terms(rgb) @ self.matrix.T

    def terms(self, rgb: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 3) scene light relative to white -> (..., terms) that the matrix weighs."""
        return _model_terms(self.model, rgb)

    def lab(self, rgb: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 3) scene light relative to white -> (..., 3) CIELAB under the balance's illuminant and observer."""
        return xyz_to_lab(np.maximum(self.xyz(rgb), 1e-6), white_point(self.illuminant, self.observer))


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
    stated = _stated_matrix(card.to_xyz, lab_to_xyz(np.array(values.lab["paper"]), white), white)
    pull = max(values.uncertainty**2 - TRUSTED_CARD**2, 0.0) + TINY_RIDGE
    while True:
        weight = np.array([GREY_WEIGHT if roles[name] == "grey" else 1.0 for name in names])
        fits = [_fit(model, rgb, lab, weight, stated, pull, white) for model in ("matrix", "root-polynomial")]
        best = fits[1] if fits[1].score < PARSIMONY * fits[0].score else fits[0]
        outliers = _outliers(best.off, values.uncertainty)
        if not outliers.any() or len(names) - outliers.sum() < MIN_PATCHES:
            break
        for name, off in zip(names[outliers], best.off[outliers], strict=True):
            unused[str(name)] = f"its colour does not fit the others (off by {off:.1f})"
        rgb, lab, names = rgb[~outliers], lab[~outliers], names[~outliers]
    return _checked(best, lab, names, unused, values)


def _usable(
    card: FlatCard, light: Light, values: CardValues
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.str_], dict[str, str]]:
    roles = {patch.name: patch.role for patch in card.pose.design.patches}
    floor = float(card.decode[int(NEAR_BLACK * (len(card.decode) - 1))].max())
    unused, chosen = {}, []
    for sample in card.samples:
        if sample.clipped > MAX_CLIPPED_PATCH:
            unused[sample.name] = "overexposed"
        elif sample.spread > 0.25 and max(sample.rgb) > 0.05:
            unused[sample.name] = "uneven: covered, dirty or in glare"
        elif roles[sample.name] == "colour" and min(sample.rgb) <= floor:
            unused[sample.name] = "beyond the phone's colour space"
        else:
            chosen.append(sample)
    colours = sum(roles[sample.name] == "colour" for sample in chosen)
    if len(chosen) < MIN_PATCHES or colours < MIN_COLOURS:
        raise FitError(
            f"Only {len(chosen)} of the card's {len(card.samples)} patches can be used.",
            "Uncover the card, avoid glare and overexposure, and shoot again.",
        )
    at = np.array([sample.at for sample in chosen])
    rgb = light.tone.apply(np.array([sample.rgb for sample in chosen])) / light.field.at(at)
    lab = np.array([values.lab[sample.name] for sample in chosen])
    return rgb, lab, np.array([sample.name for sample in chosen]), unused


def _stated_matrix(
    to_xyz: NDArray[np.float64], paper: NDArray[np.float64], white: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(3, 3) light relative to the bare white -> XYZ if the phone's code meant what the file says, white made exact.

    The change of observer from the file's 2 degrees is taken as one of white point.
    """
    to_wanted = adapt(to_xyz.T, white_point("D65", 2), white).T
    gains = np.linalg.solve(to_wanted, paper)
    if (gains <= 0).any():
        raise FitError("The paper's value is no white.", "Check the row 'paper' of the card's values.")
    return to_wanted * gains


def _model_terms(model: str, rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """(..., 3) -> (..., 3 or 6) terms, each of the first degree in light."""
    if model == "matrix":
        return np.asarray(rgb, dtype=float)
    r, g, b = np.moveaxis(np.maximum(rgb, 0), -1, 0)
    return np.concatenate([rgb, np.stack([np.sqrt(r * g), np.sqrt(g * b), np.sqrt(b * r)], axis=-1)], axis=-1)


@dataclass(frozen=True)
class _Fit:
    model: str
    matrix: NDArray[np.float64]
    covariance: NDArray[np.float64]
    off_lab: NDArray[np.float64]  # (n, 3) leave-one-out
    off: NDArray[np.float64]  # (n,) leave-one-out CIEDE2000

    @property
    def score(self) -> float:
        return float(np.sqrt(np.mean(np.minimum(self.off, 4 * np.median(self.off)) ** 2)))


def _fit(
    model: str,
    rgb: NDArray[np.float64],
    lab: NDArray[np.float64],
    weight: NDArray[np.float64],
    stated: NDArray[np.float64],
    pull: float,
    white: NDArray[np.float64],
) -> _Fit:
    """Least squares in CIEDE2000-like units, white exact, with leave-one-out from the hat matrix.

    What is solved for is the departure from the stated matrix; `pull` times its square is added to the sum.
    """
    terms = _model_terms(model, rgb)
    ones = _model_terms(model, np.ones(3))
    count = terms.shape[1]
    # White exact: of each row's departures all but the first are free, the first is what white leaves over.
    reduced = terms[:, 1:] - terms[:, :1] * ones[1:]
    xyz = lab_to_xyz(lab, white)
    target = xyz - terms[:, :3] @ stated.T
    weights = _lab_weights(lab, white) * weight[:, None, None]  # (n, 3, 3): XYZ error -> weighted Lab error
    free = 3 * (count - 1)
    # Row block i: weights_i (3,3) times [reduced_i for X | for Y | for Z].
    design = np.einsum("nij,nk->nijk", weights, reduced).reshape(len(lab), 3, free)
    goal = np.einsum("nij,nj->ni", weights, target)
    flat, y = design.reshape(-1, free), goal.ravel()
    ridge = np.tile(np.r_[[pull] * 2, [pull + ROOT_RIDGE] * (count - 3)], 3)
    normal = flat.T @ flat + np.diag(ridge)
    inverse = np.linalg.inv(normal)
    solution = inverse @ (flat.T @ y)
    off = goal - np.einsum("nij,j->ni", design, solution)
    hat = np.einsum("nij,jk,nlk->nil", design, inverse, design)
    left_out = np.linalg.solve(np.eye(3) - hat, off[..., None])[..., 0]
    rest = solution.reshape(3, count - 1)
    matrix = np.concatenate([-(rest @ ones[1:])[:, None], rest], axis=1)
    matrix[:, :3] += stated
    xyz_left_out = xyz - np.linalg.solve(weights, left_out[..., None])[..., 0]
    lab_left_out = xyz_to_lab(np.maximum(xyz_left_out, 1e-6), white)
    variance = float((off**2).sum() / max(off.size - free, 1))
    return _Fit(
        model,
        matrix,
        _full_covariance(inverse * variance, ones, count),
        lab_left_out - lab,
        delta_e_2000(lab_left_out, lab),
    )


def _full_covariance(reduced: NDArray[np.float64], ones: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    """Covariance of the free numbers -> of the whole matrix, row by row."""
    spread = np.zeros((3 * count, 3 * (count - 1)))
    for row in range(3):
        spread[row * count, row * (count - 1) : (row + 1) * (count - 1)] = -ones[1:]
        for term in range(count - 1):
            spread[row * count + 1 + term, row * (count - 1) + term] = 1.0
    return spread @ reduced @ spread.T


def _lab_weights(lab: NDArray[np.float64], white: NDArray[np.float64]) -> NDArray[np.float64]:
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


def hue_axes(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 3, 3) that take (ΔL, Δa, Δb) to (ΔL, ΔC/S_C, ΔH/S_H), the weights as in CIEDE2000 without T."""
    hue, chroma = np.arctan2(lab[:, 2], lab[:, 1]), np.hypot(lab[:, 1], lab[:, 2])
    turn = np.zeros((len(lab), 3, 3))
    turn[:, 0, 0] = 1
    turn[:, 1, 1], turn[:, 1, 2] = np.cos(hue) / (1 + 0.045 * chroma), np.sin(hue) / (1 + 0.045 * chroma)
    turn[:, 2, 1], turn[:, 2, 2] = -np.sin(hue) / (1 + 0.015 * chroma), np.cos(hue) / (1 + 0.015 * chroma)
    return turn


def _outliers(off: NDArray[np.float64], uncertainty: float) -> NDArray[np.bool_]:
    limit = OUTLIER * max(float(np.median(off)), 0.7 * uncertainty, 0.5)
    outliers = off > limit
    # The worst first: one wrong patch makes its neighbours look wrong too.
    return outliers & (off >= np.sort(off)[-max(1, len(off) // 20)])


def _checked(
    fit: _Fit, lab: NDArray[np.float64], names: NDArray[np.str_], unused: dict[str, str], values: CardValues
) -> Balance:
    flags = list(values.flags)
    rms = float(np.sqrt((fit.off**2).mean()))
    limit = np.hypot(MAX_LEFT_OUT, 2 * values.uncertainty)
    if rms > limit:
        raise FitError(
            f"The card's colours do not explain what the phone saw (off by {rms:.1f} CIEDE2000 on average).",
            "Check that the card values belong to this very card, use daylight or a cool white lamp,"
            " turn off filters and scene optimising, and shoot again.",
        )
    if rms > np.hypot(POOR_FIT_WARNING, 1.5 * values.uncertainty):
        flags.append(f"the card's colours fit poorly ({rms:.1f}): poor light, an edited photo or an old card?")
    covered = [name for name, why in unused.items() if why != "beyond the phone's colour space"]
    if covered:
        flags.append(f"patches left out: {', '.join(covered)}")
    arrays = [np.array(a) for a in (fit.matrix, fit.covariance, fit.off_lab, lab)]
    for array in arrays:
        array.setflags(write=False)
    return Balance(
        model=fit.model,
        matrix=arrays[0],
        covariance=arrays[1],
        illuminant=values.illuminant,
        observer=values.observer,
        left_out={str(name): float(off) for name, off in zip(names, fit.off, strict=True)},
        left_out_lab=arrays[2],
        patch_lab=arrays[3],
        unused=unused,
        card_uncertainty=values.uncertainty,
        flags=tuple(flags),
    )
