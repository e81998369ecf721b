"""Strips of one pot of a hidden studio, heated for rising times, measured with errors drawn from their own accounts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from swatchcam.colorimetry.error_covariance import shared_errors, square
from swatchcam.library.records import DRY, Record, State
from tests.worlds.heat import Baked
from tests.worlds.hidden_studios import Rng, Shares, Studio
from tests.worlds.spectra import difference
from tests.worlds.studio_records import kept, record

TIMES = 0.25, 0.5, 1, 2, 4  # of the studio's usual time
AGAIN, TOGETHER, APART = "one strip again and again", "all in one photo", "each in its own photos"


@dataclass(frozen=True)
class Seen:
    """A strip in a photo."""

    mark: str
    film: float  # times the studio's mean
    baked: Baked | None  # how it was really heated
    time: float  # what is said, of the usual time; 0 is dry
    photo: str


def again(studio: Studio, recipe: Shares, rng: Rng, tool: str, times: Sequence[float]) -> list[Seen]:
    """One strip, heated a little longer each time, and photographed each time."""
    habits, film = studio.habits, studio.draw_down(recipe, rng).thickness
    assert habits is not None
    found, seconds, last = [Seen("A", film, None, 0.0, "dry")], 0.0, 0.0
    for time in times:
        step = habits.bake(tool, rng, seconds=habits.usual.seconds * (time - last))
        # As long at the usual temperature does as much.
        seconds += (
            step.seconds
            * np.log(1 - habits.dose(step))
            / np.log(1 - habits.dose(replace(step, celsius=habits.usual.celsius)))
        )
        found.append(Seen("A", film, Baked(habits.usual.celsius, float(seconds)), time, f"{time}"))
        last = time
    return found


def side_by_side(
    studio: Studio, recipe: Shares, rng: Rng, tool: str, times: Sequence[float], together: bool, strips: int = 1
) -> list[Seen]:
    """So many strips for each time."""
    assert studio.habits is not None
    found = []
    for number in range(strips):
        for time in times:
            film, mark = studio.draw_down(recipe, rng).thickness, f"{time:g}-{number}"
            baked = studio.habits.bake(tool, rng, seconds=studio.habits.usual.seconds * time)
            name = str(number) if together else mark
            found += [Seen(mark, film, None, 0.0, f"dry {name}"), Seen(mark, film, baked, time, f"set {name}")]
    return found


def series_of(
    studio: Studio, recipe: Shares, rng: Rng, way: str, *, tool: str, strips: int = 1, noise: float = 1.0
) -> list[Record]:
    """Records of the strips; `noise` times the errors that their accounts state."""
    made = (
        again(studio, recipe, rng, tool, TIMES)
        if way == AGAIN
        else side_by_side(studio, recipe, rng, tool, TIMES, way == TOGETHER, strips)
    )
    account = kept()
    colours = [
        replace(
            account,
            name=f"beside-{number}",
            lab=_lab(studio.lab(recipe, seen.film, seen.baked)),
            errors=replace(account.errors, photos=(seen.photo,)),
        )
        for number, seen in enumerate(made)
    ]
    values, axes = np.linalg.eigh(square(shared_errors(colours, colours)))
    errors = noise * (axes @ (np.sqrt(np.maximum(values, 0)) * rng.normal(size=len(values)))).reshape(-1, 3)
    assert studio.habits is not None
    usual = studio.habits.usual
    return [
        record(
            number + 1,
            replace(colour, lab=_lab(np.array(colour.lab) + error)),
            mark=seen.mark,
            state=State("heat-set", how=f"{usual.celsius:g} °C, {seen.time * usual.seconds:g} s, {tool}")
            if seen.baked
            else DRY,
            measured="2026-03-02" if seen.baked else "2026-03-01",
        )
        for number, (colour, error, seen) in enumerate(zip(colours, errors, made, strict=True))
    ]


def movement(studio: Studio, recipe: Shares) -> np.ndarray:
    """(n, n) CIEDE2000 between the colours of an even strip after each of TIMES, heated just as was said."""
    assert studio.habits is not None
    usual = studio.habits.usual
    labs = [studio.lab(recipe, baked=Baked(usual.celsius, usual.seconds * time)) for time in TIMES]
    return np.array([[difference(one, other) for other in labs] for one in labs])


def _lab(values: np.ndarray) -> tuple[float, float, float]:
    lightness, a, b = (float(value) for value in values)
    return lightness, a, b
