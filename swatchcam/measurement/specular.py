"""Is light mirrored in the ink: is it still wet, or does a lamp show in it?

A smooth film sends back a part of the lamp's light as it is: white, whatever the ink, and spread softly. A film of
uneven thickness moves the colour along the ink's own direction, towards the cloth or deeper, in streaks and
blotches. So what counts is light added in equal parts to all channels, in broad waves. A veil that is the same all
over the ink cannot be told from a lighter ink.
"""

from __future__ import annotations

import numpy as np

from ..arrays import Array

SEEN = 0.02  # of white: a channel below it may be cut off at zero
WHITE_DIRECTION = 0.985  # cosine between the waves' colour and white
LARGE = 0.015  # of white, rms of the waves; 440 fair drawn strips stay below 0.0135
LARGE_IN_DARK = 1.3  # steps of L*, the same in a dark ink; those stay below 0.95
SMALL = 0.007  # the same, where the waves are ...
SMOOTH = 1.1  # ... this much larger than what is left without them
DARKEST = 5  # percentile of the waves that counts as their darkest place; no source
FINE_WAVES = 60  # blocks that bear a polynomial of degree 4
FEWEST = 16  # blocks that bear one of degree 2


def mirrored_light(places: Array, means: Array) -> float:
    """Light mirrored in the ink on average, of white, more than at its darkest place; 0 if none is found.

    Parameters
    ----------
    places : (n, 2) of blocks of ink, in blocks
    means : (n, 3) light of the blocks relative to white
    """
    mean = means.mean(axis=0)
    seen = mean > SEEN
    if len(means) < FEWEST or seen.sum() < 2:
        return 0.0
    off = means[:, seen] - mean[seen]
    basis = _waves(places)
    waves = basis @ (basis.T @ off)
    size, colour = _main_direction(waves)
    white = abs(float(colour.sum())) / np.sqrt(len(colour))
    smooth = float(np.sqrt((waves**2).sum() / max(((off - waves) ** 2).sum(), 1e-12)))
    lightness = size * float(np.mean(100 / 3 * mean[seen] ** (-2 / 3)))
    large = size > LARGE or lightness > LARGE_IN_DARK or (size > SMALL and smooth > SMOOTH)
    if white < WHITE_DIRECTION or not large:
        return 0.0
    return -float(np.percentile(waves.mean(axis=1), DARKEST))


def _waves(places: Array) -> Array:
    """(n, terms) orthonormal polynomials in the place, each with mean 0."""
    order = 4 if len(places) >= FINE_WAVES else 2
    scaled = (places - places.mean(axis=0)) / max(float(np.ptp(places)), 1.0)
    # Powers by repeated products: numpy's own power takes longer than all the rest.
    x, y = np.cumprod([np.ones_like(scaled), *[scaled] * order], axis=0).transpose(2, 0, 1)
    powers = np.stack([x[n - k] * y[k] for n in range(order + 1) for k in range(n + 1)], axis=-1)
    return np.asarray(np.linalg.qr(powers)[0][:, 1:])


def _main_direction(waves: Array) -> tuple[float, Array]:
    """Rms per channel along the direction (channels,) in which the waves are largest."""
    values, vectors = np.linalg.eigh(waves.T @ waves / len(waves))
    return float(np.sqrt(max(values[-1], 0.0) / waves.shape[1])), vectors[:, -1]
