"""Lime that nitrogen and sulfur use up, and one set of names and figures for it everywhere."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agronomy.acidification import (
    NITROGEN_TABLES,
    material_acidity,
    nitrogen_acidity,
    per_lb_n,
    season_acidity,
    sulfur_acidity,
)
from agronomy.ph_forecast.series import acidity_per_lb_n
from agronomy.sources import load_table

SOURCES = sorted({source for table in NITROGEN_TABLES for source in per_lb_n(table)})
PUBLISHED_FIRST = NITROGEN_TABLES[:-1]


def first_figure(source: str) -> float:
    return next(per_lb_n(table)[source] for table in PUBLISHED_FIRST if source in per_lb_n(table))


def test_the_season_sums_its_sources_published_figures_first() -> None:
    """60 lb N of ammonium sulfate by Cornell (5.4) and 40 of UAN by California (1.78)."""
    made = season_acidity([("ammonium_sulfate", 60), ("uan", 40)])
    assert made.lb_caco3 == pytest.approx(60 * 5.4 + 40 * 1.78)
    assert made.working[-1].value == made.lb_caco3
    assert [step.source for step in made.working[:-1]] == [
        "nitrogen_acidity_cornell", "nitrogen_acidity_university_of_california",
    ]  # fmt: skip


@pytest.mark.parametrize("source", SOURCES)
def test_no_figure_is_over_full_nitrification(source: str) -> None:
    bound = per_lb_n("full_nitrification").get(source)
    figures = [per_lb_n(table)[source] for table in PUBLISHED_FIRST if source in per_lb_n(table)]
    assert figures
    assert bound is None or max(figures) <= bound


@given(st.lists(st.tuples(st.sampled_from(SOURCES), st.floats(0, 300)), max_size=5))
def test_the_bound_holds_and_nothing_unknown_is_counted(spread: list[tuple[str, float]]) -> None:
    made = season_acidity(spread)
    assert made.lb_caco3 == pytest.approx(sum(first_figure(source) * n for source, n in spread))
    assert (made.bound_lb_caco3 is None) == (not spread)
    if spread:
        assert made.bound_lb_caco3 >= made.lb_caco3 - 1e-9
    with_unknown = season_acidity([*spread, ("seaweed", 50.0)])
    assert with_unknown.lb_caco3 == made.lb_caco3
    assert [one.code for one in with_unknown.findings] == ["nitrogen_source_unknown"]


@pytest.mark.parametrize("source", ["manure", "litter"])
def test_manure_is_told_and_not_counted(source: str) -> None:
    made = season_acidity([(source, 100)])
    assert made.lb_caco3 == 0 and made.bound_lb_caco3 is None
    assert [(one.severity, one.code) for one in made.findings] == [("note", "manure_acidity_not_counted")]


@pytest.mark.parametrize("source", ["calcium_nitrate", "potassium_nitrate"])
def test_nitrates_leave_the_ground_less_acid(source: str) -> None:
    assert season_acidity([(source, 50)]).lb_caco3 < 0


@pytest.mark.parametrize("source", SOURCES)
def test_the_forecast_uses_the_same_figures_by_the_same_names(source: str) -> None:
    assert acidity_per_lb_n(source) == first_figure(source)


def test_materials_of_the_catalogue_name_sources_that_are_known() -> None:
    """A compound's nitrogen is not told apart, and sodium nitrate has a figure by the material only."""
    rows = load_table("fertilizer_materials")["materials"]
    rows = rows.values() if isinstance(rows, dict) else rows
    named = {row["nitrogen_source"] for row in rows if row.get("nitrogen_source")}
    assert named <= {*SOURCES, "compound", "sodium_nitrate", "manure", "litter"}


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="cornell"):
        per_lb_n("none such")
    with pytest.raises(ValueError, match="urea"):
        nitrogen_acidity("cornell", source="dap", n_lb=1)
    for wrong in (
        lambda: nitrogen_acidity("cornell", source="urea", n_lb=-1),
        lambda: season_acidity([("urea", -1.0)]),
        lambda: sulfur_acidity(-1),
        lambda: material_acidity("alabama_anr_174", material="urea", material_lb=-1),
    ):
        with pytest.raises(ValueError, match="0 or more"):
            wrong()
