"""The season plan: the best use of a budget and of work hours over all plots (docs/season-plan.md)."""

from agronomy.season_plan.answers import (
    cost_of_full_correction,
    least_money_to_keep_floors,
    next_dollars,
    solve_season,
)
from agronomy.season_plan.facts import (
    NUTRIENTS,
    VEHICLES,
    NutrientNeed,
    Package,
    PlanOffer,
    PlanPlot,
    PlanSpreader,
)
from agronomy.season_plan.question import (
    DumpSite,
    Must,
    NotMaterial,
    PlanDressing,
    Season,
    SpentAnyway,
    Wishes,
)
from agronomy.season_plan.results import (
    Choice,
    Costs,
    HandPlan,
    LeastCost,
    NextDollars,
    PlotOutcome,
    Purchase,
    SeasonPlan,
    Undone,
    UnmetWish,
    as_data,
)
from agronomy.season_plan.solver import Progress

__all__ = [
    "NUTRIENTS",
    "VEHICLES",
    "Choice",
    "Costs",
    "DumpSite",
    "HandPlan",
    "LeastCost",
    "Must",
    "NextDollars",
    "NotMaterial",
    "NutrientNeed",
    "Package",
    "PlanDressing",
    "PlanOffer",
    "PlanPlot",
    "PlanSpreader",
    "PlotOutcome",
    "Progress",
    "Purchase",
    "Season",
    "SeasonPlan",
    "SpentAnyway",
    "Undone",
    "UnmetWish",
    "Wishes",
    "as_data",
    "cost_of_full_correction",
    "least_money_to_keep_floors",
    "next_dollars",
    "solve_season",
]
