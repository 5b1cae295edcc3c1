"""Fertilizers and manures: grades, prices, acidity and hazards."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.acidification import material_acidity
from agronomy.fertilizer_material import (
    Fertilizer,
    acidity_per_lb_n,
    cost_per_lb_nutrient,
    grade_percent,
    hazards_of,
    hazards_of_spreading,
    material,
    material_for_nutrient,
    materials,
    nutrient_in_material,
)
from agronomy.sources import sources

GRADES = sorted({one.grade for one in materials().values()})


def test_the_table_is_sourced_and_holds_no_anhydrous_ammonia() -> None:
    assert len(materials()) >= 30
    for one in materials().values():
        assert set(one.sources.values()) <= sources().keys()
        assert "grade" in one.sources
        assert "anhydrous" not in f"{one.key} {one.name} {one.nitrogen_source}"
        assert one.n_percent < 82


@pytest.mark.parametrize("name", ["Anhydrous ammonia", "anhydrous_ammonia", "82-0-0 Anhydrous-Ammonia"])
def test_anhydrous_ammonia_is_never_taken(name: str) -> None:
    with pytest.raises(ValueError, match="licensed handling"):
        Fertilizer("own", name, n_percent=82)
    with pytest.raises(ValueError, match="licensed handling"):
        Fertilizer("own", "Gas", n_percent=82, nitrogen_source="anhydrous_ammonia")


@given(st.sampled_from(GRADES), st.sampled_from(["N", "P2O5", "K2O"]), st.floats(0.1, 500))
def test_a_rate_and_what_is_in_it_are_each_others_inverse(grade: str, nutrient: str, lb: float) -> None:
    if not grade_percent(grade, nutrient):
        with pytest.raises(ValueError, match="carries no"):
            material_for_nutrient(grade, nutrient, need_lb_per_acre=lb)
        return
    product = material_for_nutrient(grade, nutrient, need_lb_per_acre=lb)
    assert nutrient_in_material(grade, nutrient, material_lb=product) == pytest.approx(lb)


@given(st.sampled_from(GRADES), st.floats(0, 2000))
def test_the_price_of_a_pound_pays_the_ton(grade: str, price: float) -> None:
    for nutrient in ("N", "P2O5", "K2O"):
        if grade_percent(grade, nutrient):
            dollars = cost_per_lb_nutrient(grade, nutrient, price_per_ton=price)
            assert dollars * 20 * grade_percent(grade, nutrient) == pytest.approx(price)


def test_a_second_nutrient_is_credited_before_the_first_is_priced() -> None:
    alone = cost_per_lb_nutrient("18-46-0", "P2O5", price_per_ton=800)
    credited = cost_per_lb_nutrient("18-46-0", "P2O5", price_per_ton=800, credit_per_lb={"N": 0.5})
    assert alone == pytest.approx(800 / 920)
    assert credited == pytest.approx((800 - 180) / 920)


@pytest.mark.parametrize("grade", ["18-46", "a-b-c", "60-60-60", "-1-0-0", "10-10-10-10-10", ""])
def test_what_is_no_grade_is_refused(grade: str) -> None:
    with pytest.raises(ValueError, match=r"grade|percent"):
        grade_percent(grade, "N")


@pytest.mark.parametrize(
    "key", ["urea", "ammonium_nitrate", "uan_28", "potassium_nitrate", "calcium_nitrate", "sodium_nitrate"]
)
def test_acidity_by_nitrogen_agrees_with_the_table_by_material(key: str) -> None:
    by_material = material_acidity("alabama_anr_174", material=key, material_lb=100)
    assert material(key).acidity_lb_per_lb * 100 == pytest.approx(by_material, abs=2)


def test_acidity_of_sulfur_manure_and_mixed_nitrogen() -> None:
    assert material("elemental_sulfur").acidity_lb_per_lb == pytest.approx(0.9 * 3.12, abs=0.01)
    assert material("gypsum").acidity_lb_per_lb == 0
    assert material("broiler_litter").acidity_lb_per_lb == 0
    assert material("broiler_litter").acidity_is_known
    assert not material("blend_13_13_13").acidity_is_known
    assert material("blend_13_13_13").acidity_lb_per_lb == pytest.approx(0.13 * 1.8)
    sulfate, urea, nitrate = (acidity_per_lb_n(key)[0] for key in ("ammonium_sulfate", "urea", "calcium_nitrate"))
    assert sulfate > urea > 0 > nitrate


def test_half_of_the_nitrogen_in_litter_counts_this_year() -> None:
    litter = material("broiler_litter")
    assert litter.percent("n") == 3
    assert litter.available_share("n") == pytest.approx(0.015)
    assert litter.available_share("p2o5") == pytest.approx(0.03)
    assert material("urea").available_share("n") == pytest.approx(0.46)


def test_hazards_follow_the_material_and_the_place() -> None:
    def codes(key: str) -> set[str]:
        return {hazard.code for hazard in hazards_of(material(key))}

    assert "ammonium_nitrate" in codes("ammonium_nitrate")
    assert "ammonium_nitrate" not in codes("blend_13_13_13")
    assert "manure_handling" in codes("broiler_litter")
    assert "urea_and_lime_apart" in codes("uan_28")
    for key in materials():
        assert {"spills_and_wildlife", "fertilizer_dust"} <= codes(key)
    place = {hazard.code for hazard in hazards_of_spreading(near_water=True, slope=True, pto=True)}
    assert place == {"fertilizer_rules_first", "no_spreading_weather", "pto", "slope", "near_water"}


@pytest.mark.parametrize(
    ("figures", "told"),
    [
        ({"n_percent": 101}, "0 to 100"),
        ({"form": "powdered"}, "none of"),
        ({"other_percent": {"gold": 1.0}}, "gold"),
        ({"bag_lb": 0}, "1 to 5000"),
    ],
)
def test_a_product_out_of_range_is_refused(figures: dict[str, object], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        Fertilizer(**({"key": "own", "name": "Own"} | figures))  # type: ignore[arg-type]
