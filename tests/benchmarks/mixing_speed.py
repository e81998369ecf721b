"""How long a recipe and a correction take in a library of years: `python -m tests.benchmarks.mixing_speed`.

Libraries are drawn (`large_library`): so many known strips on one cloth, and some more on others. Seconds are those of
the processor, user and system, of whole commands, for a machine is seldom idle; a correction is that of a kept strip,
without the measuring of a photo. What the chosen strips predict is compared with what all strips teach, learned at
leisure, for the recommended mix and for mixes by chance near a target; and both with what the phone would truly see of
these. `--compare` says for which libraries, as 600 strips take half a minute.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.library.library import open_library
from swatchcam.mixing import strip_choice
from swatchcam.mixing.dosing.choices import choices
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.search import Target, mixes, new_pot
from swatchcam.mixing.workbench import set_up
from tests.worlds.large_library import CLOTH, fill, large_world, strips_of_years

TARGETS, GIVEN = 8, 5  # of each library; mixes that are given for each of them, beside the recommended one
NEAR_IT = 0.3  # natural logarithm of the shares of given mixes, about those of the target
GRAMS = 300.0
CORRECTION = """
from swatchcam.library.library import open_library
from swatchcam.mixing.order import Order
from swatchcam.mixing.pot_in_hand import correct_record
from swatchcam.mixing.requests import CorrectionRequest, Hand
from swatchcam.mixing.target import TargetRequest
asked = CorrectionRequest(TargetRequest(record={target}), Order({grams}), Hand())
correct_record(open_library({place!r}), {pot}, asked)
"""


def main():
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--strips", type=int, nargs="+", default=[20, 600, 3000], help="kept strips of each library")
    parser.add_argument("--compare", type=int, nargs="*", default=[300, 600], help="strips of which all are learned")
    parser.add_argument("--most", type=int, nargs="+", default=[strip_choice.MOST], help="strips that are chosen")
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2])
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        timed(asked, Path(folder))
    for count in asked.compare:
        for most in asked.most:
            compared(count, most, asked.seeds)


def timed(asked, folder):
    """A line for each library: seconds, and how many times those of the smallest."""
    print("kept strips   recipe for numbers   recipe for a record   correction   pot's form (reading)")
    first = None
    for count in asked.strips:
        place = drawn(asked.seeds[0], count, folder)
        numbers, record = last_two(place)
        row = [
            command(place, "--target", "45,30,20"),
            command(place, "--record", str(record)),
            correction(place, numbers, record),
            seconds(lambda place=place: open_library(place).records()),
        ]
        first = first or row
        ratios = "".join(f"{s:13.2f} ({s / f:4.1f})" for s, f in zip(row, first, strict=True))
        print(f"{count:11,}{ratios}", flush=True)


def drawn(seed, count, folder):
    """The address of a library with so many strips."""
    place = str(folder / f"{count}.sqlite")
    fill(open_library(place, create=True), folder / "shots", list(strips_of_years(seed, count)))
    return place


def last_two(place):
    """The numbers of the last two records of mixes on the usual cloth."""
    here = [each for each in open_library(place).records(state="air-dried") if each.cloth == CLOTH]
    return [each.number for each in here if each.shade.startswith(("shade", "series"))][-2:]


def command(place, *wanted):
    """Seconds of the processor that a whole command takes."""
    words = ["mix", "recipe", *wanted, "--grams", f"{GRAMS:g}", "--cloth", CLOTH, "--library", place]
    return of_process("-m", "swatchcam", *words)


def correction(place, pot, target):
    """The same of one record's pot, corrected towards another record, from the start of Python on."""
    return of_process("-c", CORRECTION.format(place=place, pot=pot, target=target, grams=GRAMS))


def of_process(*words):
    """Seconds of the processor that another Python takes."""
    start = resource.getrusage(resource.RUSAGE_CHILDREN)
    # As a user has it: its modules are compiled once, not at each start.
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL, env=clean)
    end = resource.getrusage(resource.RUSAGE_CHILDREN)
    return end.ru_utime + end.ru_stime - start.ru_utime - start.ru_stime


def seconds(work):
    start = time.process_time()
    work()
    return time.process_time() - start


def compared(count, most, seeds):
    """A line: how far predictions of chosen strips lie from those of all, CIEDE2000, over all studios and targets."""
    recommended, given, chosen_off, all_off = [], [], [], []
    for seed in seeds:
        with tempfile.TemporaryDirectory() as folder:
            bench = set_up(open_library(drawn(seed, count, Path(folder))), CLOTH)
        world, whole, rng = large_world(seed), learn(bench.every), np.random.default_rng([2026, 62, seed])
        for number in range(TARGETS):
            shares = near(world.mix(rng) if number % 2 else mixed(bench.every, rng), rng)
            lab = tuple(whole.labs(whole.vector(shares)[None])[0].tolist())
            some = learn(strip_choice.choose(bench.every, [lab], most=most))
            best = choices(mixes(some, Target(lab, "a target"), new_pot(some)))[0]
            recommended.append(apart(predicted(some, best.shares), predicted(whole, best.shares)))
            for mix in (near(shares, rng) for _ in range(GIVEN)):
                by_some, by_all, seen = predicted(some, mix), predicted(whole, mix), world.seen(world.lab(mix))
                given.append(apart(by_some, by_all))
                chosen_off.append(apart(by_some, seen))
                all_off.append(apart(by_all, seen))
    print(
        f"{count} strips, {most} chosen, CIEDE2000 from what all teach: recommended mix "
        f"{np.mean(recommended):.3f} largest {max(recommended):.3f},"
        f" given mixes mean {np.mean(given):.3f} largest {max(given):.3f}; from what the phone would see of these:"
        f" chosen {np.mean(chosen_off):.3f} largest {max(chosen_off):.3f},"
        f" all {np.mean(all_off):.3f} largest {max(all_off):.3f}",
        flush=True,
    )


def mixed(known_strips, rng):
    """Shares of a strip by chance."""
    found = [each.shares for each in known_strips if len(each.shares) > 1]
    return found[int(rng.integers(len(found)))]


def near(shares, rng):
    return {name: share * float(np.exp(rng.normal(0, NEAR_IT))) for name, share in shares.items()}


def predicted(palette, shares):
    return palette.labs(palette.vector(shares)[None])[0]


def apart(one, other):
    return float(delta_e_2000(one, other))


if __name__ == "__main__":
    main()
