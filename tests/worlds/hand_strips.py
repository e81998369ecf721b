"""Strips smeared by hand: pots of hidden studios, their strips in films that vary, on four cloths, with thin edges.

Two pots are compared that are one and the same, or differ in one pigment, or in the strength of all of it; of each
there are several strips. The truth is reckoned from the spectra: the shade difference of two pots is the least
CIEDE2000 over all strengths of the second one, and their strength that at which it is reached. `cached_pairs` keeps
what the tool measured of the strips.
"""

from __future__ import annotations

import os
import pickle
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.measurement.measure import measure
from swatchcam.measurement.stored_colour import Kept, keep
from tests.worlds.hidden_studios import CODES, SIZE, Shares, Strip, Studio, hidden_studio
from tests.worlds.inks import cloth
from tests.worlds.random_scenes import drawn
from tests.worlds.scene import Ink
from tests.worlds.spectra import Array, difference, reflectance_lab
from tests.worlds.trial import draw, read_card

Rng = np.random.Generator

CLOTHS = {"white": 0.4, "natural": 0.3, "pink": 0.15, "grey": 0.15}
STRENGTHS = np.exp(np.linspace(-1.2, 1.2, 241))
KINDS = 3 * ("same",) + 6 * ("shade",) + 3 * ("strength",)  # the pairs of pots of each studio
STRIPS = 2  # of each pot, each pair of strips in a photo of its own
MOST_STRENGTH = 0.4  # ln; a pot that is half as strong again is hardly the same recipe
ASKED = 1.5  # CIEDE2000, of a shade difference


@dataclass(frozen=True)
class Seen:
    """One strip of a pot."""

    kept: Kept
    film: float  # relative to the studio's mean
    lab: Array  # (3,) true CIELAB
    vivid: bool = False  # its colours were cut off by the file


@dataclass(frozen=True)
class PotPair:
    """Two pots, what was measured of their strips, and the truth."""

    kind: str  # "same", "shade" or "strength"
    ground: str
    scatter: float  # of ln film
    shares: tuple[Shares, Shares]
    strips: tuple[tuple[Seen, ...], tuple[Seen, ...]]  # of the first pot and of the second
    cloths: tuple[Kept | None, ...]  # what each photo told of the bare cloth
    shade: float  # true shade difference of the pots, CIEDE2000
    strength: float  # true natural logarithm of the second pot's strength over the first's


class HandStudio(Studio):
    """A studio whose strips are smeared by hand: they leave cloth bare, and run thin at the edge."""

    def ink(self, strip: Strip) -> Ink:
        """A strip as it is drawn."""
        rng = np.random.default_rng(strip.seed)
        outline = drawn(rng, {}, self.film, self.ground)
        bare = outline.extent or tuple(rng.uniform(low, high) for low, high in 2 * [(0.02, 0.12)] + 2 * [(0.85, 0.97)])
        smeared = replace(super().ink(strip), extent=bare if rng.random() < 0.8 else None)
        return replace(smeared, ragged=rng.uniform(0.3, 1.5), taper=rng.uniform(0, 3.0))


def hand_studio(split: str, number: int, scatter: float) -> HandStudio:
    """Studio `number` of a split, its hand and its cloth drawn anew."""
    rng = np.random.default_rng([2026, 15, CODES[split], number])
    base = hidden_studio(split, number)
    ground = str(rng.choice(list(CLOTHS), p=list(CLOTHS.values())))
    said = vars(base) | {
        "ground": ground,
        "scene": replace(base.scene, cloth=cloth(ground), cloth_rect=None),
        "spread": scatter,
        "uneven": rng.uniform(0.03, 0.12),
    }
    return HandStudio(**said)


def in_films(studio: Studio, shares: Shares, films: Array) -> Array:
    """(n, 3) CIELAB of even strips of a pot, in films so many times as thick as usual."""
    return np.array([reflectance_lab(studio.reflectance(shares, film)) for film in films])


def least_difference(
    studio: Studio, first: Shares, second: Shares, films: tuple[float, float] = (1.0, 1.0)
) -> tuple[float, float]:
    """The least CIEDE2000 over all strengths of the second, and ln of the second's strength over the first's there."""
    target = in_films(studio, first, films[:1])[0]
    apart = difference(in_films(studio, second, films[1] * STRENGTHS), target)
    best = int(np.argmin(apart))
    fine = STRENGTHS[best] * np.exp(np.linspace(-0.01, 0.01, 21))
    near = difference(in_films(studio, second, films[1] * fine), target)
    return float(near.min()), -float(np.log(fine[int(np.argmin(near))]))


def second_pot(studio: Studio, first: Shares, kind: str, rng: Rng) -> Shares:
    """The pot that is compared with the first."""
    if kind == "same":
        return dict(first)
    stronger = float(np.exp(rng.normal(0, 0.12)))
    if kind == "strength":
        stronger = float(np.exp(rng.choice([-1, 1]) * rng.uniform(0.05, 0.3)))
        return {name: share * stronger for name, share in first.items()}
    for _ in range(20):
        name = str(rng.choice(sorted(first) if rng.random() < 0.5 and len(first) > 1 else sorted(studio.pigments)))
        sign = -1 if name in first and rng.random() < 0.5 else 1
        low, high = 0.0, 0.97 * first.get(name, 0.0) if sign < 0 else 2.0
        for _ in range(24):
            middle = (low + high) / 2
            other = first | {name: first.get(name, 0.0) + sign * middle}
            found, strength = least_difference(studio, first, other)
            low, high = (middle, high) if found < ASKED else (low, middle)
        if abs(found - ASKED) < 0.02 and abs(strength) < MOST_STRENGTH:
            return {name: share * stronger for name, share in other.items()}
    raise ValueError("no pigment brings the shade so far")


def photographed(
    studio: HandStudio, strips: dict[str, Strip], rng: Rng, folder: Path
) -> tuple[dict[str, tuple[Kept, bool]], Kept | None]:
    """Each window's colour and whether it was cut off, and the bare cloth's; of five photos the first not refused.

    Raises
    ------
    SwatchcamError
        The photo was refused each time.
    """
    place = folder / f"hand-{os.getpid()}"
    place.mkdir(exist_ok=True)
    card, photo = place / "card.csv", place / "photo.jpg"
    read_card(studio.scene, np.random.default_rng(studio.card_seed), card)
    for _ in range(5):
        try:
            draw(studio.held(strips, rng), SIZE, photo)
            found = measure(str(photo), str(card))
        except SwatchcamError as error:
            refused = error
            continue
        kept = {
            colour.name: (keep(colour, found), any(flag.code == "too-vivid" for flag in colour.strip.flags))
            for colour in found.colours
        }
        return kept, keep(found.cloth, found) if found.cloth else None
    raise refused


def pot_pair(studio: HandStudio, kind: str, rng: Rng, folder: Path) -> PotPair | None:
    """Two pots and their strips; None where the photos were refused, or the pots cannot be so far apart."""
    first = studio.target(rng)
    try:
        second = second_pot(studio, first, kind, rng)
    except ValueError:
        return None
    pots, seen, cloths = (first, second), ([], []), []
    for _ in range(STRIPS):
        strips = {window: studio.draw_down(pot, rng) for window, pot in zip(("left", "right"), pots, strict=True)}
        try:
            kept, bare = photographed(studio, strips, rng, folder)
        except SwatchcamError:
            return None
        cloths.append(bare)
        for own, (window, strip) in zip(seen, strips.items(), strict=True):
            colour, vivid = kept[window]
            own.append(Seen(colour, strip.thickness, studio.strip_lab(strip), vivid))
    shade, strength = least_difference(studio, first, second)
    return PotPair(
        kind, studio.ground, studio.spread, pots, (tuple(seen[0]), tuple(seen[1])), tuple(cloths), shade, strength
    )


def cached_pairs(split: str, number: int, scatter: float, folder: Path) -> list[PotPair]:
    """The pot pairs of studio `number` with films of that scatter, photographed only once: kept in `folder`."""
    path = folder / f"hand-{split}-{number}-{scatter:g}.pickle"
    if not path.exists():
        rng = np.random.default_rng([2026, 151, CODES[split], number, round(1000 * scatter)])
        studio = hand_studio(split, number, scatter)
        found = [pot_pair(studio, kind, rng, folder) for kind in KINDS]
        part = path.with_suffix(f".{os.getpid()}")
        part.write_bytes(pickle.dumps([one for one in found if one]))
        part.replace(path)
    return pickle.loads(path.read_bytes())
