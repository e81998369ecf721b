"""How near colours come, and how true the stated intervals are, with card values that no instrument read from the card.

    python -m tests.benchmarks.card_values --way profile --split build --count 300
    python -m tests.benchmarks.card_values --way sister --split build --count 300
    python -m tests.benchmarks.card_values --way ptfe --split build --count 300

Each case is a printer, a print of it, and one fair photo of two strips beside that print:

- profile: the print was made through a CMYK or RGB profile of the printer as it once was, on another batch of paper;
- sister: another print of the same run was read with a spectrophotometer;
- ptfe: only its white was learned, from PTFE in an earlier photo (how near that comes: `known_white`).
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # tiny matrices: threads cost more than they save

import argparse
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchcam.cards.design import designs
from swatchcam.cards.printer_profile import import_profile, read_printer_profile
from swatchcam.cards.sister import sister_values
from swatchcam.cards.values import load_values
from swatchcam.errors import SwatchcamError
from swatchcam.measurement.prints.known_white import learn_stock
from tests.benchmarks.accuracy import off_difference, row
from tests.worlds.many_printers import random_print, random_printer
from tests.worlds.printer_profile import output_profile, print_through
from tests.worlds.printers import PrintedCard, print_card, write_values
from tests.worlds.random_scenes import random_scene
from tests.worlds.scene import Ink
from tests.worlds.spectra import difference
from tests.worlds.trial import Facts, draw, facts, photograph, progress, workers
from tests.worlds.white_pieces import white_piece

Rng = np.random.Generator
SIZE = 1600, 1200
YEARS_DRIFT = 0.01, 0.08  # of coverages, over months and batches of ink; a press is 3 CIEDE2000 off its aim on average
READ = 0.3  # CIEDE2000, one standard deviation of an instrument's reading


def by_profile(rng: Rng, split: str, path: Path) -> tuple[PrintedCard, Path]:
    """A print through a profile that was made another day."""
    printer, space = random_printer(rng, split), str(rng.choice(["CMYK", "RGB "]))
    drift, intent = rng.uniform(*YEARS_DRIFT), str(rng.choice(["relative", "perceptual"]))
    profile = path.with_suffix(".icc")
    content = output_profile(printer, space, rng.normal(0, drift, 4))
    profile.write_bytes(content)
    design = designs()["a5"]
    card = print_through(content, printer, space, design, intent, rng.normal(0, drift, 4), rng, drift)
    values = import_profile(read_printer_profile(profile), design, name=path.stem, intent=intent)
    profile.unlink()
    return card, Path(values.path)


def by_sister(rng: Rng, split: str, path: Path) -> tuple[PrintedCard, Path]:
    """A print whose sister was read; inks vary from print to print by what the printer does."""
    printer = random_printer(rng, split)
    card, read = (print_card(designs()["a5"], printer, int(rng.integers(2**31)), printer.drift) for _ in range(2))
    spectra = read.read_spectra(rng)
    lab = {name: value + rng.normal(0, READ / np.sqrt(3), 3) for name, value in read.true_lab().items()}
    write_values(path, "a5", lab, spectra, uncertainty=READ)
    sure = sister_values(load_values(path), "00000001").uncertainty
    return card, write_values(path, "a5", lab, spectra, "sister", sure)


def by_white(rng: Rng, split: str, path: Path) -> tuple[PrintedCard, Path]:
    """A print of which only the white is known, from PTFE in a photo; one that is refused is taken again."""
    card, photo = random_print(rng, split)[1], path.with_suffix(".ptfe.jpg")
    while True:
        windows = {"left": Ink(white_piece(rng)), "right": None}
        draw(replace(random_scene(rng, split), card=card, windows=windows), SIZE, photo)
        try:
            return card, Path(learn_stock(path.stem, str(photo), "left")[0].path)
        except SwatchcamError:
            continue
        finally:
            photo.unlink()


WAYS: dict[str, Callable[[Rng, str, Path], tuple[PrintedCard, Path]]] = {
    "profile": by_profile,
    "sister": by_sister,
    "ptfe": by_white,
}


def case(job: tuple[str, int, int, str, str]) -> Facts:
    """One photo of one print: what it gives, and how far the values of its patches are off."""
    way, seed, number, split, folder = job
    rng = np.random.default_rng([seed, number])
    scene = random_scene(rng, split)
    card, values = WAYS[way](rng, split, Path(folder) / f"{way}-{number}.csv")
    stated = load_values(values)
    off = [float(difference(np.array(stated.lab[name]), lab)) for name, lab in card.true_lab().items()]
    result: Facts = {"patches": off, "stated": stated.uncertainty}
    try:
        return result | facts(*photograph(replace(scene, card=card), SIZE, values, Path(folder) / f"{number}.jpg"))
    except SwatchcamError as refusal:
        return result | {"refused": str(refusal)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--way", choices=sorted(WAYS), required=True)
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=2026)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATCHCAM_CARDS"] = folder
        jobs = [(chosen.way, chosen.seed, number, chosen.split, folder) for number in range(chosen.count)]
        with workers(2) as pool:
            cases = list(progress(pool.imap_unordered(case, jobs), chosen.count))
    print(f"Way '{chosen.way}', split '{chosen.split}', seed {chosen.seed}, {chosen.count} prints, a photo of each")
    tell(cases)


def tell(cases: list[Facts]) -> None:
    """The tables: values, colours, differences, intervals."""
    photos = [one for one in cases if "refused" not in one]
    patches = np.array([one["patches"] for one in cases])
    stated = np.mean([one["stated"] for one in cases])
    print(f"patches of the card: rms {np.sqrt((patches**2).mean()):.2f}, stated {stated:.2f}")
    print(f"measured {len(photos)} of {len(cases)}")
    for reason, count in Counter(one["refused"] for one in cases if "refused" in one).most_common(3):
        print(f"    {count} x {reason}")
    print(f"\n{'CIEDE2000':70} {'mean':>6} {'95 %':>6}")
    row("absolute, one photo", [error for photo in photos for error in photo["absolute"]])
    row("difference of two strips in one photo (true below 5)", off_difference(photos))
    inside = [photo["low"] <= photo["true"] <= photo["high"] for photo in photos]
    within = [e <= r for photo in photos for e, r in zip(photo["absolute"], photo["radius"], strict=True)]
    half = np.median([(photo["high"] - photo["low"]) / 2 for photo in photos])
    radius = np.median([radius for photo in photos for radius in photo["radius"]])
    print("\nThe stated 95 % interval holds (aim 93 to 97 %)")
    print(f"  absolute: {np.mean(within):.1%} of {len(within)}, median {radius:.2f}")
    print(f"  difference: {np.mean(inside):.1%} of {len(inside)}, median {half:.2f}")


if __name__ == "__main__":
    main()
