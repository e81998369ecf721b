"""The whole library -> one JSON object for other programs; every name stands in it as it is."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Final

from ..library.labels import in_order
from ..library.proposals import Proposal
from ..library.records import Batch, Record, Shade
from ..library.shelf.pigments import Pigment
from ..measurement.stored_colour import errors_as_text
from ..recipes.recipe import Recipe, called
from ..text import json_text
from .json_types import LibraryJson
from .json_types.export import (
    ExportedBatchJson,
    ExportedPigmentJson,
    ExportedProposalJson,
    ExportedRecordJson,
    ExportedShadeJson,
    RecipePartJson,
)
from .library_records import coat_dict
from .said import flag_dicts
from .staining import kept_staining_dict

FORMAT: Final = "swatchcam-library-2"


def library_json(
    shades: Iterable[Shade],
    batches: Iterable[Batch],
    records: Iterable[Record],
    proposals: Iterable[Proposal] = (),
    pigments: Iterable[Pigment] = (),
) -> str:
    """Everything as one JSON object: also the recipes, and each record's reflectance and account of its error."""
    found: LibraryJson = {
        "format": FORMAT,
        "shades": [_shade_dict(shade) for shade in shades],
        "batches": [_batch_dict(batch) for batch in batches],
        "records": [_record_dict(record) for record in in_order(records)],
        "proposals": [_proposal_dict(proposal) for proposal in proposals],
        "pigments": [_pigment_dict(pigment) for pigment in pigments],
    }
    return json_text(found)


def _shade_dict(shade: Shade) -> ExportedShadeJson:
    return {
        "number": shade.number,
        "name": shade.name,
        "target_lab": None if shade.target is None else list(shade.target),
        "target_state": None if shade.target_state is None else str(shade.target_state),
        "tolerance_ciede2000": shade.tolerance,
        "judge": shade.judge,
        "tags": list(shade.tags),
        "notes": shade.notes,
    }


def _proposal_dict(proposal: Proposal) -> ExportedProposalJson:
    return {
        "number": proposal.number,
        "kind": proposal.kind,
        "shade": proposal.shade,
        "batch": proposal.batch,
        "from_batch": proposal.from_batch,
        "made": proposal.made,
        "target": None if proposal.target is None else list(proposal.target),
        "target_words": proposal.target_words,
        "lab": list(proposal.lab),
        "radius": proposal.radius,
        "reflectance": list(proposal.reflectance),
        "cloth": proposal.cloth,
        "words": proposal.words,
        "facts": proposal.facts,
        "covariance": [list(row) for row in proposal.covariance],
        "state": str(proposal.state),
        "target_state": None if proposal.target_state is None else str(proposal.target_state),
        "recipe": _recipe_list(proposal.recipe),
    }


def _pigment_dict(pigment: Pigment) -> ExportedPigmentJson:
    return {
        "name": pigment.name,
        "most": pigment.most,
        "least_g": pigment.least_g,
        "price": pigment.price,
        "ready": pigment.ready,
        "density": pigment.density,
        "notes": pigment.notes,
        "lots": [
            {"name": lot.name, "since": lot.since, "strength": lot.strength, "strength_std": lot.strength_std}
            for lot in pigment.lots
        ],
    }


def _batch_dict(batch: Batch) -> ExportedBatchJson:
    return {
        "number": batch.number,
        "shade": batch.shade,
        "name": batch.name,
        "mixed_date": batch.mixed,
        "ink": batch.ink,
        "recipe": None if batch.recipe is None else _recipe_list(batch.recipe),
        "notes": batch.notes,
    }


def _recipe_list(recipe: Recipe) -> list[RecipePartJson]:
    return [
        {
            "what": called(part.what),
            "number": part.number,
            "amount": part.amount,
            "unit": part.unit,
            "grams": part.grams,
            "standard_uncertainty_g": part.grams_std,
        }
        for part in recipe.parts
    ]


def _record_dict(record: Record) -> ExportedRecordJson:
    colour = record.colour
    errors = json.loads(errors_as_text(colour))
    return {
        "number": record.number,
        "shade": record.shade,
        "batch": record.batch,
        "mark": record.mark,
        "cloth": record.cloth,
        "mesh": record.mesh,
        "squeegee": record.squeegee,
        "coat": coat_dict(record.coat),
        "let_down": record.let_down,
        "staining": kept_staining_dict(record.staining),
        "card": record.card,
        "grade": record.grade,
        "phone": record.phone,
        "light": record.light,
        "notes": record.notes,
        "state": record.state.name,
        "washes": record.state.washes,
        "treatment": record.state.how,
        "measured_date": record.measured,
        "place_in_photo": colour.name,
        "illuminant": colour.illuminant,
        "observer_deg": colour.observer,
        "lab": list(colour.lab),
        "interval95_ciede2000": colour.radius,
        "absolute_values_may_be_judged": colour.absolute,
        "reflectance_380_to_780_nm": errors.pop("reflectance"),
        "errors_lab": errors,
        "photos": [{"sha256": photo.digest, "name": photo.name, "light": photo.light} for photo in record.photos],
        "flags": flag_dicts(record.flags),
    }
