"""Pages: take photos, and see how far they are."""

from __future__ import annotations

import hashlib
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from starlette.datastructures import FormData, QueryParams, UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from ...cards.values_folder import NOMINAL, known_cards
from ...errors import UsageError
from ...files import PART
from ...measurement.pigment_row import known_rows
from ...text import key
from ..context import Studio, item_of, studio_of
from ..forms import choice, files, text, ticked
from ..inbox import TrayItem
from ..inbox_files import refusing
from ..render import REFUSAL, page
from ..request_checks import FILES, posted
from .changes import number_in
from .result import PHOTO, answer_page, outcome_of, records_on, shows_cloth, sitting_on
from .staining import outcome_of_cloth, staining_page
from .state_fields import asked_state, state_said
from .studio_form import usual_card

RECENT = 12  # photos on the first page
DOING = "Measuring the photo …"
PICTURES = {"drawn": "drawn.jpg", "small": "small.jpg"}


def first(request: Request) -> Response:
    """Take a photo; below it those that lie on the tray."""
    studio = studio_of(request)
    every = "all" in request.query_params
    items = list(islice(studio.tray.newest(PHOTO), None if every else RECENT + 1))
    shown = items if every else items[:RECENT]
    return page(
        request,
        "first.html.jinja",
        key=secrets.token_hex(16),
        **_purpose(studio, request.query_params),
        row=studio.row or "",
        **_cards(studio),
        rows=_with(known_rows(), studio.row),
        items=shown,
        more=len(items) > len(shown),
        **_told(studio, shown),
    )


def send(request: Request, form: FormData) -> Response:
    """Photos of one scene onto the tray, and to work."""
    studio = studio_of(request)
    under = [files(form, name) for name in ("photos", "other_light")]
    if not under[0]:
        raise UsageError("no-photo-sent", "take-a-first-photo")
    asked = {
        **_how(studio, form),
        "shade": text(form, "shade"),
        "state": str(state_said(form, "Today’s strip is") or ""),
        "aim": text(form, "aim"),
        "mix": text(form, "mix"),
        "record": text(form, "record"),
    }
    lights = [light for light, sent in enumerate(under, start=1) for _ in sent]
    with _unpacked(studio, [*under[0], *under[1]]) as sent:
        return _to_work(studio, text(form, "key"), asked | {"lights": lights}, sent)


def add(request: Request, form: FormData) -> Response:
    """Further photos of the scene of an item: all of them are measured together, as a new item."""
    studio = studio_of(request)
    item = item_of(request, PHOTO)
    new = files(form, "photos")
    if not new:
        raise UsageError("no-photo-sent", "take-one-more-photo")
    if len(item.files) + len(new) > FILES:
        raise UsageError("too-many-photos", "send-fewer-photos", most=FILES)
    light = 2 if choice(form, "light", ("same", "other"), label="The light") == "other" else 1
    asked = item.asked | {"lights": [*item.asked["lights"], *(light for _ in new)], "before": item.id}
    with _unpacked(studio, new) as sent:
        return _to_work(studio, text(form, "key"), asked, [*zip(item.files, item.names, strict=True), *sent])


def again(request: Request, form: FormData) -> Response:
    """The photos of an item once more, as another card or with the strips beside it."""
    studio, item = studio_of(request), item_of(request, PHOTO)
    asked = item.asked | _how(studio, form)
    return _to_work(studio, text(form, "key"), asked, list(zip(item.files, item.names, strict=True)))


def remove(request: Request, form: FormData) -> Response:
    """Take an item off the tray; what was kept of it stays in the library."""
    studio_of(request).tray.remove(item_of(request, PHOTO).id)
    return RedirectResponse("/", 303)


def show(request: Request) -> Response:
    """How far a photo is, why it was refused, or the answer."""
    studio, item = studio_of(request), item_of(request, PHOTO)
    if item.state == "waiting":
        studio.crew.hand_over(item.id)  # it is there already, unless the program was stopped meanwhile
        return page(request, "working.html.jinja", item=item, words=studio.progress(item, DOING))
    if item.state == "refused":
        return page(request, "again.html.jinja", item=item, told=item.refusal, **_again(studio))
    try:
        sitting = sitting_on(item, cloth=True)
    except UsageError as error:  # an earlier version measured it
        return page(request, "again.html.jinja", status=REFUSAL, item=item, told=error, **_again(studio))
    shown = staining_page if shows_cloth(item) else answer_page
    return shown(request, studio, item, sitting, _again(studio))


def state(request: Request) -> Response:
    """The same for a script."""
    studio, item = studio_of(request), item_of(request, PHOTO)
    if item.state == "waiting":
        studio.crew.hand_over(item.id)
    return JSONResponse({"state": item.state, "words": studio.progress(item, DOING)})


def picture(request: Request) -> Response:
    """The drawn-over photo, or a small one."""
    item = item_of(request, PHOTO)
    file = studio_of(request).tray.folder / item.id / PICTURES.get(request.path_params["picture"], "none")
    if not file.is_file():
        raise UsageError("no-such-picture", "back-to-the-photo")
    return FileResponse(file, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=86400"})


def _again(studio: Studio) -> dict[str, Any]:
    """What the form needs that measures the same photos once more."""
    return {
        "key": secrets.token_hex(16),
        **_cards(studio),
        "rows_known": _with(known_rows(), studio.row),
    }


def _purpose(studio: Studio, said: QueryParams) -> dict[str, Any]:
    """What the next photo is for: a shade that it is judged against, or what a pot was to become (`mix`),

    or the record whose strip has stained a white cloth (`staining`).
    """
    library = studio.found()
    names = {key(shade.name): shade.name for shade in library.shades()} if library else {}
    target, mixed = None, ""
    with suppress(UsageError):  # the mix may have been cleared away
        mix = studio.tray.item(said.get("mix", ""))
        if mix.answer and mix.answer.get("answers"):
            target, mixed = mix.answer["answers"][0]["target"], mix.id
    shade = names.get(key(said.get("shade", "")), "")
    return {
        "shade": shade,
        "aim": ",".join(f"{target[axis]:.2f}" for axis in "Lab") if target else "",
        "mix": mixed,
        **asked_state(library, shade, None),
        "stained": said.get("staining", "") if number_in(said.get("staining", "")) else "",
    }


def _how(studio: Studio, form: FormData) -> dict[str, Any]:
    """What a measurement is told of the photo."""
    return {
        "card": choice(form, "card", _cards(studio)["cards"], default="") or None,
        "usual_card": usual_card(studio),
        "row": choice(form, "row", _with(known_rows(), studio.row), default="") or None,
        "beside": ticked(form, "beside"),
        "staining": ticked(form, "staining"),
    }


def _cards(studio: Studio) -> dict[str, Any]:
    """The cards that may be named in place of what the number on the card says, and what counts without a number."""
    usual = usual_card(studio)
    return {"cards": [*_with(known_cards(), usual if usual != NOMINAL else None), NOMINAL], "usual_card": usual}


def _with(names: list[str], usual: str | None) -> list[str]:
    """The names with the studio's usual one, which may be a file elsewhere."""
    return names if usual is None or usual in names else [usual, *names]


def _told(studio: Studio, items: list[TrayItem]) -> dict[str, Any]:
    """Of each item the verdict on its two strips, and the names under which its strips are kept."""
    library, ids = studio.found(), [item.id for item in items]
    words, kept = dict.fromkeys(ids, ""), {id: list[str]() for id in ids}
    for item in items:
        with suppress(UsageError):
            sitting = sitting_on(item, cloth=True)
            words[item.id] = (outcome_of_cloth if shows_cloth(item) else outcome_of)(sitting)
            records = records_on(library, sitting) if library else {}
            kept[item.id] = [f"{record.shade}, batch {record.batch}" for record in records.values()]
    return {"words": words, "kept": kept}


def _to_work(studio: Studio, key: str, asked: dict[str, Any], sent: list[tuple[Path, str]]) -> Response:
    """The same form sent twice is one item: its key, and what is in its photos, make the name."""
    parts = [key, repr(sorted(asked.items())), *(_digest(path) for path, _ in sent)]
    item = studio.tray.put("|".join(parts), PHOTO, asked, sent)
    studio.crew.hand_over(item.id)
    return RedirectResponse(f"/photo/{item.id}", 303)


@contextmanager
def _unpacked(studio: Studio, sent: list[UploadFile]) -> Iterator[list[tuple[Path, str]]]:
    """The photos as files beside the tray, for as long as it takes to lay them on it, and what they were called."""
    studio.tray.room(sum(upload.size or 0 for upload in sent))
    with TemporaryDirectory(dir=studio.tray.folder, suffix=PART) as folder:
        yield [(_copied(one, Path(folder, str(number))), one.filename or "") for number, one in enumerate(sent)]


def _copied(upload: UploadFile, path: Path) -> Path:
    with refusing(), path.open("wb") as file:
        shutil.copyfileobj(upload.file, file)
    return path


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


routes = [
    Route("/", first),
    Route("/photo", posted(send), methods=["POST"]),
    Route("/photo/{id}", show),
    Route("/photo/{id}/state", state),
    Route("/photo/{id}/{picture}.jpg", picture),
    Route("/photo/{id}/add", posted(add), methods=["POST"]),
    Route("/photo/{id}/again", posted(again), methods=["POST"]),
    Route("/photo/{id}/remove", posted(remove), methods=["POST"]),
]
