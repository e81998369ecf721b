"""How accurate, how honest and how fast: `python -m tests.benchmark`.

Scenes of the `final` split only: cameras, lights, printers and pigments that nothing was built on. Times and memory
are ratios to `cv2.imread` of the same file in the same run.

    python -m tests.benchmark                    # 200 fair scenes, 200 hard ones, speed: about 10 minutes on two cores
    python -m tests.benchmark --scenes 20 --hard 20

Hard photos by the thousand: `python -m tests.hardrun`.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import replace
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

import numpy as np  # noqa: E402 - after the path of the scenes
from hardrun import SIZE, Run, code_digest, hard_photos, table  # noqa: E402
from scene import Scene, render, write_jpeg  # noqa: E402
from shoots import random_scene, reshoot  # noqa: E402
from spectra import BUILD_FAIR_LIGHTS, FINAL_FAIR_LIGHTS, difference  # noqa: E402
from spoilers import HARD_KINDS  # noqa: E402
from trial import facts, photograph, progress, read_card, workers  # noqa: E402

from swatchcam.errors import SwatchcamError  # noqa: E402

WIDTH, HEIGHT = 1600, 1200
PHOTOS = 4  # of each fair scene

# What design aims at, CIEDE2000: mean, 95 %.
TARGETS = {
    "two drawdowns in one photo, error of their difference (true below 5)": (0.20, 0.6),
    "the same from the average of four photos": (0.10, 0.3),
    "same strip, another photo, same light": (0.4, 0.9),
    "absolute, measured card, one photo": (1.1, 2.5),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scenes", type=int, default=200, help="fair scenes, four photos each")
    parser.add_argument("--hard", type=int, default=200, help="hard photos")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    parser.add_argument("--no-speed", action="store_true")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATCHCAM_CARDS"] = str(Path(folder) / "cards")
        with workers(2) as pool:
            jobs = [(chosen.seed, number, chosen.split, folder) for number in range(chosen.scenes)]
            fair = list(progress(pool.imap_unordered(fair_scene, jobs), chosen.scenes))
        print(f"\nSplit '{chosen.split}', seed {chosen.seed}, photos of {WIDTH} x {HEIGHT} px.")
        if fair:
            accuracy(fair)
            coverage(fair)
        if chosen.hard:
            hard(chosen)
        if not chosen.no_speed:
            speed(Path(folder))


def fair_scene(job):
    """Four photos of one fair scene: truths, what was measured, or why it was refused."""
    seed, number, split, folder = job
    rng = np.random.default_rng([seed, number])
    scene = random_scene(rng, split, "fair")
    card, photo = (Path(folder) / f"fair-{number}.{end}" for end in ("csv", "jpg"))
    read_card(scene, rng, card)
    result = {"light": name_of_light(scene), "camera": scene.camera, "refused": [], "photos": []}
    for shot in range(PHOTOS):
        taken = scene if shot == 0 else reshoot(scene, rng)
        try:
            result["photos"].append(facts(*photograph(taken, (WIDTH, HEIGHT), card, photo)))
        except SwatchcamError as refusal:
            result["refused"].append(str(refusal))
    return result


def name_of_light(scene: Scene) -> str:
    every = BUILD_FAIR_LIGHTS | FINAL_FAIR_LIGHTS
    return next(name for name, light in every.items() if np.array_equal(light, scene.light))


def region(lab):
    """The part of the colour space that a CIELAB colour lies in."""
    chroma, hue = float(np.hypot(lab[1], lab[2])), float(np.degrees(np.arctan2(lab[2], lab[1])) % 360)
    if chroma < 15:
        return "near grey"
    return ("red", "yellow", "green", "blue")[int(((hue + 20) % 360) // 95) % 4]


def accuracy(fair):
    photos = [photo for scene in fair for photo in scene["photos"]]
    near = [photo for photo in photos if photo["true"] < 5]
    four = [scene["photos"] for scene in fair if len(scene["photos"]) == PHOTOS and scene["photos"][0]["true"] < 5]
    pairs = [np.array([photo["lab"] for photo in scene]).mean(axis=0) for scene in four]
    again = [
        float(difference(np.array(one["lab"][side]), np.array(other["lab"][side])))
        for scene in fair
        for one, other in zip(scene["photos"], scene["photos"][1:], strict=False)
        for side in (0, 1)
    ]
    inside = [photo for photo in photos if not photo["cut"]]
    rows = dict(
        zip(
            TARGETS,
            (
                [abs(photo["measured"] - photo["true"]) for photo in near],
                [abs(float(difference(p[1], p[0])) - s[0]["true"]) for p, s in zip(pairs, four, strict=True)],
                again,
                [error for photo in photos for error in photo["absolute"]],
            ),
            strict=True,
        )
    )
    accepted, taken = len(photos), sum(len(scene["photos"]) + len(scene["refused"]) for scene in fair)
    print(f"\nAccuracy, CIEDE2000 ({len(fair)} fair scenes, {taken} photos)")
    print(f"{'':70} {'mean':>6} {'95 %':>6}   aim")
    for name, errors in rows.items():
        aim = TARGETS[name]
        mean, high = np.mean(errors), np.quantile(errors, 0.95)
        verdict = "met" if mean <= aim[0] and high <= aim[1] else "missed"
        print(f"{name:70} {mean:6.2f} {high:6.2f}   {aim[0]:.2f} / {aim[1]:.1f}  {verdict}")
    errors = [error for photo in inside for error in photo["absolute"]]
    name = "  of these, colours inside the photo's colour space"
    print(f"{name:70} {np.mean(errors):6.2f} {np.quantile(errors, 0.95):6.2f}")
    print(f"Fair photos accepted: {accepted / taken:.1%} (aim at least 97 %)")
    for reason, count in Counter(r.split(".")[0] for scene in fair for r in scene["refused"]).most_common(5):
        print(f"    {count} x {reason}")


def coverage(fair):
    """How often the stated 95 % interval holds the truth: overall, and the worst light, camera and region."""
    held = {"difference": defaultdict(list), "absolute": defaultdict(list)}
    for scene in fair:
        for photo in scene["photos"]:
            keys = ("all", f"light {scene['light']}", f"camera {scene['camera']}")
            for key in (*keys, f"region {region(photo['true_lab'][0])}"):
                held["difference"][key].append(photo["low"] <= photo["true"] <= photo["high"])
            for error, radius, lab in zip(photo["absolute"], photo["radius"], photo["true_lab"], strict=True):
                for key in (*keys, f"region {region(lab)}"):
                    held["absolute"][key].append(error <= radius)
    print(
        "\nCoverage of the stated 95 % interval (aim 93 to 97 % overall, at least 90 % in every light, camera, region)"
    )
    for what, groups in held.items():
        print(f"  {what}: {np.mean(groups['all']):.1%} of {len(groups['all'])}")
        for kind in ("light", "camera", "region"):
            shares = {key: np.mean(value) for key, value in groups.items() if key.startswith(kind) and len(value) >= 8}
            if not shares:
                continue  # too few photos to say
            worst = min(shares, key=shares.get)
            below = sum(share < 0.9 for share in shares.values())
            print(f"    worst {worst}: {shares[worst]:.1%}; {below} of {len(shares)} groups below 90 %")
    widths = [(photo["high"] - photo["low"]) / 2 for scene in fair for photo in scene["photos"]]
    radii = [radius for scene in fair for photo in scene["photos"] for radius in photo["radius"]]
    print(f"  median half-width: difference {np.median(widths):.2f}, absolute {np.median(radii):.2f}")


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
    from swatchcam.measure import measure
    from swatchcam.report import measurement_dict
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
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=Path(__file__).parent.parent)
    return json.loads(done.stdout)


def timed(command):
    times = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=True, cwd=Path(__file__).parent.parent)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


if __name__ == "__main__":
    main()
