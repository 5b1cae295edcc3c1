"""The estimate held against an integrator, an optimizer and two other estimators."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import minimize

from agronomy.ph_forecast import PooledPriors
from agronomy.ph_forecast.estimate import at_positions, drift_variance, fit, predict
from agronomy.ph_forecast.model import Array, simulate
from agronomy.ph_forecast.months import month_number
from agronomy.ph_forecast.pooling import corrected, prior_for
from agronomy.ph_forecast.series import Series, drivers, series
from tests.agronomy.forecast.grounds import TABLE, day, draw_property
from tests.agronomy.forecast.other_estimators import cloud, unscented

DATES = [day(2012), day(2013), day(2014), day(2016), day(2017), day(2019), day(2020), day(2022)]
END = month_number(dt.date(2025, 10, 1))
NOTHING = PooledPriors()


def drawn(seed: int, tests: int = len(DATES)) -> Series:
    return series(draw_property(seed, plots=1, dates=DATES[:tests], months=170)[0].history)


def by_equations(parameters: Array, member: Series, months: int) -> Array:
    """pH at month starts by a fine integrator, dressings put on as the drivers have them."""
    acting = drivers([member], start_month=member.start_month, months=months)
    rates = np.array(TABLE["reaction"]["rate_per_year"]) * math.exp(parameters[4])
    buffer, loss = math.exp(parameters[1]), math.exp(parameters[2])

    def slopes(_: float, state: Array, acid: float) -> Array:
        ph = state[0]
        pace = min(max((8.0 - ph) / 1.5, 0.0), 1.0)
        reacting = rates * pace * state[1:]
        change = reacting.sum() / buffer + loss * (parameters[3] - ph) - acid * math.exp(parameters[5]) / buffer
        bend = 1 + math.exp((4.2 - ph) / 0.35) + math.exp((ph - 7.5) / 0.35)
        return np.concatenate([[change / bend], -reacting])

    state = np.concatenate([[parameters[0]], np.zeros(4)])
    out = [state[0]]
    for t in range(months):
        state[1:] += acting.lime[t, :, 0]
        acid = 12.0 * acting.acid[t, 0]
        state = solve_ivp(slopes, (0.0, 1 / 12), state, args=(acid,), rtol=1e-8, atol=1e-8).y[:, -1]
        out.append(state[0])
    return np.array(out)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_monthly_steps_follow_the_equations(seed: int) -> None:
    """Within 0.05 pH of the integrated equations at every month of eleven years."""
    history = draw_property(seed, plots=1, dates=DATES, months=140)[0]
    member = series(history.history)
    acting = drivers([member], start_month=member.start_month, months=132)
    stepped = simulate(history.parameters[:, None, None], acting).ph[:, 0, 0]
    assert np.abs(stepped - by_equations(history.parameters, member, 132)).max() < 0.05


def objective(theta: Array, member: Series, prior_mean: Array, precision: Array, values: Array, noise: Array) -> float:
    """Minus twice the log of what the fit seeks the highest point of."""
    acting = drivers([member], start_month=member.start_month, months=END - member.start_month)
    trials = np.repeat(theta[:, None, None], 7, axis=2)
    course = simulate(trials, acting)
    tests = at_positions(course, drift_variance(course, acting), member.positions() - member.start_month, 0)
    total = tests.drift_covariance() + np.diag(noise)
    left, off = values - tests.ph, theta - prior_mean
    return float(left @ np.linalg.solve(total, left) + np.linalg.slogdet(total)[1] + off @ precision @ off)


@pytest.mark.parametrize("seed", range(10, 18))
def test_the_fit_is_the_most_probable_point(seed: int) -> None:
    """Nelder-Mead from the fit's answer finds nothing better by more than 0.15 (in minus twice the log)."""
    member = drawn(seed)
    prior, _ = prior_for(member, NOTHING)
    values, noise = corrected(member, NOTHING)
    fitted = fit(member, prior, values=values, noise=noise, end_month=END)
    asked = (member, prior.mean, np.linalg.inv(prior.covariance), values, noise)
    found = minimize(objective, fitted.parameters, args=asked, method="Nelder-Mead", options={"maxfev": 1500})
    assert objective(fitted.parameters, *asked) <= found.fun + 0.15


def test_the_band_is_the_clouds(deep_count: Callable[[int, int], int]) -> None:
    """Three years ahead, a cloud of 6,000 parameter sets has its mean within 0.12 of the median in pH, and its
    standard deviation within 30 % (root mean square 12 %)."""
    gaps, ratios = [], []
    for seed in range(20, 20 + deep_count(6, 60)):
        member = drawn(seed, tests=5)
        prior, _ = prior_for(member, NOTHING)
        values, noise = corrected(member, NOTHING)
        fitted = fit(member, prior, values=values, noise=noise, end_month=END - 24)
        mean, variance = predict(fitted, fitted.grid)
        told = cloud(member, prior, values=values, noise=noise, end_month=END - 24, size=6000, seed=seed)
        gaps.append(mean[-1] - told.mean[-1])
        ratios.append(math.sqrt(variance[-1]) / told.sd[-1])
    assert max(map(abs, gaps)) < 0.12
    assert all(0.7 < ratio < 1.3 for ratio in ratios)
    assert math.sqrt(np.mean((np.array(ratios) - 1) ** 2)) < 0.12


def test_the_unscented_filter_says_much_the_same() -> None:
    """Means within 0.15 pH of the fit's three years ahead, over ten plots within 0.07 (root mean square)."""
    gaps = []
    for seed in range(40, 50):
        member = drawn(seed)
        prior, _ = prior_for(member, NOTHING)
        values, noise = corrected(member, NOTHING)
        fitted = fit(member, prior, values=values, noise=noise, end_month=END)
        mean, _ = predict(fitted, fitted.grid)
        gaps.append(mean[-1] - unscented(member, prior, values=values, noise=noise, end_month=END).mean[-1])
    assert max(map(abs, gaps)) < 0.15
    assert math.sqrt(np.mean(np.square(gaps))) < 0.07
