"""Estimation: the most probable parameters of a plot and their covariance at that point (Laplace).

A test is course + drift + shift of its date + noise. The drift is what the model cannot follow: a wander that fades
over some years and grows with the pH that lime gave. It is integrated out exactly (it is Gaussian), so that the
newest test pulls the course toward itself without being taken as truth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from agronomy.ph_forecast.model import PARAMETERS, Array, Course, Drivers, simulate
from agronomy.ph_forecast.series import Series, drivers
from agronomy.sources import load_table

_SPREAD = load_table("ph_forecast")["spread"]
N = len(PARAMETERS)
_STEP = 1e-4
_FADE = float(np.exp(-1.0 / (12.0 * _SPREAD["drift_years"])))
_DRIFT_VARIANCE = float(_SPREAD["drift_sd"]) ** 2
_RISE_VARIANCE = float(_SPREAD["per_ph_of_rise_variance"])
_ROUNDS = 8


@dataclass(frozen=True, slots=True)
class Linear:
    """A plot's course near one set of parameters: `ph` (n), its slope by parameter (n, 6), `variance` of the drift
    (n), at month `positions` (n) counted from the start of the grid."""

    positions: Array
    ph: Array
    slope: Array
    variance: Array

    def drift_covariance(self, other: Linear | None = None) -> Array:
        """Covariance of the drift between these points (rows) and the other's (columns)."""
        right = other or self
        apart = np.abs(self.positions[:, None] - right.positions[None, :])
        earlier = np.where(
            self.positions[:, None] <= right.positions[None, :], self.variance[:, None], right.variance[None, :]
        )
        covariance: Array = _FADE**apart * earlier
        return covariance


def trial_values(parameters: Array) -> Array:
    """(P, 6) parameters as the (6, P, 7) trial values of a one-sided difference."""
    trials = np.repeat(parameters.T[:, :, None], N + 1, axis=2)
    for i in range(N):
        trials[i, :, i + 1] += _STEP
    return trials


def drift_variance(course: Course, acting: Drivers) -> Array:
    """Variance of the drift at every node (T + 1, P)."""
    months, plots = course.rise.shape
    variance = np.zeros((months + 1, plots))
    fresh = (_DRIFT_VARIANCE * (1.0 - _FADE**2) + _RISE_VARIANCE * course.rise) * acting.active
    for t in range(months):
        variance[t + 1] = _FADE**2 * variance[t] + fresh[t]
    return variance


def at_positions(course: Course, variance: Array, positions: Array, p: int) -> Linear:
    """The course of plot p at month positions, straight between month starts."""
    lower = np.minimum(positions.astype(int), course.ph.shape[0] - 2)
    part = (positions - lower)[:, None]
    both = course.ph[lower, p] * (1.0 - part) + course.ph[lower + 1, p] * part
    drift = variance[lower, p] * (1.0 - part[:, 0]) + variance[lower + 1, p] * part[:, 0]
    return Linear(positions, both[:, 0], (both[:, 1:] - both[:, :1]) / _STEP, drift)


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed of a plot before its own tests: mean (6) and covariance (6, 6)."""

    mean: Array
    covariance: Array


@dataclass(frozen=True, slots=True)
class Fit:
    """A plot's most probable parameters (6), their covariance (6, 6), and the course on the whole grid."""

    parameters: Array
    covariance: Array
    tests: Linear
    grid: Linear
    course: Course
    residual: Array
    test_covariance: Array
    start_month: int


def fit(
    member: Series, prior: Prior, *, values: Array, noise: Array, end_month: int,
) -> Fit:
    """Fit one plot by Gauss-Newton and step its course to `end_month`.

    `values` and `noise` are the tests less the shift of their dates, and the variance of what is left. A test more
    than three standard deviations off its own prediction counts less (its noise is raised to match).
    """
    start = member.start_month
    acting = drivers([member], start_month=start, months=end_month - start)
    positions = member.positions() - start
    precision = np.linalg.inv(prior.covariance)
    theta = prior.mean.copy()
    step = np.zeros(N)
    best = np.inf
    reach = 2.0 * np.sqrt(np.diag(prior.covariance))
    for _ in range(_ROUNDS):
        course = simulate(trial_values(theta[None, :]), acting)
        variance = drift_variance(course, acting)
        tests = at_positions(course, variance, positions, 0)
        spread = tests.drift_covariance() + np.diag(noise)
        residual = values - tests.ph
        off = theta - prior.mean
        cost = float(residual @ np.linalg.solve(spread, residual) + off @ precision @ off)
        cost += float(np.linalg.slogdet(spread)[1])
        if cost > best + 1e-9:
            step = step / 2.0
            theta = theta - step
            if np.abs(step / reach).max() < 2e-3:
                break
            continue
        best = cost
        whitened = np.linalg.solve(spread, tests.slope)
        information = tests.slope.T @ whitened + precision
        step = np.linalg.solve(information, whitened.T @ residual - precision @ off)
        step *= min(1.0, 1.0 / max(np.abs(step / reach).max(), 1e-12))
        if np.abs(step / reach).max() < 5e-3:
            break
        theta = theta + step
    nodes = np.arange(end_month - start + 1, dtype=float)
    grid = at_positions(course, variance, nodes, 0)
    return Fit(theta, np.linalg.inv(information), tests, grid, course, residual, spread, start)


def predict(fitted: Fit, nodes: Linear) -> tuple[Array, Array]:
    """Mean and variance of the ground's pH at `nodes`, given the tests."""
    cross = nodes.drift_covariance(fitted.tests)
    weights = np.linalg.solve(fitted.test_covariance, cross.T).T
    mean = nodes.ph + weights @ fitted.residual
    slope = nodes.slope - weights @ fitted.tests.slope
    variance = nodes.variance - np.einsum("ij,ij->i", weights, cross)
    variance = variance + np.einsum("ij,jk,ik->i", slope, fitted.covariance, slope)
    return mean, np.maximum(variance, 1e-6)


def linearise(members: Sequence[Series], parameters: Array) -> list[Linear]:
    """The courses of many plots at their test days, stepped together."""
    start = min(member.start_month for member in members)
    end = max(int(member.positions().max()) + 1 for member in members)
    acting = drivers(members, start_month=start, months=end - start)
    course = simulate(trial_values(parameters), acting)
    variance = drift_variance(course, acting)
    return [
        at_positions(course, variance, member.positions() - start, p) for p, member in enumerate(members)
    ]
