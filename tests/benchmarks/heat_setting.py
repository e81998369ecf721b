"""Whether the tool can tell, from two photos, what heat setting did.

`python -m tests.benchmarks.heat_setting --scenes 100` prints it.

Each scene is photographed dry; then one of its strips is heat-set (by an invented change of its spectrum), the other
left alone, and both are photographed again: held anew under the same lamp, and under another one. Both records go
through the text in which the library keeps them.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchcam.colorimetry.colour_shift import shift
from swatchcam.colorimetry.grey_scale import grade, grey_scale_difference
from swatchcam.errors import SwatchcamError
from swatchcam.measurement.measure import measure
from swatchcam.measurement.stored_colour import errors_as_text, errors_from_text, keep
from tests.worlds.random_scenes import WORLDS, random_scene, reshoot
from tests.worlds.scene import Ink
from tests.worlds.spectra import WAVELENGTHS, difference
from tests.worlds.trial import draw, progress, read_card, workers

SIZE = 1600, 1200


def heated(rng, strip: Ink) -> Ink:
    """Stronger, and a little yellower: an invented change."""
    yellower = 1 - rng.uniform(0, 0.08) * (780 - WAVELENGTHS) / 400
    return replace(strip, reflectance=strip.reflectance ** rng.uniform(1.0, 1.12) * yellower)


def records(path, card, beside=False):
    """Each strip's colour, as the library gives it back; of strips beside the card too where there are any."""
    measured = measure(str(path), str(card), beside=beside)
    found = {}
    for colour in measured.colours:
        kept = keep(colour, measured)
        errors, reflectance, cloth = errors_from_text(errors_as_text(kept))
        found[colour.name] = replace(kept, errors=errors, reflectance=reflectance, cloth=cloth)
    return found


def one_scene(job):
    """lamp -> what was told of the strip that was heated and of the one that was not; None where it was refused."""
    number, split, folder = job
    rng = np.random.default_rng([2026, 105, number])
    scene = random_scene(rng, split, "fair")
    card, photo = (Path(folder) / f"heat-{number}.{end}" for end in ("csv", "jpg"))
    read_card(scene, rng, card)
    lamps = WORLDS[split].fair_lights
    again = replace(scene, windows=scene.windows | {"right": heated(rng, scene.windows["right"])})
    other = lamps[str(rng.choice(sorted(lamps)))]
    try:
        before = draw(scene, SIZE, photo)
        dry = records(photo, card)
        told = {}
        for lamp, light in (("same lamp", None), ("any lamp", other)):
            after = draw(reshoot(again, rng, light), SIZE, photo)
            later = records(photo, card)
            told[lamp] = {name: facts(dry[name], later[name], before, after, name) for name in ("left", "right")}
        return told
    except SwatchcamError:
        return None


def facts(dry, later, before, after, name):
    found = shift(dry, later)
    start, end = before.truth[name], after.truth[name]
    true = float(difference(end, start))
    return {
        "true": true,
        "error": abs(found.ciede2000.value - true),
        "half": (found.ciede2000.high - found.ciede2000.low) / 2,
        "held": found.ciede2000.low <= true <= found.ciede2000.high,
        "lightness held": found.lightness.low <= end[0] - start[0] <= found.lightness.high,
        "real": found.real,
        "grade held": grade(float(grey_scale_difference(start, end))) in found.grades,
        "grades": len(found.grades),
    }


def row(name, values):
    print(f"  {name:<52}{values:8.1%}" if isinstance(values, float) else f"  {name:<52}{values}")


def main():
    """Print how often the intervals held and how often chance was taken for change."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scenes", type=int, default=100)
    parser.add_argument("--split", default="build", choices=sorted(WORLDS))
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, workers(2) as pool:
        jobs = [(number, asked.split, folder) for number in range(asked.scenes)]
        told = [found for found in progress(pool.imap_unordered(one_scene, jobs), len(jobs)) if found]
    print(f"{len(told)} of {asked.scenes} scenes accepted, split {asked.split}")
    for lamp in ("same lamp", "any lamp"):
        still, moved = ([found[lamp][window] for found in told] for window in ("left", "right"))
        large = [each for each in moved if each["true"] > 1.5]
        print(f"{lamp}:")
        row("mean error of CIEDE2000 between the two", f"{np.mean([each['error'] for each in moved]):8.2f}")
        row("half-width of its interval, median", f"{np.median([each['half'] for each in moved]):8.2f}")
        row("interval of CIEDE2000 holds", float(np.mean([each["held"] for each in moved])))
        row("interval of ΔL* holds", float(np.mean([each["lightness held"] for each in moved])))
        row("the grade is among those told", float(np.mean([each["grade held"] for each in moved])))
        row("grades told", f"{np.mean([each['grades'] for each in moved]):8.2f}")
        row("a strip that was left alone is called changed", float(np.mean([each["real"] for each in still])))
        row("a change above 1.5 is called real", float(np.mean([each["real"] for each in large])))


if __name__ == "__main__":
    main()
