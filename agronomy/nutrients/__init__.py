"""From a lab report to the pounds of each nutrient that a planting needs.

A rate belongs to one publication and one extractant: a calibration refuses readings it was not made for, and says
why. `need` answers for a plot, `compare` shows publications side by side, `choose_calibration` says whose table a
property goes by.
"""

from __future__ import annotations

from agronomy.nutrients.calibrations import Calibration, calibration, calibrations
from agronomy.nutrients.choose import (
    FALLBACK,
    CalibrationChoice,
    calibrations_for,
    choose_calibration,
)  # fmt: skip
from agronomy.nutrients.kinds import (
    EXTRACTANT_NAMES,
    NUTRIENT_NAMES,
    NUTRIENTS,
    Credit,
    LabLine,
    Nutrient,
    NutrientNeed,
    PlantingFacts,
    PlotNeed,
    SoilReading,
    extractant_name,
)  # fmt: skip
from agronomy.nutrients.need import need
from agronomy.nutrients.ratings import Standing, compare, critical_spread, soil_test_rating

__all__ = [
    "EXTRACTANT_NAMES", "FALLBACK", "NUTRIENTS", "NUTRIENT_NAMES", "Calibration", "CalibrationChoice", "Credit",
    "LabLine", "Nutrient", "NutrientNeed", "PlantingFacts", "PlotNeed", "SoilReading", "Standing", "calibration",
    "calibrations", "calibrations_for", "choose_calibration", "compare", "critical_spread", "extractant_name", "need",
    "soil_test_rating",
]  # fmt: skip
