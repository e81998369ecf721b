"""What is printed in one colour: the motif, how much of it is ink, how many pieces; as people write it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..errors import UsageError
from .numbers import NUMBER, Quantity, check_number, number_of, parse_amount, parse_count

AREA = re.compile(rf"{NUMBER}\s*(?:[x×*]\s*{NUMBER}\s*(?P<side>mm|cm|m)?|(?P<square>mm|cm|m)(?:2|²))")
MM_IN = {"mm": 1.0, "cm": 10.0, "m": 1000.0}
USED = re.compile(
    rf"{NUMBER}\s*(?P<unit>k?g)\s+for\s+(?P<pieces>\d+)(?:\s+(?:pieces?|pcs))?(?:\s+of\s+(?P<area>\d.*?))?"
    r"(?:\s+at\s+(?P<coverage>\d[^ %]*)\s*%?)?(?:\s+in\s+(?P<passes>\d+)\s+pass(?:es)?)?"
    r"(?P<screen>,?\s+with\s+the\s+screen)?",
    re.I,
)
SETUP_LOSS_G = 50.0  # on screen and squeegee, each set-up; common practice, no source
PALEST = 1.0  # % of the motif; who writes less has likely written a part, such as 0.35


@dataclass(frozen=True)
class Run:
    """What is to be printed in one colour."""

    area_cm2: float  # of the motif
    coverage: float  # part of that area which is ink, above 0 up to 1
    pieces: int
    passes: int = 1  # pulls that lay ink
    setups: int = 1  # how often screen and squeegee are inked again


@dataclass(frozen=True)
class Weighing:
    """Ink that earlier pieces took: what lay on their cloth, never what stayed on screen and squeegee."""

    grams: float
    run: Run


def inked_m2(run: Run) -> float:
    """Square metres of solid ink that all pulls of a run lay together.

    Raises
    ------
    UsageError
        A number of the run makes no sense.
    """
    check_number(run.area_cm2, "printed-area", 0.01, 1e6)
    if 1 < run.coverage <= 100:
        raise UsageError(
            "coverage-above-whole", "give-coverage-as-part", coverage=run.coverage, part=run.coverage / 100
        )
    check_number(run.coverage, "coverage-part", 1e-4, 1)
    _check_count(run.pieces, "pieces")
    _check_count(run.passes, "passes")
    _check_count(run.setups, "set-ups")
    return run.area_cm2 / 1e4 * run.coverage * run.pieces * run.passes


def _check_count(count: int, quantity: Quantity) -> None:
    check_number(count, quantity, 1, 1e6)
    if count != int(count):
        raise UsageError("count-unreadable", "type-a-count", typed=count)


def parse_weighing(text: str, run: Run, setup_g: float = SETUP_LOSS_G) -> Weighing:
    """ "120 g for 40" or "1.2 kg for 40 of 30x40 at 35 in 2 passes" -> Weighing; what is left out is as in `run`.

    "170 g for 40 with the screen" counts what stayed on screen and squeegee too: `setup_g` is taken off
    for each set-up.

    Raises
    ------
    UsageError
        It cannot be read, or nothing is left for the cloth.
    """
    found = USED.fullmatch(" ".join(text.split()))
    if not found:
        raise UsageError("weighing-unreadable", "write-a-weighing", typed=text[:60])
    grams = number_of(found[1]) * (1000 if found["unit"].lower() == "kg" else 1)
    earlier = Run(
        parse_area(found["area"]) if found["area"] else run.area_cm2,
        coverage_of(parse_amount(found["coverage"], "%")) if found["coverage"] else run.coverage,
        parse_count(found["pieces"]),
        parse_count(found["passes"]) if found["passes"] else run.passes,
    )
    return Weighing(grams - _on_screen(grams, run, setup_g) if found["screen"] else grams, earlier)


def _on_screen(grams: float, run: Run, setup_g: float) -> float:
    """What stayed on screen and squeegee, of grams that count it."""
    check_number(setup_g, "setup-grams", 0, 1e5)
    if setup_g * run.setups >= grams:
        raise UsageError("weighing-all-on-screen", "say-less-on-screen", grams=grams, on_screen=setup_g * run.setups)
    return setup_g * run.setups


def coverage_of(percent: float) -> float:
    """Percent of the motif that is ink -> part of it.

    Raises
    ------
    UsageError
        It is no such percentage, or looks like a part already.
    """
    if 0 < percent <= PALEST:
        raise UsageError(
            "coverage-hardly-a-print",
            "type-coverage-in-percent",
            percent=percent,
            as_percent=100 * percent,
            palest=PALEST,
        )
    check_number(percent, "coverage-percent", PALEST, 100)
    return percent / 100


def area_meant(motif: str, area_cm2: float | None) -> float:
    """The motif's area, cm², from its sides or as it is.

    Raises
    ------
    UsageError
        Both were given or neither, or the sides cannot be read.
    """
    if motif and area_cm2 is not None:
        raise UsageError("area-given-twice", "give-one-area")
    if not motif and area_cm2 is None:
        raise UsageError("area-missing", "give-the-area")
    return parse_area(motif) if area_cm2 is None else area_cm2


def parse_area(text: str) -> float:
    """ "30 x 40 cm", "30x40", "0.3 x 0.4 m" or "1200 cm²" -> cm²; sides without a unit are cm.

    Raises
    ------
    UsageError
        It cannot be read, or is no area.
    """
    found = AREA.fullmatch(" ".join(text.split()))
    if not found:
        raise UsageError("area-unreadable", "write-an-area", typed=text[:40])
    square_mm = MM_IN[found["square"] or found["side"] or "cm"] ** 2
    area = number_of(found[1]) * (number_of(found[2]) if found[2] else 1.0) * square_mm / 100
    check_number(area, "printed-area", 0.01, 1e6)
    return area
