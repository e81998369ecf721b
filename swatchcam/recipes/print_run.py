"""What is printed in one colour: the motif, how much of it is ink, how many pieces; as people write it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..errors import UsageError
from .numbers import NUMBER, check_number, number_of, parse_amount, parse_count

AREA = re.compile(rf"{NUMBER}\s*(?:[x×*]\s*{NUMBER}\s*(?P<side>mm|cm|m)?|(?P<square>mm|cm|m)(?:2|²))")
MM_IN = {"mm": 1.0, "cm": 10.0, "m": 1000.0}
USED = re.compile(
    rf"{NUMBER}\s*(?P<unit>k?g)\s+for\s+(?P<pieces>\d+)(?:\s+(?:pieces?|pcs))?(?:\s+of\s+(?P<area>\d.*?))?"
    r"(?:\s+at\s+(?P<coverage>\d[^ %]*)\s*%?)?(?:\s+in\s+(?P<passes>\d+)\s+pass(?:es)?)?",
    re.I,
)
PALEST = 1.0  # % of the motif; who writes less has likely written a part, such as 0.35


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


def inked_m2(run: Run) -> float:
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


def parse_weighing(text: str, run: Run) -> Weighing:
    """ "120 g for 40" or "1.2 kg for 40 of 30x40 at 35 in 2 passes" -> Weighing; what is left out is as in `run`.

    Raises
    ------
    UsageError
        It cannot be read.
    """
    found = USED.fullmatch(" ".join(text.split()))
    if not found:
        raise UsageError(
            f"'{text[:60]}' is no weighing that can be read.",
            "Write for example '120 g for 40', or '120 g for 40 of 30x40 at 35' for another motif and coverage.",
        )
    grams = number_of(found[1]) * (1000 if found["unit"].lower() == "kg" else 1)
    earlier = Run(
        parse_area(found["area"]) if found["area"] else run.area_cm2,
        coverage_of(parse_amount(found["coverage"], "%")) if found["coverage"] else run.coverage,
        parse_count(found["pieces"]),
        parse_count(found["passes"]) if found["passes"] else run.passes,
    )
    return Weighing(grams, earlier)


def coverage_of(percent: float) -> float:
    """Percent of the motif that is ink -> part of it.

    Raises
    ------
    UsageError
        It is no such percentage, or looks like a part already.
    """
    if 0 < percent <= PALEST:
        raise UsageError(
            f"A coverage of {percent:g} % is hardly a print.",
            f"Give it in percent: {100 * percent:g} if you mean {percent:g} of the motif. For a smaller part than"
            f" {PALEST:g} % give a smaller motif.",
        )
    check_number(percent, "A coverage (%)", PALEST, 100, "the part of the motif that is ink, such as 35")
    return percent / 100


def area_meant(motif: str, area_cm2: float | None) -> float:
    """The motif's area, cm2, from its sides or as it is.

    Raises
    ------
    UsageError
        Both were given or neither, or the sides cannot be read.
    """
    if bool(motif) == (area_cm2 is not None):
        what = "both" if motif else "neither"
        raise UsageError(
            f"Of --motif and --area {what} were given.", "Give one: --motif 30x40 (cm, width x height), or --area 1200."
        )
    return parse_area(motif) if area_cm2 is None else area_cm2


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
    square_mm = MM_IN[found["square"] or found["side"] or "cm"] ** 2
    area = number_of(found[1]) * (number_of(found[2]) if found[2] else 1.0) * square_mm / 100
    check_number(area, "A printed area (cm2)", 0.01, 1e6, "'30 x 40 cm'")
    return area
