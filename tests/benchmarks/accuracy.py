"""How accurate, how honest and how fast: `python -m tests.benchmarks.accuracy`.

Scenes of the `final` split only: cameras, lights, printers and pigments that nothing was built on. Times and memory
are ratios to `cv2.imread` of the same file in the same run.

    python -m tests.benchmarks.accuracy                    # 200 scenes of each sort: about half an hour on two cores
    python -m tests.benchmarks.accuracy --scenes 20 --own 20 --hard 20 --without 0

Hard photos by the thousand: `python -m tests.benchmarks.hard_photos`.
"""

from __future__ import annotations

import os

from tests.paths import HOME

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # tiny matrices: threads cost more than they save

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.benchmarks.fair_photos import TROUBLES, fair_scene, own_pigments, without
from tests.benchmarks.hard_photos import SIZE, Run, code_digest, hard_photos, table
from tests.worlds.random_scenes import random_scene
from tests.worlds.scene import render, write_jpeg
from tests.worlds.spectra import difference
from tests.worlds.spoilers import HARD_KINDS
from tests.worlds.trial import progress, read_card, workers

# What design aims at, CIEDE2000: mean, 95 %.
TARGETS = {
    "two strips in one photo, error of their difference (true below 5)": (0.20, 0.6),
    "the same from four photos together": (0.10, 0.3),
    "same strip, another photo, same light": (0.4, 0.9),
    "absolute, measured card, one photo": (1.1, 2.5),
    "absolute, with own-pigment row": (0.7, 1.7),
    "absolute, row and two lights": (0.5, 1.2),
}
UNAIMED = ("absolute, four photos together", "absolute, two lights, no row", "absolute, the same scenes, one photo")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scenes", type=int, default=200, help="fair scenes, four photos each")
    parser.add_argument("--own", type=int, default=200, help="scenes with a row of own pigments, under two lights")
    parser.add_argument("--hard", type=int, default=200, help="hard photos")
    parser.add_argument("--without", type=int, default=40, help="scenes from which each trouble is taken away in turn")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    parser.add_argument("--no-speed", action="store_true")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATCHCAM_CARDS"] = str(Path(folder) / "cards")
        print(f"Split '{chosen.split}', seed {chosen.seed}, photos of 1600 x 1200 px.")
        fair = run(fair_scene, chosen, chosen.scenes, folder)
        own = [scene for scene in run(own_pigments, chosen, chosen.own, folder) if not scene["refused"]]
        if fair:
            accuracy(fair, own)
            coverage("one photo", [(photo, scene) for scene in fair for photo in scene["photos"]])
            coverage("four photos together", [(scene["all"], scene) for scene in fair if scene["all"]])
        if own:
            for way, words in (("row", "with the row"), ("two", "two lights"), ("both", "row and two lights")):
                coverage(words, [(scene[way], scene) for scene in own])
        if chosen.without:
            costs([scene for scene in run(without, chosen, chosen.without, folder) if scene])
        if chosen.hard:
            hard(chosen)
        if not chosen.no_speed:
            speed(Path(folder))


def run(trial, chosen, count, folder):
    """A trial of each of `count` scenes, on two processes."""
    jobs = [(chosen.seed, number, chosen.split, folder) for number in range(count)]
    with workers(2) as pool:
        return list(progress(pool.imap_unordered(trial, jobs), count)) if count else []


def region(lab):
    """The part of the colour space that a CIELAB colour lies in."""
    chroma, hue = float(np.hypot(lab[1], lab[2])), float(np.degrees(np.arctan2(lab[2], lab[1])) % 360)
    if chroma < 15:
        return "near grey"
    return ("red", "yellow", "green", "blue")[int(((hue + 20) % 360) // 95) % 4]


def accuracy(fair, own):
    photos = [photo for scene in fair for photo in scene["photos"]]
    four = [scene["all"] for scene in fair if scene["all"]]
    again = [
        float(difference(np.array(one["lab"][side]), np.array(other["lab"][side])))
        for scene in fair
        for one, other in zip(scene["photos"], scene["photos"][1:], strict=False)
        for side in (0, 1)
    ]
    errors = (
        off_difference(photos),
        off_difference(four),
        again,
        absolute(photos),
        absolute([scene["row"] for scene in own]),
        absolute([scene["both"] for scene in own]),
        absolute(four),
        absolute([scene["two"] for scene in own]),
        absolute([scene["one"] for scene in own]),
    )
    accepted, taken = len(photos), sum(len(scene["photos"]) + len(scene["refused"]) for scene in fair)
    print(f"\nAccuracy, CIEDE2000 ({len(fair)} fair scenes, {taken} photos; {len(own)} scenes with a row)")
    print(f"{'':70} {'mean':>6} {'95 %':>6}   aim")
    for name, off in zip((*TARGETS, *UNAIMED), errors, strict=True):
        if off:
            row(name, off, TARGETS.get(name))
    row("  one photo, colours inside the photo's colour space", absolute([p for p in photos if not p["cut"]]))
    print(f"Fair photos accepted: {accepted / taken:.1%} (aim at least 97 %)")
    for reason, count in Counter(r.split(".")[0] for scene in fair for r in scene["refused"]).most_common(5):
        print(f"    {count} x {reason}")


def off_difference(photos):
    return [abs(photo["measured"] - photo["true"]) for photo in photos if photo["true"] < 5]


def absolute(photos):
    return [error for photo in photos for error in photo["absolute"]]


def row(name, off, aim=None):
    mean, high = np.mean(off), np.quantile(off, 0.95)
    told = ""
    if aim:
        told = f"{aim[0]:.2f} / {aim[1]:.1f}  {'met' if mean <= aim[0] and high <= aim[1] else 'missed'}"
    print(f"{name:70} {mean:6.2f} {high:6.2f}   {told}".rstrip())


def coverage(words, photos):
    """How often the stated 95 % interval holds the truth: overall, and the worst light, camera and region."""
    held = {"difference": defaultdict(list), "absolute": defaultdict(list)}
    for photo, scene in photos:
        keys = ("all", f"light {scene['light']}", f"camera {scene['camera']}")
        for key in (*keys, f"region {region(photo['true_lab'][0])}"):
            held["difference"][key].append(photo["low"] <= photo["true"] <= photo["high"])
        for error, radius, lab in zip(photo["absolute"], photo["radius"], photo["true_lab"], strict=True):
            for key in (*keys, f"region {region(lab)}"):
                held["absolute"][key].append(error <= radius)
    print(f"\nCoverage of the stated 95 % interval, {words} (aim 93 to 97 %, in every light, camera, region 90 %)")
    for what, groups in held.items():
        print(f"  {what}: {np.mean(groups['all']):.1%} of {len(groups['all'])}")
        for kind in ("light", "camera", "region"):
            shares = {key: np.mean(value) for key, value in groups.items() if key.startswith(kind) and len(value) >= 8}
            if not shares:
                continue  # too few photos to say
            worst = min(shares, key=shares.get)
            below = sum(share < 0.9 for share in shares.values())
            print(f"    worst {worst}: {shares[worst]:.1%}; {below} of {len(shares)} groups below 90 %")
    widths = [(photo["high"] - photo["low"]) / 2 for photo, _ in photos]
    radii = [radius for photo, _ in photos for radius in photo["radius"]]
    print(f"  median half-width: difference {np.median(widths):.2f}, absolute {np.median(radii):.2f}")


def costs(scenes):
    """The same photos without one trouble at a time: what each of them costs."""
    print(f"\nWhat stands in the way: {len(scenes)} scenes, one photo, each trouble taken away in turn")
    print(f"{'':40} {'difference':>16} {'absolute':>16}")
    for name in (*TROUBLES, "all of these"):
        shots = [scene[name] for scene in scenes]
        cells = [
            f"{np.mean(off):8.2f} {np.quantile(off, 0.95):7.2f}" for off in (off_difference(shots), absolute(shots))
        ]
        print(f"{name:40} {' '.join(cells)}")


def hard(chosen):
    """Refusals and silent failures among spoilt photos."""
    run = Run(chosen.seed, chosen.split, HARD_KINDS, SIZE, code_digest())
    photos = list(progress(hard_photos(run, range(chosen.hard), 2), chosen.hard))
    print(f"\nHard photos ({len(photos)}, {SIZE[0]} x {SIZE[1]} px); wrong: further off than three intervals (aim 0)")
    print(table(photos))


SPEED = """
import json, statistics, sys, time
import cv2
path, what = sys.argv[1], sys.argv[2]
if what == "measure":
    from swatchcam.measurement.measure import measure
    from swatchcam.report.measurement import measurement_dict
    job = lambda: measurement_dict(measure(path, sys.argv[3]))
else:
    job = lambda: cv2.imread(path)
job()
times = []
for _ in range(7):
    start = time.perf_counter()
    job()
    times.append(time.perf_counter() - start)
# getrusage would tell the peak of the parent that this process was forked from.
peak = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(json.dumps([statistics.median(times), int(peak.split()[1]) / 1024]))
"""


def speed(folder):
    """Time and memory of a 12-megapixel JPEG, as ratios to decoding it with OpenCV, and of whole processes."""
    rng = np.random.default_rng(12)
    scene = random_scene(rng, "build", "fair")
    scene = replace(scene, pose=replace(scene.pose, fraction=0.8, rotation=4.0), phone=replace(scene.phone, quality=92))
    photo, card = folder / "twelve.jpg", read_card(scene, rng, folder / "twelve.csv")
    write_jpeg(render(scene, (4000, 3000)), photo)
    imread, imread_memory = in_a_process(photo, "imread", card)
    measure, memory = in_a_process(photo, "measure", card)
    print(f"\nSpeed, 12-megapixel JPEG of {photo.stat().st_size / 1e6:.1f} MB on {os.cpu_count()} cores")
    print(
        f"  file to result: {measure / imread:.2f} times cv2.imread (aim at most 2)   {measure:.3f} s / {imread:.3f} s"
    )
    print(
        f"  peak memory: {memory:.0f} MB (aim below 500), {memory / imread_memory:.2f} times that of cv2.imread alone"
    )
    whole = timed([sys.executable, "-m", "swatchcam", "measure", str(photo), "--card", str(card), "--json"])
    bare = timed([sys.executable, "-c", "import numpy, cv2"])
    print(f"  whole process: {whole:.2f} s (aim at most 1.0), {whole / bare:.1f} times starting Python with OpenCV")
    print(f"  swatchcam --help: {timed([sys.executable, '-m', 'swatchcam', '--help']):.2f} s (aim below 0.3)")


def in_a_process(photo, what, card):
    command = [sys.executable, "-c", SPEED, str(photo), what, str(card)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=HOME)
    return json.loads(done.stdout)


def timed(command):
    times = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=True, cwd=HOME)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


if __name__ == "__main__":
    main()
