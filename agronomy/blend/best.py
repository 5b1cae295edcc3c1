"""The cheapest blend of one plot, or of several that share a purchase."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from agronomy.blend.bounds import screened
from agronomy.blend.missing import missing
from agronomy.blend.offers import BlendLimits, BlendPlot, FertilizerOffer
from agronomy.blend.plan import (
    BlendLine,
    BlendPlan,
    Purchase,
    SharedPlan,
    acidity_of,
    balance_of,
    cost_per_lb,
    hazards_with,
    lines_of,
    working_of,
)
from agronomy.blend.purchase import Solution
from agronomy.blend.together import alone, together
from agronomy.findings import Finding, check, note, stop
from agronomy.nutrients import PlotNeed

SHARED_SECONDS, SHARED_GAP = 9.0, 0.002
NO_LIMITS = BlendLimits()
LARGE_ACIDITY_LB_PER_ACRE = 50.0
"""Lime used up by the nitrogen that is worth telling (common practice)."""


def best(
    need: PlotNeed, offers: Sequence[FertilizerOffer], *, acres: float, limits: BlendLimits = NO_LIMITS,
    plot: str = "",
) -> BlendPlan:  # fmt: skip
    """The cheapest blend that meets a plot's need inside the publication's band.

    Bags go on whole; only where no whole number fits (and `limits.part_bags`) is a bag split. Where the offers cannot
    meet the need the plan leaves as little short as can be, and a stop finding for each nutrient says why. `acres` is
    over 0 to 2,000. Raises `ValueError` for an offer given twice.
    """
    place = BlendPlot(plot, need, acres, limits)
    by_key = _by_key(offers)
    found = alone(place, offers)
    return _plan(place, found, by_key, offers, _purchases(found, by_key), dollars=found.dollars)


def best_shared(
    plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer], *, whole_bags: bool = False,
    gap: float = SHARED_GAP, seconds: float = SHARED_SECONDS,
) -> SharedPlan:  # fmt: skip
    """The cheapest purchase for plots that share it: what is bought is the sum over the plots, rounded up.

    `whole_bags` puts whole bags on every plot; otherwise bags are split between plots. `gap` (0 to 1) is how far from
    the cheapest it may stop, after `seconds` at the latest. A plot whose need cannot be met gets what leaves least
    short. Raises `ValueError` for a plot or an offer given twice, or for no plots.
    """
    by_key = _by_key(offers)
    if not plots or len({plot.key for plot in plots}) != len(plots):
        raise ValueError("a shared purchase needs one or more plots, each once")
    found = together(plots, offers, whole_bags=whole_bags, gap=gap, seconds=seconds)
    share = _dollars_by_plot(found, by_key)
    plans = tuple(_plan(plot, found, by_key, offers, (), dollars=share.get(plot.key, 0.0)) for plot in plots)
    meets = all(plan.meets_need for plan in plans)
    return SharedPlan(plans, _purchases(found, by_key), found.dollars, found.least_dollars, meets)


def _by_key(offers: Sequence[FertilizerOffer]) -> Mapping[str, FertilizerOffer]:
    by_key = {offer.key: offer for offer in offers}
    if len(by_key) != len(offers):
        raise ValueError("an offer is given twice")
    return by_key


def _purchases(found: Solution, by_key: Mapping[str, FertilizerOffer]) -> tuple[Purchase, ...]:
    """What is bought and what is taken from stock, by offer."""
    made = []
    for key, offer in by_key.items():
        used = sum(spread.lb for spread in found.spreads if spread.offer == key)
        if used <= 0:
            continue
        packages = found.packages.get(key, 0.0)
        made.append(
            Purchase(key, offer.product.name, packages, offer.package_lb, packages * offer.package_lb,
                     min(used, offer.on_hand_lb), packages * (offer.price_dollars or 0.0))
        )  # fmt: skip
    return tuple(made)


def _paid_share(found: Solution, by_key: Mapping[str, FertilizerOffer]) -> dict[str, float]:
    """The part of each offer's pounds that is not taken from stock."""
    shares = {}
    for key, offer in by_key.items():
        used = sum(spread.lb for spread in found.spreads if spread.offer == key)
        if used > 0:
            shares[key] = max(0.0, used - offer.on_hand_lb) / used
    return shares


def _dollars_by_plot(found: Solution, by_key: Mapping[str, FertilizerOffer]) -> dict[str, float]:
    """The purchase shared out by the pounds that go on each plot."""
    dollars = {key: count * (by_key[key].price_dollars or 0.0) for key, count in found.packages.items()}
    total: dict[str, float] = {}
    for spread in found.spreads:
        total[spread.offer] = total.get(spread.offer, 0.0) + spread.lb
    share: dict[str, float] = {}
    for spread in found.spreads:
        part = dollars.get(spread.offer, 0.0) * spread.lb / total[spread.offer]
        share[spread.plot] = share.get(spread.plot, 0.0) + part
    return share


def _plan(
    plot: BlendPlot, found: Solution, by_key: Mapping[str, FertilizerOffer], offers: Sequence[FertilizerOffer],
    purchases: tuple[Purchase, ...], *, dollars: float,
) -> BlendPlan:  # fmt: skip
    whole = found.modes[plot.key].whole
    pounds = found.pounds_on(plot.key)
    lines = lines_of(plot, pounds, by_key, whole_bags=whole, paid_share=_paid_share(found, by_key))
    balance = balance_of(plot.need, lines, by_key, plot.acres)
    refused = screened(plot, offers)[1]
    short = {nutrient: lb for (key, nutrient), lb in found.short.items() if key == plot.key}
    delivered: dict[str, float] = {entry.nutrient: entry.delivered for entry in balance}
    lacking = missing(plot, offers, short, delivered, whole_bags=whole)
    acidity = acidity_of(lines, by_key)
    split = any(line.package_lb and by_key[line.offer].is_whole and not line.in_bags for line in lines)
    findings = (
        *lacking,
        *_not_known(plot.need),
        *(refusal.finding for refusal in refused),
        *_about(plot, split=split and plot.limits.whole_bags, acidity=acidity),
        *_acidity_not_known(lines, by_key),
    )
    return BlendPlan(
        plot=plot.key, acres=plot.acres, lines=lines, purchases=purchases, balance=balance,
        meets_need=not lacking, whole_bags=whole, dollars=dollars,
        cost_per_acre=dollars / plot.acres, cost_per_lb_nutrient=cost_per_lb(dollars, balance, plot.acres),
        acidity_lb_caco3=acidity, acidity_lb_caco3_per_acre=acidity / plot.acres, refused=refused,
        findings=findings, hazards=hazards_with(lines, by_key, plot),
        working=working_of(lines, by_key, balance, plot.acres),
    )  # fmt: skip


def _not_known(need: PlotNeed) -> tuple[Finding, ...]:
    """The needs that no rate could be given for: nothing is planned of them."""
    names = {"n": "N", "p2o5": "P2O5", "k2o": "K2O"}
    return tuple(
        stop("blend_without_need", nutrient=names[one.nutrient])
        for one in (need.n, need.p2o5, need.k2o)
        if one.lb_per_acre is None
    )


def _acidity_not_known(lines: Sequence[BlendLine], by_key: Mapping[str, FertilizerOffer]) -> tuple[Finding, ...]:
    names = [line.name for line in lines if not by_key[line.offer].product.acidity_is_known]
    return (note("blend_acidity_at_least", offers=", ".join(names)),) if names else ()


def _about(plot: BlendPlot, *, split: bool, acidity: float) -> tuple[Finding, ...]:
    found = []
    if split:
        found.append(check("blend_part_bags", acres=plot.acres))
    if acidity / plot.acres >= LARGE_ACIDITY_LB_PER_ACRE:
        found.append(note("blend_acidity", source="nitrogen_acidity_cornell", lb_caco3_per_acre=acidity / plot.acres))
    return tuple(found)

