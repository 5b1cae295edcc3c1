"""How deep, how high on light soil, how long before sowing: the manager's decisions, each with its limits."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.lime_policy import depth_limed, lead_time, target_on_soil
from agronomy.sources import source

SOWING = dt.date(2026, 9, 1)


@pytest.mark.parametrize(
    ("calibration", "depth_in"), [("smp_tri_state_1995", 4), ("smp_iowa_2002", 3), ("sikora_oregon_2025", 3), (None, 3)]
)
def test_sod_takes_the_publication_s_surface_depth_and_never_nothing(calibration: str | None, depth_in: float) -> None:
    found = depth_limed(calibration, tilled=False)
    assert found.depth_in == depth_in
    assert source(found.source).citation


@given(st.floats(1, 16))
def test_a_tilled_plot_is_limed_as_deep_as_it_is_tilled(depth_in: float) -> None:
    assert depth_limed("smp_iowa_2002", tilled=True, till_depth_in=depth_in).depth_in == depth_in


@pytest.mark.parametrize("depth_in", [None, 0, 0.9, 17, float("nan")])
def test_an_impossible_till_depth_is_refused(depth_in: float | None) -> None:
    with pytest.raises(ValueError, match="1 to 16 inches"):
        depth_limed(None, tilled=True, till_depth_in=depth_in)


@pytest.mark.parametrize(
    ("asked", "is_light", "is_default", "target", "warned"),
    [
        (6.2, True, True, 6.0, False), (5.8, True, True, 5.8, False), (6.5, True, False, 6.5, False),
        (6.6, True, False, 6.6, True), (7.0, False, False, 7.0, False), (6.2, False, True, 6.2, False),
    ],
)  # fmt: skip
def test_light_soil_is_held_low_by_default_and_warned_of_when_asked_high(
    asked: float, is_light: bool, is_default: bool, target: float, warned: bool
) -> None:
    found, findings = target_on_soil(asked, is_light=is_light, is_default=is_default)
    assert found == target
    assert [one.code for one in findings] == (["sand_target_high"] if warned else [])


@pytest.mark.parametrize(
    ("spread", "alfalfa", "code"),
    [
        (dt.date(2025, 12, 1), False, None),  # nine months
        (dt.date(2025, 12, 2), False, "lime_before_full_effect"),
        (dt.date(2026, 3, 1), False, "lime_before_full_effect"),  # six months
        (dt.date(2026, 3, 2), False, "lime_short_lead"),
        (dt.date(2026, 5, 1), True, "lime_before_full_effect"),  # four months are enough for alfalfa in Nebraska
        (dt.date(2026, 5, 2), True, "lime_short_lead"),
        (dt.date(2026, 7, 1), True, "lime_short_lead"),
        (dt.date(2026, 7, 2), True, "lime_late_for_sowing"),
        (dt.date(2026, 10, 1), False, "lime_late_for_sowing"),  # after it
    ],
)
def test_lime_is_wanted_months_ahead_of_sowing(spread: dt.date, alfalfa: bool, code: str | None) -> None:
    found = lead_time(SOWING, spread_on=spread, alfalfa=alfalfa)
    assert found.spread_by == (dt.date(2026, 5, 1) if alfalfa else dt.date(2026, 3, 1))
    assert [one.code for one in found.findings] == ([code] if code else [])
    assert all(source(one.source).status == "published" for one in found.findings)


@given(st.dates(dt.date(2020, 1, 1), dt.date(2030, 1, 1)), st.dates(dt.date(2020, 1, 1), dt.date(2030, 1, 1)))
def test_later_lime_is_never_judged_milder(one: dt.date, other: dt.date) -> None:
    order = [None, "lime_before_full_effect", "lime_short_lead", "lime_late_for_sowing"]
    first, second = sorted((one, other))
    ranks = [
        order.index(next((finding.code for finding in lead_time(SOWING, spread_on=day).findings), None))
        for day in (first, second)
    ]
    assert ranks[0] <= ranks[1]
