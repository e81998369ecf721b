"""What one pull lays on the cloth: best known from the studio's own weighings.

The mesh tells it too, but only roughly: cloth draws more ink than the mesh holds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..errors import UsageError
from ..text import counted
from .mesh import Mesh, parse_mesh, wet_deposit
from .numbers import check_number
from .print_run import Run, Weighing, inked_m2, parse_weighing

# Cloth takes this many times what the mesh figures say. Common practice, no source: screens of 43 to 77 threads/cm are
# said to lay 20 to 60 cm3/m2 where the figures give 20 to 35.
DRAW = (0.8, 1.4, 2.0)
FEW_WEIGHINGS, SPREAD_OF_FEW = 3, 0.25  # with fewer than so many, the next run may be so far off; no source
# 97.5 % of Student's t (Student 1908) for 2 to 10 degrees of freedom; more are taken as 10.
STUDENT = (4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228)
LEAST_LAID, MOST_LAID = 5.0, 300.0  # g/m2 of one pull; beyond, grams or area are likely mistyped
DENSITY = 1.05  # of the ink, g/ml; common practice, no source


@dataclass(frozen=True)
class Laid:
    """Wet ink of one pull on solid print, g/m2, and within what the next run may lie."""

    low: float
    best: float
    high: float
    words: str
    flags: tuple[str, ...]
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
        raise UsageError("No weighing is given.", "Weigh the pot before and after a run, and give the grams used.")
    for weighing in weighings:
        check_number(
            weighing.grams, "An amount of ink used (g)", 1e-3, 1e6, "what the pot has become lighter, such as 85"
        )
    each = [weighing.grams / inked_m2(weighing.run) for weighing in weighings]
    count, mean = len(each), sum(each) / len(each)
    std = math.sqrt(sum((value - mean) ** 2 for value in each) / (count - 1)) if count > 1 else 0.0
    flags = [f"Weighing {i} gives {value:.0f} g/m2, which is unusual: check its grams and its area."
             for i, value in enumerate(each, 1) if not LEAST_LAID <= value <= MOST_LAID]  # fmt: skip
    if count < FEW_WEIGHINGS:
        reach = max(SPREAD_OF_FEW * mean, max(each) - min(each))
        flags.append(f"Only {counted(count, 'weighing')}: how far runs differ is assumed, not known. Weigh more runs.")
    else:
        reach = STUDENT[min(count - 2, len(STUDENT)) - 1] * std * math.sqrt(1 + 1 / count)
    words = f"{mean:.0f} g/m2 a pull, from {counted(count, 'weighing')} of the studio's own"
    error = std / math.sqrt(count) if count > 1 else None
    return Laid(max(mean - reach, 0.0), mean, mean + reach, words, tuple(flags), error)


def laid_by_volume(volume_cm3_m2: float, density: float = DENSITY) -> Laid:
    """What a pull lays, from the mesh maker's theoretical ink volume (cm3/m2) and the ink's density (g/ml).

    Raises
    ------
    UsageError
        A number makes no sense.
    """
    check_number(volume_cm3_m2, "An ink volume (cm3/m2)", 1, 300, "what the mesh's maker prints, such as 24")
    check_number(density, "A density (g/ml)", 0.5, 3, f"{DENSITY:g}")
    low, best, high = (draw * volume_cm3_m2 * density for draw in DRAW)
    flag = (
        f"From figures of the mesh alone: cloth may take {low:.0f} to {high:.0f} g/m2."
        " Weigh the pot before and after a run, and the next amount is surer."
    )
    words = f"{best:.0f} g/m2 a pull: the mesh gives {volume_cm3_m2:.1f} cm3/m2, and cloth draws {DRAW[1]:g} times that"
    return Laid(low, best, high, words, (flag,))


def laid_by_mesh(mesh: Mesh, density: float = DENSITY, thickness_um: float | None = None) -> Laid:
    """What a pull lays, from mesh count and thread diameter; `thickness_um` is that of the woven mesh.

    Raises
    ------
    UsageError
        A number makes no sense, or the thread's diameter is not known.
    """
    return laid_by_volume(wet_deposit(mesh, thickness_um), density)


def laid_meant(
    run: Run,
    used: Sequence[str] = (),
    mesh: str = "",
    thread_um: float | None = None,
    volume_cm3_m2: float | None = None,
    density: float = DENSITY,
) -> Laid:
    """What a pull lays, from what a person said of it; the studio's own weighings go before all else.

    Parameters
    ----------
    used : weighings, as `parse_weighing` reads them; what they leave out is as in `run`

    Raises
    ------
    UsageError
        Nothing was said, two things that may contradict each other, or something that cannot be read.
    """
    if used:
        return laid_by_weighing([parse_weighing(text, run) for text in used])
    if mesh and volume_cm3_m2 is not None:
        raise UsageError("A mesh and its ink volume were both given.", "Give the ink volume alone: it is surer.")
    if volume_cm3_m2 is not None:
        return laid_by_volume(volume_cm3_m2, density)
    if not mesh:
        raise UsageError(
            "Nothing says how much ink a pull lays.",
            "Best give what a run has used (--used '120 g for 40'), else --ink-volume, or --mesh with --thread.",
        )
    return laid_by_mesh(_with_thread(parse_mesh(mesh), thread_um), density)


def _with_thread(mesh: Mesh, thread_um: float | None) -> Mesh:
    if thread_um is not None and mesh.thread_um not in (None, thread_um):
        raise UsageError(
            f"Two thread diameters were given: {mesh.thread_um:g} and {thread_um:g} µm.", "Give the right one only."
        )
    return mesh if thread_um is None else replace(mesh, thread_um=thread_um)
