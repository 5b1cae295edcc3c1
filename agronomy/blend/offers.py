"""What a blend is made of and held to: offers in their packages, and the limits of a plot."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from agronomy.fertilizer_material import Fertilizer
from agronomy.nutrients import PlotNeed

Package = Literal["bag", "bulk"]
PACKAGES: tuple[Package, ...] = get_args(Package)
RowWidth = Literal[40, 30, 20]
SEED_SALT_LB_PER_ACRE: Mapping[tuple[int, bool], float] = MappingProxyType(
    {(40, True): 6.0, (40, False): 4.0, (30, True): 8.0, (30, False): 6.0, (20, True): 12.0, (20, False): 8.0}
)
"""Most N + K2O in lb/acre in the row with the seed, by row width in inches and whether the soil is fine."""


@dataclass(frozen=True, slots=True)
class FertilizerOffer:
    """A product that can be had. `price_dollars` (0 and more) buys `package_lb` pounds; None: only what is on hand.

    Bags are bought whole; bulk by any weight, `package_lb` being what the price is for (2,000 for a ton).
    `minimum_packages` is the least that is sold. `on_hand_lb` costs nothing more.
    """

    key: str
    product: Fertilizer
    package: Package = "bag"
    package_lb: float = 50.0
    price_dollars: float | None = None
    minimum_packages: float = 0.0
    on_hand_lb: float = 0.0

    def __post_init__(self) -> None:
        if self.package not in PACKAGES:
            raise ValueError(f"offer {self.key}: package {self.package!r} is none of {', '.join(PACKAGES)}")
        _within(f"offer {self.key}: package_lb", self.package_lb, 0.1, 1e6)
        _within(f"offer {self.key}: price_dollars", self.price_dollars or 0.0, 0, 1e6)
        _within(f"offer {self.key}: minimum_packages", self.minimum_packages, 0, 1e5)
        _within(f"offer {self.key}: on_hand_lb", self.on_hand_lb, 0, 1e7)

    def __hash__(self) -> int:
        return hash(self.key)

    @property
    def is_whole(self) -> bool:
        """Whether it is handled in whole packages."""
        return self.package == "bag"

    @property
    def dollars_per_lb(self) -> float:
        """Dollars for one pound of material bought; 0 where it is not for sale."""
        return (self.price_dollars or 0.0) / self.package_lb

    def share(self, nutrient: str) -> float:
        """Pounds of a nutrient that count this year in one pound of it."""
        return self.product.available_share(nutrient)


@dataclass(frozen=True, slots=True)
class BlendLimits:
    """What a blend is held to beside the need's own bands and the limits on legumes.

    `near_water` holds phosphate to the need. `most_products` (1 to 12) is the number of products on one plot.
    `with_seed` is for fertilizer in the row with the seed, `row_width_in` 40, 30 or 20, on `fine_soil` or sand.
    `whole_bags` spreads whole bags on each plot; `part_bags` lets a bag be split where no whole number fits.
    """

    near_water: bool = False
    most_products: int | None = None
    with_seed: bool = False
    row_width_in: int = 30
    fine_soil: bool = True
    whole_bags: bool = True
    part_bags: bool = True

    def __post_init__(self) -> None:
        if self.most_products is not None and not 1 <= self.most_products <= 12:
            raise ValueError(f"most_products is {self.most_products}, allowed 1 to 12")
        if self.with_seed and self.row_width_in not in (40, 30, 20):
            raise ValueError(f"row_width_in is {self.row_width_in}, allowed 40, 30, 20")

    @property
    def seed_salt_lb_per_acre(self) -> float | None:
        """Most N + K2O in the row, lb/acre; None where the fertilizer is broadcast."""
        return SEED_SALT_LB_PER_ACRE[self.row_width_in, self.fine_soil] if self.with_seed else None


@dataclass(frozen=True, slots=True)
class BlendPlot:
    """One plot of a shared purchase: `acres` over 0 to 2,000."""

    key: str
    need: PlotNeed
    acres: float
    limits: BlendLimits = BlendLimits()

    def __post_init__(self) -> None:
        _within(f"plot {self.key}: acres", self.acres, 0.001, 2000)


def _within(name: str, value: float, low: float, high: float) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError(f"{name} is {value}, allowed {low:g} to {high:g}")
