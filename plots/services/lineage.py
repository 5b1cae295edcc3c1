"""Plots split and merged with what grows on them, each as one change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from plots.models import Planting, Plot
from plots.seasons import season_on
from plots.services.plantings import plant
from plots.services.plots import merge_plots, split_plot

_CARRIED = (
    "name", "components", "first_season", "last_season", "planned_on", "planted_on", "establishment", "no_till",
    "inoculated", "legume_share_percent", "use", "yield_goal", "yield_unit", "n_chosen_lb_per_acre", "note",
)  # fmt: skip


@transaction.atomic
def split(plot: Plot, *, parts: Sequence[Mapping[str, Any]], on: dt.date, keep_crop: bool) -> list[Plot]:
    """Retire a plot and make its parts; with `keep_crop` what grows on it grows on each of them.

    Raises `ValueError` for fewer than two parts.
    """
    growing = _growing(plot, on) if keep_crop else []
    made = split_plot(plot, parts=parts, on=on)
    for part in made:
        _carry_on(growing, part)
    return made


@transaction.atomic
def merge(plots: Sequence[Plot], *, fields: Mapping[str, Any], on: dt.date, keep_crop: bool) -> Plot:
    """Retire several plots and make the one they became; with `keep_crop` it has what grows on the largest of them.

    Raises `ValueError` for fewer than two plots or plots of different properties.
    """
    largest = max(plots, key=lambda plot: plot.acres)
    growing = _growing(largest, on) if keep_crop else []
    merged = merge_plots(plots, fields=fields, on=on)
    _carry_on(growing, merged)
    return merged


def _growing(plot: Plot, on: dt.date) -> list[Planting]:
    """What grows on a plot on a day, and what is planned for later."""
    season = season_on(on)
    return [one for one in plot.plantings.all() if one.last_season is None or one.last_season >= season]


def _carry_on(growing: Sequence[Planting], plot: Plot) -> None:
    for one in growing:
        plant(plot, {name: getattr(one, name) for name in _CARRIED})
