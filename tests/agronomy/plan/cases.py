"""Made-up seasons: small ones that can be searched in full, and whole properties."""

from __future__ import annotations

import random

from agronomy.season_plan import (
    DumpSite,
    Must,
    NutrientNeed,
    Package,
    PlanDressing,
    PlanOffer,
    PlanPlot,
    PlanSpreader,
    Season,
    SpentAnyway,
    Wishes,
)

SMALL_SPREADERS = (
    PlanSpreader("broadcast", "side_by_side", frozenset({"pelletized", "granular"}), 2.0, hopper_lb=500,
                 setup_hours=0.5, hours_per_load=0.2, travel_mph=6, dollars_per_hour=5),
    PlanSpreader("lime spreader", "tractor", frozenset({"quarry"}), 3.0, hopper_lb=3000, setup_hours=0.75,
                 largest_lb_per_acre_per_pass=3000, dollars_per_hour=12),
)


def _small_plot(dice: random.Random, number: int) -> PlanPlot:
    owed = dice.choice([0.0, 600.0, dice.uniform(500, 4000), dice.uniform(500, 4000)])
    needs = ()
    if dice.random() < 0.3:
        needs = (NutrientNeed("p2o5", dice.choice([20.0, 40.0]), 50.0),
                 NutrientNeed("n", dice.choice([0.0, 30.0]), 40.0))
    return PlanPlot(
        f"plot {number}", acres=round(dice.uniform(0.3, 2.0), 2), owed_effective_lb_per_acre=owed,
        ph_gap=round(owed / dice.uniform(1500, 3000), 2), care=dice.choice([0.5, 1.0, 1.5]),
        heaviest_vehicle=dice.choice(["side_by_side", "tractor", "lime_truck"]),
        incorporated=dice.random() < 0.7, legume=dice.choice(["none", "inoculated"]), needs=needs,
        haul_ft=dice.choice([0.0, 1500.0]),
    )


def _small_offers(dice: random.Random) -> tuple[PlanOffer, ...]:
    offers = [
        PlanOffer("totes", "lime", "pelletized", Package("tote", dice.choice([400, 1000])), dice.uniform(40, 120),
                  effective_percent=dice.uniform(75, 95), on_hand_lb={"": dice.choice([0.0, 300.0])},
                  order_dollars=dice.choice([0.0, 30.0])),
        PlanOffer("tipped", "lime", "quarry", Package("truckload", 8000, dice.choice([3000, 8000])),
                  dice.uniform(20, 45), "delivered", effective_percent=dice.uniform(45, 75),
                  load_dollars=dice.choice([0.0, 60.0]), on_hand_lb={"gate": dice.choice([0.0, 1200.0])}),
        PlanOffer("spread", "lime", "quarry", Package("truckload", 10000, 4000), dice.uniform(35, 60), "spread",
                  effective_percent=60, custom_dollars_per_acre=dice.choice([0.0, 8.0])),
        PlanOffer("picked up", "lime", "quarry", Package("bulk", 4000, 1000), dice.uniform(30, 60),
                  effective_percent=65, hours_per_load=dice.choice([0.0, 1.0])),
    ]
    phosphate = PlanOffer("18-46-0", "fertilizer", "granular", Package("bag", 100), dice.uniform(40, 60),
                          n_percent=18, p2o5_percent=46)
    chosen = dice.sample(offers, 2)
    return (*chosen, phosphate) if dice.random() < 0.5 else tuple(chosen)


def small_season(seed: int) -> Season:
    """Two or three plots, two or three offers, limits that bite: few enough ways to try them all."""
    dice = random.Random(seed)
    plots = tuple(_small_plot(dice, number) for number in range(dice.choice([2, 2, 3])))
    offers = _small_offers(dice)
    within = {plot.key: dice.choice([100.0, 900.0]) for plot in plots if dice.random() < 0.8}
    lies = any(offer.on_hand_lb.get("gate") for offer in offers)
    dressings = (PlanDressing("spring", frozenset({3, 4})),)
    if len(plots) == 2 and dice.random() < 0.3:
        dressings = (*dressings, PlanDressing("fall", frozenset({9, 10}), 6))
    if not within and not lies:
        within = {plots[0].key: 0.0}
    return Season(
        plots, offers, SMALL_SPREADERS, (DumpSite("gate", within),), dressings,
        budget_dollars=dice.choice([None, 60.0, 150.0, 300.0, 450.0]), hours=dice.choice([None, None, 3.0, 6.0]),
        spent_anyway=(SpentAnyway("lab fees", dice.choice([0.0, 24.0])),),
    )


def _plot(dice: random.Random, number: int) -> PlanPlot:
    owed = dice.choice([0.0, dice.uniform(300, 5000), dice.uniform(300, 5000), dice.uniform(300, 5000)])
    needs = tuple(
        NutrientNeed(nutrient, need, need + 10)
        for nutrient, need in (("n", dice.choice([0, 30, 60])), ("p2o5", dice.choice([0, 20, 40, 60])),
                               ("k2o", dice.choice([0, 30, 60, 90])))
    )
    heaviest = dice.choice(["on_foot", "side_by_side", "side_by_side", "tractor", "lime_truck", "lime_truck"])
    return PlanPlot(
        f"p{number}", acres=round(dice.uniform(0.2, 3), 2), owed_effective_lb_per_acre=owed,
        ph_gap=min(2.0, owed / dice.uniform(1200, 3500)), care=dice.choice([0.7, 1, 1, 1.5]),
        floor_gap_effective_lb_per_acre=dice.choice([0.0, 0.0, owed * 0.4]),
        heaviest_vehicle=heaviest, incorporated=dice.random() < 0.6,
        open_months={"lime_truck": frozenset({8, 9, 10})} if dice.random() < 0.2 else {},
        legume=dice.choice(["none", "none", "inoculated", "legume_grass"]), near_water=dice.random() < 0.1,
        slope=dice.random() < 0.1, needs=needs if dice.random() < 0.6 else (), haul_ft=dice.uniform(300, 6000),
    )


OFFERS = (
    PlanOffer("quarry delivered", "lime", "quarry", Package("truckload", 44000, 30000), 32, "delivered",
              effective_percent=62, load_dollars=150),
    PlanOffer("quarry spread", "lime", "quarry", Package("truckload", 44000, 20000), 48, "spread",
              effective_percent=62),
    PlanOffer("pellets 40", "lime", "pelletized", Package("bag", 40), 6.2, effective_percent=89),
    PlanOffer("pellets tote", "lime", "pelletized", Package("tote", 2000, smallest_order=2), 260, "delivered",
              effective_percent=85, order_dollars=90),
    PlanOffer("fluid", "lime", "fluid", Package("tote", 2500), 300, "delivered", effective_percent=50),
    PlanOffer("quarry picked up", "lime", "quarry", Package("bulk", 4000), 40, effective_percent=70,
              hours_per_load=1.5),
    PlanOffer("pellets 50", "lime", "pelletized", Package("bag", 50), 8.5, effective_percent=93,
              on_hand_lb={"": 700}),
    PlanOffer("0-46-0", "fertilizer", "granular", Package("bag", 50), 27, p2o5_percent=46),
    PlanOffer("0-0-60", "fertilizer", "granular", Package("bag", 50), 22, k2o_percent=60),
    PlanOffer("46-0-0", "fertilizer", "granular", Package("bag", 50), 24, n_percent=46,
              acidity_lb_caco3_per_lb=0.83),
    PlanOffer("18-46-0", "fertilizer", "granular", Package("bag", 50), 28, n_percent=18, p2o5_percent=46),
    PlanOffer("19-19-19", "fertilizer", "granular", Package("bag", 50), 25, n_percent=19, p2o5_percent=19,
              k2o_percent=19),
)
SPREADERS = (
    PlanSpreader("hand", "on_foot", frozenset({"pelletized", "granular"}), 0.5, hopper_lb=60, setup_hours=0.25,
                 hours_per_load=0.08, travel_mph=2),
    PlanSpreader("side-by-side spreader", "side_by_side", frozenset({"pelletized", "granular"}), 3, hopper_lb=400,
                 hours_per_load=0.2, travel_mph=8, largest_lb_per_acre_per_pass=1000, dollars_per_hour=4),
    PlanSpreader("drop spreader", "tractor", frozenset({"quarry", "pelletized"}), 4, hopper_lb=4000,
                 setup_hours=0.75, hours_per_load=0.3, travel_mph=6, largest_lb_per_acre_per_pass=4000,
                 dollars_per_hour=14),
    PlanSpreader("boom", "tractor", frozenset({"fluid"}), 6, hopper_lb=3000, dollars_per_hour=12),
)


def whole_property(
    seed: int, *, plots: int = 20, budget_share: float | None = None, hours_a_plot: float | None = None
) -> Season:
    """A property of many plots with twelve offers, two or one dressings, dump sites, and a budget that is short."""
    dice = random.Random(seed)
    made = tuple(_plot(dice, number) for number in range(plots))
    sites = tuple(
        DumpSite(f"site {number}", {f"p{i}": dice.uniform(50, 2500) for i in dice.sample(range(plots), min(plots, 5))})
        for number in range(max(2, plots // 8))
    )
    dressings = (PlanDressing("spring", frozenset({3, 4})), PlanDressing("fall", frozenset({9, 10}), 6))
    owed = sum(plot.owed_effective_lb_per_acre * plot.acres for plot in made)
    share = dice.choice([0.02, 0.04, 0.08]) if budget_share is None else budget_share
    hours = dice.choice([None, plots * 0.6, plots * 2.0]) if hours_a_plot is None else plots * hours_a_plot
    must = (Must("p1", 0.5),) if dice.random() < 0.2 and made[1].owed_effective_lb_per_acre > 0 else ()
    return Season(
        made, OFFERS, SPREADERS, sites, dressings[: dice.choice([1, 1, 2])], budget_dollars=round(owed * share),
        hours=hours, spent_anyway=(SpentAnyway("lab fees", 40.0),),
        wishes=Wishes(must=must, prefer_bulk=dice.random() < 0.2),
    )
