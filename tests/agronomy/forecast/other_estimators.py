"""Two other ways of estimating a plot's course, to hold the program's own against: a weighted cloud of parameters
(exact but for its size) and an unscented filter. Both share the program's model and priors, not its arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from agronomy.ph_forecast.estimate import Linear, Prior, drift_variance
from agronomy.ph_forecast.model import Array, Drivers, simulate
from agronomy.ph_forecast.series import Series, drivers
from tests.agronomy.forecast.grounds import TABLE

FADE = float(np.exp(-1.0 / (12.0 * TABLE["spread"]["drift_years"])))
STEADY = TABLE["spread"]["drift_sd"] ** 2 * (1 - FADE**2)
PER_RISE = TABLE["spread"]["per_ph_of_rise_variance"]
RATES = np.array(TABLE["reaction"]["rate_per_year"])


@dataclass(frozen=True, slots=True)
class Told:
    """Mean and standard deviation of the ground's pH at each month of the grid."""

    mean: Array
    sd: Array


def cloud(member: Series, prior: Prior, *, values: Array, noise: Array, end_month: int, size: int, seed: int) -> Told:
    """Parameters drawn from the prior and weighted by how likely they make the tests; the drift integrated out."""
    random = np.random.default_rng(seed)
    draws = random.multivariate_normal(prior.mean, prior.covariance, size=size)
    acting = drivers([member], start_month=member.start_month, months=end_month - member.start_month)
    wide = Drivers(
        np.repeat(acting.lime, size, axis=2), np.repeat(acting.acid, size, axis=1),
        np.repeat(acting.active, size, axis=1), np.repeat(acting.offset, size),
    )  # fmt: skip
    course = simulate(draws.T[:, :, None], wide)
    variance = drift_variance(course, wide)
    at = member.positions() - member.start_month
    nodes = np.arange(len(course.ph), dtype=float)
    logs, means, spreads = np.empty(size), np.empty((size, len(nodes))), np.empty((size, len(nodes)))
    for i in range(size):
        ph, drift = course.ph[:, i, 0], variance[:, i]
        seen = Linear(at, np.interp(at, nodes, ph), np.zeros((len(at), 0)), np.interp(at, nodes, drift))
        grid = Linear(nodes, ph, np.zeros((len(nodes), 0)), drift)
        total = seen.drift_covariance() + np.diag(noise)
        left = values - seen.ph
        logs[i] = -0.5 * (left @ np.linalg.solve(total, left) + np.linalg.slogdet(total)[1])
        cross = grid.drift_covariance(seen)
        gain = np.linalg.solve(total, cross.T).T
        means[i] = ph + gain @ left
        spreads[i] = drift - np.einsum("ij,ij->i", gain, cross)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    mean = weights @ means
    return Told(mean, np.sqrt(weights @ (spreads + (means - mean) ** 2)))


def unscented(member: Series, prior: Prior, *, values: Array, noise: Array, end_month: int) -> Told:
    """A filter over pH, four lime classes, drift and five parameters. It looks forward only, so its account of
    months before the last test is not a smoothed one."""
    months = end_month - member.start_month
    acting = drivers([member], start_month=member.start_month, months=months)
    mean = np.concatenate([[prior.mean[0]], np.zeros(5), prior.mean[1:]])
    covariance = np.diag(np.full(11, 1e-8))
    own = np.array([0, *range(6, 11)])
    covariance[np.ix_(own, own)] = prior.covariance
    at = member.positions() - member.start_month
    means, sds = np.empty(months + 1), np.empty(months + 1)
    done = 0
    for t in range(months + 1):
        while done < len(at) and at[done] < t + 0.5:
            mean, covariance = _seen(mean, covariance, values[done], noise[done])
            done += 1
        means[t] = mean[0] + mean[5]
        sds[t] = np.sqrt(covariance[0, 0] + covariance[5, 5] + 2 * covariance[0, 5])
        if t < months:
            mean, covariance = _month(mean, covariance, acting, t)
    return Told(means, sds)


def _seen(mean: Array, covariance: Array, value: float, noise: float) -> tuple[Array, Array]:
    view = np.zeros(11)
    view[[0, 5]] = 1.0
    gain = covariance @ view / (view @ covariance @ view + noise)
    updated = covariance - np.outer(gain, view @ covariance)
    return mean + gain * (value - view @ mean), (updated + updated.T) / 2


def _month(mean: Array, covariance: Array, acting: Drivers, t: int) -> tuple[Array, Array]:
    mean = mean.copy()
    mean[1:5] += acting.lime[t, :, 0]
    n, spread = 11, 2.0  # spread of the points about the mean, in covariance (n + kappa with kappa = spread - n)
    root = np.linalg.cholesky(spread * (covariance + 1e-9 * np.eye(n)))
    points = mean[:, None] + np.concatenate([np.zeros((n, 1)), root, -root], axis=1)
    points[1:5] = np.maximum(points[1:5], 0.0)
    moved, rise = _step(points, float(acting.acid[t, 0]))
    weights = np.full(2 * n + 1, 1 / (2 * spread))
    weights[0] = 1 - n / spread
    after = moved @ weights
    off = moved - after[:, None]
    fresh = (off * np.abs(weights)) @ off.T
    fresh[5, 5] += STEADY + PER_RISE * max(rise, 0.0)
    return after, fresh


def _step(points: Array, acid: float) -> tuple[Array, float]:
    out = points.copy()
    ph, per_lb = points[0], np.exp(-points[6])
    room = np.maximum(8.0 - ph, 1e-6)
    part = 1 - np.exp(-RATES[:, None] / 12 * np.exp(points[9]) * np.minimum(room / 1.5, 1.0))
    gain = (points[1:5] * part).sum(axis=0) * per_lb
    held = np.where(gain > 1e-9, (1 - np.exp(-gain / room)) * room / np.maximum(gain, 1e-9), 1.0)
    out[1:5] = points[1:5] * (1 - part * held)
    change = gain * held + (1 - np.exp(-np.exp(points[7]) / 12)) * (points[8] - ph) - acid * np.exp(points[10]) * per_lb
    out[0] = ph + change / (1 + np.exp((4.2 - ph) / 0.35) + np.exp((ph - 7.5) / 0.35))
    out[5] = FADE * points[5]
    return out, float((gain * held)[0])
