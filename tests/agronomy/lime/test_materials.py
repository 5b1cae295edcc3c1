"""What a material is worth: one kind of value for one kind of requirement, and no figure that cannot be."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.chemistry import pure_compound_cce
from agronomy.lime_rate import material_rate
from agronomy.lime_requirement import calibrations, requirement
from agronomy.liming_material import (
    DEFAULT_SCHEME,
    FORMS,
    SCHEMES,
    LimingMaterial,
    check_pairing,
    checked_cce,
    checked_sieves,
    default_scheme,
    fineness_factor,
    magnesium_advice,
    material_value,
    most_cce_percent,
    opening_um,
    passing_at,
    scheme,
    schemes,
    sieve_classes,
    values_by_scheme,
)
from agronomy.soil import SoilFacts
from tests.agronomy.lime.cases import PELLETS, STONE, owing, sieves

PAIRS = [
    (one.reference_kind, one.reference_scheme, kind, key)
    for one in calibrations().values()
    for kind, key in (("cce", None), *(("effective", key) for key in SCHEMES))
]
JUG = LimingMaterial("jug", "Suspension", "fluid", 98.0, solids_percent=50.0, density_lb_per_gal=12.2)


def fits(kind: str, own: str | None, value_kind: str, value_scheme: str | None) -> bool:
    """The rule in one line: CCE for stone and CCE, else an effective value of the same scheme or of any."""
    return value_kind == "cce" if kind != "effective" else value_kind == "effective" and own in (None, value_scheme)


@pytest.mark.parametrize(("kind", "own", "value_kind", "value_scheme"), sorted(set(PAIRS), key=str))
def test_every_calibration_s_reference_with_every_kind_of_value(
    kind: str, own: str | None, value_kind: str, value_scheme: str | None
) -> None:
    asked = {"reference_kind": kind, "reference_scheme": own, "value_kind": value_kind, "value_scheme": value_scheme}
    if fits(kind, own, value_kind, value_scheme):
        check_pairing(**asked)
    else:
        with pytest.raises(ValueError, match="takes"):
            check_pairing(**asked)


@given(key=st.sampled_from(sorted(calibrations())), stated=st.sampled_from(SCHEMES), value=st.floats(20, 95))
def test_a_label_of_another_state_is_never_divided_in(key: str, stated: str, value: float) -> None:
    """A product that states one scheme only, and no CCE, serves requirements of that scheme or of none."""
    held, found = calibrations()[key], scheme(stated)
    label = value / 100 * found.per_ton if found.per_ton else value
    product = LimingMaterial("p", "Product", "quarry", declared=((stated, label),))
    asked = {"reference_kind": held.reference_kind, "reference_scheme": held.reference_scheme}
    if fits(held.reference_kind, held.reference_scheme, "effective", stated):
        assert material_value(product, **asked).value_percent == pytest.approx(value)
    else:
        with pytest.raises(ValueError, match="missing"):
            material_value(product, **asked)


def test_adams_evans_in_print_is_a_rate_of_stone_two_thirds_effective() -> None:
    """The 1.5 is for the grind: a stone of 66.7 takes the printed pounds, and both forms agree."""
    soil = SoilFacts(soil_ph=5.0, buffer_ph=7.7, buffer_method="adams_evans")
    stone = LimingMaterial("s", "Stone", "quarry", declared=((DEFAULT_SCHEME, 66.7),))
    rates = [
        material_rate(owing(requirement(soil, calibration=key, target_ph=6.5), depth_in=6.667), material=stone,
                      incorporated=True).lb_per_acre
        for key in ("adams_evans_1962", "adams_evans_pure")
    ]  # fmt: skip
    assert rates[0] == pytest.approx(2276, abs=5)
    assert rates[1] == pytest.approx(rates[0], rel=1e-3)


class TestAnyScheme:
    """Where the method names no scheme: the property's own, else the label's, else a published one; always said."""

    ask = {"reference_kind": "effective", "reference_scheme": None}

    def test_the_property_s_own_scheme_comes_first(self) -> None:
        made = material_value(STONE, **self.ask, own_scheme="oregon_lime_score")
        assert made.value_percent == pytest.approx(62.7)
        assert "effective_by_scheme" not in {one.code for one in made.findings}

    def test_a_label_serves_where_there_are_no_sieves(self) -> None:
        labelled = LimingMaterial("p", "Pellets", "pelletized", declared=(("iowa_ecce", 89.0),))
        made = material_value(labelled, **self.ask, own_scheme="oregon_lime_score")
        assert made.value_percent == 89
        assert [one.values["scheme"] for one in made.findings if one.code == "effective_by_scheme"] == ["Iowa ECCE"]

    def test_else_a_published_scheme(self) -> None:
        assert scheme(DEFAULT_SCHEME).status == "published"
        made = material_value(STONE, **self.ask)
        told = [one.values["scheme"] for one in made.findings if one.code == "effective_by_scheme"]
        assert told == [scheme(DEFAULT_SCHEME).name]

    def test_a_scheme_whose_factors_are_not_held_falls_back_and_says_so(self) -> None:
        made = material_value(STONE, **self.ask, own_scheme="tennessee_rnv")
        assert made.value_percent == material_value(STONE, **self.ask).value_percent
        with pytest.raises(ValueError, match="not known"):
            fineness_factor("tennessee_rnv", passing_percent=STONE.passing_percent)

    def test_nothing_to_go_by_is_refused(self) -> None:
        with pytest.raises(ValueError, match="missing"):
            material_value(LimingMaterial("x", "Stone", "quarry", 90.0), **self.ask)


class TestSuspension:
    def test_solids_are_the_dry_matter_of_a_suspension(self) -> None:
        """98 % CCE of half the weight: 49 %, all of it finer than any sieve."""
        by_cce = material_value(JUG, reference_kind="cce", reference_scheme=None)
        by_score = material_value(JUG, reference_kind="effective", reference_scheme="oregon_lime_score")
        assert by_cce.value_percent == pytest.approx(49) == pytest.approx(by_score.value_percent)
        assert "taken_as_fine" in {one.code for one in by_score.findings}
        assert sieve_classes(JUG)[0] == ("finer_than_60", 1.0)

    @pytest.mark.parametrize("solids", [0, 101, -1])
    def test_impossible_solids_are_refused(self, solids: float) -> None:
        with pytest.raises(ValueError, match="0 to 100"):
            material_value(replace(JUG, solids_percent=solids), reference_kind="cce", reference_scheme=None)


class TestFineGrade:
    @pytest.mark.parametrize(
        ("passing", "code"),
        [(((20, 95), (60, 60), (100, 50)), None), (((20, 94), (60, 60), (100, 50)), "stone_not_fine"),
         (((20, 95), (60, 60), (100, 49)), "stone_not_fine"), ((), "stone_grade_unknown")],
    )  # fmt: skip
    def test_a_rate_in_cce_is_one_of_fine_stone(self, passing, code: str | None) -> None:
        stone = replace(STONE, passing_percent=passing)
        found = material_value(stone, reference_kind="cce", reference_scheme=None).findings
        assert [one.code for one in found] == ([code] if code else [])
        assert material_value(stone, reference_kind="ordinary_stone", reference_scheme=None).findings == ()


class TestWhatCannotBe:
    @pytest.mark.parametrize(
        ("form", "strongest"),
        [("quarry", "CaMg(CO3)2"), ("pelletized", "CaMg(CO3)2"), ("dolomitic", "CaMg(CO3)2"), ("marl", "CaMg(CO3)2"),
         ("hydrated", "Mg(OH)2"), ("burnt", "MgO")],
    )  # fmt: skip
    def test_no_stone_is_stronger_than_its_strongest_compound(self, form: str, strongest: str) -> None:
        limit = pure_compound_cce(strongest)
        assert checked_cce(limit, form=form) == limit
        with pytest.raises(ValueError, match="0 to"):
            checked_cce(limit + 1, form=form)
        assert all(most_cce_percent(one) <= 250 for one in FORMS)

    @pytest.mark.parametrize("cce", [-0.1, 250.1, float("nan")])
    def test_a_cce_outside_any_base_is_refused(self, cce: float) -> None:
        with pytest.raises(ValueError, match="0 to 250"):
            checked_cce(cce)

    @pytest.mark.parametrize("moisture", [-1, 100, 130, float("nan")])
    def test_moisture_is_0_to_under_100(self, moisture: float) -> None:
        wet = replace(STONE, moisture_percent=moisture)
        for kind, key in (("cce", None), ("effective", "oregon_lime_score")):
            with pytest.raises(ValueError, match="0 to"):
                material_value(wet, reference_kind=kind, reference_scheme=key)

    @pytest.mark.parametrize(
        "passing",
        [((8, 90), (60, 91)), ((8, 101),), ((8, -1),), ((8, 90), (8, 80)), ((2, 100),), ((400, 10),),
         ((8, float("nan")),)],
    )  # fmt: skip
    def test_impossible_sieves_are_refused_with_what_is_allowed(self, passing) -> None:
        with pytest.raises(ValueError, match=r"0 to|4 to 200|once"):
            checked_sieves(passing)

    @pytest.mark.parametrize(("declared", "limit"), [(("iowa_ecce", 251.0), "250"), (("ohio_enp", 5001.0), "5000")])
    def test_an_impossible_label_value_is_refused(self, declared: tuple[str, float], limit: str) -> None:
        product = LimingMaterial("p", "Product", "quarry", declared=(declared,))
        with pytest.raises(ValueError, match=limit):
            material_value(product, reference_kind="effective", reference_scheme=declared[0])


class TestSieves:
    @given(sieves(), st.floats(4, 200))
    def test_what_passes_lies_between_the_sieves_next_to_it(self, passing, mesh: float) -> None:
        found, inferred = passing_at(passing, mesh)
        coarser = [share for one, share in passing if one <= mesh] or [100.0]
        finer = [share for one, share in passing if one >= mesh] or [0.0]
        assert finer[0] - 1e-9 <= found <= coarser[-1] + 1e-9
        assert inferred == (mesh not in {one for one, _ in passing})

    def test_half_way_on_the_logarithm_is_half_way(self) -> None:
        """Openings of 2,360 and 600 micrometres have their geometric mean at 1,190, which is 16 mesh within 1 %."""
        assert passing_at(((8, 90), (30, 50)), 16)[0] == pytest.approx(70, abs=0.4)

    @given(st.floats(4, 199), st.floats(0.01, 1))
    def test_a_finer_mesh_has_a_smaller_opening(self, mesh: float, more: float) -> None:
        assert opening_um(mesh + more) < opening_um(mesh)

    @given(sieves())
    def test_sieve_classes_are_the_whole(self, passing) -> None:
        shares = [share for _, share in sieve_classes(replace(STONE, passing_percent=passing))]
        assert sum(shares) == pytest.approx(1)
        assert min(shares) >= -1e-9


def test_one_stone_has_as_many_values_as_there_are_states() -> None:
    rows = values_by_scheme(STONE)
    assert [row.scheme for row in rows] == list(SCHEMES)
    assert {row.percent is None for row in rows if not schemes()[row.scheme].factors} == {True}
    assert len({round(row.percent, 1) for row in rows if row.percent is not None}) > 5
    for row in rows:
        assert row.why_not if row.percent is None else 0 < row.percent <= 88
        assert row.status == "published" or row.percent is None or row.stated or row.findings


def test_a_scheme_that_is_from_memory_says_so_unless_the_label_states_the_value() -> None:
    ask = {"reference_kind": "effective", "reference_scheme": "oregon_lime_score"}
    assert "scheme_not_published" in {one.code for one in material_value(STONE, **ask).findings}
    stated = replace(STONE, declared=(("oregon_lime_score", 60.0),))
    made = material_value(stated, **ask)
    assert made.value_percent == 60 and not made.findings


@pytest.mark.parametrize(("state", "key"), [("ia", "iowa_ecce"), ("IL", "illinois_env_4yr"), ("AL", None)])
def test_a_state_s_labels_are_read_by_its_scheme(state: str, key: str | None) -> None:
    assert default_scheme(state) == key


@pytest.mark.parametrize(("form", "magnesium", "told"), [("dolomitic", 60, True), ("dolomitic", 50, True),
                                                        ("dolomitic", 49, False), ("dolomitic", None, False),
                                                        ("quarry", 60, False)])  # fmt: skip
def test_dolomitic_lime_only_where_magnesium_is_short(form: str, magnesium: float | None, told: bool) -> None:
    assert (magnesium_advice(replace(PELLETS, form=form), magnesium_ppm=magnesium) is not None) == told


@pytest.mark.parametrize("form", ["gypsum", "salt"])
@pytest.mark.parametrize(("kind", "key"), [("cce", None), ("effective", "iowa_ecce"), ("effective", None)])
def test_gypsum_and_salts_are_worth_nothing_whatever_their_analysis_says(form: str, kind: str, key: str | None) -> None:
    made = material_value(replace(STONE, form=form), reference_kind=kind, reference_scheme=key)
    assert made.value_percent == 0 and [one.code for one in made.findings] == ["no_liming_value"]
