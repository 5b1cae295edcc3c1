"""The questions a manager asks of the season, each an answer of the same program."""

from __future__ import annotations

from dataclasses import replace

from agronomy.findings import Finding, check
from agronomy.season_plan.layout import Layout, lay_out
from agronomy.season_plan.ledger import Ledger
from agronomy.season_plan.model import Required, write_program
from agronomy.season_plan.question import PlanDressing, Season, Wishes
from agronomy.season_plan.report import season_plan
from agronomy.season_plan.results import LeastCost, NextDollars, SeasonPlan, UnmetWish
from agronomy.season_plan.search import Ask, Searched, Tell, earlier, plans_of, search
from agronomy.season_plan.solver import solve
from agronomy.season_plan.wishes import SOURCE, Settled, keep_most, out_of_reach, reachable_effective_lb

NEXT_GAP = 1e-5


def solve_season(
    season: Season,
    *,
    gap_percent: float = 0.5,
    seconds: float = 60.0,
    progress: Tell | None = None,
    stop: Ask | None = None,
) -> SeasonPlan:
    """The best plan of a season, to `gap_percent` of the proven optimum or the best within `seconds`.

    `progress` hears of every better plan and bound; `stop` is asked several times a second and ends the search
    with the best plan so far. Wishes that cannot be kept are answered in `unmet`, and the plan keeps the rest.
    """
    layout = lay_out(season)
    return season_plan(search(layout, gap=gap_percent / 100, seconds=seconds, progress=progress, stop=stop))


def next_dollars(
    season: Season, *, dollars: float = 100.0, seconds: float = 60.0, stop: Ask | None = None
) -> NextDollars:
    """What `dollars` more budget would gain: the difference of two solves, with their gaps as its uncertainty.

    Raises `ValueError` without a budget.
    """
    if season.budget_dollars is None:
        raise ValueError("next_dollars needs a budget; allowed 0 or more dollars")
    now = search(lay_out(season), gap=NEXT_GAP, seconds=seconds / 2, stop=stop, cheapen=False)
    richer = lay_out(replace(season, budget_dollars=season.budget_dollars + dollars))
    then = search(richer, gap=NEXT_GAP, seconds=seconds / 2, stop=stop, also_start=now.ledger.lb, cheapen=False)
    gain = then.ledger.score - now.ledger.score
    if now.bound is None or then.bound is None:
        return NextDollars(dollars, gain, 0.0, float("inf"), shown=False)
    low, high = then.ledger.score - now.bound, then.bound - now.ledger.score
    return NextDollars(dollars, gain, max(0.0, low), high, shown=high - low <= gain)


def cost_of_full_correction(season: Season, *, seconds: float = 60.0, stop: Ask | None = None) -> LeastCost:
    """The least money that brings every plot as far toward its target as one season's dressings can.

    Budget and hours do not limit it (the answer says the hours it takes), wishes but `must` do. Plots that
    nothing reaches are in `left`. Fertilizer is not part of it.
    """
    free = replace(season, budget_dollars=None, hours=None, dressings=_without_hours(season))
    layout = lay_out(replace(free, wishes=_without_musts(season.wishes)))
    owing = [plot for plot in season.plots if plot.owed_effective_lb_per_acre > 0]
    targets = {plot.key: reachable_effective_lb(layout, plot.key) for plot in owing}
    return _least_cost(layout, targets, seconds, stop)


def least_money_to_keep_floors(season: Season, *, seconds: float = 60.0, stop: Ask | None = None) -> LeastCost:
    """The least money that keeps every plot above its crop's floor for a year, within the season's hours.

    Plots whose floor cannot be kept are in `left` with the reason.
    """
    layout = lay_out(replace(season, budget_dollars=None, wishes=_without_musts(season.wishes)))
    targets = {
        plot.key: plot.floor_gap_effective_lb_per_acre * plot.acres
        for plot in season.plots
        if plot.floor_gap_effective_lb_per_acre > 0
    }
    return _least_cost(layout, targets, seconds, stop)


def _without_hours(season: Season) -> tuple[PlanDressing, ...]:
    return tuple(replace(dressing, hours=None) for dressing in season.dressings)


def _without_musts(wishes: Wishes) -> Wishes:
    return replace(wishes, must=())


def _least_cost(layout: Layout, targets: dict[str, float], seconds: float, stop: Ask | None) -> LeastCost:
    wanted, left = [], []
    for plot, effective_lb in targets.items():
        most = reachable_effective_lb(layout, plot)
        if most <= 0:
            left.append(UnmetWish(plot, None, out_of_reach(layout, plot)))
        elif most < effective_lb * (1 - 1e-6):
            left.append(UnmetWish(plot, None, _too_little(layout, plot, effective_lb, most)))
        else:
            wanted.append(Required(plot, effective_lb))
    program = write_program(layout, goal="cost", required=tuple(wanted), budget=False)
    found = solve(program, gap=0.001, seconds=seconds, stop=stop)
    required = tuple(wanted)
    if found.values is None and wanted:
        settled = keep_most(layout, tuple(replace(need, may_fail=True) for need in wanted), budget=False, stop=stop)
        required, left = settled.required, [*left, *settled.unmet]
        program = write_program(layout, goal="cost", required=required, budget=False)
        found = solve(program, gap=0.001, seconds=seconds, stop=stop)
    plans = plans_of(program, found)
    ledger = earlier(plans[0] if plans else Ledger(layout))
    searched = Searched(layout, ledger, None, found.status, found.seconds, {}, Settled(required, {}, tuple(left)))
    plan, spent = season_plan(searched), layout.season.spent_anyway_dollars
    bound = max(0.0, min(found.bound, ledger.dollars))
    return LeastCost(plan.costs.total, bound + spent, plan.hours, plan, tuple(left))


def _too_little(layout: Layout, plot: str, wanted: float, most: float) -> Finding:
    acres = layout.season.plot_by_key[plot].acres
    return check(
        "plan_floor_out_of_reach", source=SOURCE, plot=layout.season.plot_by_key[plot].label,
        wanted_effective_lb_per_acre=wanted / acres, most_effective_lb_per_acre=most / acres,
    )
