"""What a card's bare stock is, told by PTFE in a window, and how often a grey scale comes out as it should.

    python -m tests.benchmarks.known_white --split build --count 300
    python -m tests.benchmarks.known_white --split build --count 100 --layers 1 --under dark
    python -m tests.benchmarks.known_white --split build --count 100 --greys

Each case is one print of one printer on one stock and one fair photo: with a piece of PTFE of at least 0.5 mm in the
left window, or with so many layers of tape and no more; with --greys a pair of a grey scale lies in each window, off
the middle by up to 1 mm.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # tiny matrices: threads cost more than they save

import argparse
import tempfile
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchcam.colorimetry.grey_scale import A02_STEPS, GRADES
from swatchcam.errors import SwatchcamError
from swatchcam.measurement.prints.card_test import check_card
from swatchcam.measurement.prints.known_white import stock_from_white
from swatchcam.measurement.single_photo import take_look
from tests.worlds.grey_pairs import laid
from tests.worlds.inks import cloth
from tests.worlds.many_printers import random_print
from tests.worlds.random_scenes import random_scene
from tests.worlds.scene import Ink, Scene
from tests.worlds.spectra import difference, reflectance_lab
from tests.worlds.trial import Facts, draw, progress, read_card, workers
from tests.worlds.white_pieces import STOCKS, any_stock, on_stock, tape, white_piece

Rng = np.random.Generator
SIZE = 1600, 1200
UNDER = {"white": 0.8, "dark": 0.1}
PIECE = 0.2, 0.2, 0.8, 0.8  # of the window


def white_scene(rng: Rng, split: str, layers: float, under: str) -> tuple[Scene, str]:
    """A print on some stock with PTFE in its left window, and what stock it is."""
    kind = str(rng.choice([*STOCKS, "the printer's"]))
    card = random_print(rng, split)[1]
    card = card if kind == "the printer's" else on_stock(card, any_stock(rng, kind))
    white = tape(layers, UNDER[under]) if layers else white_piece(rng)
    scene = random_scene(rng, split)
    windows = {"left": Ink(white, extent=PIECE), "right": None}
    return replace(scene, card=card, windows=windows, cloth=cloth(str(rng.choice(["white", "natural"])))), kind


def grey_scene(rng: Rng, split: str) -> tuple[Scene, dict[str, str]]:
    """A print with two pairs of a grey scale that is as far off as the standard allows, and their grades."""
    scene = replace(random_scene(rng, split), weave=0.0)
    steps = dict(zip(("left", "right"), rng.choice(np.array(A02_STEPS, dtype=object), 2, replace=False), strict=True))
    apart = {name: max(step.nominal + rng.uniform(-1, 1) * step.tolerance, 0.0) for name, step in steps.items()}
    off = {name: rng.uniform(-1, 1) for name in steps}
    return laid(scene, apart, off, rng.uniform(-0.08, 0.08)), {name: step.grade for name, step in steps.items()}


def case(job: tuple[int, int, argparse.Namespace, str]) -> Facts:
    """One photo, and what came of it."""
    seed, number, chosen, folder = job
    rng = np.random.default_rng([seed, number])
    photo, values = Path(folder) / f"{number}.jpg", Path(folder) / f"{number}.values"
    try:
        if chosen.greys:
            scene, pairs = grey_scene(rng, chosen.split)
            draw(scene, SIZE, photo)
            found = check_card(str(photo), str(read_card(scene, rng, values)), pairs=pairs)
            return {"pairs": [(pair.step.grade, str(pair.outcome)) for pair in found.pairs], "card": str(found.card)}
        scene, kind = white_scene(rng, chosen.split, chosen.layers, chosen.under)
        draw(scene, SIZE, photo)
        look = take_look(str(photo), "nominal", windows=False)
        stock, true = stock_from_white(look, "left"), reflectance_lab(scene.card.paper)
        return {
            "kind": kind,
            "off": float(difference(np.array(stock.lab), true)),
            "nominal": float(difference(np.array(look.values.lab["paper"]), true)),
            "radius": stock.radius,
            "flags": [flag.code for flag in stock.flags],
        }
    except SwatchcamError as refusal:
        return {"refused": refusal.code}
    finally:
        photo.unlink(missing_ok=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--layers", type=float, default=0, help="of tape, and no more; 0 is PTFE as thick as asked for")
    parser.add_argument("--under", choices=sorted(UNDER), default="white", help="what lies below those layers")
    parser.add_argument("--greys", action="store_true")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SWATCHCAM_CARDS"] = str(Path(folder) / "cards")
        jobs = [(chosen.seed, number, chosen, folder) for number in range(chosen.count)]
        with workers(2) as pool:
            cases = list(progress(pool.imap_unordered(case, jobs), chosen.count))
    print(f"Split '{chosen.split}', seed {chosen.seed}, {chosen.count} prints")
    for reason, count in Counter(one["refused"] for one in cases if "refused" in one).most_common():
        print(f"    {count} x refused: {reason}")
    photos = [one for one in cases if "refused" not in one]
    (tell_greys if chosen.greys else tell_stocks)(photos)


def tell_stocks(photos: list[Facts]) -> None:
    """How near the stock is found, and how often the interval holds."""
    print("stock             photos   nominal   found mean   95 %   interval   holds   looks thin")
    for kind in (*dict.fromkeys(sorted(one["kind"] for one in photos)), "all"):
        some = [one for one in photos if kind in (one["kind"], "all")]
        off, radius, nominal = (np.array([one[key] for one in some]) for key in ("off", "radius", "nominal"))
        thin = np.mean(["white-may-be-thin" in one["flags"] for one in some])
        print(
            f"{kind:16}{len(some):>8}{nominal.mean():>10.2f}{off.mean():>13.2f}{np.quantile(off, 0.95):>7.2f}"
            f"{np.median(radius):>11.2f}{np.mean(off <= radius):>8.1%}{thin:>13.1%}"
        )


def tell_greys(photos: list[Facts]) -> None:
    """How often each pair passes."""
    print("pair     photos   passed   failed   can't tell")
    pairs = [pair for one in photos for pair in one["pairs"]]
    for grade in (*GRADES, "all"):
        found = Counter(outcome for name, outcome in pairs if grade in (name, "all"))
        total = max(found.total(), 1)
        shares = "".join(f"{found[key] / total:>9.1%}" for key in ("passed", "failed", "cannot tell"))
        print(f"{grade:8}{found.total():>7}{shares}")
    print("cards that fit their values:", dict(Counter(one["card"] for one in photos)))


if __name__ == "__main__":
    main()
