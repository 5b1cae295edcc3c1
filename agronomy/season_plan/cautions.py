"""What a manager must know about a plan, and the dangers of carrying it out."""

from __future__ import annotations

from collections.abc import Sequence

from agronomy.findings import Finding, Hazard, check, hazards_in_order, most_severe_first, note
from agronomy.season_plan.facts import CAUSTIC_FORMS
from agronomy.season_plan.question import Season
from agronomy.season_plan.results import Choice, PlotOutcome, Purchase, UnmetWish
from agronomy.season_plan.wishes import SOURCE

SHOWN_GAP_PERCENT = 0.01
SHOWN_LEFTOVER_LB = 500.0
CLOSE_TO_LIMIT = 0.99


def findings_of(
    season: Season,
    choices: Sequence[Choice],
    purchases: Sequence[Purchase],
    plots: Sequence[PlotOutcome],
    *,
    gap: float | None,
    status: str,
    unmet: Sequence[UnmetWish],
) -> tuple[Finding, ...]:
    """All findings of a plan, most severe first."""
    found = [wish.reason for wish in unmet]
    found += _of_search(gap, status)
    found += _of_money(season, purchases)
    found += _of_floors(plots)
    found += _of_fertilizer(season, choices)
    found += _of_piles(season, choices, purchases)
    return most_severe_first(found)


def _of_search(gap: float | None, status: str) -> list[Finding]:
    if gap is None:
        return [check("plan_nothing_proven", source=SOURCE)]
    if status in ("stopped", "time"):
        return [check("plan_cut_short", source=SOURCE, gap_percent=gap, stopped=status == "stopped")]
    return [note("plan_gap", source=SOURCE, gap_percent=gap)] if gap > SHOWN_GAP_PERCENT else []


def _of_money(season: Season, purchases: Sequence[Purchase]) -> list[Finding]:
    found = []
    spent, budget = season.spent_anyway_dollars, season.budget_dollars
    if budget is not None and spent > budget:
        found.append(check("plan_budget_spent", source=SOURCE, spent_dollars=spent, budget_dollars=budget))
    for purchase in purchases:
        if purchase.left_lb >= SHOWN_LEFTOVER_LB:
            found.append(
                note(
                    "plan_leftover", source=SOURCE, material=season.offer_by_key[purchase.offer].label,
                    left_lb=purchase.left_lb, left_dollars=purchase.left_dollars, site=purchase.site or "",
                )
            )
    return found


def _of_floors(plots: Sequence[PlotOutcome]) -> list[Finding]:
    below = [plot.plot for plot in plots if plot.below_floor]
    return [check("plan_below_floor", source=SOURCE, plots=len(below))] if below else []


def _of_fertilizer(season: Season, choices: Sequence[Choice]) -> list[Finding]:
    acidity = sum(c.acidity_lb_caco3_per_acre * season.plot_by_key[c.plot].acres for c in choices)
    found = [note("plan_acidity", source=SOURCE, acidity_lb_caco3=acidity)] if acidity >= 1 else []
    nitrogen: dict[str, float] = {}
    for choice in choices:
        nitrogen[choice.plot] = nitrogen.get(choice.plot, 0.0) + choice.n_lb_per_acre
    for plot in season.plots:
        limit = plot.nutrient_limit_lb_per_acre("n")
        if plot.legume != "none" and nitrogen.get(plot.key, 0.0) >= CLOSE_TO_LIMIT * limit > 0:
            found.append(
                note("plan_legume_nitrogen", source="plan_legume_nitrogen", plot=plot.label, n_lb_per_acre=limit)
            )
    phosphate = {choice.plot for choice in choices if choice.p2o5_lb_per_acre > 0}
    near = [plot for plot in season.plots if plot.near_water and plot.key in phosphate]
    if near:
        found.append(check("plan_phosphate_near_water", source=SOURCE, plots=len(near)))
    return found


def _of_piles(season: Season, choices: Sequence[Choice], purchases: Sequence[Purchase]) -> list[Finding]:
    found = []
    for purchase in purchases:
        if purchase.tipped_in is None:
            continue
        material = season.offer_by_key[purchase.offer].label
        later = {
            c.dressing for c in choices
            if c.offer == purchase.offer and c.site == purchase.site and c.dressing != purchase.tipped_in
        }
        found.append(
            check(
                "plan_pile_waits" if later else "plan_pile", source=SOURCE, material=material, site=purchase.site or "",
                loads=purchase.packages, plots=len(purchase.plots),
            )
        )
    return found


def hazards_of(season: Season, choices: Sequence[Choice], purchases: Sequence[Purchase]) -> tuple[Hazard, ...]:
    """Dangers of materials, machines and places that the plan leads to; never left out."""
    found: list[Hazard] = []
    offers, spreaders = season.offer_by_key, {spreader.key: spreader for spreader in season.spreaders}
    trucks = [p for p in purchases if p.packages and p.package in ("truckload", "bulk")]
    if any(p.tipped_in is not None for p in purchases):
        found += [Hazard("danger", "raised_truck_bed"), Hazard("caution", "stockpile_runoff")]
    used = {spreaders[c.spreader].vehicle for c in choices if c.spreader is not None}
    if "tractor" in used or any(offers[p.offer].basis != "at_source" for p in trucks):
        found.append(Hazard("caution", "soft_ground"))
    if "tractor" in used:
        found.append(Hazard("danger", "pto"))
    if "side_by_side" in used:
        found.append(Hazard("warning", "side_by_side_load"))
    if any(season.plot_by_key[c.plot].slope for c in choices):
        found.append(Hazard("warning", "slope"))
    if any(offers[c.offer].form in CAUSTIC_FORMS for c in choices):
        found.append(Hazard("danger", "caustic_lime"))
    if any(c.kind == "lime" for c in choices):
        found.append(Hazard("caution", "lime_dust"))
    if choices:
        found.append(Hazard("caution", "set_up_in_full"))
    return hazards_in_order(found)
