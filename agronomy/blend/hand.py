"""The two ways people blend by hand, for comparison, and one grade held against a need."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from agronomy.blend.bounds import bounds_of
from agronomy.blend.offers import BlendLimits, BlendPlot, FertilizerOffer
from agronomy.blend.plan import BlendLine, NutrientBalance, acidity_of, balance_of, lines_of
from agronomy.findings import Finding, check, stop
from agronomy.nutrients import PlotNeed
from agronomy.nutrients.kinds import MAIN, NUTRIENT_NAMES, Nutrient

TINY = 1e-9
WayCode = Literal["one_grade", "straight"]


@dataclass(frozen=True, slots=True)
class HandWay:
    """A blend made by a hand rule. `findings` say which limit it breaks and what it leaves out."""

    code: WayCode
    lines: tuple[BlendLine, ...]
    balance: tuple[NutrientBalance, ...]
    dollars: float
    cost_per_acre: float
    acidity_lb_caco3_per_acre: float
    findings: tuple[Finding, ...]

    @property
    def keeps_limits(self) -> bool:
        """Whether it breaks no limit and leaves nothing out."""
        return not self.findings


@dataclass(frozen=True, slots=True)
class Sizing:
    """One grade sized on one nutrient: lb/acre of it, and what that delivers of every nutrient."""

    nutrient: Nutrient
    lb_per_acre: float
    balance: tuple[NutrientBalance, ...]


def sizings(need: PlotNeed, offer: FertilizerOffer, *, acres: float) -> tuple[Sizing, ...]:
    """One grade sized on each nutrient that it carries and the plot needs, with all that is over and short."""
    place = BlendPlot("", need, acres)
    found = []
    for nutrient, lb in _sizes(need, offer).items():
        lines = lines_of(place, {offer.key: lb * acres}, {offer.key: offer}, whole_bags=False, paid_share={})
        found.append(Sizing(nutrient, lb, balance_of(need, lines, {offer.key: offer}, acres)))
    return tuple(found)


def by_hand(
    need: PlotNeed, offers: Sequence[FertilizerOffer], *, acres: float, limits: BlendLimits | None = None
) -> tuple[HandWay, ...]:  # fmt: skip
    """The cheapest blend grade sized on its largest nutrient, and straight materials, each rounded up to whole bags.

    A way is left out where no offer fits it. `acres` is over 0 to 2,000.
    """
    place = BlendPlot("", need, acres, limits or BlendLimits())
    ways = (_one_grade(place, offers), _straight(place, offers))
    return tuple(way for way in ways if way is not None)


def _sizes(need: PlotNeed, offer: FertilizerOffer) -> dict[Nutrient, float]:
    """lb/acre of the offer that fill each need it carries."""
    found: dict[Nutrient, float] = {}
    for nutrient in MAIN:
        one, share = need.of(nutrient), offer.share(nutrient)
        if one is not None and one.lb_per_acre and share:
            found[nutrient] = one.lb_per_acre / share
    return found


def _rounded_up(offer: FertilizerOffer, lb: float) -> float:
    return math.ceil(lb / offer.package_lb - TINY) * offer.package_lb if offer.is_whole else lb


def _one_grade(place: BlendPlot, offers: Sequence[FertilizerOffer]) -> HandWay | None:
    """Of the grades that carry most of what is needed, the one that costs least."""
    sized = {offer.key: _sizes(place.need, offer) for offer in offers if offer.price_dollars is not None}
    widest = max((len(sizes) for sizes in sized.values()), default=0)
    if widest < 2:
        return None
    ways = [
        _way("one_grade", place, {offer: _rounded_up(offer, max(sized[offer.key].values()) * place.acres)})
        for offer in offers
        if len(sized.get(offer.key, ())) == widest
    ]
    return min(ways, key=lambda way: way.dollars)


def _straight(place: BlendPlot, offers: Sequence[FertilizerOffer]) -> HandWay | None:
    pounds: dict[FertilizerOffer, float] = {}
    for nutrient in MAIN:
        one = place.need.of(nutrient)
        if one is None or not one.lb_per_acre:
            continue
        alone = [offer for offer in offers if _is_straight(offer, nutrient)]
        if alone:
            offer = min(alone, key=lambda offer: offer.dollars_per_lb / offer.share(nutrient))
            pounds[offer] = _rounded_up(offer, one.lb_per_acre / offer.share(nutrient) * place.acres)
    return _way("straight", place, pounds) if pounds else None


def _is_straight(offer: FertilizerOffer, nutrient: Nutrient) -> bool:
    carried = [name for name in MAIN if offer.share(name)]
    return carried == [nutrient] and offer.price_dollars is not None


def _way(code: WayCode, place: BlendPlot, pounds: Mapping[FertilizerOffer, float]) -> HandWay:
    by_key = {offer.key: offer for offer in pounds}
    paid = {offer.key: max(0.0, lb - offer.on_hand_lb) / lb for offer, lb in pounds.items() if lb}
    lines = lines_of(place, {offer.key: lb for offer, lb in pounds.items()}, by_key, whole_bags=True, paid_share=paid)
    balance = balance_of(place.need, lines, by_key, place.acres)
    dollars = sum(_bought(offer, lb) * (offer.price_dollars or 0.0) for offer, lb in pounds.items())
    return HandWay(
        code, lines, balance, dollars, dollars / place.acres, acidity_of(lines, by_key) / place.acres,
        _breaks(place, balance),
    )  # fmt: skip


def _bought(offer: FertilizerOffer, lb: float) -> float:
    """Packages bought beyond the stock."""
    packages = max(0.0, lb - offer.on_hand_lb) / offer.package_lb
    return math.ceil(packages - TINY) if offer.is_whole else packages


def _breaks(place: BlendPlot, balance: Sequence[NutrientBalance]) -> tuple[Finding, ...]:
    bounds = {bound.nutrient: bound for bound in bounds_of(place.need, place.limits)}
    found: list[Finding] = []
    for entry in balance:
        bound = bounds.get(entry.nutrient)
        if bound is None:
            continue
        name = NUTRIENT_NAMES[entry.nutrient]
        if entry.delivered < bound.low - 0.05:
            found.append(check("hand_way_short", nutrient=name, delivered=entry.delivered, least=bound.low))
        elif entry.delivered > bound.high + 0.05:
            limit = place.need.n_limit_lb_per_acre
            if entry.nutrient == "n" and limit is not None:
                found.append(stop("hand_way_nitrogen_on_legume", delivered=entry.delivered, limit=limit))
            else:
                found.append(check("hand_way_over", nutrient=name, delivered=entry.delivered, most=bound.high))
    return tuple(found)
