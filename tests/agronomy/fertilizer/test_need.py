"""What a planting needs: readings, mixes, credits, the lab's own line, and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.crops import combine
from agronomy.findings import Finding
from agronomy.nutrients import Credit, LabLine, PlantingFacts, SoilReading, need
from agronomy.nutrients.choose import CalibrationChoice
from agronomy.nutrients.conversions import estimate, extractant_conversion
from agronomy.nutrients.kinds import PlotNeed
from agronomy.soil import SoilFacts
from tests.agronomy.fertilizer.cases import INOCULATED, index, indexes, need_of

CLOVER = combine([("white_clover", 100)])
OATS = combine([("oats", 100)])


def codes(found: PlotNeed) -> set[str]:
    return {finding.code for finding in found.all_findings}


def told(found: PlotNeed, code: str) -> Finding:
    return next(finding for finding in found.all_findings if finding.code == code)


def test_the_clover_of_the_worked_example() -> None:
    made = need(CLOVER, index(25, 50), planting=INOCULATED)
    assert made.n.lb_per_acre == 0
    assert made.p2o5.lb_per_acre == pytest.approx(88.5)
    assert made.k2o.lb_per_acre == pytest.approx(41.5)
    assert (made.p2o5.low, made.p2o5.high) == pytest.approx((78.5, 98.5))
    assert made.p2o5.band_source == "north_carolina_food_plot"
    assert made.n_limit_lb_per_acre == 25
    assert (made.p2o5.rating, made.k2o.rating) == ("low", "medium")
    assert made.p2o5.status == "published"
    assert made.p2o5.working[-1].value == pytest.approx(88.5)


def test_olsen_phosphorus_is_refused_with_the_reason_and_the_rest_still_given() -> None:
    made = need(CLOVER, [SoilReading("p", 12, "ppm", "olsen"), SoilReading("k", 50, "index", "mehlich3")])
    assert made.p2o5.lb_per_acre is None
    assert made.p2o5.low is made.p2o5.high is None
    reason = made.p2o5.findings[0]
    assert (reason.severity, reason.code) == ("stop", "extractant_not_accepted")
    assert reason.values["extractant"] == "Olsen (bicarbonate)"
    assert reason.values["takes"] == "Mehlich-3"
    assert made.k2o.lb_per_acre == pytest.approx(41.5)


def test_a_conversion_between_extractants_is_told_and_never_prescribed() -> None:
    made = need(CLOVER, [SoilReading("k", 100, "ppm", "ammonium_acetate")])
    assert made.k2o.lb_per_acre is None
    assert made.k2o.estimate_lb_per_acre is not None
    assert made.k2o.estimate_lb_per_acre > 0
    note = told(made, "estimate_by_conversion")
    assert note.severity == "note"
    assert note.values["ppm"] == pytest.approx(114)


def test_the_two_ohio_relations_are_both_shown() -> None:
    made = estimate("p", 22, of="mehlich3", to=("bray_p1",))
    assert made is not None
    assert (made.low, made.high) == pytest.approx((10.224, 16.296), abs=0.001)
    assert estimate("p", 22, of="olsen", to=("mehlich3",)) is None
    with pytest.raises(ValueError, match="no relation"):
        extractant_conversion("moon", 3)


@given(st.floats(1, 200))
def test_a_relation_and_its_inverse_agree(ppm: float) -> None:
    there = extractant_conversion("ohio_line_back", ppm)
    assert extractant_conversion("ohio_line", there) == pytest.approx(ppm)


def test_an_index_from_ppm_is_exact_with_a_volume_weight_and_an_estimate_without() -> None:
    reading = [SoilReading("p", 30, "ppm", "mehlich3")]
    exact = need(CLOVER, reading, volume_weight_g_cm3=1.0).p2o5
    assert exact.lb_per_acre == pytest.approx(88.5)  # 30 mg/dm3 is index 25
    assert not exact.is_estimate
    guessed = need(CLOVER, reading).p2o5
    assert guessed.is_estimate
    assert guessed.lb_per_acre is not None
    finding = guessed.findings[0]
    assert finding.code == "index_estimated"
    assert finding.values["low"] < finding.values["value"] < finding.values["high"]  # type: ignore[operator]


@pytest.mark.parametrize(
    ("value", "unit"), [(25, "index"), (30, "mg/dm3"), (30, "g/m3"), (60, "lb/acre"), (30, "mg/kg")]
)
def test_one_soil_in_every_unit_gives_one_rate(value: float, unit: str) -> None:
    made = need(CLOVER, [SoilReading("p", value, unit, "mehlich3")], volume_weight_g_cm3=1.0)
    assert made.p2o5.lb_per_acre == pytest.approx(88.5)


@pytest.mark.parametrize(
    ("reading", "code"),
    [
        (SoilReading("p", 30, "lb/acre P2O5", "mehlich3"), "reading_is_oxide"),
        (SoilReading("p2o5", 30, "ppm", "mehlich3"), "reading_is_oxide"),
        (SoilReading("p", 30, "ppm", ""), "extractant_unknown"),
        (SoilReading("p", None, rating="Medium"), "reading_is_word"),
    ],
)
def test_a_reading_that_says_too_little_is_refused(reading: SoilReading, code: str) -> None:
    made = need(CLOVER, [reading])
    assert made.p2o5.lb_per_acre is None
    assert made.p2o5.findings[0].code == code


def test_another_labs_index_is_refused() -> None:
    made = need(combine([("red_clover", 100)]), [SoilReading("p", 30, "index", "bray_p1")],
                calibration="minnesota_red_clover")  # fmt: skip
    assert made.p2o5.findings[0].code == "index_of_other_lab"


def test_half_of_the_detection_limit_is_taken() -> None:
    below = need(CLOVER, [SoilReading("p", 20, "index", "mehlich3", below_detection=True)]).p2o5
    assert below.lb_per_acre == need(CLOVER, [SoilReading("p", 10, "index", "mehlich3")]).p2o5.lb_per_acre
    assert "below_detection" in {finding.code for finding in below.findings}


def test_what_was_not_tested_is_told_nutrient_by_nutrient() -> None:
    made = need(OATS, [])
    assert [made.p2o5.findings[0].values["nutrient"], made.k2o.findings[0].values["nutrient"]] == ["P2O5", "K2O"]
    assert made.n.lb_per_acre == 60


@given(indexes, st.floats(0, 200), st.floats(0, 200))
def test_credits_are_taken_off_and_never_below_nothing(p: float, one: float, other: float) -> None:
    credits = [Credit("p2o5", one, "spread"), Credit("p2o5", other, "manure")]
    made = need(OATS, index(p, 50), credits=credits).p2o5
    assert made.gross_lb_per_acre is not None
    assert made.lb_per_acre == pytest.approx(max(0.0, made.gross_lb_per_acre - one - other))
    assert made.lb_per_acre is not None
    assert made.low == pytest.approx(max(0.0, made.lb_per_acre - 10))


def test_the_labs_own_line_stands_beside_ours() -> None:
    near = need(OATS, index(25, 50), lab_line=LabLine(n=55, p2o5=95, k2o=40))
    assert "lab_line_differs" not in codes(near)
    far = need(OATS, index(25, 50), lab_line=LabLine(p2o5=40, crop="small grain"))
    finding = told(far, "lab_line_differs")
    assert (finding.values["ours"], finding.values["lab"], finding.values["lab_crop"]) == (88.5, 40, "small grain")


def test_a_mix_takes_the_highest_of_its_crops_rates() -> None:
    mix = combine([("corn", 60), ("soybean", 40)])
    readings = [SoilReading("p", 30, "ppm", "mehlich3"), SoilReading("k", 140, "ppm", "mehlich3")]
    planting = PlantingFacts(inoculated=True, use="hayed", yield_goal=60)
    made = need(mix, readings, calibration="tri_state_2020", planting=planting, soil=SoilFacts(cec_meq_100g=8))
    assert made.p2o5.lb_per_acre == pytest.approx(60 * 0.79)
    assert made.k2o.lb_per_acre == pytest.approx(60 * 1.14 + 20)
    assert "mix_takes_highest" in codes(made)


def test_a_browsed_plot_counts_a_part_of_the_removal() -> None:
    corn, readings = combine([("corn", 100)]), [SoilReading("p", 30, "ppm", "mehlich3")]
    asked = {"calibration": "tri_state_2020", "soil": SoilFacts(cec_meq_100g=8)}
    hayed = need(corn, readings, planting=PlantingFacts(use="hayed", yield_goal=100), **asked).p2o5  # type: ignore[arg-type]
    browsed = need(corn, readings, planting=PlantingFacts(yield_goal=100), **asked).p2o5  # type: ignore[arg-type]
    assert hayed.lb_per_acre == pytest.approx(35)
    assert browsed.lb_per_acre == pytest.approx(35 * 0.35)
    finding = next(found for found in browsed.findings if found.code == "removal_of_browsed_plot")
    assert (finding.values["low"], finding.values["high"]) == pytest.approx((7.0, 17.5))


def test_potash_by_cec_needs_the_cec_and_a_yield_its_unit() -> None:
    corn, readings = combine([("corn", 100)]), [SoilReading("k", 90, "ppm", "mehlich3")]
    assert need(corn, readings, calibration="tri_state_2020").k2o.findings[0].code == "cec_needed"
    wrong = PlantingFacts(yield_goal=4, yield_unit="ton")
    made = need(corn, readings, calibration="tri_state_2020", planting=wrong, soil=SoilFacts(cec_meq_100g=8))
    assert made.k2o.findings[0].code == "yield_unit_differs"
    usual = need(corn, readings, calibration="tri_state_2020", soil=SoilFacts(cec_meq_100g=8))
    assert "yield_assumed" in codes(usual)


def test_single_nutrients_may_go_by_another_publication() -> None:
    choice = CalibrationChoice("north_carolina_food_plot", per_nutrient={"k2o": "tri_state_2020"})
    readings = [SoilReading("p", 25, "index", "mehlich3"), SoilReading("k", 150, "ppm", "mehlich3")]
    planting = PlantingFacts(use="hayed", yield_goal=150)
    made = need(combine([("corn", 100)]), readings, calibration=choice, planting=planting,
                soil=SoilFacts(cec_meq_100g=10))  # fmt: skip
    assert (made.p2o5.calibration, made.k2o.calibration) == ("north_carolina_food_plot", "tri_state_2020")
    assert made.k2o.lb_per_acre == pytest.approx(50)


def test_minor_nutrients_are_named_only_where_a_report_or_a_crop_asks() -> None:
    assert not need_of("oats").others
    readings = [
        SoilReading("zn", 0.6, "ppm", "mehlich3"), SoilReading("cu", 0.6, "ppm", "mehlich3"),
        SoilReading("mn", 3, "ppm", "mehlich3"), SoilReading("mg", 40, "ppm", "mehlich3"),
        SoilReading("s", 8, "ppm", "mehlich3"),
    ]  # fmt: skip
    made = need(OATS, readings, soil=SoilFacts(soil_ph=6.6))
    assert made.others["zn"].lb_per_acre == 6
    assert made.others["cu"].lb_per_acre == 0
    assert made.others["mn"].lb_per_acre == 10  # index 101.7 + 11.25 - 100.3 = 12.6, under 25
    assert made.others["mg"].lb_per_acre is None
    assert {"micronutrient_flagged", "magnesium_low", "sulfur_low"} <= codes(made)
    organic = need(OATS, [SoilReading("cu", None, rating="Low")], soil=SoilFacts(organic_soil=True))
    assert organic.others["cu"].lb_per_acre == 6


def test_boron_is_for_the_crops_a_publication_names() -> None:
    alfalfa = need_of("alfalfa")
    assert alfalfa.others["b"].lb_per_acre == 2
    assert alfalfa.others["b"].high == 3
    assert "b" not in need_of("white_clover").others
    enough = need(combine([("alfalfa", 100)]), [SoilReading("b", 1.6, "ppm", "hot_water")])
    assert enough.others["b"].lb_per_acre == 0
    few = need(combine([("orchardgrass", 70), ("alfalfa", 30)]), [])
    assert "b" not in few.others


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: need(OATS, [SoilReading("p", 3), SoilReading("p", 4)]), "once"),
        (lambda: need(OATS, [SoilReading("p", 3, "furlong", "mehlich3")]), "none of"),
        (lambda: need(OATS, [SoilReading("p", 3, "ppm", "mehlich3")], volume_weight_g_cm3=9), "0.2 to 2"),
        (lambda: need(OATS, [], calibration="nowhere"), "no fertilizer calibration"),
        (lambda: SoilReading("p", -1), "0 to 30000"),
        (lambda: SoilReading("p", None), "neither"),
        (lambda: PlantingFacts(legume_share_percent=101), "0 to 100"),
        (lambda: PlantingFacts(use="danced_on"), "none of"),  # type: ignore[arg-type]
        (lambda: PlantingFacts(yield_goal=0), "over 0"),
        (lambda: Credit("p2o5", -1, "spread"), "0 to 2000"),
        (lambda: Credit("gold", 1, "spread"), "none of"),  # type: ignore[arg-type]
    ],
)
def test_input_out_of_range_is_refused_by_name(call: object, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()  # type: ignore[operator]
