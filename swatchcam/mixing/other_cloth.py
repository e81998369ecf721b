"""What another cloth does to a layer of ink."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from .film_model import Layer
from .prior import smooth
from .state_shift import MIDDLES, RISES, doubt_of_shift

UPTAKE = 0.22
STRENGTH, BEND, BEND_LENGTH = 0.03, 0.02, 60.0
ALL_SCATTER, SCATTER, CROWDING, BINDER = 0.1, 0.05, 0.05, 0.05
SURFACE = 0.005, 0.07
CLOTH, CLOTH_LENGTH = 0.03, 80.0
SINK = 0.7
CLOTH_MIDDLES = (1 / RISES, 0.3, 0.05)


@dataclass(frozen=True)
class Grounds:
    """The bare cloths."""

    known: Array | None
    new: Array


def moves_of(layer: Layer):
    if not layer.two_states:
        return None, MIDDLES
    if layer.later_cloth is None:
        return doubt_of_shift(layer), MIDDLES
    return doubt_of_cloth(layer), CLOTH_MIDDLES


def doubt_of_cloth(layer: Layer) -> Array:
    found, count = np.zeros((layer.of_one_state,) * 2), len(layer.pigments)
    uptake, scatter = np.zeros(layer.of_one_state), np.zeros(layer.of_one_state)
    own = STRENGTH**2 + BEND**2 * smooth(BEND_LENGTH)
    for p in range(count):
        uptake[layer.absorption_of(p)] = 1
        uptake[layer.scatter_of(p)] = scatter[layer.scatter_of(p)] = 1
        found[layer.absorption_of(p), layer.absorption_of(p)] = own
        for at, std in ((layer.scatter_of(p), SCATTER), (layer.crowding_of(p), CROWDING)):
            found[at, at] = std**2
    uptake[layer.binder] = scatter[layer.binder] = 1
    found[layer.ground, layer.ground] = CLOTH**2 * smooth(CLOTH_LENGTH)
    last = range(layer.binder, layer.of_one_state)
    found[last, last] = np.array([BINDER, *SURFACE, SINK])[: len(last)] ** 2
    return found + UPTAKE**2 * np.outer(uptake, uptake) + ALL_SCATTER**2 * np.outer(scatter, scatter)
