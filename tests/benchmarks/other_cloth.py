"""How near mixes on a new cloth are predicted: `python -m tests.benchmarks.other_cloth --checks 0 1 2`.

Studios of `hidden_studios` know their pigments on one cloth, from test series. Of a new cloth, one of
`tests.worlds.other_cloths`, they have a photo of it bare, and so many check strips of known recipe. What hidden mixes
look like there, in a film of the studio's usual thickness on that cloth, is predicted and set against the truth. Beside
it stands what the same strips teach of mixes on the cloth that they are on, and a floor: what somebody would be off who
knew all but how much ink the new cloth takes up and lets in and, with check strips, all but how thick their films are,
and besides, added as squares, was as far off as the strips are on their own cloth.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchcam.colorimetry.intervals import radius_of_lab
from swatchcam.mixing.known_strip import KnownStrip, shares_of, slipped, strip_of
from swatchcam.mixing.other_cloth import BareCloths
from swatchcam.mixing.pigment_learning import learn
from swatchcam.recipes.arithmetic import weighed
from tests.benchmarks.heat_prediction import share_held
from tests.benchmarks.mixing import REGION, by_studio
from tests.worlds import hidden_studios as pots
from tests.worlds.other_cloths import CHECKS, SINKS, UPTAKE, cached_cloth, on_other_cloth
from tests.worlds.spectra import difference
from tests.worlds.trial import progress

STEPS = 4  # loads of each pigment's test series
KNOWN = "known cloth"


def known_strips(asked, number):
    """The studio's test series on the cloth that it knows."""
    series = pots.cached_series(asked.split, number, STEPS, asked.scale, asked.folder, asked.film_scatter)
    return [
        KnownStrip(*shares_of(weighed(one.grams, asked.scale)), one.sighting.kept, strip_of("series", str(place)))
        for place, one in enumerate(series)
    ]


def check_strip(asked, one, place):
    """A strip of known recipe on the new cloth."""
    shares, std = shares_of(weighed(one.grams, asked.scale))
    std = slipped(shares, std) if len(shares) > 1 else std
    return KnownStrip(shares, std, one.dry.kept, strip_of("check", str(place)), later=True)


def photographed(job, asked):
    """What a studio shows of a new cloth, from `folder` if it is there."""
    number, which = job
    known_strips(asked, number)
    return cached_cloth(asked.split, number, which, asked.scale, asked.folder, asked.film_scatter)


def cloth_cases(job, asked):
    """What became of each hidden mix on one new cloth, for each number of check strips; none where it was refused."""
    number, which = job
    shown, known = photographed(job, asked), known_strips(asked, number)
    if shown.bare is None or len(shown.checks) < CHECKS:
        return []
    studio = pots.hidden_studio(asked.split, number, asked.film_scatter)
    new = on_other_cloth(studio, number, which)
    rng = np.random.default_rng([2026, 173, pots.CODES[asked.split], number, which])
    mixes = [studio.target(rng) for _ in range(asked.mixes)]
    own = learn(known)
    told = [case(own, mix, studio.lab(mix)) | {"checks": KNOWN} for mix in mixes]
    bare = np.array(shown.bare.cloth or shown.bare.reflectance)
    for count in asked.checks:
        checks = [check_strip(asked, one, place) for place, one in enumerate(shown.checks[:count])]
        palette, thought = learn([*known, *checks], cloths=BareCloths(None, bare)), at_best(studio, new, shown, count)
        told += [
            case(palette, mix, new.lab(mix)) | {"checks": count, "floor": off(thought.lab(mix), new.lab(mix))}
            for mix in mixes
        ]
    return [row | {"studio": number, "ground": new.ground} for row in told]


def at_best(studio, new, shown, count):
    """What somebody would take the new cloth for who knew all else, and took the check strips' films for usual ones."""
    if not count:
        return replace(new, film=studio.film * np.sqrt(np.prod(UPTAKE)), sunk=studio.sunk + np.mean(SINKS))
    return replace(
        new, film=new.film * np.exp(np.mean([np.log(one.dry.strip.thickness) for one in shown.checks[:count]]))
    )


def off(one, other):
    return float(difference(np.array(one), np.array(other)))


def case(palette, mix, true):
    """One prediction against the truth."""
    found = palette.predict(mix)
    apart, error = true - np.array(found.lab), off(true, found.lab)
    radius = radius_of_lab(np.array(found.lab), found.ink)
    return {
        "error": error,
        "radius": radius,
        "held": error <= radius,
        "in region": float(apart @ np.linalg.solve(found.ink, apart)) <= REGION,
    }


def line(name, row):
    """A row of the table."""
    errors, radius = np.array([each["error"] for each in row]), np.median([each["radius"] for each in row])
    low, high = by_studio([{"studio": each["studio"], "after": each["error"]} for each in row], np.mean)
    held, region = (share_held(row, key) for key in ("held", "in region"))
    return (
        f" {name:22}{len(row):5}  error mean {errors.mean():.2f} ({low:.2f} to {high:.2f})"
        f"  95 % {np.quantile(errors, 0.95):.2f}  radius {radius:.2f}  held: radius {held}  region {region}"
    )


def report(told, asked):
    """Print the table."""
    print(
        f"split {asked.split}, {asked.studios} studios, {asked.cloths} new cloths each, films {asked.film_scatter:.0%}"
    )
    rows = {count: [each for each in told if each["checks"] == count] for count in (KNOWN, *asked.checks)}
    left = np.mean([each["error"] for each in rows[KNOWN]])
    for count, row in rows.items():
        floor = "" if count == KNOWN else f"  floor {np.hypot(left, np.mean([each['floor'] for each in row])):.2f}"
        print(line(count if count == KNOWN else f"{count} check strip{'s' * (count != 1)}", row) + floor)
        for ground in sorted({each["ground"] for each in row}) if asked.by_cloth and count != KNOWN else []:
            print(line(f"  {ground}", [each for each in row if each["ground"] == ground]))


def main():
    """Print errors, how wide the predictions were, and how often they held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", default="build", choices=sorted(pots.CODES))
    parser.add_argument("--studios", type=int, default=12)
    parser.add_argument("--first", type=int, default=0, help="number of the first studio")
    parser.add_argument("--cloths", type=int, default=2, help="new ones of each studio")
    parser.add_argument("--checks", type=int, nargs="+", default=[0, 1, 2], help=f"check strips, at most {CHECKS}")
    parser.add_argument("--mixes", type=int, default=40, help="predicted on each new cloth")
    parser.add_argument("--film-scatter", type=float, default=0.10)
    parser.add_argument("--scale", type=float, default=0.01, help="g, the scale's step")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "clothphotos")
    parser.add_argument("--only-photos", action="store_true", help="take what photos are missing, and print nothing")
    parser.add_argument("--by-cloth", action="store_true", help="a row for each kind of new cloth too")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    jobs = [(asked.first + number, which) for number in range(asked.studios) for which in range(asked.cloths)]
    work = photographed if asked.only_photos else cloth_cases
    told = list(progress((work(job, asked) for job in jobs), len(jobs)))
    if not asked.only_photos:
        report([each for cases in told for each in cases], asked)


if __name__ == "__main__":
    main()
