"""The cheapest set of whole bags or bulk pounds that meets what a plot needs, and what it delivers."""

from __future__ import annotations

from agronomy.blend.best import best, best_shared
from agronomy.blend.bounds import Refusal
from agronomy.blend.hand import HandWay, Sizing, by_hand, sizings
from agronomy.blend.offers import BlendLimits, BlendPlot, FertilizerOffer
from agronomy.blend.plan import BlendLine, BlendPlan, NutrientBalance, Purchase, SharedPlan

__all__ = [
    "BlendLimits",
    "BlendLine",
    "BlendPlan",
    "BlendPlot",
    "FertilizerOffer",
    "HandWay",
    "NutrientBalance",
    "Purchase",
    "Refusal",
    "SharedPlan",
    "Sizing",
    "best",
    "best_shared",
    "by_hand",
    "sizings",
]
