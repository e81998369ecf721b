"""What the tool makes of spoilt photos: `python -m tests.benchmarks.hard_photos --count 10000`.

Hard photos of every kind in turn, each drawn, stored as JPEG and measured from the file. One line of JSON per photo
goes to the results file as soon as it is there, so a run that was stopped goes on where it stopped.

    python -m tests.benchmarks.hard_photos --count 300 --split build       # about a minute on two cores
    python -m tests.benchmarks.hard_photos --kinds glare,shadow --split build
    python -m tests.benchmarks.hard_photos --show 1234     # draw photo 1234 again and say what was measured

The numbers of a kind's photos depend on which kinds there are; its photos do not: the n-th of a kind is always the
same. A photo counts as wrong if it was accepted and is further off than three of its stated intervals.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import tempfile
import traceback
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.measurement.measure import measure
from swatchcam.messages.message import flag_from_json
from swatchcam.messages.surface import TERMINAL
from tests.paths import HOME
from tests.worlds.random_scenes import random_scene
from tests.worlds.scene import Scene
from tests.worlds.spoilers import HARD_KINDS
from tests.worlds.trial import WORST, Facts, Size, draw, facts, is_wrong, photograph, progress, read_card, workers

# Fair photos of FULL size show the card over 45 to 90 % of the frame, with 3.4 px per mm and more. Here the frame is
# drawn closer round the card instead, which costs half of the time. Of 50 fair build scenes 49 were accepted,
# 48 at FULL size, with the same errors; at 880 x 660 only 42 were, as turned cards come to show less than the 2.6 px
# per mm that the tool demands.
SIZE: Size = 1000, 750
FULL: Size = 1600, 1200
FRACTIONS = (0.45, 0.9), (0.75, 0.95)  # how much of the frame the card fills at FULL size, and how much here
ALWAYS_THERE = ("srgb-assumed", "photo-small")  # flags that say nothing of what spoils a photo


@dataclass(frozen=True)
class Run:
    """What decides every photo of a run; the results of another run must not be mixed in."""

    seed: int
    split: str
    kinds: tuple[str, ...]
    size: Size
    code: str  # digest of everything that draws or measures

    def as_dict(self) -> Facts:
        """The first line of a results file."""
        return json.loads(json.dumps(asdict(self)))


class OtherRun(Exception):
    """The results file cannot be gone on with."""


# --- the photos ---------------------------------------------------------------------------------------------


def photo_of(run: Run, number: int) -> tuple[str, int]:
    """The kind of a photo and its place among those of its kind: all kinds in turn, each time in another order."""
    nth, place = divmod(number, len(run.kinds))
    order = np.random.default_rng([run.seed, 78, nth]).permutation(len(run.kinds))
    return run.kinds[order[place]], nth


def hard_scene(run: Run, number: int) -> tuple[Scene, Size, np.random.Generator]:
    """A hard scene, the size its photo is to have, and the chance that goes on with the card's readings."""
    kind, nth = photo_of(run, number)
    rng = np.random.default_rng([run.seed, 77, zlib.crc32(kind.encode()), nth])
    scene = random_scene(rng, run.split, kind, width=run.size[0])
    if scene.second_card is not None:
        return scene, FULL, rng  # two cards need the room
    return closer(scene), run.size, rng


def closer(scene: Scene) -> Scene:
    """The scene with the card filling more of the frame."""
    pose = scene.pose
    fraction = float(np.interp(pose.fraction, *FRACTIONS))
    room = (1 - fraction) / (1 - pose.fraction)
    return replace(scene, pose=replace(pose, fraction=fraction, offset=(pose.offset[0] * room, pose.offset[1] * room)))


def hard_photo(job: tuple[Run, int]) -> Facts:
    """What became of one hard photo: refused with problem and remedy, or measured, or the tool crashed."""
    run, number = job
    kind, nth = photo_of(run, number)
    result: Facts = {"number": number, "kind": kind, "nth": nth, "refused": None, "crash": ""}
    with tempfile.TemporaryDirectory() as folder:
        scene, size, rng = hard_scene(run, number)
        card = read_card(scene, rng, Path(folder) / "card.csv")
        try:
            return result | facts(*photograph(scene, size, card, Path(folder) / "photo.jpg"))
        except SwatchcamError as refusal:
            told = {
                "error": type(refusal).__name__,
                "problem": TERMINAL.problem(refusal),
                "remedy": TERMINAL.remedy(refusal),
            }
            return result | {"refused": told}
        except Exception:  # a crash is a finding; the other photos of a long run must not be lost by it
            return result | {"crash": traceback.format_exc()}


def hard_photos(run: Run, numbers: Sequence[int], processes: int) -> Iterator[Facts]:
    """The photos of these numbers, in the order in which they are ready."""
    with workers(processes) as pool:
        yield from pool.imap_unordered(hard_photo, [(run, number) for number in numbers])


def code_digest() -> str:
    """A digest of the package, its cards and all that draws photos."""
    drawing = (*HOME.glob("tests/worlds/*.py"), *HOME.glob("tests/reference/*.csv"))
    files = [*HOME.glob("swatchcam/**/*.py"), *HOME.glob("calibration/*"), *drawing, Path(__file__)]
    digest = hashlib.sha256()
    for path in sorted(files):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


# --- the results file ---------------------------------------------------------------------------------------


def open_results(path: Path, run: Run, fresh: bool) -> list[Facts]:
    """The photos that are in the results file already; begins the file if there is none or if `fresh`.

    A last line that was only half written is cut off.

    Raises
    ------
    OtherRun
        The file is none of ours, or of a run that draws or measures other photos.
    """
    if not path.exists() or not path.stat().st_size:
        return begin(path, run)
    whole = path.read_bytes()
    kept = whole[: whole.rfind(b"\n") + 1]
    try:
        head, *photos = map(json.loads, kept.decode().splitlines())
        there = head["hard photos"].items()
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise OtherRun(f"{path} is no file of hard photos, choose another with --results.") from error
    if fresh:
        return begin(path, run)
    other = [key for key, value in run.as_dict().items() if (key, value) not in there]
    if other:
        raise OtherRun(f"{path} holds photos of another {', '.join(other)}: add --fresh to begin anew.")
    with open(path, "rb+") as file:
        file.truncate(len(kept))
    return photos


def begin(path: Path, run: Run) -> list[Facts]:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps({"hard photos": run.as_dict()}) + "\n", encoding="utf-8")
    return []


def go_on(path: Path, run: Run, count: int, processes: int, fresh: bool = False) -> list[Facts]:
    """Draw and measure what the results file still lacks of the first `count` photos; all of these."""
    photos = [photo for photo in open_results(path, run, fresh) if photo["number"] < count]
    there = {photo["number"] for photo in photos}
    missing = [number for number in range(count) if number not in there]
    with open(path, "a", encoding="utf-8") as file:
        for photo in progress(hard_photos(run, missing, processes), count, len(photos)) if missing else ():
            file.write(json.dumps(photo) + "\n")
            file.flush()
            photos.append(photo)
    return photos


# --- what is told -------------------------------------------------------------------------------------------


def table(photos: Iterable[Facts]) -> str:
    """By kind, how many were refused, accepted, flagged, wrong; and which to look at."""
    photos = sorted(photos, key=lambda photo: photo["number"])
    lines = [f"{'':16} {'refused':>8} {'accepted':>9} {'flagged':>8} {'wrong':>6}"]
    for kind in (*sorted({photo["kind"] for photo in photos}), "all"):
        of = [photo for photo in photos if kind in (photo["kind"], "all")]
        measured = [photo for photo in of if accepted(photo)]
        refused = sum(photo["refused"] is not None for photo in of)
        wrong = sum(map(is_wrong, measured))
        lines.append(f"{kind:16} {refused:8} {len(measured):9} {sum(map(flagged, measured)):8} {wrong:6}")
    lines += named(f"Further off than {WORST:g} intervals", (p for p in photos if accepted(p) and is_wrong(p)))
    lines += named("The tool crashed", (photo for photo in photos if photo["crash"]))
    return "\n".join(lines)


def accepted(photo: Facts) -> bool:
    return not photo["refused"] and not photo["crash"]


def flagged(photo: Facts) -> bool:
    """Whether the tool warned of anything that fair photos of this size are not warned of."""
    return any(flag["code"] not in ALWAYS_THERE for flag in photo["flags"])


def named(what: str, photos: Iterable[Facts]) -> list[str]:
    listed = [f"{photo['number']} ({photo['kind']})" for photo in photos]
    return [f"{what}: {', '.join(listed)}"] if listed else []


def reasons(photos: Iterable[Facts]) -> str:
    """Why photos were refused, the commonest first."""
    counts = Counter(photo["refused"]["error"] for photo in photos if photo["refused"])
    return "Refusals: " + ", ".join(f"{count} {error}" for error, count in counts.most_common())


def show(run: Run, number: int, folder: Path) -> str:
    """Draw one photo again, keep it and its card's values in the folder, and tell truth and measurement."""
    scene, size, rng = hard_scene(run, number)
    folder.mkdir(parents=True, exist_ok=True)
    photo, card = folder / f"hard-{number}.jpg", read_card(scene, rng, folder / f"hard-{number}.csv")
    shot = draw(scene, size, photo)
    lines = [f"{photo} ({scene.kind}), values {card}"]
    try:
        found = facts(measure(str(photo), str(card)), shot.truth)
    except SwatchcamError as refusal:
        return "\n".join([*lines, f"refused: {refusal}"])
    for side, name in enumerate(("left", "right")):
        true, lab = (" ".join(f"{value:7.2f}" for value in found[key][side]) for key in ("true_lab", "lab"))
        off = f"off by {found['absolute'][side]:.2f}, stated {found['radius'][side]:.2f}"
        lines.append(f"{name:5} true {true}   measured {lab}   {off}")
    lines.append(
        f"difference true {found['true']:.2f}   measured {found['measured']:.2f}   "
        f"stated {found['low']:.2f} to {found['high']:.2f}{'   WRONG' if is_wrong(found) else ''}"
    )
    return "\n".join([*lines, *(f"! {TERMINAL.flag(flag_from_json(flag))}" for flag in found["flags"])])


def default_results(split: str, seed: int) -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("swatchcam", appauthor=False) / f"hard-photos-{split}-{seed}.jsonl"


def parsed() -> tuple[argparse.ArgumentParser, argparse.Namespace]:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=10_000, help="photos in all (default %(default)s)")
    parser.add_argument("--split", choices=["final", "build"], default="final", help="build is for building only")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--kinds", type=lambda text: tuple(text.split(",")), default=HARD_KINDS, help="default: all")
    parser.add_argument("--results", type=Path, help="default: a file for split and seed in the user's cache folder")
    parser.add_argument("--fresh", action="store_true", help="begin the results file anew")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--show", type=int, metavar="NUMBER", help="draw this photo into the folder of the results")
    return parser, parser.parse_args()


def main() -> None:
    parser, chosen = parsed()
    unknown = [kind for kind in chosen.kinds if kind not in HARD_KINDS]
    if unknown:
        parser.error(f"no such kind: {', '.join(unknown)}; there are {', '.join(HARD_KINDS)}")
    run = Run(chosen.seed, chosen.split, chosen.kinds, SIZE, code_digest())
    results = chosen.results or default_results(chosen.split, chosen.seed)
    if chosen.show is not None:
        print(show(run, chosen.show, results.parent))
        return
    try:
        photos = go_on(results, run, chosen.count, chosen.processes, chosen.fresh)
    except OtherRun as refusal:
        parser.error(str(refusal))
    print(f"{len(photos)} hard photos, split '{run.split}', seed {run.seed}, {SIZE[0]} x {SIZE[1]} px, in {results}")
    print(table(photos))
    print(reasons(photos))


if __name__ == "__main__":
    main()
