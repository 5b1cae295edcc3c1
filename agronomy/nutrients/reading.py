"""A lab's figure brought to the unit of a calibration, or refused with the reason.

A calibration takes its own extractant only. Between a weight and a volume basis the volume weight of the ground
sample is needed; without it the figure is an estimate and says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from agronomy.findings import Finding, Step, check, note, stop
from agronomy.nutrients.kinds import SoilReading, extractant_name
from agronomy.units import convert_soil_test

FACTORS = "nutrient_unit_factors"
ASSUMED = "volume_weight_assumed"
VOLUME_WEIGHT_G_CM3: Mapping[bool, tuple[float, float, float]] = {
    False: (1.2, 0.9, 1.4),
    True: (0.8, 0.5, 1.0),
}
"""Assumed, lowest and highest volume weight, g/cm3, of mineral (False) and organic soils. Common practice."""

_ALIKE = {"mg/kg": "ppm", "g/m3": "mg/dm3"}
_WEIGHT_UNITS = ("ppm", "lb/acre", "kg/ha")
_TO_PPM = {unit: convert_soil_test(1.0, from_unit=unit, to_unit="ppm") for unit in _WEIGHT_UNITS}
_FROM_PPM = {unit: convert_soil_test(1.0, from_unit="ppm", to_unit=unit) for unit in _WEIGHT_UNITS}
_NOTHING: tuple[Finding, ...] = ()
UNITS = (*_WEIGHT_UNITS, "mg/kg", "mg/dm3", "g/m3", "index")


@dataclass(frozen=True, slots=True)
class Scale:
    """What a rule reads: its extractants and its unit.

    `index_100_mg_dm3` is what index 100 is on a volume basis, `index_100_ppm` on a weight basis; None where the
    calibration's lab has no index.
    """

    element: str
    unit: str
    extractants: tuple[str, ...]
    index_100_mg_dm3: float | None = None
    index_100_ppm: float | None = None
    index_source: str = ""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A reading in the scale's unit. `value` None: refused. `low` and `high` span an assumed volume weight."""

    value: float | None
    low: float | None = None
    high: float | None = None
    is_estimate: bool = False
    findings: tuple[Finding, ...] = ()
    steps: tuple[Step, ...] = ()


def fit(
    reading: SoilReading | None, scale: Scale, *, nutrient: str, calibration: str,
    volume_weight_g_cm3: float | None = None, organic_soil: bool = False,
) -> Fitted:  # fmt: skip
    """The reading in the unit of `scale`; `nutrient` and `calibration` are names for the findings.

    `volume_weight_g_cm3` is 0.2 to 2, None where the report has none. Raises `ValueError` for an unknown unit.
    """
    if reading is None:
        return Fitted(None, findings=(stop("nutrient_not_tested", nutrient=nutrient),))
    refused = refusal(reading, scale, nutrient=nutrient, calibration=calibration)
    if refused is not None:
        return Fitted(None, findings=(refused,))
    assert reading.value is not None  # refused above
    value, findings = reading.value, _NOTHING
    if reading.below_detection:
        value = reading.value / 2
        findings = (note("below_detection", nutrient=nutrient, limit=reading.value, unit=reading.unit, taken=value),)
    unit = _ALIKE.get(reading.unit, reading.unit)
    if unit == scale.unit:
        return Fitted(value, value, value, findings=findings)
    return _converted(value, unit, scale, nutrient, volume_weight_g_cm3, organic_soil, findings)


def refusal(reading: SoilReading, scale: Scale, *, nutrient: str, calibration: str) -> Finding | None:
    """Why a calibration cannot take a reading; None if it can."""
    if "2O" in reading.unit or reading.nutrient in ("p2o5", "k2o"):
        return stop("reading_is_oxide", source=FACTORS, nutrient=nutrient, unit=reading.unit)
    if reading.value is None:
        return stop("reading_is_word", nutrient=nutrient, rating=reading.rating, calibration=calibration)
    unit = _ALIKE.get(reading.unit, reading.unit)
    if unit not in UNITS:
        raise ValueError(f"unit {reading.unit!r} of {nutrient} is none of {', '.join(UNITS)}")
    if unit == "index" and not _has_index(scale):
        return stop("index_of_other_lab", nutrient=nutrient, calibration=calibration, takes_unit=scale.unit)
    if reading.extractant in scale.extractants or (unit == "index" and not reading.extractant):
        return None
    takes = " or ".join(extractant_name(key) for key in scale.extractants)
    if not reading.extractant:
        return stop("extractant_unknown", nutrient=nutrient, calibration=calibration, takes=takes)
    return stop(
        "extractant_not_accepted", source="kentucky_extractants", nutrient=nutrient,
        extractant=extractant_name(reading.extractant), calibration=calibration, takes=takes,
    )  # fmt: skip


def _has_index(scale: Scale) -> bool:
    return scale.unit == "index" or scale.index_100_ppm is not None or scale.index_100_mg_dm3 is not None


def _converted(
    value: float, unit: str, scale: Scale, nutrient: str, volume_weight: float | None, organic: bool,
    findings: tuple[Finding, ...],
) -> Fitted:  # fmt: skip
    if volume_weight is not None and not 0.2 <= volume_weight <= 2:
        raise ValueError(f"the volume weight is {volume_weight} g/cm3, allowed 0.2 to 2")
    crosses = _basis(unit, scale) != _basis(scale.unit, scale)
    assumed, lowest, highest = VOLUME_WEIGHT_G_CM3[organic]
    weight = volume_weight or assumed
    result = _in_unit(value, unit, scale, weight)
    spread = (result, result)
    estimate = crosses and volume_weight is None
    if estimate:
        ends = (_in_unit(value, unit, scale, lowest), _in_unit(value, unit, scale, highest))
        spread = (min(ends), max(ends))
        findings += (
            check("index_estimated" if scale.unit == "index" else "basis_estimated", source=ASSUMED,
                  nutrient=nutrient, unit=unit, takes_unit=scale.unit, volume_weight_g_cm3=assumed,
                  value=result, low=spread[0], high=spread[1]),
        )  # fmt: skip
    steps = (_step(value, unit, scale, weight if crosses else None, result, nutrient),)
    return Fitted(result, *spread, is_estimate=estimate, findings=findings, steps=steps)


def _basis(unit: str, scale: Scale) -> str:
    if unit == "index":
        return "weight" if scale.index_100_mg_dm3 is None else "volume"
    return "volume" if unit == "mg/dm3" else "weight"


def _in_unit(value: float, unit: str, scale: Scale, volume_weight: float) -> float:
    """Through the plain figure of the unit's basis, across the bases by the volume weight, to the scale's unit."""
    if unit == "index":
        plain = value / 100 * (scale.index_100_mg_dm3 or scale.index_100_ppm or 0.0)
    else:
        plain = value if unit == "mg/dm3" else value * _TO_PPM[unit]
    if _basis(unit, scale) != _basis(scale.unit, scale):
        plain = plain * volume_weight if _basis(unit, scale) == "weight" else plain / volume_weight
    if scale.unit == "index":
        return plain / (scale.index_100_mg_dm3 or scale.index_100_ppm or 1.0) * 100
    return plain if scale.unit == "mg/dm3" else plain * _FROM_PPM[scale.unit]


def _step(
    value: float, unit: str, scale: Scale, volume_weight: float | None, result: float, nutrient: str
) -> Step:  # fmt: skip
    across = "" if volume_weight is None else f" at {volume_weight:g} g/cm3"
    source = scale.index_source if "index" in (unit, scale.unit) else FACTORS
    shown = "" if scale.unit == "index" else scale.unit
    return Step(f"{nutrient} test as {scale.unit}", f"{value:g} {unit}{across}", result, shown, source)
