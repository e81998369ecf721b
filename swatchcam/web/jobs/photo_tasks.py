"""What a worker process can do: measure the photos of a scene, make a small picture, work out a mix."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...errors import FileError, PhotoError, SwatchcamError, UsageError, error_from_json
from ...messages.message import flag_from_json
from ...messages.surface import TERMINAL
from ..inbox_files import write_note
from .mixing_task import mixed

if TYPE_CHECKING:
    from ...cards.values import CardValues
    from ...measurement.measure import Measurement
    from ...measurement.single_photo import Look

Job = Mapping[str, Any]
Task = Callable[[Job], dict[str, Any]]

SMALL = 480  # px, the longer side of a small picture
QUALITY = 85  # of a JPEG
SENTENCE = "sentence"  # the key of what a flag says, in a measurement's facts
NEEDED = (
    "numpy",
    "cv2",
    "swatchcam.measurement.measure",
    "swatchcam.report.measurement",
    "swatchcam.report.overlay",
    "swatchcam.measurement.summary",
)


def photo(job: Job) -> dict[str, Any]:
    """Measure the photos of one scene; `drawn.jpg` and `small.jpg` are written into their folder.

    Raises
    ------
    SwatchcamError
        As `measure.measure`, with the sender's names in place of the paths.
    """
    from ...measurement.summary import sitting_dict, sitting_of
    from ...report.measurement import measurement_dict
    from ...report.overlay import draw, jpeg, small_jpeg

    names = dict(zip(job["files"], job["names"], strict=True))
    with _in_their_words(names):
        found = _measured(job)
        folder = Path(job["folder"])
        write_note(folder / "drawn.jpg", jpeg(draw(found), QUALITY))
        write_note(folder / "small.jpg", small_jpeg(found.photo, SMALL, QUALITY))
        sitting = sitting_dict(sitting_of(found, metamers=True))
        return {
            "facts": _renamed(measurement_dict(found), names),
            "sitting": sitting | _in_names(sitting, names),
            "picture": True,
        }


def small(job: Job) -> dict[str, Any]:
    """Write a small upright JPEG of the photo `path` to `target`.

    Raises
    ------
    SwatchcamError
        The photo cannot be read, or the picture not be written.
    """
    from ...photo.photo import read_photo
    from ...report.overlay import small_jpeg

    write_note(Path(job["target"]), small_jpeg(read_photo(job["path"]), SMALL, QUALITY))
    return {"picture": True}


TASKS: dict[str, Task] = {"photo": photo, "small": small, "mix": mixed}


def prepare() -> None:
    """Load what the first photo would have to wait for."""
    for name in NEEDED:
        import_module(name)


def _measured(job: Job) -> Measurement:
    """As `measure.measure` does; but of several photos it is said which one was refused."""
    from ...measurement.measure import from_looks
    from ...measurement.pigment_row import load_row

    asked = job["asked"]
    lights = asked.get("lights") or [1] * len(job["files"])
    if len(lights) != len(job["files"]) or 1 not in lights or not {1, 2}.issuperset(lights):
        raise UsageError("lights-unsaid", "say-each-light")
    row = load_row(asked["row"]) if asked.get("row") else None
    # In the order of their records: measured again, the first one makes the same of an unmeasured print.
    pairs = sorted(zip(job["files"], lights, strict=True), key=lambda pair: pair[1])
    looks: list[Look] = []
    for path, _ in pairs:  # photos of one scene show one print
        looks.append(_look(path, asked, row, len(pairs), looks[0].values if looks else None))
    return from_looks(
        [[look for look, (_, of) in zip(looks, pairs, strict=True) if of == light] for light in (1, 2)], row
    )


def _look(path: str, asked: Job, row: Any, count: int, earlier: CardValues | None) -> Look:
    from ...cards.choice import UsualCard
    from ...measurement.single_photo import take_look
    from ...photo.header import damaged

    card = asked.get("card") or UsualCard(asked.get("usual_card") or "")
    try:
        how: dict[str, Any] = {"beside": bool(asked.get("beside")), "staining": bool(asked.get("staining"))}
        return take_look(path, card, row, **how, earlier=earlier, keep_print=True)
    except PhotoError as error:
        if error.code == damaged().code and not _fits(path):
            raise MemoryError from error
        if count > 1 and not error.where:
            error.at("in-photo", photo=path)
        raise


def _fits(path: str) -> bool:
    """Whether there is memory to decode a photo: to a decoder that gets none every file looks damaged."""
    import numpy as np

    from ...photo.file_formats import read_header

    try:
        header = read_header(Path(path).read_bytes())
        np.empty(2 * 3 * header.width * header.height * (1 if header.bits == 8 else 2), np.uint8)
    except (FileError, OSError):
        pass
    except MemoryError:
        return False
    return True


@contextmanager
def _in_their_words(names: Mapping[str, str]) -> Iterator[None]:
    """Refusals name files as the sender does."""
    try:
        yield
    except SwatchcamError as error:
        raise error_from_json(_renamed(error.as_json(), names)) from error


def _in_names(sitting: Job, names: Mapping[str, str]) -> dict[str, Any]:
    """What a sitting says to people, and what the library notes of its photos; their paths stay, for copying."""
    photos = [photo | {"name": names[photo["path"]]} for photo in sitting["photos"]]
    return {"photos": photos, "flags": _renamed(sitting["flags"], names)}


def _renamed(value: Any, names: Mapping[str, str]) -> Any:
    """The same facts with names in place of paths: of each text that is a path, or "path:strip", and of no other."""
    if isinstance(value, str):
        path, colon, strip = value.rpartition(":")
        return names.get(value) or (names[path] + colon + strip if path in names else value)
    if isinstance(value, Mapping):
        found = {key: _renamed(each, names) for key, each in value.items()}
        return _said_again(found) if {"code", "facts", SENTENCE} <= found.keys() else found
    if isinstance(value, Sequence):
        return [_renamed(each, names) for each in value]
    return value


def _said_again(flag: dict[str, Any]) -> dict[str, Any]:
    """A flag of `report.said.flag_dicts` with the sentence that goes with its names."""
    return flag | {SENTENCE: TERMINAL.flag(flag_from_json(flag))}
