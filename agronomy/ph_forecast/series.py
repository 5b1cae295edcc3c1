"""A plot's history made ready for stepping: one pH series, months, dressings by month."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from agronomy.acidification import NITROGEN_TABLES, per_lb_n
from agronomy.ph_forecast.inputs import LimeDressing, NitrogenDressing, PhTest, PlotHistory, SiteFacts
from agronomy.ph_forecast.model import Array, Drivers
from agronomy.ph_forecast.months import month_number, month_position
from agronomy.ph_forecast.priors import Base, base
from agronomy.sources import load_table

_TABLE = load_table("ph_forecast")
_YEARS_BEFORE_FIRST_TEST = 12
_DEPTH_FITS = (0.6, 1.7)


@dataclass(frozen=True, slots=True)
class TestDay:
    """All tests of one day and lab, averaged."""

    date: dt.date
    ph: float
    samples: int
    lab: str
    depth_in: float


@dataclass(frozen=True, slots=True)
class Series:
    """One plot's tests of one method, oldest first, with the month its course starts in."""

    key: str
    days: tuple[TestDay, ...]
    method: str
    left_out: int
    start_month: int
    site: SiteFacts
    lime: tuple[LimeDressing, ...]
    nitrogen: tuple[NitrogenDressing, ...]
    base: Base
    offset: float

    def positions(self) -> Array:
        """Month positions of the test days."""
        return np.array([month_position(day.date) for day in self.days])

    def values(self) -> Array:
        """pH of the test days."""
        return np.array([day.ph for day in self.days])

    def depth_on(self, day: dt.date) -> float:
        """The depth that pH speaks of on a day, in: that of the newest test by then, else of the first."""
        past = [test.depth_in for test in self.days if test.date <= day]
        return past[-1] if past else self.days[0].depth_in

    def noise(self, scale: float) -> Array:
        """Variances of the test days, without what a date shifts all plots by."""
        test = _TABLE["test"]
        samples = np.array([day.samples for day in self.days], dtype=float)
        variances: Array = scale * (test["plot_sd"] ** 2 + test["sample_sd"] ** 2 / samples)
        return variances


def series(history: PlotHistory, *, method: str | None = None) -> Series:
    """Choose the plot's series and its starting values; `ValueError` where no test is left to start from.

    pH methods are never mixed: the series takes `method`, else that of the newest test. Tests of a depth outside
    0.6 to 1.7 times the plot's are left out unless they are all there is.
    """
    if not history.tests:
        raise ValueError("a forecast needs at least one soil test with a pH")
    tests = sorted(history.tests, key=lambda test: test.date)
    chosen = method or tests[-1].method
    fitting = [test for test in tests if test.method == chosen]
    if not fitting:
        raise ValueError(f"no test by {chosen}; there are tests by {', '.join(sorted({t.method for t in tests}))}")
    low, high = (factor * history.site.depth_in for factor in _DEPTH_FITS)
    deep = [test for test in fitting if low <= test.depth_in <= high] or fitting
    days = _by_day(deep)
    lime = tuple(sorted(history.lime, key=lambda dressing: dressing.date))
    first = days[0].date
    earliest = first.replace(year=first.year - _YEARS_BEFORE_FIRST_TEST, day=1)
    before = [dressing for dressing in lime if earliest <= dressing.date < first]
    offset = float(_TABLE["method_offset"].get(chosen, 0.0))
    start = base(
        history.site, first_ph=days[0].ph, offset=offset,
        sieved=bool(lime) and all(dressing.sieve_shares is not None for dressing in lime),
        limed_before_lb=sum(dressing.caco3_lb_per_acre for dressing in before),
    )
    return Series(
        history.key, days, chosen, len(tests) - len(deep),
        min(month_number(day) for day in (first, *(dressing.date for dressing in before))),
        history.site, tuple(d for d in lime if d.date >= min(earliest, first)),
        tuple(history.nitrogen), start, offset,
    )


def _by_day(tests: Sequence[PhTest]) -> tuple[TestDay, ...]:
    grouped: dict[tuple[dt.date, str], list[PhTest]] = {}
    for test in tests:
        grouped.setdefault((test.date, test.lab), []).append(test)
    days = []
    for (date, lab), group in sorted(grouped.items()):
        samples = sum(test.samples for test in group)
        ph = sum(test.ph * test.samples for test in group) / samples
        days.append(TestDay(date, ph, samples, lab, group[-1].depth_in))
    return tuple(days)


def acidity_lb_per_acre(dressing: NitrogenDressing) -> float:
    """Acidity of a nitrogen dressing by the tables, lb CaCO3/acre; negative where basic."""
    return dressing.n_lb_per_acre * acidity_per_lb_n(dressing.source)


@cache
def acidity_per_lb_n(source: str) -> float:
    """lb CaCO3 used up by 1 lb N of a source: by the published tables before those from memory, then by this
    package's own list; an unknown source as most nitrogen (1.8)."""
    for name in NITROGEN_TABLES[:-1]:
        if source in per_lb_n(name):
            return per_lb_n(name)[source]
    own = _TABLE["acidity"]
    return float(own.get(source, own["other"]))


def drivers(members: Sequence[Series], *, start_month: int, months: int) -> Drivers:
    """What acts on these plots over `months` months from `start_month` on."""
    plots = len(members)
    lime = np.zeros((months, 4, plots))
    acid = np.zeros((months, plots))
    active = np.ones((months, plots))
    for p, member in enumerate(members):
        active[: max(member.start_month - start_month, 0), p] = 0.0
        for dressing in member.lime:
            _put_lime(lime, dressing, member, start_month, p)
        for nitrogen in member.nitrogen:
            at = month_number(nitrogen.date) - start_month
            if member.start_month - start_month <= at < months:
                amount = acidity_lb_per_acre(nitrogen) * member.site.depth_in / member.depth_on(nitrogen.date)
                _spread_acid(acid, amount, at, p)
    return Drivers(lime, acid, active, np.array([member.offset for member in members]))


def _spread_acid(acid: Array, amount: float, at: int, p: int) -> None:
    """Nitrification and leaching take a season: spread the acidity over six months."""
    end = min(at + 6, acid.shape[0])
    acid[at:end, p] += amount / 6.0


def _put_lime(lime: Array, dressing: LimeDressing, member: Series, start_month: int, p: int) -> None:
    """Share a dressing between the month it falls in and the next, so that its mean date is right.

    A test of the same month decides: before the dressing it must not see it, after it it must.
    """
    shares = dressing.sieve_shares or tuple(_TABLE["reaction"]["typical_shares"])
    sampled = member.depth_on(dressing.date)
    amount = dressing.caco3_lb_per_acre * member.site.depth_in / max(sampled, dressing.depth_in or sampled)
    position = month_position(dressing.date)
    month = int(position)
    late = position - month
    same = [day.date for day in member.days if month_number(day.date) == month]
    if any(day <= dressing.date and day.day > 1 for day in same):
        late = 1.0
    elif any(day > dressing.date for day in same):
        late = 0.0
    per_class = amount * np.array(shares)
    for at, part in ((month - start_month, 1.0 - late), (month + 1 - start_month, late)):
        if 0 <= at < lime.shape[0] and part > 0.0:
            lime[at, :, p] += part * per_class
