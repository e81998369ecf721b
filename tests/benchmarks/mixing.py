"""How near recipes and corrections come to hidden targets: `python -m tests.benchmarks.mixing --targets 300`.

Studios of `hidden_studios` own pigments that do not behave as the model says. Each makes test series, photographs a
hidden strip, mixes what the tool proposes (weighed on a real scale), photographs a strip of it beside the hidden strip,
does what it is told, and does so once more. Errors are CIEDE2000 of the ink that is really in the pot, in a film of
usual thickness, against the hidden strip's true colour.
"""

from __future__ import annotations

import argparse
import tempfile
from functools import lru_cache, partial
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.library.records import DRY
from swatchcam.mixing.known_strip import KnownStrip, shares_of
from swatchcam.mixing.order import Order
from swatchcam.mixing.recommend import correction_for, known_strip_for, recipe_for
from swatchcam.mixing.search import Target
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.arithmetic import weighed
from tests.worlds import hidden_studios as pots
from tests.worlds.spectra import difference
from tests.worlds.trial import progress, workers

POT = 200.0  # g
CORRECTIONS = 2
REGION = 7.815  # 95 % of chi-square with three degrees of freedom (Pearson 1900)
NAMES = ("first recipe", "first correction", "second correction")


@lru_cache(maxsize=4)
def known(split, number, steps, scale, folder):
    """A studio and the bench that its test series make; the bench keeps the palette that it learned."""
    series = pots.cached_series(split, number, steps, scale, folder)
    known_strips = tuple(
        KnownStrip(*shares_of(weighed(one.grams, scale)), one.sighting.kept, f"series {place}")
        for place, one in enumerate(series)
    )
    return pots.hidden_studio(split, number), Bench("cloth", DRY, known_strips, {}, {}, absolute=True)


def one_target(job, split, steps, scale, folder, strangers):
    """What became of one hidden target, after the recipe and each correction; in words where a photo was refused."""
    index, studios = job
    studio, bench = known(split, index % studios, steps, scale, folder)
    rng = np.random.default_rng([2026, 55, pots.CODES[split], index, strangers])
    strip = studio.draw_down(studio.stranger(rng) if strangers else studio.target(rng), rng)
    try:
        return follow(studio, bench, strip, rng, scale, folder)
    except SwatchcamError as error:
        return str(error)


def follow(studio, bench, strip, rng, scale, folder):
    """Mix, measure and correct as the tool says."""
    kept = studio.photograph({"left": strip, "right": {}}, rng, folder)["left"].kept
    proposed = recipe_for(bench, target_of(kept), Order(POT, scale))
    choice = proposed.choices[0]
    written, real = choice.pot, poured(choice.added, scale, rng)
    told = [facts(studio, strip, real, choice.mix) | {"reach": proposed.reach.hit, "way": "recipe"}]
    for number in range(CORRECTIONS):
        seen = studio.photograph({"left": strip, "right": pots.shares_of(real)}, rng, folder)
        bench = bench.with_known_strip(known_strip_for(bench, written, seen["right"].kept, f"pot {number}"))
        proposed = correction_for(bench, target_of(seen["left"].kept), written, Order(written.grams, scale))
        mix, way = proposed.now, "left"
        if not proposed.leave:
            choice = proposed.choices[0]
            mix, written = choice.mix, choice.pot
            real, way = carried_out(real, choice, scale, rng)
        told.append(facts(studio, strip, real, mix) | {"way": way})
    return told


def target_of(kept):
    return Target(kept.lab, "hidden", kept, kept.reflectance)


def poured(recipe, scale, rng):
    """What really leaves the bottles."""
    return pots.weigh({part.what: part.grams for part in recipe.parts}, scale, rng) if recipe.parts else {}


def carried_out(real, choice, scale, rng):
    """The pot after a person did what the choice says."""
    added = poured(choice.added, scale, rng)
    if choice.roads is None:
        return {name: real.get(name, 0.0) + added.get(name, 0.0) for name in {*real, *added}}, "added"
    fresh = choice.roads.fresh
    scooped = pots.weigh({"ink": fresh.ink_g, pots.BINDER: fresh.binder_g}, scale, rng)
    part = min(scooped["ink"] / sum(real.values()), 1.0)
    pot = {name: part * grams for name, grams in real.items()}
    pot[pots.BINDER] += scooped[pots.BINDER]
    return {name: pot.get(name, 0.0) + added.get(name, 0.0) for name in {*pot, *added}}, "thinned"


def facts(studio, strip, real, mix):
    true, wanted = studio.lab(pots.shares_of(real)), studio.strip_lab(strip)
    off = true - wanted - np.array(mix.predicted.miss)
    return {
        "error": float(difference(true, wanted)),
        "expected": mix.expected,
        "held": bool(off @ np.linalg.solve(mix.predicted.ink, off) <= REGION),
        "pigments": len(mix.shares),
    }


def report(told, asked):
    """Print the table."""
    print(
        f"{len(told)} of {asked.targets} targets, split {asked.split}, test series of {asked.steps} steps,"
        f" scale {asked.scale:g} g{', of pigments that the studio does not have' if asked.strangers else ''}"
    )
    reached = [each for each in told if each[0]["reach"]]
    for words, those in (("in reach", reached), ("out of reach", [each for each in told if not each[0]["reach"]])):
        if those:
            print(f" said to be {words}: {len(those)}")
            for name, row in zip(NAMES, zip(*those, strict=True), strict=True):
                print(line(name, row))


def line(name, row):
    errors = np.array([each["error"] for each in row])
    ways = [each["way"] for each in row]
    done = ", ".join(f"{way} {ways.count(way) / len(ways):.0%}" for way in ("left", "added", "thinned") if way in ways)
    return (
        f"  {name:18} mean {errors.mean():.2f}  median {np.median(errors):.2f}  95 % {np.quantile(errors, 0.95):.2f}"
        f"  expected {np.mean([each['expected'] for each in row]):.2f}"
        f"  prediction held {np.mean([each['held'] for each in row]):6.1%}  {done}"
    )


def main():
    """Print errors and how often the prediction held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--targets", type=int, default=300)
    parser.add_argument("--studios", type=int, default=12)
    parser.add_argument("--steps", type=int, default=4, help="loads of each pigment's test series")
    parser.add_argument("--scale", type=float, default=0.01, help="g, the scale's step")
    parser.add_argument("--split", default="build", choices=sorted(pots.CODES))
    parser.add_argument("--strangers", action="store_true", help="targets of pigments that the studio does not have")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "pots")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    ways = {name: getattr(asked, name) for name in ("split", "steps", "scale", "folder", "strangers")}
    # All targets of a studio one after the other: what was learned of it is kept.
    jobs = sorted(((index, asked.studios) for index in range(asked.targets)), key=lambda job: job[0] % asked.studios)
    chunk = max(asked.targets // asked.studios // 2, 1)
    with workers(2) as pool:
        found = list(progress(pool.imap(partial(one_target, **ways), jobs, chunksize=chunk), len(jobs)))
    for words in sorted({each for each in found if isinstance(each, str)}):
        print(f"refused: {words}")
    report([each for each in found if not isinstance(each, str)], asked)


if __name__ == "__main__":
    main()
