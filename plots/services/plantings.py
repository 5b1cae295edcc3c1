"""Changes of plantings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction

from plots.facts import tell_changed
from plots.models import Planting, Plot
from plots.services.plots import save_versioned


@transaction.atomic
def plant(plot: Plot, fields: Mapping[str, Any]) -> Planting:
    """Put a planting on a plot."""
    planting = Planting(plot=plot, **fields)
    planting.save()
    tell_changed([plot.pk])
    return planting


@transaction.atomic
def change_planting(planting: Planting, *, seen_version: int) -> Planting:
    """Store a planting that a form has filled; raises `Stale` if it changed meanwhile."""
    save_versioned(planting, seen_version=seen_version)
    tell_changed([planting.plot_id])
    return planting


@transaction.atomic
def end_planting(planting: Planting, *, last_season: int) -> Planting:
    """Close a planting with its last season; raises `ValueError` before its first."""
    if last_season < planting.first_season:
        raise ValueError("a planting cannot end before the season it began in")
    planting.last_season = last_season
    planting.version += 1
    planting.save()
    tell_changed([planting.plot_id])
    return planting


@transaction.atomic
def plant_after(plot: Plot, fields: Mapping[str, Any], *, ending: Iterable[Planting]) -> Planting:
    """Put a planting on a plot and end those it follows with the season before it.

    One that began in the same season or later grows beside it and is left open.
    """
    for earlier in ending:
        if earlier.first_season < fields["first_season"]:
            end_planting(earlier, last_season=fields["first_season"] - 1)
    return plant(plot, fields)
