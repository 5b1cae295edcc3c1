"""From the account of a plan to the answer that pages and print-outs show."""

from __future__ import annotations

import math
from collections.abc import Mapping

from agronomy.season_plan.cautions import findings_of, hazards_of
from agronomy.season_plan.facts import NUTRIENTS
from agronomy.season_plan.layout import EDGE, Option
from agronomy.season_plan.ledger import Ledger
from agronomy.season_plan.reasons import reason_for, sharing, undone_on
from agronomy.season_plan.results import (
    Choice,
    Costs,
    HandPlan,
    PlotOutcome,
    Purchase,
    SeasonPlan,
    Undone,
)
from agronomy.season_plan.search import Searched
from agronomy.season_plan.solver import gap_percent
from agronomy.season_plan.wishes import meets


def season_plan(found: Searched) -> SeasonPlan:
    """The whole answer for a plan as found."""
    ledger, layout = found.ledger, found.layout
    season = layout.season
    undone = {plot.key: undone_on(ledger, plot.key) for plot in season.plots}
    purchases = purchases_of(ledger)
    dollars = _dollars_by_plot(ledger)
    plots = tuple(_outcome(ledger, plot.key, undone[plot.key], dollars) for plot in season.plots)
    gap = None if found.bound is None else gap_percent(ledger.score, found.bound)
    choices = tuple(_choice(ledger, layout.options[i], lb) for i, lb in sorted(ledger.lb.items()))
    return SeasonPlan(
        choices=choices, purchases=purchases, plots=plots,
        undone=tuple(item for item in undone.values() if item is not None), unmet=found.settled.unmet,
        costs=costs_of(ledger), hours=ledger.hours, fetching_hours=ledger.fetching_hours,
        hours_by_dressing={
            dressing.key: hours for dressing, hours in zip(season.dressings, ledger.dressing_hours, strict=True)
        },
        gain=ledger.gain, full_gain=layout.full_worth, score=ledger.score, bound=found.bound, gap_percent=gap,
        status=found.status, seconds=found.seconds,
        hand_plans=tuple(_hand_plan(name, plan, found) for name, plan in found.hands.items()),
        findings=findings_of(
            season, choices, purchases, plots, gap=gap, status=found.status, unmet=found.settled.unmet
        ),
        hazards=hazards_of(season, choices, purchases),
    )


def _choice(ledger: Ledger, option: Option, lb: float) -> Choice:
    season = ledger.layout.season
    acres, offer = season.plot_by_key[option.plot].acres, season.offer_by_key[option.offer]
    n, p2o5, k2o = (share * lb / acres for share in option.nutrient_share)
    hopper = option.work.hopper_lb
    return Choice(
        plot=option.plot, offer=option.offer, kind=option.kind, dressing=season.dressings[option.dressing].key,
        site=option.site, spreader=option.work.spreader, lb=lb, lb_per_acre=lb / acres,
        effective_lb_per_acre=option.effective_share * lb / acres, n_lb_per_acre=n, p2o5_lb_per_acre=p2o5,
        k2o_lb_per_acre=k2o, acidity_lb_caco3_per_acre=offer.acidity_lb_caco3_per_lb * lb / acres,
        loads=None if hopper is None else math.ceil(lb / hopper - EDGE),
        hours=option.work.hours_fixed + option.work.hours_per_lb * lb, months=tuple(sorted(option.months)),
        shares_with=sharing(ledger, option),
    )


def purchases_of(ledger: Ledger) -> tuple[Purchase, ...]:
    """What to order, pool by pool; also what is only taken from stock."""
    return tuple(
        _purchase(ledger, number) for number, _ in enumerate(ledger.layout.pools) if ledger.pool_lb(number) > EDGE
    )


def _purchase(ledger: Ledger, number: int) -> Purchase:
    layout, pool, bought = ledger.layout, ledger.layout.pools[number], ledger.bought(number)
    season = layout.season
    offer, used = season.offer_by_key[pool.offer], ledger.pool_lb(number)
    drawing = [layout.options[i] for i in ledger.lb if layout.options[i].pool == number]
    left = max(0.0, bought.lb - max(0.0, used - pool.stock_lb)) if bought.packages else 0.0
    plots = {option.plot for option in drawing}
    first = season.dressings[min(option.dressing for option in drawing)].key
    return Purchase(
        offer=offer.key, site=pool.site,
        dressing=None if pool.dressing is None else season.dressings[pool.dressing].key,
        package=offer.package.kind, packages=bought.packages, lb=bought.lb, used_lb=used,
        from_stock_lb=min(used, pool.stock_lb), left_lb=left, dollars=bought.dollars,
        left_dollars=left * offer.dollars_per_lb, plots=tuple(p.key for p in season.plots if p.key in plots),
        tipped_in=first if offer.is_tipped and bought.packages else None,
    )


def costs_of(ledger: Ledger) -> Costs:
    """Material, delivery (loads and orders) and spreading apart."""
    layout, material, loads = ledger.layout, 0.0, 0.0
    for number, pool in enumerate(layout.pools):
        bought, offer = ledger.bought(number), layout.season.offer_by_key[pool.offer]
        material += bought.lb * offer.dollars_per_lb
        loads += bought.packages * offer.load_dollars
    orders = ledger.dollars - ledger.spreading_dollars - material - loads
    return Costs(material, loads + max(0.0, orders), ledger.spreading_dollars, layout.season.spent_anyway_dollars)


def _dollars_by_plot(ledger: Ledger) -> Mapping[str, float]:
    """Each plot's spreading, and its part by weight of what was bought together (leftover and delivery too)."""
    layout = ledger.layout
    dollars = {plot.key: 0.0 for plot in layout.season.plots}
    order_lb: dict[str, float] = {}
    for number, pool in enumerate(layout.pools):
        if ledger.bought(number).packages:
            order_lb[pool.offer] = order_lb.get(pool.offer, 0.0) + ledger.pool_lb(number)
    for index, lb in ledger.lb.items():
        option = layout.options[index]
        offer, bought = layout.season.offer_by_key[option.offer], ledger.bought(option.pool)
        dollars[option.plot] += option.dollars_fixed + option.dollars_per_lb * lb
        if bought.packages:
            dollars[option.plot] += bought.dollars * lb / ledger.pool_lb(option.pool)
            dollars[option.plot] += offer.order_dollars * lb / order_lb[offer.key]
    return dollars


def _outcome(ledger: Ledger, plot_key: str, undone: Undone | None, dollars: Mapping[str, float]) -> PlotOutcome:
    layout = ledger.layout
    plot, cap = layout.season.plot_by_key[plot_key], layout.caps[plot_key]
    effective, fed = ledger.effective_lb(plot_key), ledger.nutrient_lb(plot_key)
    shares = [got / need if need > 0 else None for got, need in zip(fed, cap.need_lb, strict=True)]
    floor = plot.floor_gap_effective_lb_per_acre * plot.acres
    hours = sum(o.work.hours_fixed + o.work.hours_per_lb * lb for o, lb in ledger.on_plot(plot_key))
    return PlotOutcome(
        plot=plot_key, lime_share=min(1.0, effective / cap.owed_lb) if cap.owed_lb else None,
        effective_lb_per_acre=effective / plot.acres,
        still_owed_effective_lb_per_acre=max(0.0, cap.owed_lb - effective) / plot.acres,
        n_share=shares[NUTRIENTS.index("n")], p2o5_share=shares[NUTRIENTS.index("p2o5")],
        k2o_share=shares[NUTRIENTS.index("k2o")], gain=ledger.plot_gain(plot_key),
        worth=cap.lime_worth + sum(cap.need_worth), dollars=dollars[plot_key], hours=hours,
        below_floor=effective < floor * (1 - 2 * EDGE), reason=reason_for(ledger, plot_key, undone),
    )


def _hand_plan(method: str, ledger: Ledger, found: Searched) -> HandPlan:
    layout = ledger.layout
    used = [layout.options[index] for index in ledger.lb]
    limed = {option.plot: ledger.effective_lb(option.plot) for option in used if option.kind == "lime"}
    return HandPlan(
        method=method, gain=ledger.gain, score=ledger.score,
        dollars=ledger.dollars + layout.season.spent_anyway_dollars, hours=ledger.hours, plots_limed=len(limed),
        lime_share_by_plot={plot: min(1.0, lb / layout.caps[plot].owed_lb) for plot, lb in limed.items()},
        keeps_wishes=not ledger.faults() and meets(ledger, found.settled.required),
    )
