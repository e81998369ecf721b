"""How many numbers of prints are read in drawn photos: `python -m tests.benchmarks.print_numbers`.

Scenes drawn at random; each print bears a number by chance, one in five none, as those from before there were numbers.
"Right" is the number that was printed, or none where none was; "unread" is told by a flag; "silent" is taken for a
print without a number; "wrong" is another number, or one where none was printed. Photos that are refused for another
reason count apart.

    python -m tests.benchmarks.print_numbers                         # ten minutes
    python -m tests.benchmarks.print_numbers --split build --scenes 40 --kind hard
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchcam.cards.design import designs
from swatchcam.cards.print_number import PER_TAG, TAGS, number_of
from swatchcam.errors import SwatchcamError
from swatchcam.geometry.number_tags import read_tags
from swatchcam.geometry.pose import find_card
from swatchcam.photo.photo import read_photo
from tests.worlds.random_scenes import random_scene
from tests.worlds.trial import draw, progress

WIDTHS = (1000, 1300, 1600, 1000, 1300, 1600, 1000, 1300, 2400, 4000)  # px; large ones take long to draw
DESIGNS = ("a5", "a6", "a4")
OUTCOMES = ("right", "unread", "silent", "wrong", "refused")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scenes", type=int, default=300)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--kind", default="fair", help="of the scenes: fair, hard, or one kind of hard ones")
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    chosen = parser.parse_args()
    found: Counter[tuple[str, str]] = Counter()
    times: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        for scene in progress(range(chosen.scenes), chosen.scenes):
            case, outcome = read(np.random.default_rng([chosen.seed, 18, scene]), scene, chosen, Path(folder), times)
            found[case, outcome] += 1
            found["all", outcome] += 1
    print(f"Split '{chosen.split}', seed {chosen.seed}, {chosen.kind} scenes.")
    print(f"{'':<16}" + "".join(f"{outcome:>9}" for outcome in OUTCOMES))
    for case in [*(f"{width} px" for width in sorted(set(WIDTHS))), "all"]:
        print(f"{case:<16}" + "".join(f"{found[case, outcome]:>9}" for outcome in OUTCOMES))
    print(f"Reading one took {1000 * np.median(times):.1f} ms of processor time, the median.")


def read(rng: np.random.Generator, place: int, chosen: argparse.Namespace, folder: Path, times: list[float]):
    """One photo: its width, and how its number came out."""
    width, design = WIDTHS[place % len(WIDTHS)], designs()[DESIGNS[place % len(DESIGNS)]]
    scene = random_scene(rng, chosen.split, chosen.kind, design, width)
    number = None if rng.random() < 0.2 else f"{rng.integers(PER_TAG**TAGS):08d}"
    draw(replace(scene, card=replace(scene.card, number=number)), (width, width * 3 // 4), folder / "photo.jpg")
    try:
        photo = read_photo(str(folder / "photo.jpg"))
        pose = find_card(photo)
    except SwatchcamError:
        return f"{width} px", "refused"
    started = time.process_time()
    tags = read_tags(photo, pose)
    times.append(time.process_time() - started)
    return f"{width} px", outcome(tags, number)


def outcome(tags: tuple[int | None, ...], number: str | None) -> str:
    """How what was read compares with what was printed."""
    told = number_of(tags)
    if told == number and (told or not tags):
        return "right"
    if told is not None:
        return "wrong"
    return "unread" if tags else "silent"


if __name__ == "__main__":
    main()
