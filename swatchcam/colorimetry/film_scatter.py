"""How unlike the films of two strips are in this studio: learned from pots of which several strips were measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, lgamma, log, sqrt
from statistics import mean

# Before any pot was smeared twice: of the natural logarithm of a film's thickness, and as how many degrees of freedom
# that counts. A hand with a spatula is at 0.1 to 0.4, rails and a straight edge at about 0.05; common sense, no source.
PRIOR_STD, PRIOR_FREEDOM = 0.12, 3.0
HALVINGS, TINY = 40, 1e-12  # how exactly a quantile is sought, and the sum that it takes


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
    2.6).
    """
    several = [films for films in pots if len(films) > 1]
    squares = sum((film - mean(films)) ** 2 for films in several for film in films)
    freedom = PRIOR_FREEDOM + sum(len(films) - 1 for films in several)
    total = PRIOR_FREEDOM * PRIOR_STD**2 + squares
    low, high = (sqrt(total / _chi_square(freedom, share)) for share in (0.975, 0.025))
    return FilmScatter(sqrt(total / freedom), low, high, sum(map(len, several)), len(several))


def _chi_square(freedom: float, share: float) -> float:
    """The quantile of chi-square, by halving; the usual normal approximation is 16 % off at three degrees of freedom.

    Source
    ------
    The incomplete gamma function as a series: NIST Digital Library of Mathematical Functions, 8.7.1.
    """
    low, high = 0.0, freedom + 10 * sqrt(2 * freedom)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _share_below(freedom / 2, middle / 2) < share else (low, middle)
    return (low + high) / 2


def _share_below(shape: float, limit: float) -> float:
    """How much of a gamma distribution of this shape and scale 1 lies below a limit above 0."""
    term = total = exp(shape * log(limit) - limit - lgamma(shape + 1))
    place = shape
    while term > TINY * total:
        place += 1
        term *= limit / place
        total += term
    return total
