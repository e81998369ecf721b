"""A fresh card beside a measured one: its patches and its stock as light relative to the measured card's stock.

The fresh card's own bare white tells how the light falls on it; what its stock is against the measured one's is the
step that the white of both cards makes, from one to the other, in a light that has none. Where both cards were printed
alike, what the phone sees wrongly in a patch it sees wrongly in its twin too.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..arrays import Array
from ..cards.validation import PAPER
from ..errors import LightError
from ..geometry.rectify import NEAR_BLACK, FlatCard, Sample
from ..illumination.checks import refuse_steep, refuse_uneven
from ..illumination.light_field import Field, fit_field, terms, trusted_white
from ..illumination.solve import Light
from ..illumination.tone_curve import Tone
from .strip_sample import StripSample

SHARED_ORDER, TINT_ORDER = 3, 1  # of the light over both cards: its brightness, its colour
ALIKE_CELLS = 2.0  # neighbouring white cells err together: so many count as one
TWIN_REACH = 0.05  # of the stock's light, within which the phone errs alike in both
TWIN_DOUBT, TWIN_DARK = 0.08, 0.02  # relative, of a channel that was cut off; least light that is relative to
MAX_ROUGH = 0.02  # relative, rms of the white of both cards off one smooth light; 19 fair drawn photos: up to 0.010
MAX_STEP = 0.15  # relative; stocks of one printer are nearer, a shadow between the cards makes more


def fresh_patches(flat: FlatCard, fresh: FlatCard, light: Light) -> dict[str, StripSample]:
    """The fresh card's patches and its stock, "paper", as light relative to the measured card's stock.

    Raises
    ------
    LightError
        The light on the fresh card cannot be undone, or does not continue that on the measured card.
    """
    rows, order = trusted_white(fresh)
    at, log_white = fresh.white_at[rows], np.log(light.tone.apply(fresh.white_rgb[rows]))
    field = fit_field(at, log_white, order, fresh.pose.design.size_mm)
    _refuse_bad_light(field, fresh, log_white - np.log(field.at(at)), len(rows) / len(fresh.white_at))
    known_rows, _ = trusted_white(flat)
    known_white = np.log(light.tone.apply(flat.white_rgb[known_rows]))
    places = flat.pose.to_card(fresh.pose.to_photo(at))
    step, std, rough = stock_step((flat.white_at[known_rows], known_white), (places, log_white))
    if rough > MAX_ROUGH:
        raise LightError("light-breaks-between-cards", "light-both-cards-evenly", off=rough)
    if np.abs(step).max() > MAX_STEP:
        raise LightError("stocks-differ", "use-the-same-stock", off=np.abs(step).max())
    stock = np.exp(step)
    usable = [sample for sample in fresh.samples if not (sample.overexposed or sample.spoilt)]
    patches = {sample.name: _corrected(sample, field, light.tone, stock, std) for sample in usable}
    return patches | {PAPER: _as_sample(PAPER, stock, np.zeros(3), np.zeros(3), std)}


def _refuse_bad_light(field: Field, fresh: FlatCard, off: Array, trusted: float) -> None:
    refuse_uneven(float(np.sqrt(np.mean(off**2))), trusted)
    lit = field.at(fresh.white_at)
    refuse_steep(float(np.max(lit.max(axis=0) / lit.min(axis=0))), 0.0, 1.0)


def stock_step(known: tuple[Array, Array], fresh: tuple[Array, Array]) -> tuple[Array, float, float]:
    """Log ratio (3,) of the fresh stock to the known one, its standard uncertainty, and how rough (rms) the light is.

    `known` and `fresh` are places (n, 2) in mm on one plane and log light (n, 3) of the white there. One light falls
    on both cards; following the field of one card to the other's edge would be twice as far off (drawn scenes).
    """
    at, log = (np.concatenate([a, b]) for a, b in zip(known, fresh, strict=True))
    low, size = at.min(axis=0), np.ptp(at, axis=0)
    is_fresh = np.r_[np.zeros(len(known[0])), np.ones(len(fresh[0]))][:, None]
    bases = [np.hstack([terms(at - low, order, (size[0], size[1])), is_fresh]) for order in (SHARED_ORDER, TINT_ORDER)]
    green = log[:, 1]
    shared = np.linalg.lstsq(bases[0], green, rcond=None)[0]
    tint = np.linalg.lstsq(bases[1], log - green[:, None], rcond=None)[0]
    off = green - bases[0] @ shared
    inverse = np.linalg.inv(bases[0].T @ bases[0])
    rough = float(np.sqrt(np.mean(off**2)))
    return shared[-1] + tint[-1], float(np.sqrt(ALIKE_CELLS * inverse[-1, -1])) * rough, rough


def _corrected(sample: Sample, field: Field, tone: Tone, stock: Array, std: float) -> StripSample:
    at, rgb, noise = np.array(sample.at), np.array(sample.rgb), np.array(sample.rgb_std)
    to_stock = stock / field.at(at)
    spread = (tone.apply(rgb + noise) - tone.apply(rgb - noise)) / 2 * to_stock
    light_std = float(np.hypot(std, field.relative_std(at)))
    return _as_sample(sample.name, tone.apply(rgb) * to_stock, spread, (rgb <= NEAR_BLACK).astype(float), light_std)


def _as_sample(name: str, rgb: Array, std: Array, cut: Array, light_std: float) -> StripSample:
    return StripSample(
        name=name,
        rgb=(float(rgb[0]), float(rgb[1]), float(rgb[2])),
        covariance=tuple((float(a), float(b), float(c)) for a, b, c in np.diag(std**2)),
        cut=(float(cut[0]), float(cut[1]), float(cut[2])),
        light_std=light_std,
        area_mm2=0.0,
        uneven=0.0,
        outline=(),
        flags=(),
    )


def against_twin(patch: StripSample, predicted: Array | None, seen: Array | None) -> StripSample:
    """A patch corrected by what its twin on the measured card, sent as the same colour, shows.

    What the camera sees otherwise than predicted in the twin, it does in the fresh patch, as far as both are alike. And
    a channel that was cut off, because the ink is too vivid for the file, is taken as predicted of the twin.
    """
    rgb, covariance, cut = np.array(patch.rgb), np.array(patch.covariance), np.array(patch.cut)
    if predicted is None:
        return patch
    if seen is not None:
        alike = float(np.exp(-(((rgb - seen) / TWIN_REACH) ** 2).sum()))
        rgb, covariance = rgb + alike * (predicted - seen), covariance * (1 + alike**2)
    lost = (cut > 0) & (predicted < rgb.max())
    rgb = np.where(lost, predicted, rgb)
    doubt = np.where(lost, TWIN_DOUBT * np.maximum(np.abs(predicted), TWIN_DARK), 0)
    return replace(
        patch,
        rgb=(float(rgb[0]), float(rgb[1]), float(rgb[2])),
        covariance=tuple((float(a), float(b), float(c)) for a, b, c in covariance + np.diag(doubt**2)),
        cut=(0.0, 0.0, 0.0),
    )
