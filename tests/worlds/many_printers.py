"""Printers drawn at random, a few hundred if need be: inks, stock, dots, and a driver that renders as it likes.

Two splits of different kind. "build": four inks of one absorption band each on white stock, screened, their dots
spread evenly, drivers not too far from sRGB. "final": dyes without a screen, six inks, glossy toner, inks with several
bands, tinted and recycled stock, dots that spread unevenly, drivers far from sRGB. All spectra are invented.

    python -m tests.worlds.many_printers --split build --printers 40    # how far they are from the codes sent
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms

from swatchcam.cards.design import CardDesign, designs
from swatchcam.cards.values import nominal_values
from tests.worlds.inks import smoothest_reflectance
from tests.worlds.printers import OVERPRINTS, PrintedCard, print_card, stock
from tests.worlds.spectra import (
    WAVELENGTHS,
    Array,
    bell,
    difference,
    illuminant,
    reflectance_lab,
    step_up,
    weights,
    xyz_lab,
)

Rng = np.random.Generator

KINDS = {
    "build": ("inkjet", "laser", "photo", "plain"),
    "final": ("dyes", "six inks", "toner", "several bands", "tinted"),
}
TO_XYZ = weights(illuminant("D65"), 10)
COVERS = np.linspace(0, 1, 21)
NODES = np.linspace(0, 1, 7)  # of a driver's table of colours, along each of red, green and blue
TAKEN = 0.06  # ink on ink takes less well than ink on paper, by that share for each ink below
STEP = 1e-3  # of a coverage, for slopes
# IEC 61966-2-1, to XYZ of D65 at 2 degrees, white 1; the drivers render to CIELAB whatever the observer.
SRGB = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


@dataclass(frozen=True)
class Engine:
    """What brings ink to paper: amounts (n, 4) of cyan, magenta, yellow and black -> reflectance."""

    paper: Array  # (81,)
    inks: Array  # (4, 81) decadic absorbance of solids, light passing twice
    spread: Array  # (4, 21) coverage that comes of each of COVERS
    n: float = 1.8  # Yule-Nielsen exponent; 0 is dye without a screen
    surface: float = 0.006  # reflectance of solid ink's surface
    light_inks: Array | None = None  # (2, 81) of light cyan and light magenta

    def reflect(self, amounts: Array) -> Array:
        """(n, 81). Source: Demichel's areas, Neugebauer 1937, Yule & Nielsen 1951; dyes after Beer and Lambert."""
        amounts = np.clip(amounts, 0, 1)
        dots = np.stack([np.interp(amounts[:, i], COVERS, self.spread[i]) for i in range(4)], axis=1)
        if not self.n:
            bare = self.paper * 10 ** -(dots @ self.inks)
        elif self.light_inks is None:
            bare = self._screened(dots, self._primaries)
        else:
            # Light ink fills the paper first, dark ink takes its place beyond.
            dark = np.maximum(2 * dots[:, :2] - 1, 0)
            light = np.where(dots[:, :2] < 0.5, 2 * dots[:, :2], 1) * (1 - dark)
            bare = self.paper * np.prod([self._two(dark, light, i) for i in (0, 1)], axis=0)
            bare = bare * self._screened(np.hstack([0 * dark, dots[:, 2:]]), self._primaries) / self.paper
        return self.surface * (1 - bare / self.paper) + bare

    def _screened(self, dots: Array, primaries: Array) -> Array:
        areas = np.prod(np.where(OVERPRINTS, dots[:, None], 1 - dots[:, None]), axis=2)
        return np.asarray((areas @ primaries) ** self.n)

    def _two(self, dark: Array, light: Array, i: int) -> Array:
        """What dots of a dark ink and its light sister, side by side, let through."""
        assert self.light_inks is not None
        strong, weak = (10 ** (-ink / self.n) for ink in (self.inks[i], self.light_inks[i]))
        bare = 1 - dark[:, i, None] - light[:, i, None]
        return np.asarray((bare + dark[:, i, None] * strong + light[:, i, None] * weak) ** self.n)

    @cached_property
    def _primaries(self) -> Array:
        """(16, 81) reflectance of each overprint of solids, to the power 1/n."""
        taken = 1 - TAKEN * np.maximum(OVERPRINTS.sum(axis=1, keepdims=True) - 1, 0)
        return np.asarray((self.paper * 10 ** (-(OVERPRINTS @ self.inks) * taken)) ** (1 / self.n))

    def lab(self, amounts: Array) -> Array:
        """(n, 3) CIELAB relative to the paper."""
        return xyz_lab(self.reflect(amounts) @ TO_XYZ, self.paper @ TO_XYZ)


@dataclass(frozen=True)
class Driver:
    """What turns codes into amounts: between ink for code, as it comes, and colours that are looked up."""

    engine: Engine  # the one that it was made for
    faithful: float  # 0 ink for code, with greys balanced; 1 every colour looked up
    blacking: float  # share of the common grey that is printed in black
    misbalance: float  # share of the inks' own cast that is left in greys
    tone: float = 1.0  # exponent of lightness: below 1 middle tones are lighter
    chroma: float = 1.0
    hue: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)  # degrees: once and twice round, cosine and sine
    cast: tuple[float, float] = (0.0, 0.0)  # a*, b* of a middle grey

    def amounts(self, codes: Array) -> Array:
        """(n, 4) of codes (n, 3), 0 to 1: between the nodes of its table, as drivers do."""
        place = np.clip(codes, 0, 1) * (len(NODES) - 1)
        low = np.minimum(place.astype(int), len(NODES) - 2)
        part, found = place - low, 0.0
        for corner in np.ndindex(2, 2, 2):
            share = np.prod(np.where(corner, part, 1 - part), axis=1)
            found = found + share[:, None] * self._table[tuple((low + corner).T)]
        return np.asarray(found)

    @cached_property
    def _table(self) -> Array:
        """(7, 7, 7, 4) amounts."""
        codes = np.stack(np.meshgrid(NODES, NODES, NODES, indexing="ij"), axis=-1).reshape(-1, 3)
        inks, black = self._separate(codes)
        greys = np.linspace(1, 0, 21)[:, None] * np.ones(3)
        equal, beside = self._separate(greys)
        balanced = self._looked_up(greys, equal, beside)
        balanced += self.misbalance * (balanced.mean(axis=1, keepdims=True) - balanced)
        plain = np.stack([np.interp(inks[:, i], equal[:, i], balanced[:, i]) for i in range(3)], axis=1)
        looked_up = self._looked_up(codes, plain, black) if self.faithful else plain
        found = self.faithful * looked_up + (1 - self.faithful) * plain
        return np.hstack([found, black[:, None]]).reshape(*3 * (len(NODES),), 4)

    def _separate(self, codes: Array) -> tuple[Array, Array]:
        amounts = 1 - codes
        black = self.blacking * amounts.min(axis=1) ** 2
        return (amounts - black[:, None]) / (1 - black[:, None]), black

    def rendered(self, codes: Array) -> Array:
        """(n, 3) the CIELAB, relative to the paper, that it wants for codes (n, 3)."""
        linear = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
        solid = self.engine.reflect(np.array([[0.8, 0.8, 0.8, 1.0 if self.blacking else 0.0]]))
        darkest = float((solid @ TO_XYZ)[0, 1] / (self.engine.paper @ TO_XYZ)[1])
        # The darkest print stands for black, and light is added as it adds up: middle tones hardly change.
        lab = xyz_lab((darkest + (1 - darkest) * linear) @ SRGB.T, SRGB.sum(axis=1))
        light = np.clip(lab[:, 0] / 100, 0, 1)
        shade = 100 * light**self.tone
        chroma, hue = self.chroma * np.hypot(lab[:, 1], lab[:, 2]), np.arctan2(lab[:, 2], lab[:, 1])
        waves = np.stack([np.cos(hue), np.sin(hue), np.cos(2 * hue), np.sin(2 * hue)], axis=-1)
        hue = hue + np.radians(waves @ np.array(self.hue))
        tint = (4 * light * (1 - light))[:, None] * np.array(self.cast)
        return np.column_stack([shade, chroma * np.cos(hue) + tint[:, 0], chroma * np.sin(hue) + tint[:, 1]])

    def _looked_up(self, codes: Array, start: Array, black: Array) -> Array:
        """(n, 3) cyan, magenta and yellow that give the colours wanted, or come near within what can be printed."""
        wanted, amounts = self.rendered(codes), np.hstack([start, black[:, None]])
        for _ in range(8):
            lab = self.engine.lab(amounts)
            # Slopes from the side where there is room.
            side = np.where(amounts[:, :3] > 0.5, -STEP, STEP)
            slope = np.stack(
                [
                    (self.engine.lab(amounts + side[:, i, None] * np.eye(4)[i]) - lab) / side[:, i, None]
                    for i in range(3)
                ],
                axis=-1,
            )
            square = np.einsum("nki,nkj->nij", slope, slope) + 20 * np.eye(3)
            move = np.linalg.solve(square, np.einsum("nki,nk->ni", slope, wanted - lab)[..., None])[..., 0]
            amounts[:, :3] = np.clip(amounts[:, :3] + np.clip(move, -0.2, 0.2), 0, 1)
        return amounts[:, :3]


@dataclass(frozen=True)
class RandomPrinter:
    """An engine and the driver that feeds it."""

    kind: str
    engine: Engine
    driver: Driver
    evenness: float  # how many times less its coverages vary from patch to patch than from print to print
    drift: float  # how far its coverages vary from print to print, one standard deviation

    @property
    def paper(self) -> Array:
        """(81,) reflectance of the bare stock."""
        return self.engine.paper

    def printed(self, srgb: tuple[int, int, int], errors: tuple[float, ...] = (0.0,) * 4) -> Array:
        """(81,) reflectance of one colour; `errors` are relative changes of each ink's coverage."""
        amounts = self.driver.amounts(np.array([srgb], dtype=float) / 255)
        return self.engine.reflect(amounts * (1 + np.array(errors)))[0]


def random_printer(rng: Rng, split: str = "build", kind: str | None = None) -> RandomPrinter:
    """A printer of a split, of one of its KINDS."""
    kind = kind or str(rng.choice(KINDS[split]))
    engine = build_engine(rng, kind) if split == "build" else final_engine(rng, kind)
    driver = build_driver(rng, engine) if split == "build" else final_driver(rng, engine)
    return RandomPrinter(kind, engine, driver, rng.uniform(2, 5), rng.uniform(0, 0.03))


def random_print(rng: Rng, split: str = "build", design: CardDesign | None = None) -> tuple[RandomPrinter, PrintedCard]:
    """A printer of a split and one print of it."""
    printer = random_printer(rng, split)
    return printer, print_card(design or designs()["a5"], printer, int(rng.integers(2**31)), printer.drift)


@dataclass(frozen=True)
class ProfilePrinter:
    """A printing condition as an ICC profile tells of it; its inks' spectra are the smoothest that have its colours."""

    profile: Path
    intent: ImageCms.Intent
    drift: float
    evenness: float = 3.0
    kind: str = "profile"

    @cached_property
    def _transforms(self) -> tuple[ImageCms.ImageCmsTransform, ImageCms.ImageCmsTransform]:
        """From sRGB to coverages, and from these to CIELAB of D50; in steps of 8 bits."""
        codes, lab = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB", 5003)
        ink = str(self.profile)
        return (
            ImageCms.buildTransform(codes, ink, "RGB", "CMYK", self.intent),
            ImageCms.buildTransform(ink, lab, "CMYK", "LAB", ImageCms.Intent.ABSOLUTE_COLORIMETRIC),
        )

    @cached_property
    def paper(self) -> Array:
        """(81,) reflectance of the bare stock."""
        return self._reflectance((0, 0, 0, 0))

    def printed(self, srgb: tuple[int, int, int], errors: tuple[float, ...] = (0.0,) * 4) -> Array:
        """(81,) reflectance of one colour; `errors` are relative changes of each ink's coverage."""
        covers = np.array(_one_pixel("RGB", srgb, self._transforms[0])) * (1 + np.array(errors))
        return self._reflectance(tuple(int(cover) for cover in np.clip(np.rint(covers), 0, 255)))

    def _reflectance(self, covers: tuple[int, ...]) -> Array:
        light, a, b = _one_pixel("CMYK", covers, self._transforms[1])
        signed = [value - 256 if value > 127 else value for value in (a, b)]  # as Pillow keeps a* and b*
        return smoothest_reflectance(np.array([light / 2.55, *signed]), "D50", 2)


def _one_pixel(mode: str, levels: tuple[int, ...], transform: ImageCms.ImageCmsTransform) -> tuple[int, ...]:
    shown = ImageCms.applyTransform(Image.new(mode, (1, 1), levels), transform)
    assert shown is not None
    return tuple(shown.tobytes())


def profile_printer(rng: Rng, profile: Path) -> ProfilePrinter:
    """A printer whose condition is that of an ICC profile of four inks."""
    intents = ImageCms.Intent.PERCEPTUAL, ImageCms.Intent.RELATIVE_COLORIMETRIC
    return ProfilePrinter(profile, intents[int(rng.integers(2))], rng.uniform(0, 0.03))


# --- build: four inks of one band each, on white stock --------------------------------------------------------


def build_engine(rng: Rng, kind: str) -> Engine:
    """Four inks of a home or office printer."""
    strength, n, gain, surface = {
        "inkjet": ((1.1, 1.5), (1.5, 2.2), (0.04, 0.16), (0.004, 0.012)),
        "laser": ((1.1, 1.5), (1.2, 1.9), (0.08, 0.2), (0.006, 0.016)),
        "photo": ((1.5, 2.0), (1.6, 2.4), (0.0, 0.1), (0.002, 0.007)),
        "plain": ((0.75, 1.15), (1.7, 2.4), (0.1, 0.2), (0.01, 0.02)),
    }[kind]
    return Engine(
        white_stock(rng, kind == "plain"),
        one_band_inks(rng, strength),
        np.array([even_spread(rng.uniform(*gain)) for _ in range(4)]),
        rng.uniform(*n),
        rng.uniform(*surface),
    )


def white_stock(rng: Rng, plain: bool) -> Array:
    """White paper, more or less warm and brightened."""
    level = rng.uniform(0.82, 0.92) if plain else rng.uniform(0.86, 0.95)
    return np.minimum(stock(rng.uniform(0.02, 0.12), rng.uniform(0, 0.12), level), 1.0)


def one_band_inks(rng: Rng, strength: tuple[float, float]) -> Array:
    """(4, 81) cyan, magenta and yellow with one band each and some absorption beside it, and a black."""
    near = rng.uniform(0.1, 0.4, 2)
    cyan = bell(rng.uniform(612, 665), rng.uniform(45, 72), rng.uniform(40, 75)) + near[0] * bell(395, 45)
    magenta = bell(rng.uniform(535, 568), rng.uniform(34, 48), rng.uniform(18, 30)) + near[1] * bell(395, 55)
    yellow = 1 - step_up(rng.uniform(476, 502), rng.uniform(8, 14)) + rng.uniform(0.01, 0.04)
    black = 1.15 + rng.uniform(-0.2, 0.05) * step_up(rng.uniform(600, 690), 40)
    solids = np.append(rng.uniform(*strength, 3), rng.uniform(1.2, 1.7))
    return solids[:, None] * np.array([cyan, magenta, yellow, black])


def even_spread(gain: float) -> Array:
    """(21,) dots that grow most at half coverage, by `gain`."""
    return COVERS + 4 * gain * COVERS * (1 - COVERS)


def build_driver(rng: Rng, engine: Engine) -> Driver:
    """Not too far from sRGB, and made for an engine of nearly the same inks on its maker's paper."""
    bend = np.array([even_spread(rng.normal(0, 0.02)) for _ in range(4)])
    made_for = replace(
        engine,
        paper=stock(0.05, 0.06, 0.91),
        inks=engine.inks * np.exp(rng.normal(0, 0.05, (4, 1))),
        spread=np.clip(engine.spread + bend - COVERS, 0, 1),
    )
    return Driver(
        made_for,
        float(rng.choice([0.0, 1.0, rng.uniform()])),
        rng.uniform(0.35, 0.95),
        rng.uniform(0, 0.5),
        float(np.exp(rng.normal(0, 0.1))),
        float(np.exp(rng.normal(0, 0.1))),
        turned(rng, 4.0),
        cast(rng, 1.2),
    )


def turned(rng: Rng, degrees: float) -> tuple[float, float, float, float]:
    """How hues are turned, one standard deviation of each wave."""
    once, again, twice, more = rng.normal(0, degrees, 4) / np.sqrt(2)
    return float(once), float(again), float(twice) / 2, float(more) / 2


def cast(rng: Rng, size: float) -> tuple[float, float]:
    """The colour of a middle grey, one standard deviation of a* and of b*."""
    a, b = rng.normal(0, size, 2)
    return float(a), float(b)


# --- final: of another kind -----------------------------------------------------------------------------------


def final_engine(rng: Rng, kind: str) -> Engine:
    """An engine unlike those of the build split."""
    spread = np.array([uneven_spread(rng) for _ in range(4)])
    paper = tinted_stock(rng) if kind == "tinted" else white_stock(rng, False)
    inks = banded_inks(rng)
    if kind == "dyes":
        return Engine(paper, 1.4 * inks * [[1], [1], [1], [0]], spread, 0.0, rng.uniform(0.002, 0.006))
    if kind == "six inks":
        lighter = rng.uniform(0.25, 0.4) * inks[:2]
        return Engine(paper, 1.2 * inks, spread, rng.uniform(1.3, 2.0), rng.uniform(0.002, 0.008), lighter)
    if kind == "toner":
        return Engine(paper, inks, spread, rng.uniform(1.1, 1.6), rng.uniform(0.018, 0.032))
    return Engine(paper, inks, spread, rng.uniform(1.4, 2.4), rng.uniform(0.004, 0.012))


def banded_inks(rng: Rng) -> Array:
    """(4, 81) inks with two bands or a shoulder, and a black that is warm or cold."""
    cyan = bell(rng.uniform(605, 630), 42, 28) + rng.uniform(0.5, 0.9) * bell(rng.uniform(675, 700), 32, 60)
    magenta = bell(rng.uniform(556, 574), 26, 15) + rng.uniform(0.4, 0.8) * bell(rng.uniform(518, 532), 24)
    yellow = (1 - step_up(rng.uniform(470, 512), rng.uniform(6, 18))) * (0.75 + 0.25 * bell(rng.uniform(420, 450), 25))
    black = 1.1 + rng.uniform(-0.35, 0.35) * (WAVELENGTHS - 560) / 200
    sides = rng.uniform(0.08, 0.35, 3)[:, None] * np.array([bell(385, 30), bell(400, 45), 0.2 * bell(600, 80)])
    return rng.uniform(1.1, 1.7, (4, 1)) * np.vstack([np.array([cyan, magenta, yellow]) + sides, black])


def uneven_spread(rng: Rng) -> Array:
    """(21,) dots that grow most in lights or in shadows."""
    skew = np.exp(rng.uniform(-0.6, 0.6))
    return np.clip(COVERS + 4 * rng.uniform(0, 0.24) * COVERS**skew * (1 - COVERS**skew), 0, 1)


def tinted_stock(rng: Rng) -> Array:
    """Recycled, cream or coloured paper."""
    grey = rng.uniform(0.7, 0.88) - rng.uniform(0.02, 0.2) * np.exp(-(WAVELENGTHS - 380) / 90)
    tint = 1 - rng.uniform(0, 0.2) * bell(float(rng.choice([450, 560, 630])), 50)
    return np.asarray(grey * tint + rng.uniform(0, 0.04) * bell(445, 15, 25))


def final_driver(rng: Rng, engine: Engine) -> Driver:
    """Far from sRGB, and made for white paper."""
    made_for = replace(engine, paper=stock(0.04, 0.05, 0.92), inks=engine.inks * np.exp(rng.normal(0, 0.1, (4, 1))))
    return Driver(
        made_for,
        float(rng.choice([0.0, 1.0, rng.uniform()])),
        rng.uniform(0.2, 0.95) if engine.inks[3].any() else 0.0,
        rng.uniform(0, 0.8),
        float(np.exp(rng.choice([-1, 1]) * rng.uniform(0.05, 0.3))),
        float(np.exp(rng.uniform(-0.35, 0.3))),
        turned(rng, 9.0),
        cast(rng, 2.5),
    )


# --- how far from the codes sent ------------------------------------------------------------------------------


def from_nominal(card: PrintedCard) -> tuple[float, float, float]:
    """Of a print: rms CIEDE2000 of its patches, rms and mean L* of its greys, against the values of a card unread."""
    nominal, true = nominal_values(card.design).lab, card.true_lab()
    off = [difference(true[name], np.array(nominal[name])) for name in card.reflectance]
    greys = [patch.name for patch in card.design.patches if np.ptp(patch.srgb) < 3]
    lighter = np.array([true[name][0] - nominal[name][0] for name in greys])
    return float(np.sqrt(np.mean(np.square(off)))), float(np.sqrt((lighter**2).mean())), float(lighter.mean())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--split", choices=sorted(KINDS), default="build")
    parser.add_argument("--printers", type=int, default=40)
    parser.add_argument("--seed", type=int, default=2026)
    chosen = parser.parse_args()
    rows = defaultdict(list)
    for number in range(chosen.printers):
        printer, card = random_print(np.random.default_rng([chosen.seed, number]), chosen.split)
        paper = reflectance_lab(card.paper)
        facts = (*from_nominal(card), float(paper[0]), float(paper[2]), float(reflectance_lab(card.black)[0]))
        rows[printer.kind].append(facts)
        rows["all"].append(facts)
    print("mean of          prints  rms dE   90 %  greys L   most  white    b*  black")
    for kind, facts in rows.items():
        off, rms, mean, light, yellow, dark = np.array(facts).T
        print(
            f"{kind:16} {len(off):6} {off.mean():7.1f} {np.quantile(off, 0.9):6.1f} {rms.mean():8.1f}"
            f" {np.abs(mean).max():6.1f} {light.mean():6.1f} {yellow.mean():5.1f} {dark.mean():6.1f}"
        )


if __name__ == "__main__":
    main()
