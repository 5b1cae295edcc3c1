"""What neutralizes, by atomic weights that two general libraries give."""

from __future__ import annotations

import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula

from agronomy.chemistry import (
    ACID_TAKEN_UP,
    WITHOUT_LIMING_ANION,
    caco3_per_meq_lb_per_acre,
    caco3_per_n,
    caco3_per_s,
    mixture_cce,
    molar_mass,
    pure_compound,
    pure_compound_cce,
)

# Acid equivalents by writing out the reaction with a strong acid: CO3 + 2 H, HCO3 + H, OH + H, O + 2 H, SiO3 + 2 H.
BY_REACTION = {
    "CaCO3": 2, "MgCO3": 2, "CaMg(CO3)2": 4, "Ca(OH)2": 2, "Mg(OH)2": 2, "CaO": 2, "MgO": 2, "CaSiO3": 2,
    "MgSiO3": 2, "K2CO3": 2, "Na2CO3": 2, "KHCO3": 1, "NaHCO3": 1, "KOH": 1, "NaOH": 1,
}  # fmt: skip


def by_molmass(formula: str) -> float:
    return float(Formula(formula).mass)


def by_periodictable(formula: str) -> float:
    return float(periodictable.formula(formula).mass)


@pytest.mark.parametrize("weigh", [by_molmass, by_periodictable])
@pytest.mark.parametrize("formula", sorted(ACID_TAKEN_UP))
def test_cce_of_a_pure_compound(formula: str, weigh) -> None:
    expected = 100 * (weigh("CaCO3") / 2) / (weigh(formula) / BY_REACTION[formula])
    assert pure_compound_cce(formula) == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("formula", sorted(WITHOUT_LIMING_ANION))
def test_salts_lime_nothing_and_say_why(formula: str) -> None:
    found = pure_compound(formula)
    (why,) = found.findings
    assert found.cce_percent == 0
    assert (why.severity, why.code, why.values["anion"]) == ("stop", "no_liming_anion", WITHOUT_LIMING_ANION[formula])
    assert {"sulfate": "S", "chloride": "Cl", "nitrate": "N"}[WITHOUT_LIMING_ANION[formula]] in formula


def test_weights_of_both_libraries_agree() -> None:
    for formula in ACID_TAKEN_UP:
        assert by_molmass(formula) == pytest.approx(by_periodictable(formula), rel=1e-4)
        assert molar_mass(formula) == pytest.approx(by_periodictable(formula), rel=1e-4)


def test_acidity_that_nitrogen_and_sulfur_leave() -> None:
    calcite = by_periodictable("CaCO3")
    assert caco3_per_n() == pytest.approx(calcite / 2 / by_periodictable("N"), rel=1e-4)
    # the libraries take S as 32.06 and 32.065
    assert caco3_per_s() == pytest.approx(
        calcite / by_periodictable("S"), rel=3e-4
    )  # libraries take S as 32.06 and 32.07


@given(st.dictionaries(st.sampled_from(sorted(ACID_TAKEN_UP)), st.floats(0, 25), max_size=4))
def test_a_mixture_is_the_sum_of_its_parts_and_never_stronger_than_its_strongest(parts: dict[str, float]) -> None:
    made = mixture_cce(parts)
    assert made == pytest.approx(sum(share / 100 * pure_compound_cce(formula) for formula, share in parts.items()))
    strongest = max((pure_compound_cce(formula) for formula in parts), default=0)
    assert 0 <= made <= strongest * sum(parts.values()) / 100 + 1e-9


@pytest.mark.parametrize("formula", ["H2O", "Unobtainium", "", "CaCO", "Xy2"])
def test_a_formula_that_is_not_known_is_refused(formula: str) -> None:
    with pytest.raises(ValueError, match=r"known|formula"):
        pure_compound(formula)


@pytest.mark.parametrize("parts", [{"CaCO3": 60, "MgCO3": 41}, {"CaCO3": -1}, {"CaCO3": 101}, {"H2O": 5}])
def test_an_impossible_mixture_is_refused(parts: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"100|known"):
        mixture_cce(parts)


@given(st.floats(0, 30), st.floats(1e5, 4e6))
def test_acidity_asks_50_mg_for_each_milliequivalent_of_100_g(meq: float, soil: float) -> None:
    # 1 meq of CaCO3 weighs half its molar mass in mg, and 100 g is 100,000 mg
    exact = meq * by_periodictable("CaCO3") / 2 / 100_000 * soil
    assert caco3_per_meq_lb_per_acre(meq, soil_lb_per_acre=soil) == pytest.approx(exact, rel=1e-3)
