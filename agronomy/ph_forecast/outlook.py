"""One plot's forecast: from its first test to some years ahead, on fixed calendar months."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from agronomy.ph_forecast.estimate import Fit, Prior, fit, predict
from agronomy.ph_forecast.inputs import LimeDressing, NitrogenDressing, PhTest, PlotHistory, SiteFacts
from agronomy.ph_forecast.model import Array
from agronomy.ph_forecast.months import date_at, first_of_month, month_number, month_position
from agronomy.ph_forecast.pace import EIGHTY_PERCENT, Pace, Range, log_range, normal_range, pace
from agronomy.ph_forecast.pooling import PooledPriors, corrected, prior_for
from agronomy.ph_forecast.series import Series, acidity_lb_per_acre, acidity_per_lb_n, series
from agronomy.sources import load_table

Edge = Literal["low", "median"]
_TEST = load_table("ph_forecast")["test"]
_USUAL_YEARS = 5.0
_MOST_MONTHS_AHEAD = 720
_NOTHING_LEFT_LB = 100.0


@dataclass(frozen=True, slots=True)
class EffectiveParameters:
    """What the plot's course rests on, each with its 80 % range."""

    buffer_lb_per_acre_per_ph: Range
    loss_share_per_year: Range
    native_ph: Range
    lime_speed: Range
    nitrogen_share_of_table: Range
    depth_in: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """pH at each month start in `months`.

    `median`, `low` and `high` are the ground's own pH and its 80 % band; `test_low` and `test_high` the wider band
    in which eight of ten single tests would fall. `reacting_lb_per_acre` is lime in the layer yet to react, lb
    CaCO3/acre. `nitrogen_pull_ph_per_year` is the fall that usual (or planned) nitrogen causes. It never replaces
    a soil test.
    """

    today: dt.date
    months: tuple[dt.date, ...]
    median: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    test_low: tuple[float, ...]
    test_high: tuple[float, ...]
    reacting_lb_per_acre: tuple[float, ...]
    nitrogen_pull_ph_per_year: float
    usual_acidity_lb_per_acre_year: float
    pace: Pace
    parameters: EffectiveParameters
    method: str
    tests_used: int
    tests_left_out: int
    test_sd: float
    neighbours: int

    @property
    def native_ph(self) -> Range:
        """The pH that the ground drifts toward when neither limed nor given nitrogen."""
        return self.parameters.native_ph

    def at(self, day: dt.date, edge: Literal["low", "median", "high", "test_low", "test_high"] = "median") -> float:
        """The pH of an edge on a day, straight between month starts; `ValueError` outside the forecast's months."""
        first, last = month_number(self.months[0]), month_number(self.months[-1])
        position = month_position(day)
        if not first <= position <= last:
            raise ValueError(f"day must lie in {self.months[0]} to {self.months[-1]}, not {day}")
        return float(np.interp(position - first, np.arange(len(self.months)), getattr(self, edge)))

    def floor_crossing(self, floor: float, *, edge: Edge = "low", after: dt.date | None = None) -> dt.date | None:
        """The first day from `after` (default today) on that the edge is under `floor`; None if not in sight.

        It is `after` itself where the edge is under the floor already.
        """
        since = after or self.today
        if since > self.months[-1]:
            return None
        if self.at(max(since, self.months[0]), edge) < floor:
            return since
        line, first = getattr(self, edge), month_number(self.months[0])
        for i in range(1, len(self.months)):
            if self.months[i] > since and line[i] < floor:
                above = line[i - 1]
                part = (above - floor) / (above - line[i]) if above > floor else 0.0
                return max(date_at(first + i - 1 + min(part, 0.999)), since)
        return None

    def crest(self, *, after: dt.date | None = None) -> tuple[dt.date, float]:
        """The month start from `after` (default today) on at which the median stands highest, and that pH."""
        since = after or self.today
        ahead = [i for i, month in enumerate(self.months) if month >= since] or [len(self.months) - 1]
        top = max(ahead, key=lambda i: self.median[i])
        return self.months[top], self.median[top]

    def reacting_until(self, *, left_lb_per_acre: float = _NOTHING_LEFT_LB) -> dt.date | None:
        """The month start from today on when under `left_lb_per_acre` is yet to react; None beyond the forecast."""
        for month, left in zip(self.months, self.reacting_lb_per_acre, strict=True):
            if month >= self.today and left < left_lb_per_acre:
                return month
        return None


def forecast(
    tests: Sequence[PhTest],
    lime: Sequence[LimeDressing] = (),
    nitrogen: Sequence[NitrogenDressing] = (),
    site: SiteFacts | None = None,
    *,
    today: dt.date,
    priors: PooledPriors | None = None,
    plot_key: str = "",
    months_ahead: int = 36,
    planned_lime: Sequence[LimeDressing] = (),
    planned_nitrogen: Sequence[NitrogenDressing] | None = None,
    method: str | None = None,
    pace_ph: float | None = None,
) -> Forecast:
    """Forecast a plot from its first test to `months_ahead` (1-720) months after `today`.

    Tests and dressings after `today` are not looked at. Lime ahead is what is planned for today or later; nitrogen
    ahead what is planned, or where None the mean of the last five years. `priors` are the property's, and what the
    plot itself told them is taken out by `plot_key`. `pace_ph` is the pH that the learned pace is told at (default:
    the median today; give all plots one pH, such as the target, to compare them). Raises `ValueError` without a
    test by `today`.
    """
    if not 1 <= months_ahead <= _MOST_MONTHS_AHEAD:
        raise ValueError(f"months_ahead must lie in 1 to {_MOST_MONTHS_AHEAD}, not {months_ahead!r}")
    pooled = priors or PooledPriors()
    past = PlotHistory(
        plot_key, [test for test in tests if test.date <= today],
        [dressing for dressing in lime if dressing.date <= today],
        [dressing for dressing in nitrogen if dressing.date <= today], site or SiteFacts(),
    )
    usual = usual_acidity_lb_per_acre_year(past, today=today)
    ahead = _ahead(planned_nitrogen, usual, today=today, months=months_ahead)
    whole = PlotHistory(
        plot_key, past.tests, [*past.lime, *(d for d in planned_lime if d.date >= today)],
        [*past.nitrogen, *ahead], past.site,
    )
    member = series(whole, method=method)
    prior, neighbours = prior_for(member, pooled)
    values, noise = corrected(member, pooled)
    end = month_number(today) + months_ahead + 1
    fitted = fit(member, prior, values=values, noise=noise, end_month=end)
    return _told(
        member, fitted, prior, pooled, today=today, neighbours=neighbours, usual=usual, ahead=ahead,
        pace_ph=pace_ph,
    )


def usual_acidity_lb_per_acre_year(history: PlotHistory, *, today: dt.date) -> float:
    """Mean yearly nitrogen acidity of the last five years (or as many as the records reach back), lb CaCO3/acre."""
    if not history.nitrogen:
        return 0.0
    begin = min([test.date for test in history.tests] + [dressing.date for dressing in history.nitrogen])
    years = min(_USUAL_YEARS, max(1.0, (today - begin).days / 365.25))
    since = today - dt.timedelta(days=round(years * 365.25))
    return sum(acidity_lb_per_acre(d) for d in history.nitrogen if since < d.date <= today) / years


def _ahead(
    planned: Sequence[NitrogenDressing] | None, usual: float, *, today: dt.date, months: int,
) -> list[NitrogenDressing]:
    """Nitrogen after today: the plan, or a dressing a year of an acidity like the usual one."""
    if planned is not None:
        return [dressing for dressing in planned if dressing.date >= today]
    if usual == 0.0:
        return []
    source = "urea" if usual > 0 else "sodium_nitrate"
    amount = min(usual / acidity_per_lb_n(source) / 4.0, 2000.0)
    first = month_number(today) + 1
    return [NitrogenDressing(first_of_month(m), source, amount) for m in range(first, first + months, 3)]


def _told(
    member: Series, fitted: Fit, prior: Prior, pooled: PooledPriors, *,
    today: dt.date, neighbours: int, usual: float, ahead: Sequence[NitrogenDressing], pace_ph: float | None,
) -> Forecast:
    mean, variance = predict(fitted, fitted.grid)
    shown = slice(month_number(member.days[0].date) - fitted.start_month, None)
    band = EIGHTY_PERCENT * np.sqrt(variance)
    single = (_TEST["plot_sd"] ** 2 + _TEST["sample_sd"] ** 2) * pooled.noise_scale + pooled.date_sd**2
    wide = EIGHTY_PERCENT * np.sqrt(variance + single)
    months = range(month_number(member.days[0].date), fitted.start_month + len(mean))
    posterior = Prior(fitted.parameters, fitted.covariance)
    now = float(mean[month_number(today) - fitted.start_month])
    years_ahead = max(len(mean) - 1 - (month_number(today) - fitted.start_month), 1) / 12.0
    acid = sum(acidity_lb_per_acre(dressing) for dressing in ahead) / years_ahead if ahead else 0.0
    return Forecast(
        today, tuple(first_of_month(m) for m in months), _floats(mean[shown]),
        _floats((mean - band)[shown]), _floats((mean + band)[shown]),
        _floats((mean - wide)[shown]), _floats((mean + wide)[shown]),
        _floats(fitted.course.unreacted[shown, 0]),
        acid * math.exp(float(fitted.parameters[5] - fitted.parameters[1])), usual,
        pace(
            prior, posterior, at_ph=now if pace_ph is None else pace_ph, acid_lb_per_year=usual,
            neighbours=neighbours, tests=len(member.days),
            years=(member.days[-1].date - member.days[0].date).days / 365.25,
        ),
        _parameters(posterior, member.site.depth_in), member.method, len(member.days), member.left_out,
        math.sqrt(single), neighbours,
    )


def _floats(values: Array) -> tuple[float, ...]:
    return tuple(values.tolist())


def _parameters(posterior: Prior, depth_in: float) -> EffectiveParameters:
    mean = posterior.mean
    sd = np.sqrt(np.diag(posterior.covariance))
    return EffectiveParameters(
        log_range(mean[1], sd[1]), log_range(mean[2], sd[2]), normal_range(mean[3], sd[3]),
        log_range(mean[4], sd[4]), log_range(mean[5], sd[5]), depth_in,
    )
