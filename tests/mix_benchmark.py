"""How near the first recipe and its corrections come to hidden targets: `python -m tests.mix_benchmark --targets 300`.

Studios of `pots` own pigments that do not behave as the model says. Each makes ladders, photographs a hidden strip,
mixes what the tool proposes (weighed on a real scale), photographs the drawdown beside the hidden strip, corrects as
it is told, and once more. Errors are CIEDE2000 of the ink that is really in the pot, in a film of usual thickness,
against the hidden strip's true colour.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from functools import lru_cache, partial
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

import numpy as np  # noqa: E402 - after the path of the scenes
import pots  # noqa: E402
from spectra import difference  # noqa: E402
from trial import progress, workers  # noqa: E402

from swatchcam.correcting import correct  # noqa: E402
from swatchcam.dispense import dispensed  # noqa: E402
from swatchcam.errors import SwatchcamError  # noqa: E402
from swatchcam.mixing import Target, choices, mixes, new_pot, pot_in_hand  # noqa: E402
from swatchcam.palette import learn  # noqa: E402
from swatchcam.recipe import Part, Recipe  # noqa: E402
from swatchcam.tint import Tint, shares_of  # noqa: E402

POT = 200.0  # g
CORRECTIONS = 2
LEAVE = 0.1  # CIEDE2000 that an addition must be expected to bring
BEYOND_CHANCE = 7.815  # 95 % of chi-square with three degrees of freedom (Pearson 1900)


def tint(grams, kept, strip, scale):
    """What the studio knows of a drawdown."""
    parts = tuple(Part(what, weight, "g", weight, scale / np.sqrt(6)) for what, weight in grams.items() if weight > 0)
    return Tint(*shares_of(Recipe(parts)), kept, strip)


@lru_cache(maxsize=4)
def known(split, number, steps, scale, folder):
    rungs = pots.cached_ladder(split, number, steps, scale, folder)
    tints = tuple(tint(rung.grams, rung.sighting.kept, f"ladder {i}", scale) for i, rung in enumerate(rungs))
    return pots.hidden_studio(split, number), tints, learn(tints)


def one_target(job, split, steps, scale, folder, stranger):
    """Numbers of one hidden target: error and whether the forecast held, after recipe and each correction."""
    index, studios = job
    studio, tints, palette = known(split, index % studios, steps, scale, folder)
    rng = np.random.default_rng([2026, 55, pots.CODES[split], index, stranger])
    strip = studio.draw_down(studio.stranger(rng) if stranger else studio.target(rng), rng)
    try:
        return follow(studio, list(tints), palette, strip, rng, scale, folder)
    except SwatchcamError as error:
        return str(error)


def follow(studio, tints, palette, strip, rng, scale, folder):
    first = studio.photograph({"left": strip, "right": {}}, rng, folder)["left"].kept
    target = Target(first.lab, "hidden", first)
    vessel = new_pot(palette)
    best = choices(mixes(palette, target, vessel))[0]
    mix = dispensed(palette, target, vessel, best, POT, scale)
    written = pots.grams_of({name: 100 * amount for name, amount in mix.amounts.items()}, POT)
    real = pots.weigh(written, scale, rng)
    told = [facts(studio, strip, real, mix)]
    for correction in range(CORRECTIONS):
        seen = studio.photograph({"left": strip, "right": pots.shares_of(real)}, rng, folder)
        tints.append(tint(written, seen["right"].kept, f"pot {correction}", scale))
        target = Target(seen["left"].kept.lab, "hidden", seen["left"].kept)
        palette = learn(tints)
        shares = tints[-1].shares
        found = correct(palette, target, shares)
        addition = found.additions[0]
        mix, added = found.now, {}
        whole = sum(written.values())
        if found.now.expected - addition.mix.expected > LEAVE:
            tried = dispensed(palette, target, pot_in_hand(palette, shares), addition.mix, whole, scale)
            if tried.amounts:
                mix = tried
                added = {name: amount * whole for name, amount in mix.amounts.items()}
        poured = pots.weigh(added, scale, rng) if added else {}
        written = {name: written.get(name, 0.0) + added.get(name, 0.0) for name in {*written, *added}}
        real = {name: real.get(name, 0.0) + poured.get(name, 0.0) for name in {*real, *poured}}
        told.append(facts(studio, strip, real, mix) | {"added": len(added), "part": addition.part})
    return told


def facts(studio, strip, real, mix):
    true, wanted = studio.lab(pots.shares_of(real)), studio.strip_lab(strip)
    off = true - wanted - np.array(mix.foreseen.miss)
    return {
        "error": float(difference(true, wanted)),
        "expected": mix.expected,
        "distance": mix.distance,
        "held": bool(off @ np.linalg.solve(mix.foreseen.ink, off) <= BEYOND_CHANCE),
        "pigments": len(mix.shares),
        "chroma": float(np.hypot(*wanted[1:])),
        "lightness": float(wanted[0]),
    }


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--targets", type=int, default=300)
    parser.add_argument("--studios", type=int, default=12)
    parser.add_argument("--steps", type=int, default=4, help="loads of each pigment's ladder")
    parser.add_argument("--scale", type=float, default=0.01, help="g, the scale's step")
    parser.add_argument("--split", default="build", choices=sorted(pots.CODES))
    parser.add_argument("--strangers", action="store_true", help="targets of pigments that the studio does not have")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "pots")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    one = partial(
        one_target,
        split=asked.split, steps=asked.steps, scale=asked.scale, folder=asked.folder, stranger=asked.strangers,
    )
    # All targets of a studio one after the other: what was learned of it is kept.
    jobs = sorted(((index, asked.studios) for index in range(asked.targets)), key=lambda job: job[0] % asked.studios)
    with workers(2) as pool:
        found = list(progress(pool.imap(one, jobs, chunksize=max(asked.targets // asked.studios // 2, 1)), len(jobs)))
    report([each for each in found if not isinstance(each, str)], asked)
    import json; json.dump(found, open("/tmp/proto/last.json", "w"))


def report(told, asked):
    print(f"{len(told)} of {asked.targets} targets, split {asked.split}, ladders of {asked.steps}, scale {asked.scale} g")
    names = ("first recipe", "first correction", "second correction")
    for name, facts in zip(names, zip(*told, strict=True), strict=True):
        errors = np.array([each["error"] for each in facts])
        print(
            f"  {name:18} mean {errors.mean():.2f}  median {np.median(errors):.2f}  95 % {np.quantile(errors, 0.95):.2f}"
            f"  expected {np.mean([each['expected'] for each in facts]):.2f}"
            f"  forecast held {np.mean([each['held'] for each in facts]):6.1%}"
            f"  added {np.mean([each.get('added', 1) > 0 for each in facts]):.0%}"
        )


if __name__ == "__main__":
    main()
