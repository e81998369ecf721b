"""Rows of the library's tables -> shades, batches and records."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, Row, Select, select

from . import schema
from .kept import Kept, errors_from_text
from .recipe import recipe_from_json
from .record import Batch, PhotoRef, Record, Shade, Stage


def rows_of(connection: Connection, query: Select[Any]) -> list[Row[Any]]:
    """What a query finds, every value of its column's kind: in a damaged file it may be of any.

    Raises
    ------
    TypeError
        A value is of another kind.
    """
    rows = list(connection.execute(query).all())
    for place, column in enumerate(query.selected_columns):
        kinds = (column.type.python_type, *((type(None),) if getattr(column, "nullable", False) else ()))
        for row in rows:
            if not isinstance(row[place], kinds):
                raise TypeError(f"{column.name} {row[place]!r:.40}")
    return rows


def records_in_use() -> Select[Any]:
    """Every record that is in use, oldest first, with the names of its batch and shade."""
    in_use = (table.c.removed.is_(None) for table in (schema.record, schema.batch, schema.shade))
    names = (schema.batch.c.name.label("batch_name"), schema.shade.c.name.label("shade_name"))
    return (
        select(schema.record, *names)
        .join_from(schema.record, schema.batch)
        .join(schema.shade)
        .where(*in_use)
        .order_by(schema.record.c.measured, schema.record.c.id)
    )


def records_of(connection: Connection, query: Select[Any]) -> list[Record]:
    """The records that a query like `records_in_use` finds, with their photos."""
    rows = rows_of(connection, query)
    wanted = query.with_only_columns(schema.record.c.id).order_by(None)
    photos: dict[int, list[PhotoRef]] = {}
    of_photos = (
        select(schema.record_photo, schema.photo.c.name)
        .join(schema.photo)
        .where(schema.record_photo.c.record_id.in_(wanted))
        .order_by(schema.record_photo.c.record_id, schema.record_photo.c.position)
    )
    for row in rows_of(connection, of_photos):
        photos.setdefault(row.record_id, []).append(PhotoRef(row.digest, row.name, row.lamp))
    return [_record(row, tuple(photos.get(row.id, ()))) for row in rows]


def shade_of(row: Row[Any]) -> Shade:
    """A row of the table `shade`."""
    target = None if row.target_l is None else (row.target_l, row.target_a, row.target_b)
    return Shade(row.id, row.name, target, row.tolerance, tuple(json.loads(row.tags or "[]")), row.notes)


def batch_of(row: Row[Any]) -> Batch:
    """A row of the table `batch`, with the name of its shade."""
    recipe = recipe_from_json(row.recipe) if row.recipe else None
    return Batch(row.id, row.shade_name, row.name, row.mixed, row.ink, recipe, row.notes)


def _record(row: Row[Any], photos: tuple[PhotoRef, ...]) -> Record:
    errors, reflectance = errors_from_text(row.errors)
    lab = (row.l, row.a, row.b)
    colour = Kept(row.drawdown, lab, row.illuminant, row.observer, row.radius, row.absolute, errors, reflectance)
    return Record(
        number=row.id,
        shade=row.shade_name,
        batch=row.batch_name,
        strip=row.strip,
        stage=Stage(row.stage, row.washes),
        cloth=row.cloth,
        mesh=row.mesh,
        squeegee=row.squeegee,
        measured=row.measured,
        card=row.card,
        grade=row.grade,
        phone=row.phone,
        light=row.light,
        colour=colour,
        photos=photos,
        flags=tuple(json.loads(row.flags or "[]")),
        notes=row.notes,
    )
