"""A second account of a plan, written from the season's facts and the shown answer alone.

It shares no code with the program's own account, so that a slip in one does not hide in the other.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

from agronomy.season_plan import VEHICLES, Choice, PlanOffer, PlanPlot, Season, SeasonPlan

SLACK = 1 + 3e-6


def gain_of(season: Season, effective: dict[str, float], nutrients: dict[tuple[str, str], float]) -> float:
    """Acre-points of so much effective lime (lb a plot) and nutrient (lb a plot), by the docs' definition."""
    total = 0.0
    for plot in season.plots:
        owed = plot.owed_effective_lb_per_acre * plot.acres
        if owed > 0:
            total += plot.acres * plot.care * plot.ph_gap * worth(season, effective.get(plot.key, 0.0) / owed)
        for need in plot.needs:
            if need.need_lb_per_acre > 0:
                share = nutrients.get((plot.key, need.nutrient), 0.0) / (need.need_lb_per_acre * plot.acres)
                total += plot.acres * plot.care * need.worth_ph_points * worth(season, share)
    return total


def worth(season: Season, share: float) -> float:
    share, first = min(max(share, 0.0), 1.0), season.first_half_worth
    return min(share, 0.5) / 0.5 * first + max(share - 0.5, 0.0) / 0.5 * (1 - first)


def plan_gain(season: Season, plan: SeasonPlan) -> float:
    """The gain recomputed from the choices shown."""
    effective: dict[str, float] = defaultdict(float)
    nutrients: dict[tuple[str, str], float] = defaultdict(float)
    for choice in plan.choices:
        offer = season.offer_by_key[choice.offer]
        if offer.kind == "lime":
            percent = offer.effective_percent_by_plot.get(choice.plot, offer.effective_percent)
            effective[choice.plot] += choice.lb * percent / 100
        for nutrient in ("n", "p2o5", "k2o"):
            nutrients[choice.plot, nutrient] += choice.lb * getattr(offer, f"{nutrient}_percent") / 100
    return gain_of(season, effective, nutrients)


def faults(season: Season, plan: SeasonPlan) -> list[str]:
    """Everything a plan breaks; empty when all holds."""
    return [*_choices(season, plan), *_plots(season, plan), *_purchases(season, plan), *_totals(season, plan)]


def _reached(plot: PlanPlot, vehicle: str) -> set[int]:
    if VEHICLES.index(vehicle) > VEHICLES.index(plot.heaviest_vehicle):
        return set()
    return set(plot.open_months.get(vehicle, range(1, 13)))


def _choices(season: Season, plan: SeasonPlan) -> Iterator[str]:
    rounds = {dressing.key: dressing for dressing in season.dressings}
    spreaders = {spreader.key: spreader for spreader in season.spreaders}
    for choice in plan.choices:
        plot, offer = season.plot_by_key[choice.plot], season.offer_by_key[choice.offer]
        if choice.plot in season.wishes.skip:
            yield f"{choice.plot} was to be skipped"
        if any(no.offer == offer.key and no.plot in (None, plot.key) for no in season.wishes.not_material):
            yield f"{offer.key} was ruled out on {plot.key}"
        if offer.form in ("burnt", "hydrated") and offer.key not in season.wishes.allow_caustic:
            yield f"{offer.key} is caustic and not allowed"
        months = set(rounds[choice.dressing].months)
        if offer.basis == "spread":
            vehicle = offer.spread_vehicle
        else:
            vehicle = spreaders[choice.spreader].vehicle
            if offer.form not in spreaders[choice.spreader].forms:
                yield f"{choice.spreader} does not take {offer.form}"
        if not set(choice.months) or not set(choice.months) <= months & _reached(plot, vehicle):
            yield f"{choice.plot}: {vehicle} cannot reach it in {choice.dressing}"
        yield from _rate(plot, offer, choice)
        yield from _site(season, offer, choice)


def _rate(plot: PlanPlot, offer: PlanOffer, choice: Choice) -> Iterator[str]:
    rate = choice.lb / plot.acres
    if abs(rate - choice.lb_per_acre) > 1e-6 * rate:
        yield f"{choice.plot}: rate and pounds differ"
    if offer.largest_rate_lb_per_acre is not None and rate > offer.largest_rate_lb_per_acre * SLACK:
        yield f"{choice.plot}: over the offer's rate"
    if offer.kind != "lime":
        return
    effective = rate * offer.effective_percent_by_plot.get(plot.key, offer.effective_percent) / 100
    most = 8000.0 if plot.incorporated else 4000.0
    if plot.largest_dressing_lb_per_acre is not None:
        most = plot.largest_dressing_lb_per_acre
    if rate > most * SLACK:
        yield f"{choice.plot}: dressing of {rate} lb/acre over {most}"
    if effective * SLACK < plot.smallest_dressing_effective_lb_per_acre:
        yield f"{choice.plot}: dressing of {effective} lb/acre is too small"


def _site(season: Season, offer: PlanOffer, choice: Choice) -> Iterator[str]:
    if offer.kind == "lime" and offer.basis == "delivered" and offer.package.kind in ("truckload", "bulk"):
        sites = {site.key: site for site in season.sites}
        if sites and choice.plot not in sites[choice.site].reach_ft:
            yield f"{choice.plot} is out of reach of {choice.site}"


def _plots(season: Season, plan: SeasonPlan) -> Iterator[str]:
    for plot in season.plots:
        here = [choice for choice in plan.choices if choice.plot == plot.key]
        limes = [choice for choice in here if choice.kind == "lime"]
        if len({choice.dressing for choice in limes}) < len(limes):
            yield f"{plot.key}: two limes in one dressing"
        if sum(c.effective_lb_per_acre for c in limes) > plot.owed_effective_lb_per_acre * SLACK:
            yield f"{plot.key}: over its target"
        nitrogen = sum(c.n_lb_per_acre for c in here)
        legume = {"inoculated": 25, "legume_grass": 30}.get(plot.legume)
        if legume is not None and nitrogen > legume * SLACK:
            yield f"{plot.key}: {nitrogen} lb/acre of N on a legume"
        for need in plot.needs:
            most = need.need_lb_per_acre if need.most_lb_per_acre is None else need.most_lb_per_acre
            if need.nutrient == "p2o5" and plot.near_water:
                most = need.need_lb_per_acre
            got = sum(getattr(c, f"{need.nutrient}_lb_per_acre") for c in here)
            if not (need.nutrient == "n" and legume) and got > most * SLACK + 1e-6:
                yield f"{plot.key}: {got} lb/acre of {need.nutrient} over {most}"
        if len(here) - len(limes) > season.fertilizers_per_plot:
            yield f"{plot.key}: too many fertilizers"


def _purchases(season: Season, plan: SeasonPlan) -> Iterator[str]:
    used: dict[tuple[str, str | None, str | None], float] = defaultdict(float)
    for choice in plan.choices:
        offer = season.offer_by_key[choice.offer]
        used[choice.offer, choice.site, choice.dressing if offer.basis == "spread" else None] += choice.lb
    bought = {(p.offer, p.site, p.dressing): p for p in plan.purchases}
    if set(used) != set(bought):
        yield "purchases do not match the choices"
    for key, lb in used.items():
        purchase, offer = bought[key], season.offer_by_key[key[0]]
        package = offer.package
        stock = 0.0 if offer.basis == "spread" else offer.on_hand_lb.get(key[1] or "", 0.0)
        if lb > (stock + purchase.lb) * SLACK + 0.1:  # a tenth of a pound is nothing to weigh
            yield f"{key}: {lb} lb spread out of {stock} + {purchase.lb}"
        if purchase.packages and purchase.packages < package.smallest_order:
            yield f"{key}: under the smallest order"
        if package.kind in ("bag", "jug", "tote") and abs(purchase.lb - purchase.packages * package.holds_lb) > 1e-6:
            yield f"{key}: broken packages"
        if package.kind == "truckload":
            least = package.holds_lb if package.smallest_lb is None else package.smallest_lb
            if not purchase.packages * least <= purchase.lb * SLACK <= purchase.packages * package.holds_lb * SLACK**2:
                yield f"{key}: {purchase.lb} lb in {purchase.packages} trucks"
        if package.kind == "bulk" and purchase.packages and purchase.lb * SLACK < (package.smallest_lb or 0):
            yield f"{key}: under the smallest weight"
        if offer.price_dollars is None and purchase.packages:
            yield f"{key}: bought though not for sale"


def _spreading(season: Season, choice: Choice) -> tuple[float, float]:
    """(hours at least, dollars beside the machine's hours) of one choice, loads and passes rounded up."""
    plot, offer = season.plot_by_key[choice.plot], season.offer_by_key[choice.offer]
    if offer.basis == "spread":
        return 0.0, offer.custom_dollars_per_acre * plot.acres
    spreader = next(s for s in season.spreaders if s.key == choice.spreader)
    feet = plot.haul_ft
    if choice.site is not None:
        feet = next((s.reach_ft[plot.key] for s in season.sites if s.key == choice.site), 0.0)
    loads = 1 if spreader.hopper_lb is None else math.ceil(choice.lb / spreader.hopper_lb - 1e-6)
    each = spreader.largest_lb_per_acre_per_pass
    passes = 1 if each is None else math.ceil(choice.lb_per_acre / each - 1e-6)
    load_hours = spreader.hours_per_load + 2 * feet / 5280 / spreader.travel_mph
    return spreader.setup_hours + loads * load_hours + passes * plot.acres / spreader.acres_per_hour, 0.0


def _totals(season: Season, plan: SeasonPlan) -> Iterator[str]:
    dollars = sum(cost.dollars for cost in season.spent_anyway)
    for purchase in plan.purchases:
        offer = season.offer_by_key[purchase.offer]
        by_weight = offer.package.kind in ("truckload", "bulk")
        price = purchase.lb / 2000 if by_weight else purchase.packages
        dollars += price * (offer.price_dollars or 0) + purchase.packages * offer.load_dollars
    for key in {purchase.offer for purchase in plan.purchases if purchase.packages}:
        dollars += season.offer_by_key[key].order_dollars
    machines = {spreader.key: spreader for spreader in season.spreaders}
    for choice in plan.choices:
        hours, custom = _spreading(season, choice)
        if choice.hours < hours - 1e-6:
            yield f"{choice.plot}: {choice.hours} h counted where {hours} h are needed"
        dollars += custom + (choice.hours * machines[choice.spreader].dollars_per_hour if choice.spreader else 0.0)
    if abs(dollars - plan.costs.total) > 0.01:
        yield f"cost {plan.costs.total} should be {dollars}"
    spent = sum(cost.dollars for cost in season.spent_anyway)
    if season.budget_dollars is not None and dollars > max(season.budget_dollars, spent) + 0.01:
        yield f"cost {dollars} over the budget {season.budget_dollars}"
    fetching = sum(p.packages * season.offer_by_key[p.offer].hours_per_load for p in plan.purchases)
    hours = sum(choice.hours for choice in plan.choices) + fetching
    if abs(hours - plan.hours) > 1e-3:
        yield f"hours {plan.hours} should be {hours}"
    if season.hours is not None and hours > season.hours + 1e-3:
        yield f"hours {hours} over {season.hours}"
    for dressing in season.dressings:
        spent_hours = sum(choice.hours for choice in plan.choices if choice.dressing == dressing.key)
        if dressing.hours is not None and spent_hours > dressing.hours + 1e-3:
            yield f"{dressing.key}: hours over its limit"
