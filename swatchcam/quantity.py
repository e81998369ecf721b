"""How much ink a run needs: what lies on the cloth, what clings to screen and pot, and a reserve.

What one pull lays is best known from the studio's own weighings. The mesh tells it too, but only roughly: cloth draws
more ink than the mesh holds.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from .errors import UsageError
from .label import counted

CM_IN_INCH = 2.54
# Threads: coarser and finer are not woven for printing on cloth. Beyond a bare 100 both readings are common.
COARSEST, FINEST, SURE_PER_CM = 5.0, 200.0, 100.0
THICKNESS = 1.5  # mesh thickness in thread diameters; makers print 1.48 to 1.56 for three meshes of 90 threads/cm
# Cloth takes this many times what the mesh figures say. Common practice, no source: screens of 43 to 77 threads/cm are
# said to lay 20 to 60 cm3/m2 where the figures give 20 to 35.
DRAW = (0.8, 1.4, 2.0)
FEW_WEIGHINGS, SPREAD_OF_FEW = 3, 0.25  # with fewer than so many, the next run may be so far off; no source
# 97.5 % of Student's t (Student 1908) for 2 to 10 degrees of freedom; more are taken as 10.
STUDENT = (4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228)
LEAST_LAID, MOST_LAID = 5.0, 300.0  # g/m2 of one pull; beyond, grams or area are likely mistyped
# Common practice, no source.
DENSITY, SETUP_LOSS_G, REST_IN_POT, RESERVE = 1.05, 50.0, 0.03, 0.15

NUMBER = r"(\d+(?:[.,]\d+)?)"
MESH = re.compile(
    rf"{NUMBER}\s*(?:-\s*{NUMBER})?\s*(?P<grade>HD|[STst])?\s*(?:threads)?\s*"
    r"(?P<unit>/\s*cm|per cm|/\s*inch|/\s*in|per inch)?"
)
AREA = re.compile(rf"{NUMBER}\s*(?:[x×*]\s*{NUMBER}\s*(?P<side>mm|cm|m)?|(?P<square>mm|cm|m)(?:2|²))")
MM_IN = {"mm": 1.0, "cm": 10.0, "m": 1000.0}


@dataclass(frozen=True)
class Mesh:
    """A plain-woven screen mesh."""

    threads_cm: float
    thread_um: float | None = None  # diameter


@dataclass(frozen=True)
class Run:
    """What is to be printed in one colour."""

    area_cm2: float  # of the motif
    coverage: float  # part of that area which is ink, above 0 up to 1
    pieces: int
    passes: int = 1  # pulls that lay ink
    setups: int = 1  # how often screen and squeegee are inked anew


@dataclass(frozen=True)
class Weighing:
    """Ink that was used up on earlier pieces, screen and squeegee left out."""

    grams: float
    run: Run


@dataclass(frozen=True)
class Laid:
    """Wet ink of one pull on solid print, g/m2, and within what the next run may lie."""

    low: float
    best: float
    high: float
    words: str
    flags: tuple[str, ...]
    std_error: float | None = None  # of the mean of the studio's weighings; None with fewer than two


@dataclass(frozen=True)
class Losses:
    """What does not get onto the cloth."""

    setup_g: float = SETUP_LOSS_G  # on screen and squeegee, each set-up
    rest: float = REST_IN_POT  # part of the whole that stays in the pot
    reserve: float = RESERVE  # part of all else, so that nobody needs a second batch


@dataclass(frozen=True)
class Line:
    """One addend of an amount."""

    words: str
    grams: float


@dataclass(frozen=True)
class Amount:
    """How much to mix."""

    grams: float  # the sum of the lines
    low: float  # the same sum, if a pull lays as little, or as much, as it may
    high: float
    millilitres: float
    pots: int | None  # None if no size of a pot was given
    lines: tuple[Line, ...]
    flags: tuple[str, ...]


def amount(
    run: Run, laid: Laid, losses: Losses | None = None, *, density: float = DENSITY, pot_ml: float | None = None
) -> Amount:
    """How much ink a run needs.

    Parameters
    ----------
    laid : what one pull lays; see `laid_by_weighing`, `laid_by_volume` and `laid_by_mesh`
    density : of the ink, g/ml
    pot_ml : what one pot holds

    Raises
    ------
    UsageError
        A number makes no sense.
    """
    losses = losses or Losses()
    check_number(losses.setup_g, "A loss per set-up (g)", 0, 1e5, "50")
    check_number(losses.rest, "A rest in the pot (part of the whole)", 0, 0.5, "0.03 for 3 %")
    check_number(losses.reserve, "A reserve (part of the whole)", 0, 2, "0.15 for 15 %")
    check_number(density, "A density (g/ml)", 0.5, 3, f"{DENSITY:g}")
    low, best, high = (_lines(run, each, losses) for each in (laid.low, laid.best, laid.high))
    grams, most = _total(best), _total(high)
    # What is needed at most, without the reserve.
    bare = most / (1 + losses.reserve)
    short = (f"The reserve does not cover all that the cloth may take: {bare:.0f} g. Mix {most:.0f} g to be safe.",)
    flags = laid.flags + (short if bare > grams else ())
    return Amount(grams, _total(low), most, grams / density, _pots(grams / density, pot_ml), best, flags)


def _lines(run: Run, laid: float, losses: Losses) -> tuple[Line, ...]:
    """The addends, when a pull lays so many g/m2."""
    on_cloth, on_screen = laid * _inked_m2(run), losses.setup_g * run.setups
    in_pot = (on_cloth + on_screen) * losses.rest / (1 - losses.rest)
    reserve = (on_cloth + on_screen + in_pot) * losses.reserve
    cloth = (
        f"on the cloth: {counted(run.pieces, 'piece')} x {run.area_cm2:g} cm2 x {100 * run.coverage:g} % ink"
        f" x {counted(run.passes, 'pass', 'passes')} x {laid:.0f} g/m2"
    )
    return (
        Line(cloth, on_cloth),
        Line(f"on screen and squeegee: {counted(run.setups, 'set-up')} x {losses.setup_g:g} g", on_screen),
        Line(f"rest in the pot: {100 * losses.rest:g} % of the whole", in_pot),
        Line(f"reserve of {100 * losses.reserve:g} %, so that nobody needs a second batch", reserve),
    )


def _total(lines: Sequence[Line]) -> float:
    return sum(line.grams for line in lines)


def _pots(millilitres: float, pot_ml: float | None) -> int | None:
    if pot_ml is None:
        return None
    check_number(pot_ml, "A pot (ml)", 1, 1e6, "500")
    return math.ceil(millilitres / pot_ml)


def _inked_m2(run: Run) -> float:
    """Square metres of solid ink that all pulls of a run lay together.

    Raises
    ------
    UsageError
        A number of the run makes no sense.
    """
    check_number(run.area_cm2, "A printed area (cm2)", 0.01, 1e6, "1200 for a motif of 30 x 40 cm")
    if 1 < run.coverage <= 100:
        raise UsageError(
            f"A coverage of {run.coverage:g} is more than the whole area.",
            f"If {run.coverage:g} % was meant, give {run.coverage / 100:g}.",
        )
    check_number(run.coverage, "A coverage", 1e-4, 1, "a part above 0 up to 1, such as 0.35")
    for count, what in ((run.pieces, "pieces"), (run.passes, "passes"), (run.setups, "set-ups")):
        check_number(count, f"A number of {what}", 1, 1e6, "a whole number from 1")
        if count != int(count):
            raise UsageError(f"{count:g} {what} are no whole number.", "Give a whole number from 1.")
    return run.area_cm2 / 1e4 * run.coverage * run.pieces * run.passes


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
    each = [weighing.grams / _inked_m2(weighing.run) for weighing in weighings]
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


def theoretical_volume(open_area: float, thickness_um: float) -> float:
    """Ink, cm3/m2, that fills the openings of a mesh; `open_area` is a part, above 0 and below 1.

    Raises
    ------
    UsageError
        A number makes no sense.

    Source
    ------
    Common to the makers of wire cloth and mesh: open area times thickness; 1 µm over 1 m2 is 1 cm3.
    """
    if 1 < open_area < 100:
        raise UsageError(f"An open area of {open_area:g} is more than all.", f"Give {open_area / 100:g} for a percent.")
    check_number(open_area, "An open area", 0.01, 0.99, "a part such as 0.33")
    check_number(thickness_um, "A mesh thickness (µm)", 10, 1000, "72")
    return open_area * thickness_um


def open_area(mesh: Mesh) -> float:
    """Part of the mesh that is open, from its geometry; makers print figures up to 0.02 above it.

    Raises
    ------
    UsageError
        The thread's diameter is not known, or the threads leave no opening.
    """
    check_number(mesh.threads_cm, "A mesh (threads/cm)", COARSEST, FINEST, "77/cm or 195/inch")
    if mesh.thread_um is None:
        raise UsageError(
            f"Of the mesh with {mesh.threads_cm:g} threads/cm no thread diameter is known.",
            f"Give it in µm, such as {mesh.threads_cm:.0f}-48, or give the studio's own weighings.",
        )
    check_number(mesh.thread_um, "A thread's diameter (µm)", 10, 1000, "48")
    free = 1 - mesh.threads_cm * mesh.thread_um / 1e4
    if free <= 0:
        raise UsageError(
            f"{mesh.threads_cm:g} threads/cm of {mesh.thread_um:g} µm leave no opening.",
            "Check both numbers: the count is per cm, the diameter in µm.",
        )
    return free**2


def wet_deposit(mesh: Mesh, thickness_um: float | None = None) -> float:
    """Height of the wet ink that a plain-woven mesh lays, µm, which is cm3/m2; cloth draws more.

    Raises
    ------
    UsageError
        A number makes no sense, or the thread's diameter is not known.

    Source
    ------
    Trade press, "How Much Ink Do You Need?", April 2000: formulas for up to 42, 43 to 139 and from 140 threads/cm.
    """
    free = open_area(mesh)
    diameter = mesh.thread_um or 0.0
    if mesh.threads_cm < 43:
        return 1.82 * diameter * free
    thickness = THICKNESS * diameter if thickness_um is None else thickness_um
    check_number(thickness, "A mesh thickness (µm)", 10, 1000, "72")
    return (0.285 if mesh.threads_cm < 140 else 0.35) * thickness


def parse_mesh(text: str) -> Mesh:
    """ "77", "77/cm", "43T", "77-48" (thread diameter in µm) or "195/inch" -> Mesh.

    A bare number counts threads per cm; above 100 it may as well count them per inch, and is refused.

    Raises
    ------
    UsageError
        It cannot be read, can be read in two ways, or is no mesh for printing.
    """
    found = MESH.fullmatch(" ".join(text.split()))
    if not found:
        raise UsageError(f"'{text[:40]}' is no mesh that can be read.", "Write for example 77/cm, 77-48 or 195/inch.")
    count, unit = _number(found[1]), (found["unit"] or "").replace(" ", "")
    # Only threads per cm are written with a diameter or a grade of thread (S, T, HD).
    if count > SURE_PER_CM and not (unit or found[2] or found["grade"]):
        raise UsageError(
            f"A mesh of {count:g} may count threads per cm or per inch.", f"Write {count:g}/cm or {count:g}/inch."
        )
    threads = count / CM_IN_INCH if "in" in unit else count
    check_number(threads, "A mesh (threads/cm)", COARSEST, FINEST, "77/cm or 195/inch")
    return Mesh(threads, _number(found[2]) if found[2] else None)


def parse_area(text: str) -> float:
    """ "30 x 40 cm", "30x40", "0.3 x 0.4 m" or "1200 cm2" -> cm2; sides without a unit are cm.

    Raises
    ------
    UsageError
        It cannot be read, or is no area.
    """
    found = AREA.fullmatch(" ".join(text.split()))
    if not found:
        raise UsageError(f"'{text[:40]}' is no area that can be read.", "Write for example '30 x 40 cm' or '1200 cm2'.")
    square = (MM_IN[found["square"] or found["side"] or "cm"] / 10) ** 2
    area = _number(found[1]) * (_number(found[2]) if found[2] else 1.0) * square
    check_number(area, "A printed area (cm2)", 0.01, 1e6, "'30 x 40 cm'")
    return area


def check_number(value: float, what: str, least: float, most: float, example: str) -> None:
    """A number within sensible bounds, both included; `what` begins the sentence that refuses it.

    Raises
    ------
    UsageError
        It is none, or lies beyond.
    """
    if not least <= value <= most:  # also refuses NaN
        raise UsageError(
            f"{what} of {value:g} makes no sense.", f"Give {example}; from {least:g} to {most:g} is possible."
        )


def _number(text: str) -> float:
    return float(text.replace(",", "."))
