"""What a forecast promises whoever calls it: months, bands, what it looks at and what it refuses."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
import random

import pytest

from agronomy.ph_forecast import (
    Forecast,
    LimeDressing,
    NitrogenDressing,
    PhTest,
    PooledPriors,
    SiteFacts,
    fingerprint,
    forecast,
    forecast_from_plain,
    forecast_to_plain,
    pool,
    priors_from_plain,
    priors_to_plain,
)
from tests.agronomy.forecast.grounds import AGLIME, SILT_LOAM, day, draw_property, yearly_nitrogen

TODAY = dt.date(2024, 11, 5)
TESTS = [PhTest(day(year), ph, 6.0) for year, ph in ((2016, 5.4), (2018, 6.3), (2021, 6.1), (2024, 5.9))]
LIME = [LimeDressing(dt.date(2016, 10, 10), 4000.0, AGLIME, key="first")]
FED = yearly_nitrogen("urea", 60.0, first=2016, last=2024)


def told(**changes: object) -> Forecast:
    asked: dict[str, object] = {"tests": TESTS, "lime": LIME, "nitrogen": FED, "site": SILT_LOAM, "today": TODAY}
    return forecast(**(asked | changes))  # type: ignore[arg-type]


def test_months_run_from_the_first_test_to_three_years_ahead() -> None:
    view = told()
    assert view.months[0] == dt.date(2016, 9, 1)
    assert view.months[-1] >= dt.date(2027, 11, 5)
    assert view.months[-1] <= dt.date(2027, 12, 1)
    assert all(month.day == 1 for month in view.months)
    for line in (view.median, view.low, view.high, view.test_low, view.test_high, view.reacting_lb_per_acre):
        assert len(line) == len(view.months)
        assert all(type(value) is float for value in line)


def test_bands_are_in_order_and_widen_ahead() -> None:
    view = told()
    for edges in zip(view.test_low, view.low, view.median, view.high, view.test_high, strict=True):
        assert list(edges) == sorted(edges)
    widths = [high - low for low, high in zip(view.low, view.high, strict=True)]
    now = view.months.index(dt.date(2024, 11, 1))
    assert widths[now] < widths[now + 12] < widths[-1]


def test_a_claim_for_one_test_is_never_under_the_noise() -> None:
    """A single test's 80 % band is at least 0.2 pH either side, however well the plot is known."""
    many = [PhTest(day(year, month), 6.0, 6.0) for year in range(2010, 2025) for month in (4, 9)]
    view = told(tests=many, lime=[], nitrogen=[])
    assert view.test_high[-36] - view.median[-36] > 0.2


def test_the_newest_test_is_weighted_not_taken_as_truth() -> None:
    odd = [*TESTS[:-1], dataclasses.replace(TESTS[-1], ph=5.0)]
    before, after = told(tests=TESTS[:-1]).at(day(2024)), told(tests=odd).at(day(2024))
    assert 5.0 + 0.2 < after < before - 0.2


def test_what_lies_after_today_is_not_looked_at() -> None:
    early = dt.date(2019, 1, 10)
    seen = told(today=early)
    alone = told(
        today=early, tests=TESTS[:2], nitrogen=[fed for fed in FED if fed.date <= early],
        lime=[one for one in LIME if one.date <= early],
    )  # fmt: skip
    assert seen == alone


def test_order_of_facts_does_not_matter() -> None:
    mixed = random.Random(3)
    tests, fed = list(TESTS), list(FED)
    mixed.shuffle(tests)
    mixed.shuffle(fed)
    view = told(tests=tests, nitrogen=fed)
    assert view.median == pytest.approx(told().median, abs=1e-9)
    assert fingerprint(tests, LIME, fed, SILT_LOAM) == fingerprint(TESTS, LIME, FED, SILT_LOAM)


def test_methods_are_never_mixed() -> None:
    chloride = [PhTest(day(2022), 5.2, 6.0, method="cacl2"), PhTest(day(2023), 5.1, 6.0, method="cacl2")]
    both = told(tests=[*TESTS, *chloride])
    assert (both.method, both.tests_used, both.tests_left_out) == ("water_1_1", 4, 2)
    assert both.median == told().median
    by_chloride = told(tests=[*TESTS, *chloride], method="cacl2")
    assert (by_chloride.method, by_chloride.tests_used, by_chloride.tests_left_out) == ("cacl2", 2, 4)
    assert by_chloride.at(TODAY) < both.at(TODAY) - 0.4


def test_native_ph_is_on_the_scale_of_the_series() -> None:
    one = [PhTest(day(2024), 5.0, 6.0, method="cacl2")]
    water = [PhTest(day(2024), 5.6, 6.0)]
    by_water, by_chloride = (told(tests=tests, lime=[], nitrogen=[]).native_ph.median for tests in (water, one))
    gap = by_water - by_chloride
    assert gap == pytest.approx(0.6, abs=0.02)


def test_a_test_of_another_depth_is_left_out() -> None:
    shallow = PhTest(day(2023), 4.4, 2.0)
    view = told(tests=[*TESTS, shallow])
    assert view.tests_left_out == 1
    assert view.median == told().median


def test_several_samples_of_a_day_count_once_but_say_more() -> None:
    twice = [*TESTS[:-1], PhTest(day(2024), 5.8, 6.0), PhTest(day(2024), 6.0, 6.0)]
    view = told(tests=twice)
    assert view.tests_used == 4
    assert view.at(TODAY, "high") - view.at(TODAY, "low") < told().at(TODAY, "high") - told().at(TODAY, "low")


def test_lime_worked_deeper_than_sampled_is_thinned() -> None:
    deep = told(tests=TESTS[:1], today=dt.date(2016, 9, 2), lime=[],
                planned_lime=[dataclasses.replace(LIME[0], depth_in=12.0)])  # fmt: skip
    even = told(tests=TESTS[:1], today=dt.date(2016, 9, 2), lime=[], planned_lime=LIME)
    half = told(tests=TESTS[:1], today=dt.date(2016, 9, 2), lime=[],
                planned_lime=[dataclasses.replace(LIME[0], caco3_lb_per_acre=2000.0)])  # fmt: skip
    assert deep.median == pytest.approx(half.median)
    assert max(even.median) > max(deep.median) + 0.2


def test_plans_move_what_is_ahead_only() -> None:
    plan = told(planned_lime=[LimeDressing(dt.date(2025, 3, 1), 3000.0, AGLIME)])
    now = plan.months.index(dt.date(2025, 3, 1))
    assert plan.median[:now] == pytest.approx(told().median[:now], abs=0.02)
    assert plan.median[now + 12] > told().median[now + 12] + 0.3
    none = told(planned_nitrogen=[])
    assert none.nitrogen_pull_ph_per_year == 0.0
    assert none.median[-1] > told().median[-1]
    heavy = told(planned_nitrogen=yearly_nitrogen("ammonium_sulfate", 150.0, first=2025, last=2027))
    assert heavy.median[-1] < told().median[-1] - 0.1
    assert heavy.nitrogen_pull_ph_per_year > told().nitrogen_pull_ph_per_year > 0.0


def test_usual_nitrogen_goes_on() -> None:
    """60 lb N of urea a year at 1.8 is 108 lb CaCO3."""
    assert told().usual_acidity_lb_per_acre_year == pytest.approx(108.0, rel=0.01)


def test_floor_crossing_comes_earlier_for_the_lower_edge() -> None:
    view = told()
    floor = view.at(dt.date(2026, 5, 1))
    median, low = view.floor_crossing(floor, edge="median"), view.floor_crossing(floor)
    assert median is not None
    assert low is not None
    assert low < median
    assert abs((median - dt.date(2026, 5, 1)).days) <= 2
    assert view.floor_crossing(4.0) is None
    assert view.floor_crossing(7.5) == TODAY
    later = dt.date(2025, 6, 1)
    assert view.floor_crossing(7.5, after=later) == later


def test_crossing_is_where_the_line_is() -> None:
    view = told()
    floor = 5.75
    crossed = view.floor_crossing(floor, edge="median")
    assert crossed is not None
    assert view.at(crossed, "median") == pytest.approx(floor, abs=0.01)


def test_pace_says_how_much_it_knows() -> None:
    one = told(tests=TESTS[:1], lime=[])
    assert not one.pace.knows_enough
    assert one.pace.learned_share == pytest.approx(0.0, abs=0.01)
    falling = [PhTest(day(2010 + year), 5.0 + 1.6 * math.exp(-0.1 * year), 6.0) for year in range(14)]
    view = told(tests=falling, lime=[], nitrogen=[], pace_ph=6.0)
    assert view.pace.knows_enough
    assert view.pace.tests == 14
    assert view.pace.at_ph == 6.0
    assert view.pace.fall_ph_per_year.median == pytest.approx(0.1, abs=0.035)
    assert view.pace.fall_ph_per_year.low < 0.1 < view.pace.fall_ph_per_year.high
    spread = view.pace.fall_ph_per_year.high - view.pace.fall_ph_per_year.low
    assert spread < view.pace.expected.high - view.pace.expected.low


def test_stored_forecasts_answer_like_fresh_ones() -> None:
    others = draw_property(4, plots=5, dates=[day(2019), day(2022)], months=60)
    view = told(priors=pool([drawn.history for drawn in others]))
    again = forecast_from_plain(json.loads(json.dumps(forecast_to_plain(view))))
    assert again.months == view.months
    assert again.median == pytest.approx(view.median, abs=1e-5)
    assert again.floor_crossing(5.8) == view.floor_crossing(5.8)
    assert again.pace.knows_enough == view.pace.knows_enough
    with pytest.raises(ValueError, match="not a forecast"):
        forecast_from_plain({"months": []})


def test_stored_priors_are_the_same() -> None:
    drawn = draw_property(5, plots=6, dates=[day(2018), day(2020), day(2022)], months=60)
    priors = pool([one.history for one in drawn])
    assert priors.shifts
    assert priors.shares
    assert priors_from_plain(json.loads(json.dumps(priors_to_plain(priors)))) == priors
    with pytest.raises(ValueError, match="not pooled priors"):
        priors_from_plain({"mean": [0.0]})


def test_the_fingerprint_moves_with_every_fact() -> None:
    base = fingerprint(TESTS, LIME, FED, SILT_LOAM)
    others = [
        fingerprint([*TESTS[:-1], dataclasses.replace(TESTS[-1], ph=5.91)], LIME, FED, SILT_LOAM),
        fingerprint(TESTS, [dataclasses.replace(LIME[0], caco3_lb_per_acre=4001.0)], FED, SILT_LOAM),
        fingerprint(TESTS, LIME, FED[:-1], SILT_LOAM),
        fingerprint(TESTS, LIME, FED, dataclasses.replace(SILT_LOAM, depth_in=5.0)),
        fingerprint(TESTS, LIME, FED, SILT_LOAM, priors=PooledPriors()),
    ]
    assert len({base, *others}) == 6
    assert len(base) == 64


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: forecast([], today=TODAY), "at least one soil test"),
        (lambda: told(today=dt.date(2010, 1, 1)), "at least one soil test"),
        (lambda: told(months_ahead=0), "1 to 720"),
        (lambda: told(method="kcl"), "no test by kcl"),
        (lambda: told().at(dt.date(2040, 1, 1)), "2016-09-01"),
        (lambda: PhTest(TODAY, 1.5), "2 to 11"),
        (lambda: PhTest(TODAY, float("nan")), "2 to 11"),
        (lambda: PhTest(TODAY, 6.0, 0.0), "0.5 to 40"),
        (lambda: PhTest(TODAY, 6.0, method="litmus"), "water_1_1"),
        (lambda: LimeDressing(TODAY, -1.0), "0 to 100000"),
        (lambda: LimeDressing(TODAY, 1.0, (0.5, 0.5, 0.5, 0.0)), "sum to 1"),
        (lambda: LimeDressing(TODAY, 1.0, (1.2, -0.2, 0.0, 0.0)), "0 to 1"),
        (lambda: NitrogenDressing(TODAY, "urea", 2001.0), "0 to 2000"),
        (lambda: SiteFacts(texture="peaty"), "loam"),
        (lambda: SiteFacts(clay_percent=101.0), "0 to 100"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_name(make: object, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        make()  # type: ignore[operator]
