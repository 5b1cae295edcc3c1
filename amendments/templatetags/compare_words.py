"""Words of the material comparison: months, packages, barriers."""

from __future__ import annotations

import calendar
from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import Any

from django import template

from amendments.models import Offer
from plots import figures

register = template.Library()

BARRIERS: Mapping[str, str] = {
    "no_vehicle": "the machine it needs does not get there",
    "caustic_not_allowed": "caustic lime is not allowed by name",
    "no_value": "it has no liming value",
    "figures_missing": "a figure of its analysis is missing",
}


@register.filter
def barrier_words(code: str) -> str:
    """Why an offer cannot be spread on a plot."""
    return BARRIERS.get(code, code.replace("_", " "))


@register.filter
def month_names(months: Collection[int]) -> str:
    """Months in runs: "all year", "Mar to May, Sep"; the year wraps."""
    if len(months) == 12:
        return "all year"
    starts = [month for month in sorted(months) if (month - 2) % 12 + 1 not in months]
    runs = []
    for start in starts:
        end = start
        while end % 12 + 1 in months:
            end = end % 12 + 1
        names = calendar.month_abbr[start], calendar.month_abbr[end]
        runs.append(names[0] if start == end else f"{names[0]} to {names[1]}")
    return ", ".join(runs) or "no month in common"


@register.filter
def lime_rate(lb_per_acre: float, package: str) -> str:
    """A rate as that lime is handled: tons for bulk, pounds for packages."""
    if package in ("truckload", "bulk"):
        return figures.quantity(lb_per_acre / 2000, "ton/acre")
    return figures.quantity(lb_per_acre, "lb/acre")


@register.filter
def packages_of(count: Decimal, offer: Offer) -> str:
    """Whole packages with the size of one, or tons of bulk."""
    if offer.package == Offer.Package.BULK:
        return figures.quantity(count * offer.package_size, offer.package_unit)
    word = figures.quantity(count, offer.package)
    return f"{word} of {figures.quantity(offer.package_size, offer.package_unit)}"


@register.filter
def of_key(mapping: Mapping[str, Any], key: str) -> Any:
    """The value under a key, None for none."""
    return mapping.get(key)
