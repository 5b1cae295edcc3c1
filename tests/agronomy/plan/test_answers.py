"""The questions beside the plan: the next 100 dollars, full correction, and the least money for every floor."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from agronomy.season_plan import (
    Must,
    Package,
    PlanOffer,
    PlanPlot,
    Season,
    SpentAnyway,
    Wishes,
    as_data,
    cost_of_full_correction,
    least_money_to_keep_floors,
    next_dollars,
    solve_season,
)
from tests.agronomy.plan.audit import faults
from tests.agronomy.plan.cases import small_season, whole_property
from tests.agronomy.plan.test_wishes import BAGS, GOOD, POOR, SIDE, TRUCK


def test_the_next_dollars_are_the_difference_of_two_plans() -> None:
    season = Season((GOOD, POOR), (BAGS,), (SIDE,), budget_dollars=240)
    answer = next_dollars(season, dollars=60)
    now = solve_season(season, gap_percent=0.0).gain
    then = solve_season(replace(season, budget_dollars=300), gap_percent=0.0).gain
    assert answer.shown
    assert answer.gain == pytest.approx(then - now, rel=1e-4)
    # 10 bags more, 360 effective lb in the second half of 2,000 lb worth 1 acre-point
    assert answer.gain == pytest.approx(360 / 2000 * 2 / 3, rel=1e-4)
    assert answer.low - 1e-9 <= answer.gain <= answer.high + 1e-9


def test_the_next_dollars_are_hidden_when_the_gap_is_larger() -> None:
    season = whole_property(4, plots=120, budget_share=0.03, hours_a_plot=1.0)
    answer = next_dollars(season, dollars=0.01, seconds=1.0)
    assert answer.high - answer.low > answer.gain
    assert not answer.shown


def test_nothing_gained_is_shown_as_nothing() -> None:
    season = Season((GOOD,), (BAGS,), (SIDE,), budget_dollars=5000)
    answer = next_dollars(season)
    assert answer.gain == pytest.approx(0, abs=1e-6)
    assert answer.high < 1e-4


def test_next_dollars_need_a_budget() -> None:
    with pytest.raises(ValueError, match="budget"):
        next_dollars(Season((GOOD,), (BAGS,), (SIDE,)))


def test_full_correction_costs_what_it_takes() -> None:
    season = Season(
        (GOOD, POOR),
        (BAGS, TRUCK),
        (SIDE,),
        budget_dollars=10,
        hours=0.1,
        spent_anyway=(SpentAnyway("lab fees", 30.0),),
        wishes=Wishes(must=(Must("good"),)),
    )
    answer = cost_of_full_correction(season)
    assert answer.dollars == pytest.approx(112 * 6 + 30)
    assert answer.at_least_dollars <= answer.dollars + 1e-6
    assert answer.at_least_dollars == pytest.approx(answer.dollars, rel=0.002)
    assert answer.hours > 4
    assert answer.left == ()
    assert all(outcome.lime_share == pytest.approx(1, rel=1e-5) for outcome in answer.plan.plots)


def test_full_correction_takes_the_truck_where_it_pays() -> None:
    reached = tuple(replace(plot, heaviest_vehicle="lime_truck") for plot in (GOOD, POOR))
    answer = cost_of_full_correction(Season(reached, (BAGS, TRUCK), (SIDE,)))
    assert answer.dollars == pytest.approx(160)  # 6,667 lb needed; the smallest load is 4 tons


def test_full_correction_names_what_no_money_reaches() -> None:
    far = PlanPlot("far", 1.0, 2000, 1.0, heaviest_vehicle="on_foot")
    answer = cost_of_full_correction(Season((GOOD, far), (BAGS,), (SIDE,)))
    assert [(wish.plot, wish.reason.values["barrier"]) for wish in answer.left] == [("far", "no_vehicle")]
    assert answer.dollars == pytest.approx(56 * 6)


def test_floors_are_kept_for_the_least_money() -> None:
    low = replace(POOR, floor_gap_effective_lb_per_acre=800.0)
    answer = least_money_to_keep_floors(Season((GOOD, low), (BAGS,), (SIDE,), budget_dollars=0))
    assert answer.dollars == pytest.approx(23 * 6)  # 800 / 36 bags
    assert {choice.plot for choice in answer.plan.choices} == {"poor"}
    assert not any(outcome.below_floor for outcome in answer.plan.plots)


def test_a_floor_out_of_reach_is_said() -> None:
    low = replace(POOR, floor_gap_effective_lb_per_acre=1500.0, largest_dressing_effective_lb_per_acre=1000.0)
    answer = least_money_to_keep_floors(Season((GOOD, low), (BAGS,), (SIDE,)))
    (wish,) = answer.left
    assert wish.reason.code == "plan_floor_out_of_reach"
    assert wish.reason.values["most_effective_lb_per_acre"] == pytest.approx(1000)


def test_floors_that_the_hours_do_not_reach() -> None:
    low = tuple(replace(plot, floor_gap_effective_lb_per_acre=1500.0) for plot in (GOOD, POOR))
    answer = least_money_to_keep_floors(Season(low, (BAGS,), (SIDE,), hours=3.0))
    assert [wish.reason.code for wish in answer.left] == ["plan_wish_over_hours"]
    assert sum(not outcome.below_floor for outcome in answer.plan.plots) == 1


def test_no_plan_under_budget_costs_less_than_the_floors() -> None:
    """A plan that keeps every floor within a budget cannot exist below the least money."""
    for seed in range(12):
        season = replace(whole_property(seed, plots=8), wishes=Wishes())
        answer = least_money_to_keep_floors(season)
        assert answer.at_least_dollars <= answer.dollars + 1e-6
        if answer.left or answer.dollars - season.spent_anyway_dollars < 50:
            continue
        poorer = replace(season, budget_dollars=answer.at_least_dollars * 0.98)
        assert any(outcome.below_floor for outcome in solve_season(poorer, gap_percent=0).plots), f"seed {seed}"
        assert faults(replace(season, budget_dollars=None), answer.plan) == []


def test_undone_says_what_it_would_take() -> None:
    season = Season((GOOD, replace(POOR, ph_gap=0.05)), (BAGS,), (SIDE,), budget_dollars=400)
    plan = solve_season(season)
    (undone,) = [item for item in plan.undone if item.plot == "poor"]
    assert undone.cause == "budget"
    assert undone.effective_lb_per_acre == pytest.approx(2000)
    # 4,000 / 36 is 112 bags for both, 56 of them bought for the other plot
    assert undone.dollars_more == pytest.approx(56 * 6)
    richer = solve_season(replace(season, budget_dollars=400 + undone.dollars_more))
    assert richer.plots[1].lime_share == pytest.approx(1, rel=1e-4)


def test_costs_by_plot_add_up_to_the_whole() -> None:
    for seed in range(8):
        plan = solve_season(whole_property(seed, plots=8), gap_percent=2)
        by_plot = sum(outcome.dollars for outcome in plan.plots)
        assert by_plot + plan.costs.spent_anyway == pytest.approx(plan.costs.total, abs=0.01), f"seed {seed}"


def test_an_answer_goes_into_json_and_back() -> None:
    plan = solve_season(small_season(1))
    data = json.loads(json.dumps(as_data(plan)))
    assert data["costs"]["total"] == pytest.approx(plan.costs.total)
    assert [choice["plot"] for choice in data["choices"]] == [choice.plot for choice in plan.choices]
    assert data["plots"][0]["reason"]["code"] == plan.plots[0].reason.code


def test_leftover_is_priced() -> None:
    reached = replace(GOOD, heaviest_vehicle="lime_truck", acres=2.0)
    plan = solve_season(Season((reached,), (TRUCK,), ()))
    (purchase,) = plan.purchases
    assert purchase.lb == 8000
    assert purchase.left_lb == pytest.approx(8000 - 4000 / 0.6)
    assert purchase.left_dollars == pytest.approx(purchase.left_lb * 40 / 2000)


def test_a_shared_truckload_names_who_shares() -> None:
    reached = tuple(replace(plot, heaviest_vehicle="lime_truck") for plot in (GOOD, POOR))
    plan = solve_season(Season(reached, (TRUCK,), ()))
    assert [choice.shares_with for choice in plan.choices] == [("poor",), ("good",)]
    assert plan.purchases[0].plots == ("good", "poor")
    assert plan.plots[0].reason.code == "plan_why_shared_load"
    assert plan.plots[0].reason.values["others"] == 1


def test_what_is_on_hand_is_not_bought() -> None:
    stocked = PlanOffer(
        "pellets", "lime", "pelletized", Package("bag", 40), 6.0, effective_percent=90, on_hand_lb={"": 1000}
    )
    plan = solve_season(Season((GOOD,), (stocked,), (SIDE,)))
    (purchase,) = plan.purchases
    assert purchase.from_stock_lb == 1000
    assert purchase.packages == 31  # (2,222.2 - 1,000) / 40
    assert plan.costs.total == pytest.approx(186)
