"""How fast the nearest of a million records are found: `python -m tests.benchmarks.nearest`.

The colours are invented: clusters of shades about 5,000 places of surface colours, and a tenth spread evenly.
"""

from __future__ import annotations

import time

import numpy as np

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.colorimetry.nearest_index import Index

COUNT, QUERIES, WANTED = 1_000_000, 200, 10


def surface_colours(rng, count):
    """(count, 3) CIELAB in a double cone, about the shape of what surfaces can show."""
    lightness, angle = 100 * rng.beta(2, 2, count), rng.uniform(0, 2 * np.pi, count)
    chroma = 110 * np.sqrt(rng.uniform(0, 1, count)) * (1 - np.abs(lightness / 50 - 1))
    return np.stack([lightness, chroma * np.cos(angle), chroma * np.sin(angle)], axis=-1)


def records(rng, count):
    """(count, 3) CIELAB as a studio's library might hold them: batches about shades, and everything else."""
    shades = surface_colours(rng, 5_000)[rng.integers(0, 5_000, count - count // 10)]
    return np.vstack([shades + rng.normal(0, 1.5, shades.shape), surface_colours(rng, count // 10)])


def queries(rng, labs):
    """Where -> (QUERIES, 3) CIELAB: records with noise, just outside the cloud, and where no surface colour is."""
    way = rng.normal(size=(QUERIES, 3))
    edge = labs[np.argmax((labs - labs.mean(axis=0)) @ way.T, axis=0)]
    size = np.linalg.norm(way, axis=1, keepdims=True)
    return {
        "inside": labs[rng.integers(0, len(labs), QUERIES)] + rng.normal(0, 2, (QUERIES, 3)),
        "edge": edge + 3 * way / size,
        "far outside": labs.mean(axis=0) + 250 * way / size,
    }


def seconds(function, *arguments):
    """How long one call takes, and what comes out."""
    start = time.perf_counter()
    result = function(*arguments)
    return time.perf_counter() - start, result


def brute_force(labs, lab):
    """Differences of the nearest, looking at every record."""
    apart = delta_e_2000(labs, lab)
    return np.sort(apart[np.argpartition(apart, WANTED)[:WANTED]])


def main():
    """Print the table."""
    rng = np.random.default_rng(1)
    labs = records(rng, COUNT)
    built, index = seconds(Index, labs, np.arange(COUNT))
    print(f"{COUNT:,} records, built in {built:.2f} s; the nearest {WANTED} of each, ms")
    for name, places in queries(rng, labs).items():
        taken, found = zip(*(seconds(index.nearest, place, WANTED) for place in places), strict=True)
        slow, exact = zip(*(seconds(brute_force, labs, place) for place in places[:5]), strict=True)
        wrong = sum(
            not np.allclose([apart for _, apart in hits], apart, atol=1e-8)
            for hits, apart in zip(found[:5], exact, strict=True)
        )
        median, late, worst = (1000 * np.quantile(taken, share) for share in (0.5, 0.99, 1.0))
        ratio = 1000 * np.median(slow) / median
        print(
            f"{name:12} median {median:6.1f}  99 % {late:6.1f}  worst {worst:6.1f}"
            f"  brute force {1000 * np.median(slow):6.0f} ({ratio:.0f} times)  wrong {wrong} of 5"
        )


if __name__ == "__main__":
    main()
