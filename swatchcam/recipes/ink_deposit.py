"""What one pull lays on the cloth: best known from the studio's own weighings.

The mesh tells it too, but only roughly: cloth may take up more ink than the mesh holds, and a pull may leave some.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..errors import UsageError
from ..messages.message import Flag, flag
from ..text import counted
from .mesh import Mesh, mesh_volume, parse_mesh
from .numbers import check_number
from .print_run import SETUP_LOSS_G, Run, Weighing, inked_m2, parse_weighing

# Cloth takes this many times what the mesh holds: at least, usually, at most. From memory, no source: screens of 43 to
# 77 threads/cm are said to lay 20 to 60 cm³/m², and they hold 27 to 52.
DRAW = (0.6, 1.1, 1.8)
FEW_WEIGHINGS, SPREAD_OF_FEW = 3, 0.25  # with fewer than so many, the next run may be so far off; no source
# 97.5 % of Student's t (Student 1908) for 2 to 10 degrees of freedom; more are taken as 10.
STUDENT = (4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228)
LEAST_LAID, MOST_LAID = 5.0, 300.0  # g/m² of one pull; beyond, grams or area are likely mistyped
DENSITY = 1.05  # of the ink, g/ml; common practice, no source


@dataclass(frozen=True)
class Laid:
    """Wet ink of one pull on solid print, g/m², and within what the next run may lie."""

    low: float
    best: float
    high: float
    words: str
    flags: tuple[Flag, ...]
    std_error: float | None = None  # of the mean of the studio's weighings; None with fewer than two


def laid_by_weighing(weighings: Sequence[Weighing]) -> Laid:
    """What a pull lays, from the studio's own weighings; this goes before any figure of the mesh.

    Raises
    ------
    UsageError
        There is no weighing, or a number makes no sense.

    Source
    ------
    Interval of one further observation: Student 1908, doi:10.1093/biomet/6.1.1.
    """
    if not weighings:
        raise UsageError("weighing-missing", "weigh-a-run")
    for weighing in weighings:
        check_number(weighing.grams, "ink-used", 1e-3, 1e6)
    each = [weighing.grams / inked_m2(weighing.run) for weighing in weighings]
    count, mean = len(each), sum(each) / len(each)
    std = math.sqrt(sum((value - mean) ** 2 for value in each) / (count - 1)) if count > 1 else 0.0
    flags = [flag("weighing-unusual", number=number, laid=value)
             for number, value in enumerate(each, 1) if not LEAST_LAID <= value <= MOST_LAID]  # fmt: skip
    if count < FEW_WEIGHINGS:
        reach = max(SPREAD_OF_FEW * mean, max(each) - min(each))
        flags.append(flag("few-weighed-runs", count=count))
    else:
        reach = STUDENT[min(count - 2, len(STUDENT)) - 1] * std * math.sqrt(1 + 1 / count)
    words = (
        f"{mean:.0f} g/m² a pull, from {counted(count, 'weighed run')} of your own, without what stayed on the screen"
    )
    error = std / math.sqrt(count) if count > 1 else None
    return Laid(max(mean - reach, 0.0), mean, mean + reach, words, tuple(flags), error)


def laid_by_volume(volume_cm3_m2: float, density: float = DENSITY) -> Laid:
    """What a pull lays, from the mesh maker's theoretical ink volume (cm³/m²) and the ink's density (g/ml).

    Raises
    ------
    UsageError
        A number makes no sense.
    """
    check_number(volume_cm3_m2, "ink-volume", 1, 300)
    check_number(density, "density", 0.5, 3)
    low, best, high = (draw * volume_cm3_m2 * density for draw in DRAW)
    words = (
        f"{best:.0f} g/m² a pull: the mesh holds {volume_cm3_m2:.1f} cm³/m², and cloth takes up {DRAW[1]:g} times that"
    )
    return Laid(low, best, high, words, (flag("deposit-from-mesh-alone", low=low, high=high),))


def laid_by_mesh(mesh: Mesh, density: float = DENSITY) -> Laid:
    """What a pull lays, from mesh count and thread diameter.

    Raises
    ------
    UsageError
        A number makes no sense, or the thread's diameter is not known.
    """
    return laid_by_volume(mesh_volume(mesh), density)


def laid_meant(
    run: Run,
    used: Sequence[str] = (),
    mesh: str = "",
    thread_um: float | None = None,
    volume_cm3_m2: float | None = None,
    density: float = DENSITY,
    setup_g: float = SETUP_LOSS_G,
) -> Laid:
    """What a pull lays, from what a person said of it; the studio's own weighings go before all else.

    Parameters
    ----------
    used : weighings, as `parse_weighing` reads them; what they leave out is as in `run`
    setup_g : what stays on screen and squeegee at each set-up

    Raises
    ------
    UsageError
        Nothing was said, two things that may contradict each other, or something that cannot be read.
    """
    if used:
        return laid_by_weighing([parse_weighing(text, run, setup_g) for text in used])
    if mesh and volume_cm3_m2 is not None:
        raise UsageError("mesh-and-ink-volume", "ink-volume-alone")
    if volume_cm3_m2 is not None:
        return laid_by_volume(volume_cm3_m2, density)
    if not mesh:
        raise UsageError("deposit-unknown", "say-what-a-pull-lays")
    return laid_by_mesh(_with_thread(parse_mesh(mesh), thread_um), density)


def _with_thread(mesh: Mesh, thread_um: float | None) -> Mesh:
    if thread_um is not None and mesh.thread_um not in (None, thread_um):
        raise UsageError("thread-diameters-differ", "one-thread-diameter", in_mesh=mesh.thread_um, given=thread_um)
    return mesh if thread_um is None else replace(mesh, thread_um=thread_um)
