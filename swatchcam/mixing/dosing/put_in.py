"""A mix with its doses -> everything that is put into the pot, in order, and the pre-mixes that are made first."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ...recipes.arithmetic import DIGITS
from ...recipes.dosing import Dose, weighed_dose
from ...recipes.premix import Making, PreMix, makings
from ...recipes.recipe import BINDER, GRAMS, NO_BASE, Part, Recipe
from ...recipes.scale_resolution import on_scale
from ...text import key
from ..search import Mix
from ..workbench import Bench
from .sensitivity import by_sensitivity


@dataclass(frozen=True)
class PutIn:
    """What goes into a pot."""

    doses: tuple[Dose, ...]  # in order: clear base first, what changes the colour most per gram last
    makings: tuple[Making, ...]  # pre-mixes that are made first, in order
    recipe: Recipe  # all of it; what pre-mixes bring along counts as clear base


def filled_up(bench: Bench, mix: Mix, grams: float, scale_g: float) -> PutIn:
    """A mix's doses, and as much clear base as makes so many grams of all, in steps of the scale."""
    doses = _named(bench, mix)
    binder = on_scale(grams - sum(dose.grams for dose in doses), scale_g)
    base = [weighed_dose(BINDER, binder, scale_g)] if binder > 0 else []
    found = _put_in(bench, base, doses, scale_g)
    if any(part.what == BINDER for part in found.recipe.parts):
        return found
    return replace(found, recipe=Recipe((NO_BASE, *found.recipe.parts)))


def added(bench: Bench, mix: Mix, scale_g: float) -> PutIn:
    """A mix's doses alone, for a pot that grows by them."""
    return _put_in(bench, [], _named(bench, mix), scale_g)


def _named(bench: Bench, mix: Mix) -> list[Dose]:
    """The doses with their pigments as the studio writes them, what changes the colour most per gram last."""
    ordered = by_sensitivity(bench.palette, mix.shares, mix.doses, bench.strengths(bench.palette.pigments))
    return [_renamed(dose, bench.names.get(dose.what, dose.what)) for dose in ordered]


def _renamed(dose: Dose, name: str) -> Dose:
    return replace(dose, what=name, pre_mix=replace(dose.pre_mix, pigment=name) if dose.pre_mix else None)


def _put_in(bench: Bench, base: Sequence[Dose], doses: Sequence[Dose], scale_g: float) -> PutIn:
    made_first = _makings(doses, bench.tools.pre_mixes, scale_g)
    return PutIn((*base, *doses), tuple(made_first), _recipe([*base, *doses]))


def _recipe(doses: Sequence[Dose]) -> Recipe:
    """What so many doses make."""
    base = [(dose.grams, dose.grams * dose.own) if dose.what == BINDER else (dose.binder_g, 0.0) for dose in doses]
    grams, std = round(sum(each for each, _ in base), DIGITS), math.hypot(*(each for _, each in base))
    binder = [Part(BINDER, grams, GRAMS, grams, std or _brought_std(doses))] if grams > 0 else []
    return Recipe((*binder, *(dose.part() for dose in doses if dose.what != BINDER)))


def _brought_std(doses: Sequence[Dose]) -> float:
    return math.hypot(*(dose.binder_g * dose.std for dose in doses))


def _makings(doses: Sequence[Dose], there: Mapping[str, Sequence[PreMix]], scale_g: float) -> list[Making]:
    """How to make the pre-mixes that are not there, strong ones before the weak ones that are made of them."""
    return [
        making
        for dose in doses
        if dose.to_make and dose.pre_mix
        for making in makings(dose.what, dose.share, scale_g, dose.grams, there.get(key(dose.what), ()))
    ]
