"""How near a strip's colour after heat setting is predicted from its dry photo and the studio's earlier pairs.

`python -m tests.benchmarks.heat_prediction --split build --studios 12 --pairs 3 8 20 --film-scatter 0.10` prints it.

Each studio of `hidden_studios` photographs strips of random recipes dry and heat-set; from the first so many of these
pairs the tool learns what heat does there. Of other strips it gets the dry photo, and its prediction is set against the
true colour of that strip after the studio's heat, which is never twice the same. What a photo errs by is most of what
is not known, and states more than it errs by; so each strip is also predicted from its dry colour known exactly.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np

from swatchcam.library.heat_prediction import learn
from swatchcam.library.heat_shift import BeforeAfter
from swatchcam.library.records import HEAT_SET, State
from swatchcam.measurement.stored_colour import PARTS
from tests.benchmarks.mixing import REGION, by_studio
from tests.worlds import heat_pairs
from tests.worlds.hidden_studios import CODES, hidden_studio
from tests.worlds.spectra import difference
from tests.worlds.studio_records import record
from tests.worlds.trial import progress

KNOWN = "known "  # before the name of what came of dry colours known exactly
WAYS = {"photo": "", "exact": KNOWN}
NO_ERRORS = {name: np.zeros((3, 3)) for name in PARTS}


def studio_cases(number, asked):
    """What became of each prediction in one studio, for each number of pairs."""
    pairs, strips = photographed(number, asked)
    rng = np.random.default_rng([2026, 163, CODES[asked.split], number])
    studio = hidden_studio(asked.split, number, asked.film_scatter)
    true = [studio.strip_lab(heat_pairs.heated(studio, one.dry.strip, rng)) for one in strips]
    return [
        case(learned, one.dry, lab) | {"studio": number, "pairs": count}
        for count, learned in ((count, learn(before_after(pairs[:count]))) for count in asked.pairs)
        for one, lab in zip(strips, true, strict=True)
    ]


def photographed(number, asked):
    """Pairs and other strips of a studio, from `folder` if they are there."""
    own = {"scale": asked.scale, "folder": asked.folder, "spread": asked.film_scatter}
    pairs = heat_pairs.cached_pairs(asked.split, number, heat_pairs.MADE, **own)
    return pairs, heat_pairs.cached_dry(asked.split, number, asked.strips, **own)


def before_after(pairs):
    return [
        BeforeAfter(record(colour=one.dry.kept), record(colour=one.set.kept, state=State(HEAT_SET))) for one in pairs
    ]


def case(model, dry, true):
    """One prediction against the truth, by the dry photo and had the dry colour been known exactly."""
    exact = replace(dry.kept, lab=tuple(map(float, dry.lab)), errors=replace(dry.kept.errors, parts=NO_ERRORS))
    seen, known = (against(model.predict(colour), true) for colour in (dry.kept, exact))
    return (
        seen
        | {f"{KNOWN}{key}": value for key, value in known.items()}
        | {
            "moved": float(difference(true, dry.lab)),
            "dry held": float(difference(dry.lab, np.array(dry.kept.lab))) <= dry.kept.radius,
        }
    )


def against(found, true):
    off = true - np.array(found.lab)
    error = float(difference(true, np.array(found.lab)))
    return {
        "error": error,
        "radius": found.radius,
        "held": error <= found.radius,
        "in region": float(off @ np.linalg.solve(found.covariance, off)) <= REGION,
    }


def line(name, row, way=""):
    """A row of the table; `way` is KNOWN for what came of dry colours known exactly."""
    errors = np.array([each[f"{way}error"] for each in row])
    moved, radius = np.mean([each["moved"] for each in row]), np.median([each[f"{way}radius"] for each in row])
    held, region = (share_held(row, f"{way}{key}") for key in ("held", "in region"))
    return (
        f"{name:18}{len(row):6}  moved {moved:.2f}  error mean {errors.mean():.2f}"
        f"  95 % {np.quantile(errors, 0.95):.2f}  radius {radius:.2f}  held: radius {held}  region {region}"
    )


def share_held(row, key):
    """How often it held, and the 95 % interval of that with other studios."""
    low, high = by_studio([{"studio": each["studio"], "after": each[key]} for each in row], np.mean)
    return f"{np.mean([each[key] for each in row]):6.1%} ({low:.1%} to {high:.1%})"


def main():
    """Print errors, how wide the predictions were, and how often they held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", default="build", choices=sorted(CODES))
    parser.add_argument("--studios", type=int, default=12)
    parser.add_argument("--first", type=int, default=0, help="number of the first studio")
    parser.add_argument("--pairs", type=int, nargs="+", default=[3, 8, 20], help=f"at most {heat_pairs.MADE}")
    parser.add_argument("--strips", type=int, default=50, help="predicted in each studio; 600 in all make a full run")
    parser.add_argument("--film-scatter", type=float, default=0.10)
    parser.add_argument("--scale", type=float, default=0.01, help="g, the scale's step")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "heatphotos", help="of the photos")
    parser.add_argument("--only-photos", action="store_true", help="take what photos are missing, and print nothing")
    parser.add_argument("--by-studio", action="store_true", help="a row for each studio too")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    studios = range(asked.first, asked.first + asked.studios)
    work = photographed if asked.only_photos else studio_cases
    told = list(progress((work(number, asked) for number in studios), len(studios)))
    if not asked.only_photos:
        report([each for cases in told for each in cases], asked)


def report(told, asked):
    """Print the table."""
    print(f"split {asked.split}, {asked.studios} studios, films {asked.film_scatter:.0%}, scale {asked.scale:g} g")
    for count, (words, way) in product(asked.pairs, WAYS.items()):
        row = [each for each in told if each["pairs"] == count]
        print(line(f"{count:2} pairs, {words}", row, way))
        if asked.by_studio:
            for number in sorted({each["studio"] for each in row}):
                print(line(f"  no. {number}", [each for each in row if each["studio"] == number], way))
    print(f"the dry photo's own radius held {share_held(row, 'dry held')}")


if __name__ == "__main__":
    main()
