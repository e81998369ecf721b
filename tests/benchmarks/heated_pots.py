"""How near pots come to heat-set targets: `python -m tests.benchmarks.heated_pots --pairs 20 --targets 120`.

Studios of `hidden_studios` heat-set their strips: what that does goes by pigment, load, cloth, time and temperature,
and no two strips come out of one iron alike (`tests.worlds.heat`). Films vary by `--film-scatter`. Each studio knows
its dry test series and so many pairs of strips, dry and heat-set, of other pots. A pot is off its target
(`tests.worlds.pots_off`), which is a heat-set strip; its own strip is photographed beside the target, dry, and where
`--heated` is 1 once more when it was heat-set too. Then the pot is corrected once. Errors are CIEDE2000 of the ink that
is really in the pot, in a film of usual thickness after the studio's usual heat, against the target's true colour.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from dataclasses import replace
from functools import lru_cache, partial
from itertools import product
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.library.records import DRY, HEAT_SET, State
from swatchcam.mixing.known_strip import KnownStrip, shares_of, slipped, strip_of
from swatchcam.mixing.order import Order
from swatchcam.mixing.recommend import correction_for, known_strip_for
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.arithmetic import weighed
from tests.benchmarks.mixing import POT, REGION, by_studio, carried_out, pots_line, results, target_of
from tests.worlds import heat_pairs
from tests.worlds import hidden_studios as pots
from tests.worlds.heat import Baked
from tests.worlds.pots_off import KINDS, pot_off
from tests.worlds.spectra import difference


@lru_cache(maxsize=4)
def known(split, number, steps, scale, folder, spread, pairs):
    """A studio and the bench that its test series and its pairs make; the bench keeps what it learned."""
    studio = pots.hidden_studio(split, number, spread)
    series = pots.cached_series(split, number, steps, scale, folder, spread)
    strips = [
        KnownStrip(*shares_of(weighed(one.grams, scale)), one.sighting.kept, strip_of("series", str(place)))
        for place, one in enumerate(series)
    ]
    for place, pair in enumerate(heat_pairs.cached_pairs(split, number, pairs, scale, folder, spread)):
        shares, std = shares_of(weighed(pair.grams, scale))
        name = strip_of("pair", str(place))
        strips += [
            KnownStrip(shares, slipped(shares, std), seen.kept, name, later=later)
            for seen, later in ((pair.dry, False), (pair.set, True))
        ]
    return studio, Bench("cloth", State(HEAT_SET), tuple(strips), {}, {}, absolute=True, later=State(HEAT_SET))


def one_pot(job, split, steps, scale, folder, spread, seed, pairs, heated, only_photos):
    """What became of one pot, for each number of pairs, with and without its heat-set strip; or in words: refused."""
    number, studios = job
    studio = pots.hidden_studio(split, number % studios, spread)
    kind = KINDS[number // studios % len(KINDS)]  # each studio has all kinds
    path = folder / f"pot-{split}-{spread:g}-{scale:g}-{seed}-{studios}-{number}.pickle"
    try:
        pot, shot = heat_pairs.kept_in(path, partial(photographed, studio, kind, scale, seed, split, number, folder))
        told = []
        for count, way in () if only_photos else product(pairs, heated):
            _, bench = known(split, number % studios, steps, scale, folder, spread, count)
            rng = np.random.default_rng([2026, 79, seed, pots.CODES[split], number])
            found = corrected(studio, bench, pot, shot, way, rng, scale)
            told.append(
                found | {"studio": number % studios, "number": number, "pairs": count, "heated": way, "kind": kind}
            )
    except (SwatchcamError, LookupError) as error:
        return str(error)
    return told


def photographed(studio, kind, scale, seed, split, number, folder):
    """A pot, and its target, heat-set; and beside that its strip, dry and then heat-set: two photos."""
    rng = np.random.default_rng([2026, 78, seed, pots.CODES[split], number])
    pot = pot_off(studio, kind, POT, scale, rng)
    target = heat_pairs.heated(studio, pot.target, rng)
    strip = studio.draw_down(pots.shares_of(pot.real), rng)
    laid = strip, heat_pairs.heated(studio, strip, rng)
    return pot, (target, [studio.photograph({"left": target, "right": one}, rng, folder) for one in laid])


def corrected(studio, bench, pot, shot, heated, rng, scale):
    """Do once what the tool says."""
    target, photos = shot
    written = weighed(pot.written, scale)
    for seen, later in zip(photos[: 1 + heated], (False, True), strict=False):
        state = State(HEAT_SET) if later else DRY
        own = known_strip_for(bench, written, seen["right"].kept, strip_of("hidden", "pot"), state=state)
        bench = bench.with_known_strip(own)
    wanted = target_of(photos[0]["left"].kept)
    proposed = correction_for(bench, wanted, written, Order(written.grams, scale), strips=own.pot)
    before = away(studio, target, pot.real)
    told = {"before": before, "now": proposed.now.distance, "tried": proposed.unsure, "nearest": proposed.nearest}
    told |= {"leave": str(proposed.leave or ""), "shift": vars(bench.palette.shift)}
    if proposed.leave:
        return told | outcome(studio, target, pot.real, proposed.now) | {"after": before, "way": "left"}
    choice = proposed.choices[0]
    real, way = carried_out(pot.real, choice, scale, rng, pot.lots)
    told |= {"nearer": choice.chances.nearer, "worse": choice.chances.worse}
    return told | outcome(studio, target, real, choice.mix) | {"after": away(studio, target, real), "way": way}


def finished(studio, real):
    """(3,) true CIELAB of what is in a pot, in a film of usual thickness, after the studio's usual heat."""
    usual = studio.habits.usual
    return studio.lab(pots.shares_of(real), baked=Baked(usual.celsius, usual.seconds))


def away(studio, target, real):
    return float(difference(finished(studio, real), studio.strip_lab(target)))


def outcome(studio, target, real, mix):
    """How far the finished colour is from where it was predicted, and how wide that prediction was."""
    off = finished(studio, real) - studio.strip_lab(target) - np.array(mix.predicted.miss)
    return {
        "squared": float(off @ np.linalg.solve(mix.predicted.ink, off)),
        "radius": replace(mix.predicted, covariance=mix.predicted.ink).radius,
    }


def report(told, asked):
    """Print the table."""
    print(f"{len(told)} pots, split {asked.split}, seed {asked.seed}, films {asked.film_scatter:.0%}, corrected once")
    for pairs in asked.pairs:
        for heated in asked.heated:
            row = [each for each in told if each["pairs"] == pairs and each["heated"] == heated]
            if row:
                print(f"{pairs:2} pairs, {'with' if heated else 'without'} a heat-set strip of the pot")
                print(pots_line("all", row))
                for kind in sorted({each["kind"] for each in row}, key=KINDS.index):
                    print(pots_line(f"  {kind}", [each for each in row if each["kind"] == kind]))
                held = [{"studio": each["studio"], "after": each["squared"] <= REGION} for each in row]
                low, high = by_studio(held, np.mean)
                print(
                    f"  95 % region of the finished colour held {np.mean([each['after'] for each in held]):.1%}"
                    f" ({low:.1%} to {high:.1%}), its radius {np.median([each['radius'] for each in row]):.2f} (median)"
                )


def main():
    """Print how near pots came, how often they got worse, and how often the prediction held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--targets", type=int, default=120, help="600 and more for a full run")
    parser.add_argument("--studios", type=int, default=12)
    parser.add_argument("--pairs", type=int, nargs="+", default=[3, 8, 20], help=f"at most {heat_pairs.MADE}")
    parser.add_argument("--heated", type=int, nargs="+", default=[0, 1], choices=(0, 1))
    parser.add_argument("--steps", type=int, default=4, help="loads of each pigment's test series")
    parser.add_argument("--film-scatter", type=float, default=0.10)
    parser.add_argument("--scale", type=float, default=0.01, help="g, the scale's step")
    parser.add_argument("--split", default="build", choices=sorted(pots.CODES))
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "heatphotos", help="of the photos")
    parser.add_argument("--only-photos", action="store_true", help="take what photos are missing, and print nothing")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--facts", type=Path, help="file for what became of each pot, a line of JSON each")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    numbers = sorted(range(asked.targets), key=lambda number: number % asked.studios)
    jobs = [(number, asked.studios) for number in numbers]
    own = {
        name: getattr(asked, name)
        for name in ("split", "steps", "scale", "folder", "seed", "pairs", "heated", "only_photos")
    }
    found = list(results(partial(one_pot, spread=asked.film_scatter, **own), jobs, asked.processes))
    refused = [each for each in found if isinstance(each, str)]
    for words in sorted(set(refused)):
        print(f"refused {refused.count(words)}: {words}")
    told = [each for those in found if not isinstance(those, str) for each in those]
    if asked.facts:
        asked.facts.write_text("".join(f"{json.dumps(each)}\n" for each in told))
    if not asked.only_photos:
        report(told, asked)


if __name__ == "__main__":
    main()
