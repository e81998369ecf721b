"""Are wet strips told, and dry ones left alone, however uneven: `python -m tests.benchmarks.wet_strips`.

A film uneven by 2 to 15 % in the drawn worlds' own blotches, the same in blotches of 4 to 20 mm, and wet films that
mirror 1 to 8 % of white on average. As many scenes for each band of lightness, two strips to a photo.

    python -m tests.benchmarks.wet_strips                                      # five to ten minutes
    python -m tests.benchmarks.wet_strips --split build --dry 40 --wet 40      # a quick look, while building
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.measurement.single_photo import take_look
from swatchcam.measurement.strip_sample import StripSample
from tests.benchmarks.fair_photos import SIZE, middle
from tests.worlds.random_scenes import random_scene
from tests.worlds.scene import Ink, Scene
from tests.worlds.spectra import reflectance_lab
from tests.worlds.spoilers import wetted_ink
from tests.worlds.trial import draw, progress, read_card

Rng = np.random.Generator

BANDS = (0, 25), (25, 50), (50, 70), (70, 101)  # L* of the left strip's ink
UNEVEN = 0.02, 0.15  # standard deviation of the film; a wet one is as even as `random_scenes.drawn` lays it
BLOTCH = 4.0, 20.0  # mm
GLOSS = 0.01, 0.08  # of white, as `spoilers.wet` has it
KINDS = "dry", "dry, broad", "wet"
REFUSALS = {"strip-shines": "wet", "strip-too-uneven": "uneven"}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--dry", type=int, default=152, help="scenes of each of the two sorts of dry film")
    parser.add_argument("--wet", type=int, default=245, help="scenes of wet films")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    chosen = parser.parse_args()
    counts = zip(KINDS, (chosen.dry, chosen.dry, chosen.wet), strict=True)
    jobs = [(kind, number) for kind, count in counts for number in range(count)]
    told: dict[tuple[str, int], Counter[str]] = defaultdict(Counter)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATCHCAM_CARDS"] = str(Path(folder) / "cards")
        for kind, number in progress(jobs, len(jobs)):
            rng = np.random.default_rng([chosen.seed, KINDS.index(kind), number])
            for band, word in strips(kind, number % len(BANDS), chosen.split, rng, Path(folder)):
                told[kind, band][word] += 1
    print(f"Split '{chosen.split}', seed {chosen.seed}, photos of {SIZE[0]} x {SIZE[1]} px.")
    table(told)


def strips(kind: str, band: int, split: str, rng: Rng, folder: Path) -> Iterator[tuple[int, str]]:
    """One photo: the band of each of its strips, and what is said of it.

    A refusal is about one strip; the other one is then not counted.
    """
    scene = drawn_scene(kind, band, split, rng)
    card, photo = folder / "card.csv", folder / "photo.jpg"
    read_card(scene, rng, card)
    truth = draw(scene, SIZE, photo).truth
    try:
        found = {strip.name: said(strip) for strip in take_look(str(photo), str(card)).strips}
    except SwatchcamError as refusal:
        word = REFUSALS.get(refusal.code, "refused")
        found = {str(refusal.facts.get("strip", "left")): word}
    for name, word in found.items():
        yield band_of(truth[name][0]), word


def said(strip: StripSample) -> str:
    """What the flags make of a strip."""
    codes = {flag.code for flag in strip.flags}
    return "wet" if "looks-wet" in codes else "uneven" if "strip-uneven" in codes else "nothing"


def table(told: dict[tuple[str, int], Counter[str]]) -> None:
    """Of each kind and band: strips, and the share that is told to be wet or uneven; other refusals apart."""
    print(f"{'film':12}{'L*':>10}{'strips':>8}{'told wet':>16}{'told uneven':>16}{'refused otherwise':>19}")
    for kind in KINDS:
        rows = [(f"{low} to {min(high, 100)}", told[kind, band]) for band, (low, high) in enumerate(BANDS)]
        for name, words in (*rows, ("all", sum((words for _, words in rows), Counter()))):
            count = words.total() - words["refused"]
            shares = [f"{words[word]} ({words[word] / max(count, 1):.1%})" for word in ("wet", "uneven")]
            print(f"{kind:12}{name:>10}{count:>8}{shares[0]:>16}{shares[1]:>16}{words['refused']:>19}")


def band_of(lightness: float) -> int:
    return next(i for i, (low, high) in enumerate(BANDS) if low <= lightness < high)


def drawn_scene(kind: str, band: int, split: str, rng: Rng) -> Scene:
    """A fair scene whose left ink is of the band, with films as the kind wants them."""
    while True:
        scene = random_scene(rng, split, "fair")
        if band_of(reflectance_lab(middle(scene.windows["left"]))[0]) == band:
            break
    return replace(scene, windows={name: laid(kind, film, rng) for name, film in scene.windows.items()})


def laid(kind: str, film: Ink, rng: Rng) -> Ink:
    if kind == "wet":
        return wetted_ink(film, rng.uniform(*GLOSS))
    blotch = float(np.exp(rng.uniform(*np.log(BLOTCH)))) if kind == "dry, broad" else film.blotch
    return replace(film, uneven=float(rng.uniform(*UNEVEN)), blotch=blotch)


if __name__ == "__main__":
    main()
