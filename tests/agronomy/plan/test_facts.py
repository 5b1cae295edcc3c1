"""What cannot be is refused with the allowed range, and what a plot may take follows its crop and place."""

from __future__ import annotations

from typing import Any

import pytest

from agronomy.season_plan import (
    DumpSite,
    Must,
    NotMaterial,
    NutrientNeed,
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
from agronomy.season_plan.ledger import worth_of_share
from agronomy.season_plan.machines import counted

BAG = Package("bag", 40)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: PlanPlot("p", 0), "acres is 0; allowed 0.001 to 2000"),
        (lambda: PlanPlot("p", float("nan")), "acres is nan"),
        (lambda: PlanPlot("p", 1, owed_effective_lb_per_acre=-1), "owed_effective_lb_per_acre is -1; allowed 0 to"),
        (lambda: PlanPlot("p", 1, ph_gap=9), "ph_gap is 9; allowed 0 to 4"),
        (lambda: PlanPlot("p", 1, 100, floor_gap_effective_lb_per_acre=200), "allowed 0 to 100"),
        (lambda: PlanPlot("p", 1, heaviest_vehicle="sled"), "heaviest_vehicle is 'sled'; allowed on_foot"),
        (lambda: PlanPlot("p", 1, open_months={"tractor": frozenset({13})}), "allowed one or more of 1 to 12"),
        (lambda: PlanPlot("p", 1, needs=(NutrientNeed("n", 1), NutrientNeed("n", 2))), "each nutrient"),
        (lambda: NutrientNeed("n", 50, 40), "most_lb_per_acre is 40; allowed 50 to"),
        (lambda: Package("crate", 40), "package is 'crate'; allowed truckload"),
        (lambda: Package("truckload", 100, 200), "smallest_lb is 200; allowed 0 to 100"),
        (lambda: PlanOffer("o", "lime", "quarry", BAG, 5, effective_percent=300), "effective_percent is 300"),
        (lambda: PlanOffer("o", "fertilizer", "anhydrous_ammonia", BAG, 5, n_percent=82), "never planned"),
        (lambda: PlanSpreader("s", "tractor", frozenset(), 0), "acres_per_hour is 0"),
        (lambda: DumpSite("d", {}, frozenset()), "truck months"),
        (lambda: PlanDressing("1", frozenset({0})), "months of dressing 1"),
        (lambda: Must("p", 0), "share is 0"),
        (lambda: SpentAnyway("fees", -1), "dollars is -1"),
        (lambda: _season(dressings=(PlanDressing("1"), PlanDressing("2", months_after=3))), "allowed 6 or more apart"),
        (lambda: _season(plots=(PlanPlot("p", 1), PlanPlot("p", 2))), "plots: keys must be unique"),
        (lambda: _season(wishes=Wishes(must=(Must("nowhere"),))), "unknown plot or offer: nowhere"),
        (lambda: _season(wishes=Wishes(not_material=(NotMaterial("nothing"),))), "unknown plot or offer"),
        (lambda: _season(budget_dollars=-5), "allowed 0 to"),
        (lambda: _season(first_half_worth=0.3), "first_half_worth is 0.3; allowed 0.5 to 1"),
    ],
)
def test_bad_facts_are_refused_with_the_range(make: Any, message: str) -> None:
    with pytest.raises(ValueError) as caught:  # noqa: PT011 (the message is what is tested)
        make()
    assert message in str(caught.value)


def _season(**changes: Any) -> Season:
    return Season(**{"plots": (PlanPlot("p", 1),), "offers": (), **changes})


def test_a_pile_at_no_known_site_is_refused() -> None:
    offer = PlanOffer(
        "o",
        "lime",
        "quarry",
        Package("truckload", 40000),
        30,
        "delivered",
        effective_percent=60,
        on_hand_lb={"the moon": 100},
    )
    with pytest.raises(ValueError, match="the moon"):
        solve_season(_season(offers=(offer,)))


def test_the_first_half_counts_most_and_nothing_above_the_target() -> None:
    worth = [worth_of_share(share, first_half_worth=2 / 3) for share in (-1, 0, 0.25, 0.5, 0.75, 1, 1.5)]
    assert worth == pytest.approx([0, 0, 1 / 3, 2 / 3, 5 / 6, 1, 1])


def test_loads_and_passes_are_never_counted_under() -> None:
    for pounds in (1.0, 399.0, 400.0, 401.0, 999.0, 1000.0):
        fixed, per_lb = counted(per_lb=1.0, most=1000.0, each=400.0)
        assert fixed + per_lb * pounds >= -(-pounds // 400)
    assert counted(per_lb=1.0, most=400.0, each=400.0) == (1.0, 0.0)
    assert counted(per_lb=1.0, most=400.0, each=None) == (1.0, 0.0)


@pytest.mark.parametrize(
    ("plot", "nutrient", "limit"),
    [
        (PlanPlot("p", 1, legume="inoculated"), "n", 25),
        (PlanPlot("p", 1, legume="legume_grass"), "n", 30),
        (PlanPlot("p", 1, legume="inoculated", needs=(NutrientNeed("n", 10, 20),)), "n", 20),
        (PlanPlot("p", 1, legume="inoculated", needs=(NutrientNeed("n", 60, 70),)), "n", 25),
        (PlanPlot("p", 1), "n", 0),
        (PlanPlot("p", 1, needs=(NutrientNeed("p2o5", 40, 50),)), "p2o5", 50),
        (PlanPlot("p", 1, near_water=True, needs=(NutrientNeed("p2o5", 40, 50),)), "p2o5", 40),
        (PlanPlot("p", 1, near_water=True), "p2o5", 0),
    ],
)
def test_what_a_plot_may_take_of_a_nutrient(plot: PlanPlot, nutrient: Any, limit: float) -> None:
    assert plot.nutrient_limit_lb_per_acre(nutrient) == limit


def test_a_lighter_vehicle_goes_where_a_heavier_one_does() -> None:
    plot = PlanPlot("p", 1, heaviest_vehicle="lime_truck", open_months={"lime_truck": frozenset({8})})
    assert plot.months_reached("lime_truck") == {8}
    assert len(plot.months_reached("tractor")) == 12
    assert PlanPlot("p", 1, heaviest_vehicle="side_by_side").months_reached("tractor") == frozenset()
