"""The limes on offer compared for some plots, from the current data."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from agronomy.comparison import ComparedOffer, ComparedPlot, ComparedSpreader, Comparison, compare
from agronomy.comparison.facts import ALL_YEAR
from amendments.models import Offer, Spreader
from amendments.queries.inputs import PlotInputs
from amendments.queries.stock import on_hand_lb
from amendments.services.materials import analysis_on, freeze, liming_material, package_lb, price_per_package
from amendments.services.prescriptions import lime_need
from amendments.services.products import establishing_perennial


@dataclass(frozen=True, slots=True)
class Compared:
    """A comparison with its rows of the database: offers by key, and what could not be compared and why."""

    comparison: Comparison
    offers: dict[str, Offer]
    plots: tuple[ComparedPlot, ...]
    left_out: tuple[tuple[Offer, str], ...]


def compared_plots(inputs: Iterable[PlotInputs]) -> tuple[ComparedPlot, ...]:
    """The plots that owe lime, as the comparison takes them; those without a test or a rate are left out."""
    made = []
    for one in inputs:
        need = lime_need(one)
        if need.owed is None or not need.owed.amount:
            continue
        plot = one.plot
        made.append(
            ComparedPlot(
                key=plot.code,
                acres=float(plot.acres),
                owed=need.owed,
                vehicle=plot.access,
                months=frozenset(map(int, plot.access_months)) or ALL_YEAR,
                incorporated=plot.is_incorporated,
                policy=plot.property.lime_policy,
                establishing_perennial=establishing_perennial(one.planting, one),
            )
        )
    return tuple(made)


def compare_offers(
    inputs: Sequence[PlotInputs], offers: Iterable[Offer], *, today: dt.date, schemes: Sequence[str] = ()
) -> Compared:
    """Every lime on offer for these plots of one property."""
    limes = [offer for offer in offers if offer.material.kind == "lime"]
    stock = on_hand_lb([offer.material_id for offer in limes])
    taken, left_out = {}, []
    for offer in limes:
        try:
            taken[str(offer.pk)] = _offer(offer, stock.get(offer.material_id, Decimal(0)), today)
        except ValueError as error:
            left_out.append((offer, str(error)))
    plots = compared_plots(inputs)
    machines = _spreaders(inputs[0].plot.property_id) if inputs else ()
    made = compare(plots, taken.values(), spreaders=machines, schemes=schemes)
    return Compared(made, {str(offer.pk): offer for offer in limes}, plots, tuple(left_out))


def _offer(offer: Offer, stock: Decimal, today: dt.date) -> ComparedOffer:
    analysis = analysis_on(offer.material, today)
    return ComparedOffer(
        key=str(offer.pk),
        material=liming_material(freeze(offer.material, analysis)),
        basis=offer.basis,
        package=offer.package,
        package_lb=package_lb(offer, analysis),
        price_per_package=price_per_package(offer, analysis),
        minimum_packages=offer.minimum_packages,
        on_hand_lb=float(stock),
        caustic_allowed=offer.material.caustic_allowed,
    )


def _number(value: Decimal | int | None) -> float | None:
    return None if not value else float(value)


def _spreaders(property_id: int) -> tuple[ComparedSpreader, ...]:
    rows = Spreader.objects.filter(property_id=property_id, retired_on__isnull=True)
    return tuple(
        ComparedSpreader(
            key=str(row.pk),
            vehicle=row.vehicle,
            forms=tuple(row.takes_forms),
            hopper_lb=_number(row.hopper_lb),
            minutes_per_load=_number(row.minutes_per_load),
            acres_per_hour=_number(row.acres_per_hour),
        )
        for row in rows
    )
