"""A material is divided by a value of the requirement's own kind only: every calibration with every scheme."""

from __future__ import annotations

from dataclasses import replace

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.lime_rate import material_amount, material_rate
from agronomy.lime_requirement import calibrations, effective_lb_per_acre, requirement
from agronomy.lime_requirement.kinds import UNIT_LB_PER_ACRE
from agronomy.liming_material import LimingMaterial, effective_neutralizing_value, material_value, schemes
from agronomy.soil import SoilFacts
from tests.agronomy.lime.cases import BUFFER_OF, PELLETS, STONE, oregon, owing

TRUE_SOIL = SoilFacts(
    soil_ph=5.2, cec_meq_100g=8.0, texture="loam", exchangeable_acidity_meq_100g=5.0, lbc_eq_mg_kg_ph=400.0,
    reactive_al_ppm=60.0,
)  # fmt: skip
WITH_FACTORS = [key for key, one in schemes().items() if one.factors]
TARGET = {"reactive_aluminium_vermont": 6.5, "sikora_kentucky": 6.4, "mehlich_north_carolina": 6.2, "smp_1961": 7.0}
READING = {"adams_evans_1962": 7.7, "adams_evans_pure": 7.7, "mehlich_north_carolina": 6.2, "sikora_kentucky": 6.3}


def answer(key: str):
    reading = READING.get(key, 6.4) if key in BUFFER_OF else None
    soil = replace(TRUE_SOIL, buffer_method=BUFFER_OF.get(key), buffer_ph=reading)
    return requirement(soil, calibration=key, target_ph=TARGET.get(key, 6.5))


@pytest.mark.parametrize("key", sorted(calibrations()))
def test_every_calibration_gives_an_amount_of_its_own_reference(key: str) -> None:
    made, held = answer(key), calibrations()[key]
    assert made.amount is not None and made.amount > 0, [one.code for one in made.findings]
    assert made.low <= made.amount <= made.high
    assert (made.unit, made.depth_in, made.reference_kind) == (held.unit, held.depth_in, held.reference_kind)
    assert (made.reference_scheme, made.reference_value_percent) == (
        held.reference_scheme, held.reference_value_percent,
    )  # fmt: skip
    assert made.status == held.status and made.working


@pytest.mark.parametrize("scheme", sorted(WITH_FACTORS))
@pytest.mark.parametrize("key", sorted(calibrations()))
def test_every_calibration_with_every_scheme(key: str, scheme: str) -> None:
    """Asked by CCE, a scheme is refused; asked by a scheme, only that one's value is taken."""
    held = calibrations()[key]
    if held.reference_kind != "effective":
        with pytest.raises(ValueError, match="CCE"):
            material_value(STONE, reference_kind=held.reference_kind, reference_scheme=scheme)
        assert material_value(
            STONE, reference_kind=held.reference_kind, reference_scheme=None
        ).value_percent == pytest.approx(88 * 0.95)
    else:
        own = effective_neutralizing_value(
            scheme, passing_percent=STONE.passing_percent, cce_percent=88, moisture_percent=5, unit="%"
        )
        found = material_value(STONE, reference_kind="effective", reference_scheme=scheme)
        assert found.value_percent == pytest.approx(own.value)


@pytest.mark.parametrize("key", sorted(calibrations()))
def test_the_rate_brings_what_is_owed_and_no_more(key: str) -> None:
    made = owing(answer(key), depth_in=calibrations()[key].depth_in)
    rate = material_rate(made, material=PELLETS, incorporated=True)
    assert rate.lb_per_acre * rate.value_percent / 100 == pytest.approx(made.effective_lb_per_acre)
    assert made.effective_lb_per_acre == pytest.approx(effective_lb_per_acre(answer(key)))


@pytest.mark.parametrize("key", sorted(BUFFER_OF))
@pytest.mark.parametrize("given_buffer", ["smp", "sikora", "adams_evans", "mehlich", "modified_mehlich", "woodruff"])
def test_only_its_own_buffer_is_read(key: str, given_buffer: str) -> None:
    soil = replace(TRUE_SOIL, buffer_method=given_buffer, buffer_ph=READING.get(key, 6.4))
    made = requirement(soil, calibration=key, target_ph=TARGET.get(key, 6.5))
    assert (made.amount is not None) == (given_buffer == BUFFER_OF[key])
    if made.amount is None:
        assert any(one.severity == "stop" and one.code == "wrong_buffer" for one in made.findings)


@pytest.mark.parametrize("key", sorted(calibrations()))
@given(above=st.floats(0, 1.5))
def test_at_or_above_target_is_nothing_whatever_else_is_known(key: str, above: float) -> None:
    made = requirement(SoilFacts(soil_ph=6.5 + above, buffer_method="woodruff", buffer_ph=5.5), calibration=key,
                       target_ph=6.5)  # fmt: skip
    assert (made.amount, made.low, made.high) == (0, 0, 0)


def test_moisture_counts_once() -> None:
    """A wet stone's score counts its water; dividing by it again would ask 5 % too much."""
    dry = replace(STONE, moisture_percent=0.0)
    wet_rate = material_rate(owing(), material=STONE, incorporated=True).lb_per_acre
    assert wet_rate == pytest.approx(material_rate(owing(), material=dry, incorporated=True).lb_per_acre / 0.95)


def test_a_material_without_a_figure_is_refused_not_guessed() -> None:
    for material in (LimingMaterial("a", "No CCE", "quarry", None, STONE.passing_percent),
                     LimingMaterial("b", "No sieves", "quarry", 88.0)):  # fmt: skip
        with pytest.raises(ValueError, match="missing"):
            material_rate(owing(), material=material, incorporated=True)


ureg = pint.UnitRegistry()
ureg.define("kft2 = 1000 * foot ** 2")
PINT = {"ton/acre": "short_ton/acre", "lb/acre": "lb/acre", "lb/1000 sq ft": "lb/kft2", "t/ha": "tonne/hectare",
        "kg/ha": "kg/hectare"}  # fmt: skip


@pytest.mark.parametrize("unit", sorted(PINT))
def test_units_of_rates_by_a_general_library(unit: str) -> None:
    exact = ureg.Quantity(1, PINT[unit]).to("lb/acre").magnitude
    assert UNIT_LB_PER_ACRE[unit] == pytest.approx(exact, rel=1e-5)  # survey and international acre differ by 4e-6


def test_pounds_of_enm_are_two_and_a_half_of_effective_lime() -> None:
    """Missouri calls 800 lb ENM what is a ton of wholly effective CaCO3."""
    made = replace(oregon(), amount=800.0, unit="lb ENM/acre")
    assert effective_lb_per_acre(made) == pytest.approx(2000)


@given(st.floats(0, 40_000), st.floats(1, 200), st.floats(1, 200), st.floats(0, 60))
def test_conversion_round_trips(need: float, reference: float, value: float, moisture: float) -> None:
    there = material_amount(
        need, reference_value_percent=reference, material_value_percent=value, moisture_percent=moisture
    )
    dry = there * (100 - moisture) / 100
    back = material_amount(dry, reference_value_percent=value, material_value_percent=reference)
    assert back == pytest.approx(need, rel=1e-9, abs=1e-9)
