"""A shared purchase by patterns: each plot brings some ways to fill its need, the purchase picks one for each.

Patterns are made where they would help: at the worth that a package of each offer has in the best pick so far, every
plot is solved alone, which also gives a sum that no purchase can be under (column generation and its Lagrangian bound).
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

from agronomy.blend.milp import Model, relaxed, solve
from agronomy.blend.offers import BlendPlot, FertilizerOffer
from agronomy.blend.purchase import Mode, Solution, Spread, has_minimum, priced, stock_worth

ROUNDS, ROUND_SECONDS = 12, 2.0
PICK_SECONDS = 2.0
NOT_FOR_SALE_TIMES = 20.0
"""What a package that is not for sale would cost, in times the dearest: none is picked where it can be helped."""
STEADY = 0.5
"""Share of the best worth so far in the next one tried: the picks of few patterns swing wildly."""
TINY = 1e-6

Pattern = tuple[Spread, ...]


class _Pick:
    """The model that picks a pattern for each plot and buys what they take together."""

    def __init__(
        self, patterns: Mapping[str, Sequence[Pattern]], offers: Sequence[FertilizerOffer]
    ) -> None:  # fmt: skip
        self.model = Model()
        self.columns = {
            (plot, number): self.model.column(upper=1, whole=True)
            for plot, made in patterns.items()
            for number in range(len(made))
        }
        dearest = max((offer.price_dollars or 0.0 for offer in offers), default=0.0) + 1.0
        self.bought = {offer.key: self._purchase(offer, patterns, dearest) for offer in offers}
        for plot, made in patterns.items():
            terms = [(self.columns[plot, number], 1.0) for number in range(len(made))]
            self.model.row(terms, least=1.0, most=1.0)

    def _purchase(
        self, offer: FertilizerOffer, patterns: Mapping[str, Sequence[Pattern]], dearest: float
    ) -> int:  # fmt: skip
        """The packages bought of an offer; its stock row has the number of the offer."""
        price = NOT_FOR_SALE_TIMES * dearest if offer.price_dollars is None else offer.price_dollars
        bought = self.model.column(cost=price, whole=offer.is_whole)
        taken = [
            (self.columns[plot, number], sum(s.lb for s in pattern if s.offer == offer.key) / offer.package_lb)
            for plot, made in patterns.items()
            for number, pattern in enumerate(made)
        ]
        self.model.row([*taken, (bought, -1.0)], most=offer.on_hand_lb / offer.package_lb)
        return bought

    def with_least_orders(self, offers: Sequence[FertilizerOffer], most: float) -> None:
        """Hold every purchase to nothing or the least that is sold."""
        for offer in offers:
            if has_minimum(offer):
                ordered = self.model.column(upper=1, whole=True)
                bought = self.bought[offer.key]
                self.model.row([(bought, 1.0), (ordered, -offer.minimum_packages)], least=0.0)
                self.model.row([(bought, 1.0), (ordered, -max(most, offer.minimum_packages))], most=0.0)


def by_patterns(
    plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer], modes: Mapping[str, Mode],
    apart: Mapping[str, Solution], *, gap: float, ends: float,
) -> Solution | None:  # fmt: skip
    """The cheapest purchase over the patterns made until a good while before `ends`; None where stock that is not for
    sale does not go round."""
    patterns = {plot.key: [apart[plot.key].spreads] for plot in plots}
    least = _made(patterns, plots, offers, modes, gap=gap, ends=ends - PICK_SECONDS)
    pick = _Pick(patterns, offers)
    pick.with_least_orders(offers, _most_packages(patterns, offers))
    answer = solve(pick.model, gap=gap / 4, seconds=max(PICK_SECONDS, ends - time.monotonic()), enough=least)
    if answer is None:
        return None
    packages = {key: answer.values[column] for key, column in pick.bought.items() if answer.values[column] > TINY}
    if any(offer.price_dollars is None and packages.get(offer.key) for offer in offers):
        return None
    spreads = tuple(
        spread
        for (plot, number), column in pick.columns.items()
        if answer.values[column] > 0.5
        for spread in patterns[plot][number]
    )
    dollars = sum(count * (o.price_dollars or 0.0) for o in offers if (count := packages.get(o.key)))
    short = {key: lb for found in apart.values() for key, lb in found.short.items()}
    return Solution(spreads, packages, dollars, min(dollars, least), short, modes)


def _made(
    patterns: dict[str, list[Pattern]], plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer],
    modes: Mapping[str, Mode], *, gap: float, ends: float,
) -> float:  # fmt: skip
    """Add patterns to each plot while they help and there is time; gives the sum that no purchase can be under."""
    least, best = 0.0, None
    worth = stock_worth(plots, offers, modes) or {offer.key: offer.price_dollars or 0.0 for offer in offers}
    for _ in range(ROUNDS):
        started = time.monotonic()
        bound, added = _priced_all(patterns, plots, offers, modes, worth)
        if bound > least or best is None:
            least, best = max(least, bound), worth
        found = relaxed(_Pick(patterns, offers).model)
        now = time.monotonic()
        if found is None or not added or now + (now - started) > ends:
            break
        cost, duals = found
        if cost - least <= gap / 4 * cost:
            break
        # The rows of stock are the first of the pick, in the order of the offers.
        here = {offer.key: max(0.0, -dual) for offer, dual in zip(offers, duals, strict=False)}
        worth = {key: STEADY * best[key] + (1 - STEADY) * value for key, value in here.items()}
    return least


def _priced_all(
    patterns: dict[str, list[Pattern]], plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer],
    modes: Mapping[str, Mode], worth: Mapping[str, float],
) -> tuple[float, bool]:  # fmt: skip
    """Solve every plot alone at these worths: the sum less the worth of the stock, and whether a pattern is new."""
    bound, added = _stock_worth(offers, worth), False
    for plot in plots:
        made = priced(plot, offers, modes[plot.key], worth, seconds=ROUND_SECONDS)
        if made is None:
            return 0.0, False
        bound += made[0]
        if made[1] not in patterns[plot.key]:
            patterns[plot.key].append(made[1])
            added = True
    return bound, added


def _stock_worth(offers: Sequence[FertilizerOffer], worth: Mapping[str, float]) -> float:
    return -sum(worth[offer.key] * offer.on_hand_lb / offer.package_lb for offer in offers)


def _most_packages(patterns: Mapping[str, Sequence[Pattern]], offers: Sequence[FertilizerOffer]) -> float:
    """More packages than any pick takes of any offer."""
    smallest = min((offer.package_lb for offer in offers), default=1.0)
    return 1 + sum(max((sum(s.lb for s in p) for p in made), default=0.0) for made in patterns.values()) / smallest
