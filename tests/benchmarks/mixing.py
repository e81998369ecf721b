"""How near recipes and corrections come to hidden targets: `python -m tests.benchmarks.mixing --targets 300`.

Studios of `hidden_studios` own pigments that do not behave as the model says. Each makes test series, photographs a
hidden strip, mixes what the tool proposes (weighed on a real scale), photographs a strip of it beside the hidden strip,
does what it is told, and does so once more. Errors are CIEDE2000 of the ink that is really in the pot, in a film of
usual thickness, against the hidden strip's true colour.

With `--film-scatter 0.10 --strips 1 2` it is pots in hand instead (`tests.worlds.pots_off`): 1 to 8 off, or right but
for the films of their strips, corrected once from so many strips, in studios whose films vary by so much.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import zlib
from functools import lru_cache, partial
from itertools import pairwise, product
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.library.records import DRY
from swatchcam.mixing.known_strip import KnownStrip, shares_of, strip_of
from swatchcam.mixing.order import Order
from swatchcam.mixing.prediction_check import share_interval
from swatchcam.mixing.recommend import correction_for, known_strip_for, recipe_for
from swatchcam.mixing.search import Target
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.arithmetic import weighed
from tests.worlds import hidden_studios as pots
from tests.worlds.pots_off import KINDS, away, of_lots, pot_off, strip_off
from tests.worlds.trial import progress, workers

POT = 200.0  # g
CORRECTIONS = 2
REGION = 7.815  # 95 % of chi-square with three degrees of freedom (Pearson 1900)
NAMES = ("first recipe", "first correction", "second correction")


BEYOND = 0.5  # CIEDE2000 by which a correction makes a pot worse that an eye sees
FAR = 2.0  # CIEDE2000 beyond which a pot shall get a proposal
BANDS = 0.0, 0.85, 0.9, 0.95, 0.98, 1.001  # of the stated chance that a pot comes nearer
RESAMPLES = 2000


@lru_cache(maxsize=4)
def known(split, number, steps, scale, folder, spread=None):
    """A studio and the bench that its test series make; the bench keeps the palette that it learned."""
    series = pots.cached_series(split, number, steps, scale, folder, spread)
    known_strips = tuple(
        KnownStrip(*shares_of(weighed(one.grams, scale)), one.sighting.kept, f"series {place}")
        for place, one in enumerate(series)
    )
    return pots.hidden_studio(split, number, spread), Bench("cloth", DRY, known_strips, {}, {}, absolute=True)


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
        name = strip_of("hidden", f"pot {number}", "A")
        own = known_strip_for(bench, written, seen["right"].kept, name)
        bench = bench.with_known_strip(own)
        proposed = correction_for(
            bench, target_of(seen["left"].kept), written, Order(written.grams, scale), strips=own.pot
        )
        mix, way = proposed.now, "left"
        if not proposed.leave:
            choice = proposed.choices[0]
            mix, written = choice.mix, choice.pot
            real, way = carried_out(real, choice, scale, rng)
        told.append(facts(studio, strip, real, mix) | {"way": way})
    return told


def one_pot(job, split, steps, scale, folder, seed):
    """What became of one pot in hand, corrected once; in words where a photo was refused."""
    number, studios, spread, strips = job
    studio, bench = known(split, number % studios, steps, scale, folder, spread)
    kind = KINDS[number // studios % len(KINDS)]  # each studio has all kinds
    # The same pots for every number of strips and every scatter, as far as chance allows.
    rng = np.random.default_rng([2026, 77, seed, pots.CODES[split], number])
    try:
        return corrected(studio, bench, pot_off(studio, kind, POT, scale, rng), strips, rng, scale, folder) | {
            "studio": number % studios,
            "number": number,
            "scatter": spread,
            "strips": strips,
        }
    except (SwatchcamError, LookupError) as error:
        return str(error)


def corrected(studio, bench, pot, strips, rng, scale, folder):
    """Photograph so many strips of a pot beside the target, all in one photo, and do once what the tool says."""
    written, names = weighed(pot.written, scale), ("right", *pots.BESIDE)[:strips]
    laid = {name: studio.draw_down(pots.shares_of(pot.real), rng) for name in names}
    seen = photographed(studio, pot.target, laid, rng, folder)
    for name in names:
        own = known_strip_for(bench, written, seen[name].kept, strip_of("hidden", "pot", name))
        bench = bench.with_known_strip(own)
    target = target_of(seen["left"].kept)
    proposed = correction_for(bench, target, written, Order(written.grams, scale), strips=own.pot)
    before = pot.off(studio)
    told = {
        "kind": pot.kind,
        "before": before,
        "looks": strip_off(seen["right"], studio.strip_lab(pot.target)),
        "leave": str(proposed.leave or ""),
        "now": proposed.now.distance,
        "expected_now": proposed.now.expected,
        "helps": [str(each.means) for each in proposed.helps],
        "learned": bench.palette.scatter.std,
        "tried": proposed.unsure,
        "nearest": proposed.nearest,
        "squared": squared(studio, pot.target, pot.real, proposed.now),
    }
    if proposed.leave:
        return told | {"after": before, "way": "left"}
    choice = proposed.choices[0]
    real, way = carried_out(pot.real, choice, scale, rng, pot.lots)
    return told | {
        "after": away(studio, pot.target, real),
        "way": way,
        "nearer": choice.chances.nearer,
        "worse": choice.chances.worse,
        "then": choice.mix.distance,
        "squared": squared(studio, pot.target, real, choice.mix),
        "expected": choice.mix.expected,
    }


def photographed(studio, target, laid, rng, folder):
    """All strips in one photo; where a loose one can't be made out on its own cloth, each in a photo of its own."""
    try:
        return studio.photograph({"left": target} | laid, rng, folder)
    except (SwatchcamError, LookupError):
        if len(laid) == 1:
            raise
    photos = {name: studio.photograph({"left": target, "right": strip}, rng, folder) for name, strip in laid.items()}
    return photos["right"] | {name: seen["right"] for name, seen in photos.items()}


def target_of(kept):
    return Target(kept.lab, "hidden", kept, kept.reflectance)


def poured(recipe, scale, rng):
    """What really leaves the bottles."""
    return pots.weigh({part.what: part.grams for part in recipe.parts}, scale, rng) if recipe.parts else {}


def carried_out(real, choice, scale, rng, lots=None):
    """The pot after a person did what the choice says, with pigment of these lots."""
    added = of_lots(poured(choice.added, scale, rng), lots or {})
    if choice.roads is None:
        return {name: real.get(name, 0.0) + added.get(name, 0.0) for name in {*real, *added}}, "added"
    fresh = choice.roads.fresh
    scooped = pots.weigh({"ink": fresh.ink_g, pots.BINDER: fresh.binder_g}, scale, rng)
    part = min(scooped["ink"] / sum(real.values()), 1.0)
    pot = {name: part * grams for name, grams in real.items()}
    pot[pots.BINDER] += scooped[pots.BINDER]
    return {name: pot.get(name, 0.0) + added.get(name, 0.0) for name in {*pot, *added}}, "thinned"


def facts(studio, strip, real, mix):
    return {
        "error": away(studio, strip, real),
        "expected": mix.expected,
        "held": squared(studio, strip, real, mix) <= REGION,
        "pigments": len(mix.shares),
    }


def squared(studio, strip, real, mix):
    """How far the ink is from where it was predicted, in units of what was not known (Mahalanobis 1936), squared."""
    off = studio.lab(pots.shares_of(real)) - studio.strip_lab(strip) - np.array(mix.predicted.miss)
    return float(off @ np.linalg.solve(mix.predicted.ink, off))


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


def pots_report(told, asked):
    """Print what became of pots in hand: all corrections together, then by scatter, strips and kind of pot."""
    print(f"{len(told)} pots in hand, split {asked.split}, seed {asked.seed}, scale {asked.scale:g} g, corrected once")
    rows = [("all", told), ("said in reach", [each for each in told if each["nearest"] <= BEYOND])]
    for spread, strips in product(asked.film_scatter, asked.strips):
        own = [each for each in told if each["scatter"] == spread and each["strips"] == strips]
        rows.append((f"{spread:.0%} {strips} strip{'s' * (strips > 1)}", own))
        rows += [(f"  {kind}", [each for each in own if each["kind"] == kind]) for kind in KINDS]
    for name, row in rows:
        if row:
            print(pots_line(name, row))
    done = [each for each in told if each["way"] != "left"]
    held = np.mean([each["squared"] <= REGION for each in told])
    print(f"95 % region of the ink where the pot ended: held {held:.1%}")
    print("the chance stated that the pot comes nearer, and how often it did:")
    for low, high in pairwise(BANDS):
        band = [each for each in done if low <= each["nearer"] < high]
        if band:
            said, did = np.mean([each["nearer"] for each in band]), np.mean([nearer(each) for each in band])
            print(f"  {low:.2f} to {high:.2f}: {len(band):4}  stated {said:6.1%}  came {did:6.1%}")
    if done:
        stated, came = np.mean([each["worse"] for each in done]), np.mean([worse(each) for each in done])
        print(f"the chance stated that it gets worse by more than {BEYOND}: {stated:.2%}, came {came:.2%}")


def nearer(each):
    return each["after"] < each["before"]


def worse(each):
    return each["after"] > each["before"] + BEYOND


def pots_line(name, row):
    done, far = [each for each in row if each["way"] != "left"], [each for each in row if each["before"] > FAR]
    after = np.array([each["after"] for each in row])
    bad = sum(map(worse, done))
    high = share_interval(bad, len(done))[1] if done else 1.0
    told = np.mean([each["way"] != "left" for each in far]) if far else np.nan
    mean, tail = (by_studio(row, each) for each in (np.mean, lambda errors: np.quantile(errors, 0.95)))
    return (
        f" {name:14} {len(row):4} pots  before {np.mean([each['before'] for each in row]):.2f}"
        f"  after {after.mean():.2f} ({mean[0]:.2f} to {mean[1]:.2f})"
        f"  95 % {np.quantile(after, 0.95):.2f} ({tail[0]:.2f} to {tail[1]:.2f})"
        f"  done {len(done):3}  worse by {BEYOND}: {bad} (up to {high:.1%})  of {len(far)} far ones told {told:.0%}"
    )


def by_studio(row, figure):
    """95 % interval of a figure of the errors after, studios drawn with replacement (Efron 1979)."""
    studios = {number: [each["after"] for each in row if each["studio"] == number] for number in range(100)}
    own = [errors for errors in studios.values() if errors]
    rng = np.random.default_rng(zlib.crc32(b"studios"))
    drawn = [figure(np.concatenate([own[k] for k in rng.integers(len(own), size=len(own))])) for _ in range(RESAMPLES)]
    return np.quantile(drawn, [0.025, 0.975])


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
    parser.add_argument("--film-scatter", type=float, nargs="*", default=[], help="of pots in hand, such as 0.10")
    parser.add_argument("--strips", type=int, nargs="*", default=[1], choices=(1, 2, 3), help="of a pot in hand")
    parser.add_argument("--seed", type=int, default=0, help="of pots in hand")
    parser.add_argument("--first", type=int, default=0, help="number of the first pot in hand")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--facts", type=Path, help="file for what became of each pot in hand, a line of JSON each")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    if asked.film_scatter:
        pots_in_hand(asked)
    else:
        hidden_targets(asked)


def pots_in_hand(asked):
    """Correct `targets` pots for each film scatter and number of strips."""
    ways = {name: getattr(asked, name) for name in ("split", "steps", "scale", "folder", "seed")}
    numbers = sorted(range(asked.first, asked.first + asked.targets), key=lambda number: number % asked.studios)
    jobs = [
        (number, asked.studios, spread, strips)
        for spread in asked.film_scatter
        for number in numbers
        for strips in asked.strips
    ]
    found = []
    for each in results(partial(one_pot, **ways), jobs, asked.processes):
        found.append(each)
        if asked.facts:
            with asked.facts.open("a") as file:
                print(json.dumps(each), file=file)
    refused = [each for each in found if isinstance(each, str)]
    for words in sorted(set(refused)):
        print(f"refused {refused.count(words)}: {words}")
    pots_report([each for each in found if not isinstance(each, str)], asked)


def results(work, jobs, processes, chunk=8):
    """What comes of each job, in order."""
    if processes == 1:
        yield from progress(map(work, jobs), len(jobs))
        return
    with workers(processes) as pool:
        yield from progress(pool.imap(work, jobs, chunksize=chunk), len(jobs))


def hidden_targets(asked):
    """Mix towards hidden targets, and correct twice."""
    ways = {name: getattr(asked, name) for name in ("split", "steps", "scale", "folder", "strangers")}
    # All targets of a studio one after the other: what was learned of it is kept.
    jobs = sorted(((index, asked.studios) for index in range(asked.targets)), key=lambda job: job[0] % asked.studios)
    chunk = max(asked.targets // asked.studios // 2, 1)
    found = list(results(partial(one_target, **ways), jobs, asked.processes, chunk))
    for words in sorted({each for each in found if isinstance(each, str)}):
        print(f"refused: {words}")
    report([each for each in found if not isinstance(each, str)], asked)


if __name__ == "__main__":
    main()
