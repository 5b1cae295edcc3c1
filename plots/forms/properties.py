"""A property as forms: its first answers, its figures, and targets of its own by crop."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from typing import Any

from django import forms

from agronomy.crops import GROUP_NAMES, crops
from agronomy.lime_requirement import calibrations, default_calibration
from agronomy.nutrients import calibrations as nutrient_calibrations
from plots import entering
from plots.forms.fields import Choice, Code, Count, Figure, Version, Words
from plots.models import Property
from plots.text import code_key

STATES = {
    "AL": "Alabama", "AK": "Alaska", "AZ": "Arizona", "AR": "Arkansas", "CA": "California", "CO": "Colorado",
    "CT": "Connecticut", "DE": "Delaware", "FL": "Florida", "GA": "Georgia", "HI": "Hawaii", "ID": "Idaho",
    "IL": "Illinois", "IN": "Indiana", "IA": "Iowa", "KS": "Kansas", "KY": "Kentucky", "LA": "Louisiana", "ME": "Maine",
    "MD": "Maryland", "MA": "Massachusetts", "MI": "Michigan", "MN": "Minnesota", "MS": "Mississippi", "MO": "Missouri",
    "MT": "Montana", "NE": "Nebraska", "NV": "Nevada", "NH": "New Hampshire", "NJ": "New Jersey", "NM": "New Mexico",
    "NY": "New York", "NC": "North Carolina", "ND": "North Dakota", "OH": "Ohio", "OK": "Oklahoma", "OR": "Oregon",
    "PA": "Pennsylvania", "RI": "Rhode Island", "SC": "South Carolina", "SD": "South Dakota", "TN": "Tennessee",
    "TX": "Texas", "UT": "Utah", "VT": "Vermont", "VA": "Virginia", "WA": "Washington", "WV": "West Virginia",
    "WI": "Wisconsin", "WY": "Wyoming",
}  # fmt: skip
_ZONES_OF_THE_STATES = {
    "America/New_York": "Eastern", "America/Chicago": "Central", "America/Denver": "Mountain",
    "America/Phoenix": "Arizona", "America/Los_Angeles": "Pacific", "America/Anchorage": "Alaska",
    "Pacific/Honolulu": "Hawaii",
}  # fmt: skip
_BY_STATE = "the state's own table, if there is one"


@cache
def zones() -> list[Any]:
    """Time zones, those of the states first."""
    others = sorted(zoneinfo.available_timezones() - set(_ZONES_OF_THE_STATES))
    return [("States", list(_ZONES_OF_THE_STATES.items())), ("Elsewhere", [(zone, zone) for zone in others])]


def lime_tables() -> list[tuple[str, str]]:
    """The lime tables that are made for a buffer; estimates come of themselves where none fits."""
    return [(key, one.title) for key, one in calibrations().items() if not one.is_estimate]


def nutrient_tables() -> list[tuple[str, str]]:
    return [(key, one.title) for key, one in nutrient_calibrations().items() if one.gives_rates]


class NewPropertyForm(forms.Form):
    """The first few answers; the rest begins with sensible figures."""

    name = Words(label="Name of the property", longest=100)
    code = Code(label="Code", help_text="Short, for addresses and lists: HOME or NORTH-40.")
    state = Choice(
        label="State", required=False, choices=[("", "elsewhere"), *STATES.items()],
        help_text="It chooses the published tables that rates are worked out by.",
    )  # fmt: skip
    region = Choice(label="Climate and soils", choices=Property.Region.choices, initial=Property.Region.WARM_HUMID)
    time_zone = Choice(label="Time zone", choices=zones, initial="America/Chicago")

    def __init__(self, *args: Any, property_: Property | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.property = property_

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        same = Property.objects.filter(code_key=code_key(code))
        if same.exclude(pk=self.property.pk if self.property else None).exists():
            raise forms.ValidationError(
                f"Code {entering.shown(code)} is taken by another property of this installation. Choose another."
            )
        return code

    def columns(self) -> dict[str, Any]:
        """The columns of `Property` that the form has filled."""
        return {name: value for name, value in self.cleaned_data.items() if name != "version"}


def start_of_property(property_: Any) -> dict[str, Any]:
    """What the form of a property, or of a version of one, opens with."""
    names = [*PropertyForm.base_fields]
    by_group = property_.calibration_by_crop_group
    return {name: getattr(property_, name) for name in names} | {
        f"group_{group}": by_group.get(group, "") for group in GROUP_NAMES
    }


class PropertyForm(NewPropertyForm):
    """A property and the figures its manager has settled on."""

    lime_calibration = Choice(label="Lime by", required=False)
    fertilizer_calibration = Choice(label="Fertilizer by", required=False)
    lime_policy = Choice(label="Lime policy", choices=Property.Policy.choices)
    trigger_gap = Figure(
        label="Lime is called for this far under the target",
        low=0,
        high=1,
        unit="pH",
        help_text="Common practice: 0.3.",
    )
    smallest_dressing_lb = Count(
        label="Smallest dressing worth spreading", low=0, high=4000, unit="lb/acre",
        help_text="Of effective CaCO3. Common practice: 500.",
    )  # fmt: skip
    order_cover_percent = Count(
        label="A plot counts as ordered when open orders cover", low=1, high=100, unit="%",
        help_text="Of the lime owed. Common practice: 80.",
    )  # fmt: skip
    settling_months = Count(
        label="A limed plot settles for", low=0, high=36, unit="months", help_text="Common practice: 12."
    )
    upper_ph = Figure(
        label="Over target above", low=6, high=9, unit="pH", places=1,
        help_text="For crops that have no upper limit of their own. Common practice: 7.3.",
    )  # fmt: skip
    retest_years = Count(label="Sample again after", low=1, high=10, unit="years", help_text="Common practice: 3.")
    retest_after_lime_months = Count(
        label="After lime, sample again after", low=6, high=36, unit="months", help_text="Common practice: 12."
    )
    version = Version()

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        kwargs.setdefault("initial", start_of_property(property_))
        super().__init__(*args, property_=property_, **kwargs)
        self.fields["lime_calibration"].choices = [("", _BY_STATE), *lime_tables()]  # type: ignore[attr-defined]
        self.fields["fertilizer_calibration"].choices = [("", _BY_STATE), *nutrient_tables()]  # type: ignore[attr-defined]
        for group, name in GROUP_NAMES.items():
            self.fields[f"group_{group}"] = Choice(
                label=f"Fertilizer for {name} by", required=False,
                choices=[("", "as above"), *nutrient_tables()],
            )  # fmt: skip

    def group_fields(self) -> Iterator[forms.BoundField]:
        """One choice of table a crop group."""
        return (self[name] for name in self.fields if name.startswith("group_"))

    def columns(self) -> dict[str, Any]:
        data = super().columns()
        by_group = {group: data.pop(f"group_{group}") for group in GROUP_NAMES}
        return data | {"calibration_by_crop_group": {group: table for group, table in by_group.items() if table}}


def tables_in_force(property_: Property) -> dict[str, str]:
    """The titles of the tables that a property goes by where no crop group has another; "" for none of its state."""
    lime_key = property_.lime_calibration or default_calibration(property_.state)
    lime = calibrations().get(lime_key) if lime_key else None
    fertilizer = nutrient_calibrations().get(property_.fertilizer_calibration)
    return {"lime": lime.title if lime else "", "fertilizer": fertilizer.title if fertilizer else ""}


def start_of_targets(property_: Any) -> dict[str, Any]:
    """What the form of the targets of a property, or of a version of one, opens with."""
    stored = property_.target_by_crop
    targets = {f"target_{key}": Decimal(str(stored[key])) if key in stored else None for key in crops()}
    return {"version": property_.version, **targets}


class TargetsForm(forms.Form):
    """Targets of a property's own, crop by crop; an empty one leaves the crop's."""

    version = Version()

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        kwargs.setdefault("initial", start_of_targets(property_))
        super().__init__(*args, **kwargs)
        for key, crop in crops().items():
            self.fields[f"target_{key}"] = Figure(
                label=f"Target pH for {crop.name}", low=4, high=8, places=1, required=False,
            )  # fmt: skip

    def rows(self) -> Iterator[tuple[Any, forms.BoundField]]:
        """Every crop of the catalogue with its field."""
        return ((crop, self[f"target_{key}"]) for key, crop in crops().items())

    def targets(self) -> dict[str, float]:
        """What is set, by crop key, as the property keeps it."""
        return {
            name.removeprefix("target_"): float(value)
            for name, value in self.cleaned_data.items()
            if name.startswith("target_") and value is not None
        }
