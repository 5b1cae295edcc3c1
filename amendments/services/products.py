"""What a plot's lime comes to in each offer that can be had: rate, packages, dollars, and whether it gets there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from agronomy.findings import Finding, Hazard, Working
from agronomy.lime_rate import Dressing, material_rate
from amendments.models import Offer
from amendments.queries.inputs import PlotInputs
from amendments.services.materials import analysis_on, freeze, liming_material, package_lb, price_per_package
from amendments.services.prescriptions import LimeNeed
from plots.models import Planting, Plot, Vehicle

_HEAVIEST_FIRST = list(Vehicle.values)
# The lightest machine that can bring and spread a form (common practice): bulk lime wants a lime truck or a spreader
# made for it, bags go on anything, fluid lime wants a sprayer on a machine.
_LIGHTEST_FOR = {"truckload": Vehicle.LIME_TRUCK, "bulk": Vehicle.TRACTOR, "tote": Vehicle.TRACTOR}


@dataclass(frozen=True, slots=True)
class LimeProduct:
    """One offer for one plot. `packages` are whole; `cost` is of what must be bought."""

    offer: Offer
    name: str
    basis: str
    reaches: bool
    why_not: str
    value_percent: float | None
    rate: float | None
    rate_unit: str
    plot_amount: float | None
    plot_unit: str
    packages: Decimal | None
    package_name: str
    cost: Decimal | None
    dressings: tuple[Dressing, ...]
    findings: tuple[Finding, ...]
    hazards: tuple[Hazard, ...]
    working: Working


def reach(plot: Plot, offer: Offer, *, on: dt.date) -> str:
    """Why an offer cannot be spread on a plot; empty if it can."""
    lightest = _LIGHTEST_FOR.get(offer.package, Vehicle.ON_FOOT)
    if offer.basis == Offer.Basis.SPREAD:
        lightest = Vehicle.LIME_TRUCK
    if offer.material.form == "fluid" and lightest == Vehicle.ON_FOOT:
        lightest = Vehicle.SIDE_BY_SIDE
    if _HEAVIEST_FIRST.index(plot.access) > _HEAVIEST_FIRST.index(lightest):
        return f"it takes a {Vehicle(lightest).label}, and the plot is reached by {plot.get_access_display()}"
    if offer.material.form in ("burnt", "hydrated") and not offer.material.caustic_allowed:
        return "caustic lime is used only where the manager allows that material by name"
    return ""


def lime_products(inputs: PlotInputs, need: LimeNeed, offers: Iterable[Offer], *, today: dt.date) -> list[LimeProduct]:
    """Every lime on offer for this plot: what reaches it first, cheapest first."""
    if need.owed is None or not need.owed.amount:
        return []
    made = [_product(inputs, need, offer, today) for offer in offers if offer.material.kind == "lime"]
    return sorted(made, key=lambda p: (not p.reaches, p.cost is None, p.cost or 0, p.name))


def _product(inputs: PlotInputs, need: LimeNeed, offer: Offer, today: dt.date) -> LimeProduct:
    why_not = reach(inputs.plot, offer, on=today)
    analysis = analysis_on(offer.material, today)
    assert need.owed is not None
    try:
        rate = material_rate(
            need.owed,
            material=liming_material(freeze(offer.material, analysis)),
            incorporated=inputs.plot.is_incorporated,
            policy=inputs.plot.property.lime_policy,
            establishing_perennial=establishing_perennial(inputs.planting, inputs),
        )
        one_package = package_lb(offer, analysis)
        price = price_per_package(offer, analysis)
    except ValueError as error:
        return _unknown(offer, str(error))
    if rate is None:
        return _unknown(offer, "it has no liming value")
    acres = inputs.plot.acres
    total_lb = Decimal(str(rate.lb_per_acre)) * acres
    packages = max((total_lb / one_package).to_integral_value(ROUND_CEILING), offer.minimum_packages)
    if offer.package in ("truckload", "bulk"):  # by weight; a truck's minimum is shared over plots on the plan
        packages_priced = total_lb / one_package
        shown: Decimal | None = None
    else:
        packages_priced, shown = packages, packages
    bulk = offer.package in ("truckload", "bulk")
    return LimeProduct(
        offer=offer,
        name=offer.material.name,
        basis=offer.get_basis_display(),
        reaches=not why_not,
        why_not=why_not,
        value_percent=rate.value_percent,
        rate=rate.ton_per_acre if bulk else rate.lb_per_acre,
        rate_unit="ton/acre" if bulk else "lb/acre",
        plot_amount=float(total_lb) / 2000 if bulk else float(total_lb),
        plot_unit="ton" if bulk else "lb",
        packages=shown,
        package_name=offer.package,
        cost=(packages_priced * price).quantize(Decimal("0.01")),
        dressings=rate.dressings,
        findings=rate.findings,
        hazards=rate.hazards,
        working=rate.working,
    )


def establishing_perennial(planting: Planting | None, inputs: PlotInputs) -> bool:
    """Whether a perennial stand is about to be established by tillage."""
    if planting is None or planting.no_till or not inputs.demand.perennial:
        return False
    return planting.establishment == Planting.Establishment.NEW_SEEDING


def _unknown(offer: Offer, why: str) -> LimeProduct:
    return LimeProduct(
        offer=offer, name=offer.material.name, basis=offer.get_basis_display(), reaches=False, why_not=why,
        value_percent=None, rate=None, rate_unit="lb/acre", plot_amount=None, plot_unit="lb", packages=None,
        package_name=offer.package, cost=None, dressings=(), findings=(), hazards=(), working=(),
    )  # fmt: skip
