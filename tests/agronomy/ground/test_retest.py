"""When a plot is due for sampling again."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from agronomy.months import add_months, months_apart
from agronomy.retest import LimeEvent, RetestFacts, RetestRules, retest_due

DAYS = st.dates(dt.date(1990, 1, 1), dt.date(2090, 12, 31))
MONTHS = st.one_of(st.none(), st.integers(1, 12))
FACTS = st.builds(
    RetestFacts,
    last_sample_on=st.one_of(st.none(), DAYS),
    lime=st.lists(st.builds(LimeEvent, spread_on=DAYS), max_size=3).map(tuple),
    usual_sampling_month=MONTHS,
    ph_critical=st.booleans(),
    staged=st.booleans(),
    demand_rose_on=st.one_of(st.none(), DAYS),
    floor_crossed_on=st.one_of(st.none(), DAYS),
)


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def limed(on: str, *, month: int | None = 9, sampled: str = "2025-09-12") -> RetestFacts:
    return RetestFacts(last_sample_on=day(sampled), lime=(LimeEvent(day(on)),), usual_sampling_month=month)


def codes(facts: RetestFacts) -> list[str]:
    return [reason.code for reason in retest_due(facts).reasons]


def test_lime_in_march_is_looked_at_a_year_later_when_the_usual_month_is_far() -> None:
    due = retest_due(limed("2026-03-20"))
    assert due.due_on == day("2027-03-20")
    assert due.reasons[0].code == "retest_after_lime"
    assert due.reasons[0].values == {"limed_on": "2026-03-20", "months": 12, "moved_months": 0}


def test_lime_in_june_waits_for_the_usual_september() -> None:
    due = retest_due(limed("2026-06-10"))
    assert due.due_on == day("2027-09-10")
    assert due.reasons[0].values["months"] == 15


@pytest.mark.parametrize(
    ("spread_on", "month", "due_on"),
    [
        ("2026-12-15", 9, "2027-09-15"),  # three months back
        ("2026-11-15", 2, "2028-02-15"),  # over the turn of the year
        ("2026-01-15", 10, "2026-10-15"),
        ("2026-05-31", 6, "2027-06-30"),  # June has no 31st
        ("2024-02-29", None, "2025-02-28"),
        ("2026-03-20", 7, "2027-03-20"),  # four months off: stays
    ],
)
def test_a_near_sampling_month_draws_the_date_to_it(spread_on: str, month: int | None, due_on: str) -> None:
    assert retest_due(limed(spread_on, month=month, sampled=spread_on)).due_on == day(due_on)


def test_the_newest_lime_counts() -> None:
    facts = replace(limed("2026-03-20"), lime=(LimeEvent(day("2026-03-20")), LimeEvent(day("2025-10-01"))))
    assert retest_due(facts).due_on == day("2027-03-20")


def test_a_sample_six_months_after_lime_has_seen_it_and_a_sooner_one_has_not() -> None:
    assert retest_due(limed("2025-03-12", sampled="2025-09-12")).due_on == day("2028-09-12")
    assert retest_due(limed("2025-03-12", sampled="2025-09-11")).due_on == day("2026-03-12")


def test_without_lime_the_cycle_rules_and_critical_or_staged_ground_is_yearly() -> None:
    plain = RetestFacts(last_sample_on=day("2025-09-12"))
    assert retest_due(plain).due_on == day("2028-09-12")
    assert codes(plain) == ["retest_cycle", "retest_too_old"]
    for fact in ("ph_critical", "staged"):
        yearly = replace(plain, **{fact: True})
        assert retest_due(yearly).due_on == day("2026-09-12")
        assert codes(yearly)[0] == f"retest_{fact}"


def test_never_tested_is_now_unless_lime_still_has_to_work() -> None:
    assert retest_due(RetestFacts()).due_on is None
    assert codes(RetestFacts()) == ["retest_never_tested"]
    fresh = RetestFacts(lime=(LimeEvent(day("2026-03-20")),))
    assert retest_due(fresh).due_on == day("2026-09-20")
    assert codes(fresh) == ["retest_waits_for_lime", "retest_never_tested"]


def test_the_forecast_brings_the_date_forward_and_only_forward() -> None:
    plain = RetestFacts(last_sample_on=day("2025-09-12"), floor_ph=5.8)
    early = replace(plain, floor_crossed_on=day("2027-05-01"))
    assert retest_due(early).due_on == day("2027-05-01")
    assert retest_due(early).reasons[0].values == {"floor_ph": 5.8}
    assert retest_due(replace(plain, floor_crossed_on=day("2031-05-01"))).due_on == day("2028-09-12")
    assert retest_due(replace(plain, floor_crossed_on=day("2025-09-12"))).due_on == day("2028-09-12")


def test_a_more_demanding_crop_asks_for_a_test_once_the_old_one_is_no_longer_fresh() -> None:
    plain = RetestFacts(last_sample_on=day("2025-09-12"), target_before=6.0, target_now=6.8)
    assert retest_due(replace(plain, demand_rose_on=day("2026-04-01"))).due_on == day("2026-09-12")
    late = replace(plain, demand_rose_on=day("2027-04-01"))
    assert retest_due(late).due_on == day("2027-04-01")
    assert retest_due(late).reasons[0].values["target_now"] == 6.8
    assert retest_due(replace(plain, demand_rose_on=day("2025-04-01"))).due_on == day("2028-09-12")


def test_a_test_grows_too_old_to_prescribe_on_even_when_lime_puts_the_look_off() -> None:
    facts = limed("2026-06-10", sampled="2023-03-01")
    assert codes(facts)[0] == "retest_too_old"
    assert retest_due(facts).due_on == day("2027-03-01")
    longer = RetestRules(cycle_months=60)
    assert retest_due(RetestFacts(last_sample_on=day("2020-01-01")), rules=longer).due_on == day("2025-01-01")


def test_nothing_is_sampled_within_six_months_of_lime() -> None:
    facts = replace(limed("2026-06-10"), floor_crossed_on=day("2026-08-01"))
    due = retest_due(facts)
    assert due.due_on == day("2026-12-10")
    assert due.reasons[0].code == "retest_waits_for_lime"
    assert "retest_forecast_floor" in codes(facts)


@given(facts=FACTS)
def test_the_date_is_the_earliest_reason_but_never_too_soon_after_lime(facts: RetestFacts) -> None:
    due = retest_due(facts)
    newest = max((event.spread_on for event in facts.lime), default=None)
    assert due.reasons[0].date == due.due_on
    if due.due_on is None:
        assert facts.last_sample_on is None
        assert newest is None
        return
    if newest is not None:
        assert due.due_on >= newest + relativedelta(months=6)
    if facts.last_sample_on is not None:
        assert due.due_on > facts.last_sample_on
        others = [reason.date for reason in due.reasons if reason.code != "retest_waits_for_lime"]
        assert due.due_on == max(min(others), newest + relativedelta(months=6) if newest else dt.date.min)


@given(day=DAYS, months=st.integers(-600, 600))
def test_months_are_added_as_a_calendar_library_adds_them(day: dt.date, months: int) -> None:
    assert add_months(day, months) == day + relativedelta(months=months)


def test_months_stay_in_the_calendar() -> None:
    assert add_months(dt.date(9999, 12, 1), 1) == dt.date.max
    assert add_months(dt.date(1, 1, 1), -1) == dt.date.min


@given(month=st.integers(1, 12), other=st.integers(1, 12))
def test_months_apart_lead_to_the_other_month_by_the_shorter_way(month: int, other: int) -> None:
    apart = months_apart(month, other)
    assert -5 <= apart <= 6
    assert (month - 1 + apart) % 12 + 1 == other


def test_what_is_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="not 1 to 12"):
        retest_due(limed("2026-03-20", month=13))
    with pytest.raises(ValueError, match="cycle_months of -1"):
        RetestRules(cycle_months=-1)
    with pytest.raises(ValueError, match="0 to 6 months"):
        RetestRules(sampling_month_reach=7)
