"""Invented plots for the forecast's tests, and histories drawn from the model with all truth known."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from agronomy.ph_forecast import LimeDressing, NitrogenDressing, PhTest, PlotHistory, SieveShares, SiteFacts
from agronomy.ph_forecast.estimate import drift_variance
from agronomy.ph_forecast.model import Array, simulate
from agronomy.ph_forecast.priors import shared_variance
from agronomy.ph_forecast.series import Series, drivers, series
from agronomy.sources import load_table

TABLE = load_table("ph_forecast")
FINE: SieveShares = (1.0, 0.0, 0.0, 0.0)
AGLIME: SieveShares = (0.45, 0.20, 0.30, 0.05)
COARSE: SieveShares = (0.20, 0.20, 0.40, 0.20)
SILT_LOAM = SiteFacts(texture="silt_loam", organic_matter_percent=2.5, region="cool_humid", depth_in=6.0)
START = dt.date(2020, 3, 1)


def day(year: int, month: int = 9, of_month: int = 1) -> dt.date:
    return dt.date(year, month, of_month)


def yearly_nitrogen(source: str, lb: float, *, first: int, last: int) -> list[NitrogenDressing]:
    """A dressing each April."""
    return [NitrogenDressing(dt.date(year, 4, 1), source, lb) for year in range(first, last + 1)]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A plot drawn from the model: its history, and the ground's true pH at each month from `start_month`."""

    history: PlotHistory
    truth: Array
    start_month: int
    parameters: Array


def draw_property(
    seed: int, *, plots: int, dates: Sequence[dt.date], months: int, first_ph: float = 5.6, lab_sd: float | None = None,
) -> list[Drawn]:
    """Draw a property of `plots` plots tested on `dates`, its truth carried on for `months` months.

    Parameters come from the priors, drift, shifts of dates and noise from their stated spreads: what the forecast
    believes is true here, so its bands must hold.
    """
    random = np.random.default_rng(seed)
    members = [series(_bare(random, number, dates, first_ph)) for number in range(plots)]
    shared = np.concatenate([[0.0], random.normal(0.0, np.sqrt(shared_variance()))])
    parameters = np.array([
        member.base.mean + shared + random.normal(0.0, np.sqrt(_own(member))) for member in members
    ])  # fmt: skip
    acting = drivers(members, start_month=members[0].start_month, months=months)
    course = simulate(parameters.T[:, :, None], acting)
    truth = course.ph[:, :, 0] + _drift(random, drift_variance(course, acting))
    sd = TABLE["test"]["date_sd"] if lab_sd is None else lab_sd
    shift = random.normal(0.0, sd, len(dates))
    return [_drawn(random, member, truth[:, p], shift, parameters[p]) for p, member in enumerate(members)]


def _own(member: Series) -> Array:
    own = member.base.own_variance.copy()
    own[0] = 0.15**2
    return own


def _bare(random: np.random.Generator, number: int, dates: Sequence[dt.date], first_ph: float) -> PlotHistory:
    tests = [PhTest(date, first_ph, 6.0) for date in dates]
    later = [date for date in dates[1:-1] if random.random() < 0.4] or [dates[0] + dt.timedelta(days=60)]
    lime = [LimeDressing(date + dt.timedelta(days=30), float(random.choice([1500, 3000, 5000])), AGLIME)
            for date in later[:3]]  # fmt: skip
    source = str(random.choice(["urea", "ammonium_sulfate", "ammonium_nitrate"]))
    lb = float(random.choice([0, 60, 120]))
    fed = yearly_nitrogen(source, lb, first=dates[0].year, last=dates[-1].year + 6) if lb else []
    return PlotHistory(f"plot {number}", tests, lime, fed, SILT_LOAM)


def _drift(random: np.random.Generator, variance: Array) -> Array:
    """A path of the drift with the given variance at every node."""
    fade = float(np.exp(-1.0 / (12.0 * TABLE["spread"]["drift_years"])))
    path = np.zeros_like(variance)
    for t in range(1, len(variance)):
        fresh = np.maximum(variance[t] - fade**2 * variance[t - 1], 0.0)
        path[t] = fade * path[t - 1] + random.normal(0.0, np.sqrt(fresh))
    return path


def _drawn(
    random: np.random.Generator, member: Series, truth: Array, shift: Array, parameters: Array,
) -> Drawn:
    at = member.positions() - member.start_month
    noise = np.sqrt(member.noise(1.0))
    seen = np.interp(at, np.arange(len(truth)), truth) + shift + random.normal(0.0, noise)
    tests = [PhTest(one.date, float(np.clip(value, 2.5, 10.0)), 6.0)
             for one, value in zip(member.days, seen, strict=True)]  # fmt: skip
    history = PlotHistory(member.key, tests, member.lime, member.nitrogen, member.site)
    return Drawn(history, truth, member.start_month, parameters)
