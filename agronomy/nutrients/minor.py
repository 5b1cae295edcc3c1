"""Magnesium, sulfur, boron, zinc, manganese and copper: asked for only where a publication and a report name them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from agronomy.crops import CropDemand
from agronomy.findings import Finding, Step, check, note
from agronomy.nutrients.conversions import MANGANESE_CRITICAL, manganese_index
from agronomy.nutrients.kinds import Credit, Nutrient, NutrientNeed, SoilReading
from agronomy.soil import SoilFacts
from agronomy.sources import source

MOST_BORON_LB_PER_ACRE = 3.0
"""Most boron a year, broadcast; only where the publication names the crop."""
BORON_ENOUGH_LB_PER_ACRE = 3.1
BORON_CROP_PERCENT = 50.0
FLAGGED = ("very low", "low", "deficient", "r", "recommended", "below critical")
MICRONUTRIENT_LB_PER_ACRE: Mapping[str, float] = {"zn": 6.0, "cu": 2.0, "mn": 10.0}
COPPER_ORGANIC_LB_PER_ACRE = 6.0
CRITICAL_PPM: Mapping[str, float] = {"zn": 1.0, "cu": 0.5}
BAND_SHARE = 0.2
"""Minor nutrients are met within a fifth of their rate (common practice, `minor_band_practice`)."""
MAGNESIUM_CRITICAL_PPM = 50.0
SULFUR_LB_PER_ACRE, SULFUR_LOW_LB_PER_ACRE = (10.0, 15.0), 40.0

_RATES = "nc_micronutrient_rates"
_CRITICAL = "new_jersey_micronutrients"


def minor_needs(
    demand: CropDemand, readings: Mapping[str, SoilReading], *, soil: SoilFacts,
    credits: Mapping[Nutrient, Sequence[Credit]],
) -> dict[Nutrient, NutrientNeed]:  # fmt: skip
    """The needs of the minor nutrients that a reading or a crop brings up; the rest are not named."""
    found: dict[Nutrient, NutrientNeed] = {}
    boron = _boron(demand, readings.get("b"))
    if boron is not None:
        found["b"] = boron
    for element in ("zn", "mn", "cu"):
        if element in readings:
            found[element] = _micronutrient(element, readings[element], soil)
    if "mg" in readings:
        found["mg"] = _magnesium(readings["mg"])
    if "s" in readings:
        found["s"] = _sulfur(readings["s"])
    for nutrient, need in found.items():
        if need.lb_per_acre and nutrient in credits:
            found[nutrient] = _less(need, credits[nutrient])
    return found


def _less(need: NutrientNeed, credits: Sequence[Credit]) -> NutrientNeed:
    left = max(0.0, (need.lb_per_acre or 0.0) - sum(credit.lb_per_acre for credit in credits))
    step = Step("Less what is there already", "", left, "lb/acre")
    return _made(need.nutrient, left, need.source, need.reading, (*need.working, step), high=need.high)


def _made(
    nutrient: Nutrient, lb: float, key: str, reading: SoilReading | None, steps: tuple[Step, ...],
    *, high: float | None = None, rating: str = "", findings: tuple[Finding, ...] = (),
) -> NutrientNeed:  # fmt: skip
    return NutrientNeed(
        nutrient, lb, low=lb * (1 - BAND_SHARE), high=lb * (1 + BAND_SHARE) if high is None else max(lb, high),
        band_source="minor_band_practice", gross_lb_per_acre=lb,
        source=key, status=source(key).status, rating=rating, reading=reading, findings=findings, working=steps,
    )  # fmt: skip


def _ppm(reading: SoilReading) -> float | None:
    """ppm of a reading on a weight basis; None for an index, a word or a volume basis."""
    if reading.value is None:
        return None
    if reading.unit in ("ppm", "mg/kg"):
        return reading.value
    return reading.value / 2 if reading.unit == "lb/acre" else None


def _boron(demand: CropDemand, reading: SoilReading | None) -> NutrientNeed | None:
    total = sum(share for _, share in demand.components)
    for crop, share in demand.components:
        if not crop.boron_lb_per_acre or share / total * 100 < BORON_CROP_PERCENT:
            continue
        key = crop.source_of("boron_lb_per_acre")
        ppm = _ppm(reading) if reading else None
        if ppm is not None and ppm * 2 >= BORON_ENOUGH_LB_PER_ACRE:
            step = Step("Boron in the soil is enough", f"{ppm * 2:g} lb/acre", 0.0, "lb/acre", "clemson_alfalfa_b")
            return _made("b", 0.0, "clemson_alfalfa_b", reading, (step,))
        step = Step(f"Boron for {crop.name}, broadcast", "", crop.boron_lb_per_acre, "lb/acre", key)
        found = check("boron_broadcast_only", source=key, lb_per_acre=crop.boron_lb_per_acre,
                      most=MOST_BORON_LB_PER_ACRE)  # fmt: skip
        return _made("b", crop.boron_lb_per_acre, key, reading, (step,), high=MOST_BORON_LB_PER_ACRE,
                     findings=(found,))  # fmt: skip
    return None


def _micronutrient(element: Nutrient, reading: SoilReading, soil: SoilFacts) -> NutrientNeed:
    flagged, steps = _flagged(element, reading, soil)
    if not flagged:
        return _made(element, 0.0, _CRITICAL, reading, steps, rating=reading.rating)
    lb = MICRONUTRIENT_LB_PER_ACRE[element]
    if element == "cu" and soil.organic_soil:
        lb = COPPER_ORGANIC_LB_PER_ACRE
    steps += (Step("Rate where a need is flagged", "", lb, "lb/acre", _RATES),)
    found = check("micronutrient_flagged", source=_RATES, nutrient=element.title(), lb_per_acre=lb)
    return _made(element, lb, _RATES, reading, steps, rating=reading.rating or "below critical", findings=(found,))


def _flagged(element: Nutrient, reading: SoilReading, soil: SoilFacts) -> tuple[bool, tuple[Step, ...]]:
    """Whether the report flags a need: by its own word, else by New Jersey's critical level for Mehlich-3."""
    if reading.rating:
        return reading.rating.strip().casefold() in FLAGGED, ()
    ppm = _ppm(reading)
    if ppm is None or reading.extractant != "mehlich3":
        return False, ()
    if element == "mn":
        if soil.soil_ph is None:
            return False, ()
        index = manganese_index("new_jersey", mn_ppm=ppm, soil_ph=soil.soil_ph)
        formula = f"101.7 + 3.75 x {ppm:g} - 15.2 x {soil.soil_ph:g}"
        return index < MANGANESE_CRITICAL, (Step("Manganese index", formula, index, "", _CRITICAL),)
    limit = CRITICAL_PPM[element]
    return ppm < limit, (Step("Critical level", f"{ppm:g} against {limit:g} ppm", None, "", _CRITICAL),)


def _magnesium(reading: SoilReading) -> NutrientNeed:
    """No rate is known: where it is low, the lime is chosen for it."""
    ppm, key = _ppm(reading), "tri_state_magnesium"
    findings: tuple[Finding, ...] = ()
    if ppm is not None and ppm < MAGNESIUM_CRITICAL_PPM:
        findings = (check("magnesium_low", source=key, ppm=ppm, critical=MAGNESIUM_CRITICAL_PPM),)
    return _unrated("mg", key, reading, findings)


def _sulfur(reading: SoilReading) -> NutrientNeed:
    """No critical level of a topsoil test is confirmed: where sulfur is low the published 10 to 15 lb are told."""
    ppm, key = _ppm(reading), "clemson_sulfur"
    findings: tuple[Finding, ...] = ()
    if ppm is not None and ppm * 2 < SULFUR_LOW_LB_PER_ACRE:
        least, most = SULFUR_LB_PER_ACRE
        findings = (
            note("sulfur_low", source=key, lb_per_acre_found=ppm * 2, low=SULFUR_LOW_LB_PER_ACRE, least=least,
                 most=most),
        )  # fmt: skip
    return _unrated("s", key, reading, findings)


def _unrated(nutrient: Nutrient, key: str, reading: SoilReading, findings: tuple[Finding, ...]) -> NutrientNeed:
    return NutrientNeed(nutrient, None, source=key, status=source(key).status, rating=reading.rating,
                        reading=reading, findings=findings)  # fmt: skip
