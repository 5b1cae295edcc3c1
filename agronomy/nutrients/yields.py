"""Yield goals, and what of a crop's uptake really leaves a plot."""

from __future__ import annotations

from collections.abc import Mapping

from agronomy.crops import Crop
from agronomy.findings import Finding, Step, check, note, stop
from agronomy.nutrients.kinds import Use
from agronomy.nutrients.rules import Question

REMOVAL_SHARE: Mapping[Use, tuple[float, float, float]] = {
    "hayed": (1.0, 1.0, 1.0),
    "browsed": (0.35, 0.2, 0.5),
    "grain_standing": (0.35, 0.2, 0.5),
}
"""Share of the full removal that leaves the plot: taken, lowest, highest. A modelling choice for plots that nothing
is carried off from (source `removal_browsed`)."""


def yield_goal(question: Question, *, unit: str) -> tuple[float | None, tuple[Finding, ...], tuple[Step, ...]]:
    """The yield to reckon with in `unit` an acre: the planting's own, else the crop's usual one, which is said."""
    planting, crop = question.planting, question.crop
    if planting.yield_goal is not None:
        if planting.yield_unit and planting.yield_unit != unit:
            return None, (stop("yield_unit_differs", given=planting.yield_unit, needed=unit),), ()
        return planting.yield_goal, (), ()
    if crop is None or not crop.yield_per_acre or crop.yield_unit != unit:
        return None, (stop("yield_goal_missing", crop=crop.name if crop else "", unit=unit),), ()
    key = crop.source_of("yield_per_acre")
    found = note("yield_assumed", source=key, crop=crop.name, yield_per_acre=crop.yield_per_acre, unit=unit)
    step = Step("Usual yield", "", crop.yield_per_acre, f"{unit}/acre", key)
    return crop.yield_per_acre, (found,), (step,)


def removal(crop: Crop, nutrient: str, *, use: Use, yield_per_acre: float | None = None) -> tuple[float, float, float]:
    """P2O5 or K2O in lb/acre that leaves the plot with a yield: taken, lowest, highest.

    `yield_per_acre` (0 to 500, in the crop's `yield_unit`) defaults to the crop's usual yield. Raises `ValueError` for
    a crop without a removal figure.
    """
    per_unit = crop.removal_p2o5_lb_per_unit if nutrient == "p2o5" else crop.removal_k2o_lb_per_unit
    if per_unit is None or nutrient not in ("p2o5", "k2o"):
        raise ValueError(f"no removal of {nutrient} is known for {crop.name}")
    units = crop.yield_per_acre if yield_per_acre is None else yield_per_acre
    if not 0 <= units <= 500:
        raise ValueError(f"a yield of {units} is not 0 to 500 {crop.yield_unit}/acre")
    taken, lowest, highest = REMOVAL_SHARE[use]
    return units * per_unit * taken, units * per_unit * lowest, units * per_unit * highest


def removal_finding(use: Use, *, nutrient: str, low: float, high: float) -> tuple[Finding, ...]:
    """That only a part of the uptake was counted, on plots that nothing is carried off from."""
    if use == "hayed":
        return ()
    share = REMOVAL_SHARE[use][0] * 100
    return (
        check("removal_of_browsed_plot", source="removal_browsed", nutrient=nutrient, share_percent=share,
              low=low, high=high),
    )  # fmt: skip
