"""Plots and offers as a mixed-integer model: what is spread on each plot, and what is bought for all together."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from agronomy.blend.bounds import Bound, bounds_of, screened
from agronomy.blend.milp import Answer, Model, relaxed, solve
from agronomy.blend.offers import BlendPlot, FertilizerOffer

TIE_DOLLARS_PER_LB, TIE_DOLLARS_PER_PRODUCT = 1e-6, 1e-4
"""Of equal purchases the one with fewer pounds and fewer products."""
LEAST_SHORT_GAP, SHORT_MARGIN, PRICED_GAP = 1e-4, 1e-6, 1e-3
TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Spread:
    """Pounds of one offer on one plot."""

    plot: str
    offer: str
    lb: float


@dataclass(frozen=True, slots=True)
class Mode:
    """How a plot is filled: `whole` puts whole bags on it, otherwise they are split; `elastic` leaves as little short
    as can be where its needs cannot be met."""

    whole: bool
    elastic: bool = False


@dataclass(frozen=True, slots=True)
class Solution:
    """What is spread and bought (packages by offer), the dollars spent, and the least that could be spent.

    `short` is lb/acre by plot and nutrient beyond what rounding to bags may leave.
    """

    spreads: tuple[Spread, ...]
    packages: Mapping[str, float]
    dollars: float
    least_dollars: float
    short: Mapping[tuple[str, str], float]
    modes: Mapping[str, Mode]

    def pounds_on(self, plot: str) -> dict[str, float]:
        """Pounds by offer on one plot."""
        return {spread.offer: spread.lb for spread in self.spreads if spread.plot == plot}


class _Builder:
    """Builds the model of some plots and the offers that each may use."""

    def __init__(
        self, plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer], modes: Mapping[str, Mode],
        prices: Mapping[str, float] | None = None,
    ) -> None:  # fmt: skip
        """`prices` are dollars for a package spread, in place of what is bought, stock and least orders."""
        self.offers, self.modes, self.prices = offers, modes, prices
        self.model = Model()
        self.spread: dict[tuple[str, str], int] = {}
        self.used: dict[tuple[str, str], int] = {}
        self.short: dict[tuple[str, str], int] = {}
        self.without_carrier: dict[tuple[str, str], float] = {}
        self.bought: dict[str, int] = {}
        for plot in plots:
            self._plot(plot)
        self.stock_row: dict[str, int] = {}
        if prices is None:
            for offer in offers:
                self._purchase(offer)

    def _plot(self, plot: BlendPlot) -> None:
        bounds = bounds_of(plot.need, plot.limits)
        kept, chosen = screened(plot, self.offers)[0], []
        for offer in kept:
            most = self._most(plot, offer, bounds)
            if most > TINY:
                chosen.append(offer)
                self._spread_column(plot, offer, most)
        for bound in bounds:
            self._nutrient(plot, bound, kept, chosen)
        if plot.limits.most_products is not None:
            terms = [(self.used[plot.key, offer.key], 1.0) for offer in chosen]
            self.model.row(terms, most=plot.limits.most_products)
        salt = plot.limits.seed_salt_lb_per_acre
        if salt is not None:
            self.model.row(self._terms(plot, chosen, "n", "k2o"), most=salt)

    def _in_bags(self, plot: BlendPlot, offer: FertilizerOffer) -> bool:
        return self.modes[plot.key].whole and offer.is_whole

    def _most(self, plot: BlendPlot, offer: FertilizerOffer, bounds: Sequence[Bound]) -> float:
        """The most packages of an offer that every bound of the plot and the stock on hand let on it."""
        pounds = [
            bound.high * plot.acres / offer.share(bound.nutrient) for bound in bounds if offer.share(bound.nutrient)
        ]
        if offer.price_dollars is None:
            pounds.append(offer.on_hand_lb)
        most = min(pounds) / offer.package_lb
        return math.floor(most + TINY) if self._in_bags(plot, offer) else most

    def _terms(
        self, plot: BlendPlot, chosen: Sequence[FertilizerOffer], *nutrients: str
    ) -> list[tuple[int, float]]:  # fmt: skip
        """lb/acre of some nutrients for one package of each offer."""
        return [
            (
                self.spread[plot.key, offer.key],
                sum(offer.share(nutrient) for nutrient in nutrients) * offer.package_lb / plot.acres,
            )
            for offer in chosen
        ]

    def _spread_column(self, plot: BlendPlot, offer: FertilizerOffer, most: float) -> None:
        key, in_bags = (plot.key, offer.key), self._in_bags(plot, offer)
        price = TIE_DOLLARS_PER_LB * offer.package_lb if self.prices is None else self.prices[offer.key]
        column = self.model.column(cost=price, upper=most, whole=in_bags)
        self.spread[key] = column
        if not in_bags and plot.limits.most_products is None:
            return
        used = self.model.column(
            cost=TIE_DOLLARS_PER_PRODUCT if self.prices is None else 0.0, upper=1, whole=True
        )
        self.used[key] = used
        self.model.row([(column, 1.0), (used, -most)], most=0.0)
        if in_bags:  # used means one bag at least, so that its rounding may be counted on
            self.model.row([(column, 1.0), (used, -1.0)], least=0.0)

    def _nutrient(
        self, plot: BlendPlot, bound: Bound, kept: Sequence[FertilizerOffer], chosen: Sequence[FertilizerOffer]
    ) -> None:  # fmt: skip
        terms = self._terms(plot, chosen, bound.nutrient)
        self.model.row(terms, most=bound.high)
        if bound.aim <= 0:
            return
        key = (plot.key, bound.nutrient)
        if not any(offer.share(bound.nutrient) for offer in kept):
            self.without_carrier[key] = bound.aim
            return
        rounding = self._rounding(plot, bound, kept, chosen)
        if rounding is not None:
            terms.append((rounding, 1.0))
        if self.modes[plot.key].elastic:
            self.short[key] = self.model.column(upper=bound.aim)
            terms.append((self.short[key], 1.0))
        self.model.row(terms, least=bound.aim)

    def _rounding(
        self, plot: BlendPlot, bound: Bound, kept: Sequence[FertilizerOffer], chosen: Sequence[FertilizerOffer]
    ) -> int | None:
        """What rounding to the nearest bag may leave short, inside the band: half a bag of each product used, and all
        of a need that is under half a bag."""
        half = {
            offer.key: offer.share(bound.nutrient) * offer.package_lb / plot.acres / 2
            for offer in kept
            if self._in_bags(plot, offer) and offer.share(bound.nutrient)
        }
        if not half or bound.aim <= bound.low:
            return None
        column = self.model.column(upper=bound.aim - bound.low)
        if bound.aim > max(half.values()):
            used = [(self.used[plot.key, offer.key], -half[offer.key]) for offer in chosen if offer.key in half]
            self.model.row([(column, 1.0), *used], most=0.0)
        return column

    def _purchase(self, offer: FertilizerOffer) -> None:
        spreads = [column for (_, key), column in self.spread.items() if key == offer.key]
        if not spreads:
            return
        on_hand = offer.on_hand_lb / offer.package_lb
        terms = [(column, 1.0) for column in spreads]
        self.stock_row[offer.key] = len(self.model.row_lower)
        if offer.price_dollars is None:
            self.model.row(terms, most=on_hand)
            return
        most = math.ceil(sum(self.model.upper[column] for column in spreads) + TINY)
        most = max(most, math.ceil(offer.minimum_packages))
        bought = self.model.column(cost=offer.price_dollars, upper=most, whole=offer.is_whole)
        self.bought[offer.key] = bought
        self.model.row([*terms, (bought, -1.0)], most=on_hand)
        if has_minimum(offer):
            ordered = self.model.column(upper=1, whole=True)
            self.model.row([(bought, 1.0), (ordered, -offer.minimum_packages)], least=0.0)
            self.model.row([(bought, 1.0), (ordered, -float(most))], most=0.0)


def has_minimum(offer: FertilizerOffer) -> bool:
    """Whether the least that is sold is more than one package, or bulk has a least at all."""
    return offer.minimum_packages > (1 if offer.is_whole else 0)


def solved(
    plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer], modes: Mapping[str, Mode], *, gap: float,
    seconds: float, start: Sequence[Spread] = (), least_dollars: float = 0.0,
) -> Solution | None:  # fmt: skip
    """The least-cost purchase, or None where the needs cannot be met. A nutrient that no offer carries is left out of
    the question and told as short. `start` is a plan to begin from, `least_dollars` what no purchase can be under."""
    builder = _Builder(plots, offers, modes)
    by_key = {offer.key: offer for offer in offers}
    begin = [
        (builder.spread[spread.plot, spread.offer], spread.lb / by_key[spread.offer].package_lb)
        for spread in start
        if (spread.plot, spread.offer) in builder.spread
    ]
    if builder.short and not _held_to_least_short(builder, {plot.key: plot.acres for plot in plots}, seconds):
        return None
    enough = least_dollars / (1 - gap) if least_dollars > 0 and gap < 1 else -math.inf
    answer = solve(builder.model, gap=gap, seconds=seconds, start=begin, enough=enough)
    return None if answer is None else _solution(builder, answer, by_key, least_dollars)


def stock_worth(
    plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer], modes: Mapping[str, Mode]
) -> dict[str, float] | None:  # fmt: skip
    """Dollars that a package more on hand would save, by offer, with bags free to be fractions; None without an
    answer."""
    builder = _Builder(plots, offers, modes)
    found = relaxed(builder.model)
    if found is None:
        return None
    return {
        offer.key: max(0.0, -found[1][builder.stock_row[offer.key]]) if offer.key in builder.stock_row else 0.0
        for offer in offers
    }


def priced(
    plot: BlendPlot, offers: Sequence[FertilizerOffer], mode: Mode, prices: Mapping[str, float], *, seconds: float
) -> tuple[float, tuple[Spread, ...]] | None:  # fmt: skip
    """The least that a plot's need costs at these prices for a package spread, and the spreading that costs it."""
    builder = _Builder([plot], offers, {plot.key: mode}, prices)
    if builder.short and not _held_to_least_short(builder, {plot.key: plot.acres}, seconds):
        return None
    answer = solve(builder.model, gap=PRICED_GAP, seconds=seconds)
    if answer is None:
        return None
    size = {offer.key: offer.package_lb for offer in offers}
    spreads = tuple(
        Spread(plot.key, key, answer.values[column] * size[key])
        for (_, key), column in builder.spread.items()
        if answer.values[column] > 1e-7
    )
    return answer.bound, spreads


def _held_to_least_short(builder: _Builder, acres: Mapping[str, float], seconds: float) -> bool:
    """First find the least pounds that must stay unmet, and let the cheapest purchase leave no more; False without an
    answer."""
    model = builder.model
    dollars = model.costs
    model.costs = [0.0] * len(dollars)
    for (plot, _), column in builder.short.items():
        model.costs[column] = acres[plot]
    least = solve(model, gap=LEAST_SHORT_GAP, seconds=seconds)
    model.costs = dollars
    if least is None:
        return False
    for column in builder.short.values():
        model.upper[column] = min(model.upper[column], least.values[column] + SHORT_MARGIN)
    return True


def _solution(
    builder: _Builder, answer: Answer, by_key: Mapping[str, FertilizerOffer], least_dollars: float
) -> Solution:  # fmt: skip
    spreads = tuple(
        Spread(plot, key, answer.values[column] * by_key[key].package_lb)
        for (plot, key), column in builder.spread.items()
        if answer.values[column] > 1e-7
    )
    # Inside its gap the solver may buy a package that nothing is spread from; nobody is to pay for it.
    used = {spread.offer for spread in spreads}
    packages = {
        key: answer.values[column]
        for key, column in builder.bought.items()
        if key in used and answer.values[column] > 1e-7
    }
    spent = answer.cost - sum(
        answer.values[column] * (by_key[key].price_dollars or 0.0) for key, column in builder.bought.items()
    )
    dollars = sum(count * (by_key[key].price_dollars or 0.0) for key, count in packages.items())
    short = {key: answer.values[column] for key, column in builder.short.items() if answer.values[column] > 1e-5}
    least = min(dollars, max(least_dollars, answer.bound - spent))
    return Solution(spreads, packages, dollars, least, {**builder.without_carrier, **short}, builder.modes)


def joined(parts: Sequence[Solution]) -> Solution:
    """Purchases of plots that share nothing, as one."""
    packages: dict[str, float] = {}
    for part in parts:
        for key, count in part.packages.items():
            packages[key] = packages.get(key, 0.0) + count
    return Solution(
        tuple(spread for part in parts for spread in part.spreads),
        packages,
        sum(part.dollars for part in parts),
        sum(part.least_dollars for part in parts),
        {key: lb for part in parts for key, lb in part.short.items()},
        {key: mode for part in parts for key, mode in part.modes.items()},
    )
