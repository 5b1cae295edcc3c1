"""What was really spread, as a form: one plot, several plots at once, a correction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.utils import timezone

from amendments.models import Material, Spreader, SpreadingRecord
from amendments.services.materials import AMOUNT_UNITS, PACKAGES, analysis_on, pounds
from amendments.services.records import ACRES, Entry
from plots.models import Person, Plot, Property

UNIT_LABELS = {
    "bag": "bags", "lb": "lb", "ton": "tons", "jug": "jugs", "tote": "totes", "gal": "gallons", "load": "loads",
    "kg": "kg", "t": "tonnes (t)",
}  # fmt: skip
GROUND = ("dry", "moist", "wet", "frozen", "snow-covered")
METHODS = ("broadcast", "banded", "sprayed", "by hand")
_MOST_LB_PER_ACRE = Decimal(40000)  # 20 tons an acre: beyond any single dressing; a slip of the pen


class SpreadingForm(forms.Form):
    """One entry. The property decides which materials and spreaders there are."""

    uuid = forms.UUIDField(widget=forms.HiddenInput)
    spread_on = forms.DateField(label="Spread on", widget=forms.DateInput(attrs={"type": "date"}))
    material = forms.ModelChoiceField(label="Material", queryset=Material.objects.none())
    amount = forms.DecimalField(
        label="Amount spread", min_value=0, max_digits=10, decimal_places=3, help_text="What was really emptied."
    )
    unit = forms.ChoiceField(label="counted in", choices=[(u, UNIT_LABELS[u]) for u in AMOUNT_UNITS])
    package_lb = forms.DecimalField(
        label="Weight of one bag, jug, tote or load", required=False, min_value=Decimal("0.1"), max_digits=9,
        decimal_places=3, help_text="In pounds, as printed on it.",
    )  # fmt: skip
    area = forms.DecimalField(label="Area covered", min_value=Decimal("0.0001"), max_digits=10, decimal_places=4)
    area_unit = forms.ChoiceField(label="measured in", choices=[(u, {"acre": "acres"}.get(u, u)) for u in ACRES])
    applicator = forms.CharField(label="Who spread it", max_length=100)
    worked_in_on = forms.DateField(
        label="Worked in on", required=False, widget=forms.DateInput(attrs={"type": "date"}),
        help_text="Leave empty if it was not worked in.",
    )  # fmt: skip
    worked_in_depth_in = forms.DecimalField(
        label="Worked in to a depth of", required=False, min_value=Decimal("0.5"), max_value=Decimal(18),
        max_digits=4, decimal_places=1,
    )  # fmt: skip
    method = forms.ChoiceField(label="How", required=False, choices=[("", "not noted"), *((m, m) for m in METHODS)])
    spreader = forms.ModelChoiceField(label="Spreader", queryset=Spreader.objects.none(), required=False)
    ground = forms.ChoiceField(label="Ground", required=False, choices=[("", "not noted"), *((g, g) for g in GROUND)])
    weather = forms.CharField(label="Weather", required=False, max_length=100)
    note = forms.CharField(label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, property_: Property, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.property, self.person = property_, person
        self.fields["material"].queryset = Material.objects.filter(property=property_, retired_on__isnull=True)  # type: ignore[attr-defined]
        self.fields["spreader"].queryset = Spreader.objects.filter(property=property_, retired_on__isnull=True)  # type: ignore[attr-defined]
        self.fields["package_lb"].unit = "lb"  # type: ignore[attr-defined]
        self.fields["worked_in_depth_in"].unit = "inches"  # type: ignore[attr-defined]

    def clean_spread_on(self) -> dt.date:
        day: dt.date = self.cleaned_data["spread_on"]
        if day > timezone.localdate():
            raise forms.ValidationError(
                f"{day:%B %-d, %Y} is in the future. Record what was spread, up to today; what is planned is an order."
            )
        if day.year < 1950:
            raise forms.ValidationError(f"{day.isoformat()} is too long ago; allowed are dates from 1950 on.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._check_worked_in(data)
        if not self.errors:
            self._check_amount(data)
        return data

    def _check_worked_in(self, data: dict[str, Any]) -> None:
        on, depth = data.get("worked_in_on"), data.get("worked_in_depth_in")
        if on and data.get("spread_on") and on < data["spread_on"]:
            self.add_error("worked_in_on", "It cannot be worked in before it was spread.")
        if on and on > timezone.localdate():
            self.add_error("worked_in_on", "This day is in the future; leave it empty until it is done.")
        if on and depth is None:
            self.add_error("worked_in_depth_in", "Give the depth it was worked in to, 0.5 to 18 inches.")
        if depth is not None and not on:
            self.add_error("worked_in_on", "Give the day it was worked in, or leave the depth empty.")

    def _check_amount(self, data: dict[str, Any]) -> None:
        """The amount must be convertible, and its rate within what a spreader can mean."""
        if data["unit"] in PACKAGES and not data.get("package_lb"):
            self.add_error("package_lb", f"An amount in {UNIT_LABELS[data['unit']]} needs the weight of one in pounds.")
            return
        analysis = analysis_on(data["material"], data["spread_on"])
        density = analysis.density_lb_per_gal if analysis else None
        try:
            weight = pounds(data["amount"], data["unit"], package_lb=data.get("package_lb"), lb_per_gal=density)
        except ValueError as error:
            self.add_error("unit", f"{str(error)[0].upper()}{str(error)[1:]}.")
            return
        rate = weight / (data["area"] * ACRES[data["area_unit"]])
        if rate > _MOST_LB_PER_ACRE:
            self.add_error(
                "amount",
                f"That is {rate:,.0f} lb per acre; allowed are up to {_MOST_LB_PER_ACRE:,} lb per acre. "
                "Check the amount, its unit and the area covered.",
            )

    def entry(self, plot: Plot, **changes: Any) -> Entry:
        """The cleaned form as an entry for a plot."""
        data = {name: value for name, value in self.cleaned_data.items() if name in Entry.__slots__}
        return Entry(**{**data, "plot": plot, "entered_by": self.person, "entered_at": timezone.now(), **changes})


class SeveralPlotsForm(SpreadingForm):
    """The same material on several plots in one go: one amount, shared by the acres covered."""

    plots = forms.ModelMultipleChoiceField(
        label="Plots", queryset=Plot.objects.none(), widget=forms.CheckboxSelectMultiple,
        help_text="The amount is shared over these plots by their acres.",
    )  # fmt: skip
    field_order = ["plots"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["area"], self.fields["area_unit"]
        in_use = Plot.objects.on_property(self.property.pk).in_use()
        self.fields["plots"].queryset = in_use.order_by("sort_key")  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        chosen: Sequence[Plot] = self.cleaned_data.get("plots") or ()
        self.cleaned_data["area"] = sum((plot.acres for plot in chosen), Decimal(0))
        self.cleaned_data["area_unit"] = "acre"
        return super().clean()


def start_of(
    plot: Plot | None, person: Person, *, material: Material | None = None, day: dt.date | None = None
) -> dict[str, Any]:
    """What the form opens with."""
    return {
        "uuid": uuid4(),
        "spread_on": day or timezone.localdate(),
        "material": material.pk if material else None,
        "area": plot.acres.normalize() if plot else None,
        "area_unit": "acre",
        "applicator": str(person),
    }


def start_of_correction(record: SpreadingRecord) -> dict[str, Any]:
    """A correction opens with what the record says, under a UUID of its own."""
    names = ("spread_on", "unit_entered", "package_lb", "area_unit", "worked_in_on", "worked_in_depth_in", "method",
             "ground", "weather", "applicator", "note")  # fmt: skip
    same = {name.removesuffix("_entered"): getattr(record, name) for name in names}
    return same | {
        "uuid": new_uuid(),
        "material": record.material_id,
        "spreader": record.spreader_id,
        "amount": record.amount_entered.normalize(),
        "area": record.area_entered.normalize(),
    }


def new_uuid() -> UUID:
    return uuid4()
