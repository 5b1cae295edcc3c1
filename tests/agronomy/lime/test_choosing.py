"""Which source of a rate is asked first, and what is said when one cannot answer."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.lime_rate import material_rate
from agronomy.lime_requirement import (
    LimeRequirement,
    calibrations,
    choose_requirement,
    default_calibration,
    effective_lb_per_acre,
    requirement,
)
from agronomy.lime_requirement.woodruff import neutralizable_acidity
from agronomy.liming_material import LimingMaterial
from agronomy.soil import LabLimeLine, SoilFacts
from tests.agronomy.lime.cases import owing

LINE = LabLimeLine(3.0, "ton/acre", 6.4, 6.0, "effective", 100.0, "oregon_lime_score")
SOIL = SoilFacts(soil_ph=5.6, buffer_ph=6.2, buffer_method="sikora", cec_meq_100g=8.0, texture="loam")


def chosen(soil: SoilFacts, *, calibration: str | None = "sikora_oregon_2025", target: float = 6.4) -> LimeRequirement:
    return choose_requirement(soil, target_ph=target, trigger_ph=target - 0.3, calibration=calibration)


def codes(made: LimeRequirement) -> set[str]:
    return {one.code for one in made.findings}


class TestOrder:
    """Each step takes away what the step before it went by."""

    STEPS = (
        (replace(SOIL, lab_line=LINE), "lab_line"),
        (SOIL, "sikora_oregon_2025"),
        (replace(SOIL, buffer_ph=None), "cec_estimate"),
        (replace(SOIL, buffer_ph=None, cec_meq_100g=None), "texture_estimate"),
        (replace(SOIL, buffer_ph=None, cec_meq_100g=None, texture=None), "rule_of_thumb"),
    )

    @pytest.mark.parametrize(("soil", "method"), STEPS)
    def test_the_first_that_can_answer_does(self, soil: SoilFacts, method: str) -> None:
        made = chosen(soil)
        assert made.method == method
        assert made.is_estimate == (method in ("cec_estimate", "texture_estimate", "rule_of_thumb"))
        assert ("estimate_retest" in codes(made)) == made.is_estimate

    @pytest.mark.parametrize(("soil", "method"), STEPS)
    def test_at_target_none_is_asked(self, soil: SoilFacts, method: str) -> None:
        made = chosen(replace(soil, soil_ph=6.4))
        assert (made.amount, made.low, made.high) == (0, 0, 0)

    @pytest.mark.parametrize(("soil", "method"), STEPS)
    def test_every_answer_has_a_range_and_says_how_it_was_made(self, soil: SoilFacts, method: str) -> None:
        made = chosen(soil)
        assert made.amount is not None and made.low is not None and made.high is not None
        assert made.low < made.amount <= made.high
        assert made.range_basis
        assert made.working

    def test_a_line_for_another_target_is_not_the_plot_s(self) -> None:
        assert chosen(replace(SOIL, lab_line=replace(LINE, target_ph=6.8))).method == "sikora_oregon_2025"

    def test_a_cec_beyond_its_estimate_gives_way_to_texture(self) -> None:
        heavy = replace(SOIL, buffer_ph=None, cec_meq_100g=22.0)
        assert chosen(heavy).method == "texture_estimate"
        made = chosen(replace(heavy, texture=None))
        assert made.method == "cec_estimate" and "cec_beyond_estimate" in codes(made)

    def test_a_table_from_memory_never_comes_before_a_published_one(self) -> None:
        states = {state for one in calibrations().values() for state in one.states}
        rank = {"published": 0, "second-hand": 1, "derived": 2, "from memory": 3, "common practice": 4}
        for state in states:
            taken = calibrations()[default_calibration(state)]
            best = min(rank[one.status] for one in calibrations().values() if state in one.states)
            assert rank[taken.status] == best


class TestWeakAndStrong:
    @pytest.mark.parametrize(
        ("calibration", "method", "reading", "target"),
        [("sikora_oregon_2025", "sikora", 7.1, 6.4), ("smp_iowa_2002", "smp", 7.05, 6.5),
         ("mehlich_north_carolina", "mehlich", 6.6, 6.0), ("mehlich_north_carolina", "mehlich", 6.62, 6.0),
         ("adams_evans_1962", "adams_evans", 8.0, 6.5), ("adams_evans_pure", "adams_evans", 8.02, 6.5),
         ("smp_tri_state_1995", "smp", 7.0, 6.5), ("sikora_kentucky", "sikora", 7.0, 6.4)],
    )  # fmt: skip
    def test_a_weak_reading_on_acid_ground_is_an_estimate_not_nothing(
        self, calibration: str, method: str, reading: float, target: float
    ) -> None:
        soil = SoilFacts(soil_ph=5.2, buffer_ph=reading, buffer_method=method, cec_meq_100g=3.0)
        made = chosen(soil, calibration=calibration, target=target)
        assert made.method == "cec_estimate" and made.amount > 0
        assert {"weakly_buffered", "light_soil_over_liming"} <= codes(made)
        near = chosen(replace(soil, soil_ph=target - 0.2), calibration=calibration, target=target)
        assert near.amount == 0 and near.method == calibration

    def test_little_acidity_is_weakly_buffered_too(self) -> None:
        soil = SoilFacts(soil_ph=5.2, exchangeable_acidity_meq_100g=1.0, cec_meq_100g=3.0)
        made = chosen(soil, calibration="penn_state_turf", target=6.5)
        assert made.method == "cec_estimate" and "acidity_under_table" in codes(made)

    @pytest.mark.parametrize(
        ("calibration", "method", "reading", "target"),
        [("sikora_oregon_2025", "sikora", 4.79, 6.4), ("smp_iowa_2002", "smp", 5.79, 6.5),
         ("mehlich_north_carolina", "mehlich", 3.9, 6.0), ("adams_evans_1962", "adams_evans", 6.9, 6.5),
         ("smp_tri_state_1995", "smp", 5.9, 6.5), ("smp_1961", "smp", 4.7, 7.0)],
    )  # fmt: skip
    def test_a_strong_reading_gives_no_rate_and_no_estimate(
        self, calibration: str, method: str, reading: float, target: float
    ) -> None:
        soil = SoilFacts(soil_ph=4.6, buffer_ph=reading, buffer_method=method, cec_meq_100g=8.0, texture="loam")
        made = chosen(soil, calibration=calibration, target=target)
        assert made.amount is None
        assert any(one.severity == "stop" for one in made.findings)

    def test_one_calibration_alone_says_that_the_reading_is_too_weak(self) -> None:
        soil = replace(SOIL, buffer_ph=7.1)
        made = requirement(soil, calibration="sikora_oregon_2025", target_ph=6.4)
        assert made.amount is None and [one.severity for one in made.findings] == ["stop"]

    def test_inside_the_break_the_weaker_row_with_a_range_to_the_stronger(self) -> None:
        made = chosen(replace(SOIL, buffer_ph=5.75))
        assert made.amount == 4.1 and made.high >= 5.5

    def test_a_doubtful_cell_stands_as_printed_and_the_range_reaches_the_other(self) -> None:
        made = requirement(replace(SOIL, buffer_ph=5.0), calibration="sikora_oregon_2025", target_ph=6.8)
        assert made.amount == 14.0 and "cell_in_doubt" in codes(made)
        sure = requirement(replace(SOIL, buffer_ph=5.5), calibration="sikora_oregon_2025", target_ph=6.8)
        assert "cell_in_doubt" not in codes(sure)


class TestTargets:
    @pytest.mark.parametrize(
        ("calibration", "soil", "low", "target", "high"),
        [("sikora_oregon_2025", SOIL, 6.0, 6.2, 6.4),
         ("smp_tri_state_1995", replace(SOIL, buffer_method="smp"), 6.0, 6.25, 6.5),
         ("modified_mehlich_penn_state", SoilFacts(soil_ph=5.6, exchangeable_acidity_meq_100g=6.0), 6.5, 6.75, 7.0),
         ("penn_state_turf", SoilFacts(soil_ph=5.6, exchangeable_acidity_meq_100g=6.5), 6.0, 6.25, 6.5)],
    )  # fmt: skip
    def test_between_two_printed_targets_half_way_is_half_way(
        self, calibration: str, soil: SoilFacts, low: float, target: float, high: float
    ) -> None:
        first, made, last = (requirement(soil, calibration=calibration, target_ph=one) for one in (low, target, high))
        assert made.amount == pytest.approx((first.amount + last.amount) / 2)
        assert "target_between_columns" in codes(made) and "target_between_columns" not in codes(first)

    @given(st.floats(7.21, 8.0) | st.floats(4.0, 5.59))
    def test_beyond_the_printed_targets_there_is_no_rate(self, target: float) -> None:
        made = requirement(replace(SOIL, soil_ph=3.9), calibration="sikora_oregon_2025", target_ph=target)
        assert made.amount is None and "target_not_in_table" in codes(made)


class TestRuleOfThumb:
    """pH 5.2 to 6.4: 1.2 tons by the rule, at most a ton of it in one season."""

    bare = SoilFacts(soil_ph=5.2)

    def test_the_rule_itself_is_a_ton_a_point(self) -> None:
        assert requirement(self.bare, calibration="rule_of_thumb", target_ph=6.4).amount == pytest.approx(1.2)

    def test_a_season_s_prescription_stops_at_a_ton(self) -> None:
        made = chosen(self.bare, calibration=None)
        assert made.amount == 1.0
        assert {"rule_of_thumb_only", "rule_of_thumb_capped", "no_calibration_for_state"} <= codes(made)
        assert chosen(replace(self.bare, soil_ph=5.9), calibration=None).amount == pytest.approx(0.5)


class TestLabLine:
    def test_a_line_in_enm_is_pounds_of_enm(self) -> None:
        """Missouri: 1,600 lb ENM by a stone of 400 lb ENM a ton is 4 ton/acre."""
        line = LabLimeLine(1600, "lb/acre", 6.4, 6.0, "effective", 100.0, "missouri_enm")
        made = chosen(replace(SOIL, lab_line=line))
        assert made.unit == "lb ENM/acre"
        assert effective_lb_per_acre(made) == 4000
        stone = LimingMaterial("m", "Stone", "quarry", declared=(("missouri_enm", 400.0),))
        assert material_rate(owing(made), material=stone, incorporated=True).lb_per_acre == pytest.approx(8000)

    @pytest.mark.parametrize(("amount", "told"), [(2.8, False), (2.2, False), (3.6, False), (2.0, True), (4.0, True)])
    def test_a_line_far_from_our_table_is_told(self, amount: float, told: bool) -> None:
        made = chosen(replace(SOIL, lab_line=replace(LINE, amount=amount)))
        assert made.method == "lab_line" and made.amount == amount
        assert ("lab_lime_differs" in codes(made)) == told

    def test_depth_and_unit_are_evened_out_before_they_are_compared(self) -> None:
        deep = replace(LINE, amount=2.8 * 2000 * 8 / 6, unit="lb/acre", depth_in=8.0)
        assert "lab_lime_differs" not in codes(chosen(replace(SOIL, lab_line=deep)))
        assert "lab_lime_differs" in codes(chosen(replace(SOIL, lab_line=replace(deep, depth_in=4.0))))

    def test_another_kind_of_line_is_not_held_against_our_table(self) -> None:
        other = LabLimeLine(9.0, "ton/acre", 6.4, 6.0, "cce", 100.0)
        assert "lab_lime_differs" not in codes(chosen(replace(SOIL, lab_line=other)))


def test_a_woodruff_reading_is_information_and_never_a_rate() -> None:
    made = chosen(replace(SOIL, buffer_ph=6.5, buffer_method="woodruff"))
    assert made.method == "cec_estimate"
    told = next(one for one in made.findings if one.code == "woodruff_acidity")
    assert told.values["lb_per_acre"] == pytest.approx(5000) == pytest.approx(neutralizable_acidity(6.5))


@pytest.mark.parametrize(("method", "shift"), [("cacl2", (5.0 + 0.9) / 1.05), ("salt", 5.5), ("kcl", 5.5)])
def test_a_ph_in_salt_is_turned_into_water_and_said_to_be_an_estimate(method: str, shift: float) -> None:
    made = chosen(replace(SOIL, soil_ph=5.0, ph_method=method, buffer_ph=None))
    same = chosen(replace(SOIL, soil_ph=shift, buffer_ph=None))
    assert made.amount == pytest.approx(same.amount)
    assert codes(made) - codes(same) == {"ph_estimated_from_cacl2" if method == "cacl2" else "ph_estimated_from_salt"}


@pytest.mark.parametrize(
    "change",
    [{"soil_ph": 2.9}, {"soil_ph": 10.1}, {"soil_ph": float("nan")}, {"buffer_ph": 9.1}, {"cec_meq_100g": 0.0},
     {"cec_meq_100g": -4.0}, {"exchangeable_acidity_meq_100g": -1.0}, {"lbc_eq_mg_kg_ph": 0.0},
     {"reactive_al_ppm": -5.0}],
)  # fmt: skip
def test_figures_that_no_soil_has_are_refused_with_their_range(change: dict[str, float]) -> None:
    for ask in (
        lambda soil: chosen(soil), lambda soil: requirement(soil, calibration="texture_estimate", target_ph=6.4)
    ):  # fmt: skip
        with pytest.raises(ValueError, match=r"is not (over )?\d"):
            ask(replace(SOIL, **change))


@pytest.mark.parametrize("target", [3.9, 8.1, float("nan")])
def test_a_target_outside_4_to_8_is_refused(target: float) -> None:
    with pytest.raises(ValueError, match="4 to 8"):
        chosen(SOIL, target=target)
    with pytest.raises(ValueError, match="there are"):
        requirement(SOIL, calibration="smp_ruritania", target_ph=6.4)
    with pytest.raises(ValueError, match="warm_humid"):
        requirement(SOIL, calibration="texture_estimate", target_ph=6.4, region="lunar")
