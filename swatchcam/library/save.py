"""A strip that was measured -> a record in the library, in one transaction, its photos first."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from string import ascii_uppercase
from typing import Any

from sqlalchemy import Connection, func, select

from ..errors import LibraryError, UsageError
from ..measurement.measure import Measurement
from ..measurement.stored_colour import Kept, PhotoRef, errors_as_text
from ..measurement.strip_names import is_loose, refuse_named_twice
from ..measurement.summary import Sitting, sitting_of
from ..recipes.film_weight import Coat
from ..recipes.recipe import recipe_json
from ..text import key
from . import schema
from .entry import Entry, day_of
from .library import Library
from .records import Record, State, clean_name
from .shelf.names import names_known, refuse_slips
from .shelf.studio import studio_within


@dataclass(frozen=True)
class Prepared:
    """A measured strip as the library will hold it, without the photos' pixels."""

    entry: Entry
    strip: str
    photos: tuple[tuple[str, PhotoRef], ...]  # path and what is noted of it
    values: dict[str, Any]  # columns of its row

    @property
    def origin(self) -> str:
        """What the record is known by."""
        return origin_of(self.photos[0][1].digest, self.strip)


def keep_record(library: Library, measurement: Measurement, strip: str, entry: Entry) -> Record:
    """Keep one strip of a measurement.

    Returns
    -------
    Record, as the library now holds it

    Raises
    ------
    UsageError
        No strip of that name, a name or date that is none, or this strip of this photo is kept already.
    LibraryError
        Photos or record cannot be written; then there is no record.
    """
    return put(library, prepare(sitting_of(measurement), strip, entry))


def prepare(sitting: Sitting, strip: str, entry: Entry) -> Prepared:
    """Everything that the library will hold of a strip; raises UsageError as `keep_record`."""
    colour = sitting.strip_named(strip)
    entry = _tidy(entry, sitting)
    return Prepared(entry, colour.name, sitting.photos, _values(sitting, colour, entry))


def put(library: Library, prepared: Prepared) -> Record:
    """Copy its photos in and write the record; raises as `keep_record`."""
    for path, photo in prepared.photos:
        copy_in(library, path, photo.digest)
    made = schema.now()

    def work(connection: Connection) -> Record:
        # A server that was lost may have kept it at the first try.
        number = _kept(connection, prepared, made) or _write(connection, prepared, made)
        return library.during(connection).record(number)

    return library.writing(work)


def prepare_strips(sitting: Sitting, strips: Sequence[str], entries: Sequence[Entry]) -> list[Prepared]:
    """Several strips of one pot that one photo shows, each as its entry says.

    Raises
    ------
    UsageError
        A strip is named twice, or as `prepare`.
    """
    refuse_named_twice(strips)
    return [prepare(sitting, strip, entry) for strip, entry in zip(strips, entries, strict=True)]


def put_strips(library: Library, prepared: Sequence[Prepared]) -> list[Record]:
    """Keep several strips of one pot; those without a mark get the next letters that are free: A, B ...

    Raises
    ------
    UsageError, LibraryError
        As `keep_record`; strips before the one that fails are kept. Or a pigment of the recipe may be misspelt.
    """
    pot = prepared[0].entry
    if pot.recipe:
        refuse_slips(names_known(library), pot.recipe.shares())
    marks = marks_for(library, pot.shade, pot.batch, [one.entry.mark for one in prepared], several=len(prepared) > 1)
    return [put(library, _marked(one, mark)) for one, mark in zip(prepared, marks, strict=True)]


def marks_for(library: Library, shade: str, batch: str, said: Sequence[str], several: bool) -> list[str]:
    """What each new strip of a pot is marked with: as was said, else of several the next letters that are free.

    Raises
    ------
    UsageError
        Two get the same mark: they would count as one strip.
    """
    named = [key(mark) for mark in said if mark]
    if twice := next((mark for mark in said if named.count(key(mark)) > 1), None):
        raise UsageError("mark-said-twice", "mark-each-strip", mark=twice)
    taken = {key(record.mark) for record in library.records(shade, batch)} | {key(mark) for mark in said}
    free = (letter for letter in ascii_uppercase if key(letter) not in taken)
    return [mark or (next(free, "") if several else "") for mark in said]


def _marked(prepared: Prepared, mark: str) -> Prepared:
    return replace(prepared, entry=replace(prepared.entry, mark=mark), values=prepared.values | {"strip": mark})


def origin_of(digest: str, strip: str) -> str:
    """What a record is known by: the first photo and the strip in it."""
    return f"{digest}:{strip}"


def copy_in(library: Library, path: str, digest: str) -> None:
    """Copy a photo of that digest in; raises LibraryError."""
    copied, _ = library.photos.add(path)
    if copied != digest:
        raise LibraryError("photo-changed-meanwhile", "measure-it-again", path=path)


def _tidy(entry: Entry, sitting: Sitting) -> Entry:
    for name, said in vars(entry).items():
        if isinstance(said, str) and "\0" in said:
            raise UsageError("letter-unwritable", "type-it-again", what=name.replace("_", " "))
    measured = day_of(entry.measured, "measured") or day_taken(sitting) or date.today().isoformat()
    facts = {field: value for field, value in vars(entry).items()} | {
        "shade": clean_name(entry.shade, "shade"),
        "batch": clean_name(entry.batch or measured, "batch"),
        "measured": measured,
        "mixed": day_of(entry.mixed, "mixed"),
    }
    return Entry(**facts)


def day_taken(sitting: Sitting) -> str:
    """The day the camera says; Exif writes 2026:01:31 12:00:00."""
    day = sitting.taken[:10].replace(":", "-")
    try:
        return date.fromisoformat(day).isoformat()
    except ValueError:
        return ""


def _kept(connection: Connection, prepared: Prepared, made: str) -> int | None:
    """The record that this very command made."""
    table = schema.record.c
    return connection.execute(select(table.id).where(table.origin == prepared.origin, table.made == made)).scalar()


def _write(connection: Connection, prepared: Prepared, made: str) -> int:
    entry = prepared.entry
    _refuse_twice(connection, prepared.origin)
    shade_id = schema.find_or_insert(connection, schema.shade, {"name": entry.shade, "key": key(entry.shade)})
    last = _last_of(connection, shade_id) if entry.take_over else {}
    batch_id = _batch(connection, shade_id, entry, last)
    for _, photo in prepared.photos:
        note_photo(connection, photo)
    values = prepared.values | {
        field: getattr(entry, field) or last.get(field, "") for field in ("cloth", "mesh", "squeegee", "light")
    }
    if not entry.cloth and entry.take_over:
        values["cloth"] = _cloth_of(connection, shade_id, batch_id) or studio_within(connection).cloth
    values |= {"batch_id": batch_id, "origin": prepared.origin, "made": made, "let_down": entry.let_down or None}
    values |= coat_values(entry.coat) if entry.coat else _coat_of_before(connection, values)
    number = schema.insert(connection, schema.record, values)
    rows = [
        {"record_id": number, "position": position, "digest": photo.digest, "lamp": photo.light}
        for position, (_, photo) in enumerate(prepared.photos)
    ]
    connection.execute(schema.record_photo.insert(), rows)
    return number


def _refuse_twice(connection: Connection, origin: str) -> None:
    query = (
        select(schema.record.c.id, schema.shade.c.name)
        .join_from(schema.record, schema.batch)
        .join(schema.shade)
        .where(schema.record.c.origin == origin, schema.record.c.removed.is_(None))
    )
    there = connection.execute(query).first()
    if there:
        raise UsageError("strip-kept-already", "choose-another-strip", record=there.id, shade=there.name)


def _last_of(connection: Connection, shade_id: int) -> dict[str, str]:
    """Cloth, mesh and so on of the shade's last record, and its batch's ink."""
    query = (
        select(schema.record, schema.batch.c.ink)
        .join_from(schema.record, schema.batch)
        .where(schema.batch.c.shade_id == shade_id, schema.record.c.removed.is_(None))
        .order_by(schema.record.c.measured.desc(), schema.record.c.id.desc())
        .limit(1)
    )
    row = connection.execute(query).first()
    return dict(row._mapping) if row else {}


def _cloth_of(connection: Connection, shade_id: int, batch_id: int) -> str:
    """The cloth last noted for a pot, else the one it was proposed for, else the shade's last; "" if nobody said."""
    made, table = schema.proposal.c, schema.record.c
    own_first = (table.batch_id == batch_id).desc(), table.measured.desc(), table.id.desc()
    noted = select(table.cloth, table.batch_id).join_from(schema.record, schema.batch).order_by(*own_first)
    noted = noted.where(schema.batch.c.shade_id == shade_id, table.cloth != "", table.removed.is_(None))
    proposed = select(made.cloth).where(made.batch_id == batch_id, made.removed.is_(None)).order_by(made.id.desc())
    last = connection.execute(noted.limit(1)).first()
    if last is None or last.batch_id != batch_id:
        return connection.execute(proposed.limit(1)).scalar() or (last.cloth if last else "")
    return str(last.cloth)


def coat_values(coat: Coat) -> dict[str, float]:
    """Its columns."""
    return {"coat_g_m2": coat.g_m2, "coat_std": coat.std}


def _coat_of_before(connection: Connection, values: dict[str, Any]) -> dict[str, float]:
    """The weight that was noted of the same strip in an earlier state: wet ink is weighed once."""
    table, state = schema.record.c, State(values["stage"], values["washes"])
    same = [table[name] == values[name] for name in ("batch_id", "strip", "cloth")]
    same += [func.coalesce(table.let_down, 0.0) == (values["let_down"] or 0.0), table.coat_g_m2.is_not(None)]
    query = select(schema.record).where(*same, table.removed.is_(None)).order_by(table.measured.desc(), table.id.desc())
    for row in connection.execute(query):
        if State(row.stage, row.washes).order < state.order and row.measured <= values["measured"]:
            return {"coat_g_m2": row.coat_g_m2, "coat_std": row.coat_std}
    return {}


def _batch(connection: Connection, shade_id: int, entry: Entry, last: dict[str, str]) -> int:
    """The batch, made or told more of; what was said of it before stays unless something else is said now."""
    batch_id = schema.find_or_insert(
        connection, schema.batch, {"shade_id": shade_id, "name": entry.batch, "key": key(entry.batch)}
    )
    stored = connection.execute(select(schema.batch).where(schema.batch.c.id == batch_id)).one()
    said = {
        "mixed": entry.mixed or stored.mixed,
        "ink": entry.ink or stored.ink or last.get("ink", ""),
        "recipe": recipe_json(entry.recipe) if entry.recipe else stored.recipe,
        "notes": entry.batch_notes or stored.notes,
    }
    connection.execute(schema.batch.update().where(schema.batch.c.id == batch_id).values(said))
    return batch_id


def note_photo(connection: Connection, photo: PhotoRef) -> None:
    """A row for a photo, if there is none yet."""
    known = select(schema.photo.c.digest).where(schema.photo.c.digest == photo.digest)
    if not connection.execute(known).first():
        connection.execute(schema.photo.insert().values(digest=photo.digest, name=photo.name, made=schema.now()))


def _values(sitting: Sitting, colour: Kept, entry: Entry) -> dict[str, Any]:
    settings = {
        "card": sitting.card_file,
        "strip": sitting.row,
        "beside": is_loose(colour.name),
    }
    return {
        "strip": entry.mark,
        "stage": entry.state.name,
        "washes": entry.state.washes,
        "how": entry.state.how or None,
        "measured": entry.measured,
        "card": sitting.card,
        "grade": sitting.grade,
        "phone": sitting.phone,
        "drawdown": colour.name,
        "illuminant": colour.illuminant,
        "observer": colour.observer,
        "l": colour.lab[0],
        "a": colour.lab[1],
        "b": colour.lab[2],
        "radius": colour.radius,
        "absolute": colour.absolute,
        "errors": errors_as_text(colour),
        "settings": json.dumps(settings),
        "flags": json.dumps([flag.as_json() for flag in sitting.flags[colour.name]], ensure_ascii=False),
        "notes": entry.notes,
    }
