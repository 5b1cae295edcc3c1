"""Nitrogen: by crop and share of legume, in dressings, with what weather does to urea, and what a legume leaves."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.crops import combine, crops
from agronomy.nitrogen import legume_credit, nitrogen_limit, season_nitrogen
from agronomy.nitrogen_timing import SpreadingConditions, split_nitrogen, spreading_advice
from agronomy.nutrients import PlantingFacts, need

keys = st.sampled_from(sorted(crops()))
mixes = st.lists(st.tuples(keys, st.integers(1, 100)), min_size=1, max_size=4, unique_by=lambda part: part[0]).map(
    combine
)
OATS = combine([("oats", 100)])
CLOVER = combine([("white_clover", 100)])
SPRING = dt.date(2026, 4, 20)


@given(mixes, st.none() | st.floats(0, 100), st.none() | st.floats(0, 300))
def test_nitrogen_never_crosses_the_limit_on_legumes(
    demand: object, share: float | None, chosen: float | None
) -> None:
    made = season_nitrogen(demand, legume_share_percent=share, inoculated=True, chosen_lb_per_acre=chosen)  # type: ignore[arg-type]
    if made.lb_per_acre is None:
        assert made.findings[0].severity == "stop"
        return
    assert made.lb_per_acre >= 0
    if made.limit_lb_per_acre is not None:
        assert made.lb_per_acre <= made.limit_lb_per_acre


@given(st.floats(0, 100), st.floats(0, 100))
def test_more_legume_never_asks_more_nitrogen(one: float, other: float) -> None:
    low, high = sorted((one, other))
    mix = combine([("oats", 60), ("crimson_clover", 40)])
    few, many = (season_nitrogen(mix, legume_share_percent=share, inoculated=True) for share in (low, high))
    assert few.lb_per_acre is not None
    assert many.lb_per_acre is not None
    assert few.lb_per_acre >= many.lb_per_acre - 1e-9


def test_the_limits_by_share() -> None:
    assert nitrogen_limit(100) == (25.0, "minnesota_legume_n")
    assert nitrogen_limit(25) == (30.0, "missouri_legume_grass_n")
    assert nitrogen_limit(24.9) == (None, "")


def test_an_inoculated_legume_gets_none_and_a_bare_seed_is_told() -> None:
    assert season_nitrogen(CLOVER, inoculated=True).lb_per_acre == 0
    bare = season_nitrogen(CLOVER)
    assert bare.lb_per_acre == 0
    assert bare.findings[0].code == "legume_not_inoculated"
    assert not season_nitrogen(CLOVER, established=True).findings


def test_the_managers_own_figure_is_held_to_the_limit() -> None:
    assert season_nitrogen(OATS, chosen_lb_per_acre=40).lb_per_acre == 40
    held = season_nitrogen(CLOVER, inoculated=True, chosen_lb_per_acre=60)
    assert held.lb_per_acre == 25
    assert held.findings[0].code == "nitrogen_over_legume_limit"


def test_grass_goes_by_yield_and_trees_are_fed_one_by_one() -> None:
    grass = combine([("orchardgrass", 100)])
    rates = [season_nitrogen(grass, yield_goal_ton=ton).lb_per_acre for ton in (2, 3, 4, 5, 8)]
    assert rates == [60, 90, 120, 150, 150]
    assert season_nitrogen(combine([("apple", 100)])).findings[0].code == "nitrogen_by_tree"
    assert season_nitrogen(combine([])).findings[0].code == "nitrogen_needs_crop"


def test_a_publication_gone_by_sets_the_range_but_a_fallback_does_not() -> None:
    corn = combine([("corn", 100)])
    chosen = need(corn, [], calibration="north_carolina_food_plot").n
    assert chosen.lb_per_acre == 60
    assert chosen.findings[0].code == "nitrogen_held_to_range"
    assert chosen.findings[0].values["usual"] == 120
    wheat = combine([("winter_wheat", 100)])
    assert need(wheat, [], calibration="clemson").n.lb_per_acre == 90
    grazed = need(wheat, [], calibration="clemson", planting=PlantingFacts(grazed=True))
    assert grazed.n.lb_per_acre == 120


def test_credits_come_off_the_low_end_by_the_share_of_the_stand() -> None:
    alfalfa = combine([("alfalfa", 100)])
    first, second, third = (legume_credit(alfalfa, plantings_since=count) for count in (1, 2, 3))
    assert (first.low, first.high) == (50, 150)
    assert (second.low, second.high) == (25, 75)
    assert third.low == third.high == 0
    clover = combine([("crimson_clover", 100)])
    assert legume_credit(clover).low == 60
    assert legume_credit(clover, legume_share_percent=50).low == 30
    assert legume_credit(clover, plantings_since=2).low == 0
    assert legume_credit(OATS).high == 0
    with pytest.raises(ValueError, match="1 and more"):
        legume_credit(clover, plantings_since=0)


@given(mixes, st.floats(0, 300), st.booleans())
def test_dressings_sum_to_the_season_and_none_is_over_what_the_crop_takes(
    demand: object, lb: float, established: bool
) -> None:
    plan = split_nitrogen(demand, lb, established=established)  # type: ignore[arg-type]
    assert plan.lb_per_acre == pytest.approx(lb)
    eaters = [crop for crop, _ in demand.components if not crop.legume and crop.n_timing]  # type: ignore[attr-defined]
    most = eaters[0].n_single_dose_lb_per_acre if eaters else 60
    assert all(dressing.lb_per_acre <= most + 1e-6 for dressing in plan.dressings)


def test_grain_is_fed_after_emergence_and_again_a_month_later() -> None:
    plan = split_nitrogen(OATS, 60, planted_on=dt.date(2026, 9, 15))
    assert [(dressing.code, dressing.lb_per_acre) for dressing in plan.dressings] == [
        ("after_emergence", 30), ("mid_season", 30),
    ]  # fmt: skip
    first, second = plan.dressings
    assert (first.first_day, first.last_day) == (dt.date(2026, 9, 25), dt.date(2026, 10, 6))
    assert second.first_day is not None
    assert first.first_day is not None
    assert 30 <= (second.first_day - first.first_day).days <= 45
    assert len(split_nitrogen(OATS, 30).dressings) == 1


def test_sunflower_before_planting_corn_knee_high_and_grass_at_green_up() -> None:
    sunflower = split_nitrogen(combine([("sunflower", 100)]), 45, planted_on=SPRING).dressings
    assert [(d.code, d.first_day) for d in sunflower] == [("before_planting", dt.date(2026, 4, 13))]
    corn = split_nitrogen(combine([("corn", 100)]), 120, planted_on=SPRING)
    assert [dressing.code for dressing in corn.dressings] == ["at_planting", "knee_high", "knee_high"]
    assert corn.findings[0].code == "nitrogen_split_for_dose"
    grass = split_nitrogen(combine([("orchardgrass", 100)]), 90, established=True, year=2027)
    assert [(d.code, d.first_day) for d in grass.dressings] == [
        ("green_up", dt.date(2027, 3, 1)), ("after_first_cut", dt.date(2027, 5, 15)),
    ]  # fmt: skip
    assert not split_nitrogen(OATS, 0).dressings
    with pytest.raises(ValueError, match="0 to 300"):
        split_nitrogen(OATS, 301)


def test_clover_in_a_mix_waits_for_its_true_leaf() -> None:
    mix = combine([("annual_ryegrass", 60), ("crimson_clover", 40)])
    assert [found.code for found in split_nitrogen(mix, 25).findings] == ["nitrogen_wait_true_leaf"]


def codes(*, urea: bool = True, **conditions: object) -> list[str]:
    return [found.code for found in spreading_advice(SpreadingConditions(**conditions), urea=urea)]  # type: ignore[arg-type]


def test_what_speaks_against_spreading_now() -> None:
    assert codes(frozen=True, urea=False) == ["no_spreading_on_frozen_ground"]
    assert codes(snow=True, urea=False) == ["no_spreading_on_frozen_ground"]
    assert codes(soaked=True, urea=False) == ["no_spreading_on_soaked_ground"]
    assert codes(heavy_rain_forecast=True, urea=False) == ["hold_for_heavy_rain"]
    assert codes(wind_mph=5.0, urea=False) == ["hold_for_wind"]
    assert codes(wind_mph=4.9, urea=False) == []
    both = spreading_advice(SpreadingConditions(frozen=True, soaked=True), urea=False)
    assert {found.severity for found in both} == {"stop"}


def test_urea_needs_rain_working_in_or_an_inhibitor() -> None:
    assert codes() == ["urea_needs_rain"]
    assert codes(urea=False) == []
    assert codes(rain_expected_in=0.5) == []
    assert codes(rain_expected_in=0.4) == ["urea_needs_rain"]
    assert codes(damp_surface=True) == ["urea_on_damp_soil"]
    assert codes(inhibitor=True, damp_surface=True) == ["urea_with_inhibitor"]
    assert codes(worked_in_days=3, soil_temperature_f=75) == []
    assert codes(worked_in_days=4, soil_temperature_f=75) == ["urea_needs_rain"]
    assert codes(worked_in_days=4, soil_temperature_f=45) == []
    assert codes(limed_days_ago=3, rain_expected_in=1) == ["urea_after_lime"]
    assert codes(limed_days_ago=14, rain_expected_in=1) == []
