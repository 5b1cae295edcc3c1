"""A place that work depends on, as a form."""

from __future__ import annotations

from typing import Any

from django import forms

from plots.forms.fields import Choice, Count, Words
from plots.forms.plots import PlotsField
from plots.models import Place, Plot, Property


class PlaceForm(forms.Form):
    """Its name, what must keep off, and for a stockpile place the plots served from it."""

    kind = Choice(label="Kind", choices=Place.Kind.choices)
    name = Words(label="Name", longest=100)
    setback_ft = Count(
        label="Keep lime and fertilizer off by", low=0, high=5000, unit="ft", initial=0,
        help_text="0 where no setback is known. Your state's and county's rules, and the label, come first.",
    )  # fmt: skip
    setback_rule = Words(label="Whose rule that is", longest=200, required=False)
    plots_in_reach = PlotsField(
        label="Plots served from this place", queryset=Plot.objects.none(), required=False,
        widget=forms.CheckboxSelectMultiple, help_text="Only for a stockpile place: who shares a truckload left there.",
    )  # fmt: skip

    def __init__(self, *args: Any, property_: Property, place: Place | None = None, **kwargs: Any) -> None:
        if place is not None:
            start = {name: getattr(place, name) for name in ("kind", "name", "setback_ft", "setback_rule")}
            kwargs.setdefault("initial", start | {"plots_in_reach": place.plots_in_reach.all()})
        super().__init__(*args, **kwargs)
        in_use = Plot.objects.on_property(property_.pk).in_use().order_by("sort_key")
        self.fields["plots_in_reach"].queryset = in_use  # type: ignore[attr-defined]
        if not in_use.exists():
            del self.fields["plots_in_reach"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("plots_in_reach") and data.get("kind") not in (Place.Kind.STOCKPILE, None):
            self.add_error("plots_in_reach", "Only a stockpile place serves plots. Untick them, or change the kind.")
        return data

    def columns(self) -> dict[str, Any]:
        """The columns of `Place` that the form has filled."""
        return {name: self.cleaned_data[name] for name in ("kind", "name", "setback_ft", "setback_rule")}
