"""A card that is no longer what its values say: stained, faded, or of another print run.

Phone and light explain much: any change that a camera's channels could make alike in all patches looks like a camera.
What is left over, patch by patch, only the card explains (`Response.unlike`; it is measured against the stated
uncertainty, so values that are honest about theirs are left alone, and values of earlier days fit in as any others).
Another stock under the same inks, or a yellowed one, is light of another lamp: no photo alone tells it. Fading is told
late, because most of it looks like a phone with paler colours. Tried on build scenes and left out, for it told no more:
what is left over along the ways in which inks fade, spread and shift; a scale for each photo from its own noise.
"""

from __future__ import annotations

import numpy as np

from ..arrays import Array
from ..cards.print_number import spoken
from ..cards.values import CardValues
from ..colorimetry.cielab import lab_to_xyz, white_point, xyz_to_lab
from ..colorimetry.colour_difference import delta_e_2000
from ..colorimetry.spectra import tables
from ..errors import CardError
from ..messages.message import Flag, flag
from .camera_response import Response, patch_std, predict
from .colour_matrix import MISFIT, Balance, lab_weights

# CIEDE2000, from 60 fair drawn photos: their largest residual of a patch was 4.8, their largest median 0.62.
SPOILT_PATCH, SPOILT_TIMES = 5.5, 6.0  # a patch by itself, and so many times the median of all
# How unlike its values a card is (`Response.unlike`). From build scenes of drawn printers: 5 of 508 photos of cards
# with their own values lie above, and 1 of 20 wrong ones that put a strip off by more than 1 below; of 110 cards whose
# values hold no spectra none lies above.
UNFIT_CARD, UNFIT_GUESSED = 0.45, 0.6
ANOTHER_CARD = 2.0  # strips are then 2.6 off (rms), and intervals without any doubt of the print hold in 81 % only
DOUBT = 4.0  # times what the patches are off by: how far off strips are, rms; 3.6 to 4.4 from hardly to far off
STAINS_MOVE = 2.0  # times that: stained patches pull at the matrix, and so make the others look off as well
MOST_SPOILT = 6  # patches; more of them are no stains
LIKE_FADING = 0.2  # correlation; a wrong card of another printer stays below 0.15
FADED = 0.3  # share of magenta lost in the pattern; only the pattern counts
MAGENTA, YELLOW = (545.0, 40.0), (490.0, 10.0)  # nm: middle and width of a band, edge and its softness
LEAST = 0.003  # of the stock's light, below which a density means nothing


def card_flags(fitted: Balance, response: Response, values: CardValues) -> tuple[Flag, ...]:
    """What seems wrong with the printed card itself; without spectra of its patches only whether it fits as a whole."""
    if not values.spectra:
        unlike = print_doubt(values.uncertainty, response)
        return (flag("card-unlike-values", off=unlike),) if unlike else ()
    every = predict(response, values)
    predicted = np.array([every[name] for name in fitted.left_out])
    off = residuals(fitted, fitted.patch_rgb, predicted)
    spoilt = off > max(SPOILT_PATCH, SPOILT_TIMES * float(np.median(off)))
    misfits = [name for name, why in fitted.unused.items() if why == MISFIT]
    names = [name for name, bad in zip(fitted.left_out, spoilt, strict=True) if bad]
    if _unfit(response, STAINS_MOVE if names else 1.0) or len(names) + len(misfits) > MOST_SPOILT:
        size = print_doubt(values.uncertainty, response) or float(np.sqrt(np.mean(off**2)))
        return (_whole_card(fitted, response, values, predicted, size),)
    return _stains(names, off[spoilt], misfits)


def refuse_another_print(response: Response, values: CardValues, number: str | None = None) -> None:
    """Refuse values that this card surely does not have; `number` is what it bears itself.

    Raises
    ------
    CardError
        It is another print, or has changed as much.
    """
    if response.unlike > ANOTHER_CARD:
        bears = spoken(number) if number and number in values.numbers else None
        raise CardError("values-of-another-print", "check-which-print", card=values.name, number=bears)


def print_doubt(uncertainty: float, response: Response) -> float:
    """CIEDE2000, one standard deviation: how far off colours may be because the values are not this card's."""
    if not _unfit(response):
        return 0.0
    return DOUBT * patch_std(uncertainty, response.guessed) * float(np.sqrt(response.unlike))


def _unfit(response: Response, times: float = 1.0) -> bool:
    return response.unlike > times * (UNFIT_GUESSED if response.guessed else UNFIT_CARD)


def residuals(fitted: Balance, seen: Array, predicted: Array) -> Array:
    """(n,) CIEDE2000 between light seen and predicted (n, 3), relative to the bare stock."""
    white = white_point(fitted.illuminant, fitted.observer)
    one, other = (xyz_to_lab(np.maximum(fitted.xyz(rgb), 1e-4), white) for rgb in (seen, predicted))
    return np.asarray(delta_e_2000(one, other))


def _stains(names: list[str], off: Array, misfits: list[str]) -> tuple[Flag, ...]:
    found = sorted([*names, *misfits])
    if not found:
        return ()
    return (flag("patches-stained", patches=found, off=sorted(off)),)


def _whole_card(fitted: Balance, response: Response, values: CardValues, predicted: Array, size: float) -> Flag:
    if likeness_to_fading(fitted, response, values, predicted) > LIKE_FADING:
        return flag("card-faded", off=size)
    return flag("card-unlike-values", off=size)


def likeness_to_fading(fitted: Balance, response: Response, values: CardValues, predicted: Array) -> float:
    """Correlation, -1 to 1, of what is left over with what fading would leave, once a matrix has taken its part."""
    white = white_point(fitted.illuminant, fitted.observer)
    weights = lab_weights(fitted.patch_lab, white)
    patches = np.array([values.spectra[name] for name in fitted.left_out])
    pattern = faded(patches, values.spectra["paper"]) @ response.weights - predicted
    found, sought = (
        np.einsum("nij,nj->ni", weights @ fitted.matrix, change).ravel()
        for change in (fitted.patch_rgb - predicted, pattern)
    )
    any_matrix = np.einsum("nij,nk->nijk", weights, lab_to_xyz(fitted.patch_lab, white)).reshape(len(found), 9)
    axes, _ = np.linalg.qr(any_matrix)
    found, sought = (change - axes @ (axes.T @ change) for change in (found, sought))
    return float(found @ sought / np.sqrt((found @ found) * (sought @ sought)))


def faded(patches: Array, paper: Array) -> Array:
    """(n, 81) reflectances as they would fade: magenta first, yellow half as much, towards the paper."""
    grid = tables().wavelengths
    magenta = np.exp(-0.5 * ((grid - MAGENTA[0]) / MAGENTA[1]) ** 2)
    yellow = 1 / (1 + np.exp((grid - YELLOW[0]) / YELLOW[1]))
    density = -np.log(np.clip(patches / paper, LEAST, 1))
    lost = [(density @ band / band.sum())[:, None] * band for band in (magenta, yellow)]
    return np.asarray(patches * np.exp(FADED * (lost[0] + 0.5 * lost[1])))
