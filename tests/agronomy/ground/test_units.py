"""Conversions against an independent unit library, against the published figures, and there and back."""

from __future__ import annotations

import math
from fractions import Fraction

import periodictable
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.units import (
    FURROW_SLICE_IN,
    UNITS,
    convert,
    convert_soil_test,
    exact_factor,
    meq_100g_to_ppm,
    oxide_factor,
    unit_name,
)

REGISTRY = pint.UnitRegistry()
PINT = {
    "lb": "lb", "ton": "2000 lb", "oz": "oz", "cwt": "100 lb", "kg": "kg", "g": "g", "mg": "mg", "t": "tonne",
    "ft": "ft", "in": "inch", "yd": "yard", "mi": "mile", "m": "m", "cm": "cm", "mm": "mm", "km": "km",
    "acre": "43560 ft**2", "sq ft": "ft**2", "1000 sq ft": "1000 ft**2", "sq yd": "yard**2", "ha": "hectare",
    "m2": "m**2", "km2": "km**2", "us survey acre": "acre", "gal": "gallon", "qt": "quart", "pt": "pint",
    "fl oz": "fluid_ounce", "cu ft": "ft**3", "cu yd": "yard**3", "bu": "bushel", "m3": "m**3", "L": "liter",
    "mL": "milliliter", "lb/acre": "lb/(43560 ft**2)", "ton/acre": "2000 lb/(43560 ft**2)",
    "lb/1000 sq ft": "lb/(1000 ft**2)", "lb/100 sq ft": "lb/(100 ft**2)", "oz/sq ft": "oz/ft**2",
    "oz/sq yd": "oz/yard**2", "g/sq ft": "g/ft**2", "kg/ha": "kg/hectare", "t/ha": "tonne/hectare",
    "g/m2": "g/m**2", "kg/m2": "kg/m**2", "mph": "mile/hour", "ft/s": "ft/s", "ft/min": "ft/minute", "m/s": "m/s",
    "km/h": "km/hour", "lb/gal": "lb/gallon", "lb/cu ft": "lb/ft**3", "kg/m3": "kg/m**3", "kg/L": "kg/liter",
    "g/cm3": "g/cm**3",
}  # fmt: skip
DIMENSIONED = ("mass", "length", "area", "volume", "rate", "speed", "density")
AMOUNTS = st.floats(min_value=1e-6, max_value=1e9)


def pairs(*quantities: str) -> list[tuple[str, str, str]]:
    return [(q, a, b) for q in quantities for a in UNITS[q] for b in UNITS[q]]


@pytest.mark.parametrize(("quantity", "source", "target"), pairs(*DIMENSIONED))
def test_every_factor_agrees_with_an_independent_library(quantity: str, source: str, target: str) -> None:
    theirs = REGISTRY.parse_expression(PINT[source]) / REGISTRY.parse_expression(PINT[target])
    ours = convert(1, quantity=quantity, from_unit=source, to_unit=target)
    assert ours == pytest.approx(theirs.to("dimensionless").magnitude, rel=1e-9)


@given(value=AMOUNTS, pair=st.sampled_from(pairs(*UNITS)), depth=st.floats(1, 12), density=st.floats(0.5, 1.8))
def test_there_and_back_gives_the_same(value: float, pair: tuple[str, str, str], depth: float, density: float) -> None:
    quantity, source, target = pair
    ground = {"depth_in": depth, "bulk_density_g_cm3": density} if quantity == "soil_test" else {}
    there = convert(value, quantity=quantity, from_unit=source, to_unit=target, **ground)
    assert convert(there, quantity=quantity, from_unit=target, to_unit=source, **ground) == pytest.approx(value)


@given(value=AMOUNTS, depth=st.floats(1, 12))
def test_pounds_an_acre_are_three_tenths_of_the_ppm_an_inch(value: float, depth: float) -> None:
    pounds = convert_soil_test(value, from_unit="ppm", to_unit="lb/acre", depth_in=depth)
    assert pounds == pytest.approx(value * 0.3 * depth)
    by_kg = convert_soil_test(value, from_unit="mg/kg", to_unit="kg/ha", depth_in=depth)
    assert by_kg == pytest.approx(pounds * 0.45359237 / 0.40468564224)


@given(value=AMOUNTS, depth=st.floats(1, 12), density=st.floats(0.5, 1.8))
def test_a_volume_basis_is_the_mass_of_a_layer_of_soil(value: float, depth: float, density: float) -> None:
    ppm = convert_soil_test(value, from_unit="mg/dm3", to_unit="ppm", bulk_density_g_cm3=density)
    assert ppm == pytest.approx(value / density)
    layer_m3 = 4046.8564224 * depth * 0.0254
    pounds = convert_soil_test(value, from_unit="mg/dm3", to_unit="lb/acre", depth_in=depth)
    assert pounds == pytest.approx(value * layer_m3 / 1000 / 0.45359237)


def test_the_furrow_slice_is_two_million_pounds() -> None:
    assert convert_soil_test(1, from_unit="ppm", to_unit="lb/acre") == pytest.approx(2, rel=1e-15)
    assert pytest.approx(6 + 2 / 3) == FURROW_SLICE_IN
    with pytest.raises(ValueError, match="bulk density"):
        convert_soil_test(1, from_unit="mg/dm3", to_unit="ppm")


@pytest.mark.parametrize(("element", "oxide"), [("P", "P2O5"), ("K", "K2O"), ("Mg", "MgO"), ("Ca", "CaO")])
def test_oxides_by_atomic_weights_of_another_library(element: str, oxide: str) -> None:
    formula = periodictable.formula(oxide)
    share = formula.mass_fraction[periodictable.elements.symbol(element)]
    assert oxide_factor(element) == pytest.approx(1 / share, rel=1e-5)
    name = f"{element}_to_{oxide}"
    assert convert(3, quantity=name, from_unit=element, to_unit=oxide) == pytest.approx(3 / share, rel=1e-5)
    assert convert(3, quantity=name, from_unit=oxide, to_unit=element) == pytest.approx(3 * share, rel=1e-5)


def test_an_oxide_may_carry_a_mass_or_a_rate() -> None:
    plain = convert(10, quantity="P_to_P2O5", from_unit="P", to_unit="P2O5")
    assert convert(10, quantity="P_to_P2O5", from_unit="lb P", to_unit="lb P2O5") == plain
    assert convert(10, quantity="P_to_P2O5", from_unit="lb", to_unit="lb") == plain
    metric = convert(10, quantity="P_to_P2O5", from_unit="lb P/acre", to_unit="kg/ha P2O5")
    assert metric == pytest.approx(plain * convert(1, quantity="rate", from_unit="lb/acre", to_unit="kg/ha"))
    with pytest.raises(ValueError, match="not two units"):
        convert(1, quantity="P_to_P2O5", from_unit="lb P", to_unit="kg/ha P2O5")


@pytest.mark.parametrize(
    ("element", "ppm"), [("K", 390.983), ("Ca", 200.39), ("Mg", 121.525), ("Na", 229.8977), ("H", 10.08)]
)
def test_cations_by_equivalent_weight(element: str, ppm: float) -> None:
    assert meq_100g_to_ppm(1, element=element) == pytest.approx(ppm, rel=1e-5)


@pytest.mark.parametrize(
    ("spelled", "name"),
    [
        ("lbs/ac", "lb/acre"), ("ton_per_acre", "ton/acre"), ("Pounds per Acre", "lb/acre"), ("ft²", "sq ft"),
        ("lb/1,000 sq ft", "lb/1000 sq ft"), ("Mg/ha", "t/ha"), ("MG/KG", "mg/kg"), ("mg/dm^3", "mg/dm3"),
        (" tonnes / hectare", "t/ha"), ("us_survey_acre", "us survey acre"), ("litres", "L"), ("cubic feet", "cu ft"),
    ],
)  # fmt: skip
def test_usual_spellings_are_understood(spelled: str, name: str) -> None:
    assert unit_name(spelled) == name


def test_every_unit_name_names_itself() -> None:
    for quantity in (*DIMENSIONED, "soil_test"):
        assert [unit_name(unit) for unit in UNITS[quantity]] == list(UNITS[quantity])


def test_exact_factors_stay_fractions() -> None:
    assert exact_factor("area", from_unit="acre", to_unit="m2") == Fraction("4046.8564224")
    assert exact_factor("mass", from_unit="ton", to_unit="lb") == 2000
    assert exact_factor("rate", from_unit="lb/1000 sq ft", to_unit="lb/acre") == Fraction("43.56")


@pytest.mark.parametrize(
    ("quantity", "source", "target", "value", "said"),
    [
        ("weight", "lb", "kg", 1, "is no quantity; allowed are mass"),
        ("mass", "stone", "kg", 1, "no unit of mass; allowed are lb"),
        ("mass", "lb", "acre", 1, "no unit of mass"),
        ("rate", "lb", "kg/ha", 1, "no unit of rate"),
        ("soil_test", "ppb", "ppm", 1, "no unit of soil_test"),
        ("mass", "lb", "kg", math.nan, "no finite number"),
        ("soil_test", "ppm", "lb/acre", math.inf, "no finite number"),
    ],
)
def test_what_cannot_be_converted_is_refused(quantity: str, source: str, target: str, value: float, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        convert(value, quantity=quantity, from_unit=source, to_unit=target)


@pytest.mark.parametrize("depth", [0, -1, 41, math.nan])
def test_a_depth_out_of_range_is_refused(depth: float) -> None:
    with pytest.raises(ValueError, match="over 0 and at most 40 in"):
        convert_soil_test(1, from_unit="ppm", to_unit="lb/acre", depth_in=depth)


def test_unknown_elements_are_refused() -> None:
    with pytest.raises(ValueError, match="allowed are P, K, Mg, Ca"):
        oxide_factor("N")
    with pytest.raises(ValueError, match="no exchangeable cation"):
        meq_100g_to_ppm(1, element="P")
