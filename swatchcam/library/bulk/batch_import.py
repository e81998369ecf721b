"""A whole folder of photos into the library: measured in processes, kept record by record, to be stopped any time.

What is in already is left alone, so the same command goes on where it stopped. A photo that is refused is named with
its reason and does not stop the others.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from ...cards.design import designs
from ...errors import LibraryError, SwatchcamError, UsageError
from ...measurement.measure import measure
from ...measurement.strip_names import any_loose
from ...measurement.summary import sitting_of
from ...recipes.measures import NONE, Measures
from ...recipes.recipe import SCALE_G, parse_recipe
from ..entry import Entry
from ..library import Library
from ..records import DRY
from ..save import Prepared, origin_of, prepare, put
from ..shelf.names import names_known, refuse_slips
from .photo_names import photos_in, read_name
from .photo_table import Listed, read_list

PROCESSES, MANY = 2, 30  # starting a process costs as much as measuring several photos
FACTS = (
    *("shade", "batch", "mark", "cloth", "mesh", "squeegee", "ink", "measured", "mixed", "recipe", "notes"),
    *("coat", "let_down"),
)


@dataclass(frozen=True)
class Scene:
    """A photo, further photos of the same scene, and the strips that are to be kept of it."""

    photo: Path
    strips: tuple[tuple[str, Entry], ...]  # "" for the one that is judged when none is named
    again: tuple[Path, ...] = ()
    other_light: tuple[Path, ...] = ()


@dataclass(frozen=True)
class Refused:
    """A photo that could not be kept, and why."""

    photo: Path
    error: SwatchcamError


@dataclass(frozen=True)
class Filled:
    """What became of the photos of a folder."""

    kept: tuple[tuple[Path, int], ...]  # photo and number of its record
    there: tuple[Path, ...]  # in already
    refused: tuple[Refused, ...]


def scenes_by_name(folder: Path, common: Entry) -> tuple[list[Scene], list[Refused]]:
    """Photos whose names say what they show; those whose names cannot be read."""
    scenes, refused = [], []
    for photo in photos_in(folder):
        try:
            named = read_name(photo)
        except SwatchcamError as error:
            refused.append(Refused(photo, error))
            continue
        state = named.state or common.state
        entry = replace(common, shade=named.shade, batch=named.batch, mark=named.mark, state=state)
        scenes.append(Scene(photo, ((named.strip, entry),)))
    return scenes, refused


def scenes_by_list(listing: Path, folder: Path, common: Entry, measures: Measures = NONE) -> list[Scene]:
    """The photos of a list, one scene for each photo; `measures` are the studio's scale, bottles and spoon.

    Raises
    ------
    LibraryError
        The list is wrong; it tells every line.
    """
    scenes: dict[Path, Scene] = {}
    scale = SCALE_G if measures.scale_g is None else measures.scale_g
    read = partial(parse_recipe, scale_g=scale, measures=measures)
    for row in read_list(listing, folder, read):
        scene = scenes.get(row.photo, Scene(row.photo, (), row.again, row.other_light))
        scenes[row.photo] = replace(scene, strips=(*scene.strips, (row.strip, _entry(row, common))))
    return list(scenes.values())


def _entry(row: Listed, common: Entry) -> Entry:
    said = {name: getattr(row, name) for name in FACTS if getattr(row, name)}
    return replace(common, **said, state=row.state or DRY)


def fill(
    library: Library,
    scenes: Sequence[Scene],
    unread: Sequence[Refused] = (),
    *,
    card: str | None = None,
    row: str | None = None,
    processes: int | None = None,
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> Filled:
    """Measure and keep every strip that is not in the library yet; `unread` are photos that are refused already.

    By default PROCESSES of them measure from MANY photos on, else one.

    Raises
    ------
    UsageError
        There is no photo at all.
    LibraryError
        The library cannot be written, or a process was ended from outside; what was kept so far stays.
    """
    scenes = [scene for scene in scenes if not _is_a_copy(library, scene.photo)]
    if not scenes and not unread:
        raise UsageError("no-photo-to-keep", "choose-a-folder-of-photos")
    library.photos.tidy()  # what a run that was killed left behind
    wanted, there = _not_yet_in(library, scenes)
    wanted, misspelt = _without_slips(library, wanted)
    tray = _Tray(library, there=there, refused=[*unread, *misspelt])
    progress(len(there) + len(misspelt), len(scenes))
    # Closed whatever happens: photos that wait to be measured must not be measured for nothing.
    count = processes or (PROCESSES if len(wanted) >= MANY else 1)
    with closing(_measured(wanted, card, row, count)) as measured:
        for done, (photo, prepared, refused) in enumerate(measured, start=len(there) + len(misspelt) + 1):
            tray.refused += refused
            for strip in prepared:
                tray.put(photo, strip)
            progress(done, len(scenes))
    return Filled(tuple(tray.kept), tuple(dict.fromkeys(tray.there)), tuple(tray.refused))


def _is_a_copy(library: Library, photo: Path) -> bool:
    """Whether it is one of the library's own: that may lie in the very folder that fills it."""
    return photo.parent.resolve().is_relative_to(library.photos.folder.resolve())


@dataclass
class _Tray:
    """What became of the photos so far."""

    library: Library
    there: list[Path]
    refused: list[Refused]
    kept: list[tuple[Path, int]] = field(default_factory=list)
    origins: dict[str, Path] = field(default_factory=dict)  # of what was kept, and from which photo

    def put(self, photo: Path, strip: Prepared) -> None:
        """Keep a strip that was measured."""
        if strip.origin in self.origins:
            first = self.origins[strip.origin]
            self.refused.append(
                Refused(photo, UsageError("photo-is-a-copy", "remove-one-or-name-the-strip", first=first))
            )
            return
        try:
            self.kept.append((photo, put(self.library, strip).number))
            self.origins[strip.origin] = photo
        except UsageError:  # another fill of the same folder was faster
            self.there.append(photo)
        except LibraryError as error:
            if all(_digest(Path(path)) == known.digest for path, known in strip.photos):
                raise
            self.refused.append(Refused(photo, error))


def _not_yet_in(library: Library, scenes: Sequence[Scene]) -> tuple[list[Scene], list[Path]]:
    """The scenes with the strips that are still to be kept; the photos of which there is nothing left to keep."""
    origins = library.origins()
    usual = {design.windows[-1].name for design in designs().values()}  # meant where no strip is named
    wanted, there = [], []
    for scene in scenes:
        digest = _digest(scene.photo)
        missing = tuple(
            (name, entry)
            for name, entry in scene.strips
            if origins.isdisjoint(origin_of(digest, each) for each in ({name} if name else usual))
        )
        if missing:
            wanted.append(replace(scene, strips=missing))
        else:
            there.append(scene.photo)
    return wanted, there


def _without_slips(library: Library, scenes: Sequence[Scene]) -> tuple[list[Scene], list[Refused]]:
    """The scenes, and those apart in whose recipes a pigment may be misspelt."""
    known = names_known(library)
    fine, misspelt = [], []
    for scene in scenes:
        try:
            refuse_slips(known, (name for _, entry in scene.strips if entry.recipe for name in entry.recipe.shares()))
            fine.append(scene)
        except UsageError as error:
            misspelt.append(Refused(scene.photo, error))
    return fine, misspelt


def _digest(photo: Path) -> str:
    try:
        return hashlib.sha256(photo.read_bytes()).hexdigest()
    except OSError:
        return ""  # measuring it tells why


Done = tuple[Path, list[Prepared], list[Refused]]


def _measured(scenes: Sequence[Scene], card: str | None, row: str | None, processes: int) -> Generator[Done]:
    """What each scene shows, in order. Only this process writes: records get the same numbers whoever is faster."""
    if processes == 1 or len(scenes) < 2:
        yield from (_measure_scene(scene, card, row) for scene in scenes)
        return
    context: Any = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, mp_context=context, initializer=_follow) as workers:
        with _interrupts_held():
            jobs = [workers.submit(_measure_scene, scene, card, row) for scene in scenes]
        try:
            yield from (job.result() for job in jobs)
        except BrokenProcessPool as error:
            raise LibraryError("measuring-ended", "fill-again") from error
        finally:
            workers.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Ctrl-C waits meanwhile; a process that is started here never hears of it, not even while it is loading."""
    if os.name == "nt":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _follow() -> None:
    """A process that measures leaves Ctrl-C to the one that started it, and ends with that one, however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # for Strips, where that is not handed on
    threading.Thread(target=_end_with, args=(multiprocessing.parent_process(),), daemon=True).start()


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(1)


def _measure_scene(scene: Scene, card: str | None, row: str | None) -> Done:
    prepared: list[Prepared] = []
    refused: list[Refused] = []
    try:
        measured = measure(
            str(scene.photo),
            card,
            beside=any_loose(*(name for name, _ in scene.strips)),
            again=[str(photo) for photo in scene.again],
            other_light=[str(photo) for photo in scene.other_light],
            row=row,
            keep_print=True,
        )
    except SwatchcamError as error:
        return scene.photo, prepared, [Refused(scene.photo, error)]
    sitting = sitting_of(measured)
    for name, entry in scene.strips:
        try:
            prepared.append(prepare(sitting, name or sitting.usual, entry))
        except SwatchcamError as error:
            refused.append(Refused(scene.photo, error))
    return scene.photo, prepared, refused
