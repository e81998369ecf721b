"""Flat card + card values -> the light on the card and the phone's tone curve, found together.

Neither can be found alone: the fall of light is read from the bare white, which the phone has coded through its tone
curve; the tone curve is read from greys that lie in different light. So the curve is solved for, and for each trial
curve the light field follows by linear least squares (variable projection, Golub & Pereyra 1973,
doi:10.1137/0710036).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .colorimetry import decode_srgb, encode_srgb, lab_to_xyz, white_point
from .errors import LightError
from .flatten import MAX_CLIPPED_PATCH, FlatCard
from .uncertainty import least_squares
from .values import CardValues

CURVE_PRIOR = 0.15 / np.arange(1, 6) ** 1.5  # of the coded range, for the curve's five sine terms
FLARE_PRIOR = 0.006  # of white; a clean lens scatters a fraction of a percent (common practice, no source)
CAST_PRIOR = (0.03, 0.03)  # of the cube root, red and blue against green
TWO_CODES = 0.021  # relative, of 8 bits at white; JPEG puts as much beside vivid ink, and nothing is dirty there
MAX_ORDER = 4
MIN_LEVELS = 4  # grey steps that fix the curve
STRAY_GREY = 5.0  # L* off its card value: covered, stained or in glare
MAX_STRAYS = 4
MAX_UNEVEN_WHITE = 0.03  # rms of the white off the smooth light field, relative
UNEVEN_WHITE_WARNING = 0.012
MAX_GREY_SPREAD = 1.0  # L* between prints of one grey; more where the card's values are less certain
GREY_SPREAD_WARNING = 0.6
WINDOW_SURROUND = 10.0  # mm, on an A5 card
MAX_SPOILT_SURROUND = 0.12  # of the bare white around a window
MAX_FALL = 3.0  # brightest over darkest light on the card
MIXED_WARNING = 0.06  # change of the light's colour across the card, relative


@dataclass(frozen=True)
class Tone:
    """The phone's tone curve beyond the file's own coding, and the veil of flare under everything.

    With u = the sRGB coding of the file's linear light, scene light = decode(u + Σ terms_k sin(k π u)) - flare.
    """

    terms: tuple[float, ...]
    flare: float  # linear, of full scale

    def apply(self, light: NDArray[np.floating]) -> NDArray[np.float64]:
        """File's linear light -> scene light, same shape, above zero."""
        return np.maximum(self.unbend(_waves(light)), 1e-5)

    def unbend(self, waves: NDArray[np.float64]) -> NDArray[np.float64]:
        """From `_waves` of the light, which stay the same while terms are tried; may fall below zero."""
        return decode_srgb(waves @ np.array((1.0, *self.terms))) - self.flare

    def table(self, decode: NDArray[np.float32]) -> NDArray[np.float32]:
        """(levels, 3) code value -> scene light, from the file's own table."""
        return self.apply(decode).astype(np.float32)


def _waves(light: NDArray[np.floating]) -> NDArray[np.float64]:
    """(...) linear light -> (..., 1 + terms): u, then sin(k π u)."""
    u = encode_srgb(np.asarray(light, dtype=float))
    k = np.arange(1, len(CURVE_PRIOR) + 1)
    return np.concatenate([u[..., None], np.sin(np.pi * u[..., None] * k)], axis=-1)


@dataclass(frozen=True)
class Field:
    """The light falling on the card: a smooth surface per channel, log light = polynomial in x and y."""

    coefficients: NDArray[np.float64]  # (terms, 3), read-only
    covariance: NDArray[np.float64]  # (terms, terms), of the log, one channel; read-only
    order: int
    size_mm: tuple[float, float]

    def at(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 2) mm -> (..., 3) light on white, scene linear."""
        return np.exp(_terms(points, self.order, self.size_mm) @ self.coefficients)

    def relative_std(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 2) mm -> (...) relative standard uncertainty of the light there."""
        terms = _terms(points, self.order, self.size_mm)
        return np.sqrt(np.einsum("...i,ij,...j->...", terms, self.covariance, terms))


@dataclass(frozen=True)
class Light:
    """Tone curve and light field of one photo."""

    tone: Tone
    field: Field
    wide: Field  # of second order at most: safe to follow a little beyond the card
    white_residual: float  # rms of the bare white off the field, relative
    grey_spread: float  # L*, rms disagreement between prints of one grey
    fall: float  # brightest over darkest light inside the frame
    colour_change: float  # largest relative change of red/green or blue/green across the card
    flags: tuple[str, ...]


def solve_light(card: FlatCard, values: CardValues) -> Light:
    """Find the tone curve and the light field from the greys and the bare white.

    Raises
    ------
    LightError
        A shadow edge or glare crosses the card, the light falls off too steeply, too few greys are usable, or the
        phone has brightened parts of the picture separately (local tone mapping).
    """
    greys = _greys(card, values)
    size = card.pose.design.size_mm
    rows, order = _trusted_white(card)
    at, white = card.white_at[rows], card.white_rgb[rows]
    fewest = len(greys.level) - MAX_STRAYS
    tone, lightness_off = _solve_tone(greys, at, white, order, size)
    while True:
        good = np.abs(lightness_off) <= max(STRAY_GREY, 3 * values.uncertainty)
        if good.all() or good.sum() < fewest or len(set(greys.level[good])) < MIN_LEVELS:
            break
        greys = greys.some(good)
        tone, lightness_off = _solve_tone(greys, at, white, order, size)
    log_white = np.log(tone.apply(white))
    field = _fit_field(at, log_white, order, size)
    light = Light(
        tone=tone,
        field=field,
        wide=_fit_field(at, log_white, min(order, 2), size),
        white_residual=float(np.sqrt(np.mean((log_white - np.log(field.at(at))) ** 2))),
        grey_spread=_grey_spread(greys, lightness_off),
        fall=0.0,
        colour_change=0.0,
        flags=card.flags,
    )
    return _checked(light, card, rows, max(1.0, values.uncertainty / 2))


def _solve_tone(
    greys: _Greys, at: NDArray[np.float64], white: NDArray[np.float64], order: int, size: tuple[float, float]
) -> tuple[Tone, NDArray[np.float64]]:
    """Tone curve, and how far (L*) each grey (n,) then is from its card value."""
    solve, grey_terms = np.linalg.pinv(_terms(at, order, size)), _terms(greys.at, order, size)
    white_waves, grey_waves = _waves(white), _waves(greys.rgb)

    def grey_residuals(p: NDArray[np.float64]) -> NDArray[np.float64]:
        tone = _tone(p)
        field = solve @ np.log(np.maximum(tone.unbend(white_waves), 1e-3))
        seen = tone.unbend(grey_waves) / np.exp(grey_terms @ field)
        # The camera sees printed greys with a cast of its own against the stock, the same for all of them.
        cast = 1 + np.array([p[-2], 0.0, p[-1]])
        return (_cube_root(seen) - greys.expected * cast) / greys.std

    prior = np.concatenate([CURVE_PRIOR, [FLARE_PRIOR * float(np.median(white))], CAST_PRIOR])

    def residuals(p: NDArray[np.float64]) -> NDArray[np.float64]:
        r = grey_residuals(p).ravel()
        # Pseudo-Huber: one stained grey must not bend the curve, and the slope stays smooth.
        r = np.sign(r) * 3 * np.sqrt(2 * (np.sqrt(1 + (r / 3) ** 2) - 1))
        return np.append(r, p / prior)

    fit = least_squares(residuals, np.zeros(len(prior)), tolerance=1e-4)
    return _tone(fit.x), 116 * (grey_residuals(fit.x) * greys.std).mean(axis=1)


def _cube_root(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIELAB's f: the cube root, straight near black so that its slope stays finite."""
    return np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)


def _tone(p: NDArray[np.float64]) -> Tone:
    """The tone curve among the numbers solved for: its terms, the flare, then the greys' cast in red and blue."""
    return Tone(tuple(float(v) for v in p[:-3]), float(p[-3]))


@dataclass(frozen=True)
class _Greys:
    level: NDArray[np.int64]  # which printed grey, by what was sent to the printer
    at: NDArray[np.float64]
    rgb: NDArray[np.float64]
    expected: NDArray[np.float64]  # (n, 3) cube root of reflectance relative to the bare stock
    std: NDArray[np.float64]  # (n, 3) of that cube root

    def some(self, which: NDArray[np.bool_]) -> _Greys:
        """Those greys only."""
        return _Greys(self.level[which], self.at[which], self.rgb[which], self.expected[which], self.std[which])


def _greys(card: FlatCard, values: CardValues) -> _Greys:
    patches = {patch.name: patch for patch in card.pose.design.greys}
    white = white_point(values.illuminant, values.observer)
    paper = lab_to_xyz(np.array(values.lab["paper"]), white)
    chosen = [
        sample
        for sample in card.samples
        if sample.name in patches and sample.clipped <= MAX_CLIPPED_PATCH and sample.spread < 0.25
    ]
    codes = [patches[sample.name].srgb for sample in chosen]
    if len(set(codes)) < MIN_LEVELS:
        raise LightError(
            f"Only {len(set(codes))} of the card's grey steps can be used.",
            "Uncover the card, avoid glare on the greys, and shoot again.",
        )
    xyz = lab_to_xyz(np.array([values.lab[sample.name] for sample in chosen]), white)
    # A near-neutral patch reflects much the same in every band; X, Y and Z stand in for red, green and blue.
    expected = _cube_root(xyz / paper)
    rgb = np.array([sample.rgb for sample in chosen])
    noise = np.array([sample.rgb_std for sample in chosen]) / np.maximum(rgb, 0.005) / 3 * expected
    # One unit of L* is 1/116 of the cube root; tinted greys and their spectra add a little of their own.
    std = np.sqrt(noise**2 + (max(values.uncertainty, 0.2) / 116) ** 2 + 0.003**2)
    levels = {code: number for number, code in enumerate(sorted(set(codes)))}
    return _Greys(
        np.array([levels[code] for code in codes]),
        np.array([sample.at for sample in chosen]),
        rgb,
        expected,
        std,
    )


def _terms(points: NDArray[np.float64], order: int, size_mm: tuple[float, float]) -> NDArray[np.float64]:
    """(..., 2) mm -> (..., terms) of a polynomial of total degree `order` around the card's middle."""
    x = 2 * points[..., 0] / size_mm[0] - 1
    y = (2 * points[..., 1] - size_mm[1]) / size_mm[0]
    return np.stack([x ** (n - k) * y**k for n in range(order + 1) for k in range(n + 1)], axis=-1)


def _trusted_white(card: FlatCard) -> tuple[NDArray[np.int64], int]:
    """Indices of the white cells without dirt or glare, and the order of the smoothest field that explains them."""
    log = np.log(np.maximum(card.white_rgb, 1e-4))
    size = card.pose.design.size_mm
    rows = np.arange(len(log))
    widest = _terms(card.white_at, MAX_ORDER, size)
    for _ in range(6):
        coefficients = np.linalg.lstsq(widest[rows], log[rows], rcond=None)[0]
        off = np.abs(log - widest @ coefficients).max(axis=1)
        limit = max(3.5 * 1.4826 * float(np.median(off[rows])), TWO_CODES)
        kept = np.flatnonzero(off < limit)
        if len(kept) < 0.5 * len(log) or np.array_equal(kept, rows):
            break
        rows = kept
    scores = [_leave_one_out(_terms(card.white_at[rows], order, size), log[rows]) for order in range(1, MAX_ORDER + 1)]
    # The simplest order within 3 % of the best.
    order = next(i + 1 for i, score in enumerate(scores) if score <= 1.03 * min(scores))
    return rows, order


def _leave_one_out(terms: NDArray[np.float64], log: NDArray[np.float64]) -> float:
    q, _ = np.linalg.qr(terms)
    off = log - q @ (q.T @ log)
    leverage = (q**2).sum(axis=1, keepdims=True)
    return float(np.sqrt(((off / (1 - leverage)) ** 2).mean()))


def _fit_field(at: NDArray[np.float64], log_white: NDArray[np.float64], order: int, size: tuple[float, float]) -> Field:
    terms = _terms(at, order, size)
    coefficients = np.asarray(np.linalg.lstsq(terms, log_white, rcond=None)[0], dtype=np.float64)
    off = log_white - terms @ coefficients
    # Neighbouring cells err together (paper, shading the polynomial cannot follow): count one in six as independent.
    covariance = np.asarray(6.0 * float((off**2).mean()) * np.linalg.inv(terms.T @ terms), dtype=np.float64)
    for array in (coefficients, covariance):
        array.setflags(write=False)
    return Field(coefficients, covariance, order, size)


def _grey_spread(greys: _Greys, lightness: NDArray[np.float64]) -> float:
    """Rms disagreement, in L*, between the prints of each grey step once light and tone are off."""
    squares = [
        (lightness[greys.level == level] - lightness[greys.level == level].mean()) ** 2
        for level in np.unique(greys.level)
        if (greys.level == level).sum() > 1
    ]
    return float(np.sqrt(np.concatenate(squares).mean())) if squares else 0.0


def _check_windows(card: FlatCard, trusted: NDArray[np.bool_]) -> None:
    """Refuse a window beside which the bare white does not follow the light field: the ink in it lies in glare too."""
    at = np.concatenate([card.white_at, card.clipped_at])
    good = np.concatenate([trusted, np.zeros(len(card.clipped_at), dtype=bool)])
    scale = card.pose.design.size_mm[0] / 210
    for window in card.pose.design.windows:
        box = window.box
        centre, half = np.array(box.centre), np.array([box.w, box.h]) / 2
        gap = np.linalg.norm(np.maximum(np.abs(at - centre) - half, 0), axis=1)
        beside = gap < WINDOW_SURROUND * scale
        spoilt = 1 - float(good[beside].mean()) if beside.any() else 1.0
        if spoilt > MAX_SPOILT_SURROUND:
            raise LightError(
                f"Glare, a shadow or dirt lies beside the {window.name} window ({spoilt:.0%} of the white around it).",
                "Turn the card or move the lamp until no reflection or shadow is near the window, and shoot again.",
            )


def _checked(light: Light, card: FlatCard, rows: NDArray[np.int64], print_spread: float) -> Light:
    trusted = np.isin(np.arange(len(card.white_at)), rows)
    white = light.field.at(card.white_at)
    fall = float(np.max(white.max(axis=0) / white.min(axis=0)))
    tint = white[:, [0, 2]] / white[:, [1]]
    colour_change = float(np.max(tint.max(axis=0) / tint.min(axis=0)) - 1)
    if light.white_residual > MAX_UNEVEN_WHITE or trusted.mean() < 0.6:
        raise LightError(
            "A shadow edge, glare or dirt crosses the card (its white varies by"
            f" {light.white_residual:.1%} off a smooth fall of light, {1 - trusted.mean():.0%} of it cannot be used).",
            "Move yourself, the phone and the lamp so that the light falls evenly, and shoot again.",
        )
    _check_windows(card, trusted)
    if fall > MAX_FALL:
        raise LightError(
            f"The light on the card is too uneven ({fall:.1f} times brighter on one side).",
            "Move the lamp further away or use window light, and shoot again.",
        )
    if light.grey_spread > MAX_GREY_SPREAD * print_spread:
        raise LightError(
            f"Prints of the same grey disagree by {light.grey_spread:.1f} L* across the card: a lamp is mirrored in it,"
            " or the phone has brightened parts of the picture separately.",
            "Move the lamp or turn the card, turn off HDR, night mode and scene optimising, and shoot again.",
        )
    flags = list(light.flags)
    if light.white_residual > UNEVEN_WHITE_WARNING:
        flags.append(f"light not quite smooth ({light.white_residual:.1%})")
    if light.grey_spread > GREY_SPREAD_WARNING * print_spread:
        flags.append(f"greys disagree across the card ({light.grey_spread:.1f} L*)")
    if colour_change > MIXED_WARNING:
        flags.append(f"the light's colour changes across the card ({colour_change:.0%}): two kinds of light?")
    return replace(light, fall=fall, colour_change=colour_change, flags=tuple(flags))
