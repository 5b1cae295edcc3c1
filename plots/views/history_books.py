"""Which kinds of things a history shows, and what each is called. Pages may read every app, so they stand here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from agronomy.crops import crop_name
from agronomy.nutrients import calibrations as nutrient_calibrations
from amendments.models import (
    Analysis,
    Calibration,
    Material,
    Offer,
    OtherCost,
    Purchase,
    SeasonPlan,
    Spreader,
    SpreadingRecord,
    StockCount,
    Supplier,
    WorkOrder,
    WorkOrderLine,
)
from plots.figures import as_entered
from plots.models import OwnCrop, Place, Planting, Plot, PlotImport, Property, Role
from plots.queries.changes import NOTHING, Book, months_said
from plots.seasons import season_name
from plots.templatetags.trade import day_words
from soiltests.analytes import ANALYTES
from soiltests.models import Lab, LabReport, Measurement, RoundStop, Sample, SamplingRound, SoilTest

PLOT_WORDS = {
    "area_entered": "area", "area_unit": "area measured in", "acres_entered": "acres",
    "acres_measured": "acres measured", "acres_from": "rates go by", "measured_sd_acres": "error of the acres measured",
    "depth_limed_in": "depth limed (in)", "access_months": "reached only in", "near_water": "water nearby",
    "slope": "sloping", "target_ph": "target pH", "texture": "soil texture", "tillage": "ground",
}  # fmt: skip
PLANTING_WORDS = {
    "components": "crops", "planned_on": "to be planted on", "planted_on": "planted on", "establishment": "stand",
    "no_till": "without tillage", "legume_share_percent": "legumes in the stand (%)",
    "n_chosen_lb_per_acre": "nitrogen chosen (lb/acre)", "yield_unit": "yield counted in",
}  # fmt: skip
PROPERTY_WORDS = {
    "lime_calibration": "lime by", "fertilizer_calibration": "fertilizer by", "target_by_crop": "targets by crop",
    "calibration_by_crop_group": "fertilizer by crop group", "trigger_gap": "lime called for under the target (pH)",
    "smallest_dressing_lb": "smallest dressing (lb/acre)", "order_cover_percent": "ordered when covered (%)",
    "settling_months": "settles for (months)", "upper_ph": "over target above (pH)",
    "retest_years": "sample again after (years)", "retest_after_lime_months": "after lime, sample again after (months)",
}  # fmt: skip
TEST_WORDS = {
    "ph": "pH", "ph_method": "pH measured", "buffer_ph": "buffer pH", "buffer_method": "buffer", "lab_n": "lab's N",
    "lab_p2o5": "lab's P2O5", "lab_k2o": "lab's K2O", "lab_lime_amount": "lab's lime",
    "lab_lime_unit": "lab's lime in", "lab_lime_target_ph": "lab's target pH",
}  # fmt: skip
CROP_WORDS = {
    "target_ph": "target pH", "floor_ph": "floor (pH)", "upper_ph": "upper limit (pH)",
    "ph_critical": "fails first when lime is short", "n_lb_per_acre": "nitrogen a season (lb/acre)",
}  # fmt: skip


def _of(row: Any, *path: str) -> Any:
    """What a version points to, step by step; None where that is gone."""
    for name in path:
        row = getattr(row, name, None)
    return row


def _code(row: Any, *path: str) -> str:
    plot = _of(row, *path)
    return plot.code if plot is not None else "a plot that is gone"


def _dated(row: Any) -> str:
    return day_words(row.sampled_on) if row is not None else "a sample that is gone"


def _crops_said(property_id: int) -> Callable[[Any], str]:
    """How a mix of the property's crops is said: "white clover 60 %, oats 40 %"."""
    own = dict(OwnCrop.objects.filter(property_id=property_id).values_list("key", "name"))

    def said(parts: Any) -> str:
        names = ((own.get(part["crop"]) or crop_name(part["crop"]), part["share_percent"]) for part in parts)
        return ", ".join(f"{name} {share:g} %" for name, share in names) or NOTHING

    return said


def _targets_said(value: Mapping[str, Any]) -> str:
    return ", ".join(f"{crop_name(key)} {target}" for key, target in value.items()) or NOTHING


def _groups_said(value: Mapping[str, str]) -> str:
    tables = nutrient_calibrations()
    return ", ".join(
        f"{group.replace('_', ' ')}: {tables[key].title if key in tables else key}" for group, key in value.items()
    ) or NOTHING  # fmt: skip


def _season_said(value: int | None) -> str:
    return "open" if value is None else season_name(value)


def _book(
    model: Any, kind: str, lookup: str, key: int, title: Callable[[Any], str], *related: str, **more: Any
) -> Book:
    rows = model.history.filter(**{lookup: key}).select_related("history_user", *related)
    return Book(kind, rows, title, **more)


def _records(lookup: str, key: int) -> Book:
    """Spreading records have no versions: one is never edited, only followed by a newer one."""

    def title(record: SpreadingRecord) -> str:
        amount = as_entered(record.amount_entered.normalize(), record.unit_entered)
        said = f"{amount} of {record.frozen.get('name', '')} on "
        said += f"{record.plot.code}, {day_words(record.spread_on)}"
        return f"{said} (in place of an earlier one)" if record.corrects_id else said

    rows = SpreadingRecord.objects.filter(**{lookup: key}).select_related("entered_by", "plot")
    return Book("spreading record", rows, title, key="pk", when="arrived_at", who="entered_by")


def _imports(property_id: int) -> Book:
    rows = PlotImport.objects.filter(property_id=property_id, state=PlotImport.State.ACCEPTED)
    return Book("list of plots", rows.select_related("accepted_by"), str, key="pk", when="accepted_at",
                who="accepted_by")  # fmt: skip


def _tests(lookup: str, key: int) -> list[Book]:
    """Samples, soil tests and measurements; `lookup` leads from the plot."""

    def analyte(row: Any) -> str:
        name = ANALYTES[row.analyte].name if row.analyte in ANALYTES else row.analyte
        said = f"{name} {row.value_entered} {row.unit_entered}"
        return f"{said} of {_code(row, 'soil_test', 'sample', 'plot')}, {_dated(_of(row, 'soil_test', 'sample'))}"

    def test(row: Any) -> str:
        ph = f", pH {row.ph.normalize():f}" if row.ph is not None else ""
        return f"{_code(row, 'sample', 'plot')}, {_dated(_of(row, 'sample'))}{ph}"

    return [
        _book(Sample, "sample", f"plot{lookup}", key, lambda row: f"{_code(row, 'plot')}, {_dated(row)}", "plot",
              words={"depth_top_in": "depth from (in)", "depth_bottom_in": "depth to (in)"}),
        _book(SoilTest, "soil test", f"sample__plot{lookup}", key, test, "sample__plot", words=TEST_WORDS),
        _book(Measurement, "figure of a soil test", f"soil_test__sample__plot{lookup}", key, analyte,
              "soil_test__sample__plot", hidden=frozenset({"value", "converted", "converted_unit"}),
              words={"value_entered": "value", "unit_entered": "unit"}),
    ]  # fmt: skip


def _plantings(lookup: str, key: int, property_id: int) -> Book:
    def title(row: Any) -> str:
        return f"{_code(row, 'plot')}, from {season_name(row.first_season)}"

    said = {"components": _crops_said(property_id), "first_season": _season_said, "last_season": _season_said}
    return _book(Planting, "planting", lookup, key, title, "plot", words=PLANTING_WORDS, say=said)


def _plots(lookup: str, key: int) -> Book:
    hidden = frozenset({"boundary"})
    said = {"access_months": months_said}
    return _book(Plot, "plot", lookup, key, lambda row: f"{row.code} {row.name}".strip(), words=PLOT_WORDS, say=said,
                 hidden=hidden)  # fmt: skip


def books_of_plot(plot: Plot) -> dict[str, list[Book]]:
    """What happened on one plot, by the names the page offers."""
    return {
        "plot": [_plots("id", plot.pk)],
        "plantings": [_plantings("plot_id", plot.pk, plot.property_id)],
        "tests": _tests("_id", plot.pk),
        "records": [_records("plot_id", plot.pk)],
    }


def _materials(pk: int) -> list[Book]:
    def named(row: Any) -> str:
        return str(row.name)

    def of_material(row: Any) -> str:
        material = _of(row, "material")
        return material.name if material is not None else "a material that is gone"

    return [
        _book(Material, "material", "property_id", pk, named),
        _book(Analysis, "analysis", "material__property_id", pk, of_material, "material"),
        _book(Supplier, "supplier", "property_id", pk, named),
        _book(Offer, "offer", "material__property_id", pk, of_material, "material"),
        _book(StockCount, "stock count", "material__property_id", pk, of_material, "material"),
        _book(Purchase, "purchase", "property_id", pk, of_material, "material", say={"season": _season_said}),
        _book(OtherCost, "other cost", "property_id", pk, lambda row: row.what, say={"season": _season_said}),
        _book(Spreader, "spreader", "property_id", pk, named),
        _book(Calibration, "setting of a spreader", "spreader__property_id", pk,
              lambda row: f"{row.setting}, {of_material(row)}", "material", hidden=frozenset({"readings"})),
    ]  # fmt: skip


def _orders(pk: int) -> list[Book]:
    """Work orders and season plans; what an order froze is read on the order itself."""

    def line(row: Any) -> str:
        order = _of(row, "order")
        return f"{order.number if order is not None else 'one that is gone'}, plot {_code(row, 'plot')}"

    return [
        _book(WorkOrder, "work order", "property_id", pk, lambda row: f"{row.number}"),
        _book(WorkOrderLine, "line of work order", "order__property_id", pk, line, "order", "plot",
              hidden=frozenset({"frozen"})),
        _book(SeasonPlan, "season plan", "property_id", pk, lambda row: str(row.name),
              hidden=frozenset({"wishes", "fingerprint"}), say={"season": _season_said}),
    ]  # fmt: skip


def _labs(pk: int) -> list[Book]:
    def report(row: Any) -> str:
        return row.title or row.original_name or "a report"

    return [
        _book(Lab, "laboratory", "property_id", pk, lambda row: str(row.name),
              hidden=frozenset({"column_choices", "sample_names"})),
        _book(LabReport, "lab report", "property_id", pk, report,
              hidden=frozenset({"choices", "outcome", "original", "original_sha256"})),
        _book(SamplingRound, "sampling round", "property_id", pk, lambda row: str(row.name)),
        _book(RoundStop, "bag of a sampling round", "round__property_id", pk, lambda row: f"plot {_code(row, 'plot')}",
              "plot"),
    ]  # fmt: skip


def books_of_property(property_id: int) -> dict[str, list[Book]]:
    """Everything that is kept of a property, by the names the page offers."""
    pk = property_id

    def named(row: Any) -> str:
        return str(row.name)

    def member(row: Any) -> str:
        return str(_of(row, "person") or "somebody whose account is gone")

    return {
        "plots": [_plots("property_id", pk), _imports(pk)],
        "plantings": [_plantings("plot__property_id", pk, pk)],
        "tests": [*_tests("__property_id", pk), *_labs(pk)],
        "records": [_records("property_id", pk)],
        "orders": _orders(pk),
        "materials": _materials(pk),
        "settings": [
            _book(Property, "property", "id", pk, named, words=PROPERTY_WORDS,
                  say={"target_by_crop": _targets_said, "calibration_by_crop_group": _groups_said}),
            _book(OwnCrop, "crop", "property_id", pk, named, words=CROP_WORDS),
            _book(Place, "place", "property_id", pk, named, words={"setback_ft": "keep off by (ft)"},
                  hidden=frozenset({"geometry"})),
        ],
        "people": [_book(Role, "member", "property_id", pk, member, "person", words={"kind": "role"})],
    }  # fmt: skip
