"""How fast a folder becomes a library: `python -m tests.benchmarks.batch_import [PHOTOS]`.

The photos are the drawn ones of sample_images, each made another file by a comment in its JPEG. Times are told beside
that of decoding the same files alone, in one process: so the ratios hold on other machines too.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count, cycle, islice
from pathlib import Path

import cv2

from swatchcam.library.bulk.batch_import import fill, scenes_by_name
from swatchcam.library.library import open_library
from swatchcam.library.save import Entry
from tests.library.postgres_server import programs, running
from tests.worlds.cheap_measurements import CARD
from tests.worlds.sample_photos import FOLDER

PHOTOS = 24
KINDS = {"12 megapixels": ("good_pair", "differs"), "2 megapixels": ("season_1_dry", "season_2_set", "season_3_dry")}
COMMON = Entry("", cloth="cotton", ink="halm base", take_over=False)


def photos(folder: Path, names: tuple[str, ...], number: int) -> list[Path]:
    """So many files of these photos, no two alike."""
    folder.mkdir()
    paths = [folder / f"rust, {batch}.jpg" for batch in range(1, number + 1)]
    for path, name in zip(paths, islice(cycle(names), number), strict=True):
        path.write_bytes(commented((FOLDER / f"{name}.jpg").read_bytes(), path.name))
    return paths


def commented(jpeg: bytes, words: str) -> bytes:
    """The same picture with a comment behind its first marker (ITU-T T.81, B.2.4.5)."""
    comment = words.encode()
    return jpeg[:2] + b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment + jpeg[2:]


def seconds(work: Callable[[], object]) -> float:
    """How long it takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def filling(folder: Path, address: str, processes: int) -> float:
    """How long a fresh library takes, its photos too."""
    os.environ["SWATCHCAM_PHOTOS"] = tempfile.mkdtemp(dir=folder.parent)
    library = open_library(address, create=True)

    def work() -> None:
        filled = fill(library, *scenes_by_name(folder, COMMON), card=CARD, processes=processes)
        assert not filled.refused, filled.refused

    return seconds(work)


@contextmanager
def libraries(folder: Path) -> Iterator[dict[str, Callable[[], str]]]:
    """Kind of database -> what makes the address of a fresh library."""
    numbers = count(1)
    kinds = {"SQLite": lambda: str(folder / f"{next(numbers)}.sqlite")}
    found = programs()
    if found is None:
        print("PostgreSQL: its programs are not installed")
        yield kinds
        return
    with running(found) as server:
        yield kinds | {"PostgreSQL": server.empty}


def main() -> None:
    """Print a table."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else PHOTOS
    with tempfile.TemporaryDirectory() as place, libraries(Path(place)) as kinds:
        for kind, names in KINDS.items():
            folder = Path(place) / kind
            paths = photos(folder, names, number)
            alone = seconds(lambda paths=paths: [cv2.imread(str(path)) for path in paths])
            print(f"{number} photos of {kind}; decoding alone: {number / alone:.1f} a second")
            for database, address in kinds.items():
                taken = {processes: filling(folder, address(), processes) for processes in (1, 2)}
                for processes, spent in taken.items():
                    print(
                        f"  {database:10}  processes {processes}  {number / spent:5.2f} photos a second"
                        f"  time {spent / alone:5.1f} of decoding, {spent / taken[1]:.2f} of one process"
                    )


if __name__ == "__main__":
    main()
