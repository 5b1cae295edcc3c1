"""What a set of dressings costs, takes and brings: one account for every plan, however it was found.

The solver's plan, both hand methods and the figures on the page all come out of this account, so that they are
measured alike.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from agronomy.season_plan.layout import EDGE, LEAST_WEIGHED_LB, Layout, Option, Pool

HALF_A_CENT = 0.005
LIMIT_EDGE = 1e-6  # of floats, in dollars and hours; far below what anybody counts


@dataclass(frozen=True, slots=True)
class Bought:
    """What one pool costs: whole packages, the pounds in them, and dollars."""

    packages: int
    lb: float
    dollars: float


NOTHING = Bought(0, 0.0, 0.0)


def worth_of_share(share: float, *, first_half_worth: float) -> float:
    """Worth (0 to 1) of meeting a share (0 to 1) of a need; the first half is worth `first_half_worth` of all."""
    share = min(max(share, 0.0), 1.0)
    if share <= 0.5:
        return 2 * share * first_half_worth
    return first_half_worth + (2 * share - 1) * (1 - first_half_worth)


def bought_for(layout: Layout, pool: Pool, lb: float) -> Bought:
    """The fewest packages of a pool that cover `lb`, less what is on hand; the leftover is paid for too."""
    short = lb - pool.stock_lb
    slack = min(EDGE * pool.holds_lb, LEAST_WEIGHED_LB)
    if short <= slack:
        return NOTHING
    offer = layout.season.offer_by_key[pool.offer]
    packages = max(math.ceil((short - slack) / pool.holds_lb), offer.package.smallest_order)
    weight = min(max(short, packages * pool.least_lb), packages * pool.holds_lb)
    return Bought(packages, weight, weight * offer.dollars_per_lb + packages * offer.load_dollars)


class Ledger:
    """A running account of dressings. `put` sets the weight of an option; totals follow at once."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.lb: dict[int, float] = {}
        self._pool_lb = [0.0] * len(layout.pools)
        self._bought = [NOTHING] * len(layout.pools)
        self._orders: dict[str, int] = {}
        self._pools_over = 0
        self._spreading_dollars = 0.0
        self._purchase_dollars = 0.0
        self._fetching_hours = 0.0
        self._dressing_hours = [0.0] * len(layout.season.dressings)

    @classmethod
    def of(cls, layout: Layout, amounts: Mapping[int, float]) -> Ledger:
        """The account of a set of weights by option number."""
        ledger = cls(layout)
        for index, lb in amounts.items():
            ledger.put(layout.options[index], lb)
        return ledger

    def copy(self) -> Ledger:
        """The same account, to try something on."""
        return Ledger.of(self.layout, self.lb)

    def put(self, option: Option, lb: float) -> None:
        """Set the weight of an option (0 takes it out)."""
        old = self.lb.pop(option.index, 0.0)
        if lb > 0:
            self.lb[option.index] = lb
        change, starts = lb - old, (lb > 0) - (old > 0)
        self._spreading_dollars += starts * option.dollars_fixed + change * option.dollars_per_lb
        self._dressing_hours[option.dressing] += starts * option.work.hours_fixed + change * option.work.hours_per_lb
        self._repurchase(option.pool, self._pool_lb[option.pool] + change)

    def _repurchase(self, number: int, lb: float) -> None:
        pool, before = self.layout.pools[number], self._bought[number]
        offer = self.layout.season.offer_by_key[pool.offer]
        after = bought_for(self.layout, pool, lb)
        self._pool_lb[number], self._bought[number] = lb, after
        self._purchase_dollars += after.dollars - before.dollars
        self._pools_over += (after.packages > pool.most_packages) - (before.packages > pool.most_packages)
        self._fetching_hours += (after.packages - before.packages) * offer.hours_per_load
        orders = self._orders.get(offer.key, 0)
        now = orders + (after.packages > 0) - (before.packages > 0)
        self._orders[offer.key] = now
        self._purchase_dollars += ((now > 0) - (orders > 0)) * offer.order_dollars

    @property
    def dollars(self) -> float:
        """Cost of material, delivery and spreading, without what is spent anyway."""
        return self._purchase_dollars + self._spreading_dollars

    @property
    def spreading_dollars(self) -> float:
        return self._spreading_dollars

    @property
    def fetching_hours(self) -> float:
        return self._fetching_hours

    @property
    def dressing_hours(self) -> tuple[float, ...]:
        """Spreading hours of each dressing."""
        return tuple(self._dressing_hours)

    @property
    def hours(self) -> float:
        return sum(self._dressing_hours) + self._fetching_hours

    def bought(self, pool: int) -> Bought:
        return self._bought[pool]

    def pool_lb(self, pool: int) -> float:
        return self._pool_lb[pool]

    def within_limits(self) -> bool:
        """Whether budget, hours, hours of each dressing and packages to be had all hold."""
        season, money = self.layout.season, self.layout.money_dollars
        if money is not None and self.dollars > money + LIMIT_EDGE:
            return False
        if season.hours is not None and self.hours > season.hours + LIMIT_EDGE:
            return False
        for used, dressing in zip(self._dressing_hours, season.dressings, strict=True):
            if dressing.hours is not None and used > dressing.hours + LIMIT_EDGE:
                return False
        return self._pools_over == 0

    def on_plot(self, plot: str) -> list[tuple[Option, float]]:
        """The options used on a plot with their weights."""
        options = self.layout.by_plot[plot]
        return [(option, self.lb[option.index]) for option in options if option.index in self.lb]

    def effective_lb(self, plot: str) -> float:
        """Effective CaCO3 brought to a plot, lb in all."""
        return sum(option.effective_share * lb for option, lb in self.on_plot(plot))

    def nutrient_lb(self, plot: str) -> tuple[float, float, float]:
        """N, P2O5 and K2O brought to a plot, lb in all."""
        used = self.on_plot(plot)
        n, p2o5, k2o = (sum(option.nutrient_share[i] * lb for option, lb in used) for i in range(3))
        return n, p2o5, k2o

    def plot_gain(self, plot: str) -> float:
        """Gain of a plot in acre-points."""
        cap, first = self.layout.caps[plot], self.layout.season.first_half_worth
        gain = 0.0
        if cap.lime_worth:
            share = self.effective_lb(plot) / cap.owed_lb
            gain += cap.lime_worth * worth_of_share(share, first_half_worth=first)
        if any(cap.need_worth):
            for worth, need, got in zip(cap.need_worth, cap.need_lb, self.nutrient_lb(plot), strict=True):
                gain += worth * worth_of_share(got / need, first_half_worth=first) if worth else 0.0
        return gain

    @property
    def gain(self) -> float:
        """Gain of the plan in acre-points."""
        return sum(self.plot_gain(plot.key) for plot in self.layout.season.plots)

    @property
    def score(self) -> float:
        """What plans are compared by: the gain, less the penalty on bags where bulk is preferred."""
        return self.gain - sum(self.layout.options[index].penalty for index in self.lb)

    def faults(self) -> list[str]:
        """Every limit of a plot or option that is broken; empty for a plan that may be shown."""
        return list(self._faults())

    def _faults(self) -> Iterable[str]:
        if not self.within_limits():
            yield "budget, hours or packages"
        for index, lb in self.lb.items():
            option = self.layout.options[index]
            if not option.least_lb * (1 - EDGE) <= lb <= option.most_lb * (1 + EDGE):
                yield f"{option.plot}: {lb} lb of {option.offer} outside {option.least_lb} to {option.most_lb}"
        for plot in {self.layout.options[index].plot for index in self.lb}:
            yield from self._plot_faults(plot)

    def _plot_faults(self, plot: str) -> Iterable[str]:
        cap, used = self.layout.caps[plot], self.on_plot(plot)
        lime_rounds = [option.dressing for option, _ in used if option.kind == "lime"]
        if len(set(lime_rounds)) != len(lime_rounds):
            yield f"{plot}: two limes in one dressing"
        if self.effective_lb(plot) > cap.owed_lb * (1 + EDGE):
            yield f"{plot}: more lime than owed"
        if sum(option.kind == "fertilizer" for option, _ in used) > self.layout.season.fertilizers_per_plot:
            yield f"{plot}: too many fertilizers"
        for most, got in zip(cap.most_lb, self.nutrient_lb(plot), strict=True):
            if got > most * (1 + EDGE) + EDGE:
                yield f"{plot}: a nutrient over its limit"
