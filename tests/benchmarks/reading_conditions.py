"""What it costs that a card was read with gloss, or with other ultraviolet than the photo's light, and what is mended.

    python -m tests.benchmarks.reading_conditions --split build --count 300

Every drawn photo (printers, lamps, phones and inks of the split) has two strips, the right one nearly clear base in
every other, and is measured with values of its print that were read in several ways, once as the tool does and once by
the values as they are. LED lamps have no ultraviolet, daylight 30 to 100 % of what M1 holds. Mean error and 95 %
(CIEDE2000), the mean of dark (L* below 35) and of pale strips (above 80), the share inside the interval of all and of
pale ones, and how often a photo's values were changed.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

from tests.worlds.trial import draw, progress, workers  # before numpy: it sets the threads

# isort: split
import numpy as np

from swatchcam.cards.design import designs
from swatchcam.cards.values import CardValues, load_values
from swatchcam.errors import SwatchcamError
from swatchcam.geometry.pose import find_card
from swatchcam.geometry.rectify import FlatCard, flatten
from swatchcam.measurement.card_fit.reading_conditions import as_seen
from swatchcam.measurement.error_budget import View, colour_of
from swatchcam.measurement.single_photo import light_and_eye
from swatchcam.measurement.strip_sample import sample_windows, windows_of
from swatchcam.photo.photo import read_photo
from tests.worlds.many_printers import random_printer
from tests.worlds.printers import print_card
from tests.worlds.random_scenes import WORLDS, fair_scene
from tests.worlds.reading_conditions import ULTRAVIOLET, random_glow, under, write_reading
from tests.worlds.scene import ink
from tests.worlds.spectra import difference

Row = tuple[str, bool, dict[str, Any]]
# How it was read: gloss of a surface between half matt and smooth or none; ultraviolet, None for the photo's own; and
# what the header says.
WAYS: dict[str, tuple[bool, str | None, dict[str, str]]] = {
    "45/0, as the photo": (False, None, {"condition": "M1"}),
    "gloss, said": (True, None, {"geometry": "d/8", "specular": "included", "condition": "M1"}),
    "gloss, not said": (True, None, {"geometry": "d/8", "condition": "M1"}),
    "M1": (False, "M1", {"condition": "M1"}),
    "M2": (False, "M2", {"condition": "M2"}),
    "M0, not said": (False, "M0", {}),
}


def main() -> None:
    """Draw, measure, tell."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", choices=WORLDS, default="build")
    parser.add_argument("--count", type=int, default=300, help="strips for each way of reading")
    parser.add_argument("--seed", type=int, default=18)
    told = parser.parse_args()
    photos = -(-told.count // 2)
    rows: list[Row] = []
    jobs = [(told.split, told.seed, number) for number in range(photos)]
    with workers(os.cpu_count() or 1) as pool:
        for found in progress(pool.imap_unordered(one, jobs), photos):
            rows += found
    print(
        f"{'read':<20}{'fit':<5}{'strips':>7}{'refused':>8}{'mean':>7}{'95 %':>7}{'dark':>7}{'inside':>8}{'changed':>9}"
    )
    for way in WAYS:
        for fit in (False, True):
            print(line(way, fit, [facts for name, fitted, facts in rows if (name, fitted) == (way, fit)]))


def line(way: str, fit: bool, found: list[dict[str, Any]]) -> str:
    """What came out of one way of reading."""
    strips = [facts for facts in found if "off" in facts]
    off = np.array([facts["off"] for facts in strips])
    inside = np.mean([facts["off"] <= facts["radius"] for facts in strips])
    dark = np.mean([facts["off"] for facts in strips if facts["light"] < 35] or [0.0])
    pale = [(facts["off"], facts["off"] <= facts["radius"]) for facts in strips if facts["light"] > 80] or [(0.0, True)]
    pale_off, pale_inside = np.mean(pale, axis=0)
    changed = np.mean([facts["changed"] for facts in strips])
    return (
        f"{way:<20}{'yes' if fit else 'no':<5}{len(strips):>7}{len(found) - len(strips):>8}{off.mean():>7.2f}"
        f"{np.percentile(off, 95):>7.2f}{dark:>7.2f}{pale_off:>7.2f}{inside:>8.1%}{pale_inside:>7.0%}{changed:>9.1%}"
    )


def one(job: tuple[str, int, int]) -> list[Row]:
    """One photo, measured with values that were read in every way."""
    split, *seed = job
    rng, world, design = np.random.default_rng([*seed, split == "final"]), WORLDS[split], designs()["a5"]
    lamp = str(rng.choice(sorted(world.fair_lights)))
    scene = fair_scene(rng, world, design, 0, lamp, None)
    if seed[-1] % 2:
        clear = ink({str(rng.choice(sorted(world.pigments))): 10 ** rng.uniform(-3, -2)})
        scene = replace(scene, windows=scene.windows | {"right": clear})
    card = print_card(design, random_printer(rng, split), int(rng.integers(1000)), 0.01)
    glow, here = random_glow(rng, card), 0.0 if "LED" in lamp else rng.uniform(0.3, 1.0)
    smooth = rng.uniform(0.5, 1.0)
    rows: list[Row] = []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "photo.jpg"
        shot = draw(replace(scene, card=under(card, glow, here)), (1200, 900), file)
        try:
            photo = read_photo(str(file))
            flat = flatten(photo, find_card(photo))
        except SwatchcamError:
            return rows
        for way, (glossy, condition, said) in WAYS.items():
            read = under(card, glow, here if condition is None else ULTRAVIOLET[condition])
            path = Path(folder) / "values.csv"
            write_reading(path, read, np.random.default_rng(seed), smooth if glossy else 0.0, **said)
            values, solve = load_values(path), once_each(flat)
            for fit in (False, True):
                rows += [(way, fit, facts) for facts in measured(photo.digest, flat, values, solve, fit, shot.truth)]
    return rows


def once_each(flat: FlatCard) -> Any:
    """`light_and_eye` that is asked for the same values once only."""
    known: dict[int, Any] = {}

    def solve(values: CardValues) -> Any:
        if id(values) not in known:
            known[id(values)] = values, light_and_eye(flat, values)
        return known[id(values)][1]

    return solve


def measured(
    digest: str, flat: FlatCard, values: CardValues, solve: Any, fit: bool, truth: dict[str, Any]
) -> list[dict[str, Any]]:
    """Facts of every strip."""
    try:
        used, (light, fitted, response) = as_seen(flat, values, solve) if fit else (values, solve(values))
        windows = sample_windows(flat, light, windows_of(flat, light, False))
    except SwatchcamError:
        return [{}, {}]
    colours = [colour_of([View(digest, window, fitted, response)]) for window in windows]
    return [
        {
            "off": float(difference(np.array(colour.lab), truth[colour.name])),
            "radius": colour.radius,
            "light": float(truth[colour.name][0]),
            "changed": used is not values,
        }
        for colour in colours
    ]


if __name__ == "__main__":
    main()
