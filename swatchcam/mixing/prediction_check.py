"""Did the pots come out as predicted? Each proposal beside the first strip that was measured of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import mean, median

import numpy as np

from ..colorimetry.colour_difference import delta_e_2000
from ..colorimetry.colour_shift import BEYOND_CHANCE
from ..library.labels import in_order
from ..library.proposals import KINDS, Proposal
from ..library.records import USUAL_LIGHT, Record, light_of, of_the_ink
from ..text import key

LEVEL = 0.95
REGION = BEYOND_CHANCE  # the 95 % point of chi-square with 3 degrees of freedom
ENOUGH = 5  # predictions: fewer say nothing of how many will hold


class Showing(StrEnum):
    """What the predictions that were measured show."""

    NOTHING = "none-measured"
    TOO_FEW = "too-few"  # to judge by
    AS_EXPECTED = "as-expected"
    LESS_SURE = "less-sure"  # fewer held than were expected to


@dataclass(frozen=True)
class CheckedPrediction:
    """One proposal, and what became of it."""

    proposal: Proposal
    record: Record
    miss: float  # CIEDE2000 of the colour measured from the one predicted
    to_target: float | None  # CIEDE2000 of the colour measured from the target
    within: bool  # the colour measured lies in the 95 % region of the one predicted


@dataclass(frozen=True)
class PredictionRate:
    """How well the proposals of a studio held."""

    checked: tuple[CheckedPrediction, ...]
    held: int  # how many lie within
    low: float  # 95 % interval of the share that will hold in the long run, 0..1
    high: float
    mean: dict[str, float]  # CIEDE2000 by kind of proposal
    median: dict[str, float]

    @property
    def showing(self) -> Showing:
        """What they show of a studio's predictions."""
        if len(self.checked) < ENOUGH:
            return Showing.TOO_FEW if self.checked else Showing.NOTHING
        return Showing.LESS_SURE if self.high < LEVEL else Showing.AS_EXPECTED


def checked_predictions(proposals: Iterable[Proposal], records: Iterable[Record]) -> tuple[CheckedPrediction, ...]:
    """Of each proposal that was carried out and measured since, how it came out.

    What counts is the first record of its batch in its state and on its cloth. Those of a card that was never measured
    are left out, those for another light than D65 and 10 degrees, and let-down strips.
    """
    pots: dict[tuple[str, str], list[Record]] = {}
    for record in in_order(of_the_ink(records)):
        if record.colour.absolute and light_of(record) == USUAL_LIGHT:
            pots.setdefault((record.shade, record.batch), []).append(record)
    found = ((one, _first(one, pots.get((one.shade, one.batch), ()))) for one in proposals)
    return tuple(_checked(proposal, record) for proposal, record in found if record)


def prediction_rate(found: Sequence[CheckedPrediction]) -> PredictionRate:
    """How many predictions held, and how far each kind missed."""
    held = sum(one.within for one in found)
    low, high = share_interval(held, len(found))
    misses = {kind: [one.miss for one in found if one.proposal.kind == kind] for kind in KINDS}
    by_kind = {kind: those for kind, those in misses.items() if those}
    means = {kind: mean(those) for kind, those in by_kind.items()}
    return PredictionRate(
        tuple(found), held, low, high, means, {kind: median(those) for kind, those in by_kind.items()}
    )


def share_interval(held: int, of: int) -> tuple[float, float]:
    """The exact 95 % interval of a share, 0..1, of which `held` of so many trials were seen.

    Source
    ------
    Clopper & Pearson 1934, doi:10.1093/biomet/26.4.404.
    """
    return 1 - _highest(of - held, of), _highest(held, of)


def _first(proposal: Proposal, records: Iterable[Record]) -> Record | None:
    return next((record for record in records if _fits(proposal, record)), None)


def _fits(proposal: Proposal, record: Record) -> bool:
    cloths = {key(cloth) for cloth in (proposal.cloth, record.cloth) if cloth}
    return record.state.like(proposal.state) and record.measured >= proposal.day and len(cloths) < 2


def _checked(proposal: Proposal, record: Record) -> CheckedPrediction:
    colour, target = record.colour, proposal.target
    if proposal.target_state and not proposal.target_state.like(record.state):
        target = None  # it is for another state than the pot was measured in
    return CheckedPrediction(
        proposal,
        record,
        miss=float(delta_e_2000(colour.lab, proposal.lab)),
        to_target=float(delta_e_2000(colour.lab, target)) if target else None,
        within=_within(proposal, record),
    )


def _within(proposal: Proposal, record: Record) -> bool:
    """The squared distance of Mahalanobis (1936), by what is not known of either colour."""
    way = np.array(record.colour.lab) - np.array(proposal.lab)
    covariance = np.array(proposal.covariance) + record.colour.covariance
    return bool(way @ np.linalg.solve(covariance, way) <= REGION)


def _highest(held: int, of: int) -> float:
    """The share at which so few, or fewer, are seen in only half of 5 of 100 cases."""
    if held == of:
        return 1.0
    low, high = held / of, 1.0
    while high - low > 1e-12:
        middle = (low + high) / 2
        rare = _at_most(held, of, middle) < (1 - LEVEL) / 2
        low, high = (low, middle) if rare else (middle, high)
    return high


def _at_most(held: int, of: int, share: float) -> float:
    """How likely it is that at most so many trials succeed; by logarithms, for the factors are huge and tiny."""
    ways = (math.lgamma(of + 1) - math.lgamma(k + 1) - math.lgamma(of - k + 1) for k in range(held + 1))
    return math.fsum(math.exp(way + k * math.log(share) + (of - k) * math.log1p(-share)) for k, way in enumerate(ways))
