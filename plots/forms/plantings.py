"""A planting: the crop or mix on a plot from its first to its last season."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from agronomy.crops import GROUP_NAMES, crops
from plots import entering
from plots.forms.fields import Choice, Count, Day, Figure, Number, Version, Words
from plots.models import OwnCrop, Planting, Plot
from plots.seasons import FALL, SPRING, season_name, season_of, season_on

MOST_SPECIES = 8
YEARS_BACK, YEARS_ON = 15, 4
_FIRST_DAY = dt.date(1950, 1, 1)
_COLUMNS = (
    "name", "first_season", "last_season", "planned_on", "planted_on", "establishment", "no_till", "inoculated",
    "legume_share_percent", "use", "yield_goal", "yield_unit", "n_chosen_lb_per_acre", "note",
)  # fmt: skip


def season_choices(today: dt.date, *, also: int | None = None) -> list[tuple[int, str]]:
    """Seasons around today, the newest first, and one more that something rests on already."""
    first, last = season_of(today.year - YEARS_BACK, SPRING), season_of(today.year + YEARS_ON, FALL)
    seasons = {*range(first, last + 1), *({also} if also is not None else ())}
    return [(season, season_name(season)) for season in sorted(seasons, reverse=True)]


def crop_choices(plot: Plot) -> list[Any]:
    """The property's own crops first, then the catalogue by kind of crop."""
    own = [(row.key, row.name) for row in OwnCrop.objects.filter(property_id=plot.property_id)]
    groups: dict[str, list[tuple[str, str]]] = {}
    for key, crop in crops().items():
        groups.setdefault(GROUP_NAMES[crop.group], []).append((key, crop.name))
    listed = [(name, sorted(entries, key=lambda entry: entry[1])) for name, entries in groups.items()]
    return [("", "none"), *([("your own crops", own)] if own else []), *listed]


def yield_units() -> list[tuple[str, str]]:
    """The units in which yields of the catalogue's crops are reckoned."""
    units = dict.fromkeys(crop.yield_unit for crop in crops().values() if crop.yield_unit)
    return [("", "unit"), *((unit, f"{unit}/acre") for unit in units)]


def _last_planned() -> dt.date:
    """The last day that anything is planned for."""
    return dt.date(timezone.localdate().year + YEARS_ON, 12, 31)


class PlantingForm(forms.Form):
    """All that a rate can ask about what grows."""

    name = Words(label="Name of the mix", longest=100, required=False)
    first_season = Number(label="First season")
    last_season = Number(label="Last season", required=False, help_text="Open for a perennial that stays.")
    planned_on = Day(label="To be planted on", earliest=_FIRST_DAY, latest=_last_planned, required=False)
    planted_on = Day(
        label="Planted on", earliest=_FIRST_DAY, latest=timezone.localdate, required=False,
        why="Put a day to come under “To be planted on”.",
    )  # fmt: skip
    establishment = Choice(label="Stand", choices=Planting.Establishment.choices)
    no_till = forms.BooleanField(label="Drilled or broadcast without tillage", required=False)
    inoculated = forms.BooleanField(label="Legume seed inoculated", required=False)
    legume_share_percent = Count(
        label="Legumes in the stand", low=0, high=100, unit="%", required=False,
        help_text="As seen in the stand. Empty: by the shares of seed.",
    )  # fmt: skip
    use = Choice(label="Use", choices=Planting.Use.choices)
    yield_goal = Figure(
        label="Yield goal", low="0.1", high=500, required=False, help_text="Only where a table asks for one."
    )
    yield_unit = Choice(label="Yield counted in", required=False, choices=yield_units)
    n_chosen_lb_per_acre = Figure(
        label="Nitrogen you have chosen", low=0, high=300, unit="lb/acre", places=1, required=False,
        help_text="Empty: by the crop's rule. Stands of legumes are protected either way.",
    )  # fmt: skip
    note = Words(label="Note", longest=entering.LONGEST_NOTE, lines=True, required=False)
    end_earlier = forms.BooleanField(required=False, initial=True)
    version = Version()

    def __init__(self, *args: Any, plot: Plot, today: dt.date, planting: Planting | None = None, **kwargs: Any) -> None:
        kwargs.setdefault("initial", start_of(planting) if planting else {"first_season": season_on(today)})
        super().__init__(*args, **kwargs)
        self.plot, self.planting = plot, planting
        first, last = (planting.first_season, planting.last_season) if planting else (None, None)
        self.fields["first_season"].choices = season_choices(today, also=first)  # type: ignore[attr-defined]
        self.fields["last_season"].choices = [("", "open"), *season_choices(today, also=last)]  # type: ignore[attr-defined]
        self._add_crops(crop_choices(plot))
        self.still_open = _still_open(plot) if planting is None else []
        if self.still_open:
            named = ", ".join(season_name(one.first_season) for one in self.still_open)
            self.fields["end_earlier"].label = f"End what has been growing here since {named}"
        else:
            del self.fields["end_earlier"]

    def _add_crops(self, choices: list[Any]) -> None:
        for number in range(1, MOST_SPECIES + 1):
            self.fields[f"crop_{number}"] = Choice(
                label="Crop" if number == 1 else f"Crop {number}", required=number == 1, choices=choices,
                error_messages={"required": "Choose a crop."},
            )  # fmt: skip
            self.fields[f"share_{number}"] = Figure(
                label=f"Share of crop {number}", low="0.1", high=100, unit="%", places=1, required=False
            )

    def crop_rows(self) -> Iterator[tuple[forms.BoundField, forms.BoundField]]:
        """Each crop with its share of the seed."""
        return ((self[f"crop_{number}"], self[f"share_{number}"]) for number in range(1, MOST_SPECIES + 1))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._check_seasons(data)
        self.components = self._read_crops(data)
        if data.get("yield_goal") is not None and not data.get("yield_unit") and "yield_unit" not in self.errors:
            self.add_error("yield_unit", f"A yield goal of {data['yield_goal']:f} needs its unit.")
        return data

    def _check_seasons(self, data: dict[str, Any]) -> None:
        first, last = data.get("first_season"), data.get("last_season")
        if first is None:
            return
        if last is not None and last < first:
            self.add_error("last_season", f"It cannot end in {season_name(last)}, before {season_name(first)}.")
        same = self.plot.plantings.filter(first_season=first)
        if same.exclude(pk=self.planting.pk if self.planting else None).exists():
            self.add_error(
                "first_season",
                f"A planting of {season_name(first)} stands on this plot already; change that one, or choose another "
                "season.",
            )

    def _read_crops(self, data: dict[str, Any]) -> list[dict[str, Any]]:
        """The crops with their shares, the largest first; without any share all have the same."""
        parts: list[dict[str, Any]] = []
        for number in range(1, MOST_SPECIES + 1):
            key, share = data.get(f"crop_{number}"), data.get(f"share_{number}")
            if not key and share is not None and f"crop_{number}" not in self.errors:
                self.add_error(f"crop_{number}", f"A share of {share:f} % stands here without a crop.")
            if not key:
                continue
            if any(part["crop"] == key for part in parts):
                self.add_error(f"crop_{number}", "This crop is in the mix already; each stands in it once.")
            parts.append({"crop": key, "share_percent": share})
        self._check_shares(parts)
        for part in parts:
            part["share_percent"] = float(part["share_percent"] or round(100 / len(parts), 1))
        return sorted(parts, key=lambda part: -part["share_percent"])

    def _check_shares(self, parts: list[dict[str, Any]]) -> None:
        given = [part["share_percent"] for part in parts if part["share_percent"] is not None]
        if not given or any(name.startswith("share_") for name in self.errors):
            return
        total = sum(given, Decimal(0))
        if len(given) < len(parts):
            self.add_error("share_1", "Give the share of every crop in the mix, or of none for equal shares.")
        elif not 98 <= total <= 102:
            self.add_error("share_1", f"The shares add up to {total:f} %; they must make 100 %.")

    def columns(self) -> dict[str, Any]:
        """The columns of `Planting` that the form has filled."""
        return {"components": self.components, **{name: self.cleaned_data[name] for name in _COLUMNS}}


def start_of(planting: Planting) -> dict[str, Any]:
    """What the form of a planting opens with."""
    start = {name: getattr(planting, name) for name in (*_COLUMNS, "version")}
    for number in range(1, MOST_SPECIES + 1):
        part = planting.components[number - 1] if number <= len(planting.components) else {}
        share = part.get("share_percent")
        start[f"crop_{number}"] = part.get("crop", "")
        start[f"share_{number}"] = None if share is None else Decimal(str(share))
    return start


def _still_open(plot: Plot) -> list[Planting]:
    """Plantings without a last season, oldest first."""
    return sorted(plot.plantings.filter(last_season__isnull=True), key=lambda one: one.first_season)


class EndForm(forms.Form):
    last_season = Number(label="Last season")

    def __init__(self, *args: Any, planting: Planting, today: dt.date, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"last_season": max(planting.first_season, season_on(today))})
        super().__init__(*args, **kwargs)
        later = [entry for entry in season_choices(today, also=planting.first_season)
                 if entry[0] >= planting.first_season]  # fmt: skip
        self.fields["last_season"].choices = later  # type: ignore[attr-defined]
