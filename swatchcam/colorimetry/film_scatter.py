"""How unlike the films of two strips are in this studio: learned from pots of which several strips were measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import mean

# Before any pot was smeared twice: of the natural logarithm of a film's thickness, and as how many degrees of freedom
# that counts. A hand with a spatula is at 0.1 to 0.4, rails and a straight edge at about 0.05; common sense, no source.
PRIOR_STD, PRIOR_FREEDOM = 0.12, 3.0
NORMAL_95 = 1.959964


@dataclass(frozen=True)
class FilmScatter:
    """Standard deviation of the natural logarithm of film thickness, from strip to strip."""

    std: float
    low: float  # 95 % interval
    high: float
    strips: int  # that taught it
    pots: int


def film_scatter(pots: Iterable[Sequence[float]] = ()) -> FilmScatter:
    """The scatter, from the natural logarithms of the films of each pot's strips; only their differences count.

    Source
    ------
    Pooled variance with a conjugate prior, scaled inverse chi-square (Gelman et al. 2013, Bayesian Data Analysis,
    2.6); quantiles of chi-square after Wilson & Hilferty 1931, doi:10.1073/pnas.17.12.684.
    """
    several = [films for films in pots if len(films) > 1]
    squares = sum((film - mean(films)) ** 2 for films in several for film in films)
    freedom = PRIOR_FREEDOM + sum(len(films) - 1 for films in several)
    total = PRIOR_FREEDOM * PRIOR_STD**2 + squares
    low, high = (sqrt(total / _chi_square(freedom, sign * NORMAL_95)) for sign in (1, -1))
    return FilmScatter(sqrt(total / freedom), low, high, sum(map(len, several)), len(several))


def _chi_square(freedom: float, normal: float) -> float:
    """The quantile of chi-square that belongs to one of the normal distribution."""
    return freedom * (1 - 2 / (9 * freedom) + normal * sqrt(2 / (9 * freedom))) ** 3
