"""The forecast held against a trial: each later test against what was foretold from the tests before it.

At every sampling date the pool and each plot's fit see only tests and dressings up to that date. Of later years a
forecast is told the lime, as a plan would tell it, and nothing else: nitrogen ahead is the mean of the past.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from agronomy.ph_forecast.inputs import LimeDressing, PhTest, PlotHistory
from agronomy.ph_forecast.outlook import Forecast, forecast
from agronomy.ph_forecast.pooling import PooledPriors, pool

HORIZONS: tuple[tuple[str, float, float], ...] = (
    ("about 1 year", 0.0, 1.5), ("2-3 years", 1.5, 3.0), ("3-5 years", 3.0, 5.0), ("5-9 years", 5.0, 9.0),
)
"""Name, years from, years to (the last not included)."""

_DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True)
class Pair:
    """One later test beside its forecast from an earlier date: pH observed, foretold (`median`, 80 % band of a
    single test `low` to `high`), and the plot's last test by then (`last`)."""

    plot: str
    made_on: dt.date
    tested_on: dt.date
    limed: bool
    observed: float
    median: float
    low: float
    high: float
    last: float

    @property
    def years(self) -> float:
        """Years from the forecast to the test."""
        return (self.tested_on - self.made_on).days / _DAYS_A_YEAR


@dataclass(frozen=True, slots=True)
class Score:
    """How the pairs of one horizon came out: errors in pH (foretold less observed), `coverage80`
    the share (0-1) of tests that fell inside the 80 % band."""

    horizon: str
    limed: bool
    n: int
    rmse: float
    mean_error: float
    coverage80: float
    persistence_rmse: float


def pairs(plots: Sequence[PlotHistory]) -> list[Pair]:
    """Forecast every plot at each of its test dates and set every later test within nine years beside it."""
    days = {plot.key: _days(plot.tests) for plot in plots}
    dates = sorted({date for tests in days.values() for date, _ in tests})
    found: list[Pair] = []
    for made_on in dates[:-1]:
        priors = pool(plots, today=made_on)
        for plot in plots:
            if any(date == made_on for date, _ in days[plot.key]):
                found += _of_plot(plot, days[plot.key], made_on, priors)
    return found


def _days(tests: Iterable[PhTest]) -> list[tuple[dt.date, float]]:
    """Test dates with the mean pH of each, oldest first."""
    grouped: dict[dt.date, list[float]] = {}
    for test in tests:
        grouped.setdefault(test.date, []).append(test.ph)
    return [(date, sum(values) / len(values)) for date, values in sorted(grouped.items())]


def _of_plot(
    plot: PlotHistory, days: Sequence[tuple[dt.date, float]], made_on: dt.date, priors: PooledPriors,
) -> list[Pair]:
    last = dict(days)[made_on]
    reach = HORIZONS[-1][2]
    later = [(d, ph) for d, ph in days if d > made_on and (d - made_on).days / _DAYS_A_YEAR < reach]
    if not later:
        return []
    found, told = [], {}
    for tested_on, observed in later:
        lime = tuple(d for d in plot.lime if made_on < d.date <= tested_on)
        if lime not in told:
            told[lime] = _foretell(plot, made_on, priors, lime)
        view = told[lime]
        found.append(Pair(
            plot.key, made_on, tested_on, bool(lime), observed, view.at(tested_on),
            view.at(tested_on, "test_low"), view.at(tested_on, "test_high"), last,
        ))
    return found


def _foretell(
    plot: PlotHistory, made_on: dt.date, priors: PooledPriors, lime: tuple[LimeDressing, ...],
) -> Forecast:
    return forecast(
        plot.tests, plot.lime, plot.nitrogen, plot.site, today=made_on, priors=priors, plot_key=plot.key,
        months_ahead=math.ceil(HORIZONS[-1][2] * 12) + 1, planned_lime=lime,
    )


def scores(found: Sequence[Pair]) -> list[Score]:
    """One score a horizon, unlimed before limed; horizons without a pair are left out."""
    rows = []
    for name, low, high in HORIZONS:
        for limed in (False, True):
            of_row = [pair for pair in found if pair.limed is limed and low <= pair.years < high]
            if of_row:
                rows.append(score(of_row, horizon=name, limed=limed))
    return rows


def score(found: Sequence[Pair], *, horizon: str, limed: bool) -> Score:
    """Errors (foretold less observed) and coverage over these pairs; `ValueError` where there is none."""
    if not found:
        raise ValueError("a score needs at least one pair of forecast and test")
    errors = [pair.median - pair.observed for pair in found]
    inside = sum(pair.low <= pair.observed <= pair.high for pair in found)
    return Score(
        horizon, limed, len(found), _rms(errors), sum(errors) / len(errors), inside / len(found),
        _rms([pair.last - pair.observed for pair in found]),
    )


def _rms(values: Sequence[float]) -> float:
    return math.sqrt(sum(value * value for value in values) / len(values))
