"""Soils, materials and requirements that several tests of lime use."""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import strategies as st

from agronomy.lime_rate import Owed, owed
from agronomy.lime_requirement import LimeRequirement, choose_requirement
from agronomy.liming_material import LimingMaterial
from agronomy.soil import SoilFacts

SAMPLED = dt.date(2026, 3, 1)
STONE = LimingMaterial("stone", "Quarry stone", "quarry", 88.0, ((10, 95), (20, 75), (40, 60)), 5.0)
PELLETS = LimingMaterial("pellets", "Pellets", "pelletized", 90.0, ((8, 100), (20, 100), (60, 95), (100, 80)))
BUFFER_OF = {
    "sikora_oregon_2025": "sikora", "sikora_kentucky": "sikora", "smp_iowa_2002": "smp", "smp_tri_state_1995": "smp",
    "smp_1961": "smp", "adams_evans_1962": "adams_evans", "adams_evans_pure": "adams_evans",
    "mehlich_north_carolina": "mehlich",
}  # fmt: skip


def oregon(ph: float = 5.6, buffer: float = 6.2, target: float = 6.4) -> LimeRequirement:
    """A requirement by the Oregon table, 6 inches deep, of 100-score lime."""
    soil = SoilFacts(soil_ph=ph, buffer_ph=buffer, buffer_method="sikora", texture="silt_loam")
    return choose_requirement(soil, target_ph=target, trigger_ph=target - 0.3, calibration="sikora_oregon_2025")


def owing(requirement: LimeRequirement | None = None, *, depth_in: float = 6.0, **facts: Any) -> Owed:
    """What is owed of it with nothing spread, unless said otherwise."""
    asked = requirement or oregon()
    return owed(asked, **{"spread": (), "sample_date": SAMPLED, "depth_in": depth_in, **facts})


@st.composite
def sieves(draw: st.DrawFn, meshes: tuple[float, ...] = (4, 8, 10, 20, 40, 60, 100)) -> tuple[tuple[float, float], ...]:
    """A sieve analysis that never rises."""
    shares = sorted(draw(st.lists(st.floats(0, 100), min_size=len(meshes), max_size=len(meshes))), reverse=True)
    return tuple(zip(meshes, shares, strict=True))
