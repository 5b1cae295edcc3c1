"""The status of a plot: the order of decision, and each edge of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.status import STATUSES, StandingFacts, StatusRules, plot_status, settling_until, trigger_ph

TODAY = dt.date(2026, 5, 1)
TRIGGER = trigger_ph(target_ph=6.5)
TESTED = StandingFacts(tested_on=dt.date(2025, 9, 12), test_ph=6.4, trigger_ph=TRIGGER, owed_effective_lb=0.0)


def status(facts: StandingFacts = TESTED, today: dt.date = TODAY, **changes: object) -> str:
    return plot_status(replace(facts, **changes), today=today)  # type: ignore[arg-type]


def test_noise_about_the_target_is_left_alone_and_a_real_need_goes_through_to_settling() -> None:
    assert TRIGGER == 6.2
    assert status(owed_effective_lb=300.0) == "in_range"
    short = replace(TESTED, test_ph=6.1, owed_effective_lb=2100.0)
    assert status(short) == "short_of_lime"
    assert status(short, ordered_effective_lb=24 * 40 * 0.89 / 0.4) == "ordered"
    given_lb = 22 * 40 * 0.89 / 0.4
    assert given_lb == pytest.approx(1958)
    limed = replace(short, owed_effective_lb=2100 - given_lb, settling_until=settling_until(TODAY))
    assert status(limed) == "settling"
    assert status(limed, today=dt.date(2027, 5, 1)) == "settling"
    assert status(limed, today=dt.date(2027, 5, 2)) == "in_range"


def test_the_order_of_decision() -> None:
    everything = StandingFacts(
        tested_on=dt.date(2020, 1, 1), test_ph=5.0, trigger_ph=6.2, upper_ph=4.9, owed_effective_lb=3000.0,
        ordered_effective_lb=3000.0, retest_due_on=dt.date(2021, 1, 1), settling_until=dt.date(2030, 1, 1),
    )  # fmt: skip
    assert status(everything) == "ordered"
    assert status(everything, tested_on=None) == "ordered"
    unordered = replace(everything, ordered_effective_lb=0.0)
    assert status(unordered) == "retest_due"
    assert status(unordered, tested_on=None) == "no_test"
    assert status(unordered, retest_due_on=dt.date(2030, 1, 1)) == "short_of_lime"
    small = replace(unordered, retest_due_on=None, owed_effective_lb=499.9)
    assert status(small) == "settling"
    assert status(small, settling_until=None) == "over_target"
    assert status(small, settling_until=None, upper_ph=None) == "in_range"


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"test_ph": 6.2, "owed_effective_lb": 900.0}, "in_range"),  # at the trigger is not under it
        ({"test_ph": 6.19, "owed_effective_lb": 500.0}, "short_of_lime"),
        ({"test_ph": 6.19, "owed_effective_lb": 499.9}, "in_range"),
        ({"test_ph": 6.0, "owed_effective_lb": 1000.0, "ordered_effective_lb": 800.0}, "ordered"),
        ({"test_ph": 6.0, "owed_effective_lb": 3000.0, "ordered_effective_lb": 2399.0}, "short_of_lime"),
        ({"test_ph": 6.0, "owed_effective_lb": 600.0, "ordered_effective_lb": 0.0}, "short_of_lime"),
        ({"retest_due_on": TODAY}, "retest_due"),
        ({"retest_due_on": TODAY + dt.timedelta(1)}, "in_range"),
        ({"settling_until": TODAY}, "settling"),
        ({"settling_until": TODAY - dt.timedelta(1)}, "in_range"),
        ({"test_ph": 7.3}, "in_range"),
        ({"test_ph": 7.31}, "over_target"),
        ({"test_ph": 6.9, "upper_ph": 6.8}, "over_target"),
        ({"test_ph": None}, "no_test"),
        ({"test_ph": 5.0, "owed_effective_lb": None}, "short_of_lime"),
        ({"owed_effective_lb": None}, "in_range"),
    ],
)
def test_every_edge(changes: dict[str, object], expected: str) -> None:
    assert status(**changes) == expected


def test_the_manager_may_set_every_figure() -> None:
    facts = replace(TESTED, test_ph=6.0, owed_effective_lb=1000.0, ordered_effective_lb=500.0)
    assert plot_status(facts, today=TODAY) == "short_of_lime"
    assert plot_status(facts, today=TODAY, rules=StatusRules(order_cover_share=0.5)) == "ordered"
    assert plot_status(facts, today=TODAY, rules=StatusRules(smallest_dressing_lb=600)) == "in_range"
    assert trigger_ph(target_ph=6.5, rules=StatusRules(trigger_gap=0.5)) == 6.0
    assert settling_until(dt.date(2026, 5, 31), rules=StatusRules(settling_months=1)) == dt.date(2026, 6, 30)
    sweet = replace(TESTED, test_ph=7.0)
    assert plot_status(sweet, today=TODAY, rules=StatusRules(upper_ph=6.9)) == "over_target"


def test_the_trigger_keeps_to_the_floor_and_to_what_labs_print() -> None:
    assert trigger_ph(target_ph=6.4) == 6.1
    assert trigger_ph(target_ph=6.2, floor_ph=6.0) == 6.0
    assert trigger_ph(target_ph=6.5, floor_ph=6.0) == 6.2
    assert settling_until(None) is None


@pytest.mark.parametrize(
    "wrong", [{"trigger_gap": -0.1}, {"order_cover_share": 1.1}, {"settling_months": 40}, {"upper_ph": 5}]
)
def test_figures_out_of_range_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="is not"):
        StatusRules(**wrong)  # type: ignore[arg-type]


LB = st.floats(0, 6000)
DAYS = st.dates(dt.date(2024, 1, 1), dt.date(2028, 12, 31))
FACTS = st.builds(
    StandingFacts,
    tested_on=st.none() | DAYS,
    test_ph=st.none() | st.floats(4, 8.5),
    trigger_ph=st.none() | st.floats(5, 7),
    upper_ph=st.none() | st.floats(6, 8),
    owed_effective_lb=st.none() | LB,
    ordered_effective_lb=LB,
    retest_due_on=st.none() | DAYS,
    settling_until=st.none() | DAYS,
)


@given(facts=FACTS, today=DAYS)
def test_every_plot_has_a_status_and_a_spare_order_never_makes_it_short(facts: StandingFacts, today: dt.date) -> None:
    found = plot_status(facts, today=today)
    assert found in STATUSES
    more = plot_status(replace(facts, ordered_effective_lb=6000.0), today=today)
    assert more == found or found in ("no_test", "retest_due", "short_of_lime")
    assert (more == "short_of_lime") <= (facts.owed_effective_lb is None)
