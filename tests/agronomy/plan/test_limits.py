"""Limits that a plan may never break, whatever the season: budget, hours, access, packages, dressings, legumes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from agronomy.season_plan import (
    VEHICLES,
    DumpSite,
    NotMaterial,
    NutrientNeed,
    Package,
    PlanDressing,
    PlanOffer,
    PlanPlot,
    PlanSpreader,
    Season,
    Wishes,
    solve_season,
)
from tests.agronomy.plan.audit import faults, plan_gain
from tests.agronomy.plan.cases import OFFERS, SPREADERS

ALL_YEAR = frozenset(range(1, 13))
months = st.one_of(st.just(ALL_YEAR), st.just(ALL_YEAR), st.frozensets(st.integers(1, 12), min_size=1))
needs = st.lists(
    st.builds(
        lambda nutrient, need, more: NutrientNeed(nutrient, need, need + more),
        st.sampled_from(["n", "p2o5", "k2o"]),
        st.one_of(st.just(0.0), st.floats(1, 150)),
        st.floats(0, 20),
    ),
    unique_by=lambda need: need.nutrient,
    max_size=3,
).map(tuple)


@st.composite
def plots(draw: st.DrawFn, key: str) -> PlanPlot:
    owed = draw(st.one_of(st.floats(600, 9000), st.floats(600, 9000), st.floats(1, 600), st.just(0.0)))
    return PlanPlot(
        key,
        draw(st.floats(0.05, 12)),
        owed,
        draw(st.floats(0.05, 2.5)),
        draw(st.floats(0.05, 3)),
        draw(st.floats(0, 1)) * owed,
        draw(st.sampled_from(VEHICLES[::-1])),
        draw(st.dictionaries(st.sampled_from(VEHICLES), months, max_size=1)),
        smallest_dressing_effective_lb_per_acre=draw(st.sampled_from([500.0, 300.0, 0.0])),
        largest_dressing_effective_lb_per_acre=draw(st.sampled_from([None, 1500.0])),
        largest_dressing_lb_per_acre=draw(st.sampled_from([None, 3000.0])),
        incorporated=draw(st.booleans()),
        legume=draw(st.sampled_from(["none", "inoculated", "legume_grass"])),
        near_water=draw(st.booleans()),
        needs=draw(needs),
        haul_ft=draw(st.floats(0, 9000)),
    )


@st.composite
def offers(draw: st.DrawFn, key: str, sites: tuple[str, ...]) -> PlanOffer:
    kind = draw(st.sampled_from(["bag", "truckload", "bulk", "tote", "jug"]))
    holds = draw(st.floats(8000, 48000)) if kind == "truckload" else draw(st.floats(10, 3000))
    by_weight = kind in ("truckload", "bulk")
    smallest = draw(st.one_of(st.none(), st.floats(0.1, 1).map(lambda part: part * holds))) if by_weight else None
    places = st.sampled_from(["", *sites])
    price = st.floats(15, 90) if by_weight else st.floats(0.05, 0.3).map(lambda dollars: dollars * holds)
    return PlanOffer(
        key,
        "lime",
        draw(st.sampled_from(["pelletized", "quarry", "fluid", "hydrated"])),
        Package(kind, holds, smallest, draw(st.integers(1, 3)) if kind != "bulk" else 1),
        draw(st.one_of(price, price, price, st.none())),
        draw(st.sampled_from(["at_source", "delivered", "spread"])),
        effective_percent=draw(st.floats(20, 110)),
        on_hand_lb=draw(st.dictionaries(places, st.floats(0, 5000))),
        load_dollars=draw(st.sampled_from([0.0, 75.0])),
        order_dollars=draw(st.sampled_from([0.0, 40.0])),
        hours_per_load=draw(st.sampled_from([0.0, 0.7])),
        custom_dollars_per_acre=draw(st.sampled_from([0.0, 9.0])),
        largest_rate_lb_per_acre=draw(st.sampled_from([None, 5000.0])),
    )


@st.composite
def seasons(draw: st.DrawFn) -> Season:
    keys = [f"p{i}" for i in range(draw(st.integers(1, 5)))]
    reach = st.dictionaries(st.sampled_from(keys), st.floats(0, 3000), min_size=1)
    sites = tuple(DumpSite(f"s{i}", draw(reach), draw(months)) for i in range(draw(st.integers(1, 2))))
    limes = [draw(offers(f"lime {i}", tuple(site.key for site in sites))) for i in range(draw(st.integers(1, 4)))]
    fertilizers = st.sampled_from([offer for offer in OFFERS if offer.kind == "fertilizer"])
    feeds = draw(st.lists(fertilizers, unique_by=lambda offer: offer.key, max_size=2))
    ruled_out = draw(st.lists(st.sampled_from(limes), max_size=1))
    limits = st.one_of(st.none(), st.floats(2, 60))
    dressings = [PlanDressing("first", draw(months), 0, draw(limits)), PlanDressing("second", draw(months), 6)]
    hydrated = PlanSpreader("shovel", "on_foot", frozenset({"hydrated"}), 0.2, setup_hours=0.1)
    return Season(
        tuple(draw(plots(key)) for key in keys),
        (*limes, *feeds),
        (*SPREADERS, hydrated),
        sites,
        tuple(dressings[: draw(st.integers(1, 2))]),
        draw(st.one_of(st.none(), st.floats(50, 4000))),
        draw(limits),
        wishes=Wishes(
            skip=draw(st.frozensets(st.sampled_from(keys), max_size=1)),
            not_material=tuple(NotMaterial(o.key, draw(st.sampled_from([None, keys[0]]))) for o in ruled_out),
            prefer_bulk=draw(st.booleans()),
            allow_caustic=draw(st.frozensets(st.sampled_from([limes[0].key]))),
        ),
        fertilizers_per_plot=draw(st.integers(0, 2)),
    )


@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
@given(seasons())
def test_no_limit_is_ever_broken(season: Season) -> None:
    plan = solve_season(season, gap_percent=0.1, seconds=5)
    assert faults(season, plan) == []
    assert plan.gain == pytest.approx(plan_gain(season, plan), rel=1e-9, abs=1e-9)
    assert plan.bound is None or plan.bound >= plan.score - 1e-6
    for hand in plan.hand_plans:
        assert plan.score >= hand.score * (1 - 1e-6) - 1e-6


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(seasons(), st.floats(1.0, 3.0))
def test_more_money_never_gains_less(season: Season, times: float) -> None:
    season = replace(season, budget_dollars=300.0)
    less = solve_season(season, gap_percent=0.0, seconds=5)
    more = solve_season(replace(season, budget_dollars=300.0 * times), gap_percent=0.0, seconds=5)
    assert more.score >= less.score * (1 - 1e-5) - 1e-6


def _one(plot: PlanPlot, *offers: PlanOffer, **season: object) -> Season:
    return Season((plot,), offers, SPREADERS, **season)  # type: ignore[arg-type]


def test_a_truck_is_not_offered_where_only_feet_reach() -> None:
    plot = PlanPlot("foot plot", 0.2, 1750, 0.8, heaviest_vehicle="on_foot", incorporated=False)
    plan = solve_season(_one(plot, *OFFERS, sites=(DumpSite("gate", {}),)))
    assert {choice.spreader for choice in plan.choices} == {"hand"}
    assert {choice.offer for choice in plan.choices} == {"pellets 50"}  # what is on hand costs nothing


def test_a_closed_month_keeps_the_truck_out_and_is_named() -> None:
    plot = PlanPlot(
        "bottom", 2.0, 2000, 0.8, heaviest_vehicle="lime_truck", open_months={"lime_truck": frozenset({8, 9})}
    )
    spread = next(offer for offer in OFFERS if offer.key == "quarry spread")
    spring = (PlanDressing("spring", frozenset({3, 4})),)
    plan = solve_season(_one(plot, spread, dressings=spring))
    assert plan.choices == ()
    assert plan.undone[0].cause == "season_closed"
    fall = (PlanDressing("fall", frozenset({8, 9, 10})),)
    assert solve_season(_one(plot, spread, dressings=fall)).choices[0].months == (8, 9)


def test_caustic_lime_only_by_name() -> None:
    plot = PlanPlot("field", 1.0, 2000, 0.8)
    hydrated = PlanOffer("hydrated", "lime", "hydrated", Package("bag", 50), 5, effective_percent=130)
    shovel = (PlanSpreader("box", "tractor", frozenset({"hydrated"}), 2),)
    season = Season((plot,), (hydrated,), shovel)
    assert solve_season(season).undone[0].cause == "caustic_not_allowed"
    allowed = solve_season(replace(season, wishes=Wishes(allow_caustic=frozenset({"hydrated"}))))
    assert allowed.plots[0].lime_share == pytest.approx(1)
    assert "caustic_lime" in {hazard.code for hazard in allowed.hazards}


def test_nitrogen_on_clover_stops_at_its_limit() -> None:
    clover = PlanPlot("clover", 0.75, legume="inoculated", needs=(NutrientNeed("p2o5", 92, 102), NutrientNeed("n", 0)))
    dap, tsp = (next(o for o in OFFERS if o.key == key) for key in ("18-46-0", "0-46-0"))
    cheap = replace(dap, price_dollars=5.0)
    plan = solve_season(_one(clover, cheap, tsp, budget_dollars=500))
    assert sum(choice.n_lb_per_acre for choice in plan.choices) <= 25 + 1e-6
    assert plan.plots[0].p2o5_share == pytest.approx(1, rel=1e-5)
    only = solve_season(_one(clover, cheap))
    assert only.choices[0].n_lb_per_acre == pytest.approx(25, rel=1e-5)
    assert only.choices[0].p2o5_lb_per_acre == pytest.approx(25 * 46 / 18, rel=1e-5)
    assert "plan_legume_nitrogen" in {finding.code for finding in only.findings}


def test_one_lime_a_dressing_and_the_rest_six_months_on() -> None:
    plot = PlanPlot("sour", 1.0, 7000, 1.8, incorporated=False, heaviest_vehicle="lime_truck")
    spread = next(offer for offer in OFFERS if offer.key == "quarry spread")
    rounds = (PlanDressing("spring", frozenset({4})), PlanDressing("fall", frozenset({10}), 6))
    plan = solve_season(_one(plot, spread, dressings=rounds))
    assert [round(choice.lb_per_acre) for choice in plan.choices] == [4000, 4000]
    assert plan.undone[0].cause == "dressing_limit"
    assert plan.plots[0].reason.code == "plan_why_dressing_limit"
