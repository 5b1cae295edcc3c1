"""From one extractant to another, and the figures labs make of their readings. All of it is an estimate.

A rate belongs to the extractant it was calibrated for; what is converted here is shown beside a refusal, never
prescribed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from agronomy.findings import Step
from agronomy.nutrients.kinds import extractant_name


@dataclass(frozen=True, slots=True)
class Relation:
    """One published relation between two extractants, of an element in ppm."""

    key: str
    element: str
    of: str
    to: str
    slope: float
    intercept: float
    source: str

    def convert(self, ppm: float) -> float:
        """ppm by the second extractant, never under 0."""
        return max(0.0, self.intercept + self.slope * ppm)


RELATIONS: Mapping[str, Relation] = MappingProxyType(
    {
        relation.key: relation
        for relation in (
            Relation("ohio_line", "p", "mehlich3", "bray_p1", 0.832, -8.08, "ohio_p_line"),
            Relation("ohio_indiana_p", "p", "mehlich3", "bray_p1", 1 / 1.35, 0.0, "ohio_anr_75"),
            Relation("ohio_indiana_p_back", "p", "bray_p1", "mehlich3", 1.35, 0.0, "ohio_anr_75"),
            Relation("ohio_line_back", "p", "bray_p1", "mehlich3", 1 / 0.832, 8.08 / 0.832, "ohio_p_line"),
            Relation("ohio_indiana_k", "k", "mehlich3", "ammonium_acetate", 1 / 1.14, 0.0, "ohio_anr_75"),
            Relation("ohio_indiana_k_back", "k", "ammonium_acetate", "mehlich3", 1.14, 0.0, "ohio_anr_75"),
            Relation("alaska_loess_p", "p", "bray_p1", "mehlich3", 1.12, 0.0, "alaska_conversion"),
            Relation("alaska_ash_p", "p", "bray_p1", "mehlich3", 1.66, 0.0, "alaska_conversion"),
            Relation("alaska_ca", "ca", "ammonium_acetate", "mehlich3", 1.17, 0.0, "alaska_conversion"),
        )
    }
)
_GENERAL = tuple(relation for key, relation in RELATIONS.items() if not key.startswith("alaska"))


@dataclass(frozen=True, slots=True)
class Estimate:
    """ppm by another extractant: the mean of the published relations, and their lowest and highest."""

    ppm: float
    low: float
    high: float
    working: tuple[Step, ...]


def extractant_conversion(relation: str, value: float) -> float:
    """ppm by one relation of `RELATIONS`; an estimate. `value` is 0 to 30,000 ppm."""
    if relation not in RELATIONS:
        raise ValueError(f"no relation {relation!r}; there are {', '.join(RELATIONS)}")
    _ppm(value)
    return RELATIONS[relation].convert(value)


def estimate(element: str, ppm: float, *, of: str, to: tuple[str, ...]) -> Estimate | None:
    """A reading in ppm by one of the extractants `to`, by every general relation there is; None without one.

    Volcanic and loess soils of Alaska stand apart and are left out.
    """
    _ppm(ppm)
    fitting = [r for r in _GENERAL if r.element == element and r.of == of and r.to in to]
    if not fitting:
        return None
    values = [relation.convert(ppm) for relation in fitting]
    steps = tuple(
        Step(f"{extractant_name(of)} as {extractant_name(r.to)}", f"{r.intercept:.4g} + {r.slope:.4g} x {ppm:g}",
             value, "ppm", r.source)
        for r, value in zip(fitting, values, strict=True)
    )  # fmt: skip
    return Estimate(sum(values) / len(values), min(values), max(values), steps)


def _ppm(value: float) -> None:
    if not (math.isfinite(value) and 0 <= value <= 30_000):
        raise ValueError(f"a reading of {value} ppm is not 0 to 30000")


def _new_jersey(mn_ppm: float, soil_ph: float) -> float:
    return 101.7 + 3.75 * mn_ppm - 15.2 * soil_ph


MANGANESE_INDEXES: Mapping[str, tuple[Callable[[float, float], float], str]] = MappingProxyType(
    {"new_jersey": (_new_jersey, "new_jersey_micronutrients")}
)
MANGANESE_CRITICAL, MANGANESE_HIGH = 25.0, 100.0


def manganese_index(calibration: str, *, mn_ppm: float, soil_ph: float) -> float:
    """The manganese index of a lab from Mn (Mehlich-3 ppm, 0 to 30,000) and pH in water (3 to 10)."""
    if calibration not in MANGANESE_INDEXES:
        raise ValueError(f"no manganese index {calibration!r}; there are {', '.join(MANGANESE_INDEXES)}")
    _ppm(mn_ppm)
    _ph(soil_ph)
    return MANGANESE_INDEXES[calibration][0](mn_ppm, soil_ph)


def ph_cacl2_from_water(soil_ph: float) -> float:
    """pH in 0.01 M CaCl2 from pH in water (3 to 10): 1.05 pH - 0.9, an estimate for soils without salt."""
    _ph(soil_ph)
    return 1.05 * soil_ph - 0.9


def ph_water_from_cacl2(soil_ph: float) -> float:
    """pH in water from pH in 0.01 M CaCl2 (3 to 10), the inverse of `ph_cacl2_from_water`."""
    _ph(soil_ph)
    return (soil_ph + 0.9) / 1.05


def _ph(value: float) -> None:
    if not 3 <= value <= 10:
        raise ValueError(f"a pH of {value} is not 3 to 10")
