"""How well the staining of white cloth is graded from a photo: `python -m tests.benchmarks.staining`.

Drawn photos of a clean white cloth in the left window and a stained one in the right, all over as after a wash, or in
a patch as after rubbing. True grades are spread evenly over the nine steps, and within each one over its range; they
come from the spectra by the formula of ISO 105-A04 as `tests/reference/staining_iso105.csv` gives it, with no code of
the package. "Within" is the told grade or its neighbour, "alone" a single grade told, "held" the true one among those
told, "interval" the true dE_GS in its interval.

    python -m tests.benchmarks.staining                                # two to three minutes
    python -m tests.benchmarks.staining --split build --scenes 45      # a quick look, while building
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections import Counter, defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.measurement.staining import Staining, check_staining
from tests.worlds.hidden_studios import dyed
from tests.worlds.inks import PIGMENTS, Recipe, cloth, random_recipe
from tests.worlds.random_scenes import WORLDS, random_scene
from tests.worlds.scene import SERIES, Ink, Scene
from tests.worlds.spectra import Array, reflectance_lab
from tests.worlds.trial import draw, progress, read_card

Rng = np.random.Generator

SIZE = 1600, 1200
STEPS = ("5", "4-5", "4", "3-4", "3", "2-3", "2", "1-2", "1")
# dE_GS; the ends of the grades by the formula, the last one as far beyond as the one before is wide.
LIMITS = (0.0, 1.087, 3.261, 5.057, 7.139, 10.078, 14.227, 20.086, 28.356, 40.0)
DEEPEST = 50.0  # absorption of the stain over that of the recipe at 1 % in 0.01 mm
PATCH = 17.0, 24.0  # mm across


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scenes", type=int, default=180)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    chosen = parser.parse_args()
    found: dict[str, list[tuple[float, Staining]]] = defaultdict(list)
    refused: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATCHCAM_CARDS"] = str(Path(folder) / "cards")
        for number in progress(range(chosen.scenes), chosen.scenes):
            rng = np.random.default_rng([chosen.seed, 104, number])
            try:
                true, told = graded(rng, chosen.split, number % len(STEPS), Path(folder))
                found[grade_of(true)].append((true, told))
            except SwatchcamError as refusal:
                refused[refusal.code] += 1
    print(f"Split '{chosen.split}', seed {chosen.seed}, photos of {SIZE[0]} x {SIZE[1]} px.")
    table(found)
    print("Refused: " + (", ".join(f"{code} {count}" for code, count in refused.items()) or "none"))


def graded(rng: Rng, split: str, place: int, folder: Path) -> tuple[float, Staining]:
    """One photo: the true dE_GS, and what is told of it."""
    scene, true = stained_scene(rng, split, place)
    card, photo = folder / "card.csv", folder / "photo.jpg"
    read_card(scene, rng, card)
    draw(scene, SIZE, photo)
    return true, check_staining(str(photo), str(card)).staining


def stained_scene(rng: Rng, split: str, place: int) -> tuple[Scene, float]:
    """A fair scene with clean white cloth left and a stain of this place among STEPS right, and its true dE_GS."""
    scene, white = random_scene(rng, split, "fair"), white_cloth(rng)
    wanted = rng.uniform(*LIMITS[place : place + 2])
    while (stain := stain_of(random_recipe(rng, WORLDS[split].pigments), white, wanted)) is None:
        pass
    uneven = rng.uniform(0.02, 0.12)
    right = Ink(np.array([dyed(share * stain, white) for share in SERIES]), uneven)
    windows: dict[str, Ink | None] = {"left": Ink(white), "right": right}
    if rng.random() < 0.5:  # rubbed: a patch in the middle of a cloth that lies under the whole card
        windows = {"left": None, "right": replace(right, extent=patch(rng, scene), ragged=rng.uniform(0.3, 1.5))}
        scene = replace(scene, cloth=white)
    return replace(scene, windows=windows), staining(white, dyed(stain, white))


def white_cloth(rng: Rng) -> Array:
    """Bleached cotton, in one scene of four a half-bleached one, rather more or less light."""
    share = rng.uniform(0, 0.5) if rng.random() < 0.25 else 0.0
    return (cloth("white") * (1 - share) + cloth("natural") * share) * rng.uniform(0.94, 1.0)


def stain_of(recipe: Recipe, white: Array, wanted: float) -> Array | None:
    """(81,) absorption that stains the cloth by this dE_GS; None if this colour can't."""
    one = 0.01 * sum(load * PIGMENTS[name].absorption for name, load in recipe.items())
    low, high = 0.0, DEEPEST
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if staining(white, dyed(middle * one, white)) < wanted else (low, middle)
    return low * one if high < DEEPEST else None


def staining(clean: Array, stained: Array) -> float:
    """dE_GS of two reflectances."""
    before, after = reflectance_lab(clean), reflectance_lab(stained)
    whole = float(np.linalg.norm(after - before))
    return whole - 0.4 * float(np.sqrt(max(whole**2 - (after[0] - before[0]) ** 2, 0)))


def rating(size: float) -> float:
    """SSR, not below 1."""
    strong = 6.1 - 1.45 * np.log(max(size, 1e-9))
    return max(5 - 0.23 * size if strong > 4 else strong, 1.0)


def grade_of(size: float) -> str:
    return STEPS[round(2 * (5 - rating(size)))]


def patch(rng: Rng, scene: Scene) -> tuple[float, float, float, float]:
    """Where in the right window a rubbed patch lies, as shares of it: near its middle."""
    box = scene.card.design.windows[-1].box
    x, y = (0.5 + rng.uniform(-1.5, 1.5) / side for side in (box.w, box.h))
    half = rng.uniform(*PATCH) / 2
    return x - half / box.w, y - half / box.h, x + half / box.w, y + half / box.h


def table(found: dict[str, list[tuple[float, Staining]]]) -> None:
    """Of each true grade: scenes, and how often what is told is right."""
    names = ("scenes", "exact", "within", "alone", "alone, right", "held", "told", "interval")
    print(f"{'grade':8}" + "".join(f"{name:>{max(len(name) + 2, 8)}}" for name in names))
    rows = [(name, found[name]) for name in STEPS if found[name]]
    for name, pairs in (*rows, ("all", [pair for _, each in rows for pair in each])):
        near = np.array([abs(STEPS.index(told.grade) - STEPS.index(grade_of(true))) for true, told in pairs])
        alone = [grade_of(true) == told.grade for true, told in pairs if len(told.grades) == 1]
        held = np.mean([grade_of(true) in told.grades for true, told in pairs])
        width = np.mean([len(told.grades) for _, told in pairs])
        inside = np.mean([told.low <= true <= told.high for true, told in pairs])
        right = f"{np.mean(alone):.0%}" if alone else "-"
        shares = f"{np.mean(near == 0):>8.0%}{np.mean(near <= 1):>8.0%}{len(alone) / len(pairs):>8.0%}{right:>14}"
        print(f"{name:8}{len(pairs):>8}{shares}{held:>8.0%}{width:>8.2f}{inside:>10.0%}")


if __name__ == "__main__":
    main()
