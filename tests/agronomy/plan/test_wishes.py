"""Wishes: kept where they can be, and answered with which and why where they cannot."""

from __future__ import annotations

from dataclasses import replace

import pytest

from agronomy.season_plan import (
    DumpSite,
    Must,
    NotMaterial,
    Package,
    PlanDressing,
    PlanOffer,
    PlanPlot,
    PlanSpreader,
    Season,
    SpentAnyway,
    Wishes,
    solve_season,
)
from tests.agronomy.plan.audit import faults

SIDE = PlanSpreader(
    "spreader", "side_by_side", frozenset({"pelletized"}), 2.0, hopper_lb=500, setup_hours=0.5, hours_per_load=0.25
)
BAGS = PlanOffer("pellets", "lime", "pelletized", Package("bag", 40), 6.0, effective_percent=90)
TRUCK = PlanOffer("quarry", "lime", "quarry", Package("truckload", 16000, 8000), 40, "spread", effective_percent=60)
GOOD = PlanPlot("good", 1.0, 2000, 1.0, heaviest_vehicle="side_by_side")
POOR = PlanPlot("poor", 1.0, 2000, 0.2, heaviest_vehicle="side_by_side")


def _season(*plots: PlanPlot, wishes: Wishes, **limits: object) -> Season:
    return Season(plots, (BAGS, TRUCK), (SIDE,), wishes=wishes, **limits)  # type: ignore[arg-type]


def test_a_must_is_done_even_where_it_gains_least() -> None:
    season = _season(GOOD, POOR, wishes=Wishes(must=(Must("poor"),)), budget_dollars=400)
    plan = solve_season(season)
    shares = {outcome.plot: outcome.lime_share for outcome in plan.plots}
    assert shares["poor"] == pytest.approx(1, rel=1e-5)
    assert plan.unmet == ()
    assert shares["good"] == 0  # 10 bags are left, under the smallest dressing
    assert next(p for p in plan.plots if p.plot == "poor").reason.code == "plan_why_wish"
    assert solve_season(replace(season, wishes=Wishes())).plots[1].lime_share < 1


def test_a_must_for_half_and_with_one_material() -> None:
    reached = replace(POOR, heaviest_vehicle="lime_truck")
    season = _season(GOOD, reached, wishes=Wishes(must=(Must("poor", 0.5, "pellets"),)), budget_dollars=600)
    plan = solve_season(season)
    lime = [choice for choice in plan.choices if choice.plot == "poor"]
    assert [choice.offer for choice in lime] == ["pellets"]
    assert lime[0].effective_lb_per_acre >= 1000 * (1 - 1e-5)


def test_too_little_money_is_said_in_dollars() -> None:
    plan = solve_season(_season(GOOD, POOR, wishes=Wishes(must=(Must("poor"), Must("good"))), budget_dollars=400))
    assert [wish.reason.code for wish in plan.unmet] == ["plan_wish_over_budget"]
    values = plan.unmet[0].reason.values
    assert values["with_others"] == 1
    assert values["least_dollars"] == pytest.approx(112 * 6)  # 4,000 lb at 36 lb a bag
    assert values["short_dollars"] == pytest.approx(112 * 6 - 400)
    kept = {"good", "poor"} - {wish.plot for wish in plan.unmet}
    assert next(p for p in plan.plots if p.plot in kept).lime_share == pytest.approx(1, rel=1e-5)
    assert plan.findings[0].code == "plan_wish_over_budget"


def test_too_few_hours_are_said_in_hours() -> None:
    plan = solve_season(_season(POOR, wishes=Wishes(must=(Must("poor"),)), hours=1.5))
    (wish,) = plan.unmet
    assert wish.reason.code == "plan_wish_over_hours"
    # set-up 0.5, the ground 0.5, loads 0.25 + 0.25 x 2,222 / 500
    assert wish.reason.values["least_hours"] == pytest.approx(0.5 + 0.5 + 0.25 + 0.25 * 2222.222 / 500, rel=1e-4)
    assert wish.reason.values["hours"] == 1.5


@pytest.mark.parametrize(
    ("plot", "wishes", "barrier"),
    [
        (POOR, Wishes(must=(Must("poor"),), skip=frozenset({"poor"})), "skipped"),
        (POOR, Wishes(must=(Must("poor"),), not_material=(NotMaterial("pellets", "poor"),)), "not_wished"),
        (POOR, Wishes(must=(Must("poor", offer="quarry"),)), "no_vehicle"),
        (replace(POOR, heaviest_vehicle="on_foot"), Wishes(must=(Must("poor"),)), "no_vehicle"),
        (replace(POOR, owed_effective_lb_per_acre=400.0), Wishes(must=(Must("poor"),)), "below_smallest_dressing"),
    ],
)
def test_a_wish_out_of_reach_names_the_barrier(plot: PlanPlot, wishes: Wishes, barrier: str) -> None:
    plan = solve_season(_season(plot, GOOD, wishes=wishes, budget_dollars=500))
    (wish,) = plan.unmet
    assert wish.reason.code == "plan_wish_out_of_reach"
    assert wish.reason.values["barrier"] == barrier
    assert plan.plots[1].lime_share > 0.9  # the rest is planned all the same


def test_a_must_where_nothing_is_owed() -> None:
    fine = PlanPlot("fine", 1.0)
    plan = solve_season(_season(fine, GOOD, wishes=Wishes(must=(Must("fine"),))))
    assert plan.unmet[0].reason.code == "plan_wish_nothing_owed"


def test_stock_alone_may_be_too_little_for_two_wishes() -> None:
    left = replace(BAGS, price_dollars=None, on_hand_lb={"": 2500.0})
    wishes = Wishes(must=(Must("good"), Must("poor")))
    plan = solve_season(Season((GOOD, POOR), (left,), (SIDE,), wishes=wishes))
    assert [wish.reason.code for wish in plan.unmet] == ["plan_wish_not_enough_material"]


def test_skip_and_not_this_material() -> None:
    reached = replace(GOOD, heaviest_vehicle="lime_truck")
    wishes = Wishes(skip=frozenset({"poor"}), not_material=(NotMaterial("quarry", "good"),))
    plan = solve_season(_season(reached, POOR, wishes=wishes))
    assert {choice.offer for choice in plan.choices} == {"pellets"}
    assert {choice.plot for choice in plan.choices} == {"good"}
    assert plan.plots[1].reason.code == "plan_why_skipped"


def test_prefer_bulk_turns_a_near_tie() -> None:
    big = PlanPlot("big", 4.0, 2000, 1.0, heaviest_vehicle="lime_truck")
    tractor = PlanSpreader("box", "tractor", frozenset({"quarry", "pelletized"}), 4.0)
    cheap_bags = replace(BAGS, price_dollars=0.5)
    dear_truck = replace(TRUCK, price_dollars=60, basis="delivered")
    season = Season((big,), (cheap_bags, dear_truck), (tractor,), (DumpSite("gate", {"big": 100}),))
    assert {choice.offer for choice in solve_season(season).choices} == {"pellets"}
    bulk = solve_season(replace(season, wishes=Wishes(prefer_bulk=True)))
    assert {choice.offer for choice in bulk.choices} == {"quarry"}
    assert bulk.gain == pytest.approx(bulk.full_gain, rel=1e-5)
    assert {hazard.code for hazard in bulk.hazards} >= {"raised_truck_bed", "stockpile_runoff", "soft_ground"}


def test_other_costs_that_eat_the_budget_are_named() -> None:
    season = _season(GOOD, wishes=Wishes(), budget_dollars=50, spent_anyway=(SpentAnyway("lab fees", 80.0),))
    plan = solve_season(season)
    assert plan.choices == ()
    assert plan.findings[0].code == "plan_budget_spent"
    assert plan.costs.total == 80


def test_lime_goes_early_when_it_costs_the_same() -> None:
    rounds = (PlanDressing("spring", frozenset({4})), PlanDressing("fall", frozenset({10}), 6))
    plan = solve_season(Season((GOOD, POOR), (BAGS,), (SIDE,), dressings=rounds))
    assert {choice.dressing for choice in plan.choices} == {"spring"}
    assert faults(Season((GOOD, POOR), (BAGS,), (SIDE,), dressings=rounds), plan) == []
