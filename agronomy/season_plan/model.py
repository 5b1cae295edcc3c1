"""The season as a mixed-integer program; docs/season-plan.md explains every symbol and row in words.

For each option i: u_i is 1 if it is done, r_i the share of its most weight that is spread. For each pool q: K_q
packages and, where the weight is free, B_q pounds bought. For each plot and need: y1 and y2, the shares met out
of the first and the second half.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from agronomy.season_plan.facts import NUTRIENTS
from agronomy.season_plan.layout import LEAST_WEIGHED_LB, Layout, Option, Pool
from agronomy.season_plan.ledger import Ledger

Goal = Literal["gain", "cost", "hours", "unmet"]
INF = float("inf")
Floats = NDArray[np.float64]
Terms = list[tuple[int, float]]
Need = tuple[str, str]  # (lime or a nutrient, plot)
NEEDS: tuple[str, ...] = NUTRIENTS


@dataclass(frozen=True, slots=True)
class Required:
    """A plot that must get at least `effective_lb` in all, of one offer if `offer` is named. `may_fail` turns
    it into a wish whose failing is counted."""

    plot: str
    effective_lb: float
    offer: str | None = None
    may_fail: bool = False


@dataclass(frozen=True)
class Program:
    """Minimise `cost` x within row and column limits; rows are sparse, row by row."""

    layout: Layout
    cost: Floats
    lower: Floats
    upper: Floats
    integer: NDArray[np.bool_]
    row_lower: Floats
    row_upper: Floats
    starts: NDArray[np.int32]
    indices: NDArray[np.int32]
    values: Floats
    columns: Mapping[tuple[str, int | str], int]
    halves: Mapping[Need, tuple[int, int]]

    def amounts(self, solution: Floats) -> dict[int, float]:
        """The weight of each option in a solution of the program."""
        found = {}
        for option in self.layout.options:
            if solution[self.columns["u", option.index]] > 0.5:
                lb = solution[self.columns["r", option.index]] * option.most_lb
                found[option.index] = float(min(max(lb, option.least_lb), option.most_lb))
        return {index: lb for index, lb in found.items() if lb >= LEAST_WEIGHED_LB / 10}


class _Writer:
    """Columns and rows as they are written down."""

    def __init__(self) -> None:
        self.columns: dict[tuple[str, int | str], int] = {}
        self.halves: dict[Need, tuple[int, int]] = {}
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.integer: list[bool] = []
        self.row_lower: list[float] = []
        self.row_upper: list[float] = []
        self.starts: list[int] = [0]
        self.indices: list[int] = []
        self.values: list[float] = []

    def column(self, name: str, of: int | str, upper: float, *, integer: bool = False) -> int:
        number = self.columns[name, of] = self._new(upper, integer)
        return number

    def half_columns(self, need: Need) -> tuple[int, int]:
        pair = self.halves[need] = self._new(0.5, False), self._new(0.5, False)
        return pair

    def _new(self, upper: float, integer: bool) -> int:
        self.lower.append(0.0)
        self.upper.append(upper)
        self.integer.append(integer)
        return len(self.lower) - 1

    def row(self, terms: Iterable[tuple[int, float]], *, low: float = -INF, high: float = INF) -> None:
        for index, value in terms:
            if value:
                self.indices.append(index)
                self.values.append(value)
        self.starts.append(len(self.indices))
        self.row_lower.append(low)
        self.row_upper.append(high)



class ProgramBuilder:
    """Writes the program of a layout for one goal."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.out = _Writer()
        for option in layout.options:
            self.out.column("u", option.index, 1.0, integer=True)
            self.out.column("r", option.index, 1.0)
            self._rate_rows(option)
        for number, pool in enumerate(layout.pools):
            self._pool_columns(number, pool)
        self._pool_rows()
        self._order_rows()
        for plot in layout.season.plots:
            self._plot_rows(plot.key)

    def u(self, option: Option) -> int:
        return self.out.columns["u", option.index]

    def r(self, option: Option) -> int:
        return self.out.columns["r", option.index]

    def _rate_rows(self, option: Option) -> None:
        u, r = self.u(option), self.r(option)
        self.out.row([(r, 1.0), (u, -1.0)], high=0.0)
        if option.least_lb > 0:
            self.out.row([(r, 1.0), (u, -option.least_lb / option.most_lb)], low=0.0)

    def _pool_columns(self, number: int, pool: Pool) -> None:
        self.out.column("K", number, float(pool.most_packages), integer=True)
        if pool.least_lb < pool.holds_lb:
            self.out.column("B", number, INF)
        order = self.layout.season.offer_by_key[pool.offer].package.smallest_order
        if order > 1:
            self.out.column("w", number, 1.0, integer=True)

    def _pool_rows(self) -> None:
        """What is spread comes out of stock and packages; weights in packages, to keep the figures near 1."""
        drawn: list[Terms] = [[] for _ in self.layout.pools]
        for option in self.layout.options:
            holds = self.layout.pools[option.pool].holds_lb
            drawn[option.pool].append((self.r(option), option.most_lb / holds))
        for number, pool in enumerate(self.layout.pools):
            packages, bought = self.out.columns["K", number], self.out.columns.get(("B", number))
            stock = pool.stock_lb / pool.holds_lb
            self.out.row([*drawn[number], (packages if bought is None else bought, -1.0)], high=stock)
            if bought is not None:
                self.out.row([(bought, 1.0), (packages, -1.0)], high=0.0)
                self.out.row([(bought, 1.0), (packages, -pool.least_lb / pool.holds_lb)], low=0.0)
            self._smallest_order(number, pool)

    def _smallest_order(self, number: int, pool: Pool) -> None:
        ordered = self.out.columns.get(("w", number))
        if ordered is None:
            return
        packages = self.out.columns["K", number]
        order = self.layout.season.offer_by_key[pool.offer].package.smallest_order
        self.out.row([(packages, 1.0), (ordered, -float(order))], low=0.0)
        self.out.row([(packages, 1.0), (ordered, -float(pool.most_packages))], high=0.0)

    def _order_rows(self) -> None:
        for offer in self.layout.season.offers:
            if offer.order_dollars <= 0:
                continue
            ordered = self.out.column("v", offer.key, 1.0, integer=True)
            for number, pool in enumerate(self.layout.pools):
                if pool.offer == offer.key and pool.most_packages:
                    packages = self.out.columns["K", number]
                    self.out.row([(packages, 1.0), (ordered, -float(pool.most_packages))], high=0.0)

    def _plot_rows(self, plot: str) -> None:
        cap, limes = self.layout.caps[plot], self.layout.lime_by_plot[plot]
        for dressing in sorted({option.dressing for option in limes}):
            self.out.row([(self.u(o), 1.0) for o in limes if o.dressing == dressing], high=1.0)
        if limes:
            brought = [(self.r(o), o.effective_share * o.most_lb / cap.owed_lb) for o in limes]
            if len({option.dressing for option in limes}) > 1:
                self.out.row(brought, high=1.0)
            if cap.lime_worth:
                self._half_rows(("lime", plot), brought, [(self.u(o), 1.0) for o in limes])
        fertilizers = [option for option in self.layout.by_plot[plot] if option.kind == "fertilizer"]
        if fertilizers:
            self._fertilizer_rows(plot, fertilizers)

    def _half_rows(self, need: Need, brought: Terms, done: Terms) -> None:
        """y1 + y2 is at most what is brought, and nothing of either half without a dressing."""
        first, second = self.out.half_columns(need)
        self.out.row([(first, 1.0), (second, 1.0), *((c, -v) for c, v in brought)], high=0.0)
        for half in (first, second):
            self.out.row([(half, 1.0), *((c, -0.5 * v) for c, v in done)], high=0.0)

    def _fertilizer_rows(self, plot: str, fertilizers: list[Option]) -> None:
        cap = self.layout.caps[plot]
        if len(fertilizers) > self.layout.season.fertilizers_per_plot:
            most = float(self.layout.season.fertilizers_per_plot)
            self.out.row([(self.u(option), 1.0) for option in fertilizers], high=most)
        for i, nutrient in enumerate(NEEDS):
            carrying = [option for option in fertilizers if option.nutrient_share[i] > 0]
            if not carrying:
                continue
            pounds = [(self.r(o), o.nutrient_share[i] * o.most_lb) for o in carrying]
            if len(carrying) > 1:
                self.out.row([(c, v / cap.most_lb[i]) for c, v in pounds], high=1.0)
            if cap.need_worth[i]:
                brought = [(c, v / cap.need_lb[i]) for c, v in pounds]
                self._half_rows((nutrient, plot), brought, [(self.u(o), 1.0) for o in carrying])

    def dollars(self) -> Terms:
        """Cost of material, delivery and spreading as terms of the columns."""
        season, terms = self.layout.season, []
        for option in self.layout.options:
            terms.append((self.u(option), option.dollars_fixed))
            terms.append((self.r(option), option.dollars_per_lb * option.most_lb))
        for number, pool in enumerate(self.layout.pools):
            offer = season.offer_by_key[pool.offer]
            packages, bought = self.out.columns["K", number], self.out.columns.get(("B", number))
            price = offer.dollars_per_lb * pool.holds_lb
            terms.append((packages, offer.load_dollars + (price if bought is None else 0.0)))
            if bought is not None:
                terms.append((bought, price))
        for offer in season.offers:
            if offer.order_dollars > 0:
                terms.append((self.out.columns["v", offer.key], offer.order_dollars))
        return terms

    def hours(self, dressing: int | None = None) -> Terms:
        """Hours as terms of the columns: spreading in one dressing, or all spreading and fetching."""
        terms = []
        for option in self.layout.options:
            if dressing in (None, option.dressing):
                terms.append((self.u(option), option.work.hours_fixed))
                terms.append((self.r(option), option.work.hours_per_lb * option.most_lb))
        if dressing is None:
            for number, pool in enumerate(self.layout.pools):
                hours = self.layout.season.offer_by_key[pool.offer].hours_per_load
                terms.append((self.out.columns["K", number], hours))
        return terms

    def score(self) -> Terms:
        """The score of the plan (gain less penalties) as terms of the columns."""
        first = self.layout.season.first_half_worth
        terms = [(self.u(option), -option.penalty) for option in self.layout.options]
        for (kind, plot), (y1, y2) in self.out.halves.items():
            cap = self.layout.caps[plot]
            worth = cap.lime_worth if kind == "lime" else cap.need_worth[NEEDS.index(kind)]
            terms += [(y1, 2 * worth * first), (y2, 2 * worth * (1 - first))]
        return terms

    def require(self, number: int, required: Required) -> None:
        """A row for a plot that must get so much."""
        options = self.layout.lime_by_plot[required.plot]
        owed = max(required.effective_lb, 1.0)
        terms = [
            (self.r(o), o.effective_share * o.most_lb / owed)
            for o in options
            if required.offer in (None, o.offer)
        ]
        if required.may_fail:
            terms.append((self.out.column("unmet", number, 1.0, integer=True), 1.0))
        self.out.row(terms, low=required.effective_lb / owed * (1 - 1e-9))

    def limit_budget(self) -> None:
        if self.layout.money_dollars is not None:
            self.out.row(self.dollars(), high=self.layout.money_dollars)

    def limit_hours(self) -> None:
        season = self.layout.season
        if season.hours is not None:
            self.out.row(self.hours(), high=season.hours)
        for number, dressing in enumerate(season.dressings):
            if dressing.hours is not None:
                self.out.row(self.hours(number), high=dressing.hours)

    def finish(self, goal: Goal) -> Program:
        """The program with its objective, as a minimum."""
        cost = np.zeros(len(self.out.lower))
        for column, value in self._objective(goal):
            cost[column] += value
        out = self.out
        return Program(
            self.layout, cost, np.array(out.lower), np.array(out.upper), np.array(out.integer, dtype=bool),
            np.array(out.row_lower), np.array(out.row_upper), np.array(out.starts, dtype=np.int32),
            np.array(out.indices, dtype=np.int32), np.array(out.values), out.columns, out.halves,
        )

    def _objective(self, goal: Goal) -> Terms:
        if goal == "gain":
            return [(column, -value) for column, value in self.score()]
        if goal == "cost":
            return self.dollars()
        if goal == "hours":
            return self.hours()
        return [(column, 1.0) for (name, _), column in self.out.columns.items() if name == "unmet"]


def write_program(
    layout: Layout,
    *,
    goal: Goal,
    required: tuple[Required, ...] = (),
    budget: bool = True,
    hours: bool = True,
    score_at_least: float | None = None,
) -> Program:
    """The program of a layout: greatest score, least cost, least hours or fewest unmet wishes.

    `budget` and `hours` say whether those limits hold; `score_at_least` keeps a score already reached.
    """
    builder = ProgramBuilder(layout)
    for number, need in enumerate(required):
        builder.require(number, need)
    if budget:
        builder.limit_budget()
    if hours:
        builder.limit_hours()
    if score_at_least is not None:
        scale = max(1.0, abs(score_at_least))
        builder.out.row([(c, v / scale) for c, v in builder.score()], low=score_at_least / scale * (1 - 1e-9))
    return builder.finish(goal)


def as_solution(program: Program, ledger: Ledger) -> Floats:
    """A ledger's plan as values of the program's columns, to start the solver from."""
    layout, columns = program.layout, program.columns
    values = np.zeros(len(program.cost))
    for index, lb in ledger.lb.items():
        values[columns["u", index]] = 1.0
        values[columns["r", index]] = lb / layout.options[index].most_lb
    for number, pool in enumerate(layout.pools):
        bought = ledger.bought(number)
        values[columns["K", number]] = bought.packages
        for name, value in (("B", bought.lb / pool.holds_lb), ("w", float(bought.packages > 0))):
            if (name, number) in columns:
                values[columns[name, number]] = value
        if bought.packages and ("v", pool.offer) in columns:
            values[columns["v", pool.offer]] = 1.0
    for (kind, plot), (y1, y2) in program.halves.items():
        share = min(_share(ledger, kind, plot), 1.0)
        values[y1], values[y2] = min(share, 0.5), max(share - 0.5, 0.0)
    return values


def _share(ledger: Ledger, kind: str, plot: str) -> float:
    cap = ledger.layout.caps[plot]
    if kind == "lime":
        return ledger.effective_lb(plot) / cap.owed_lb
    number = NEEDS.index(kind)
    return ledger.nutrient_lb(plot)[number] / cap.need_lb[number]
