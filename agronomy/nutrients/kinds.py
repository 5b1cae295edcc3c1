"""What goes into a plot's nutrient need and what comes out of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, get_args

from agronomy.findings import Finding, Working
from agronomy.sources import Status

Nutrient = Literal["n", "p2o5", "k2o", "mg", "s", "b", "zn", "mn", "cu"]
Use = Literal["browsed", "grain_standing", "hayed"]
Establishment = Literal["new_seeding", "established", "frost_seeded"]

NUTRIENTS: tuple[Nutrient, ...] = get_args(Nutrient)
MAIN: tuple[Nutrient, ...] = ("n", "p2o5", "k2o")
USES: tuple[Use, ...] = get_args(Use)
ESTABLISHMENTS: tuple[Establishment, ...] = get_args(Establishment)
NUTRIENT_NAMES: Mapping[Nutrient, str] = MappingProxyType(
    {
        "n": "N", "p2o5": "P2O5", "k2o": "K2O", "mg": "Mg", "s": "S", "b": "B", "zn": "Zn", "mn": "Mn", "cu": "Cu",
    }
)  # fmt: skip
READING_OF: Mapping[Nutrient, str] = MappingProxyType(
    {"p2o5": "p", "k2o": "k", "mg": "mg", "s": "s", "b": "b", "zn": "zn", "mn": "mn", "cu": "cu"}
)
"""What a soil test reports for each nutrient: the element."""

EXTRACTANT_NAMES: Mapping[str, str] = MappingProxyType(
    {
        "mehlich1": "Mehlich-1", "mehlich3": "Mehlich-3", "bray_p1": "Bray P1", "bray_p2": "Bray P2",
        "olsen": "Olsen (bicarbonate)", "ammonium_acetate": "ammonium acetate", "morgan": "Morgan",
        "modified_morgan": "modified Morgan", "lancaster": "Lancaster", "dtpa": "DTPA", "hot_water": "hot water",
        "calcium_phosphate": "calcium phosphate",
    }
)  # fmt: skip
HIGHEST_READING = 30_000.0


def extractant_name(key: str) -> str:
    """An extractant as people call it; a dash-free plain word for one that is not named."""
    return EXTRACTANT_NAMES.get(key, key.replace("_", " ") or "not named")


@dataclass(frozen=True, slots=True)
class SoilReading:
    """One nutrient as the lab reports it. Extractant and unit are part of the value.

    `nutrient` is the element (`p`, `k`, `mg`, `s`, `b`, `zn`, `mn`, `cu`, `ca`); `unit` one of ppm, mg/kg, lb/acre,
    kg/ha, mg/dm3, g/m3 or `index` (the scale of the calibration's own lab). `value` is 0 to 30,000, the detection
    limit where `below_detection`, and None where the report gives a word only: `rating`, in the lab's own words.
    """

    nutrient: str
    value: float | None
    unit: str = "ppm"
    extractant: str = ""
    below_detection: bool = False
    rating: str = ""

    def __post_init__(self) -> None:
        if self.value is None:
            if not self.rating:
                raise ValueError(f"the reading of {self.nutrient} has neither a value nor a rating")
        elif not (math.isfinite(self.value) and 0 <= self.value <= HIGHEST_READING):
            raise ValueError(f"a reading of {self.nutrient} is {self.value}, allowed 0 to {HIGHEST_READING:g}")


@dataclass(frozen=True, slots=True)
class PlantingFacts:
    """What is known of a planting beyond its crops.

    `legume_share_percent` (0 to 100) is of the stand as seen, None for the share of the seed. `yield_goal` (over 0 to
    500) is in `yield_unit` an acre. `n_chosen_lb_per_acre` (0 to 300) is the manager's own N for the season.
    """

    inoculated: bool = False
    legume_share_percent: float | None = None
    use: Use = "browsed"
    establishment: Establishment = "new_seeding"
    yield_goal: float | None = None
    yield_unit: str = ""
    n_chosen_lb_per_acre: float | None = None
    grazed: bool = False

    def __post_init__(self) -> None:
        if self.use not in USES:
            raise ValueError(f"use {self.use!r} is none of {', '.join(USES)}")
        if self.establishment not in ESTABLISHMENTS:
            raise ValueError(f"establishment {self.establishment!r} is none of {', '.join(ESTABLISHMENTS)}")
        for name, low, high in (("legume_share_percent", 0, 100), ("n_chosen_lb_per_acre", 0, 300)):
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise ValueError(f"{name} is {value}, allowed {low} to {high}")
        if self.yield_goal is not None and not 0 < self.yield_goal <= 500:
            raise ValueError(f"yield_goal is {self.yield_goal}, allowed over 0 to 500")


@dataclass(frozen=True, slots=True)
class Credit:
    """A nutrient that is there already: `reason` is `legume`, `manure`, `spread` or `starter`."""

    nutrient: Nutrient
    lb_per_acre: float
    reason: str
    source: str = ""

    def __post_init__(self) -> None:
        if self.nutrient not in NUTRIENTS:
            raise ValueError(f"nutrient {self.nutrient!r} is none of {', '.join(NUTRIENTS)}")
        if not (math.isfinite(self.lb_per_acre) and 0 <= self.lb_per_acre <= 2000):
            raise ValueError(f"a credit is {self.lb_per_acre} lb/acre, allowed 0 to 2000")


@dataclass(frozen=True, slots=True)
class LabLine:
    """The N-P2O5-K2O that the lab itself printed, lb/acre; None where it printed nothing."""

    n: float | None = None
    p2o5: float | None = None
    k2o: float | None = None
    crop: str = ""


@dataclass(frozen=True, slots=True)
class NutrientNeed:
    """What a planting needs of one nutrient, lb/acre.

    `lb_per_acre` is None where no rate can be given: a stop finding says why. `low` to `high` is the band that a
    blend may land in; `band_source` says whose band it is. `gross_lb_per_acre` is the need before credits.
    `estimate_lb_per_acre` is what a conversion between extractants would make of it: never prescribed.
    """

    nutrient: Nutrient
    lb_per_acre: float | None
    low: float | None = None
    high: float | None = None
    band_source: str = ""
    gross_lb_per_acre: float | None = None
    calibration: str = ""
    source: str = ""
    status: Status | None = None
    is_estimate: bool = False
    estimate_lb_per_acre: float | None = None
    rating: str = ""
    reading: SoilReading | None = None
    findings: tuple[Finding, ...] = ()
    working: Working = ()


@dataclass(frozen=True, slots=True)
class PlotNeed:
    """What a planting needs of every nutrient. `findings` are those of no single nutrient.

    `legume_share_percent` is the share gone by; `n_limit_lb_per_acre` protects the legumes, None without them.
    """

    n: NutrientNeed
    p2o5: NutrientNeed
    k2o: NutrientNeed
    others: Mapping[Nutrient, NutrientNeed] = field(default_factory=dict)
    legume_share_percent: float = 0.0
    n_limit_lb_per_acre: float | None = None
    findings: tuple[Finding, ...] = ()

    def of(self, nutrient: Nutrient) -> NutrientNeed | None:
        """The need of one nutrient; None where it is not asked for."""
        if nutrient in MAIN:
            return (self.n, self.p2o5, self.k2o)[MAIN.index(nutrient)]
        return self.others.get(nutrient)

    @property
    def all(self) -> tuple[NutrientNeed, ...]:
        """Every nutrient asked for, N, P2O5 and K2O first."""
        return (self.n, self.p2o5, self.k2o, *self.others.values())

    @property
    def all_findings(self) -> tuple[Finding, ...]:
        """The findings of the planting and of every nutrient."""
        found = list(self.findings)
        for need in self.all:
            found.extend(need.findings)
        return tuple(found)
