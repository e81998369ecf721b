"""How well shade is told from strength or film: `python -m tests.benchmarks.strips --studios 100`.

Studios of `hand_strips` smear two strips of each of two pots by hand; the pots are one and the same, differ in one
pigment, or in the strength of all. The truth is that of `hand_strips`. Errors are CIEDE2000, and % of strength;
intervals in brackets are by bootstrap over studios.
"""

from __future__ import annotations

import argparse
import tempfile
from functools import partial
from pathlib import Path

import numpy as np

from swatchcam.colorimetry.film_scatter import FilmScatter
from swatchcam.measurement.pot_verdict import SURE, PotStrip, judge_pots
from swatchcam.measurement.verdict import Outcome, between, judge
from tests.worlds.hand_strips import cached_pairs, hand_studio, least_difference
from tests.worlds.hidden_studios import CODES
from tests.worlds.trial import progress, workers

TOLERANCE = 2.0
BOOTSTRAPS = 1000


def pot_strips(seen):
    return [PotStrip(one.kept, one.vivid) for one in seen]


def told(pair, studio, places, scatter, cloth):
    """What is said of two pots by the strips at `places` of each."""
    first, second = ([pot[place] for place in places] for pot in pair.strips)
    films = np.mean([np.log(one.film) for one in second]) - np.mean([np.log(one.film) for one in first])
    strength = films + pair.strength
    if len(places) == 1 and pair.kind == "shade":
        strength = least_difference(studio, *pair.shares, (first[0].film, second[0].film))[1]
    verdict = judge_pots(pot_strips(first), pot_strips(second), TOLERANCE, scatter, cloth)
    plain = judge(between(second[0].kept, first[0].kept), TOLERANCE)
    facts = {
        "kind": pair.kind,
        "strips": len(places),
        "plain": plain.outcome,
        "pot": verdict.judged(plain.outcome),
        "why_not": verdict.why_not.code if verdict.why_not else "",
    }
    if verdict.split is None:
        return facts
    found = verdict.split
    return facts | {
        "shade": found.shade,
        "found": found.low > verdict.shade_tolerance,
        "shade_held": found.low - 0.02 <= pair.shade <= found.high,
        "strength_off": 100 * abs(found.strips.value - strength),
        "strength_held": abs(found.strips.value - strength) <= SURE * found.strips.std,
        "pot_held": abs(found.pots.value - pair.strength) <= SURE * found.pots.std,
    }


def one_studio(job, split, folder, learned):
    """All that is said of one studio's pairs."""
    number, scatter = job
    studio = hand_studio(split, number, scatter)
    known = FilmScatter(scatter, scatter, scatter, 0, 0) if learned else None
    facts = []
    for pair in cached_pairs(split, number, scatter, folder):
        cloth = next((one.reflectance for one in pair.cloths if one), None)
        for places in ((0,), (1,), (0, 1)):
            facts.append(told(pair, studio, places, known, cloth) | {"studio": number, "scatter": scatter})
    return facts


def with_interval(facts, figure):
    """A figure of some cases, and its 95 % interval by bootstrap over studios."""
    studios = sorted({each["studio"] for each in facts})
    by_studio = {number: [each for each in facts if each["studio"] == number] for number in studios}
    rng = np.random.default_rng(1)
    again = []
    for _ in range(BOOTSTRAPS):
        drawn = rng.choice(studios, len(studios))
        again.append(figure([each for number in drawn for each in by_studio[number]]))
    low, high = np.quantile(again, [0.025, 0.975])
    return f"{figure(facts):.2f} ({low:.2f} to {high:.2f})"


def share(key):
    return lambda facts: float(np.mean([bool(each[key]) for each in facts]))


def quantile(key, level):
    return lambda facts: float(np.quantile([each[key] for each in facts], level))


def different(key):
    return lambda facts: float(np.mean([each[key] is Outcome.DIFFERENT for each in facts]))


def report(facts):
    for scatter in sorted({each["scatter"] for each in facts}):
        print(f"film scatter {scatter:.0%}")
        for strips in (1, 2):
            for kind in ("same", "shade", "strength"):
                own = [e for e in facts if (e["scatter"], e["strips"], e["kind"]) == (scatter, strips, kind)]
                if own:
                    group(kind, strips, own)


def group(kind, strips, own):
    """The rows of one group of cases."""
    split = [each for each in own if not each["why_not"]]
    reasons = sorted({each["why_not"] for each in own} - {""})
    without = ", ".join(f"{why} {sum(e['why_not'] == why for e in own)}" for why in reasons)
    print(
        f"  {kind} pots, {strips} strip{'s' * (strips > 1)} of each: {len(own)} cases; not split: {without or 'none'}"
    )
    rows = {
        "called different by their strips": (own, different("plain")),
        "called different as pots": (own, different("pot")),
        "shade part, median": (split, quantile("shade", 0.5)),
        "shade part, 90 %": (split, quantile("shade", 0.9)),
        "shade found": (split, share("found")),
        "shade interval holds": (split, share("shade_held")),
        "strength or film off by %, mean": (split, lambda facts: float(np.mean([e["strength_off"] for e in facts]))),
        "strength or film off by %, 90 %": (split, quantile("strength_off", 0.9)),
        "its interval holds": (split, share("strength_held")),
        "the pots' strength, interval holds": (split, share("pot_held")),
    }
    for words, (cases, figure) in rows.items():
        print(f"    {words:36} {with_interval(cases, figure)}")


def main():
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studios", type=int, default=12, help="with the first scatter")
    parser.add_argument("--others", type=int, default=0, help="studios with each of the other scatters")
    parser.add_argument("--scatter", type=float, nargs="+", default=[0.15, 0.05, 0.10, 0.25])
    parser.add_argument("--split", default="build", choices=sorted(CODES))
    parser.add_argument("--guessed", action="store_true", help="the studio's scatter is not known, but guessed")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only-photos", action="store_true", help="take the photos, and look at nothing")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "hand")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    first, *others = asked.scatter
    jobs = [(number, first) for number in range(asked.studios)]
    jobs += [(number, scatter) for scatter in others for number in range(asked.others)]
    one = partial(one_studio, split=asked.split, folder=asked.folder, learned=not asked.guessed)
    with workers(asked.workers) as pool:
        found = [each for facts in progress(pool.imap(one, jobs), len(jobs)) for each in facts]
    if not asked.only_photos:
        print(f"split {asked.split}, {len(jobs)} studios; tolerance {TOLERANCE:g}")
        report(found)


if __name__ == "__main__":
    main()
