"""Which of the wishes can be kept, and for each that cannot: why, in figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

from agronomy.findings import Finding, check
from agronomy.season_plan.layout import EDGE, Layout, Option
from agronomy.season_plan.ledger import Ledger
from agronomy.season_plan.model import Required, write_program
from agronomy.season_plan.results import UnmetWish
from agronomy.season_plan.solver import solve

SOURCE = "season_plan"
SIDE_SECONDS = 5.0
BARRIERS = (  # the most telling first
    "skipped", "not_wished", "caustic_not_allowed", "below_smallest_dressing", "no_vehicle", "season_closed",
    "dump_site_closed", "no_dump_site", "no_spreader", "rate_limits", "no_liming_value", "not_for_sale",
)


@dataclass(frozen=True, slots=True)
class Settled:
    """What must be met (`required`), dressings that meet it most cheaply (`base`), and what cannot be."""

    required: tuple[Required, ...]
    base: dict[int, float]
    unmet: tuple[UnmetWish, ...]


def reachable_effective_lb(layout: Layout, plot: str, *, offer: str | None = None) -> float:
    """The most effective CaCO3 (lb in all) that options and dressing limits let a plot have this season."""
    cap = layout.caps[plot].owed_lb
    rounds: dict[int, set[tuple[float, float]]] = {}
    for option in layout.lime_by_plot[plot]:
        least, most = _effective_band(layout, option)
        if offer in (None, option.offer) and most > 0:
            rounds.setdefault(option.dressing, set()).add((least, most))
    best = 0.0
    for bands in product(*([(0.0, 0.0), *sorted(found)] for found in rounds.values())):
        if sum(least for least, _ in bands) <= cap * (1 + EDGE):
            best = max(best, min(cap, sum(most for _, most in bands)))
    return best


def _effective_band(layout: Layout, option: Option) -> tuple[float, float]:
    """Least and most effective lb of an option; what is only on hand gives no more than the stock."""
    pool = layout.pools[option.pool]
    most = option.most_lb if pool.most_packages else min(option.most_lb, pool.stock_lb)
    if most < option.least_lb * (1 - EDGE):
        return 0.0, 0.0
    return option.least_lb * option.effective_share, most * option.effective_share


def barrier(layout: Layout, plot: str, *, offer: str | None = None) -> str:
    """The most telling reason why no lime (or not this offer) is possible on a plot."""
    found = {
        code for (key, name), code in layout.barriers.items()
        if key == plot and layout.season.offer_by_key[name].kind == "lime" and offer in (None, name)
    }
    return next((code for code in BARRIERS if code in found), "no_material")


def settle_wishes(layout: Layout, *, stop: Callable[[], bool] | None = None) -> Settled:
    """The musts as rows of the program, those that cannot be kept put aside with the reason."""
    season, wanted, unmet = layout.season, [], []
    for must in season.wishes.must:
        if season.plot_by_key[must.plot].owed_effective_lb_per_acre <= 0:
            reason = check("plan_wish_nothing_owed", source=SOURCE, plot=season.plot_by_key[must.plot].label)
            unmet.append(UnmetWish(must.plot, must.offer, reason))
            continue
        most = reachable_effective_lb(layout, must.plot, offer=must.offer)
        if most <= 0:
            unmet.append(UnmetWish(must.plot, must.offer, out_of_reach(layout, must.plot, must.offer)))
        else:
            wanted.append(Required(must.plot, most * must.share, must.offer, may_fail=True))
    kept = keep_most(layout, tuple(wanted), budget=True, stop=stop)
    return Settled(kept.required, kept.base, (*unmet, *kept.unmet))


def out_of_reach(layout: Layout, plot: str, offer: str | None = None) -> Finding:
    """The finding that a plot cannot be limed (with this offer) at all, and by what barrier."""
    named = layout.season.offer_by_key[offer].label if offer else ""
    return check(
        "plan_wish_out_of_reach", source=SOURCE, plot=layout.season.plot_by_key[plot].label, material=named,
        barrier=barrier(layout, plot, offer=offer),
    )


def keep_most(
    layout: Layout, wanted: tuple[Required, ...], *, budget: bool, stop: Callable[[], bool] | None = None
) -> Settled:
    """Keep as many of `wanted` as the limits allow, at the least cost; the rest answered one by one."""
    if not wanted:
        return Settled((), {}, ())
    firm = tuple(Required(need.plot, need.effective_lb, need.offer) for need in wanted)
    base = _cheapest(layout, firm, budget, stop)
    if base is not None:
        return Settled(firm, base, ())
    kept = _most_kept(layout, wanted, firm, budget, stop)
    base = _cheapest(layout, kept, budget, stop)
    if base is None:
        kept, base = (), {}
    unmet = tuple(
        UnmetWish(need.plot, need.offer, _over_limits(layout, (*kept, need), budget, stop))
        for need in firm
        if need not in kept
    )
    return Settled(kept, base, unmet)


def _most_kept(
    layout: Layout,
    wanted: tuple[Required, ...],
    firm: tuple[Required, ...],
    budget: bool,
    stop: Callable[[], bool] | None,
) -> tuple[Required, ...]:
    program = write_program(layout, goal="unmet", required=wanted, budget=budget)
    search = solve(program, seconds=SIDE_SECONDS, stop=stop)
    if search.values is None:
        return ()
    unmet = [search.values[program.columns["unmet", i]] > 0.5 for i in range(len(firm))]
    return tuple(need for need, failed in zip(firm, unmet, strict=True) if not failed)


def _cheapest(
    layout: Layout, required: Sequence[Required], budget: bool, stop: Callable[[], bool] | None
) -> dict[int, float] | None:
    """The least-cost dressings that meet all of `required`, or None."""
    program = write_program(layout, goal="cost", required=tuple(required), budget=budget)
    found = solve(program, gap=0.005, seconds=SIDE_SECONDS, stop=stop)
    if found.values is None:
        return None
    plots = {need.plot for need in required}
    amounts = program.amounts(found.values)
    base = {
        i: lb for i, lb in amounts.items() if layout.options[i].plot in plots and layout.options[i].kind == "lime"
    }
    return base if not budget or Ledger.of(layout, base).within_limits() else None


def _over_limits(
    layout: Layout, required: tuple[Required, ...], budget: bool, stop: Callable[[], bool] | None
) -> Finding:
    """Why the last of `required` cannot be met beside the others: money, else hours, else what can be bought."""
    need = required[-1]
    plot = layout.season.plot_by_key[need.plot].label
    if budget:
        program = write_program(layout, goal="cost", required=required, budget=False)
        priced = solve(program, seconds=SIDE_SECONDS, stop=stop)
        if priced.values is not None:
            money = layout.money_dollars or 0.0
            return check(
                "plan_wish_over_budget", source=SOURCE, plot=plot, with_others=len(required) - 1,
                least_dollars=priced.objective, budget_dollars=money, short_dollars=priced.objective - money,
            )
    program = write_program(layout, goal="hours", required=required, budget=False, hours=False)
    timed = solve(program, seconds=SIDE_SECONDS, stop=stop)
    if timed.values is not None:
        return check(
            "plan_wish_over_hours", source=SOURCE, plot=plot, with_others=len(required) - 1,
            least_hours=timed.objective, hours=_hours_limit(layout, timed.objective),
        )
    return check("plan_wish_not_enough_material", source=SOURCE, plot=plot, with_others=len(required) - 1)


def _hours_limit(layout: Layout, wanted: float) -> float:
    """The limit that stands in the way: the season's hours, else those of its dressings together."""
    season = layout.season
    if season.hours is not None and wanted > season.hours:
        return season.hours
    return sum(dressing.hours for dressing in season.dressings if dressing.hours is not None)


def meets(ledger: Ledger, required: Sequence[Required]) -> bool:
    """Whether a plan keeps all that is required."""
    for need in required:
        got = sum(
            option.effective_share * lb
            for option, lb in ledger.on_plot(need.plot)
            if option.kind == "lime" and need.offer in (None, option.offer)
        )
        if got < need.effective_lb * (1 - 2 * EDGE):
            return False
    return True
