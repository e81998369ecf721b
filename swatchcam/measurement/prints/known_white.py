"""A piece of PTFE in a window -> what the card's bare stock really is, and a nominal card's values on that stock.

PTFE holds no brightener, and 0.5 mm of it or more is as good as white. All that a photo tells is relative to the bare
stock, which nominal values take to be a neutral white of L* 96; so the stock follows from how much lighter the PTFE
is in each channel, and every patch moves with it. What the camera sees is the stock in that lamp's light: brightener
that the lamp does not excite is not in it.

The stock's reflectance is sought in the manner of `camera_response`: normally distributed about what card stock is
like, conditioned on three numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from ...arrays import Array, triple
from ...cards.instrument_import import check_card_name, check_claims
from ...cards.values import NOMINAL, CardValues, load_values
from ...cards.values_file import write_sheet
from ...colorimetry.cielab import Lab, white_point, xyz_to_lab
from ...colorimetry.error_covariance import Covariance
from ...colorimetry.intervals import radius_of_lab
from ...colorimetry.spectra import on_grid, tables, xyz_weights
from ...errors import CardError
from ...messages.message import Flag, flag
from ...resources import user_folder
from ..camera_response import Response
from ..card_fit.editions import edition_sheet
from ..card_fit.print_fit import photographed, sharpened
from ..colour_matrix import Balance
from ..error_budget import LIGHT_FLOOR, lab_slope
from ..single_photo import Look, light_and_eye, take_look
from ..strip_sample import StripSample
from .window_parts import sample_middle, window_named

# One layer of thread seal tape: nm, reflectance over black. Janecek 2012, IEEE Trans. Nucl. Sci. 59(3), 490.
ONE_LAYER = (
    (403.9, 0.868),
    (465.4, 0.836),
    (526.7, 0.789),
    (588.2, 0.727),
    (649.8, 0.656),
    (711.3, 0.583),
    (771.5, 0.514),
)
# What 0.5 mm and more let through at 450 nm: at most 0.05 (Janecek 2012: 0.5 mm reflect more than 0.95 of 380 to
# 500 nm), at least 0.006 (pressed powder reflects 0.994: Weidner & Hsia 1981, from memory). Anything between is alike.
LETS_THROUGH = 0.006, 0.05
BACKING, BACKING_STD = 0.8, 0.1  # reflectance of white paper or cloth below it; no source
OWN_STD = 0.005  # of its reflectance: finger marks, a worn surface; no source
# Card stock before it is seen; no source. Level, slope from end to end, violet lost to pulp and to brightener, what
# brightener sends back, and other bends.
LEVEL, LEVEL_STD, SLOPE_STD = 0.88, 0.06, 0.02
YELLOWED, VIOLET, BRIGHTENED = (0.04, 0.05, 55.0), (0.08, 0.06, 14.0), (0.04, 0.05, 440.0, 17.0)
BEND_STD, BEND_LENGTH = 0.015, 60.0
# The tone curve is read up to the stock only. Of the light that PTFE sends back above it, how much too much is seen,
# and how far that varies, in all channels together and in each; from 100 drawn photos of the build scenes.
BEYOND, BEYOND_STD, BEYOND_EACH = 0.12, 0.11, 0.05
DARKEST = 0.8  # of the light of the stock, in any channel: brightened stock outshines PTFE by less than a quarter
LIGHTEST, LIGHT = 98.0, 97.0  # L* that no stock has, and that few have
MOST_UNEVEN = 1.5  # L*, within the middle
ODD = 20.0  # squared distance from plain stock in standard deviations, of three channels: no stock is like that


@dataclass(frozen=True)
class Stock:
    """The bare stock of one print, as the lamp of one photo shows it."""

    reflectance: Array  # (81,), read-only
    modes: Array  # (n, 81) independent standard deviations of it, read-only
    lab: Lab
    covariance: Covariance  # (3, 3) of lab, read-only
    flags: tuple[Flag, ...]

    @property
    def radius(self) -> float:
        """CIEDE2000 within which the true colour lies in 95 of 100 cases."""
        return radius_of_lab(np.array(self.lab), self.covariance)


def learn_stock(name: str, photo: str, window: str, *, overwrite: bool = False) -> tuple[CardValues, Stock]:
    """Learn an unmeasured print's stock from PTFE in that window, and store what its photo makes of it on that stock.

    Raises
    ------
    SwatchcamError
        Anything that makes the values ones that cannot be trusted, with its remedy.
    """
    target = user_folder() / f"{name}.csv"
    problems = check_card_name(name, target, overwrite)
    if problems:
        raise CardError("card-not-learned", "correct-the-command", problems=problems)
    look = take_look(photo, NOMINAL, windows=False)
    stock = stock_from_white(look, window)
    # By the white the print is taken for another one than by this photo alone: their errors must not cancel.
    frame = f"{look.photo.digest}-white"
    values = photographed(look.card, frame, look.values, (stock.reflectance, stock.modes))
    values = sharpened(values, *light_and_eye(look.card, values)[1:])
    sheet = edition_sheet(values, look.photo)
    if claimed := check_claims(name, sheet.header):
        raise CardError("card-not-learned", "correct-the-command", problems=claimed)
    write_sheet(target, sheet)
    return load_values(target, look.values.illuminant, look.values.observer), stock


def stock_from_white(look: Look, window: str) -> Stock:
    """What the card's bare stock is, from PTFE of at least 0.5 mm in that window of a photo.

    Raises
    ------
    CardError
        What lies there can't be that white: it is no lighter than card stock, uneven, or it has a colour.
    """
    strip = sample_middle(window_named(window, look), look.card, look.light)
    if strip.uneven > MOST_UNEVEN:
        raise CardError("white-uneven", "lay-thick-ptfe", window=window, uneven=strip.uneven)
    return stock_behind(strip, look.response, look.balance)


def stock_behind(white: StripSample, response: Response, balance: Balance) -> Stock:
    """What the bare stock is, from PTFE as one photo shows it; raises CardError as `stock_from_white`."""
    if min(white.rgb) < DARKEST:  # ink: so far from a white, what follows would doubt the photo rather than the white
        raise CardError("white-no-lighter", "lay-thick-ptfe", window=white.name)
    seen, noise = _against_white(white)
    weights = response.weights / (ptfe()[0] @ response.weights)
    reflectance = plain_stock()[0]
    for _ in range(2):  # how the eye's doubt works depends on the stock itself
        noise_of_all = noise + _of_white(seen, response) + _of_eye(seen, reflectance, response)
        reflectance, modes, odd = _conditioned(weights, seen, noise_of_all)
    return _checked(reflectance, modes, odd, balance, white.name)


def _against_white(strip: StripSample) -> tuple[Array, Covariance]:
    """(3,) light of the stock relative to the PTFE, and the covariance that the photo gives it."""
    above = (np.array(strip.rgb) - 1) / (1 + BEYOND)
    rgb = 1 + above
    light = (strip.light_std**2 + LIGHT_FLOOR**2) * np.outer(rgb, rgb)
    beyond = BEYOND_STD**2 * np.outer(above, above) + np.diag((BEYOND_EACH * above) ** 2)
    back = np.diag(rgb**-2)
    return 1 / rgb, back @ (np.array(strip.covariance) + light + beyond) @ back


def _of_white(seen: Array, response: Response) -> Covariance:
    """What it costs that no two pieces of PTFE are alike."""
    white, doubts = ptfe()
    slope = seen * (doubts @ response.weights) / (white @ response.weights)
    return np.asarray(slope.T @ slope)


def _of_eye(seen: Array, stock: Array, response: Response) -> Covariance:
    """What it costs that the channels' weights are not quite known: nothing for a stock that is a grey PTFE."""
    white = ptfe()[0]
    off = np.einsum("l,klc->kc", stock, response.modes) - seen * np.einsum("l,klc->kc", white, response.modes)
    slope = off / (white @ response.weights)
    return np.asarray(slope.T @ slope)


def _conditioned(weights: Array, seen: Array, noise: Covariance) -> tuple[Array, Array, float]:
    """The likeliest stock (81,), what is still open (n, 81), and how odd what was seen is: the squared distance.

    Source: Rasmussen & Williams 2006, eqs. 2.22 to 2.24.
    """
    mean, modes = plain_stock()
    slope, off = modes @ weights, seen - mean @ weights
    expected = slope.T @ slope + noise
    gain = np.linalg.solve(expected, slope.T)
    left = np.linalg.cholesky(np.eye(len(modes)) - slope @ gain + 1e-12 * np.eye(len(modes)))
    return mean + off @ gain @ modes, left.T @ modes, float(off @ np.linalg.solve(expected, off))


def _checked(reflectance: Array, modes: Array, odd: float, balance: Balance, window: str) -> Stock:
    light = balance.illuminant, balance.observer
    eye, white = xyz_weights(*light), white_point(*light)
    xyz = reflectance @ eye
    lab = triple(xyz_to_lab(xyz, white))
    slope = modes @ eye @ lab_slope(xyz, white).T
    if lab[0] > LIGHTEST:
        raise CardError("white-no-lighter", "lay-thick-ptfe", window=window, lightness=lab[0])
    if odd > ODD:
        raise CardError("white-has-a-colour", "lay-thick-ptfe", window=window, lab=list(lab))
    thin = [flag("white-may-be-thin", lightness=lab[0])] if lab[0] > LIGHT else []
    flags = (flag("white-of-this-light"), *thin)
    covariance = slope.T @ slope
    for array in (reflectance, modes, covariance):
        array.setflags(write=False)
    return Stock(reflectance, modes, lab, covariance, flags)


@cache
def ptfe() -> tuple[Array, Array]:
    """(81,) reflectance of PTFE of 0.5 mm and more over white, and independent standard deviations of it (3, 81)."""
    low, high = LETS_THROUGH
    usual, spread = (low + high) / 2, (high - low) / np.sqrt(12)  # anything between is as likely
    white = sheet(usual, BACKING)
    thickness = (sheet(usual + spread, BACKING) - sheet(usual - spread, BACKING)) / 2
    backing = sheet(usual, BACKING + BACKING_STD) - white
    return white, np.array([thickness, backing, OWN_STD * white])


def sheet(through: float, backing: float) -> Array:
    """(81,) reflectance of PTFE that lets so much light of 450 nm through, over a backing of that reflectance.

    Source: scatter without absorption, R / (1 - R) = S X (Kubelka & Munk 1931); its course over the wavelengths is
    that of ONE_LAYER.
    """
    one = on_grid(*zip(*ONE_LAYER, strict=True))
    scatter = one / (1 - one)
    at = np.interp(450.0, tables().wavelengths, scatter)
    passed = 1 / (1 + (1 / through - 1) * scatter / at)
    return np.asarray(1 - passed + passed**2 * backing / (1 - (1 - passed) * backing))


@cache
def plain_stock() -> tuple[Array, Array]:
    """(81,) what white card stock reflects before it is seen, and independent standard deviations of it (n, 81)."""
    grid = tables().wavelengths
    yellowed, violet = (np.exp(-(grid - grid[0]) / reach) for _, _, reach in (YELLOWED, VIOLET))
    glow = np.exp(-0.5 * ((grid - BRIGHTENED[2]) / BRIGHTENED[3]) ** 2)
    mean = LEVEL - YELLOWED[0] * yellowed - VIOLET[0] * violet + BRIGHTENED[0] * glow
    ways = [
        LEVEL_STD * np.ones(grid.size),
        SLOPE_STD * np.linspace(-1, 1, grid.size),
        *(row[1] * shape for row, shape in ((YELLOWED, yellowed), (VIOLET, violet), (BRIGHTENED, glow))),
    ]
    bends = BEND_STD**2 * np.exp(-0.5 * ((grid[:, None] - grid) / BEND_LENGTH) ** 2)
    values, axes = np.linalg.eigh(bends)
    return mean, np.vstack([ways, (axes[:, -12:] * np.sqrt(np.maximum(values[-12:], 0))).T])
