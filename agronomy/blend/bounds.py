"""What each nutrient may come to on a plot, and which offers are kept off it, with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from agronomy.blend.offers import BlendLimits, BlendPlot, FertilizerOffer
from agronomy.findings import Finding, check
from agronomy.nutrients.kinds import NUTRIENT_NAMES, Nutrient, PlotNeed

TRACE_PERCENT = 0.1
"""Micronutrients up to this are what a plain material carries anyway (common practice)."""
_PROTECTED: tuple[Nutrient, ...] = ("b", "zn", "mn", "cu")


@dataclass(frozen=True, slots=True)
class Bound:
    """One nutrient on one plot, lb/acre: what is aimed at, the least that rounding to bags may leave, the most."""

    nutrient: Nutrient
    aim: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Refusal:
    """An offer kept off a plot, and the finding that says why."""

    offer: str
    finding: Finding


def bounds_of(need: PlotNeed, limits: BlendLimits) -> tuple[Bound, ...]:
    """The bounds of every nutrient that is needed or held back; a need that is not known is held at 0."""
    found: list[Bound] = []
    for one in need.all:
        if one.lb_per_acre is None:
            if one.nutrient in ("n", "p2o5", "k2o"):
                found.append(Bound(one.nutrient, 0.0, 0.0, 0.0))
            continue
        aim, low, high = one.lb_per_acre, one.low or 0.0, one.high or one.lb_per_acre
        if one.nutrient == "p2o5" and limits.near_water:
            high = aim
        if one.nutrient == "n" and need.n_limit_lb_per_acre is not None:
            high = min(high, need.n_limit_lb_per_acre)
        found.append(Bound(one.nutrient, min(aim, high), min(low, aim, high), high))
    return tuple(found)


def screened(
    plot: BlendPlot, offers: Sequence[FertilizerOffer]
) -> tuple[tuple[FertilizerOffer, ...], tuple[Refusal, ...]]:
    """The offers that may be used on a plot, and those refused. Each is judged alone: another offer never changes it.

    Offers that carry nothing the plot needs are in neither.
    """
    bounds = bounds_of(plot.need, plot.limits)
    wanted = {bound.nutrient for bound in bounds if bound.aim > 0}
    kept: list[FertilizerOffer] = []
    refused: list[Refusal] = []
    for offer in offers:
        finding = _why_not(plot, offer, wanted)
        if finding is not None:
            refused.append(Refusal(offer.key, finding))
        elif any(offer.share(nutrient) for nutrient in wanted):
            kept.append(offer)
    return tuple(kept), tuple(refused)


def _why_not(plot: BlendPlot, offer: FertilizerOffer, wanted: set[Nutrient]) -> Finding | None:
    name = offer.product.name
    if offer.price_dollars is None and not offer.on_hand_lb:
        return check("blend_offer_not_to_be_had", offer=name)
    return (
        _unknown_need(plot, offer)
        or _nitrogen_on_legume(plot, offer, wanted)
        or _held_micronutrient(plot, offer)
        or _near_water(plot, offer)
        or _beside_seed(plot, offer)
    )


def _unknown_need(plot: BlendPlot, offer: FertilizerOffer) -> Finding | None:
    for one in (plot.need.n, plot.need.p2o5, plot.need.k2o):
        if one.lb_per_acre is None and offer.share(one.nutrient):
            return check("blend_need_not_known", offer=offer.product.name, nutrient=NUTRIENT_NAMES[one.nutrient])
    return None


def _nitrogen_on_legume(plot: BlendPlot, offer: FertilizerOffer, wanted: set[Nutrient]) -> Finding | None:
    """An offer whose nitrogen would cross the limit on legumes when it alone fills the phosphate or potash need."""
    limit, share = plot.need.n_limit_lb_per_acre, offer.share("n")
    if limit is None or not share:
        return None
    rates = [
        one.lb_per_acre / offer.share(one.nutrient)
        for one in (plot.need.p2o5, plot.need.k2o)
        if one.lb_per_acre and offer.share(one.nutrient)
    ]
    source = "minnesota_legume_n" if limit <= 25 else "missouri_legume_grass_n"
    if not rates:
        if "n" in wanted:
            return None
        return check("blend_no_nitrogen_wanted", source=source, offer=offer.product.name, limit=limit)
    lb = min(rates) * plot.acres
    if offer.is_whole and plot.limits.whole_bags:
        lb = max(1.0, float(round(lb / offer.package_lb))) * offer.package_lb
    n = lb * share / plot.acres
    if n <= limit:
        return None
    return check("blend_nitrogen_on_legume", source=source, offer=offer.product.name, n_lb_per_acre=n, limit=limit)


def _held_micronutrient(plot: BlendPlot, offer: FertilizerOffer) -> Finding | None:
    for nutrient in _PROTECTED:
        percent = offer.product.percent(nutrient)
        one = plot.need.of(nutrient)
        if percent <= TRACE_PERCENT or (one is not None and one.lb_per_acre):
            continue
        code = "blend_boron_not_named" if nutrient == "b" else "blend_micronutrient_not_flagged"
        return check(code, source="nc_micronutrient_rates" if nutrient != "b" else "tennessee_alfalfa",
                     offer=offer.product.name, nutrient=NUTRIENT_NAMES[nutrient], percent=percent)  # fmt: skip
    return None


def _near_water(plot: BlendPlot, offer: FertilizerOffer) -> Finding | None:
    if not plot.limits.near_water or not offer.share("p2o5") or plot.need.p2o5.lb_per_acre:
        return None
    return check("blend_phosphate_near_water", source="nrcs_590", offer=offer.product.name)


def _beside_seed(plot: BlendPlot, offer: FertilizerOffer) -> Finding | None:
    if plot.limits.with_seed and offer.product.is_urea:
        return check("blend_urea_with_seed", source="kansas_seed_salt", offer=offer.product.name)
    return None
