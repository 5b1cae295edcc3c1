"""Every unit of the trade, converted by exact definitions.

The factors are kept as fractions, so a factor is rounded once, when it becomes a float. The pound, foot and acre
are the international ones; the US survey acre is there by its own name. A ton is 2,000 lb, a t 1,000 kg.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

FURROW_SLICE_IN = 20 / 3
"""Depth in inches of the furrow slice taken as 2,000,000 lb of soil an acre (the common convention)."""

_LB = Fraction("0.45359237")  # kg, by definition
_FT = Fraction("0.3048")  # m, by definition
_SURVEY_FT = Fraction(1200, 3937)  # m, by definition, out of use since 2023
_ACRE = 43560 * _FT**2
_GAL = 231 * (_FT / 12) ** 3
_SQ_FT = _FT**2
_HA = Fraction(10_000)
_SLICE = Fraction(2_000_000) / Fraction(20, 3) / 1_000_000  # lb/acre in one inch of depth for 1 ppm

_MASS = {
    "lb": _LB, "ton": 2000 * _LB, "oz": _LB / 16, "cwt": 100 * _LB,
    "kg": Fraction(1), "g": Fraction(1, 1000), "mg": Fraction(1, 10**6), "t": Fraction(1000),
}  # fmt: skip
_LENGTH = {
    "ft": _FT, "in": _FT / 12, "yd": 3 * _FT, "mi": 5280 * _FT,
    "m": Fraction(1), "cm": Fraction(1, 100), "mm": Fraction(1, 1000), "km": Fraction(1000),
}  # fmt: skip
_AREA = {
    "acre": _ACRE, "sq ft": _SQ_FT, "1000 sq ft": 1000 * _SQ_FT, "sq yd": 9 * _SQ_FT, "ha": _HA,
    "m2": Fraction(1), "km2": Fraction(10**6), "us survey acre": 43560 * _SURVEY_FT**2,
}  # fmt: skip
_VOLUME = {
    "gal": _GAL, "qt": _GAL / 4, "pt": _GAL / 8, "fl oz": _GAL / 128, "cu ft": _FT**3, "cu yd": 27 * _FT**3,
    "bu": Fraction("2150.42") * (_FT / 12) ** 3, "m3": Fraction(1), "L": Fraction(1, 1000), "mL": Fraction(1, 10**6),
}  # fmt: skip
_RATE = {
    "lb/acre": _LB / _ACRE, "ton/acre": 2000 * _LB / _ACRE, "lb/1000 sq ft": _LB / (1000 * _SQ_FT),
    "lb/100 sq ft": _LB / (100 * _SQ_FT), "oz/sq ft": _LB / 16 / _SQ_FT, "oz/sq yd": _LB / 16 / (9 * _SQ_FT),
    "g/sq ft": Fraction(1, 1000) / _SQ_FT, "kg/ha": 1 / _HA, "t/ha": 1000 / _HA, "g/m2": Fraction(1, 1000),
    "kg/m2": Fraction(1),
}  # fmt: skip
_SPEED = {
    "mph": 5280 * _FT / 3600, "ft/s": _FT, "ft/min": _FT / 60, "m/s": Fraction(1), "km/h": Fraction(1000, 3600),
}  # fmt: skip
_DENSITY = {
    "lb/gal": _LB / _GAL, "lb/cu ft": _LB / _FT**3, "kg/m3": Fraction(1), "kg/L": Fraction(1000),
    "g/cm3": Fraction(1000),
}  # fmt: skip
_FACTORS: Mapping[str, Mapping[str, Fraction]] = {
    "mass": _MASS, "length": _LENGTH, "area": _AREA, "volume": _VOLUME, "rate": _RATE, "speed": _SPEED,
    "density": _DENSITY,
}  # fmt: skip

_OXIDES: Mapping[str, tuple[str, int, int]] = {  # element: its oxide, atoms of the element, of oxygen
    "P": ("P2O5", 2, 5), "K": ("K2O", 2, 1), "Mg": ("MgO", 1, 1), "Ca": ("CaO", 1, 1),
}  # fmt: skip
_WEIGHTS = {
    "P": Fraction("30.973761998"), "K": Fraction("39.0983"), "Mg": Fraction("24.305"),
    "Ca": Fraction("40.078"), "Na": Fraction("22.98976928"), "Al": Fraction("26.9815384"), "H": Fraction("1.008"),
    "O": Fraction("15.999"),
}  # fmt: skip
_CHARGE = {"K": 1, "Mg": 2, "Ca": 2, "Na": 1, "Al": 3, "H": 1}

_SOIL_TEST = ("ppm", "mg/kg", "lb/acre", "kg/ha", "mg/dm3")
_OXIDE_QUANTITIES = {f"{element}_to_{oxide[0]}": element for element, oxide in _OXIDES.items()} | {
    f"{oxide[0]}_to_{element}": element for element, oxide in _OXIDES.items()
}
UNITS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {quantity: tuple(factors) for quantity, factors in _FACTORS.items()}
    | {"soil_test": _SOIL_TEST}
    | {name: (element, _OXIDES[element][0]) for name, element in _OXIDE_QUANTITIES.items()}
)
"""The units of every quantity, by the names this package uses for them."""

_SPELLINGS = {
    "lbs": "lb", "pound": "lb", "pounds": "lb", "tons": "ton", "short ton": "ton", "short tons": "ton",
    "tonne": "t", "tonnes": "t", "metric ton": "t", "metric tons": "t", "ounce": "oz", "ounces": "oz",
    "grams": "g", "gram": "g", "ac": "acre", "acres": "acre", "a": "acre", "international acre": "acre",
    "acre international": "acre",
    "survey acre": "us survey acre", "acre us survey": "us survey acre",
    "hectare": "ha", "hectares": "ha", "sqft": "sq ft", "ft2": "sq ft",
    "square feet": "sq ft", "square foot": "sq ft", "1000 ft2": "1000 sq ft", "1000 sqft": "1000 sq ft",
    "100 ft2": "100 sq ft", "sq m": "m2", "square metres": "m2", "square meters": "m2", "feet": "ft",
    "foot": "ft", "inch": "in", "inches": "in", "yards": "yd", "yard": "yd", "miles": "mi", "mile": "mi",
    "metres": "m", "meters": "m", "metre": "m", "meter": "m", "gallon": "gal", "gallons": "gal", "us gal": "gal",
    "l": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L", "ml": "mL", "ft3": "cu ft",
    "cubic feet": "cu ft", "yd3": "cu yd", "bushel": "bu", "bushels": "bu", "sec": "s", "minute": "min",
    "hour": "h", "hr": "h", "parts/million": "ppm", "mi/h": "mph", "miles/h": "mph", "cc": "cm3",
}  # fmt: skip
_EXACT_CASE = {"Mg": "t"}  # a megagram, never a milligram


def unit_name(text: str) -> str:
    """The name this package uses for a unit, from a usual spelling of it (`lbs/ac`, `ton_per_acre`, `ft²`)."""
    plain = text.strip().replace("_per_", "/").replace(" per ", "/").replace("_", " ")
    for sign, letter in (("²", "2"), ("³", "3"), ("^", ""), (",", "")):
        plain = plain.replace(sign, letter)
    parts = [" ".join(part.split()) for part in plain.split("/")]
    if len(parts) == 1 and parts[0] in _EXACT_CASE:
        return parts[0]
    named = "/".join(_EXACT_CASE.get(p) or _SPELLINGS.get(p.casefold(), p.casefold()) for p in parts)
    return _SPELLINGS.get(named, named)


def convert(
    value: float, *, quantity: str, from_unit: str, to_unit: str, depth_in: float = FURROW_SLICE_IN,
    bulk_density_g_cm3: float | None = None,
) -> float:  # fmt: skip
    """`value` of a quantity (a key of `UNITS`), converted from one unit to another.

    Depth and bulk density count for `soil_test` only: see `convert_soil_test`. An oxide quantity such as
    `P_to_P2O5` goes either way, and its units may carry a mass or a rate (`lb/acre P`). Raises `ValueError` for an
    unknown quantity or unit, naming those allowed, and for a value that is no finite number.
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} is no finite number")
    if quantity == "soil_test":
        return convert_soil_test(
            value, from_unit=from_unit, to_unit=to_unit, depth_in=depth_in, bulk_density_g_cm3=bulk_density_g_cm3
        )
    return value * _float_factor(quantity, from_unit, to_unit)


def exact_factor(quantity: str, *, from_unit: str, to_unit: str) -> Fraction:
    """The exact factor between two units of a quantity, for sums that people pay, buy or spread by."""
    if quantity in _OXIDE_QUANTITIES:
        return _oxide_quantity_factor(quantity, from_unit, to_unit)
    if quantity not in _FACTORS:
        raise ValueError(f"{quantity!r} is no quantity; allowed are {', '.join(UNITS)}")
    factors = _FACTORS[quantity]
    return factors[_known(quantity, from_unit)] / factors[_known(quantity, to_unit)]


@lru_cache(maxsize=1024)
def _float_factor(quantity: str, from_unit: str, to_unit: str) -> float:
    return float(exact_factor(quantity, from_unit=from_unit, to_unit=to_unit))


def convert_soil_test(
    value: float, *, from_unit: str, to_unit: str, depth_in: float = FURROW_SLICE_IN,
    bulk_density_g_cm3: float | None = None,
) -> float:  # fmt: skip
    """A soil-test value between ppm (= mg/kg), lb/acre, kg/ha and mg/dm3.

    lb/acre = ppm x 0.3 x depth in inches, which is twice the ppm for the furrow slice of 6 2/3 in (2,000,000 lb an
    acre): the default. A volume basis (mg/dm3) goes to an area basis by depth alone, but to a mass basis only
    with the bulk density of the ground sample. Depth must be over 0 to 40 in, bulk density over 0 to 3 g/cm3.
    """
    source, target = _known("soil_test", from_unit), _known("soil_test", to_unit)
    if not 0 < depth_in <= 40:
        raise ValueError(f"a depth of {depth_in} in is not over 0 and at most 40 in")
    if bulk_density_g_cm3 is not None and not 0 < bulk_density_g_cm3 <= 3:
        raise ValueError(f"a bulk density of {bulk_density_g_cm3} g/cm3 is not over 0 and at most 3 g/cm3")
    return value * _to_area(source, target, depth_in, bulk_density_g_cm3)


def _to_area(source: str, target: str, depth_in: float, density: float | None) -> float:
    if source == target or {source, target} == {"ppm", "mg/kg"}:
        return 1.0
    volume = "mg/dm3"
    if volume in (source, target):
        other = target if source == volume else source
        if other in ("ppm", "mg/kg"):
            if density is None:
                raise ValueError("between mg/dm3 and ppm the bulk density (g/cm3) of the sample is needed")
            return 1 / density if source == volume else density
    return _lb_per_acre(source, depth_in) / _lb_per_acre(target, depth_in)


def _lb_per_acre(unit: str, depth_in: float) -> float:
    """lb/acre for 1 of a soil-test unit in a layer of this depth."""
    if unit == "lb/acre":
        return 1.0
    if unit == "kg/ha":
        return _float_factor("rate", "kg/ha", "lb/acre")
    if unit == "mg/dm3":
        return float(_ACRE * _FT / 12 / 1000 / _LB) * depth_in
    return float(_SLICE) * depth_in


def oxide_factor(element: str) -> float:
    """Pounds of the oxide that hold one pound of the element: P (P2O5), K (K2O), Mg (MgO) or Ca (CaO)."""
    return float(_oxide_fraction(element))


def meq_100g_to_ppm(value: float, *, element: str) -> float:
    """An exchangeable cation in meq/100 g (= cmol(+)/kg) as ppm: K, Mg, Ca, Na, Al or H."""
    if element not in _CHARGE:
        raise ValueError(f"{element!r} is no exchangeable cation; allowed are {', '.join(_CHARGE)}")
    return value * float(_WEIGHTS[element] / _CHARGE[element] * 10)


def _oxide_fraction(element: str) -> Fraction:
    if element not in _OXIDES:
        raise ValueError(f"{element!r} has no oxide here; allowed are {', '.join(_OXIDES)}")
    _, atoms, oxygens = _OXIDES[element]
    held = atoms * _WEIGHTS[element]
    return (held + oxygens * _WEIGHTS["O"]) / held


def _oxide_quantity_factor(quantity: str, from_unit: str, to_unit: str) -> Fraction:
    element = _OXIDE_QUANTITIES[quantity]
    oxide = _OXIDES[element][0]
    first, last = quantity.split("_to_")
    source, source_unit = _form_and_unit(from_unit, element, oxide)
    target, target_unit = _form_and_unit(to_unit, element, oxide)
    source, target = source or first, target or last
    factor = Fraction(1)
    if source != target:
        factor = _oxide_fraction(element) if target == oxide else 1 / _oxide_fraction(element)
    return factor * _carried_factor(source_unit, target_unit)


def _form_and_unit(text: str, element: str, oxide: str) -> tuple[str, str]:
    """`lb/acre P2O5` or `lb P2O5/acre` as its form and its unit; either may be empty."""
    for form in (oxide, element):
        for part in text.replace("/", " / ").split():
            if part == form:
                rest = " ".join(word for word in text.replace("/", " / ").split() if word != form)
                return form, rest.replace(" / ", "/").strip(" /")
    return "", text.strip()


def _carried_factor(source: str, target: str) -> Fraction:
    if unit_name(source) == unit_name(target):
        return Fraction(1)
    for quantity in ("rate", "mass"):
        if unit_name(source) in UNITS[quantity] and unit_name(target) in UNITS[quantity]:
            return exact_factor(quantity, from_unit=source, to_unit=target)
    raise ValueError(f"{source!r} and {target!r} are not two units of one mass or rate")


def _known(quantity: str, unit: str) -> str:
    name = unit_name(unit)
    if name not in UNITS[quantity]:
        raise ValueError(f"{unit!r} is no unit of {quantity}; allowed are {', '.join(UNITS[quantity])}")
    return name
