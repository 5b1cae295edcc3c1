"""Every way to plan a small season: all choices, all package counts, and the best weights by a linear program.

Written from the season's facts alone; good for seasons in which at most one machine suits a material.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from scipy.optimize import linprog

from agronomy.season_plan import VEHICLES, PlanOffer, PlanPlot, Season
from tests.agronomy.plan.audit import worth

NUTRIENTS = ("n", "p2o5", "k2o")


@dataclass(frozen=True)
class Way:
    """One material on one plot in one dressing."""

    plot: PlanPlot
    offer: PlanOffer
    dressing: int
    site: str | None
    least: float
    most: float
    hours_fixed: float
    hours_per_lb: float
    dollars_fixed: float
    dollars_per_lb: float

    @property
    def pile(self) -> tuple[str, str | None, int | None]:
        return self.offer.key, self.site, self.dressing if self.offer.basis == "spread" else None

    @property
    def effective(self) -> float:
        return self.offer.effective_percent / 100 if self.offer.kind == "lime" else 0.0

    def part(self, nutrient: str) -> float:
        return float(getattr(self.offer, f"{nutrient}_percent")) / 100


def ways_of(season: Season) -> list[Way]:
    """All single dressings that are possible."""
    return [
        way
        for plot in season.plots
        for offer in season.offers
        for dressing in range(len(season.dressings))
        for way in _ways(season, plot, offer, dressing)
    ]


def _ways(season: Season, plot: PlanPlot, offer: PlanOffer, dressing: int) -> Iterator[Way]:
    if offer.kind == "lime":
        share = offer.effective_percent / 100
        least = plot.smallest_dressing_effective_lb_per_acre / share * plot.acres
        most = min(plot.owed_effective_lb_per_acre / share, 8000 if plot.incorporated else 4000) * plot.acres
    else:
        if dressing > 0 or not _helps(plot, offer):
            return
        least = 0.0
        caps = [
            cap_lb_per_acre(plot, n) / (getattr(offer, f"{n}_percent") / 100)
            for n in NUTRIENTS
            if getattr(offer, f"{n}_percent")
        ]
        most = min(caps) * plot.acres
    if most <= 0 or least > most:
        return
    tipped = offer.kind == "lime" and offer.basis == "delivered"
    piles = (
        [(s.key, s.reach_ft[plot.key]) for s in season.sites if plot.key in s.reach_ft]
        if tipped
        else [(None, plot.haul_ft)]
    )
    for site, feet in piles:
        work = _work(season, plot, offer, feet, most)
        if work is not None:
            yield Way(plot, offer, dressing, site, least, most, *work)


def _work(
    season: Season, plot: PlanPlot, offer: PlanOffer, feet: float, most: float
) -> tuple[float, float, float, float] | None:
    if offer.basis == "spread":
        return (
            (0.0, 0.0, offer.custom_dollars_per_acre * plot.acres, 0.0)
            if (plot.heaviest_vehicle == "lime_truck")
            else None
        )
    able = [
        s
        for s in season.spreaders
        if offer.form in s.forms and VEHICLES.index(s.vehicle) <= VEHICLES.index(plot.heaviest_vehicle)
    ]
    if not able:
        return None
    (machine,) = able
    load = machine.hours_per_load + 2 * feet / 5280 / machine.travel_mph
    pass_ = plot.acres / machine.acres_per_hour
    fixed, per_lb = machine.setup_hours + load + pass_, 0.0
    if machine.hopper_lb is not None and most > machine.hopper_lb:
        per_lb += load / machine.hopper_lb
    if machine.largest_lb_per_acre_per_pass is not None and most > machine.largest_lb_per_acre_per_pass * plot.acres:
        per_lb += pass_ / (machine.largest_lb_per_acre_per_pass * plot.acres)
    return fixed, per_lb, fixed * machine.dollars_per_hour, per_lb * machine.dollars_per_hour


def _helps(plot: PlanPlot, offer: PlanOffer) -> bool:
    return any(need.need_lb_per_acre > 0 and getattr(offer, f"{need.nutrient}_percent") > 0 for need in plot.needs)


def cap_lb_per_acre(plot: PlanPlot, nutrient: str) -> float:
    need = next((n for n in plot.needs if n.nutrient == nutrient), None)
    most = 0.0 if need is None else need.most_lb_per_acre or need.need_lb_per_acre
    if nutrient == "n" and plot.legume == "inoculated":
        return 25.0 if need is None else min(25.0, most)
    return most


def best_gain(season: Season) -> float:
    """The greatest gain of any plan, in acre-points."""
    ways, best = ways_of(season), 0.0
    per_plot = [list(_sets(season, [w for w in ways if w.plot.key == plot.key])) for plot in season.plots]
    plans = [[way for chosen in plan for way in chosen] for plan in product(*per_plot)]
    for bound, plan in sorted(((_most(season, plan), plan) for plan in plans), key=lambda pair: -pair[0]):
        if bound <= best + 1e-12:
            break
        for counts in _counts(season, plan):
            best = max(best, _weighed(season, plan, counts))
    return best


def _sets(season: Season, ways: list[Way]) -> Iterator[tuple[Way, ...]]:
    """What may be done together on one plot."""
    rounds = [
        [None, *(w for w in ways if w.offer.kind == "lime" and w.dressing == number)]
        for number in range(len(season.dressings))
    ]
    feeds = [w for w in ways if w.offer.kind == "fertilizer"]
    fed = [c for size in range(min(len(feeds), season.fertilizers_per_plot) + 1) for c in combinations(feeds, size)]
    for limes in product(*rounds):
        for feed in fed:
            yield (*(way for way in limes if way is not None), *feed)


def _most(season: Season, plan: list[Way]) -> float:
    """No more gain than this, whatever it costs."""
    total = 0.0
    for plot in season.plots:
        here = [way for way in plan if way.plot is plot]
        owed = plot.owed_effective_lb_per_acre * plot.acres
        if owed > 0:
            share = sum(way.most * way.effective for way in here) / owed
            total += plot.acres * plot.care * plot.ph_gap * worth(season, share)
        for need in plot.needs:
            pounds = need.need_lb_per_acre * plot.acres
            if pounds > 0:
                share = sum(way.most * way.part(need.nutrient) for way in here) / pounds
                total += plot.acres * plot.care * need.worth_ph_points * worth(season, share)
    return total


def _piles(plan: list[Way]) -> list[tuple[str, str | None, int | None]]:
    return list(dict.fromkeys(way.pile for way in plan))


def stock_lb(season: Season, pile: tuple[str, str | None, int | None]) -> float:
    offer = season.offer_by_key[pile[0]]
    return 0.0 if offer.basis == "spread" else float(offer.on_hand_lb.get(pile[1] or "", 0.0))


def _counts(season: Season, plan: list[Way]) -> Iterator[tuple[int, ...]]:
    """Every number of packages of each pile that could make sense."""
    ranges = []
    for pile in _piles(plan):
        drawn = [way for way in plan if way.pile == pile]
        package, stock = season.offer_by_key[pile[0]].package, stock_lb(season, pile)
        least, most = sum(way.least for way in drawn) - stock, sum(way.most for way in drawn) - stock
        if package.kind == "bulk":
            ranges.append(range(int(least > 0), 1 + int(most > 0)))
        else:
            holds = package.holds_lb
            ranges.append(range(max(0, math.ceil(least / holds)), max(0, math.ceil(most / holds)) + 1))
    return product(*ranges)


def _weighed(season: Season, plan: list[Way], counts: tuple[int, ...]) -> float:
    """The most gain of given choices and package counts: a linear program over weights, or -1."""
    piles, money = _piles(plan), season.budget_dollars
    if money is not None:
        money = max(0.0, money - sum(cost.dollars for cost in season.spent_anyway))
    halves = [
        (plot, kind, half)
        for plot in season.plots
        for kind in ("lime", *NUTRIENTS)
        for half in (0, 1)
        if need_lb(plot, kind) > 0
    ]
    width = len(plan) + len(piles) + len(halves)
    gain, rows, limits = np.zeros(width), [], []
    bounds: list[tuple[float, float | None]] = [(way.least, way.most) for way in plan]
    cost = [way.dollars_per_lb for way in plan]
    fixed_dollars = sum(way.dollars_fixed for way in plan)
    for pile, count in zip(piles, counts, strict=True):
        offer = season.offer_by_key[pile[0]]
        least, most = _bought(offer, count)
        bounds.append((least, most))
        by_weight = offer.package.kind in ("truckload", "bulk")
        cost.append((offer.price_dollars or 0) / (2000 if by_weight else offer.package.holds_lb))
        fixed_dollars += count * offer.load_dollars
    ordered = {pile[0] for pile, count in zip(piles, counts, strict=True) if count}
    fixed_dollars += sum(season.offer_by_key[key].order_dollars for key in ordered)
    for number, (plot, kind, half) in enumerate(halves, start=len(plan) + len(piles)):
        bounds.append((0.0, 0.5))
        part = season.first_half_worth if half == 0 else 1 - season.first_half_worth
        gain[number] = 2 * part * worth_of(plot, kind)
    for number, pile in enumerate(piles):
        row = np.zeros(width)
        row[: len(plan)] = [way.pile == pile for way in plan]
        row[len(plan) + number] = -1
        rows.append(row)
        limits.append(stock_lb(season, pile))
    for plot in season.plots:
        _plot_rows(plot, plan, halves, len(plan) + len(piles), (rows, limits, width))
    if money is not None:
        rows.append(np.array([*cost, *[0.0] * len(halves)]))
        limits.append(money - fixed_dollars)
    if season.hours is not None:
        fetched = sum(
            count * season.offer_by_key[pile[0]].hours_per_load for pile, count in zip(piles, counts, strict=True)
        )
        row = np.zeros(width)
        row[: len(plan)] = [way.hours_per_lb for way in plan]
        rows.append(row)
        limits.append(season.hours - fetched - sum(way.hours_fixed for way in plan))
    if not width:
        return 0.0 if all(limit >= 0 for limit in limits) else -1.0
    found = linprog(-gain, np.array(rows) if rows else None, limits or None, bounds=bounds)
    return -float(found.fun) if found.status == 0 else -1.0


def _bought(offer: PlanOffer, count: int) -> tuple[float, float | None]:
    package = offer.package
    if package.kind == "bulk":
        return (package.smallest_lb or 0.0, None) if count else (0.0, 0.0)
    least = package.holds_lb
    if package.kind == "truckload" and package.smallest_lb is not None:
        least = package.smallest_lb
    return count * least, count * package.holds_lb


def need_lb(plot: PlanPlot, kind: str) -> float:
    if kind == "lime":
        return plot.owed_effective_lb_per_acre * plot.acres
    return sum(need.need_lb_per_acre for need in plot.needs if need.nutrient == kind) * plot.acres


def worth_of(plot: PlanPlot, kind: str) -> float:
    if kind == "lime":
        return plot.acres * plot.care * plot.ph_gap
    return plot.acres * plot.care * sum(need.worth_ph_points for need in plot.needs if need.nutrient == kind)


def _plot_rows(plot: PlanPlot, plan: list[Way], halves: list, first: int, out: tuple[list, list, int]) -> None:
    rows, limits, width = out
    for kind in ("lime", *NUTRIENTS):
        pounds = np.zeros(width)
        for number, way in enumerate(plan):
            if way.plot is plot:
                pounds[number] = way.effective if kind == "lime" else way.part(kind)
        cap = need_lb(plot, "lime") if kind == "lime" else cap_lb_per_acre(plot, kind) * plot.acres
        if pounds.any():
            rows.append(pounds)
            limits.append(cap)
        need = need_lb(plot, kind)
        if need > 0:
            row = -pounds / need
            for number, (owner, of, _) in enumerate(halves, start=first):
                if owner is plot and of == kind:
                    row[number] = 1.0
            rows.append(row)
            limits.append(0.0)
