"""A blend as people read it: what goes on, what it delivers, what is over and short, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from agronomy.blend.bounds import Refusal
from agronomy.blend.offers import BlendPlot, FertilizerOffer
from agronomy.fertilizer_material import hazards_of, hazards_of_spreading
from agronomy.findings import Finding, Hazard, Step, Working, hazards_in_order
from agronomy.nutrients.kinds import NUTRIENT_NAMES, NUTRIENTS, Nutrient, PlotNeed

SHOWN_LB_PER_ACRE = 0.05
"""Less over or short than this is a rounding of the figures, not of the bags."""


@dataclass(frozen=True, slots=True)
class BlendLine:
    """One product on one plot. `packages` is whole for bags that are not split; `dollars` is the price of the pounds
    spread, at nothing for what was on hand first."""

    offer: str
    name: str
    grade: str
    lb: float
    lb_per_acre: float
    packages: float
    package_lb: float
    in_bags: bool
    dollars: float


@dataclass(frozen=True, slots=True)
class Purchase:
    """What is bought of one offer: whole bags, or bulk by weight; `on_hand_lb` is what is used of the stock."""

    offer: str
    name: str
    packages: float
    package_lb: float
    lb: float
    on_hand_lb: float
    dollars: float


@dataclass(frozen=True, slots=True)
class NutrientBalance:
    """One nutrient on a plot, lb/acre: needed (None: not known), delivered this year, over and short of the need."""

    nutrient: Nutrient
    need: float | None
    delivered: float
    over: float
    short: float
    in_band: bool


@dataclass(frozen=True, slots=True)
class BlendPlan:
    """The blend of one plot. `meets_need` is whether every known need is met inside its band.

    `dollars` is what is bought for it (bags rounded up); `cost_per_lb_nutrient` is over all pounds of N, P2O5 and K2O
    delivered, None where none is. `acidity_lb_caco3` is what its nitrogen uses up of lime, below 0 where it sweetens.
    """

    plot: str
    acres: float
    lines: tuple[BlendLine, ...]
    purchases: tuple[Purchase, ...]
    balance: tuple[NutrientBalance, ...]
    meets_need: bool
    whole_bags: bool
    dollars: float
    cost_per_acre: float
    cost_per_lb_nutrient: float | None
    acidity_lb_caco3: float
    acidity_lb_caco3_per_acre: float
    refused: tuple[Refusal, ...] = ()
    findings: tuple[Finding, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    working: Working = ()

    def of(self, nutrient: Nutrient) -> NutrientBalance:
        """The balance of one nutrient; raises `ValueError` for one that is neither needed nor delivered."""
        for entry in self.balance:
            if entry.nutrient == nutrient:
                return entry
        raise ValueError(f"{nutrient} is neither needed nor delivered on plot {self.plot}")

    @property
    def delivered(self) -> tuple[float, float, float]:
        """N, P2O5 and K2O delivered, lb/acre."""
        n, p2o5, k2o = (self.of(nutrient).delivered for nutrient in ("n", "p2o5", "k2o")) 
        return n, p2o5, k2o


@dataclass(frozen=True, slots=True)
class SharedPlan:
    """A purchase for several plots. `gap_percent` is how far it can be from the cheapest there is."""

    plots: tuple[BlendPlan, ...]
    purchases: tuple[Purchase, ...]
    dollars: float
    least_dollars: float
    meets_need: bool
    findings: tuple[Finding, ...] = field(default=())

    @property
    def gap_percent(self) -> float:
        if self.dollars <= self.least_dollars or not self.dollars:
            return 0.0
        return 100 * (self.dollars - self.least_dollars) / self.dollars

    def plan_of(self, plot: str) -> BlendPlan:
        """The blend of one plot; raises `ValueError` for one that is not in the purchase."""
        for plan in self.plots:
            if plan.plot == plot:
                return plan
        raise ValueError(f"no plot {plot!r} in this purchase")


def lines_of(
    plot: BlendPlot, pounds: Mapping[str, float], offers: Mapping[str, FertilizerOffer], *, whole_bags: bool,
    paid_share: Mapping[str, float],
) -> tuple[BlendLine, ...]:  # fmt: skip
    """The lines of a plot from pounds by offer, the heaviest first; `paid_share` is the part not taken from stock."""
    made = []
    for key, lb in sorted(pounds.items(), key=lambda entry: (-entry[1], entry[0])):
        offer = offers[key]
        made.append(
            BlendLine(
                key, offer.product.name, offer.product.grade, lb, lb / plot.acres, lb / offer.package_lb,
                offer.package_lb, whole_bags and offer.is_whole,
                lb * offer.dollars_per_lb * paid_share.get(key, 1.0),
            )
        )  # fmt: skip
    return tuple(made)


def balance_of(
    need: PlotNeed, lines: Sequence[BlendLine], offers: Mapping[str, FertilizerOffer], acres: float
) -> tuple[NutrientBalance, ...]:  # fmt: skip
    """What the lines deliver of every nutrient needed or brought along, against the need."""
    found = []
    for nutrient in NUTRIENTS:
        delivered = sum(line.lb * offers[line.offer].share(nutrient) for line in lines) / acres
        one = need.of(nutrient)
        if one is None and delivered <= 0:
            continue
        wanted = one.lb_per_acre if one else None
        aim = wanted or 0.0
        over = delivered - aim if delivered - aim > SHOWN_LB_PER_ACRE else 0.0
        short = aim - delivered if aim - delivered > SHOWN_LB_PER_ACRE else 0.0
        found.append(NutrientBalance(nutrient, wanted, delivered, over, short, _in_band(need, nutrient, delivered)))
    return tuple(found)


def _in_band(need: PlotNeed, nutrient: Nutrient, delivered: float) -> bool:
    one = need.of(nutrient)
    if one is None or one.lb_per_acre is None:
        return True
    low, high = one.low or 0.0, one.high if one.high is not None else one.lb_per_acre
    return low - SHOWN_LB_PER_ACRE <= delivered <= high + SHOWN_LB_PER_ACRE


def acidity_of(lines: Sequence[BlendLine], offers: Mapping[str, FertilizerOffer]) -> float:
    """lb CaCO3 that the lines use up, below 0 where they sweeten."""
    return sum(line.lb * offers[line.offer].product.acidity_lb_per_lb for line in lines)


def cost_per_lb(dollars: float, balance: Sequence[NutrientBalance], acres: float) -> float | None:
    """Dollars for one pound of N, P2O5 or K2O delivered; None where none is."""
    pounds = sum(entry.delivered for entry in balance if entry.nutrient in ("n", "p2o5", "k2o")) * acres
    return dollars / pounds if pounds > 0 else None


def hazards_with(
    lines: Sequence[BlendLine], offers: Mapping[str, FertilizerOffer], plot: BlendPlot
) -> tuple[Hazard, ...]:  # fmt: skip
    """The hazards of every product that is prescribed, and of spreading at this place; none where nothing is."""
    if not lines:
        return ()
    found = [hazard for line in lines for hazard in hazards_of(offers[line.offer].product)]
    found += hazards_of_spreading(near_water=plot.limits.near_water)
    if plot.limits.with_seed:
        found.append(Hazard("caution", "salt_with_seed", "kansas_seed_salt"))
    return hazards_in_order(found)


def working_of(
    lines: Sequence[BlendLine], offers: Mapping[str, FertilizerOffer], balance: Sequence[NutrientBalance], acres: float
) -> Working:  # fmt: skip
    """The arithmetic: pounds and bags of each product, and what every nutrient sums to."""
    steps = []
    for line in lines:
        count = f"{line.packages:.4g} x {line.package_lb:g} lb" if line.in_bags else f"{line.lb:.4g} lb"
        steps.append(
            Step(f"{line.name} {line.grade}", f"{count} / {acres:g} acres", line.lb_per_acre, "lb/acre",
                 "blend_arithmetic")
        )  # fmt: skip
    for entry in balance:
        parts = [
            f"{line.lb_per_acre:.4g} x {100 * offers[line.offer].share(entry.nutrient):g} %"
            for line in lines
            if offers[line.offer].share(entry.nutrient)
        ]
        if parts:
            steps.append(
                Step(f"{NUTRIENT_NAMES[entry.nutrient]} delivered", " + ".join(parts), entry.delivered, "lb/acre",
                     "blend_arithmetic")
            )  # fmt: skip
    return tuple(steps)
