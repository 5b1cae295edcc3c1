"""What a lab's own lime line is an amount of.

A lab prints pounds or tons of something: of pure lime, of ordinary stone, or of lime by its state's effective
value. Without knowing which, the line cannot be turned into a product.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from agronomy.soil import LabLimeLine

if TYPE_CHECKING:
    from soiltests.models import SoilTest


@dataclass(frozen=True, slots=True)
class LimeReference:
    label: str
    kind: str
    value_percent: float
    scheme: str | None = None


LAB_LIME_REFERENCES: Mapping[str, LimeReference] = {
    "cce_100": LimeReference("pure, fine lime (CCE 100)", "cce", 100),
    "ordinary_90": LimeReference("ordinary ag lime (CCE 90)", "ordinary_stone", 90),
    "oregon_lime_score": LimeReference("lime of Oregon lime score 100", "effective", 100, "oregon_lime_score"),
    "iowa_ecce": LimeReference("effective CaCO3 (Iowa ECCE 100)", "effective", 100, "iowa_ecce"),
    "kentucky_rnv": LimeReference("lime of Kentucky RNV 100", "effective", 100, "kentucky_rnv"),
    "mississippi_rnv": LimeReference("lime of Mississippi RNV 100", "effective", 100, "mississippi_rnv"),
    "ohio_enp": LimeReference("lime of ENP 2,000 lb/ton", "effective", 100, "ohio_enp"),
    "missouri_enm": LimeReference("effective neutralizing material (ENM)", "effective", 100, "missouri_enm"),
    "new_york_env": LimeReference("lime of New York ENV 100", "effective", 100, "new_york_env"),
    "kansas_ecc": LimeReference("effective CaCO3 (Kansas ECC 100)", "effective", 100, "kansas_ecc"),
    "nebraska_ecc": LimeReference("effective CaCO3 (Nebraska ECC 100)", "effective", 100, "nebraska_ecc"),
}
LAB_LIME_UNITS = ("ton/acre", "lb/acre", "lb/1000 sq ft", "t/ha", "kg/ha")
LAB_LINE_DEPTH_IN = 6.0


def lab_lime_line(test: SoilTest) -> LabLimeLine | None:
    """The line as `agronomy` takes it; None where the lab printed none or it is not said what it is an amount of."""
    reference = LAB_LIME_REFERENCES.get(test.lab_lime_reference)
    if test.lab_lime_amount is None or reference is None:
        return None
    target, depth = test.lab_lime_target_ph, test.lab_lime_depth_in
    return LabLimeLine(
        amount=float(test.lab_lime_amount),
        unit=test.lab_lime_unit,
        target_ph=None if target is None else float(target),
        depth_in=LAB_LINE_DEPTH_IN if depth is None else float(depth),
        reference_kind=reference.kind,
        reference_value_percent=reference.value_percent,
        reference_scheme=reference.scheme,
    )
