"""What a lab measures, the units it is reported in, and what is plausible.

The plausible ranges are wide guards against slips of the pen (common practice, no source), not agronomic limits.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

PPM_UNITS = ("ppm", "mg/kg", "lb/acre", "kg/ha", "mg/dm3", "g/m3", "index")


@dataclass(frozen=True, slots=True)
class Analyte:
    """One analyte: `units` as reports print them (the first is usual), `kept_in` the unit it is converted to,
    `low` to `high` what is plausible in that unit. `extracted` tells that the extractant is part of the value."""

    key: str
    name: str
    units: tuple[str, ...]
    kept_in: str
    low: Decimal
    high: Decimal
    extracted: bool = False


def _extracted(key: str, name: str, high: int) -> Analyte:
    return Analyte(key, name, PPM_UNITS, "ppm", Decimal(0), Decimal(high), extracted=True)


def _plain(key: str, name: str, units: tuple[str, ...], high: str, kept_in: str = "") -> Analyte:
    return Analyte(key, name, units, kept_in or units[0], Decimal(0), Decimal(high))


ANALYTES: Mapping[str, Analyte] = {
    analyte.key: analyte
    for analyte in (
        _extracted("p", "Phosphorus (P)", 2000),
        _extracted("k", "Potassium (K)", 5000),
        _extracted("mg", "Magnesium (Mg)", 5000),
        _extracted("ca", "Calcium (Ca)", 30000),
        _extracted("s", "Sulfur (S)", 2000),
        _extracted("b", "Boron (B)", 50),
        _extracted("zn", "Zinc (Zn)", 1000),
        _extracted("mn", "Manganese (Mn)", 2000),
        _extracted("cu", "Copper (Cu)", 500),
        _extracted("fe", "Iron (Fe)", 5000),
        _extracted("na", "Sodium (Na)", 5000),
        _plain("organic_matter", "Organic matter", ("%", "g/kg"), "100", "%"),
        _plain("cec", "Cation exchange capacity (CEC)", ("meq/100 g", "cmol/kg", "meq/100 cm3"), "200"),
        _plain("exchangeable_acidity", "Exchangeable acidity", ("meq/100 g", "cmol/kg", "meq/100 cm3"), "60"),
        _plain("lbc_30min", "Lime buffer capacity, 30 minutes", ("mg CaCO3/kg/pH",), "5000"),
        _plain("lbc_eq", "Lime buffer capacity, equilibrium", ("mg CaCO3/kg/pH",), "10000"),
        _plain("reactive_al", "Reactive aluminium", ("ppm", "mg/kg"), "2000"),
        _plain("volume_weight", "Volume weight", ("g/cm3",), "2"),
    )
}

NUTRIENTS = ("p", "k", "mg", "ca", "s", "b", "zn", "mn", "cu", "fe", "na")

# Fields of agronomy.soil.SoilFacts by analyte; see soiltests.queries.
FACT_OF_ANALYTE: Mapping[str, str] = {
    "organic_matter": "organic_matter_percent",
    "cec": "cec_meq_100g",
    "exchangeable_acidity": "exchangeable_acidity_meq_100g",
    "lbc_30min": "lbc_30min_mg_kg_ph",
    "lbc_eq": "lbc_eq_mg_kg_ph",
    "reactive_al": "reactive_al_ppm",
}

EXTRACTANTS: Mapping[str, str] = {
    "mehlich1": "Mehlich-1",
    "mehlich3": "Mehlich-3",
    "bray_p1": "Bray P1",
    "bray_p2": "Bray P2",
    "olsen": "Olsen (bicarbonate)",
    "ammonium_acetate": "ammonium acetate, exchangeable",
    "morgan": "Morgan",
    "modified_morgan": "modified Morgan",
    "lancaster": "Lancaster",
    "dtpa": "DTPA",
    "hot_water": "hot water",
    "calcium_phosphate": "calcium phosphate",
}
