"""Is light mirrored in the ink: is it still wet, or does a lamp show in it?

A smooth film sends back a part of the lamp's light as it is: white, whatever the ink, and spread softly. A film of
uneven thickness moves the colour along the ink's own direction, towards the cloth or deeper, in streaks and
blotches. That direction shows in what is left once the broad waves are taken out, and thinning ink moves each channel
by about R ln R of white. So what counts is white light in broad waves, looked at in the mixture of channels that shows
white best and the film least, beside what a film does there. In a grey ink both directions are one: there the waves
have to be larger than the streaks. And light is added here and there: a strip that shows whole waves of it has peaks
rather than dips. A veil that is the same all over the ink cannot be told from a lighter ink.
"""

from __future__ import annotations

import numpy as np

from ..arrays import Array

SEEN = 0.02  # of white: a channel below it may be cut off at zero
WHITE_DIRECTION = 0.985  # cosine between the waves' colour and white
# Waves over what a film does, and their skewness: of 940 dry drawn strips, uneven by 2 to 15 % in blotches of 6 mm,
# none is above both; of 476 with blotches of 4 to 20 mm, 3 in 100; of 651 wet ones, 94 in 100.
MORE_THAN_FILM, NO_DIPS = 0.9, -0.3
WHOLE_WAVES = 80  # blocks; of wet strips cut down to 36 a quarter have dips
FILM = 0.03  # standard deviation of ln film that is always thought possible; chosen among 0 to 0.2 on those strips
NOISE = 0.001  # of white, of a block in one channel; the same, among 0.0005 to 0.003
DARKEST = 5  # percentile of the waves that counts as their darkest place; no source
WAVE = 2.4  # blocks across for each degree of the polynomials: waves of about 2 cm, in whatever size of strip
DEGREES = 2, 5
FEWEST = 16  # blocks that bear a polynomial of degree 2


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
    rest = off - waves
    spread = rest.T @ rest / (len(rest) - basis.shape[1] - 1)
    added = waves.mean(axis=1)
    dips = len(means) >= WHOLE_WAVES and np.mean(added**3) < NO_DIPS * np.mean(added**2) ** 1.5
    if dips or _whiteness(waves) < WHITE_DIRECTION or _over_film(waves, spread, mean[seen]) < MORE_THAN_FILM:
        return 0.0
    return -float(np.percentile(added, DARKEST))


def _waves(places: Array) -> Array:
    """(n, terms) orthonormal polynomials in the place, each with mean 0."""
    degree = int(np.clip(round(np.sqrt(len(places)) / WAVE), *DEGREES))
    scaled = (places - places.mean(axis=0)) / max(float(np.ptp(places)), 1.0)
    # Powers by repeated products: numpy's own power takes longer than all the rest.
    x, y = np.cumprod([np.ones_like(scaled), *[scaled] * degree], axis=0).transpose(2, 0, 1)
    powers = np.stack([x[n - k] * y[k] for n in range(degree + 1) for k in range(n + 1)], axis=-1)
    return np.asarray(np.linalg.qr(powers)[0][:, 1:])


def _whiteness(waves: Array) -> float:
    """Cosine between white and the direction of colour in which the waves (n, channels) are largest."""
    colour = np.linalg.eigh(waves.T @ waves)[1][:, -1]
    return float(abs(colour.sum()) / np.sqrt(len(colour)))


def _over_film(waves: Array, spread: Array, mean: Array) -> float:
    """Rms of the waves' white over the standard deviation that a film and noise have in the same mixture of channels.

    Parameters
    ----------
    waves : (n, channels)
    spread : (channels, channels) covariance of the blocks without their waves
    mean : (channels,) of the ink; a thin film without scatter follows R = exp(-film), with the cloth as white
    """
    thinning = FILM * mean * np.log(mean)
    film = spread + np.outer(thinning, thinning) + NOISE**2 * np.eye(len(mean))
    mixture = np.linalg.solve(film, np.ones(len(mean)))
    return float(np.sqrt(np.mean((waves @ mixture) ** 2) / mixture.sum()))
