"""Changes of plots: each function is one change, with its history and the word to what rests on it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from plots.facts import tell_changed
from plots.models import Plot, PlotLineage, Property


class Stale(Exception):
    """Someone else changed the row after this form was opened."""


def save_versioned(row: Any, *, seen_version: int) -> None:
    """Save a row if it is still at the version the person saw; raises `Stale` otherwise.

    The conditional update takes the row first, so of two people saving at once exactly one succeeds.
    """
    model = type(row)
    taken = model.objects.filter(pk=row.pk, version=seen_version).update(version=seen_version + 1)
    if not taken:
        raise Stale
    row.version = seen_version + 1
    row.save()


@transaction.atomic
def create_property(*, by: Any, **fields: Any) -> Property:
    """A new property with the person who makes it as its manager."""
    property_ = Property(**fields)
    property_.save()
    property_.roles.create(person=by, kind="manager")
    return property_


@transaction.atomic
def create_plot(property_: Property, fields: Mapping[str, Any]) -> Plot:
    plot = Plot(property=property_, **fields)
    plot.save()
    tell_changed([plot.pk])
    return plot


@transaction.atomic
def create_plots(property_: Property, rows: Sequence[Mapping[str, Any]]) -> list[Plot]:
    """Make every plot of a list, or none. What rests on them is told once, for all together."""
    plots = [Plot(property=property_, **fields) for fields in rows]
    for plot in plots:  # one by one, since each writes its history
        plot.save()
    tell_changed(plot.pk for plot in plots)
    return plots


@transaction.atomic
def change_plot(plot: Plot, *, seen_version: int) -> Plot:
    """Store a plot that a form has filled; raises `Stale` if it changed meanwhile."""
    save_versioned(plot, seen_version=seen_version)
    tell_changed([plot.pk])
    return plot


@transaction.atomic
def change_property(property_: Property, *, seen_version: int) -> Property:
    """Store a property's settings; all its plots may stand differently afterwards."""
    save_versioned(property_, seen_version=seen_version)
    tell_changed(property_.plots.values_list("pk", flat=True))
    return property_


@transaction.atomic
def retire_plot(plot: Plot, *, on: dt.date) -> Plot:
    """Take a plot out of use. Its records and tests stay."""
    plot.retired_on = on
    plot.version += 1
    plot.save()
    tell_changed([plot.pk])
    return plot


@transaction.atomic
def bring_back_plot(plot: Plot) -> Plot:
    plot.retired_on = None
    plot.version += 1
    plot.save()
    tell_changed([plot.pk])
    return plot


def _copy_of(plot: Plot, fields: Mapping[str, Any]) -> Plot:
    """A new plot on the same ground, with the given fields its own."""
    copied = (
        "texture", "organic_soil", "tillage", "depth_limed_in", "access", "access_months", "near_water", "slope",
        "usual_sampling_month", "target_ph", "note",
    )  # fmt: skip
    base = {name: getattr(plot, name) for name in copied}
    return Plot(property=plot.property, **{**base, **fields})


@transaction.atomic
def split_plot(plot: Plot, *, parts: Sequence[Mapping[str, Any]], on: dt.date) -> list[Plot]:
    """Retire a plot and make its parts, which remember where they came from.

    Raises `ValueError` for fewer than two parts.
    """
    if len(parts) < 2:
        raise ValueError("a split makes at least two plots")
    made = []
    for fields in parts:
        part = _copy_of(plot, fields)
        part.save()
        PlotLineage.objects.create(before=plot, after=part, kind=PlotLineage.Kind.SPLIT, on=on)
        made.append(part)
    retire_plot(plot, on=on)
    tell_changed([part.pk for part in made])
    return made


@transaction.atomic
def merge_plots(plots: Sequence[Plot], *, fields: Mapping[str, Any], on: dt.date) -> Plot:
    """Retire several plots of one property and make the plot they became.

    Raises `ValueError` for fewer than two plots or plots of different properties.
    """
    if len(plots) < 2 or len({plot.property_id for plot in plots}) != 1:
        raise ValueError("a merge takes at least two plots of one property")
    largest = max(plots, key=lambda plot: plot.acres)
    merged = _copy_of(largest, fields)
    merged.save()
    for plot in plots:
        PlotLineage.objects.create(before=plot, after=merged, kind=PlotLineage.Kind.MERGE, on=on)
        retire_plot(plot, on=on)
    tell_changed([merged.pk])
    return merged
