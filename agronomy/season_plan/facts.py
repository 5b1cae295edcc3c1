"""What a season plan weighs: plots, offers in their packages, and spreaders.

All figures are of the plot or material as the caller worked them out (lime owed, value of a material in the
plot's own reference, nutrient need); the plan only weighs them against each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Vehicle = Literal["on_foot", "side_by_side", "tractor", "lime_truck"]
Nutrient = Literal["n", "p2o5", "k2o"]
Legume = Literal["none", "inoculated", "legume_grass"]
OfferKind = Literal["lime", "fertilizer"]
Basis = Literal["at_source", "delivered", "spread"]
PackageKind = Literal["truckload", "bulk", "bag", "jug", "tote"]

VEHICLES: tuple[Vehicle, ...] = ("on_foot", "side_by_side", "tractor", "lime_truck")  # lightest first
NUTRIENTS: tuple[Nutrient, ...] = ("n", "p2o5", "k2o")
LEGUME_N_LIMIT_LB_PER_ACRE: Mapping[Legume, float] = {"inoculated": 25.0, "legume_grass": 30.0}
CAUSTIC_FORMS = ("burnt", "hydrated")
NEVER_FORMS = ("anhydrous_ammonia",)
MONTHS = frozenset(range(1, 13))
LARGEST_DRESSING_LB_PER_ACRE: Mapping[bool, float] = {True: 8000.0, False: 4000.0}  # worked in | on the surface
SMALLEST_DRESSING_EFFECTIVE_LB_PER_ACRE = 500.0
LB_PER_TON = 2000.0


def between(name: str, value: float, low: float, high: float) -> None:
    """Raise `ValueError` naming the allowed range unless low <= value <= high (a NaN fails too)."""
    if not low <= value <= high:
        raise ValueError(f"{name} is {value}; allowed {low:g} to {high:g}")


def one_of(name: str, value: object, allowed: tuple[object, ...]) -> None:
    """Raise `ValueError` unless `value` is one of `allowed`."""
    if value not in allowed:
        raise ValueError(f"{name} is {value!r}; allowed {', '.join(map(str, allowed))}")


def check_months(name: str, months: frozenset[int]) -> None:
    """Raise `ValueError` unless `months` are one or more of 1 to 12."""
    if not months or not months <= MONTHS:
        raise ValueError(f"{name} are {sorted(months)}; allowed one or more of 1 to 12")


@dataclass(frozen=True, slots=True)
class NutrientNeed:
    """What a planting still needs of one nutrient, 0 to 1,000 lb/acre.

    `most_lb_per_acre` is the upper end of the publication's band (default: the need itself). `worth_ph_points`
    says how many pH points of lime, on the same acre, filling the whole need is worth (0 to 10; 0.2 is a
    house figure, to be set by the manager).
    """

    nutrient: Nutrient
    need_lb_per_acre: float
    most_lb_per_acre: float | None = None
    worth_ph_points: float = 0.2

    def __post_init__(self) -> None:
        one_of("nutrient", self.nutrient, NUTRIENTS)
        between("need_lb_per_acre", self.need_lb_per_acre, 0, 1000)
        between("worth_ph_points", self.worth_ph_points, 0, 10)
        if self.most_lb_per_acre is not None:
            between("most_lb_per_acre", self.most_lb_per_acre, self.need_lb_per_acre, 2000)

    @property
    def limit_lb_per_acre(self) -> float:
        return self.need_lb_per_acre if self.most_lb_per_acre is None else self.most_lb_per_acre


@dataclass(frozen=True, slots=True)
class PlanPlot:
    """One plot as the plan sees it.

    `owed_effective_lb_per_acre` is the lime owed in effective CaCO3 (0 to 40,000); `ph_gap` the pH points it is
    to raise (0 to 4); `care` how much the crop minds being short (0 to 10, 1 is ordinary);
    `floor_gap_effective_lb_per_acre` what keeps it above its crop's floor for a year. `open_months` names the
    months in which a vehicle class reaches it (a class not named: all year, if not heavier than
    `heaviest_vehicle`). Dressing limits are for one dressing; the largest ones default to 4 tons of material an
    acre worked in and 2 tons on the surface. `haul_ft` is the way from the store.
    """

    key: str
    acres: float
    owed_effective_lb_per_acre: float = 0.0
    ph_gap: float = 0.0
    care: float = 1.0
    floor_gap_effective_lb_per_acre: float = 0.0
    heaviest_vehicle: Vehicle = "tractor"
    open_months: Mapping[Vehicle, frozenset[int]] = field(default_factory=dict)
    smallest_dressing_effective_lb_per_acre: float = SMALLEST_DRESSING_EFFECTIVE_LB_PER_ACRE
    largest_dressing_effective_lb_per_acre: float | None = None
    largest_dressing_lb_per_acre: float | None = None
    incorporated: bool = True
    legume: Legume = "none"
    near_water: bool = False
    slope: bool = False
    needs: tuple[NutrientNeed, ...] = ()
    haul_ft: float = 0.0
    name: str = ""

    def __post_init__(self) -> None:
        between("acres", self.acres, 0.001, 2000)
        between("owed_effective_lb_per_acre", self.owed_effective_lb_per_acre, 0, 40000)
        between("ph_gap", self.ph_gap, 0, 4)
        between("care", self.care, 0, 10)
        between("smallest_dressing_effective_lb_per_acre", self.smallest_dressing_effective_lb_per_acre, 0, 20000)
        between("floor_gap_effective_lb_per_acre", self.floor_gap_effective_lb_per_acre, 0,
                self.owed_effective_lb_per_acre)
        between("haul_ft", self.haul_ft, 0, 500000)
        one_of("heaviest_vehicle", self.heaviest_vehicle, VEHICLES)
        one_of("legume", self.legume, ("none", *LEGUME_N_LIMIT_LB_PER_ACRE))
        for vehicle, months in self.open_months.items():
            one_of("open_months", vehicle, VEHICLES)
            check_months(f"open months of {vehicle}", months)
        for limit in (self.largest_dressing_effective_lb_per_acre, self.largest_dressing_lb_per_acre):
            if limit is not None:
                between("largest dressing", limit, 1, 40000)
        if len({need.nutrient for need in self.needs}) != len(self.needs):
            raise ValueError(f"plot {self.key}: each nutrient may be named once")

    @property
    def label(self) -> str:
        """What sentences call it: its name, else its key."""
        return self.name or self.key

    def months_reached(self, vehicle: Vehicle) -> frozenset[int]:
        """The months in which a vehicle class reaches the plot; empty when it never does."""
        if VEHICLES.index(vehicle) > VEHICLES.index(self.heaviest_vehicle):
            return frozenset()
        return self.open_months.get(vehicle, MONTHS)

    @property
    def most_material_lb_per_acre(self) -> float:
        """The largest single dressing in pounds of material as spread."""
        if self.largest_dressing_lb_per_acre is not None:
            return self.largest_dressing_lb_per_acre
        return LARGEST_DRESSING_LB_PER_ACRE[self.incorporated]

    def nutrient_limit_lb_per_acre(self, nutrient: Nutrient) -> float:
        """The most that may be spread: the band's upper end; phosphate near water the need alone; N on legumes
        the legume limit, which is also what may come along in a phosphate where no N is needed."""
        need = next((n for n in self.needs if n.nutrient == nutrient), NutrientNeed(nutrient, 0.0))
        legume = LEGUME_N_LIMIT_LB_PER_ACRE.get(self.legume)
        if nutrient == "n" and legume is not None:
            return legume if need.most_lb_per_acre is None else min(legume, need.most_lb_per_acre)
        if nutrient == "p2o5" and self.near_water:
            return need.need_lb_per_acre
        return need.limit_lb_per_acre


@dataclass(frozen=True, slots=True)
class Package:
    """How an offer is sold. Bags, jugs and totes are whole pieces of `holds_lb`; truckloads are whole trucks of
    `smallest_lb` to `holds_lb`; bulk is any weight from `smallest_lb` up. `smallest_order` counts pieces or
    trucks, for each place they go to."""

    kind: PackageKind
    holds_lb: float
    smallest_lb: float | None = None
    smallest_order: int = 1

    def __post_init__(self) -> None:
        one_of("package", self.kind, ("truckload", "bulk", "bag", "jug", "tote"))
        between("holds_lb", self.holds_lb, 0.1, 10_000_000)
        between("smallest_order", self.smallest_order, 1, 100000)
        if self.smallest_lb is not None:
            between("smallest_lb", self.smallest_lb, 0, self.holds_lb)

    @property
    def by_weight(self) -> bool:
        """Whether the weight bought is free between limits (trucks, bulk) instead of a whole number of pieces."""
        return self.kind in ("truckload", "bulk")

    @property
    def least_lb(self) -> float:
        """The least that one package weighs: all of it for pieces and for trucks with no smaller load."""
        if not self.by_weight:
            return self.holds_lb
        if self.smallest_lb is None:
            return self.holds_lb if self.kind == "truckload" else 0.0
        return self.smallest_lb


@dataclass(frozen=True, slots=True)
class PlanOffer:
    """A material that can be had, in a package at a price.

    `price_dollars` is for a ton (truckload, bulk) or a piece (bag, jug, tote); None: not for sale, only on hand.
    `effective_percent` is the lime's value as spread in effective CaCO3 (0 to 250), by plot where the plots'
    references differ. `on_hand_lb` is by dump site for tipped material, under "" for the store.
    `load_dollars` and `hours_per_load` fall on every package, `order_dollars` on the whole order,
    `custom_dollars_per_acre` on every dressing the supplier spreads (basis `spread`).
    """

    key: str
    kind: OfferKind
    form: str
    package: Package
    price_dollars: float | None
    basis: Basis = "at_source"
    effective_percent: float = 0.0
    effective_percent_by_plot: Mapping[str, float] = field(default_factory=dict)
    n_percent: float = 0.0
    p2o5_percent: float = 0.0
    k2o_percent: float = 0.0
    acidity_lb_caco3_per_lb: float = 0.0
    on_hand_lb: Mapping[str, float] = field(default_factory=dict)
    load_dollars: float = 0.0
    order_dollars: float = 0.0
    hours_per_load: float = 0.0
    custom_dollars_per_acre: float = 0.0
    spread_vehicle: Vehicle = "lime_truck"
    smallest_rate_lb_per_acre: float = 0.0
    largest_rate_lb_per_acre: float | None = None
    name: str = ""

    def __post_init__(self) -> None:
        one_of("kind", self.kind, ("lime", "fertilizer"))
        one_of("basis", self.basis, ("at_source", "delivered", "spread"))
        one_of("spread_vehicle", self.spread_vehicle, VEHICLES)
        if self.form in NEVER_FORMS:
            raise ValueError(f"offer {self.key}: {self.form} is never planned; it takes licensed handling")
        for percent in (self.effective_percent, *self.effective_percent_by_plot.values()):
            between("effective_percent", percent, 0, 250)
        for name in ("n_percent", "p2o5_percent", "k2o_percent"):
            between(name, getattr(self, name), 0, 100)
        for name in ("load_dollars", "order_dollars", "custom_dollars_per_acre"):
            between(name, getattr(self, name), 0, 1_000_000)
        between("price_dollars", self.price_dollars or 0.0, 0, 1_000_000)
        between("hours_per_load", self.hours_per_load, 0, 1000)
        between("smallest_rate_lb_per_acre", self.smallest_rate_lb_per_acre, 0, 40000)
        for pounds in self.on_hand_lb.values():
            between("on_hand_lb", pounds, 0, 100_000_000)

    @property
    def label(self) -> str:
        """What sentences call it: its name, else its key."""
        return self.name or self.key

    @property
    def dollars_per_lb(self) -> float:
        """Price of one pound bought; 0 when not for sale."""
        price = self.price_dollars or 0.0
        return price / (LB_PER_TON if self.package.by_weight else self.package.holds_lb)

    @property
    def is_tipped(self) -> bool:
        """Whether the supplier tips it at a dump site, from where plots within reach share it."""
        return self.kind == "lime" and self.basis == "delivered" and self.package.by_weight

    def effective_share(self, plot_key: str) -> float:
        """Effective CaCO3 in one pound of it, 0 to 2.5, in the reference of a plot."""
        return self.effective_percent_by_plot.get(plot_key, self.effective_percent) / 100

    def nutrient_share(self, nutrient: Nutrient) -> float:
        """Pounds of a nutrient in one pound of it."""
        return {"n": self.n_percent, "p2o5": self.p2o5_percent, "k2o": self.k2o_percent}[nutrient] / 100


@dataclass(frozen=True, slots=True)
class PlanSpreader:
    """One machine: what pulls or carries it, what it takes, and the hours it needs.

    `acres_per_hour` is at one pass; above `largest_lb_per_acre_per_pass` it goes over the ground again.
    `setup_hours` (setting, calibrating, cleaning) fall on every dressing of a plot and are never saved on.
    """

    key: str
    vehicle: Vehicle
    forms: frozenset[str]
    acres_per_hour: float
    hopper_lb: float | None = None
    setup_hours: float = 0.5
    hours_per_load: float = 0.1
    travel_mph: float = 5.0
    smallest_lb_per_acre: float = 0.0
    largest_lb_per_acre_per_pass: float | None = None
    dollars_per_hour: float = 0.0

    def __post_init__(self) -> None:
        one_of("vehicle", self.vehicle, VEHICLES)
        between("acres_per_hour", self.acres_per_hour, 0.01, 200)
        between("hopper_lb", 1.0 if self.hopper_lb is None else self.hopper_lb, 1, 100000)
        between("setup_hours", self.setup_hours, 0, 24)
        between("hours_per_load", self.hours_per_load, 0, 24)
        between("travel_mph", self.travel_mph, 0.1, 60)
        between("smallest_lb_per_acre", self.smallest_lb_per_acre, 0, 40000)
        between("dollars_per_hour", self.dollars_per_hour, 0, 10000)
        if self.largest_lb_per_acre_per_pass is not None:
            between("largest_lb_per_acre_per_pass", self.largest_lb_per_acre_per_pass, 1, 40000)
