"""Did the phone brighten what lies in dark surroundings (local tone mapping: HDR, night mode, scene optimising)?

Light falls smoothly on the card and does not know what is printed on it. So what is left of the bare white once the
light field is off must not follow the darkness around it; where it does, the phone has raised it.
"""

from __future__ import annotations

import cv2
import numpy as np

from ..arrays import Array
from ..cards.design import A5_WIDTH
from ..geometry.rectify import FlatCard
from .light_field import MAX_ORDER, terms
from .tone_curve import Tone

STEP = 3.0  # mm between looks at the card; all lengths on an A5 card
LEVELS, DARKEST = 256, 0.01  # of the code, that are told apart here; least light, of full scale; no source
REACHES = (14.0, 22.0)  # mm; phones look this far around, as shares of the frame a twentieth or so


def follows_surround(card: FlatCard, tone: Tone, at: Array, log_white: Array) -> float:
    """Correlation, -1 to 1, of the bare white's remaining light with the light around it; about 0 if all is well.

    Below zero the dark surroundings are raised. `log_white` (n, 3) is the log of scene light at points `at` (n, 2) mm.
    """
    both = np.stack([log_white.mean(axis=1), *_surround(card, tone, at)], axis=-1)
    smooth, _ = np.linalg.qr(terms(at, MAX_ORDER, card.pose.design.size_mm))
    left, *around = (both - smooth @ (smooth.T @ both)).T
    return min(_correlation(left, seen) for seen in around)


def _surround(card: FlatCard, tone: Tone, at: Array) -> list[Array]:
    """Mean log light around points (n, 2) mm, (n,) for each of REACHES."""
    step = max(round(STEP * card.pose.design.size_mm[0] / A5_WIDTH * card.px_per_mm), 1)
    coded = card.pixels[step // 2 :: step, step // 2 :: step, 1]
    every = len(card.decode) // LEVELS
    log = np.log(np.maximum(tone.apply(card.decode[::every, 1]), DARKEST)).astype(np.float32)[coded // every]
    columns, rows = np.rint(at.T * card.px_per_mm / step - 0.5).astype(int)
    rows, columns = np.clip(rows, 0, log.shape[0] - 1), np.clip(columns, 0, log.shape[1] - 1)
    return [
        cv2.GaussianBlur(log, (0, 0), reach / STEP, borderType=cv2.BORDER_REPLICATE)[rows, columns].astype(float)
        for reach in REACHES
    ]


def _correlation(one: Array, other: Array) -> float:
    size = float(np.sqrt((one @ one) * (other @ other)))
    return float(one @ other) / size if size > 0 else 0.0
