"""Labels held to chemistry, with the arithmetic done again here by atomic weights of another library."""

from __future__ import annotations

from math import ceil

import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.chemistry import COMMON_SALTS, element_share, pure_compound_cce
from agronomy.label_check import (
    CALCITE_G_PER_CM3,
    WATER_LB_PER_GAL,
    Label,
    LabelCheck,
    check_label,
    suspension_caco3,
    suspension_density,
)

JUG = {"formula": "CaCO3", "percent": 50.0, "contents": 2.5, "unit": "gal"}


def checked(*, need: float | None = 4000.0, acres: float = 0.5, **label) -> LabelCheck:
    return check_label(Label(**{**JUG, **label}), need_lb_per_acre=need, acres=acres)


def codes(made: LabelCheck) -> set[str]:
    return {one.code for one in made.findings}


@given(st.floats(0.1, 1000), st.floats(0, 100))
def test_a_suspension_is_its_two_volumes(gallons: float, solids: float) -> None:
    """Weight of calcite plus weight of water fill the gallons."""
    lime = suspension_caco3(gallons, solids_percent=solids)
    water = gallons * suspension_density(solids) - lime
    filled = lime / (WATER_LB_PER_GAL * CALCITE_G_PER_CM3) + water / WATER_LB_PER_GAL
    assert filled == pytest.approx(gallons)


def test_no_jug_holds_more_than_a_block_of_calcite() -> None:
    assert suspension_caco3(2.5, solids_percent=100) == pytest.approx(56.5, abs=0.1)


@given(st.floats(0, 100), st.floats(0.5, 2000), st.sampled_from(["CaCO3", "Ca(OH)2", "CaO", "MgO", "K2CO3"]))
def test_the_most_that_a_dry_package_can_supply(percent: float, contents: float, formula: str) -> None:
    weights = {one: float(periodictable.formula(one).mass) for one in ("CaCO3", formula)}
    equivalents = weights["CaCO3"] / weights[formula]  # each of these takes up two acid equivalents
    made = checked(formula=formula, percent=percent, contents=contents, unit="lb")
    assert made.caco3_lb == pytest.approx(contents * percent / 100 * equivalents, rel=2e-4)


def test_what_would_really_do() -> None:
    """4,000 lb/acre on half an acre by jugs of 15.24 lb: 132 of them, $5,280."""
    made = checked(price=40.0, use_packages_per_acre=2.0)
    assert made.caco3_lb == pytest.approx(15.24, abs=0.01)
    assert made.packages_needed == ceil(2000 / made.caco3_lb) == 132
    assert made.cost_of_need == 5280
    assert made.packages_per_acre == pytest.approx(4000 / made.caco3_lb)
    assert made.recommended_share_percent == pytest.approx(100 * 2 * made.caco3_lb / 4000)
    assert "label_token_rate" in codes(made)


@given(claim=st.floats(0, 1e5), percent=st.floats(1, 100), contents=st.floats(1, 100))
def test_a_claim_over_the_ceiling_is_impossible_and_any_other_is_scored(
    claim: float, percent: float, contents: float
) -> None:
    made = checked(percent=percent, contents=contents, unit="lb", claims_lb_lime=claim)
    ceiling = contents * percent / 100
    assert made.verdict == ("impossible" if claim > ceiling else "possible")
    assert made.claim_ratio == pytest.approx(claim / ceiling, rel=1e-4)


@pytest.mark.parametrize("formula", COMMON_SALTS)
@given(claim=st.none() | st.floats(0, 1e5))
def test_a_salt_supplies_nothing_whatever_it_claims(formula: str, claim: float | None) -> None:
    made = checked(formula=formula, unit="lb", claims_lb_lime=claim, price=10.0)
    assert (made.verdict, made.caco3_lb, made.packages_needed, made.cost_of_need) == ("no_value", 0, None, None)
    assert "no_liming_anion" in codes(made)
    assert ("label_calcium_nitrate" in codes(made)) == (formula == "Ca(NO3)2")


class TestPercentOfAnElement:
    """Labels that state "calcium (Ca)": 40.04 % of calcite is calcium, 36.11 % of calcium chloride."""

    def test_the_ingredient_follows_from_its_element(self) -> None:
        assert element_share("CaCO3", "Ca") == pytest.approx(0.4004, abs=1e-4)
        made = checked(percent=20.02, percent_of="Ca", contents=100.0, unit="lb")
        assert made.caco3_lb == pytest.approx(50, abs=0.02)

    def test_more_of_the_element_than_the_pure_compound_holds_is_refused(self) -> None:
        with pytest.raises(ValueError, match="0 to 40"):
            checked(percent=41.0, percent_of="Ca", unit="lb")

    def test_an_element_that_is_not_in_it_is_refused(self) -> None:
        with pytest.raises(ValueError, match="not in CaCO3"):
            checked(percent=10.0, percent_of="Mg", unit="lb")


class TestWeightOfAGallon:
    def test_stated_or_taken_and_said_so(self) -> None:
        assert "label_density_assumed" in codes(checked())
        stated = checked(density_lb_per_gal=12.2)
        assert "label_density_assumed" not in codes(stated)
        assert stated.caco3_lb == pytest.approx(2.5 * 12.2 * 0.5)

    @pytest.mark.parametrize("density", [7.4, 31.0, float("nan")])
    def test_one_that_nothing_has_is_refused(self, density: float) -> None:
        with pytest.raises(ValueError, match=r"7\.5 to"):
            checked(density_lb_per_gal=density)

    def test_a_suspension_that_no_pump_moves_is_told(self) -> None:
        assert "label_unpumpable" in codes(checked(percent=80.0))
        assert "label_unpumpable" not in codes(checked(percent=70.0))


def test_without_a_need_there_is_only_the_ceiling() -> None:
    for need in (None, 0.0):
        made = checked(need=need, use_packages_per_acre=2.0, price=40.0)
        assert (made.packages_needed, made.cost_of_need, made.share_of_need_percent) == (None, None, None)
        assert made.recommended_share_percent is None and made.verdict == "no_claim"
    assert pure_compound_cce("CaCO3") == pytest.approx(100)


@pytest.mark.parametrize(
    ("change", "allowed"),
    [({"percent": -1.0}, "0 to 100"), ({"percent": 101.0}, "0 to 100"), ({"contents": 0.0}, "over 0"),
     ({"contents": float("nan")}, "over 0"), ({"unit": "jug"}, "lb, gal"), ({"formula": "H2O"}, "not known"),
     ({"formula": "Zz"}, "formula"), ({"acres": 0.0}, "over 0"), ({"need": -5.0}, "0 to 100,000"),
     ({"claims_lb_lime": -1.0}, "0 or more"), ({"price": -1.0}, "0 or more")],
)  # fmt: skip
def test_what_no_label_can_say_is_refused(change: dict[str, object], allowed: str) -> None:
    with pytest.raises(ValueError, match=allowed):
        checked(**change)  # type: ignore[arg-type]
