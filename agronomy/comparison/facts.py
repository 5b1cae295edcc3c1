"""What a material comparison weighs: plots that owe lime, offers in their packages, and machines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from agronomy.lime_rate import Owed
from agronomy.liming_material import LimingMaterial

VEHICLES = ("on_foot", "side_by_side", "tractor", "lime_truck")  # lightest first
BASIS_WORDS: Mapping[str, str] = MappingProxyType(
    {"at_source": "picked up", "delivered": "delivered", "spread": "delivered and spread"}
)
BASES = ("at_source", "delivered", "spread")
PACKAGES = ("truckload", "bulk", "bag", "jug", "tote")
ALL_YEAR = frozenset(range(1, 13))
LIGHTEST: Mapping[str, str] = MappingProxyType(
    {"truckload": "lime_truck", "bulk": "tractor", "tote": "tractor", "bag": "on_foot", "jug": "on_foot"}
)
"""The lightest machine that brings and spreads a package (common practice)."""


@dataclass(frozen=True, slots=True)
class ComparedPlot:
    """One plot: what it is owed, its acres, the heaviest vehicle that reaches it and in which months (1 to 12)."""

    key: str
    acres: float
    owed: Owed
    vehicle: str
    months: frozenset[int] = ALL_YEAR
    incorporated: bool = True
    policy: str = "full"
    establishing_perennial: bool = False
    magnesium_ppm: float | None = None

    def __post_init__(self) -> None:
        if self.vehicle not in VEHICLES:
            raise ValueError(f"{self.vehicle!r} is no vehicle; allowed are {', '.join(VEHICLES)}")
        if not self.acres > 0:
            raise ValueError(f"plot {self.key}: {self.acres:g} acres are not over 0")
        if not self.months or not self.months <= ALL_YEAR:
            raise ValueError(f"plot {self.key}: months are one or more of 1 to 12")


@dataclass(frozen=True, slots=True)
class ComparedOffer:
    """One offer: dollars and pounds of one package, the fewest packages sold, and pounds already on hand."""

    key: str
    material: LimingMaterial
    basis: str
    package: str
    package_lb: Decimal
    price_per_package: Decimal
    minimum_packages: Decimal = Decimal(1)
    on_hand_lb: float = 0.0
    caustic_allowed: bool = False

    def __post_init__(self) -> None:
        for value, allowed in ((self.basis, BASES), (self.package, PACKAGES)):
            if value not in allowed:
                raise ValueError(f"{value!r} is none of {', '.join(allowed)}")
        if self.package_lb <= 0 or self.price_per_package < 0 or self.minimum_packages < 0 or self.on_hand_lb < 0:
            raise ValueError(f"offer {self.key}: a package weighs over 0 lb, and no price, minimum or stock is under 0")

    @property
    def label(self) -> str:
        """What sentences call it: the material and how it comes."""
        return f"{self.material.name} ({BASIS_WORDS[self.basis]})"

    @property
    def lightest_vehicle(self) -> str:
        """The lightest machine that brings and spreads it."""
        if self.basis == "spread":
            return "lime_truck"
        found = LIGHTEST[self.package]
        return "side_by_side" if self.material.form == "fluid" and found == "on_foot" else found


@dataclass(frozen=True, slots=True)
class ComparedSpreader:
    """One machine of the property: forms it takes (empty: any), pounds it holds, minutes a load, acres an hour."""

    key: str
    vehicle: str
    forms: tuple[str, ...] = ()
    hopper_lb: float | None = None
    minutes_per_load: float | None = None
    acres_per_hour: float | None = None
