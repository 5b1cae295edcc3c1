"""What the plots of a property have in common, so that a plot with one test borrows from its neighbours.

Each plot's parameters are its site's starting values + the property's common shift + its own. The common shift and
the shifts of the sampling dates are found together, from all plots, by linearised least squares over two levels.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from agronomy.ph_forecast.estimate import Linear, Prior, linearise
from agronomy.ph_forecast.inputs import PlotHistory
from agronomy.ph_forecast.model import Array
from agronomy.ph_forecast.priors import POOLED, shared_variance
from agronomy.ph_forecast.series import Series, TestDay, series
from agronomy.sources import load_table

_TEST = load_table("ph_forecast")["test"]
_ALIKE = float(load_table("ph_forecast")["spread"]["alike"])
_ROUNDS = 4
_CHUNK = 400
_ROUND_DAYS = 21
_LEAST_PLOTS_OF_A_ROUND = 4
_SHARES_KEPT = 40
_NOISE_WEIGHT = 30.0
_SHIFT_WEIGHT = 6.0


@dataclass(frozen=True, slots=True)
class DateShift:
    """By how much all plots read high or low together in one round of sampling (season, laboratory)."""

    first: dt.date
    last: dt.date
    lab: str
    method: str
    ph: float
    sd: float


@dataclass(frozen=True, slots=True)
class PlotShare:
    """What one plot told the pool: its information (5 x 5) and vector (5), to be taken out for its own fit."""

    key: str
    information: tuple[tuple[float, ...], ...]
    vector: tuple[float, ...]


def _unknown() -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(row) for row in np.diag(shared_variance()).tolist())


@dataclass(frozen=True, slots=True)
class PooledPriors:
    """The property's common shift from its sites' starting values: log buffer, log loss, native pH, log speed, log
    nitrogen; its covariance; the noise of its tests against the usual; shifts of its sampling rounds. The default
    knows nothing of the property."""

    mean: tuple[float, ...] = (0.0,) * POOLED
    covariance: tuple[tuple[float, ...], ...] = field(default_factory=_unknown)
    noise_scale: float = 1.0
    date_sd: float = float(_TEST["date_sd"])
    shifts: tuple[DateShift, ...] = ()
    shares: tuple[PlotShare, ...] = ()
    plots: int = 0
    tests: int = 0

    def without(self, key: str | None) -> tuple[Array, Array, int]:
        """Mean, covariance and count of plots of the property without the plot of that key."""
        mean, covariance = np.array(self.mean), np.array(self.covariance)
        share = next((share for share in self.shares if share.key == key), None)
        if share is None:
            return mean, covariance, self.plots
        information = np.array(share.information)
        whole = self._information()
        rest = whole - information
        loose = covariance - np.linalg.inv(whole)
        vector = whole @ mean - np.array(share.vector)
        return np.linalg.solve(rest, vector), np.linalg.inv(rest) + loose, self.plots - 1

    def _information(self) -> Array:
        total = np.diag(1.0 / shared_variance())
        for share in self.shares:
            total = total + np.array(share.information)
        return total


def prior_for(member: Series, priors: PooledPriors) -> tuple[Prior, int]:
    """A plot's prior from its site and the property's other plots, and how many those are."""
    mean, covariance, plots = priors.without(member.key)
    whole = np.diag(member.base.own_variance)
    whole[1:, 1:] += covariance
    return Prior(member.base.mean + np.concatenate([[0.0], mean]), whole), plots


def corrected(member: Series, priors: PooledPriors) -> tuple[Array, Array]:
    """A plot's tests less the shifts of their dates, and the variances of what is left."""
    values, noise = member.values(), member.noise(priors.noise_scale)
    for i, day in enumerate(member.days):
        shift = _shift_of(day, member.method, priors.shifts)
        values[i] -= shift.ph if shift else 0.0
        noise[i] += shift.sd**2 if shift else priors.date_sd**2
    return values, noise


def _shift_of(day: TestDay, method: str, shifts: Sequence[DateShift]) -> DateShift | None:
    for shift in shifts:
        if shift.first <= day.date <= shift.last and shift.lab == day.lab and shift.method == method:
            return shift
    return None


@dataclass(slots=True)
class _Round:
    first: dt.date
    last: dt.date
    lab: str
    method: str
    plots: int


def _rounds(members: Sequence[Series]) -> tuple[list[_Round], list[list[int]]]:
    """The sampling rounds that enough plots took part in, and for each plot the round of each test (-1: none)."""
    found: list[_Round] = []
    place: dict[tuple[int, int], int] = {}
    ordered = sorted(
        ((member.method, day.lab, day.date, m, i) for m, member in enumerate(members)
         for i, day in enumerate(member.days)),
    )
    for method, lab, date, m, i in ordered:
        last = found[-1] if found else None
        if last is None or (last.method, last.lab) != (method, lab) or (date - last.first).days > _ROUND_DAYS:
            found.append(_Round(date, date, lab, method, 0))
        found[-1].last = date
        found[-1].plots += 1
        place[m, i] = len(found) - 1
    kept = {r: n for n, r in enumerate(r for r, one in enumerate(found) if one.plots >= _LEAST_PLOTS_OF_A_ROUND)}
    of_tests = [[kept.get(place[m, i], -1) for i in range(len(member.days))] for m, member in enumerate(members)]
    return [found[r] for r in kept], of_tests


def pool(plots: Sequence[PlotHistory], *, today: dt.date | None = None, method: str | None = None) -> PooledPriors:
    """Learn what the plots of one property have in common. Plots without a test (by `today`) are passed over."""
    members = [series(plot, method=method) for plot in (_until(plot, today) for plot in plots) if plot.tests]
    if not members:
        return PooledPriors()
    return _Pool(members).solve()


def _until(plot: PlotHistory, today: dt.date | None) -> PlotHistory:
    if today is None:
        return plot
    return PlotHistory(
        plot.key, [t for t in plot.tests if t.date <= today], [d for d in plot.lime if d.date <= today],
        [n for n in plot.nitrogen if n.date <= today], plot.site,
    )


class _Pool:
    """The linearised two-level least squares of one property."""

    def __init__(self, members: Sequence[Series]) -> None:
        self.members = members
        self.rounds, self.of_tests = _rounds(members)
        self.shared = np.diag(1.0 / shared_variance())
        self.mean = np.zeros(POOLED)
        self.shift = np.zeros(len(self.rounds))
        self.date_variance = float(_TEST["date_sd"]) ** 2
        self.scale = 1.0
        self.weight = 1.0 / (1.0 + _ALIKE * (len(members) - 1))
        self.parameters = np.array([member.base.mean for member in members])
        self.covariance: Array = np.diag(shared_variance())
        self.spread: Array = np.zeros(len(self.rounds))
        self.parts: list[tuple[Linear, Array, Array, Array, Array]] = []

    def solve(self) -> PooledPriors:
        for _ in range(_ROUNDS):
            self._one_round()
        return self._result()

    def _lines(self) -> list[Linear]:
        lines: list[Linear] = []
        for at in range(0, len(self.members), _CHUNK):
            part = slice(at, at + _CHUNK)
            lines += linearise(self.members[part], self.parameters[part])
        return lines

    def _one_round(self) -> None:
        size = POOLED + len(self.rounds)
        normal: Array = np.zeros((size, size))
        normal[:POOLED, :POOLED] = self.shared
        normal[range(POOLED, size), range(POOLED, size)] = 1.0 / self.date_variance
        right: Array = np.zeros(size)
        self.parts = []
        for m, line in enumerate(self._lines()):
            self._add(m, line, normal, right)
        inverse = np.linalg.inv(normal).astype(np.float64)
        solution = inverse @ right
        self.mean, self.shift = solution[:POOLED], solution[POOLED:]
        self.covariance = inverse[:POOLED, :POOLED]
        self.spread = np.sqrt(np.diag(inverse)[POOLED:])
        self._move()

    def _add(self, m: int, line: Linear, normal: Array, right: Array) -> None:
        member = self.members[m]
        own = member.base.own_variance
        rounds = np.array(self.of_tests[m])
        loose = np.where(rounds < 0, self.date_variance, 0.0)
        noise = member.noise(self.scale)
        total = np.diag(noise + loose) + line.drift_covariance() + (line.slope * own) @ line.slope.T
        target = member.values() - line.ph + line.slope @ (self.parameters[m] - member.base.mean)
        design = np.zeros((len(target), normal.shape[0]))
        design[:, :POOLED] = line.slope[:, 1:]
        seen = rounds >= 0
        design[np.flatnonzero(seen), POOLED + rounds[seen]] = 1.0
        whitened = np.linalg.solve(total, design)
        used = np.concatenate([np.arange(POOLED), np.unique(POOLED + rounds[seen])])
        normal[np.ix_(used, used)] += self.weight * design[:, used].T @ whitened[:, used]
        right[used] += self.weight * whitened[:, used].T @ target
        self.parts.append((line, total, target, design, noise))

    def _move(self) -> None:
        """New parameters of every plot, and the noise of the property's tests."""
        both = np.concatenate([self.mean, self.shift])
        misfit, count = 0.0, 0
        for m, (line, total, target, design, noise) in enumerate(self.parts):
            own = self.members[m].base.own_variance
            left = target - design @ both
            weighed = np.linalg.solve(total, left)
            step = self.members[m].base.mean + np.concatenate([[0.0], self.mean])
            step = step + own * (line.slope.T @ weighed) - self.parameters[m]
            reach = 2.0 * np.sqrt(own + np.concatenate([[0.0], shared_variance()]))
            self.parameters[m] += np.clip(step, -reach, reach)
            if len(left) > 1:
                misfit += float(noise @ weighed**2) + len(left) - float(noise @ np.diag(np.linalg.inv(total)))
                count += len(left)
        ratio = misfit / count if count else 1.0
        scale = self.scale * (_NOISE_WEIGHT + ratio * count) / (_NOISE_WEIGHT + count)
        self.scale = float(np.clip(scale, 0.4, 4.0))
        shifts = float(np.sum(self.shift**2 + self.spread**2))
        self.date_variance = (
            (_SHIFT_WEIGHT * float(_TEST["date_sd"]) ** 2 + shifts) / (_SHIFT_WEIGHT + len(self.rounds))
        )

    def _result(self) -> PooledPriors:
        return PooledPriors(
            tuple(self.mean.tolist()), tuple(tuple(row) for row in self.covariance.tolist()), self.scale,
            float(np.sqrt(self.date_variance)),
            tuple(
                DateShift(one.first, one.last, one.lab, one.method, float(self.shift[r]), float(self.spread[r]))
                for r, one in enumerate(self.rounds)
            ),
            self._shares() if len(self.members) <= _SHARES_KEPT else (),
            len(self.members), sum(len(member.days) for member in self.members),
        )

    def _shares(self) -> tuple[PlotShare, ...]:
        shares = []
        for member, (_line, total, target, design, _noise) in zip(self.members, self.parts, strict=True):
            slope = design[:, :POOLED]
            whitened = np.linalg.solve(total, slope)
            vector = self.weight * (whitened.T @ (target - design[:, POOLED:] @ self.shift))
            information = self.weight * (slope.T @ whitened)
            rows = tuple(tuple(row) for row in information.tolist())
            shares.append(PlotShare(member.key, rows, tuple(vector.tolist())))
        return tuple(shares)
