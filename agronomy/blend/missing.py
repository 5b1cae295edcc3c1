"""Why the offers at hand cannot meet a need, nutrient by nutrient."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from agronomy.blend.bounds import Bound, Refusal, bounds_of, screened
from agronomy.blend.offers import BlendPlot, FertilizerOffer
from agronomy.findings import Finding, stop
from agronomy.nutrients.kinds import NUTRIENT_NAMES

SMALLEST_SHORT_LB_PER_ACRE = 0.05


def missing(
    plot: BlendPlot, offers: Sequence[FertilizerOffer], short: Mapping[str, float], *, whole_bags: bool
) -> tuple[Finding, ...]:  # fmt: skip
    """A finding for each nutrient left short (lb/acre), with the reason the offers give."""
    kept, refused = screened(plot, offers)
    return tuple(
        _reason(plot, bound, short[bound.nutrient], kept, refused, offers, whole_bags=whole_bags)
        for bound in bounds_of(plot.need, plot.limits)
        if short.get(bound.nutrient, 0.0) > SMALLEST_SHORT_LB_PER_ACRE
    )


def _reason(
    plot: BlendPlot, bound: Bound, short: float, kept: Sequence[FertilizerOffer], refused: Sequence[Refusal],
    offers: Sequence[FertilizerOffer], *, whole_bags: bool,
) -> Finding:  # fmt: skip
    name = NUTRIENT_NAMES[bound.nutrient]
    carriers = [offer for offer in kept if offer.share(bound.nutrient)]
    by_key = {offer.key: offer for offer in offers}
    if not carriers:
        held = [by_key[r.offer].product.name for r in refused if by_key[r.offer].share(bound.nutrient)]
        if held:
            return stop("blend_missing_refused", nutrient=name, short=short, offers=", ".join(held))
        return stop("blend_missing_no_offer", nutrient=name, short=short)
    bag = min(offer.share(bound.nutrient) * offer.package_lb / plot.acres for offer in carriers)
    if whole_bags and all(offer.is_whole for offer in carriers) and bag > bound.high:
        return stop("blend_missing_bag_too_large", nutrient=name, short=short, one_bag=bag, most=bound.high)
    names = ", ".join(offer.product.name for offer in carriers)
    if all(offer.price_dollars is None for offer in carriers):
        return stop("blend_missing_stock", nutrient=name, short=short, offers=names)
    return stop("blend_missing_combination", nutrient=name, short=short, offers=names)
