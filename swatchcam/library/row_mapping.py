"""Rows of the library's tables -> shades, batches, records, proposals and pigments."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from math import isfinite
from typing import Any

from sqlalchemy import Connection, Row, Select, func, select

from ..colorimetry.cielab import Lab
from ..errors import LibraryError, SwatchcamError
from ..measurement.pot_verdict import STRIPS
from ..measurement.staining import staining_from_text
from ..measurement.stored_colour import POINTS, Kept, PhotoRef, errors_from_text
from ..messages.message import Message, finding, flag_from_json
from ..recipes.film_weight import Coat
from ..recipes.recipe import recipe_from_json
from . import schema
from .proposals import KINDS, Proposal, StoredCovariance, Used
from .records import Batch, Record, Shade, State, parse_state


class DamagedRow(Exception):
    """What stands in a row is not what was written."""


@contextmanager
def decoding() -> Iterator[None]:
    """What cannot be read back becomes a DamagedRow; around nothing but the decoding of rows."""
    try:
        yield
    except (ValueError, TypeError, LookupError, AttributeError, OverflowError, RecursionError) as error:
        raise DamagedRow(str(error)) from error


def rows_of(connection: Connection, query: Select[Any]) -> list[Row[Any]]:
    """What a query finds, every value of its column's kind: in a damaged file it may be of any.

    Raises
    ------
    DamagedRow
        A value is of another kind.
    """
    with decoding():  # the driver's own, too
        rows = list(connection.execute(query).all())
    for place, column in enumerate(query.selected_columns):
        kinds = (column.type.python_type, *((type(None),) if getattr(column, "nullable", False) else ()))
        for row in rows:
            if not isinstance(row[place], kinds):
                raise DamagedRow(f"{column.name} {row[place]!r:.40}")
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
    with decoding():
        tags = tuple(json.loads(row.tags or "[]"))
    state = _state(row.target_state)
    return Shade(row.id, row.name, target, row.tolerance, tags, row.notes, row.judge or STRIPS, state)


def batch_of(row: Row[Any]) -> Batch:
    """A row of the table `batch`, with the name of its shade."""
    with decoding():
        recipe = recipe_from_json(row.recipe) if row.recipe else None
    return Batch(row.id, row.shade_name, row.name, row.mixed, row.ink, recipe, row.notes)


def proposals_kept() -> Select[Any]:
    """Every proposal that was ever kept, in that order, with the names of its batches and shade."""
    pot, source = schema.batch, schema.batch.alias()
    names = (pot.c.name.label("batch_name"), schema.shade.c.name.label("shade_name"))
    from_name = func.coalesce(source.c.name, "").label("from_name")
    return (
        select(schema.proposal, *names, from_name)
        .join_from(schema.proposal, pot, schema.proposal.c.batch_id == pot.c.id)
        .join(schema.shade, pot.c.shade_id == schema.shade.c.id)
        .outerjoin(source, schema.proposal.c.from_batch_id == source.c.id)
        .order_by(schema.proposal.c.id)
    )


def proposals_in_use() -> Select[Any]:
    """Those of shades and batches that are in use."""
    in_use = (table.c.removed.is_(None) for table in (schema.proposal, schema.batch, schema.shade))
    return proposals_kept().where(*in_use)


def proposal_of(row: Row[Any]) -> Proposal:
    """A row that a query like `proposals_kept` finds.

    Raises
    ------
    LibraryError
        It is not what was written.
    """
    try:
        with decoding():
            return _proposal(row)
    except (SwatchcamError, DamagedRow) as error:
        cause = (
            Message(error.code, error.facts)
            if isinstance(error, SwatchcamError)
            else finding("as-the-system-says", words=str(error))
        )
        raise LibraryError("proposal-unreadable", "verify-or-restore", number=row.id, cause=cause) from error


def _proposal(row: Row[Any]) -> Proposal:
    if row.kind not in KINDS:
        raise ValueError(f"kind {row.kind!r}")
    target = (row.target_l, row.target_a, row.target_b)
    facts = dict(json.loads(row.facts))
    used = tuple(Used(**each) for each in facts.pop("used", ()))
    return Proposal(
        number=row.id,
        kind=row.kind,
        shade=row.shade_name,
        batch=row.batch_name,
        from_batch=row.from_name or None,
        made=row.made,
        recipe=recipe_from_json(row.recipe),
        target=None if row.target_l is None else _triple(target),
        target_words=row.target_words,
        lab=_triple((row.l, row.a, row.b)),
        covariance=_covariance(json.loads(row.covariance)),
        radius=_numbers([row.radius], 1)[0],
        reflectance=_numbers(json.loads(row.reflectance), POINTS),
        cloth=row.cloth,
        state=parse_state(row.stage),
        target_state=_state(row.target_state),
        words=row.words,
        facts=facts,
        used=used,
    )


def _state(stored: str | None) -> State | None:
    with decoding():
        return parse_state(stored) if stored else None


def _covariance(rows: Sequence[Sequence[float]]) -> StoredCovariance:
    l, a, b = (_triple(row) for row in rows)  # noqa: E741 - CIELAB
    return l, a, b


def _triple(values: Sequence[float]) -> Lab:
    l, a, b = _numbers(values, 3)  # noqa: E741 - CIELAB
    return l, a, b


def _numbers(values: Sequence[float], count: int) -> tuple[float, ...]:
    """So many numbers, none of them missing."""
    if len(values) != count or not all(isinstance(value, float | int) and isfinite(value) for value in values):
        raise ValueError(f"no {count} numbers: {values!r:.60}")
    return tuple(float(value) for value in values)


def _record(row: Row[Any], photos: tuple[PhotoRef, ...]) -> Record:
    errors, reflectance, cloth = errors_from_text(row.errors)
    with decoding():
        flags = tuple(map(flag_from_json, json.loads(row.flags or "[]")))
        staining = staining_from_text(row.staining) if row.staining else None
    lab = (row.l, row.a, row.b)
    colour = Kept(row.drawdown, lab, row.illuminant, row.observer, row.radius, row.absolute, errors, reflectance, cloth)
    return Record(
        number=row.id,
        shade=row.shade_name,
        batch=row.batch_name,
        mark=row.strip,
        state=State(row.stage, row.washes, row.how or ""),
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
        flags=flags,
        notes=row.notes,
        coat=None if row.coat_g_m2 is None else Coat(row.coat_g_m2, row.coat_std or 0.0),
        let_down=row.let_down or 0.0,
        staining=staining,
    )
