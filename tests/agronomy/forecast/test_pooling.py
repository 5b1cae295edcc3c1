"""Plots of a property lend each other what they know; none of them learns from itself twice."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from agronomy.ph_forecast import Forecast, PhTest, PlotHistory, PooledPriors, forecast, pool
from agronomy.ph_forecast.pooling import prior_for
from agronomy.ph_forecast.series import series
from tests.agronomy.forecast.grounds import SILT_LOAM, day, draw_property

TODAY = day(2024, 10, 1)
YEARS = (2012, 2014, 2016, 2018, 2020, 2022, 2024)


def falling(key: str, per_year: float, *, first: float = 6.8, years: tuple[int, ...] = YEARS) -> PlotHistory:
    """A plot whose excess over pH 5.0 is lost at a share a year, told by its first fall from `first`."""
    share = per_year / (first - 5.0)
    tests = [PhTest(day(year), 5.0 + (first - 5.0) * float(np.exp(-share * (year - years[0]))), 6.0) for year in years]
    return PlotHistory(key, tests, site=SILT_LOAM)


def view(plot: PlotHistory, priors: PooledPriors | None = None) -> Forecast:
    return forecast(plot.tests, site=plot.site, today=TODAY, priors=priors, plot_key=plot.key, pace_ph=6.2)


def test_a_plot_with_many_tests_stands_on_its_own() -> None:
    own = falling("own", 0.2, years=tuple(range(2010, 2025)))
    slow = [falling(f"slow {i}", 0.03) for i in range(6)]
    alone, among_slow = view(own), view(own, pool([own, *slow]))
    one = PlotHistory("one", own.tests[-1:], site=SILT_LOAM)
    moved = abs(view(one).pace.fall_ph_per_year.median - view(one, pool(slow)).pace.fall_ph_per_year.median)
    assert abs(alone.pace.fall_ph_per_year.median - among_slow.pace.fall_ph_per_year.median) < 0.8 * moved
    assert among_slow.pace.fall_ph_per_year.median > among_slow.pace.expected.median + 0.02


def test_a_plot_does_not_learn_from_itself_twice() -> None:
    """A property of one plot teaches that plot nothing: its prior is the site's own."""
    own = falling("own", 0.2)
    priors = pool([own])
    assert priors.plots == 1
    learned, plots = prior_for(series(own), priors)
    fresh, _ = prior_for(series(own), PooledPriors())
    assert plots == 0
    assert learned.mean == pytest.approx(fresh.mean, abs=1e-9)
    assert learned.covariance == pytest.approx(fresh.covariance, abs=1e-9)
    stranger, plots = prior_for(series(dataclasses.replace(own, key="other")), priors)
    assert plots == 1
    assert abs(stranger.mean - fresh.mean).max() > 0.01


def test_leaving_a_plot_out_is_pooling_without_it() -> None:
    drawn = [one.history for one in draw_property(8, plots=6, dates=[day(year) for year in YEARS], months=150)]
    whole, rest = pool(drawn), pool(drawn[1:])
    left_out, _, plots = whole.without(drawn[0].key)
    assert plots == 5
    assert left_out == pytest.approx(np.array(rest.mean), abs=0.2)
    assert abs(left_out - rest.mean).max() < abs(np.array(whole.mean) - left_out).max() + 0.12


def test_labs_and_methods_have_rounds_of_their_own() -> None:
    plots = [falling(str(i), 0.1) for i in range(5)]
    other = [
        dataclasses.replace(plot, tests=[dataclasses.replace(t, lab="second") for t in plot.tests], key=f"b{plot.key}")
        for plot in plots
    ]  # fmt: skip
    priors = pool([*plots, *other])
    assert {(shift.lab, shift.first.year) for shift in priors.shifts} == {
        (lab, year) for lab in ("", "second") for year in YEARS
    }


def test_known_parameters_are_recovered_on_average() -> None:
    """Over drawn properties of 12 plots, the pool's error in each shared parameter is within its stated spread."""
    scaled = []
    for seed in range(60, 72):
        drawn = draw_property(seed, plots=12, dates=[day(year) for year in YEARS], months=150)
        priors = pool([one.history for one in drawn])
        truth = np.mean([one.parameters - series(one.history).base.mean for one in drawn], axis=0)[1:]
        scaled.append((np.array(priors.mean) - truth) / np.sqrt(np.diag(np.array(priors.covariance))))
    rms = np.sqrt(np.mean(np.square(scaled), axis=0))
    assert rms.max() < 1.6
    assert abs(np.mean(scaled, axis=0)).max() < 0.9


def test_nothing_to_pool_is_no_knowledge() -> None:
    assert pool([]) == PooledPriors()
    assert pool([PlotHistory("untested", [])]) == PooledPriors()
    assert pool([falling("later", 0.1)], today=dt.date(2000, 1, 1)) == PooledPriors()
