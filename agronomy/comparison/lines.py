"""One offer over all plots asked about: rates, what must be bought, loads and hours, findings and hazards."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from functools import lru_cache
from math import ceil, fsum

from agronomy.comparison.facts import ALL_YEAR, VEHICLES, ComparedOffer, ComparedPlot, ComparedSpreader
from agronomy.findings import Finding, Hazard, check, hazards_in_order, most_severe_first, note, stop
from agronomy.lime_rate import MaterialRate, hazards_of, material_rate, value_for
from agronomy.liming_material import CAUSTIC, LimingMaterial, first_year_share, magnesium_advice

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class PlotLine:
    """One offer on one plot. `barrier` is why it cannot be spread there, empty where it can."""

    plot: str
    barrier: str
    months: frozenset[int]
    lb_per_acre: float
    lb: float
    effective_lb: float
    rate: MaterialRate | None = None


@dataclass(frozen=True, slots=True)
class Purchase:
    """What must be bought of an offer: whole packages (bulk by weight), after stock, not under the minimum."""

    need_lb: float
    from_stock_lb: float
    packages: Decimal
    bought_lb: float
    left_lb: float
    cost: Decimal


@dataclass(frozen=True, slots=True)
class ComparedLine:
    """One offer over all plots asked about.

    `first_year_percent` of the material reacts in the first year; `value_percent` is its worth in the plots' own
    reference, weighted by their need. `hours` and `loads` are None where no machine with the figures is known.
    """

    offer: ComparedOffer
    plots: tuple[PlotLine, ...]
    purchase: Purchase | None
    value_percent: float | None
    cost_per_effective_ton: Decimal | None
    months: frozenset[int]
    loads: int | None
    hours: float | None
    first_year_percent: float | None
    scheme_percent: Mapping[str, float | None]
    findings: tuple[Finding, ...]
    hazards: tuple[Hazard, ...]

    @property
    def served(self) -> tuple[PlotLine, ...]:
        """The plots it reaches."""
        return tuple(line for line in self.plots if not line.barrier)

    @property
    def effective_lb(self) -> float:
        return fsum(line.effective_lb for line in self.served)

    @property
    def cost(self) -> Decimal | None:
        return None if self.purchase is None else self.purchase.cost

    @property
    def lb_per_acre(self) -> float | None:
        """The rate where one plot is asked about or all agree; None where plots differ."""
        rates = {round(line.lb_per_acre, 6) for line in self.served}
        return self.served[0].lb_per_acre if len(rates) == 1 else None


def barrier(plot: ComparedPlot, offer: ComparedOffer) -> str:
    """Why an offer cannot be spread on a plot, as a code: no_vehicle, caustic_not_allowed; empty if it can."""
    if VEHICLES.index(plot.vehicle) < VEHICLES.index(offer.lightest_vehicle):
        return "no_vehicle"
    if offer.material.form in CAUSTIC[:2] and not offer.caustic_allowed:
        return "caustic_not_allowed"
    return ""


def line_of(
    offer: ComparedOffer, plots: Sequence[ComparedPlot], spreaders: Sequence[ComparedSpreader], schemes: Sequence[str]
) -> ComparedLine:
    parts, problems = _parts(offer, plots)
    served = [part for part in parts if not part.barrier]
    purchase = buy(offer, [part.lb for part in served]) if served else None
    effective, pounds = fsum(part.effective_lb for part in served), fsum(part.lb for part in served)
    loads, hours = _work(offer, plots, served, spreaders)
    months = frozenset.intersection(*(part.months for part in served)) if served else frozenset()
    found = [*problems, *(one for part in served if part.rate for one in part.rate.findings)]
    return ComparedLine(
        offer=offer,
        plots=parts,
        purchase=purchase,
        value_percent=100 * effective / pounds if pounds else None,
        cost_per_effective_ton=_per_effective_ton(offer, effective / pounds) if pounds else None,
        months=months,
        loads=loads,
        hours=hours,
        first_year_percent=_first_year(offer.material),
        scheme_percent={key: _by_scheme(offer.material, key) for key in schemes},
        findings=most_severe_first([*found, *_about(offer, plots, parts, purchase, months)]),
        hazards=hazards_in_order(hazards_of(offer.material)),
    )


def _parts(offer: ComparedOffer, plots: Sequence[ComparedPlot]) -> tuple[tuple[PlotLine, ...], list[Finding]]:
    """The offer on each plot, and why no rate could be worked out."""
    parts, problems = [], []
    for plot in plots:
        stopped, rate = barrier(plot, offer), None
        try:
            rate = material_rate(plot.owed, material=offer.material, incorporated=plot.incorporated,
                                 policy=plot.policy, establishing_perennial=plot.establishing_perennial)  # fmt: skip
        except ValueError as error:
            stopped = "figures_missing"
            problems.append(stop("material_figures_missing", why=str(error)))
        if rate is None and stopped != "figures_missing":
            stopped = "no_value"
            problems.append(stop("no_liming_value", source="atomic_weights", material=offer.material.name))
        parts.append(_part(plot, offer, rate, stopped))
    return tuple(parts), problems


def _part(plot: ComparedPlot, offer: ComparedOffer, rate: MaterialRate | None, stopped: str) -> PlotLine:
    months = ALL_YEAR if offer.lightest_vehicle == "on_foot" else plot.months
    if rate is None:
        return PlotLine(plot.key, stopped, frozenset(), 0.0, 0.0, 0.0)
    pounds = rate.lb_per_acre * plot.acres
    return PlotLine(plot.key, stopped, frozenset() if stopped else months, rate.lb_per_acre, pounds,
                    pounds * rate.value_percent / 100, rate)  # fmt: skip


def buy(offer: ComparedOffer, needs_lb: Iterable[float]) -> Purchase:
    """What to buy for needs in pounds: their sum less what is on hand, up to whole packages and the minimum.

    Bulk by weight is not rounded. Nothing is bought where the stock is enough.
    """
    need = fsum(needs_lb)
    stock = min(offer.on_hand_lb, need)
    short = Decimal(repr(need - stock))
    if short <= Decimal("0.0001"):  # what float arithmetic may leave over
        return Purchase(need, stock, Decimal(0), 0.0, 0.0, Decimal("0.00"))
    count = short / offer.package_lb
    if offer.package != "bulk":
        count = (count - Decimal("1e-9")).to_integral_value(ROUND_CEILING)
        least = offer.minimum_packages.to_integral_value(ROUND_CEILING)
    else:
        least = offer.minimum_packages
    packages = max(count, least)
    bought = float(packages * offer.package_lb)
    cost = (packages * offer.price_per_package).quantize(CENT)
    return Purchase(need, stock, packages, bought, max(bought - float(short), 0.0), cost)


def _per_effective_ton(offer: ComparedOffer, value_share: float) -> Decimal | None:
    """Dollars for a ton of effective CaCO3 at the offer's price, whatever must be bought in all."""
    if value_share <= 0:
        return None
    return (offer.price_per_package / offer.package_lb * 2000 / Decimal(repr(value_share))).quantize(CENT)


def _work(
    offer: ComparedOffer, plots: Sequence[ComparedPlot], served: Sequence[PlotLine],
    spreaders: Sequence[ComparedSpreader],
) -> tuple[int | None, float | None]:  # fmt: skip
    """Spreader loads and hours of the property's own machines; nothing where the supplier spreads."""
    if not served or offer.basis == "spread":
        return (0, 0.0) if served else (None, None)
    by_key = {plot.key: plot for plot in plots}
    loads, hours = 0, 0.0
    loads_known = hours_known = True
    for part in served:
        machine = _machine(by_key[part.plot], offer, spreaders)
        if machine is None or machine.hopper_lb is None:
            return None, None
        count = ceil(part.lb / machine.hopper_lb - 1e-9)
        loads += count
        if machine.minutes_per_load is None or machine.acres_per_hour is None:
            hours_known = False
        else:
            hours += count * machine.minutes_per_load / 60 + by_key[part.plot].acres / machine.acres_per_hour
    return loads if loads_known else None, hours if hours_known else None


def _machine(
    plot: ComparedPlot, offer: ComparedOffer, spreaders: Sequence[ComparedSpreader]
) -> ComparedSpreader | None:
    """The largest machine that takes the form and reaches the plot."""
    reach = VEHICLES.index(plot.vehicle)
    able = [
        one for one in spreaders
        if VEHICLES.index(one.vehicle) <= reach and (not one.forms or offer.material.form in one.forms)
        and VEHICLES.index(one.vehicle) >= VEHICLES.index(offer.lightest_vehicle if offer.package != "truckload"
                                                          else "tractor")
    ]  # fmt: skip
    return max(able, key=lambda one: one.hopper_lb or 0.0) if able else None


@lru_cache(maxsize=1024)
def _first_year(material: LimingMaterial) -> float | None:
    try:
        return 100 * first_year_share(material)
    except ValueError:
        return None


def _by_scheme(material: LimingMaterial, key: str) -> float | None:
    """The value by one state's scheme, percent; None where its figures are missing."""
    try:
        return value_for(material, "effective", key).value_percent
    except ValueError as error:
        if str(error).startswith("no scheme"):
            raise
        return None


def _about(
    offer: ComparedOffer, plots: Sequence[ComparedPlot], parts: Sequence[PlotLine], purchase: Purchase | None,
    months: frozenset[int],
) -> list[Finding]:  # fmt: skip
    """What the buyer must know of this offer beside its rates."""
    found: list[Finding] = []
    unreached = [part.plot for part in parts if part.barrier == "no_vehicle"]
    if unreached:
        vehicle = offer.lightest_vehicle
        found.append(check("offer_does_not_reach", source="spreading_practice", plots=", ".join(unreached),
                           vehicle=vehicle))  # fmt: skip
    if any(part.barrier == "caustic_not_allowed" for part in parts):
        found.append(stop("caustic_not_allowed", source="lime_safety", material=offer.material.name))
    if any(not part.barrier for part in parts) and not months:
        found.append(check("no_common_month", source="spreading_practice"))
    if purchase is not None and purchase.left_lb >= 0.1 * purchase.need_lb and purchase.left_lb >= 100:
        found.append(note("purchase_leaves_over", left_lb=purchase.left_lb, bought_lb=purchase.bought_lb))
    if purchase is not None and purchase.from_stock_lb:
        found.append(note("stock_counted_first", stock_lb=purchase.from_stock_lb, need_lb=purchase.need_lb))
    advice = {
        code.code: code
        for code in (magnesium_advice(offer.material, magnesium_ppm=plot.magnesium_ppm) for plot in plots)
        if code is not None
    }
    return [*found, *advice.values()]
