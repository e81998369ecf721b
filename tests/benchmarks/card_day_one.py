"""What an unmeasured card is good for from the first day on: `python -m tests.benchmarks.card_day_one`.

Prints of printers that were drawn at random, each photographed on several days (`tests.worlds.print_days`); nothing is
known of any print but the codes that were sent to the printer. Brackets hold 95 % intervals over prints.

    python -m tests.benchmarks.card_day_one --prints 20 --days 4 --photos DIR    # 80 photos; DIR keeps them
    python -m tests.benchmarks.card_day_one --pots 8 --studios 12 --photos DIR   # pots corrected once, 280 photos
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # tiny matrices: threads cost more than they save

import argparse
import json
import tempfile
from collections import Counter, defaultdict
from collections.abc import Sequence
from functools import partial
from itertools import combinations, product
from pathlib import Path

import numpy as np

from swatchcam.cards.values import CardValues
from swatchcam.errors import SwatchcamError
from swatchcam.measurement.measure import Measurement, measure
from swatchcam.measurement.stored_colour import Kept, keep
from swatchcam.measurement.verdict import between
from tests.benchmarks.day_one_pots import pots_report, studio_pots
from tests.worlds.print_days import Day, print_days
from tests.worlds.spectra import difference
from tests.worlds.trial import draw, progress, workers

SIZE = 1600, 1200
NEAR = 5.0  # CIEDE2000; strips further apart are nobody's question
SAME = 0.25  # below it two strips are one, lying in two photos
SAMPLES = 1000  # of the prints, for intervals
# What design aims at: mean, 95 %, half-width.
AIM = "0.5 / 1.2, half-width 1.2"


def day_series(photos: Sequence[str]) -> list[Measurement | SwatchcamError]:
    """Photos of one print, in the order of its days: what the tool makes of them, or why it refuses one.

    The first in light that nothing is said against is what the print is taken for, as where photos are kept.
    """
    found: list[Measurement | SwatchcamError] = []
    edition: CardValues | None = None
    for photo in photos:
        try:
            seen = measure(photo, earlier=edition)
            edition = edition or (None if seen.light.flags else seen.values)
            found.append(seen)
        except SwatchcamError as refusal:
            found.append(refusal)
    return found


def trial(job):
    """The days of one print, measured: facts of every photo and of every pair of strips."""
    split, seed, number, days, folder, profile = job
    made = print_days(split, number, days, seed, profile=profile)
    name = f"{profile.stem if profile else split}-{seed}-{number}"
    photos = [Path(folder) / f"{name}-{day}.jpg" for day in range(days)]
    truths = [photographed(day, photo) for day, photo in zip(made.days, photos, strict=True)]
    facts = {"kind": made.kind, "refused": [], "flags": [], "strips": [], "within": [], "apart": []}
    seen = []
    for day, truth, found in zip(made.days, truths, day_series([str(photo) for photo in photos]), strict=True):
        if isinstance(found, SwatchcamError):
            facts["refused"].append(found.code)
            continue
        facts["flags"].append(sorted({flag.code for flag in found.flags}))
        cut = any(max(colour.strip.cut) > 0.2 for colour in found.colours)
        strips = [(keep(colour, found), np.array(truth[colour.name])) for colour in found.colours]
        seen.append((day, strips))
        lamp = "mixed" if day.mixed else day.light
        facts["strips"] += [
            {"lamp": lamp, "cut": cut, "off": off(kept.lab, true), "radius": kept.radius} for kept, true in strips
        ]
        facts["within"] += compared(strips[:1], strips[1:2], {"lamp": lamp, "cut": cut})
    for (one, before), (other, after) in combinations(seen, 2):
        lamps = "the same lamp" if one.light == other.light and not one.mixed | other.mixed else "other lamps"
        phones = "another phone" if one.other_phone != other.other_phone or other.other_phone else "the same phone"
        facts["apart"] += compared(before, after, {"lamp": lamps, "phone": phones})
    return facts


def photographed(day: Day, photo: Path) -> dict[str, list[float]]:
    """The truth about a photo, which is drawn if it is not there."""
    told = photo.with_suffix(".json")
    if not told.exists():
        shot = draw(day.scene, SIZE, photo)
        told.write_text(json.dumps({name: lab.tolist() for name, lab in shot.truth.items()}), encoding="utf-8")
    return json.loads(told.read_text(encoding="utf-8"))


def compared(ones: Sequence[tuple[Kept, np.ndarray]], others: Sequence[tuple[Kept, np.ndarray]], more: dict):
    """Facts of the pairs of strips that are truly near each other."""
    found = []
    for (one, true), (other, also) in product(ones, others):
        apart, told = off(true, also), between(one, other)
        if apart < NEAR:
            said = {"true": apart, "off": abs(told.delta_e - apart), "low": told.low, "high": told.high}
            found.append(more | said | {"what": "one strip" if apart < SAME else "near strips"})
    return found


def off(one, other) -> float:
    """CIEDE2000, by colour-science."""
    return float(difference(np.array(one), np.array(other)))


# --- tables ---------------------------------------------------------------------------------------------------


def table(title, prints, key, groups, held, half):
    """One line for each group of the facts under `key`; `groups` names those that a fact belongs to."""
    print(f"\n{title}")
    print(f"{'':26} {'cases':>6}   {'mean':>18}   {'95 %':>18}   {'half-width':>18}   interval holds")
    lines = defaultdict(lambda: [[] for _ in prints])
    for place, one in enumerate(prints):
        for fact in one[key]:
            for group in ("all", *groups(one, fact)):
                lines[group][place].append((fact["off"], half(fact), held(fact)))
    for group, by_print in sorted(lines.items(), key=lambda line: (line[0] != "all", line[0])):
        print(line(group, [np.array(rows) for rows in by_print if rows]))


def line(group, by_print):
    """Mean, 95 % and half-width with intervals over prints, and how many of the intervals hold."""
    rows = np.concatenate(by_print)
    rng = np.random.default_rng(0)
    drawn = [
        np.concatenate([by_print[i] for i in rng.integers(len(by_print), size=len(by_print))]) for _ in range(SAMPLES)
    ]
    cells = []
    for column, statistic in ((0, np.mean), (0, lambda x: np.quantile(x, 0.95)), (1, np.mean)):
        low, high = np.quantile([statistic(sample[:, column]) for sample in drawn], [0.025, 0.975])
        cells.append(f"{statistic(rows[:, column]):6.2f} ({low:4.2f}-{high:5.2f})")
    shares = np.quantile([sample[:, 2].mean() for sample in drawn], [0.025, 0.975])
    count = f"{int(rows[:, 2].sum())} of {len(rows)}, {rows[:, 2].mean():.1%} ({shares[0]:.0%}-{shares[1]:.0%})"
    return f"{group:26} {len(rows):6}   {'   '.join(cells)}   {count}"


def of_pair(fact):
    return fact["low"] <= fact["true"] <= fact["high"]


def width(fact):
    return (fact["high"] - fact["low"]) / 2


def report(prints, days):
    taken, refused = len(prints) * days, Counter(code for one in prints for code in one["refused"])
    flags = Counter(code for one in prints for photo in one["flags"] for code in photo)
    print(f"{taken} photos of {len(prints)} prints; refused {refused.total()}: {dict(refused) or 'none'}")
    print("  flagged: " + (", ".join(f"{code} {count}" for code, count in flags.most_common()) or "none"))
    table(
        f"Two strips on two days, error of their difference, CIEDE2000 (aim {AIM})",
        prints,
        "apart",
        lambda one, fact: (fact["what"], fact["lamp"], fact["phone"], f"kind {one['kind']}"),
        of_pair,
        width,
    )
    table(
        "Two strips in one photo, error of their difference",
        prints,
        "within",
        lambda one, fact: (f"lamp {fact['lamp']}", f"kind {one['kind']}"),
        of_pair,
        width,
    )
    table(
        "A strip's colour, error (aim 4 on average)",
        prints,
        "strips",
        lambda one, fact: (f"lamp {fact['lamp']}", f"kind {one['kind']}", "cut off" if fact["cut"] else "inside"),
        lambda fact: fact["off"] <= fact["radius"],
        lambda fact: fact["radius"],
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--split", choices=["build", "final"], default="build", help="final is for the last look")
    parser.add_argument("--prints", type=int, default=20)
    parser.add_argument("--days", type=int, default=4)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--pots", type=int, default=0, help="of each studio, corrected once, in place of the days")
    parser.add_argument("--studios", type=int, default=12, help="with pots")
    parser.add_argument("--profile", type=Path, help="all prints are as this ICC profile of four inks says")
    parser.add_argument("--photos", help="folder that keeps the photos from run to run")
    parser.add_argument("--workers", type=int, default=2)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATCHCAM_CARDS"] = str(Path(folder) / "cards")
        photos = Path(chosen.photos or folder)
        photos.mkdir(parents=True, exist_ok=True)
        print(f"Split '{chosen.split}', seed {chosen.seed}, photos of {SIZE[0]} x {SIZE[1]} px.")
        work = partial(studio_pots, day_series=day_series) if chosen.pots else trial
        each, count = (chosen.pots, chosen.studios) if chosen.pots else (chosen.days, chosen.prints)
        more = () if chosen.pots else (chosen.profile,)
        jobs = [(chosen.split, chosen.seed, number, each, str(photos), *more) for number in range(count)]
        with workers(chosen.workers) as pool:
            found = list(progress(pool.imap(work, jobs), len(jobs)))
    if chosen.pots:
        told = [pot for studio in found for pot in studio]
        pots_report([pot for pot in told if isinstance(pot, dict)], [pot for pot in told if isinstance(pot, str)])
    else:
        report(found, chosen.days)


if __name__ == "__main__":
    main()
