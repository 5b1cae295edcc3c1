"""Everything that a plot's prescription and standing rest on, read for many plots in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from agronomy.crops import Crop, CropDemand, combine, crops
from amendments.models import PhForecast, SpreadingRecord, WorkOrder, WorkOrderLine
from amendments.queries.own_crops import as_crop
from plots.models import OwnCrop, Planting, Plot
from soiltests.queries import TestOfDate, series, tests_by_plot


@dataclass(frozen=True, slots=True)
class PlotInputs:
    """One plot's facts. `tests` are by date, newest first; `records` oldest first; `lines` those of open orders.

    `planting` is the newest one by its first season: the crop that the ground is being made fit for.
    """

    plot: Plot
    planting: Planting | None
    plantings: tuple[Planting, ...]
    demand: CropDemand
    tests: tuple[TestOfDate, ...]
    records: tuple[SpreadingRecord, ...]
    lines: tuple[WorkOrderLine, ...]
    forecast: PhForecast | None
    own_crops: Mapping[str, Crop]

    @property
    def test_used(self) -> TestOfDate | None:
        """The newest date with a pH."""
        return next((test for test in self.tests if test.soil.soil_ph is not None), None)

    @property
    def lime_records(self) -> tuple[SpreadingRecord, ...]:
        return tuple(record for record in self.records if record.frozen.get("kind") == "lime" and record.amount_lb)

    def for_planting(self, planting: Planting) -> PlotInputs:
        """The same plot seen for another of its plantings."""
        return replace(self, planting=planting, demand=demand_of(planting, self.own_crops))


def demand_of(planting: Planting | None, own: Mapping[str, Crop]) -> CropDemand:
    """What a planting's crops ask together. A crop that was taken out of the catalogue since asks nothing."""
    if planting is None:
        return combine(())
    known = [(key, share) for key, share in planting.shares if key in own or key in crops()]
    return combine(known, extra=own)


def _grouped(rows: object) -> dict[int, list[object]]:
    found: dict[int, list[object]] = defaultdict(list)
    for row in rows:  # type: ignore[attr-defined]
        found[row.plot_id].append(row)
    return found


def own_crops_of(property_ids: Sequence[int]) -> dict[int, dict[str, Crop]]:
    """The properties' own crops by key."""
    found: dict[int, dict[str, Crop]] = defaultdict(dict)
    for row in OwnCrop.objects.filter(property_id__in=property_ids):
        found[row.property_id][row.key] = as_crop(row)
    return found


def gather(plot_ids: Sequence[int]) -> list[PlotInputs]:
    """The inputs of these plots in their natural order, in eight queries however many plots there are."""
    ids = list(plot_ids)
    plots = list(Plot.objects.filter(pk__in=ids).select_related("property").order_by("property_id", "sort_key"))
    plantings = _grouped(Planting.objects.filter(plot_id__in=ids).order_by("plot_id", "-first_season"))
    records = _grouped(SpreadingRecord.objects.of_plots(ids))
    open_lines = WorkOrderLine.objects.filter(plot_id__in=ids, order__state__in=WorkOrder.OPEN_STATES)
    lines = _grouped(open_lines.select_related("order").prefetch_related("records"))
    forecasts = PhForecast.objects.in_bulk(ids)
    tests = tests_by_plot(ids)
    own = own_crops_of(list({plot.property_id for plot in plots}))
    return [
        _inputs(plot, plantings, records, lines, forecasts, series(plot, tests.get(plot.pk, [])), own) for plot in plots
    ]


def _inputs(plot, plantings, records, lines, forecasts, tests, own) -> PlotInputs:  # type: ignore[no-untyped-def]
    mine = tuple(plantings.get(plot.pk, ()))
    newest = mine[0] if mine else None
    mine_of_property = own.get(plot.property_id, {})
    return PlotInputs(
        plot=plot,
        planting=newest,
        plantings=mine,
        demand=demand_of(newest, mine_of_property),
        tests=tests,
        records=tuple(records.get(plot.pk, ())),
        lines=tuple(lines.get(plot.pk, ())),
        forecast=forecasts.get(plot.pk),
        own_crops=mine_of_property,
    )
