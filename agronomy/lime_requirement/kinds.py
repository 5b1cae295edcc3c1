"""What a lime requirement is, and what a calibration carries with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from agronomy.findings import Finding, Working
from agronomy.soil import BufferMethod, SoilFacts
from agronomy.sources import Status

ReferenceKind = Literal["effective", "cce", "ordinary_stone"]

UNIT_LB_PER_ACRE = {
    "ton/acre": 2000.0,
    "lb/acre": 1.0,
    "lb/1000 sq ft": 43.56,
    "t/ha": 892.1791,  # 1,000 kg / 0.45359237 over 2.4710538 acres
    "kg/ha": 0.8921791,
    "lb ENM/acre": 1.0,
}
"""Pounds per acre in one of each unit; ENM pounds are pounds of effective neutralizing material."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """One publication's way from a reading to a rate, with all that a rate must carry.

    `targets` are the target pH values it prints; empty for a formula that takes any. `valid_low` to `valid_high` is
    the range of its reading (a buffer pH, or an acidity in meq/100 g). `depth_in` inches; a publication whose rate is
    for a range of depths has its shallow end in `shallowest_in`. `depth_is_sure` is False where the publication does
    not state the depth in what was read.
    """

    key: str
    title: str
    states: tuple[str, ...]
    buffer_method: BufferMethod | None
    unit: str
    depth_in: float
    targets: tuple[float, ...]
    valid_low: float
    valid_high: float
    reference_kind: ReferenceKind
    reference_scheme: str | None
    reference_value_percent: float
    status: Status
    rate: Callable[[SoilFacts, float], Rate]
    is_estimate: bool = False
    shallowest_in: float | None = None
    depth_is_sure: bool = True

    @property
    def takes_any_target(self) -> bool:
        return not self.targets


@dataclass(frozen=True, slots=True)
class Rate:
    """What a calibration's own arithmetic gives: `amount` None with a stop, or where the reading is too weak."""

    amount: float | None
    low: float | None = None
    high: float | None = None
    range_basis: str = ""
    findings: tuple[Finding, ...] = ()
    working: Working = ()
    weakly_buffered: bool = False


@dataclass(frozen=True, slots=True)
class LimeRequirement:
    """An amount in the publication's own unit, OF a stated reference material, over a depth, for a target pH.

    `amount` is None where no rate can be given; a stop finding then says why. `low` and `high` are in the same unit;
    `range_basis` names how they were made. `reference_kind` says which value of a material it may be divided by;
    where an effective one names no `reference_scheme`, a material is valued by `own_scheme`, the property's.
    """

    amount: float | None
    unit: str
    depth_in: float
    target_ph: float
    method: str
    reference_kind: ReferenceKind
    reference_scheme: str | None
    reference_value_percent: float
    status: Status
    source: str
    low: float | None = None
    high: float | None = None
    range_basis: str = ""
    is_estimate: bool = False
    findings: tuple[Finding, ...] = ()
    working: Working = ()
    own_scheme: str | None = None
    shallowest_in: float | None = None
    depth_is_sure: bool = True

    def basis_in(self, depth_in: float) -> float:
        """The depth (inches) the amount holds for, nearest to a plot's: its own inside the publication's range."""
        return min(max(depth_in, self.shallowest_in or self.depth_in), self.depth_in)


def effective_lb_per_acre(requirement: LimeRequirement) -> float:
    """A requirement as pounds of effective CaCO3 an acre: a derived figure, used only to add plots together.

    Stone of a stated reference value counts for that share of its pounds. Raises `ValueError` without an amount.
    """
    if requirement.amount is None:
        raise ValueError("a requirement without an amount has no effective pounds")
    pounds = requirement.amount * UNIT_LB_PER_ACRE[requirement.unit]
    if requirement.unit == "lb ENM/acre":
        return pounds * ENM_LB
    return pounds * requirement.reference_value_percent / 100


ENM_LB = 2.5
"""Pounds of effective CaCO3 in 1 lb of effective neutralizing material (2,000 / 800, derived from Missouri's rule)."""
