"""How near pots of old ink come, and what they save: `python -m tests.benchmarks.leftovers --targets 30`.

Studios of `hidden_studios` have leftovers of pots by chance, 20 to 400 g each. What is in them departs from what was
written: each pigment by OFF, and water has gone. Wanted are true colours: near a leftover, between several, or of a
recipe by chance. The pot that uses up most is weighed on a real scale, and so is a fresh one; errors are CIEDE2000 of
the ink that is really in the pot, in a film of usual thickness. With `--strips` each leftover has a strip that was
measured. `--speed` tells how long a search takes instead, in seconds of the processor.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from swatchcam.errors import UsageError
from swatchcam.library.records import Batch
from swatchcam.mixing.known_strip import strip_of
from swatchcam.mixing.order import Order
from swatchcam.mixing.recommend import known_strip_for, recipe_for
from swatchcam.mixing.search import Target
from swatchcam.mixing.use_up import leftover_on, use_up
from swatchcam.recipes.arithmetic import weighed
from swatchcam.recipes.recipe import BINDER
from tests.benchmarks.mixing import REGION, known
from tests.worlds import hidden_studios as pots
from tests.worlds.spectra import difference
from tests.worlds.trial import progress

KINDS = "near", "between", "far"
POT, MIXED, SCALE, STEPS = 300.0, 500.0, 0.1, 4  # g of the new pot, of each old one; g; loads of each test series
LEFT = 20.0, 400.0  # g, log uniform
OFF, DRIED = 0.06, 0.05  # natural logarithm of each pigment's share, one standard deviation; of the base, at most
CHANGED, THINNED = 0.15, 0.4  # of a wanted colour: natural logarithm of each share; at least so much of its old ink


@dataclass(frozen=True)
class Old:
    """What is left of a pot, and what is really in 1 g of it."""

    batch: Batch
    grams: float
    real: dict[str, float]


def leftovers(studio, count, rng):
    """So many of them by chance."""
    found = []
    for number in range(count):
        written = pots.as_read(pots.grams_of(studio.target(rng), MIXED), SCALE)
        real = {name: grams * float(np.exp(rng.normal(0, OFF))) for name, grams in written.items()}
        real[pots.BINDER] = written[pots.BINDER] * (1 - rng.uniform(0, DRIED))
        whole = sum(real.values())
        batch = Batch(number + 1, f"shade {number}", "1", "", "", weighed(written, SCALE), "")
        left = float(round(pots.log_uniform(rng, *LEFT)))
        found.append(Old(batch, left, {name: grams / whole for name, grams in real.items()}))
    return found


def with_strips(studio, bench, old, rng, folder):
    """The bench once a strip of each leftover was photographed."""
    for one in old:
        kept = studio.photograph({"left": shares_of(one), "right": {}}, rng, folder)["left"].kept
        name = strip_of(one.batch.shade, one.batch.name)
        bench = bench.with_known_strip(known_strip_for(bench, one.batch.recipe, kept, name))
    return bench


def shares_of(one):
    return {name: 100 * part for name, part in one.real.items() if name != pots.BINDER}


def wanted(kind, studio, old, rng):
    """Shares, %, of the colour that is wanted."""
    if kind == "far":
        return studio.target(rng)
    some = rng.choice(len(old), size=1 if kind == "near" else min(int(rng.integers(2, 4)), len(old)), replace=False)
    parts = rng.dirichlet(np.full(len(some), 2.0)) * rng.uniform(THINNED, 1)
    found = {}
    for part, at in zip(parts, some, strict=True):
        for name, share in shares_of(old[at]).items():
            found[name] = found.get(name, 0.0) + part * share * float(np.exp(rng.normal(0, CHANGED)))
    return found


@lru_cache(maxsize=2)
def stocked(split, number, count, strips, folder):
    """A studio, its bench and its leftovers."""
    studio, bench = known(split, number, STEPS, 0.01, folder)
    rng = np.random.default_rng([2026, 117, pots.CODES[split], number, count])
    old = leftovers(studio, count, rng)
    return studio, with_strips(studio, bench, old, rng, folder) if strips else bench, old


def one_target(split, number, count, strips, folder, index):
    """What became of a wanted colour."""
    studio, bench, old = stocked(split, number, count, strips, folder)
    kind = KINDS[index % len(KINDS)]
    rng = np.random.default_rng([2026, 118, pots.CODES[split], number, count, index])
    true = studio.lab(wanted(kind, studio, old, rng))
    target, order = Target(tuple(true.tolist()), "hidden"), Order(POT, SCALE)
    fresh = recipe_for(bench, target, order).choices[0]
    told = {"kind": kind, "count": count, "fresh": off(studio, true, poured(fresh, rng)), "used": False}
    start = time.process_time()
    try:
        best = use_up(bench, target, [leftover_on(bench, one.batch, one.grams) for one in old], order).choices[0]
    except UsageError:
        return told | {"seconds": time.process_time() - start}
    seconds, real = time.process_time() - start, poured(best, rng)
    for rest in best.saved.rests:
        for name, part in old[rest.batch.number - 1].real.items():
            real[name] = real.get(name, 0.0) + rest.grams * part
    miss = studio.lab(pots.shares_of(real)) - np.array(best.mix.predicted.lab)
    return told | {
        "used": True,
        "seconds": seconds,
        "off": off(studio, true, real),
        "base": best.saved.base_g / POT,
        "old": best.saved.grams / POT,
        "jars": len(best.saved.rests),
        "held": float(miss @ np.linalg.solve(best.mix.predicted.ink, miss)) <= REGION,
        "expected": best.mix.expected,
    }


def poured(choice, rng):
    """What really goes in: a weight is the difference of two readings; a pre-mix is off by what its making is."""
    found = {}
    for dose in choice.doses:
        grams = dose.grams + float(rng.uniform(-SCALE / 2, SCALE / 2, 2).sum())
        name = pots.BINDER if dose.what == BINDER else dose.what
        share = min(dose.share * (1 + float(rng.normal(0, dose.common))), 1.0)
        found[name] = found.get(name, 0.0) + grams * share
        found[pots.BINDER] = found.get(pots.BINDER, 0.0) + grams * (1 - share)
    return found


def off(studio, true, real):
    return float(difference(studio.lab(pots.shares_of(real)), true))


def line(name, row):
    """What became of several wanted colours."""
    used = [each for each in row if each["used"]]
    words = f"{name:14} {len(row):4} wanted  used up in {len(used) / len(row):4.0%}"
    if not used:
        return words
    fresh, then = (np.array([each[key] for each in used]) for key in ("fresh", "off"))
    base, old, jars, held, said = (
        np.mean([each[key] for each in used]) for key in ("base", "old", "jars", "held", "expected")
    )
    spread = (then - fresh).std(ddof=1) / np.sqrt(len(used)) if len(used) > 1 else np.nan
    return (
        f"{words}  fresh {fresh.mean():.2f}  used up {then.mean():.2f}  more {np.mean(then - fresh):+.2f} ±{spread:.2f}"
        f"  95 % {np.quantile(fresh, 0.95):.2f} -> {np.quantile(then, 0.95):.2f}  expected {said:.2f}  held {held:.0%}"
        f"  old ink {old:.0%} of the pot, base saved {base:.0%}, {jars:.1f} jars"
        f"  {np.mean([each['seconds'] for each in row]):.2f} s"
    )


def speed(asked):
    """Seconds of a search with so many leftovers, and where as much is made as they give."""
    studio, bench = known(asked.split, 0, STEPS, 0.01, asked.folder)
    for count in asked.counts:
        rng = np.random.default_rng([2026, 119, count])
        old = leftovers(studio, count, rng)
        those = [leftover_on(bench, one.batch, one.grams) for one in old]
        taken = {False: [], True: []}
        for kind in KINDS * 2:
            target = Target(tuple(studio.lab(wanted(kind, studio, old, rng)).tolist()), "hidden")
            for all_of_it, seconds in taken.items():
                start = time.process_time()
                with suppress(UsageError):
                    use_up(bench, target, those, Order(POT, SCALE), all_of_it)
                seconds.append(time.process_time() - start)
        print(f"{count:4} leftovers: {np.mean(taken[False]):.2f} s; all of it {np.mean(taken[True]):.2f} s", flush=True)


def main():
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--targets", type=int, default=30, help="wanted colours of each studio and library")
    parser.add_argument("--studios", type=int, default=12)
    parser.add_argument("--counts", type=int, nargs="+", default=[3, 10, 40], help="leftovers of each library")
    parser.add_argument("--split", default="build", choices=sorted(pots.CODES))
    parser.add_argument("--strips", action="store_true", help="each leftover has a strip that was measured")
    parser.add_argument("--speed", action="store_true")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "pots")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    if asked.speed:
        speed(asked)
        return
    jobs = [(n, count, t) for n in range(asked.studios) for count in asked.counts for t in range(asked.targets)]
    work = (one_target(asked.split, n, count, asked.strips, asked.folder, t) for n, count, t in jobs)
    told = list(progress(work, len(jobs)))
    print(
        f"{len(told)} wanted colours, split {asked.split}, {'with' if asked.strips else 'without'} strips of leftovers"
    )
    print(line("all", told))
    for count in asked.counts:
        print(line(f"{count} leftovers", [each for each in told if each["count"] == count]))
        for kind in KINDS:
            print(line(f"  {kind}", [each for each in told if (each["count"], each["kind"]) == (count, kind)]))


if __name__ == "__main__":
    main()
