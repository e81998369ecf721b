"""Are the values of another print told, and right ones left alone: `python -m tests.benchmarks.wrong_prints`.

Every photo shows a card once with its own values and once with those of another print (`tests.worlds.wrong_prints`).
How far off the wrong ones put a strip is the CIEDE2000 between what it measures with the one and with the other: the
rest of its error has nothing to do with the print. What the tool tells is a refusal or a flag. Some changes of a card
look just like another lamp or another phone; the last column of the first table says how many of the cases beyond 1
no test of what is left over could tell: those where the patches fit the wrong values as well as most cards fit
their own.

    python -m tests.benchmarks.wrong_prints                              # half an hour
    python -m tests.benchmarks.wrong_prints --split build --count 70     # a quick look, while building
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections import Counter
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from swatchcam.cards.values import CardValues, load_values
from swatchcam.errors import SwatchcamError
from swatchcam.geometry.pose import find_card
from swatchcam.geometry.rectify import FlatCard, flatten
from swatchcam.measurement.card_ageing import card_flags, refuse_another_print
from swatchcam.measurement.card_fit.reading_conditions import as_seen
from swatchcam.measurement.error_budget import View, colour_of
from swatchcam.measurement.single_photo import light_and_eye
from swatchcam.measurement.strip_sample import sample_windows, windows_of
from swatchcam.measurement.verdict import between
from swatchcam.photo.photo import read_photo
from tests.benchmarks.fair_photos import SIZE
from tests.worlds.random_scenes import random_scene
from tests.worlds.spectra import Array, difference
from tests.worlds.trial import draw, progress, read_card, workers
from tests.worlds.wrong_prints import KINDS, wrong_print

OFF, LITTLE = 1.0, 0.5  # CIEDE2000 that a strip is off because of the values: too much, and hardly anything
TELL = {"card-unlike-values", "card-faded"}
REFUSED, FLAGGED, SILENT = "refused", "flagged", "nothing"
Job = tuple[int, int, str, str]  # seed, number, split, folder


@dataclass(frozen=True)
class Said:
    """What the tool makes of one photo with one print's values."""

    outcome: str  # REFUSED, FLAGGED or SILENT
    codes: tuple[str, ...]
    unlike: float  # `Response.unlike`
    lab: Array | None  # (strips, 3); None where nothing was measured
    radius: tuple[float, ...]  # of each
    apart: tuple[float, float]  # interval of the difference of the strips


@dataclass(frozen=True)
class Case:
    """One photo with the values of its own print, and of another."""

    kind: str
    truth: Array  # (strips, 3) CIELAB
    own: Said
    wrong: Said

    @property
    def off(self) -> Array:
        """(strips,) how far off the wrong values put each; more than anybody asks where nothing can be measured."""
        if self.wrong.lab is None or self.own.lab is None:
            return np.full(len(self.truth), np.inf)
        return difference(self.wrong.lab, self.own.lab)

    def miss(self, said: Said) -> Array:
        """(strips,) how far each is from the truth."""
        assert said.lab is not None
        return difference(said.lab, self.truth)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=420, help="photos, each of them with right and wrong values")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATCHCAM_CARDS"] = str(Path(folder) / "cards")
        jobs = [(chosen.seed, number, chosen.split, folder) for number in range(chosen.count)]
        with workers(2) as pool:
            cases = [case for case in progress(pool.imap_unordered(one_case, jobs), len(jobs)) if case]
    print(
        f"Split '{chosen.split}', seed {chosen.seed}, photos of {SIZE[0]} x {SIZE[1]} px: {len(cases)} of"
        f" {chosen.count} can be measured."
    )
    table(cases)


def one_case(job: Job) -> Case | None:
    """A fair scene whose card is one of a pair; None where the photo is refused with the right values too."""
    seed, number, split, folder = job
    rng, kind = np.random.default_rng([seed, 18, number]), KINDS[number % len(KINDS)]
    scene = random_scene(rng, split, "fair")
    pair = wrong_print(rng, scene.card.design, kind, split)
    scene = replace(scene, card=pair.shown)
    path = Path(folder) / f"{number}.jpg"
    shot = draw(scene, SIZE, path)
    own, wrong = (
        load_values(read_card(replace(scene, card=card), rng, path.with_suffix(f".{name}.csv")))
        for name, card in (("own", pair.shown), ("wrong", pair.read))
    )
    try:
        photo = read_photo(str(path))
        card = flatten(photo, find_card(photo))
        pieces = windows_of(card, light_and_eye(card, own)[0])
        said = measured(card, own, pieces)
    except SwatchcamError:
        return None
    finally:
        path.unlink()
    truth = np.array([shot.truth[window.name] for window in scene.card.design.windows])
    return Case(kind, truth, said, _measured_or_refused(card, wrong, pieces))


def measured(card: FlatCard, values: CardValues, pieces: Any) -> Said:
    """As `take_look` does it, but what is refused for the print is measured all the same."""
    values, (light, fitted, response) = as_seen(card, values, partial(light_and_eye, card))
    codes = [flag.code for flag in card_flags(fitted, response, values) if flag.code in TELL]
    try:
        refuse_another_print(response, values)
        outcome = FLAGGED if codes else SILENT
    except SwatchcamError as refusal:
        outcome, codes = REFUSED, [refusal.code]
    strips = sample_windows(card, light, pieces)
    colours = [colour_of([View("photo", strip, fitted, response)]) for strip in strips]
    apart = between(colours[1], colours[0])
    return Said(
        outcome,
        tuple(codes),
        response.unlike,
        np.array([colour.lab for colour in colours]),
        tuple(colour.radius for colour in colours),
        (apart.low, apart.high),
    )


def _measured_or_refused(card: FlatCard, values: CardValues, pieces: Any) -> Said:
    try:
        return measured(card, values, pieces)
    except SwatchcamError as refusal:
        return Said(REFUSED, (refusal.code,), np.inf, None, (), (0.0, 0.0))


def table(cases: list[Case]) -> None:
    own = Counter(case.own.outcome for case in cases)
    print(
        f"Right values: {len(cases)} photos, refused {own[REFUSED]}, flagged {own[FLAGGED]}"
        f" ({(own[REFUSED] + own[FLAGGED]) / len(cases):.1%}, aim at most 1 %)"
    )
    usual = float(np.quantile([case.own.unlike for case in cases], 0.9))
    print(
        f"{'wrong values':15}{'strips':>7}{'off, median':>12}{'95 %':>6}{'beyond 1':>10}{'told of those':>15}"
        f"{'refused':>9}{'told below 0.5':>16}{'fit like own':>14}"
    )
    for kind in (*KINDS, "all"):
        rows = [
            (off, case.wrong.outcome, case.wrong.unlike < usual)
            for case in cases
            if kind in (case.kind, "all")
            for off in case.off
        ]
        if not rows:
            continue
        off, outcome, like_own = (np.array(column) for column in zip(*rows, strict=True))
        high = np.quantile(off, 0.95, method="higher")
        told, far, near = outcome != SILENT, off > OFF, off < LITTLE
        print(
            f"{kind:15}{len(off):7}{np.median(off):12.2f}{high:6.1f}{far.mean():10.0%}"
            f"{_share(told, far):>15}{_share(outcome == REFUSED, far):>9}{_share(told, near):>16}"
            f"{_share(like_own, far):>14}"
        )
    print(f"\n{'intervals':30}{'photos':>8}{'colours hold':>14}{'mean':>7}{'differences hold':>18}{'mean':>7}")
    coverage("right values", [(case, case.own) for case in cases])
    for outcome in (SILENT, FLAGGED, REFUSED):
        coverage(f"wrong values, {outcome}", [(case, case.wrong) for case in cases if case.wrong.outcome == outcome])


def _share(told: Array, of: Array) -> str:
    return f"{told[of].mean():.0%} of {of.sum()}" if of.any() else "-"


def coverage(name: str, said: list[tuple[Case, Said]]) -> None:
    """How often the truth lies in what is stated, of colours and of the difference of both strips."""
    said = [(case, one) for case, one in said if one.lab is not None]
    if not said:
        return
    colours = [miss <= radius for case, one in said for miss, radius in zip(case.miss(one), one.radius, strict=True)]
    apart = [one.apart for _, one in said]
    held = [low <= float(difference(*case.truth)) <= high for (case, _), (low, high) in zip(said, apart, strict=True)]
    radius = np.mean([radius for _, one in said for radius in one.radius])
    width = np.mean([(high - low) / 2 for low, high in apart])
    print(f"{name:30}{len(said):8}{np.mean(colours):14.1%}{radius:7.1f}{np.mean(held):18.1%}{width:7.1f}")


if __name__ == "__main__":
    main()
