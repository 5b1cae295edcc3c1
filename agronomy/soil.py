"""What one soil test says, in the units the calibrations use."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

PhMethod = Literal["water_1_1", "water_1_2", "water_1_2_5", "cacl2", "kcl", "salt", "water_equivalent"]
BufferMethod = Literal["smp", "sikora", "adams_evans", "mehlich", "modified_mehlich", "woodruff"]
Texture = Literal[
    "sand", "loamy_sand", "sandy_loam", "loam", "silt_loam", "silt", "sandy_clay_loam", "clay_loam",
    "silty_clay_loam", "sandy_clay", "silty_clay", "clay", "muck",
]

PH_METHODS: tuple[PhMethod, ...] = (
    "water_1_1", "water_1_2", "water_1_2_5", "cacl2", "kcl", "salt", "water_equivalent",
)
WATER_METHODS: tuple[PhMethod, ...] = ("water_1_1", "water_1_2", "water_1_2_5", "water_equivalent")
BUFFER_METHODS: tuple[BufferMethod, ...] = (
    "smp", "sikora", "adams_evans", "mehlich", "modified_mehlich", "woodruff",
)
TEXTURES: tuple[Texture, ...] = (
    "sand", "loamy_sand", "sandy_loam", "loam", "silt_loam", "silt", "sandy_clay_loam", "clay_loam",
    "silty_clay_loam", "sandy_clay", "silty_clay", "clay", "muck",
)


@dataclass(frozen=True, slots=True)
class LabLimeLine:
    """The lime line a lab printed: `amount` in `unit`, for `target_ph` over `depth_in` inches.

    `reference_kind` says what the pounds are pounds of (`effective`, `cce` or `ordinary_stone`),
    `reference_value_percent` its value, `reference_scheme` the scheme of an effective value.
    """

    amount: float
    unit: str  # ton/acre | lb/acre | lb/1000 sq ft | t/ha | lb ENM/acre
    target_ph: float | None
    depth_in: float
    reference_kind: str
    reference_value_percent: float
    reference_scheme: str | None = None


@dataclass(frozen=True, slots=True)
class SoilFacts:
    """One soil test (or the mean of one date's tests). pH 3-10; depths in inches; None where not reported."""

    soil_ph: float | None = None
    ph_method: PhMethod = "water_1_1"
    buffer_ph: float | None = None
    buffer_method: BufferMethod | None = None
    depth_in: float = 6.0
    texture: Texture | None = None
    organic_soil: bool = False
    organic_matter_percent: float | None = None
    cec_meq_100g: float | None = None
    exchangeable_acidity_meq_100g: float | None = None
    lbc_30min_mg_kg_ph: float | None = None
    lbc_eq_mg_kg_ph: float | None = None
    reactive_al_ppm: float | None = None
    magnesium_ppm: float | None = None
    lab_line: LabLimeLine | None = None

    @property
    def is_sandy(self) -> bool:
        """Sand, loamy sand or a CEC under 5: little buffering, easily over-limed (common practice)."""
        light = self.cec_meq_100g is not None and self.cec_meq_100g < 5
        return light or self.texture in ("sand", "loamy_sand")
