"""How fast a plot's pH falls, in numbers, beside what its site and its neighbours would have led to expect."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from agronomy.ph_forecast.estimate import Prior
from agronomy.ph_forecast.model import Array

EIGHTY_PERCENT = 1.2815515655446004
"""Standard deviations either side of the median that hold 80 %."""

_LEAST_TESTS = 3
_LEAST_YEARS = 2.0
_LEAST_LEARNED = 0.25


@dataclass(frozen=True, slots=True)
class Range:
    """A figure with its 80 % range."""

    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Pace:
    """The yearly fall without fresh lime, at `at_ph` and under the nitrogen the plot usually gets.

    `fall_ph_per_year` is negative where pH rises. `expected` is the fall that the site alone (and, where
    `neighbours` is over 0, the property's other plots) would lead to expect; `learned_share` (0-1) is how much of
    that expectation's variance the plot's own tests have taken away.
    """

    fall_ph_per_year: Range
    expected: Range
    neighbours: int
    at_ph: float
    tests: int
    years: float
    learned_share: float

    @property
    def knows_enough(self) -> bool:
        """Whether the plot's own tests carry the figure: at least three over two years that say something."""
        long_enough = self.tests >= _LEAST_TESTS and self.years >= _LEAST_YEARS
        return long_enough and self.learned_share >= _LEAST_LEARNED


def normal_range(mean: float, sd: float) -> Range:
    """The 80 % range of a figure with symmetric spread."""
    return Range(float(mean), float(mean - EIGHTY_PERCENT * sd), float(mean + EIGHTY_PERCENT * sd))


def log_range(log_mean: float, log_sd: float) -> Range:
    """The 80 % range of a figure known by its logarithm."""
    reach = EIGHTY_PERCENT * log_sd
    return Range(math.exp(log_mean), math.exp(log_mean - reach), math.exp(log_mean + reach))


def _fall(parameters: Array, *, at_ph: float, acid_lb_per_year: float) -> tuple[float, Array]:
    """The yearly fall and its slope by parameter."""
    loss = math.exp(float(parameters[2]))
    pull = acid_lb_per_year * math.exp(float(parameters[5] - parameters[1]))
    excess = at_ph - float(parameters[3])
    slope = np.array([0.0, -pull, loss * excess, -loss, 0.0, pull])
    return loss * excess + pull, slope


def fall_range(prior: Prior, *, at_ph: float, acid_lb_per_year: float) -> tuple[Range, float]:
    """The yearly fall that parameters of this mean and covariance give, and its standard deviation."""
    fall, slope = _fall(prior.mean, at_ph=at_ph, acid_lb_per_year=acid_lb_per_year)
    sd = math.sqrt(float(slope @ prior.covariance @ slope))
    return normal_range(fall, sd), sd


def pace(
    prior: Prior, posterior: Prior, *, at_ph: float, acid_lb_per_year: float, neighbours: int, tests: int,
    years: float,
) -> Pace:
    """Compare the fall by the plot's fitted parameters with the one expected before its own tests."""
    expected, before = fall_range(prior, at_ph=at_ph, acid_lb_per_year=acid_lb_per_year)
    own, after = fall_range(posterior, at_ph=at_ph, acid_lb_per_year=acid_lb_per_year)
    learned = max(0.0, 1.0 - (after / before) ** 2) if before > 0 else 0.0
    return Pace(own, expected, neighbours, at_ph, tests, years, learned)
