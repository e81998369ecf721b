"""One drawn photo put to the tool: stored as a file, measured from it, and set against the truth.

What the benchmark and the run of hard photos share.
"""

from __future__ import annotations

import os

# Before numpy is loaded, here and in the processes that inherit it: on the many small matrices of a measurement the
# library's threads wait for each other ten times as long as they work.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import multiprocessing
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from multiprocessing.pool import Pool
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from swatchcam.measurement.measure import Measurement, measure
from swatchcam.measurement.verdict import between
from tests.worlds.printers import write_values
from tests.worlds.scene import Scene, Shot, render, write_jpeg
from tests.worlds.spectra import Array, difference

Facts = dict[str, Any]
Size = tuple[int, int]  # px, width and height

CARD_NOISE = 0.3  # CIEDE2000, one standard deviation of the card's readings
WORST = 3.0  # a result further off than this many intervals is a silent failure


@contextmanager
def workers(count: int) -> Iterator[Pool]:
    """Processes that draw and measure, each on one core: threads of OpenCV would only wait for each other."""
    with multiprocessing.get_context("spawn").Pool(count, cv2.setNumThreads, (1,)) as pool:
        yield pool


def progress(results: Iterable[Any], total: int, done: int = 0) -> Iterator[Any]:
    """The results, with count, rate and time left on stderr; `done` of the total were there before."""
    started = time.monotonic()
    for number, result in enumerate(results, start=1):
        rate = number / (time.monotonic() - started)
        left = (total - done - number) / rate
        words = f"{done + number}/{total}, {rate:.2f} per second, {left // 60:.0f} min {left % 60:02.0f} s left"
        print(f"\r{words:60}", end="", file=sys.stderr, flush=True)
        yield result
    print(file=sys.stderr)


def read_card(scene: Scene, rng: np.random.Generator, path: Path) -> Path:
    """A values file as a spectrophotometer would have written it for this very card."""
    spread = CARD_NOISE / np.sqrt(3) * 1.2  # three axes; chroma and hue weigh less in CIEDE2000
    lab = {patch: np.array(value) + rng.normal(0, spread, 3) for patch, value in scene.card.true_lab().items()}
    # Its own stream, so that what is drawn after the card is the same with spectra and without.
    return write_values(path, scene.card.design.name, lab, scene.card.read_spectra(rng.spawn(1)[0]))


def photograph(scene: Scene, size: Size, card_values: Path, photo: Path) -> tuple[Measurement, dict[str, Array]]:
    """Draw a scene, store it as JPEG and measure it from the file: the measurement and the truth.

    Raises
    ------
    SwatchcamError
        The tool refuses the photo.
    """
    shot = draw(scene, size, photo)
    try:
        return measure(str(photo), str(card_values)), shot.truth
    finally:
        photo.unlink()


def draw(scene: Scene, size: Size, photo: Path) -> Shot:
    """Draw a scene and store it as JPEG."""
    shot = render(scene, size)
    write_jpeg(shot, photo)
    return shot


def facts(measured: Measurement, truth: dict[str, Array]) -> Facts:
    """Numbers of one accepted photo, with the truth beside them, by the scenes' own CIEDE2000."""
    left, right = measured.colours[0], measured.colours[1]
    stated = between(right, left)
    true_left, true_right = np.array(truth[left.name]), np.array(truth[right.name])
    return {
        "true": float(difference(true_right, true_left)),
        "measured": stated.delta_e,
        "low": stated.low,
        "high": stated.high,
        "lab": [list(left.lab), list(right.lab)],
        "true_lab": [true_left.tolist(), true_right.tolist()],
        "absolute": [float(difference(np.array(c.lab), t)) for c, t in ((left, true_left), (right, true_right))],
        "radius": [left.radius, right.radius],
        "cut": max(*left.strip.cut, *right.strip.cut) > 0.2,
        "flags": [flag.as_json() for flag in (*measured.flags, *left.strip.flags, *right.strip.flags)],
    }


def is_wrong(photo: Facts) -> bool:
    """Whether an accepted photo's difference or one of its colours is further off than WORST intervals."""
    half = max((photo["high"] - photo["low"]) / 2, 0.05)
    middle = (photo["high"] + photo["low"]) / 2
    absolute = any(error > WORST * radius for error, radius in zip(photo["absolute"], photo["radius"], strict=True))
    return absolute or abs(photo["true"] - middle) > WORST * half
