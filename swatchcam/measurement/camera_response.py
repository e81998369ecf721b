"""Patches of known reflectance -> what the photo's three channels see of a spectrum, and how sure that is.

Camera, light and the phone's own matrix cannot be told apart from one photo, and need not be: each channel weighs the
reflectance with some curve. Every measured camera under every tabled light is fitted to the same patches as the photo
was. What such fits leave over, weights that the eye does not have, is the prior; what the photo's fit leaves over on
the patches is the evidence. Both are linear in the curves, so the answer is that of a linear Gaussian model, in the
manner of Jiang, Liu, Gu & Süsstrunk 2013, doi:10.1109/WACV.2013.6475015 (sensitivities of cameras lie in few
dimensions).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from ..arrays import Array, Mask
from ..cards.values import CardValues
from ..colorimetry.cielab import lab_to_xyz, white_point
from ..colorimetry.spectra import tables, xyz_weights
from ..colorimetry.spectral_recovery import guess_spectra
from .colour_matrix import Balance, fit_matrices, lab_weights

MODES = 24  # directions of most spread among the eyes of all cameras that are kept; no source
MISFIT = 0.35  # CIEDE2000-like units a channel: light, tone and noise of a patch; no source
GUESSED = 1.0  # the same, of a patch whose spectrum was guessed from its colour; no source
# Patches that say nothing of the print: part of one whose darkest channel sees less, of the white's, was cut off by the
# file's colour space (build scenes: off by 0.3 above, 0.8 below); and so many of the others that may be stained.
DARKEST_TOLD, STAINED = 0.008, 6


@dataclass(frozen=True)
class Evidence:
    """What the patches' residuals say, in standard deviations of a patch's channel."""

    off: Array  # (3 n,) left over, once the mean of all cameras is taken away
    slope: Array  # (3 n, MODES) what one standard deviation of each mode of the eyes would leave
    weights: Array  # (n, 3, 3) that take an error of XYZ to these units
    mean: Array  # (81, 3) of the eyes' errors
    modes: Array  # (MODES, 81, 3) of them


@dataclass(frozen=True)
class Response:
    """Reflectance · weights = scene light relative to the bare stock."""

    weights: Array  # (81, 3), read-only
    modes: Array  # (MODES or one more, 81, 3) independent standard deviations of the weights, read-only
    evidence: Evidence  # what they rest on
    guessed: bool = False  # the patches' spectra were guessed from their colours
    veil: float = 0.0  # light relative to the stock that may lie on every colour or not, one standard deviation
    unlike: float = 0.0  # how unlike their values the patches are, about 0.15 where they fit; see `_unlike`


def learn_response(fitted: Balance, values: CardValues) -> Response:
    """What the channels of a photo see, from the patches its balance was fitted on."""
    found = _evidence(fitted, values)
    inverse = np.linalg.inv(found.slope.T @ found.slope + np.eye(len(found.modes)))
    error = found.mean + np.einsum("k,klc->lc", inverse @ (found.slope.T @ found.off), found.modes)
    back = np.linalg.inv(fitted.matrix).T
    root = np.linalg.cholesky(inverse)
    eye = xyz_weights(fitted.illuminant, fitted.observer)
    told = fitted.patch_rgb.min(axis=1) > DARKEST_TOLD
    answer = Response(
        weights=(eye + error) @ back,
        modes=np.einsum("kj,klc->jlc", root, found.modes) @ back,
        evidence=found,
        guessed=not values.spectra,
        # What was sent to the printer was never said to be what is there.
        unlike=0.0 if values.grade == "nominal" else _unlike(found.slope, found.off, told),
    )
    for array in (answer.weights, answer.modes):
        array.setflags(write=False)
    return answer


def _evidence(fitted: Balance, values: CardValues) -> Evidence:
    """What the residuals of the patches say of the eyes of cameras, and what the eyes of all cameras are like."""
    names = [*fitted.left_out, "paper"]
    spectra = known_spectra(values, names)
    patches = spectra[:-1]
    std = patch_std(values.uncertainty, not values.spectra)
    white, eye = white_point(fitted.illuminant, fitted.observer), xyz_weights(fitted.illuminant, fitted.observer)
    weights = lab_weights(fitted.patch_lab, white) * fitted.patch_weight[:, None, None]
    xyz = lab_to_xyz(fitted.patch_lab, white)
    mean, modes = eye_errors(spectra, eye, xyz, fitted.paper_xyz, weights)
    seen = fitted.xyz(fitted.patch_rgb) - xyz
    weights = weights / std
    slope = np.einsum("nij,knj->nik", weights, patches @ modes).reshape(-1, len(modes))
    off = np.einsum("nij,nj->ni", weights, seen - patches @ mean).ravel()
    return Evidence(off, slope, weights, mean, modes)


def patch_std(uncertainty: float, guessed: bool) -> float:
    """CIEDE2000-like units that each number of a patch may be off by; `uncertainty` is that of the card's values."""
    return float(np.hypot(np.hypot(MISFIT, GUESSED if guessed else 0.0), uncertainty))


def _unlike(slope: Array, off: Array, told: Mask) -> float:
    """How much of what the patches are off by is left once cameras have explained what they are likely to explain.

    Squared Mahalanobis distance of `off` (3 n,) in a world where cameras move it by `slope` (3 n, MODES) times
    independent normal numbers, for each number in it; of the patches that are `told` (n,), without the worst.
    """
    slopes, offs = slope.reshape(len(told), 3, -1), off.reshape(len(told), 3)
    for worst in (STAINED, 0):
        a, b = slopes[told].reshape(-1, slopes.shape[2]), offs[told].ravel()
        modes = np.linalg.solve(a.T @ a + np.eye(a.shape[1]), a.T @ b)
        if worst:
            left = np.where(told, ((offs - slopes @ modes) ** 2).sum(axis=1), 0.0)
            told = told & (left < np.partition(left, -worst)[-worst])
    return float(b @ b - b @ a @ modes) / max(len(b), 1)


def eye_errors(spectra: Array, eye: Array, xyz: Array, paper: Array, weights: Array) -> tuple[Array, Array]:
    """How measured cameras, each with the matrix that suits these patches best, see spectra otherwise than an eye.

    Parameters
    ----------
    spectra : (n + 1, 81) reflectance of the patches, the bare stock last
    eye : (81, 3) reflectance times these is XYZ
    xyz, paper, weights : (n, 3), (3,), (n, 3, 3) as of `fit_matrices`

    Returns
    -------
    (81, 3) mean of what is to be added to the eye's weights, and (MODES, 81, 3) independent standard deviations of it
    """
    seen_by_all = _eyes() / (spectra[-1] @ _eyes())[:, None, :]
    matrices = fit_matrices(spectra[:-1] @ seen_by_all, xyz, weights, paper)
    errors = seen_by_all @ matrices.transpose(0, 2, 1) - eye
    mean = errors.mean(axis=0)
    return mean, _main_modes((errors - mean) / np.sqrt(len(errors) - 1))


def predict(response: Response, values: CardValues) -> dict[str, Array]:
    """Patch -> (3,) light relative to the bare stock that the camera should see of it."""
    names = list(values.lab)
    spectra = known_spectra(values, names)
    return dict(zip(names, spectra @ response.weights, strict=True))


def known_spectra(values: CardValues, names: list[str]) -> Array:
    """(n, 81) reflectances of these patches as measured, or as guessed from their colour."""
    if values.spectra:
        return np.array([values.spectra[name] for name in names])
    light = values.illuminant, values.observer
    xyz = lab_to_xyz(np.array([values.lab[name] for name in names]), white_point(*light))
    return guess_spectra(xyz, xyz_weights(*light))


@cache
def _eyes() -> Array:
    """(m, 81, 3) every measured camera under every tabled light."""
    known = tables()
    return (known.cameras[:, None] * known.lights[None, :, :, None]).reshape(-1, known.wavelengths.size, 3)


def _main_modes(rows: Array) -> Array:
    """(m, 81, 3) -> (MODES, 81, 3) the directions of most spread, as long as that spread."""
    flat = rows.reshape(len(rows), -1)
    values, axes = np.linalg.eigh(flat.T @ flat)
    return (axes[:, -MODES:] * np.sqrt(np.maximum(values[-MODES:], 0))).T.reshape(-1, *rows.shape[1:])
