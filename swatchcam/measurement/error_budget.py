"""Where the error of a colour comes from.

Propagation follows JCGM 100:2008 (correlated parts cancel in a difference). Six parts, each a covariance in CIELAB:
`noise` (sensor noise, weave, unevenness of the strip), `light` (the light field under it), `fit` (camera to
XYZ, with the card's own values), `eye` (what the phone's channels see of a spectrum), `ink` (reflectances that look
the same to the phone and not to the eye: metamerism), `card` (card values that are all wrong together; more where they
may be another print's).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from ..arrays import Array, triple
from ..colorimetry.cielab import xyz_to_lab
from ..colorimetry.error_covariance import Covariance, Errors
from ..colorimetry.intervals import radius_of_lab
from ..colorimetry.spectra import reflectance_to_lab, xyz_weights
from ..colorimetry.spectral_recovery import Knowledge, Recovered, expect, published, recover
from .camera_response import Response
from .card_ageing import print_doubt
from .colour_matrix import Balance, hue_axes
from .strip_sample import StripSample

LIGHT_FLOOR = 0.0015  # relative; paper and shading below what the white cells can show
DARK_FLOOR = 0.0005  # of white; flare and the foot of the tone curve
INK_FACTOR = 1.2  # textile pigments against what is expected: build scenes then lie inside in 95 of 100 cases
# Of the strip's lightest channel: how far below zero one lies that was cut off there, and how far that varies.
# Red, green, blue; from textile pigments seen by the cameras of the build scenes, mostly in sRGB, which is too small
# for one ink in ten.
CUT_OFF, CUT_SPREAD = np.array([0.12, 0.04, 0.06]), np.array([0.11, 0.04, 0.05])
FIRST_STD = 0.01, 0.02  # a channel's, of white and of what was seen: a first guess, that the second round replaces
ALL_CUT = 0.4  # share of the pixels from which on the mean itself lies below zero: noise holds the others up

# CIEDE2000; what a print that nobody read is off besides its frame, where inks lie that are no patch: pots of the build
# split are then hardly ever made worse (without it every third was).
FRAMED_CARD = 4.0
GUESSED_CARD = 2.0  # CIEDE2000; what it costs that only the colours of the card's patches are known, not their spectra


@dataclass(frozen=True)
class View:
    """One strip in one photo."""

    photo: str  # SHA-256 of the photo's file
    strip: StripSample
    balance: Balance
    response: Response
    alike: int = 1  # photos under the same light in this measurement: their systematic errors are the same
    slope: Array = field(default_factory=lambda: np.zeros((3, 3)))  # ΔLab for a change of its rgb

    @property
    def rgb(self) -> Array:
        """(3,) scene light relative to the bare white."""
        return np.array(self.strip.rgb)

    def matrix_slope(self) -> Array:
        """(3, 9) ΔLab for a change of the balance's matrix."""
        to_xyz = self.slope @ np.linalg.inv(self.balance.matrix)
        return np.einsum("ij,k->ijk", to_xyz, self.rgb).reshape(3, -1)

    def eye_slope(self, reflectance: Array) -> Array:
        """(3, modes) ΔLab for one standard deviation of each mode of the response, and of its veil if there is one."""
        return self.slope @ self.eye(reflectance)

    def eye(self, reflectance: Array) -> Array:
        """(3, modes) the same in its rgb."""
        modes = np.einsum("l,klc->ck", reflectance, self.response.modes)
        veil = self.response.veil
        return np.column_stack([modes, np.full(3, veil)]) if veil else modes


@dataclass(frozen=True)
class Colour:
    """One strip's CIELAB, the reflectance behind it, and the parts of its error."""

    name: str
    lab: tuple[float, float, float]
    found: Recovered  # the likeliest reflectance behind it, and how that would move
    parts: dict[str, Covariance]  # (3, 3) each, read-only
    views: tuple[View, ...]  # one for each photo

    @property
    def reflectance(self) -> Array:
        """(81,) the likeliest reflectance."""
        return self.found.reflectance[0]

    @property
    def strip(self) -> StripSample:
        """The strip in the first photo."""
        return self.views[0].strip

    @property
    def balance(self) -> Balance:
        """The balance of the first photo."""
        return self.views[0].balance

    @property
    def covariance(self) -> Covariance:
        """(3, 3) of Lab, all parts."""
        return self.errors.covariance

    @cached_property
    def errors(self) -> Errors:
        """How far off it may be, and what of that it shares with others."""
        shared = np.hstack([_shared(view, self.reflectance) for view in self.views])
        first = self.balance
        pattern = {name: triple(error) for name, error in zip(first.left_out, first.left_out_lab, strict=True)}
        photos = tuple(view.photo for view in self.views)
        frame = first.frame
        if frame is None:
            return Errors(self.parts, shared, pattern, photos)
        return Errors(self.parts, shared, pattern, photos, frame.key, frame.shift(self.lab))

    @property
    def radius(self) -> float:
        """CIEDE2000 within which the true colour lies in 95 of 100 cases."""
        return radius_of_lab(np.array(self.lab), self.covariance)


def colour_of(views: Sequence[View], knowledge: Knowledge | None = None) -> Colour:
    """One strip, seen in one photo or more -> CIELAB with its error.

    `knowledge` is what reflectances are likely; by default the published ones.
    """
    known = knowledge or published()
    seen = np.concatenate([light_seen(view) for view in views])[None]
    weights = np.hstack([view.response.weights for view in views])
    # First with no idea of the colour, then with what is known of reflectances of such a colour.
    std, lab = FIRST_STD[0] + FIRST_STD[1] * seen, None
    for _ in range(2):
        found = recover(seen, std, weights, expect(known, lab))
        std, lab = channel_std(views, found.reflectance[0]), reflectance_to_lab(found.reflectance[0])
    found = recover(seen, std, weights, expect(known, lab))
    return _with_errors(views, found)


def channel_std(views: Sequence[View], reflectance: Array) -> Array:
    """(1, channels) standard deviation of each channel against what the reflectance should give in it."""
    rows = []
    for view in views:
        back = np.linalg.inv(view.balance.matrix)
        fit = np.einsum("ij,k->ijk", back, view.rgb).reshape(3, -1)
        systematic = np.einsum("ij,jk,ik->i", fit, view.balance.covariance, fit)
        systematic += (view.eye(reflectance) ** 2).sum(axis=1)
        light = (view.strip.light_std**2 + LIGHT_FLOOR**2) * view.rgb**2
        rows.append(np.diag(channel_noise(view)) + light + view.alike * systematic)
    return np.sqrt(np.concatenate(rows))[None]


def _with_errors(views: Sequence[View], found: Recovered) -> Colour:
    balance = views[0].balance
    eye = xyz_weights(balance.illuminant, balance.observer)
    xyz = np.maximum(found.reflectance[0] @ eye, 1e-4)
    lab, to_lab = xyz_to_lab(xyz, eye.sum(axis=0)), lab_slope(xyz, eye.sum(axis=0)) @ eye.T
    seen = with_slopes(views, found, to_lab)
    parts = error_parts(seen, found, to_lab) | {"card": _card(views[0], lab)}
    for array in (found.reflectance, found.gain, found.doubt, *parts.values()):
        array.setflags(write=False)
    return Colour(views[0].strip.name, (float(lab[0]), float(lab[1]), float(lab[2])), found, parts, seen)


def with_slopes(views: Sequence[View], found: Recovered, to_lab: Array) -> tuple[View, ...]:
    """The views with how a CIELAB that moves by `to_lab` (3, 81) with the reflectance moves with each one's rgb."""
    slopes = np.split(to_lab @ found.gain[0], len(views), axis=1)
    return tuple(replace(view, slope=slope) for view, slope in zip(views, slopes, strict=True))


def error_parts(views: Sequence[View], found: Recovered, to_lab: Array) -> dict[str, Covariance]:
    """The parts of the error of that CIELAB that come from the photos, (3, 3) each."""
    reflectance = found.reflectance[0]
    return {
        "noise": _total(view.slope @ channel_noise(view) @ view.slope.T for view in views),
        "light": _total(_light(view) for view in views),
        "fit": _total(view.alike * _spread(view.matrix_slope(), view.balance.covariance) for view in views),
        "eye": _total(view.alike * _spread(view.eye_slope(reflectance)) for view in views),
        "ink": INK_FACTOR**2 * _spread(to_lab @ found.doubt[0]),
    }


def light_seen(view: View) -> Array:
    """(3,) light in each channel, a channel that was cut off put where it probably was."""
    return view.rgb - CUT_OFF * _cut(view)


def channel_noise(view: View) -> Covariance:
    """(3, 3) of its rgb: the strip's own noise, what was cut off, and the darkest tones."""
    return np.array(view.strip.covariance) + np.diag((CUT_SPREAD * _cut(view)) ** 2 + DARK_FLOOR**2)


def _cut(view: View) -> Array:
    """(3,) the lightest channel, in so far as each channel was cut off."""
    return np.minimum(np.array(view.strip.cut) / ALL_CUT, 1.0) * view.rgb.max()


def _light(view: View) -> Covariance:
    along = view.slope @ view.rgb
    return np.outer(along, along) * (view.strip.light_std**2 + LIGHT_FLOOR**2)


def _card(view: View, lab: Array) -> Covariance:
    """An error of the size of one patch's, in lightness, chroma and hue: neighbouring patches err together."""
    back = np.linalg.inv(hue_axes(lab[None])[0])
    uncertainty, response = view.balance.card_uncertainty, view.response
    std = np.hypot(np.hypot(uncertainty, _unread(view)), print_doubt(uncertainty, response))
    return np.asarray(std**2 / 3 * back @ back.T)


def _unread(view: View) -> float:
    """CIEDE2000, one standard deviation: what it costs that no instrument read the patches' spectra."""
    if view.balance.frame is not None:
        return FRAMED_CARD
    return GUESSED_CARD if view.response.guessed else 0.0


def _spread(slope: Array, covariance: Covariance | None = None) -> Covariance:
    return slope @ slope.T if covariance is None else slope @ covariance @ slope.T


def _total(parts) -> Covariance:  # type: ignore[no-untyped-def]
    return np.sum(list(parts), axis=0)


def lab_slope(xyz: Array, white: Array) -> Array:
    """(..., 3, 3) change of CIELAB for a change of XYZ (..., 3), by central differences."""
    sizes = np.maximum(1e-4 * xyz, 1e-6)
    steps = sizes[..., None] * np.eye(3)
    moved = xyz_to_lab(xyz[..., None, :] + steps, white) - xyz_to_lab(xyz[..., None, :] - steps, white)
    return np.asarray(np.swapaxes(moved / (2 * sizes[..., None]), -1, -2))


def _shared(view: View, reflectance: Array) -> Array:
    """(3, 9 + modes) ΔLab for one standard deviation of each independent error of the fit and of the eye."""
    values, axes = np.linalg.eigh(view.balance.covariance)
    fit = view.matrix_slope() @ (axes * np.sqrt(np.maximum(values, 0)))
    return np.sqrt(view.alike) * np.hstack([fit, view.eye_slope(reflectance)])
