"""How near pots come that are mixed with a kitchen scale: `python -m tests.benchmarks.kitchen_scale --targets 8`.

Studios of `hidden_studios`, whose films vary by 10 %, mix a hidden strip's colour: pots of 50, 150 and 500 g, on scales
with steps of 1, 0.1 and 0.01 g, with bottles whose drops they counted, and pre-mixes that they make when they are told
to, and keep. A person of `tests.worlds.kitchen` does what the tool says. Errors are CIEDE2000 of what is really in the
pot, in a film of usual thickness, against the hidden strip's true colour; intervals are of 95 %, studios drawn with
replacement (Efron 1979). With `--steps-only` pigments are weighed in whole steps of the scale, and in no other way.
"""

from __future__ import annotations

import argparse
import json
import pickle
import tempfile
import zlib
from dataclasses import dataclass, field, replace
from itertools import pairwise, product
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.mixing.dosing.choices import choices
from swatchcam.mixing.dosing.put_in import filled_up
from swatchcam.mixing.dosing.rounding import dispensed
from swatchcam.mixing.known_strip import strip_of
from swatchcam.mixing.order import Order
from swatchcam.mixing.recommend import correction_for, known_strip_for, recipe_for
from swatchcam.mixing.search import mixes, new_pot
from swatchcam.recipes.dosing import Tools
from swatchcam.recipes.drops import parse_drops
from swatchcam.recipes.parser import DROPS
from swatchcam.text import key
from tests.benchmarks.mixing import known, target_of
from tests.worlds import hidden_studios as pots
from tests.worlds.kitchen import Kitchen, Make, Put, random_bottle, random_kitchen
from tests.worlds.pots_off import away
from tests.worlds.trial import progress

SCALES, POTS, FINE = (1.0, 0.1, 0.01), (50.0, 150.0, 500.0), 0.01  # g
SPREAD, STEPS = 0.1, 4  # films vary by, as a natural logarithm; loads of each pigment's test series
SERIES_SCALE = 0.01  # g; the test series' own, so that all scales start from the same knowledge
BOTTLED = 0.5  # of the kitchens have empty bottles for their pre-mixes, and count their drops
COSTS = 0.0, 0.1, 0.3, 0.6, 1.0, 2.0, np.inf  # CIEDE2000, bands of what the tools are said to cost
AIM = 0.3  # CIEDE2000 by which a coarse scale may be worse, where the load allows it
RESAMPLES = 2000


@dataclass
class Shelf:
    """A kitchen, and what the studio knows of it."""

    kitchen: Kitchen
    bottled: bool
    tools: Tools
    pre_mixes: dict = field(default_factory=dict)  # label -> what the tool said of it, with the grams left

    def for_bench(self, bench):
        """The bench with all that is there to dose with."""
        own = {}
        for made in self.pre_mixes.values():
            own[key(made.pigment)] = (*own.get(key(made.pigment), ()), made)
        found = replace(bench, tools=replace(self.tools, pre_mixes=own))
        found.__dict__["palette"] = bench.palette  # what was learned has nothing to do with tools
        return found

    def made(self, makings):
        """Make pre-mixes as the tool says, and keep them."""
        for one in makings:
            label = one.made.name
            strong = one.of.name if one.of else ""
            jar = self.kitchen.make(Make(label, one.made.pigment, one.ink_g, one.binder_g, strong))
            drops = None
            if self.bottled:
                jar.bottle = random_bottle(self.kitchen.rng)
                drops = calibrated(self.kitchen, jar.bottle)
            self.taken(strong, one.ink_g)
            there = {"number": len(self.pre_mixes) + 1, "makings": 0}
            self.pre_mixes[label] = replace(one.made, grams=one.grams, drops=drops, **there)

    def taken(self, label, grams):
        """So much less is left, as far as the studio knows; a jar that is nearly empty is thrown away."""
        if label in self.pre_mixes:
            left = self.pre_mixes[label].grams - grams
            self.pre_mixes[label] = replace(self.pre_mixes[label], grams=left)
            if left < 2 * self.kitchen.scale.step:
                del self.pre_mixes[label]

    def put(self, doses):
        """What is really in a pot after so many doses."""
        real = {}
        for dose in doses:
            label = dose.pre_mix.name if dose.pre_mix else ""
            self.kitchen.put(real, Put(dose.what, dose.amount, dose.unit == DROPS, label))
            self.taken(label, dose.grams)
        return real


def stocked(asked, number, step):
    """The shelf of a studio: the same bottles on every scale."""
    rng = np.random.default_rng([2026, 17, asked.seed, pots.CODES[asked.split], number])
    kitchen = random_kitchen(rng, sorted(pots.hidden_studio(asked.split, number).pigments), step)
    drops = {key(name): calibrated(kitchen, bottle) for name, bottle in kitchen.bottles.items()}
    return Shelf(kitchen, bool(rng.random() < BOTTLED), Tools(step, drops))


def calibrated(kitchen, bottle):
    """What the studio finds one drop of a bottle to weigh."""
    count, shown = kitchen.calibrated(bottle)
    return parse_drops(f"{count} drops = {shown:.2f} g", kitchen.scale.step)


def sightings(asked, number):
    """The hidden strips of a studio and what the library keeps of a photo of each; photographed only once."""
    path = asked.folder / f"kitchen-{asked.split}-{number}-{asked.seed}.pickle"
    found = pickle.loads(path.read_bytes()) if path.exists() else []
    if len(found) < asked.targets:
        studio = pots.hidden_studio(asked.split, number, SPREAD)
        found += [sighting(asked, studio, number, index) for index in range(len(found), asked.targets)]
        path.write_bytes(pickle.dumps(found))
    return found[: asked.targets]


def sighting(asked, studio, number, index):
    """One hidden strip, and what is kept of its photo; None where that was refused."""
    rng = np.random.default_rng([2026, 171, asked.seed, pots.CODES[asked.split], number, index])
    strip = studio.draw_down(studio.target(rng), rng)
    try:
        return strip, studio.photograph({"left": strip, "right": {}}, rng, asked.folder)["left"].kept
    except SwatchcamError:
        return strip, None


def one_studio(job, asked):
    """What became of every target of a studio, on one scale, in pots of one size."""
    number, step, grams = job
    studio, bench = known(asked.split, number, STEPS, SERIES_SCALE, asked.folder, SPREAD)
    shelf, found = stocked(asked, number, step), []
    for index, (strip, kept) in enumerate(sightings(asked, number)):
        if kept is None:
            continue
        shelf.kitchen.new_day()
        where = {"studio": number, "target": index, "scale": step, "pot": grams}
        try:
            found.append(where | one_pot(studio, bench, shelf, strip, kept, Order(grams, step), asked))
        except SwatchcamError as error:
            found.append(where | {"refused": error.code})
    return found


def one_pot(studio, bench, shelf, strip, kept, order, asked):
    """Mix a target as the tool says, and correct it once if that is asked for."""
    ready = shelf.for_bench(bench)
    if asked.steps_only:
        mix, doses = on_whole_steps(ready, target_of(kept), order)
        return told(studio, strip, shelf.put(doses), mix, doses, 0)
    choice = recipe_for(ready, target_of(kept), order).choices[0]
    shelf.made(choice.makings)
    real = shelf.put(choice.doses)
    facts = told(studio, strip, real, choice.mix, choice.doses, len(choice.makings)) | {"cost": choice.tools_cost}
    if asked.correct:
        facts["corrected"] = corrected(studio, shelf, bench, strip, choice, real, order, asked)
    return facts


def told(studio, strip, real, mix, doses, made):
    return {
        "error": away(studio, strip, real),
        "expected": mix.expected,
        "load": sum(pots.shares_of(real).values()),
        "pigments": len(mix.amounts),
        "ways": [way_of(dose) for dose in doses if dose.what != pots.BINDER],
        "made": made,
        "grams": sum(real.values()),
    }


def way_of(dose):
    return ("counted" if dose.unit == DROPS else "weighed") + (" pre-mix" if dose.pre_mix else "")


def on_whole_steps(bench, target, order):
    """The best mix and its doses where nothing but the pigments themselves can be weighed."""
    vessel, limits = new_pot(bench.palette, bench.strengths()), bench.limits(order.at_most(), order.most)
    tools = Tools(order.scale_g)
    possible = choices(mixes(bench.palette, target, vessel, limits))
    dosed = [dispensed(bench.palette, target, vessel, mix, order.grams, tools, limits) for mix in possible]
    mix = choices([mix for mix in dosed if mix.amounts] or dosed)[0]
    return mix, filled_up(bench, mix, order.grams, order.scale_g).doses


def corrected(studio, shelf, bench, strip, choice, real, order, asked):
    """CIEDE2000 after one correction from a strip of the pot beside the hidden one."""
    rng = np.random.default_rng([2026, 172, zlib.crc32(repr((strip.seed, order.grams, order.scale_g)).encode())])
    seen = studio.photograph({"left": strip, "right": pots.shares_of(real)}, rng, asked.folder)
    own = known_strip_for(bench, choice.pot, seen["right"].kept, strip_of("hidden", "pot", "A"))
    ready = replace(bench.with_known_strip(own), tools=shelf.for_bench(bench).tools)
    target = target_of(seen["left"].kept)
    proposed = correction_for(ready, target, choice.pot, replace(order, grams=choice.pot.grams), strips=own.pot)
    if proposed.leave:
        return away(studio, strip, real)
    best = proposed.choices[0]
    shelf.kitchen.new_day()
    shelf.made(best.makings)
    if best.roads is not None:
        fresh = best.roads.fresh
        part = shelf.kitchen.scale.poured(fresh.ink_g, rng) / sum(real.values())
        real = {name: min(part, 1.0) * grams for name, grams in real.items()}
        real[pots.BINDER] += shelf.kitchen.scale.poured(fresh.binder_g, rng)
    added = shelf.put(best.doses)
    return away(studio, strip, {name: real.get(name, 0.0) + added.get(name, 0.0) for name in {*real, *added}})


# --- what came of it ------------------------------------------------------------------------------------------


def report(found, asked):
    """Print the table: each scale and pot, set against the fine scale; then what the tools were said to cost."""
    pots_of = [each for each in found if "error" in each]
    fine = {(each["studio"], each["target"], each["pot"]): each for each in pots_of if each["scale"] == FINE}
    how = "whole steps of the scale only" if asked.steps_only else "drops and pre-mixes"
    print(f"{len(pots_of)} pots, split {asked.split}, seed {asked.seed}, {asked.studios} studios, {how}")
    for code in sorted({each["refused"] for each in found if "refused" in each}):
        print(f"refused {sum(each.get('refused') == code for each in found)}: {code}")
    for each in pots_of:
        beside = fine.get((each["studio"], each["target"], each["pot"]))
        each["more"] = each["error"] - beside["error"] if beside else np.nan
    for step, grams in product(SCALES, POTS):
        row = [each for each in pots_of if (each["scale"], each["pot"]) == (step, grams)]
        if row:
            print(line(f"{step:g} g, pot {grams:g} g", row))
    coarse = [each for each in pots_of if each["scale"] != FINE and "cost" in each and np.isfinite(each["more"])]
    print(f"what the tools were said to cost, and what more the pots were off than on a scale of {FINE:g} g:")
    for low, high in pairwise(COSTS):
        band = [each for each in coarse if low <= each["cost"] < high]
        if band:
            said, (mean, ends) = np.mean([each["cost"] for each in band]), averaged(band, "more")
            print(f"  {low:g} to {high:g}: {len(band):4} pots  said {said:.2f}  came {mean:+.2f} ({ends})")


def line(name, row):
    errors = np.array([each["error"] for each in row])
    mean, ends = averaged(row, "error")
    more, more_ends = averaged([each for each in row if np.isfinite(each["more"])], "more")
    words = f"  {name:18} {len(row):4}  mean {mean:.2f} ({ends})  95 % {np.quantile(errors, 0.95):.2f}"
    words += f"  expected {np.mean([each['expected'] for each in row]):.2f}  more than fine {more:+.2f} ({more_ends})"
    if "cost" in row[0]:
        allowed = [each for each in row if each["cost"] <= AIM]
        extra = averaged(allowed, "more")[0] if allowed else np.nan
        words += f"  said to cost {np.mean([each['cost'] for each in row]):.2f}"
        words += f"; at most {AIM} in {len(allowed) / len(row):.0%}, there {extra:+.2f}"
        words += f"  pre-mixes made {np.mean([each['made'] for each in row]):.2f}"
    if "corrected" in row[0]:
        after, after_ends = averaged(row, "corrected")
        words += f"  corrected {after:.2f} ({after_ends})"
    return words


def averaged(row, name):
    """Mean, and its 95 % interval in words."""
    by_studio = [[each[name] for each in row if each["studio"] == number] for number in {e["studio"] for e in row}]
    rng = np.random.default_rng(zlib.crc32(b"studios"))
    picks = rng.integers(len(by_studio), size=(RESAMPLES, len(by_studio)))
    sums, counts = (np.array([of(each) for each in by_studio]) for of in (np.sum, len))
    low, high = np.quantile(sums[picks].sum(axis=1) / counts[picks].sum(axis=1), [0.025, 0.975])
    return float(np.mean([each[name] for each in row])), f"{low:.2f} to {high:.2f}"


def main():
    """Print errors by scale and pot, and whether the stated cost of the tools is true."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", default="build", choices=sorted(pots.CODES))
    parser.add_argument("--studios", type=int, default=12)
    parser.add_argument("--targets", type=int, default=8, help="of each studio")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--steps-only", action="store_true", help="neither drops nor pre-mixes")
    parser.add_argument("--correct", action="store_true", help="each pot once, from one strip")
    parser.add_argument("--only-photos", action="store_true", help="take the photos and stop")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "pots")
    parser.add_argument("--facts", type=Path, help="file for what became of each pot, a line of JSON each")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    if asked.only_photos:
        for number in progress(range(asked.studios), asked.studios):
            pots.cached_series(asked.split, number, STEPS, SERIES_SCALE, asked.folder, SPREAD)
            sightings(asked, number)
        return
    jobs = [(number, *each) for number in range(asked.studios) for each in product(SCALES, POTS)]
    found = [each for some in progress((one_studio(job, asked) for job in jobs), len(jobs)) for each in some]
    if asked.facts:
        asked.facts.write_text("".join(f"{json.dumps(each)}\n" for each in found), encoding="utf-8")
    report(found, asked)


if __name__ == "__main__":
    main()
