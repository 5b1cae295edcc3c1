"""The example of docs/season-plan.md, figure by figure, and the page says the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from agronomy.season_plan import (
    DumpSite,
    Package,
    PlanOffer,
    PlanPlot,
    PlanSpreader,
    Season,
    SeasonPlan,
    cost_of_full_correction,
    least_money_to_keep_floors,
    next_dollars,
    solve_season,
)
from tests.agronomy.plan.audit import faults

PAGE = (Path(__file__).parents[3] / "docs" / "season-plan.md").read_text()
SEASON = Season(
    (
        PlanPlot("Ridge", 1.0, 2000, 1.0, floor_gap_effective_lb_per_acre=800, heaviest_vehicle="lime_truck"),
        PlanPlot("Creek", 2.0, 1000, 0.5, heaviest_vehicle="tractor"),
        PlanPlot("Stand", 0.5, 2400, 1.2, care=1.5, heaviest_vehicle="side_by_side"),
    ),
    (
        PlanOffer("quarry lime", "lime", "quarry", Package("truckload", 16000, 8000), 40, "delivered",
                  effective_percent=60),
        PlanOffer("pellets", "lime", "pelletized", Package("bag", 40), 6, effective_percent=90),
    ),
    (
        PlanSpreader("lime spreader", "tractor", frozenset({"quarry"}), 2.0, hopper_lb=4000, setup_hours=0.5,
                     hours_per_load=0.25),
        PlanSpreader("side-by-side spreader", "side_by_side", frozenset({"pelletized"}), 1.0, hopper_lb=400,
                     setup_hours=0.5, hours_per_load=0.25),
    ),
    (DumpSite("Ridge gate", {"Ridge": 0, "Creek": 1320}),),
    budget_dollars=300,
)


@pytest.fixture(scope="module")
def plan() -> SeasonPlan:
    return solve_season(SEASON, gap_percent=0.0)


def test_the_plan(plan: SeasonPlan) -> None:
    got = {choice.plot: (choice.offer, round(choice.lb)) for choice in plan.choices}
    assert got == {"Ridge": ("quarry lime", 3333), "Creek": ("quarry lime", 3333), "Stand": ("pellets", 920)}
    assert plan.gain == pytest.approx(2.714, abs=1e-6)
    assert plan.full_gain == pytest.approx(2.9)
    assert plan.gap_percent == pytest.approx(0, abs=1e-6)
    assert plan.costs.total == pytest.approx(298)
    assert faults(SEASON, plan) == []
    for said in ("**2.714** of 2.900", "for **$298**", "828 effective lb, 69 %"):
        assert said in PAGE


def test_the_shopping_list(plan: SeasonPlan) -> None:
    truck, bags = plan.purchases
    assert (truck.packages, truck.lb, truck.dollars, truck.plots) == (1, 8000, 160, ("Ridge", "Creek"))
    assert truck.left_lb == pytest.approx(1333.33, abs=0.01)
    assert truck.left_dollars == pytest.approx(26.67, abs=0.01)
    assert (bags.packages, bags.dollars) == (23, 138)
    for said in ("1,333 lb stays", "$26.67", "23 bags, $138"):
        assert said in PAGE


def test_the_hand_plans(plan: SeasonPlan) -> None:
    worst, same = plan.hand_plans
    assert worst.gain == pytest.approx(1.3, abs=1e-6)
    assert worst.dollars == pytest.approx(300)
    assert worst.lime_share_by_plot == pytest.approx({"Stand": 1, "Ridge": 0.3})
    assert same.gain == pytest.approx(0.65 / 3 * 2 * 2.9 + 2.9 / 3, abs=1e-6)
    assert same.dollars == pytest.approx(292)
    assert same.lime_share_by_plot == pytest.approx({"Ridge": 0.65, "Creek": 0.65, "Stand": 0.65})
    for said in ("**1.300** for $300", "**2.223** for $292"):
        assert said in PAGE


def test_the_questions_beside_it() -> None:
    more = next_dollars(SEASON)
    assert more.shown
    assert more.gain == pytest.approx(0.186, abs=1e-6)
    assert cost_of_full_correction(SEASON).dollars == pytest.approx(364)
    assert least_money_to_keep_floors(SEASON).dollars == pytest.approx(138)
    for said in ("**0.186**", "**$364**", "for **$138**"):
        assert said in PAGE


def test_the_hours(plan: SeasonPlan) -> None:
    hours = {choice.plot: choice.hours for choice in plan.choices}
    assert hours == pytest.approx({"Ridge": 1.25, "Creek": 1.85, "Stand": 1.825})
    assert plan.hours == pytest.approx(4.925)
    for said in ("= 1.25 h", "= 1.85 h", "= 1.825 h", "**4.925 h**"):
        assert said in PAGE


def test_the_table_of_worth() -> None:
    """The page's table of halves is the measure that is used."""
    half = Season((PlanPlot("p", 1.0, 2000, 1.0, largest_dressing_effective_lb_per_acre=1000),), SEASON.offers[1:],
                  (PlanSpreader("s", "tractor", frozenset({"pelletized"}), 1),))
    assert solve_season(half).gain == pytest.approx(2 / 3)
    assert "| the first half | 2/3 |" in PAGE
