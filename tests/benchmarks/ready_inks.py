"""How near mixes of ready-mixed inks and concentrates are predicted: `python -m tests.benchmarks.ready_inks`.

Studios of `tests.worlds.ready_inks` photograph test series: clear base, each concentrate at 0.1 to 6 % and each
ready-mixed ink at 5 to 100 %, in `--steps` strips, and one strip of white with a twentieth of black. What random mixes
up to 100 % of ready-mixed inks look like in a film of usual thickness is predicted, and set against the truth.
`--split build --studios 7` is a quick look; `--no-grey` shows what the last strip is worth.
"""

from __future__ import annotations

import argparse
import os
import pickle
import tempfile
from pathlib import Path

import numpy as np

from swatchcam.library.records import DRY
from swatchcam.mixing.known_strip import KnownStrip, shares_of
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.arithmetic import filled_up
from tests.benchmarks.mixing import REGION, by_studio
from tests.worlds import hidden_studios as pots
from tests.worlds.ready_inks import GREY, WHITE, counted, is_ready, ready_mix, ready_studio, series_shares, shelf_of
from tests.worlds.spectra import difference
from tests.worlds.trial import progress

LIGHT = "white", "natural"  # cloths


def series_of(studio, number, asked):
    """The strips of a studio's test series, photographed only once; the last one is grey."""
    path = asked.folder / f"ready-{asked.split}-{number}-{asked.steps}.pickle"
    if not path.exists():
        rng = np.random.default_rng([2026, 171, pots.CODES[asked.split], number, asked.steps])
        shares = series_shares(studio.pigments, asked.steps)
        cups = [pots.as_read(pots.grams_of(each, pots.CUP), asked.scale) for each in shares]
        pairs = [dict(zip(pots.WINDOWS, cups[at : at + 2], strict=False)) for at in range(0, len(cups), 2)]
        found = [one for pair in pairs for one in studio.series_strips(pair, rng, asked.folder, asked.scale)]
        part = path.with_suffix(f".{os.getpid()}")
        part.write_bytes(pickle.dumps(found))
        part.replace(path)
    return pickle.loads(path.read_bytes())


def bench_of(studio, number, asked):
    strips = []
    for place, one in enumerate(series_of(studio, number, asked)):
        if asked.grey or set(one.written) != set(GREY):
            whole = sum(one.grams.values())
            things = {name: grams for name, grams in one.grams.items() if name != pots.BINDER}
            recipe = filled_up(things, whole, asked.scale)
            strips.append(counted(KnownStrip(*shares_of(recipe), one.sighting.kept, f"series {place}")))
    return Bench("cloth", DRY, tuple(strips), shelf_of(studio.pigments), {}, absolute=True)


def studio_cases(number, asked):
    """What became of each prediction in one studio."""
    studio = ready_studio(asked.split, number)
    bench = bench_of(studio, number, asked)
    rng = np.random.default_rng([2026, 172, pots.CODES[asked.split], number, asked.seed])
    mixes = [ready_mix(rng, studio) for _ in range(asked.mixes)]
    return [case(studio, bench, shares) | {"studio": number} for shares in mixes]


def case(studio, bench, shares):
    strip = {name: shelf.counts_as * shares[name] for name, shelf in bench.shelf.items() if name in shares}
    found, true = bench.palette.predict(strip), studio.lab(shares)
    off = true - np.array(found.lab)
    return {
        "error": float(difference(true, np.array(found.lab))),
        "radius": found.radius,
        "in region": float(off @ np.linalg.solve(found.ink, off)) <= REGION,
        "cloth": "light cloth" if studio.ground in LIGHT else "dark cloth",
        "white": WHITE in shares,
        "full": sum(share for name, share in shares.items() if is_ready(name)) > 50,
    }


def line(name, row):
    errors = np.array([each["error"] for each in row])
    held = [{"studio": each["studio"], "after": each["in region"]} for each in row]
    low, high = by_studio(held, np.mean)
    return (
        f"{name:34}{len(row):6}  error mean {errors.mean():.2f}  95 % {np.quantile(errors, 0.95):.2f}"
        f"  radius {np.median([each['radius'] for each in row]):.2f}"
        f"  interval holds {np.mean([each['after'] for each in held]):.1%} ({low:.1%} to {high:.1%})"
    )


def main():
    """Print how far predictions were off, and how often their intervals held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", default="final", choices=sorted(pots.CODES))
    parser.add_argument("--studios", type=int, default=14)
    parser.add_argument("--steps", type=int, default=4, help="strips of each ink, 3 to 5")
    parser.add_argument("--mixes", type=int, default=40, help="predicted in each studio")
    parser.add_argument("--grey", action=argparse.BooleanOptionalAction, default=True, help="with the strip of grey")
    parser.add_argument("--scale", type=float, default=0.01, help="g, the scale's step")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "readyphotos")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    done = (studio_cases(number, asked) for number in range(asked.studios))
    cases = [one for found in progress(done, asked.studios) for one in found]
    print(f"\n{asked.split}, {asked.studios} studios, {asked.steps} strips of each, seed {asked.seed}")
    print(line("all", cases))
    for cloth in ("light cloth", "dark cloth"):
        for name, white in (("with white", True), ("without white", False)):
            if row := [one for one in cases if (one["cloth"], one["white"]) == (cloth, white)]:
                print(line(f"{cloth}, {name}", row))
    if row := [one for one in cases if one["full"]]:
        print(line("more than 50 % ready-mixed", row))


if __name__ == "__main__":
    main()
