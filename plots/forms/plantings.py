"""A planting: the crop or mix on a plot from its first to its last season."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from agronomy.crops import GROUP_NAMES, crops
from plots.models import OwnCrop, Planting, Plot
from plots.seasons import FALL, SPRING, season_name, season_of, season_on

MOST_SPECIES = 6
YIELD_UNITS = {"": "unit", "ton": "tons/acre", "bu": "bu/acre", "lb": "lb/acre"}


def season_choices(today: dt.date, *, years_back: int = 8, years_on: int = 4) -> list[tuple[int, str]]:
    """Seasons around today, the newest first."""
    first, last = season_of(today.year - years_back, SPRING), season_of(today.year + years_on, FALL)
    return [(season, season_name(season)) for season in range(last, first - 1, -1)]


def crop_choices(plot: Plot) -> list[Any]:
    """The catalogue by crop group, the property's own crops first."""
    own = [(row.key, row.name) for row in OwnCrop.objects.filter(property=plot.property)]
    groups: dict[str, list[tuple[str, str]]] = {}
    for key, crop in crops().items():
        groups.setdefault(GROUP_NAMES[crop.group], []).append((key, crop.name))
    listed = [(name, sorted(entries, key=lambda entry: entry[1])) for name, entries in groups.items()]
    return [("", "none"), *([("your own crops", own)] if own else []), *listed]


class PlantingForm(forms.ModelForm):  # type: ignore[type-arg]
    first_season = forms.TypedChoiceField(label="First season", coerce=int)
    last_season = forms.TypedChoiceField(
        label="Last season", coerce=int, required=False, empty_value=None,
        help_text="Open for a perennial that stays.",
    )  # fmt: skip
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Planting
        fields = [
            "name", "first_season", "last_season", "planned_on", "planted_on", "establishment", "no_till", "inoculated",
            "legume_share_percent", "use", "yield_goal", "yield_unit", "n_chosen_lb_per_acre", "note",
        ]  # fmt: skip
        widgets = {
            "planned_on": forms.DateInput(attrs={"type": "date"}),
            "planted_on": forms.DateInput(attrs={"type": "date"}),
        }
        labels = {
            "name": "Name of the mix", "planned_on": "To be planted on", "planted_on": "Planted on",
            "establishment": "Stand", "no_till": "No-till", "inoculated": "Legumes inoculated",
            "legume_share_percent": "Legumes in the stand", "use": "Use", "yield_goal": "Yield goal",
            "yield_unit": "in", "n_chosen_lb_per_acre": "Nitrogen you have chosen",
        }  # fmt: skip
        help_texts = {
            "legume_share_percent": "As seen in the stand. Empty: by the seed shares.",
            "yield_goal": "Only where a table asks for one.",
            "n_chosen_lb_per_acre": "Empty: by the crop's rule. Legumes are protected either way.",
        }

    def __init__(self, *args: Any, plot: Plot, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.plot = plot
        self.plot = plot
        seasons = season_choices(today)
        self.fields["first_season"].choices = seasons  # type: ignore[attr-defined]
        self.fields["last_season"].choices = [("", "open"), *seasons]  # type: ignore[attr-defined]
        self.fields["first_season"].initial = self.instance.first_season or season_on(today)
        self.fields["yield_unit"] = forms.ChoiceField(label="in", required=False, choices=list(YIELD_UNITS.items()))
        self.fields["legume_share_percent"].unit = "%"  # type: ignore[attr-defined]
        self.fields["n_chosen_lb_per_acre"].unit = "lb/acre"  # type: ignore[attr-defined]
        self._add_crops(crop_choices(plot))
        self.order_fields([name for n in range(1, MOST_SPECIES + 1) for name in (f"crop_{n}", f"share_{n}")])

    def _add_crops(self, choices: list[Any]) -> None:
        stored = self.instance.components or []
        for number in range(1, MOST_SPECIES + 1):
            part: Mapping[str, Any] = stored[number - 1] if number <= len(stored) else {}
            self.fields[f"crop_{number}"] = forms.ChoiceField(
                label="Crop" if number == 1 else f"Crop {number}", required=number == 1, choices=choices,
                initial=part.get("crop", ""),
            )  # fmt: skip
            share = forms.DecimalField(
                label="Share of the seed" if number == 1 else f"Share of the seed {number}", required=False,
                min_value=Decimal("0.1"), max_value=100, max_digits=5, decimal_places=1,
                initial=part.get("share_percent"),
            )  # fmt: skip
            share.unit = "%"  # type: ignore[attr-defined]
            self.fields[f"share_{number}"] = share

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._check_seasons(data)
        self._collect_crops(data)
        if data.get("yield_goal") is not None and not data.get("yield_unit"):
            self.add_error("yield_unit", "A yield goal needs its unit.")
        return data

    def _check_seasons(self, data: dict[str, Any]) -> None:
        first, last = data.get("first_season"), data.get("last_season")
        if first and last and last < first:
            self.add_error("last_season", f"It cannot end in {season_name(last)}, before {season_name(first)}.")
        same = Planting.objects.filter(plot=self.plot, first_season=first).exclude(pk=self.instance.pk)
        if first and same.exists():
            self.add_error(
                "first_season", f"A planting of {season_name(first)} stands on this plot already; change it."
            )

    def _collect_crops(self, data: dict[str, Any]) -> None:
        parts: list[dict[str, Any]] = []
        for number in range(1, MOST_SPECIES + 1):
            key = data.get(f"crop_{number}")
            if not key:
                continue
            if any(part["crop"] == key for part in parts):
                self.add_error(f"crop_{number}", "This crop is in the mix already.")
                continue
            parts.append({"crop": key, "share_percent": data.get(f"share_{number}")})
        known = [part["share_percent"] for part in parts if part["share_percent"] is not None]
        if parts and known and len(known) < len(parts):
            self.add_error("share_1", "Give the share of every crop in the mix, or of none for equal shares.")
        if sum(known, Decimal(0)) > 100:
            self.add_error("share_1", f"The shares add up to {sum(known, Decimal(0))} %; allowed are 100 % and less.")
        for part in parts:
            part["share_percent"] = float(part["share_percent"] or round(100 / len(parts), 1))
        self.instance.components = sorted(parts, key=lambda part: -part["share_percent"])


class EndForm(forms.Form):
    last_season = forms.TypedChoiceField(label="Last season", coerce=int)

    def __init__(self, *args: Any, planting: Planting, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        later = [choice for choice in season_choices(today) if choice[0] >= planting.first_season]
        self.fields["last_season"].choices = later  # type: ignore[attr-defined]
