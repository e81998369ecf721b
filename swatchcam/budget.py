"""Where the error of a colour, and of a difference, comes from.

Propagation follows JCGM 100:2008 (correlated parts cancel in a difference). Five parts, each a covariance in CIELAB:
`noise` (sensor noise, weave, unevenness of the drawdown), `light` (the light field under it), `fit` (camera to
XYZ, with the card's own values), `ink` (a camera is not an eye: inks unlike the card's are seen a little wrong),
`gamut` (a channel cut off at zero by the photo's colour space).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .balance import Balance, hue_axes
from .colorimetry import white_point, xyz_to_lab
from .swatch import Swatch
from .uncertainty import interval_of_difference, radius_of_lab

LIGHT_FLOOR = 0.0015  # relative; paper and shading below what the white cells can show
INK_REACH = 23.0  # CIELAB units over which the ink error of two colours stays alike
INK_FACTOR = 1.15  # textile pigments are less like the card's patches than these are like each other
CUT_OFF = 0.05  # of white: how far below zero a channel that was cut off at zero may lie, one standard deviation
CUT_ALIKE = 0.9  # how alike two drawdowns are cut off
NEIGHBOURS = 25.0  # CIELAB units; patches this near count for the ink error

Covariance = NDArray[np.float64]


@dataclass(frozen=True)
class Colour:
    """One drawdown's CIELAB and the parts of its error."""

    name: str
    lab: tuple[float, float, float]
    parts: dict[str, Covariance]  # (3, 3) each, read-only
    fit_slope: NDArray[np.float64]  # (3, terms of the balance) ΔLab for a change of the balance's matrix
    swatch: Swatch
    balance: Balance

    @property
    def covariance(self) -> Covariance:
        """(3, 3) of Lab, all parts."""
        return np.sum(list(self.parts.values()), axis=0)

    @property
    def radius(self) -> float:
        """CIEDE2000 within which the true colour lies in 95 of 100 cases."""
        return radius_of_lab(np.array(self.lab), self.covariance)


def colour_of(swatch: Swatch, balance: Balance) -> Colour:
    """Scene light of a drawdown -> CIELAB with its error."""
    rgb = np.array(swatch.rgb)
    lab = balance.lab(rgb)
    slope = _slope(balance.lab, rgb)
    along = slope @ rgb
    light = swatch.light_std**2 + LIGHT_FLOOR**2
    fit_slope = _fit_slope(balance, rgb)
    parts = {
        "noise": slope @ np.array(swatch.covariance) @ slope.T,
        "light": np.outer(along, along) * light,
        "fit": fit_slope @ balance.covariance @ fit_slope.T,
        "ink": _ink(balance, lab),
        "gamut": _beyond(swatch, balance, lab),
    }
    return Colour(swatch.name, (float(lab[0]), float(lab[1]), float(lab[2])), parts, fit_slope, swatch, balance)


def covariance_of_difference(one: Colour, other: Colour) -> Covariance:
    """(3, 3) of Lab one minus Lab other: what both share cancels.

    In one photo the fit cancels exactly and the ink error as far as the colours are alike; between photos as far as
    both balances leave the same pattern of errors on the card (same phone, same light).
    """
    apart = np.array(one.lab) - np.array(other.lab)
    alike = float(np.exp(-(apart @ apart) / (2 * INK_REACH**2)))
    own = np.sum([c.parts[part] for c in (one, other) for part in ("noise", "light")], axis=0)
    if one.balance is other.balance:
        slope = one.fit_slope - other.fit_slope
        fit = slope @ one.balance.covariance @ slope.T
        shared = alike
    else:
        fit = one.parts["fit"] + other.parts["fit"]
        shared = alike * _same_pattern(one.balance, other.balance)
    ink = (1 - shared) * (one.parts["ink"] + other.parts["ink"])
    cut_alike = CUT_ALIKE * alike * min(max(one.swatch.cut), max(other.swatch.cut))
    gamut = (1 - cut_alike) * (one.parts["gamut"] + other.parts["gamut"])
    return own + fit + ink + gamut


def interval(one: Colour, other: Colour, level: float = 0.95) -> tuple[float, float]:
    """Interval of the true CIEDE2000 between two colours."""
    return interval_of_difference(np.array(one.lab), np.array(other.lab), covariance_of_difference(one, other), level)


def interval_to(one: Colour, target: NDArray[np.float64], level: float = 0.95) -> tuple[float, float]:
    """Interval of the true CIEDE2000 between a colour and a target known exactly."""
    return interval_of_difference(np.array(one.lab), target, one.covariance, level)


def _slope(function, at: NDArray[np.float64]) -> NDArray[np.float64]:  # type: ignore[no-untyped-def]
    step = np.maximum(1e-4 * np.abs(at), 1e-6)
    columns = [
        (function(at + step * axis) - function(at - step * axis)) / (2 * step[k])
        for k, axis in enumerate(np.eye(len(at)))
    ]
    return np.stack(columns, axis=-1)


def _fit_slope(balance: Balance, rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    white = white_point(balance.illuminant, balance.observer)
    xyz = np.maximum(balance.xyz(rgb), 1e-4)
    to_lab = _slope(lambda v: xyz_to_lab(v, white), xyz)
    terms = balance.terms(rgb)
    return np.einsum("ij,k->ijk", to_lab, terms).reshape(3, -1)


def _beyond(swatch: Swatch, balance: Balance, lab: NDArray[np.float64]) -> Covariance:
    """How far Lab moves when each channel that was cut off at zero is moved to where it may have been."""
    moves = [balance.lab(np.array(swatch.rgb) - CUT_OFF * axis * swatch.cut) - lab for axis in np.eye(3)]
    return np.sum([np.outer(move, move) for move in moves], axis=0)


def _ink(balance: Balance, lab: NDArray[np.float64]) -> Covariance:
    """What leave-one-out shows for patches of like colour, in lightness, chroma and hue directions."""
    distance = np.linalg.norm(balance.patch_lab - lab, axis=1)
    weight = np.exp(-0.5 * (distance / NEIGHBOURS) ** 2) + 0.02
    weight /= weight.sum()
    # Errors turn with hue and grow with chroma: what carries over from a patch is its error in lightness, chroma
    # and hue, each over CIEDE2000's weight for it.
    turned = np.einsum("nij,nj->ni", hue_axes(balance.patch_lab), balance.left_out_lab)
    spread = np.einsum("n,ni,nj->ij", weight, turned, turned)
    back = np.linalg.inv(hue_axes(lab[None, :])[0])
    card = balance.card_uncertainty**2 / 3 * np.eye(3)
    return back @ (INK_FACTOR**2 * spread + card) @ back.T


def _same_pattern(one: Balance, other: Balance) -> float:
    """0..1: how alike the errors are that two balances leave on the same patches."""
    shared = sorted(set(one.left_out) & set(other.left_out))
    if len(shared) < 12:
        return 0.0
    rows = [[list(b.left_out).index(name) for name in shared] for b in (one, other)]
    a, b = one.left_out_lab[rows[0]].ravel(), other.left_out_lab[rows[1]].ravel()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(np.clip((a @ b) / size, 0, 1)) if size > 0 else 1.0
