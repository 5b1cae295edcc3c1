"""Spreaders: rate, swath, speed, pattern, bags and loads, and what was achieved against an order."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.spread_pattern import (
    Trays,
    best_pass_spacing,
    coverage,
    rate_from_catch,
    swath_from_trays,
    tray_target_g,
)
from agronomy.spreading import (
    SpreaderCalibration,
    SpreadingRules,
    achieved_rate,
    bags_needed,
    bags_to_buy,
    bags_to_spread,
    catch_findings,
    effective_swath,
    ground_speed,
    hopper_lb,
    loads_needed,
    machine_hazards,
    spreader_rate,
    spreader_rate_working,
    spreader_setup,
    strip_target,
    strip_target_for_nutrient,
    wind_findings,
)

TRIANGLE = Trays(tuple(range(-12, 13)), tuple(12 - abs(x) for x in range(-12, 13)))
FLAT = Trays((-10.0, -9.999, 0.0, 9.999, 10.0), (0.0, 5.0, 5.0, 5.0, 0.0))
TODAY = dt.date(2026, 5, 1)
POUNDS, FEET = st.floats(0.1, 5000), st.floats(1, 2000)


def codes(findings: object) -> list[str]:
    return [finding.code for finding in findings]  # type: ignore[attr-defined]


def test_the_worked_examples() -> None:
    assert spreader_rate(52, swath_ft=20, distance_ft=400) == pytest.approx(283.14)
    assert effective_swath(6) == 12
    assert ground_speed(88, seconds=60) == pytest.approx(1.0)
    assert ground_speed(150, seconds=19.7) == pytest.approx(5.19, abs=0.005)
    assert strip_target_for_nutrient(1, nutrient_percent=21, strip_sq_ft=1000) == pytest.approx(4.76, abs=0.005)
    assert tray_target_g(200, tray_sq_ft=1) == pytest.approx(2.08, abs=0.005)
    assert hopper_lb(5, density_lb_per_cu_ft=60) == 300


@given(pounds=POUNDS, swath=FEET, distance=FEET)
def test_a_strip_takes_what_its_rate_asks(pounds: float, swath: float, distance: float) -> None:
    rate = spreader_rate(pounds, swath_ft=swath, distance_ft=distance)
    assert strip_target(rate, swath_ft=swath, distance_ft=distance) == pytest.approx(pounds)
    twice = spreader_rate(2 * pounds, swath_ft=swath, distance_ft=distance)
    assert twice == pytest.approx(2 * rate)
    (area, last) = spreader_rate_working(pounds, swath_ft=swath, distance_ft=distance)
    assert last.value == rate
    assert area.value == pytest.approx(swath * distance)


@given(grams=st.floats(0.01, 50), size=st.floats(0.2, 4), passes=st.integers(1, 10))
def test_trays_and_rates_go_there_and_back(grams: float, size: float, passes: int) -> None:
    rate = rate_from_catch(grams, tray_sq_ft=size, passes=passes)
    assert tray_target_g(rate, tray_sq_ft=size, passes=passes) == pytest.approx(grams)


@pytest.mark.parametrize(("spacing", "cv"), [(8, 6.4), (10, 4.2), (12, 0.0), (14, 5.3), (16, 14.3), (18, 25.0)])
def test_the_even_triangle(spacing: float, cv: float) -> None:
    for travel in ("one_way", "back_and_forth"):
        assert coverage(TRIANGLE, pass_spacing_ft=spacing, travel=travel).cv_percent == pytest.approx(cv, abs=0.06)


def summed_by_numpy(trays: Trays, spacing: float, travel: str) -> np.ndarray:
    period = spacing * (1 if travel == "one_way" else 2)
    count = max(60, round(period * 10))
    at = np.arange(count) * period / count
    total = np.zeros(count)
    for number in range(-300, 301):
        off = at - number * spacing
        if travel == "back_and_forth" and number % 2:
            off = -off
        total += np.interp(off, trays.positions_ft, trays.catches, left=0.0, right=0.0)
    return total


@given(
    catches=st.lists(st.floats(0, 20), min_size=3, max_size=25).filter(lambda c: max(c) > 0.1),
    spacing=st.floats(2, 60), travel=st.sampled_from(["one_way", "back_and_forth"]), shift=st.floats(-3, 3),
)  # fmt: skip
def test_overlap_agrees_with_an_array_library(catches: list[float], spacing: float, travel: str, shift: float) -> None:
    half = (len(catches) - 1) / 2
    trays = Trays(tuple(number - half + shift for number in range(len(catches))), tuple(catches))
    total = summed_by_numpy(trays, spacing, travel)
    found = coverage(trays, pass_spacing_ft=spacing, travel=travel)  # type: ignore[arg-type]
    assert found.mean_catch == pytest.approx(total.mean(), rel=1e-9, abs=1e-9)
    if total.mean() > 1e-6:
        assert found.cv_percent == pytest.approx(100 * total.std() / total.mean(), rel=1e-6, abs=1e-6)
    assert found.least_catch == pytest.approx(total.min(), abs=1e-9)
    assert found.most_catch == pytest.approx(total.max(), abs=1e-9)


def test_a_lopsided_pattern_is_evened_by_driving_one_way_or_not() -> None:
    ramp = Trays(tuple(range(13)), tuple(range(12, -1, -1)))
    shifted = Trays(tuple(x - 6.0 for x in ramp.positions_ft), tuple(float(c) for c in ramp.catches))
    one_way = coverage(shifted, pass_spacing_ft=6, travel="one_way").cv_percent
    turned = coverage(shifted, pass_spacing_ft=6, travel="back_and_forth").cv_percent
    assert one_way != pytest.approx(turned, abs=1)


def test_the_widest_even_spacing_is_proposed() -> None:
    best = best_pass_spacing(TRIANGLE, spacings_ft=[8, 10, 12, 14, 16, 18])
    assert best.pass_spacing_ft == 16
    assert best_pass_spacing(TRIANGLE, spacings_ft=[8, 10, 12, 14, 16, 18], limit_percent=10).pass_spacing_ft == 14
    assert best_pass_spacing(TRIANGLE, spacings_ft=[20, 24]).pass_spacing_ft == 20
    with pytest.raises(ValueError, match="at least one pass spacing"):
        best_pass_spacing(TRIANGLE, spacings_ft=[])


def test_the_swath_reaches_to_half_the_middle_on_both_sides() -> None:
    assert swath_from_trays(TRIANGLE) == pytest.approx(12)
    assert swath_from_trays(FLAT) == pytest.approx(20, abs=0.01)
    lopsided = Trays((-12.0, 0.0, 6.0), (0.0, 12.0, 0.0))
    assert swath_from_trays(lopsided) == pytest.approx(6 + 3)
    with pytest.raises(ValueError, match="does not fall to half"):
        swath_from_trays(Trays((-2.0, 0.0, 2.0), (9.0, 10.0, 1.0)))
    with pytest.raises(ValueError, match="caught nothing"):
        swath_from_trays(Trays((-2.0, 0.0, 2.0), (9.0, 0.0, 9.0)))


def test_what_trays_say_is_said() -> None:
    assert codes(coverage(TRIANGLE, pass_spacing_ft=12).findings) == []
    assert codes(coverage(TRIANGLE, pass_spacing_ft=17).findings) == ["pattern_fair"]
    assert codes(coverage(TRIANGLE, pass_spacing_ft=18).findings) == ["pattern_uneven"]
    cut = Trays(tuple(range(-6, 7)), tuple(12 - abs(x) for x in range(-6, 7)))
    assert "trays_too_short" in codes(coverage(cut, pass_spacing_ft=12).findings)
    few = Trays((-12.0, -6.0, 0.0, 6.0, 12.0), (0.0, 6.0, 12.0, 6.0, 0.0))
    assert codes(coverage(few, pass_spacing_ft=12).findings) == ["trays_too_few"]


@pytest.mark.parametrize(
    ("positions", "catches", "said"),
    [
        ((0.0, 1.0), (1.0, 1.0), "2 trays are not 3 to 400"),
        ((0.0, 1.0, 2.0), (1.0, 1.0), "3 tray positions but 2 catches"),
        ((0.0, 2.0, 1.0), (1.0, 1.0, 1.0), "must rise"),
        ((0.0, 1.0, 2.0), (0.0, 0.0, 0.0), "not all 0"),
        ((0.0, 1.0, 2.0), (1.0, -1.0, 1.0), "0 or more"),
        ((0.0, 1.0, math.nan), (1.0, 1.0, 1.0), "no finite number"),
    ],
)
def test_a_row_of_trays_that_is_none_is_refused(
    positions: tuple[float, ...], catches: tuple[float, ...], said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        Trays(positions, catches)


def test_a_spacing_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="not over 0 and at most 200 ft"):
        coverage(TRIANGLE, pass_spacing_ft=0)


@given(pounds=st.integers(0, 10**6), hundredths=st.integers(1, 10**5), bag=st.sampled_from([25, 40, 50, 80]))
def test_bags_are_counted_as_exact_arithmetic_counts_them(pounds: int, hundredths: int, bag: int) -> None:
    exact = math.ceil(Fraction(pounds, 10) * Fraction(hundredths, 100) / bag)
    assert bags_needed(pounds / 10, acres=hundredths / 100, bag_lb=bag) == exact
    assert loads_needed(pounds / 10, acres=hundredths / 100, load_lb=bag) == exact


def test_a_shared_pile_is_rounded_up_once() -> None:
    assert bags_needed(1966, acres=0.2, bag_lb=40) == 10
    assert bags_to_buy([100, 100, 100], bag_lb=40) == 8  # three times 3 bags would be 9
    assert bags_to_buy([0.1 * 40] * 10, bag_lb=40) == 1
    assert bags_to_buy([], bag_lb=40) == 0


def test_the_nearest_bag_is_spread_where_the_band_allows_it() -> None:
    near = bags_to_spread(1966, acres=0.2, bag_lb=40, low_lb_per_acre=1700, high_lb_per_acre=2200)
    assert (near.whole_bags, near.part_lb) == (10, 0.0)
    assert near.lb_per_acre == pytest.approx(2000)
    narrow = bags_to_spread(1966, acres=0.2, bag_lb=40, low_lb_per_acre=1960, high_lb_per_acre=1970)
    assert narrow.whole_bags == 9
    assert narrow.part_lb == pytest.approx(393.2 - 360)
    tiny = bags_to_spread(50, acres=0.2, bag_lb=40, low_lb_per_acre=0, high_lb_per_acre=100)
    assert (tiny.whole_bags, tiny.part_lb) == (0, pytest.approx(10))
    none = bags_to_spread(0, acres=0.2, bag_lb=40, low_lb_per_acre=0, high_lb_per_acre=100)
    assert (none.whole_bags, none.part_lb, none.lb_per_acre) == (0, 0.0, 0.0)
    with pytest.raises(ValueError, match="is not in"):
        bags_to_spread(50, acres=0.2, bag_lb=40, low_lb_per_acre=60, high_lb_per_acre=100)


@given(rate=st.floats(1, 9000), acres=st.floats(0.01, 40), bag=st.sampled_from([40, 50]), band=st.floats(0, 0.5))
def test_what_is_spread_stays_in_the_band(rate: float, acres: float, bag: float, band: float) -> None:
    low, high = rate * (1 - band), rate * (1 + band)
    found = bags_to_spread(rate, acres=acres, bag_lb=bag, low_lb_per_acre=low, high_lb_per_acre=high)
    assert low <= found.lb_per_acre <= high
    assert 0 <= found.part_lb < bag * (1 + 1e-9)
    assert found.whole_bags * bag + found.part_lb == pytest.approx(found.lb_per_acre * acres)


def test_twenty_two_of_twenty_four_bags_are_within_the_order() -> None:
    found = achieved_rate(22 * 40, acres_covered=0.4, ordered_lb_per_acre=24 * 40 / 0.4, ordered_acres=0.4)
    assert 100 * found.rate_share == pytest.approx(91.7, abs=0.05)
    assert found.lb_per_acre == pytest.approx(2200)
    assert found.findings == ()


@pytest.mark.parametrize(
    ("amount", "covered", "expected"),
    [
        (800.0, 1.0, []),
        (799.0, 1.0, ["rate_under_order"]),
        (1200.0, 1.0, []),
        (1201.0, 1.0, ["rate_over_order"]),
        (500.0, 0.5, ["part_of_plot"]),
        (500.0, 1.0, ["rate_under_order"]),
        (900.0, 0.5, ["rate_over_order", "part_of_plot"]),
        (0.0, 1.0, ["rate_under_order"]),
    ],
)
def test_an_order_is_missed_by_more_than_a_fifth(amount: float, covered: float, expected: list[str]) -> None:
    found = achieved_rate(amount, acres_covered=covered, ordered_lb_per_acre=1000, ordered_acres=1)
    assert codes(found.findings) == expected
    assert found.total_share == pytest.approx(amount / 1000)


def test_the_band_about_an_order_may_be_set() -> None:
    rules = SpreadingRules(least_share=0.95, most_share=1.05)
    found = achieved_rate(920, acres_covered=1, ordered_lb_per_acre=1000, ordered_acres=1, rules=rules)
    assert codes(found.findings) == ["rate_under_order"]
    with pytest.raises(ValueError, match="do not lie about 1"):
        SpreadingRules(least_share=1.2)


def found_at(day: str, rate: float, *, material: str = "7", setting: str = "3", cv: float | None = None):  # type: ignore[no-untyped-def]
    return SpreaderCalibration(dt.date.fromisoformat(day), material, setting, rate, 20.0, cv_percent=cv)


def setup_codes(*calibrations: SpreaderCalibration, rate: float = 400) -> list[str]:
    return codes(spreader_setup(calibrations, material_key="7", rate_lb_per_acre=rate, today=TODAY).findings)


def test_a_calibration_is_old_for_another_rate_or_for_another_material() -> None:
    assert setup_codes() == ["not_calibrated"]
    assert setup_codes(found_at("2026-04-01", 400, material="8")) == ["calibrated_for_another_material"]
    assert setup_codes(found_at("2026-04-01", 400)) == []
    assert setup_codes(found_at("2025-05-01", 400)) == []
    assert setup_codes(found_at("2025-04-30", 400)) == ["calibration_old"]
    assert setup_codes(found_at("2026-04-01", 310)) == ["calibration_other_rate"]
    assert setup_codes(found_at("2026-04-01", 400, cv=21)) == ["pattern_uneven"]


def test_the_setting_nearest_in_rate_is_proposed_of_those_still_young() -> None:
    calibrations = [
        found_at("2020-01-01", 400, setting="old"),
        found_at("2026-03-01", 200, setting="low"),
        found_at("2026-03-02", 420, setting="near"),
        found_at("2026-04-02", 420, setting="newer"),
        found_at("2026-04-02", 400, setting="other", material="8"),
    ]
    found = spreader_setup(calibrations, material_key="7", rate_lb_per_acre=400, today=TODAY)
    assert found.setting == "newer"
    assert found.findings == ()
    late = spreader_setup(calibrations, material_key="7", rate_lb_per_acre=400, today=dt.date(2030, 1, 1))
    assert late.setting == "old"
    assert codes(late.findings) == ["calibration_old"]
    none = spreader_setup(calibrations, material_key="9", rate_lb_per_acre=400, today=TODAY)
    assert (none.calibration, none.setting) == (None, "")


def test_a_strip_within_a_twentieth_is_accepted() -> None:
    assert catch_findings(4.75, target_lb=5.0) == ()
    assert catch_findings(5.25, target_lb=5.0) == ()
    (over,) = catch_findings(5.3, target_lb=5.0)
    assert over.values["is_over"] is True
    assert over.values["off_percent"] == pytest.approx(6)
    assert codes(catch_findings(4.7, target_lb=5.0)) == ["calibration_off_target"]


def test_wind_from_five_miles_an_hour_on() -> None:
    assert wind_findings(4.9) == ()
    assert codes(wind_findings(5)) == ["wind_over_limit"]


def test_the_dangers_of_machine_and_place() -> None:
    def named(vehicle: str, **at: bool) -> list[str]:
        return [hazard.code for hazard in machine_hazards(vehicle, **at)]

    assert named("on_foot") == []
    assert named("tractor", has_pto=True) == ["pto", "moving_parts", "no_riders"]
    assert named("side_by_side", on_slope=True) == ["moving_parts", "no_riders", "side_by_side_load", "slope"]
    assert named("lime_truck", near_water=True) == ["raised_truck_bed", "moving_parts", "no_riders", "near_water"]
    with pytest.raises(ValueError, match="no vehicle"):
        named("mule")


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_sizes_that_are_none_are_refused(wrong: float) -> None:
    calls = [
        lambda: spreader_rate(1, swath_ft=wrong, distance_ft=1),
        lambda: effective_swath(wrong),
        lambda: ground_speed(1, seconds=wrong),
        lambda: bags_needed(1, acres=wrong, bag_lb=1),
        lambda: loads_needed(1, acres=1, load_lb=wrong),
        lambda: hopper_lb(wrong, density_lb_per_cu_ft=1),
        lambda: tray_target_g(1, tray_sq_ft=wrong),
        lambda: achieved_rate(1, acres_covered=wrong, ordered_lb_per_acre=1, ordered_acres=1),
        lambda: strip_target_for_nutrient(1, nutrient_percent=wrong, strip_sq_ft=1),
    ]
    for call in calls:
        with pytest.raises(ValueError, match="not over 0"):
            call()
    if wrong != 0:
        with pytest.raises(ValueError, match="not 0 or more"):
            spreader_rate(wrong, swath_ft=1, distance_ft=1)
    with pytest.raises(ValueError, match="at most 100 %"):
        strip_target_for_nutrient(1, nutrient_percent=101, strip_sq_ft=1)
