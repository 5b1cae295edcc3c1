"""Why the offers at hand cannot meet a need, nutrient by nutrient."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from agronomy.blend.bounds import Bound, Refusal, bounds_of, screened
from agronomy.blend.offers import BlendPlot, FertilizerOffer
from agronomy.findings import Finding, stop
from agronomy.nutrients.kinds import NUTRIENT_NAMES

SMALLEST_SHORT_LB_PER_ACRE = 0.05


def missing(
    plot: BlendPlot, offers: Sequence[FertilizerOffer], short: Mapping[str, float], delivered: Mapping[str, float],
    *, whole_bags: bool,
) -> tuple[Finding, ...]:  # fmt: skip
    """A finding for each nutrient left short (lb/acre beyond what rounding may leave), with the reason the offers
    give. What is told as short is the need less what is delivered."""
    kept, refused = screened(plot, offers)
    return tuple(
        _reason(plot, bound, bound.aim - delivered.get(bound.nutrient, 0.0), kept, refused, offers,
                whole_bags=whole_bags)
        for bound in bounds_of(plot.need, plot.limits)
        if short.get(bound.nutrient, 0.0) > SMALLEST_SHORT_LB_PER_ACRE
    )  # fmt: skip


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
    each = [offer.share(bound.nutrient) * offer.package_lb / plot.acres for offer in carriers]
    whole = whole_bags and all(offer.is_whole for offer in carriers)
    if whole and min(each) > bound.high:
        return stop("blend_missing_bag_too_large", nutrient=name, short=short, one_bag=min(each), most=bound.high)
    names = ", ".join(offer.product.name for offer in carriers)
    if all(offer.price_dollars is None for offer in carriers):
        return stop("blend_missing_stock", nutrient=name, short=short, offers=names)
    if whole and not _reachable(each, bound):
        return stop("blend_missing_whole_bags", nutrient=name, short=short, offers=names, least=bound.low,
                    most=bound.high)  # fmt: skip
    return stop("blend_missing_combination", nutrient=name, short=short, offers=names)


def _reachable(each: Sequence[float], bound: Bound) -> bool:
    """Whether some whole numbers of bags, each bringing so many lb/acre, land inside the band."""
    if min(each) <= bound.high - bound.low:  # the steps are finer than the band
        return True
    sums = {0.0}  # to a tenth of a pound, so that they stay few
    for bag in each:
        sums = {
            round(start + count * bag, 1)
            for start in sums
            for count in range(int((bound.high - start) / bag + 1e-9) + 1)
        }
    return any(bound.low <= total <= bound.high for total in sums)
