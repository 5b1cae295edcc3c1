"""The list of plots as it goes out: in the columns that the import reads, and what else a reader needs beside."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from plots.entering import MONTHS
from plots.models import Plot
from plots.services.plot_import import COLUMNS
from plots.tables import csv_text

BESIDE = ("acres that rates go by", "acres measured")
"""Columns that are worked out, so the import leaves them alone."""


def plots_as_csv(plots: Iterable[Plot]) -> bytes:
    """A CSV file in UTF-8 with the mark by which spreadsheets know it."""
    head = [column.heading for column in COLUMNS]
    return csv_text([*head, *BESIDE], (_row(plot) for plot in plots)).encode("utf-8-sig")


def _row(plot: Plot) -> list[str | Decimal | int | None]:
    values: dict[str, str | Decimal | int | None] = {
        "code": plot.code,
        "name": plot.name,
        "area": _figure(plot.area_entered),
        "area_unit": plot.area_unit,
        "texture": plot.get_texture_display(),
        "organic_soil": _yes(plot.organic_soil),
        "tillage": plot.get_tillage_display(),
        "depth_limed_in": _figure(plot.depth_limed_in),
        "access": plot.get_access_display(),
        "access_months": " ".join(MONTHS[month - 1] for month in plot.access_months),
        "near_water": _yes(plot.near_water),
        "slope": _yes(plot.slope),
        "usual_sampling_month": MONTHS[plot.usual_sampling_month - 1] if plot.usual_sampling_month else "",
        "target_ph": _figure(plot.target_ph),
        "note": plot.note,
        "retired_on": plot.retired_on.isoformat() if plot.retired_on else "",
    }
    return [*(values[column.name] for column in COLUMNS), _figure(plot.acres), _figure(plot.acres_measured)]


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _figure(value: Decimal | None) -> str | Decimal | None:
    """A number as it was entered, without closing zeros and never with an exponent."""
    if value is None:
        return None
    return Decimal(f"{value.normalize():f}")
