"""Plots and properties, as forms."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms

from agronomy.lime_requirement import calibrations
from agronomy.nutrients import calibrations as nutrient_calibrations
from plots.models import Plot, Property
from plots.models.plot import LARGEST_PLOT_ACRES
from plots.text import code_key

AREA_UNITS = {"acre": "acres", "ha": "hectares (ha)", "sq ft": "square feet", "m2": "square metres (m2)"}
ACRES_IN = {
    "acre": Decimal(1),
    "ha": Decimal(10000) / Decimal("4046.8564224"),
    "sq ft": 1 / Decimal(43560),
    "m2": 1 / Decimal("4046.8564224"),
}
SMALLEST_PLOT_ACRES = Decimal("0.01")
MONTHS = (
    (1, "January"), (2, "February"), (3, "March"), (4, "April"), (5, "May"), (6, "June"), (7, "July"), (8, "August"),
    (9, "September"), (10, "October"), (11, "November"), (12, "December"),
)  # fmt: skip
FIVE_PLACES = Decimal("0.0001")


def unprintable(text: str) -> bool:
    """Whether text holds control characters or half characters, which no code or name has."""
    return any(unicodedata.category(letter) in ("Cc", "Cs") for letter in text if letter not in "\n\r\t")


def acres_of(area: Decimal, unit: str) -> Decimal:
    """Acres of an area as entered; raises `ValueError` naming what is allowed."""
    if unit not in ACRES_IN:
        raise ValueError(f"{unit!r} is not a unit of area; allowed are {', '.join(ACRES_IN)}")
    if not area.is_finite():
        raise ValueError(f"an area of {area} is not a number")
    acres = area * ACRES_IN[unit]
    if not SMALLEST_PLOT_ACRES <= acres <= LARGEST_PLOT_ACRES:
        raise ValueError(
            f"an area of {area:f} {unit} is {acres:,.4f} acres; allowed are {SMALLEST_PLOT_ACRES} to "
            f"{LARGEST_PLOT_ACRES:,} acres"
        )
    return acres.quantize(FIVE_PLACES, ROUND_HALF_UP)


class PlotForm(forms.ModelForm):  # type: ignore[type-arg]
    """One plot. The area is kept as entered, beside acres."""

    area_unit = forms.ChoiceField(label="measured in", choices=list(AREA_UNITS.items()))
    access_months = forms.TypedMultipleChoiceField(
        label="Reached only in", required=False, coerce=int, choices=MONTHS, widget=forms.CheckboxSelectMultiple,
        help_text="Tick the months in which that machine gets there. None ticked: all year.",
    )  # fmt: skip
    usual_sampling_month = forms.TypedChoiceField(
        label="Usually sampled in", required=False, coerce=int, empty_value=None,
        choices=[("", "no habit yet"), *MONTHS],
    )  # fmt: skip
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Plot
        fields = [
            "code", "name", "area_entered", "area_unit", "acres_from", "texture", "organic_soil", "tillage",
            "depth_limed_in", "access", "access_months", "near_water", "slope", "usual_sampling_month", "target_ph",
            "note",
        ]  # fmt: skip
        labels = {
            "code": "Code", "area_entered": "Area", "acres_from": "Rates go by the area", "texture": "Soil texture",
            "organic_soil": "Organic soil (muck or peat)", "tillage": "Ground", "depth_limed_in": "Depth limed",
            "access": "Heaviest vehicle that reaches it", "near_water": "Water nearby", "slope": "Sloping",
            "target_ph": "Target pH of its own", "note": "Note",
        }  # fmt: skip
        help_texts = {
            "code": "Short, as you write it on a bag: 7 or N-3.",
            "area_entered": "A tenth off in area is a tenth off in lime.",
            "depth_limed_in": "Disk or till depth; for sod, no-till and foot plots the surface depth of your table, "
                              "usually 3 or 4 inches. Never 0.",
            "target_ph": "Leave empty to go by the crop.",
        }  # fmt: skip

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.property = property_
        self.property = property_
        self.fields["depth_limed_in"].unit = "inches"  # type: ignore[attr-defined]
        if self.instance.acres_measured is None:
            del self.fields["acres_from"]

    def clean_code(self) -> str:
        code: str = " ".join(self.cleaned_data["code"].split())
        if unprintable(code):
            raise forms.ValidationError("The code holds characters that cannot be printed. Type it again.")
        same = Plot.objects.filter(property=self.property, code_key=code_key(code)).exclude(pk=self.instance.pk)
        if same.exists():
            raise forms.ValidationError(
                f"There is a plot {same.get().code} already; upper and lower case count as the same."
            )
        return code

    def clean_name(self) -> str:
        return printable_text(self.cleaned_data["name"])

    def clean_note(self) -> str:
        return printable_text(self.cleaned_data["note"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("area_entered") is not None and data.get("area_unit"):
            try:
                self.instance.acres_entered = acres_of(data["area_entered"], data["area_unit"])
            except ValueError as error:
                self.add_error("area_entered", sentence_of(error))
        return data


def printable_text(text: str) -> str:
    """The text, or a form error where it holds what cannot be stored."""
    if unprintable(text):
        raise forms.ValidationError("This holds characters that cannot be printed. Type it again.")
    return text


def sentence_of(error: Exception) -> str:
    text = str(error)
    return f"{text[0].upper()}{text[1:]}."


class PropertyForm(forms.ModelForm):  # type: ignore[type-arg]
    """A property and the figures its manager has settled on."""

    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Property
        fields = [
            "code", "name", "state", "region", "time_zone", "lime_calibration", "fertilizer_calibration", "lime_policy",
            "trigger_gap", "smallest_dressing_lb", "order_cover_percent", "settling_months", "upper_ph",
            "retest_years", "retest_after_lime_months",
        ]  # fmt: skip
        labels = {
            "region": "Climate and soils", "lime_calibration": "Lime by", "fertilizer_calibration": "Fertilizer by",
            "lime_policy": "Lime policy", "trigger_gap": "Lime is called for this far under the target",
            "smallest_dressing_lb": "Smallest dressing worth spreading",
            "order_cover_percent": "A plot counts as ordered when open orders cover",
            "settling_months": "A limed plot settles for", "upper_ph": "Over target, where the crop names no limit",
            "retest_years": "Sample again after", "retest_after_lime_months": "After lime, sample again after",
        }  # fmt: skip
        help_texts = {
            "trigger_gap": "Common practice: 0.3.", "smallest_dressing_lb": "Common practice: 500.",
            "order_cover_percent": "Common practice: 80.", "settling_months": "Common practice: 12.",
            "retest_years": "Common practice: 3.", "retest_after_lime_months": "Common practice: 12.",
        }  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lime = [(key, one.title) for key, one in calibrations().items() if not one.is_estimate]
        nutrients = [(key, one.title) for key, one in nutrient_calibrations().items() if one.gives_rates]
        self.fields["lime_calibration"] = forms.ChoiceField(
            label="Lime by", required=False, choices=[("", "the state's own table, if there is one"), *lime]
        )
        self.fields["fertilizer_calibration"] = forms.ChoiceField(
            label="Fertilizer by", required=False, choices=[("", "the state's own table, if there is one"), *nutrients]
        )
        units = {
            "smallest_dressing_lb": "lb/acre effective CaCO3",
            "order_cover_percent": "% of what is owed",
            "settling_months": "months",
            "retest_years": "years",
            "retest_after_lime_months": "months",
        }
        for name, unit in units.items():
            self.fields[name].unit = unit  # type: ignore[attr-defined]

    def clean_code(self) -> str:
        code = printable_text(" ".join(self.cleaned_data["code"].split()))
        same = Property.objects.filter(code_key=code_key(code)).exclude(pk=self.instance.pk)
        if same.exists():
            raise forms.ValidationError("This code is taken on this installation. Choose another.")
        return code

    def clean_state(self) -> str:
        state: str = self.cleaned_data["state"].strip().upper()
        if state and not (len(state) == 2 and state.isascii() and state.isalpha()):
            raise forms.ValidationError(f"{state!r} is not a state; allowed are its two letters, as IA or NC.")
        return state


class NewPropertyForm(PropertyForm):
    """The first few answers; the rest has sensible figures."""

    class Meta(PropertyForm.Meta):
        fields = ["code", "name", "state", "region", "time_zone"]  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        forms.ModelForm.__init__(self, *args, **kwargs)


class RetireForm(forms.Form):
    on = forms.DateField(label="Retired on", widget=forms.DateInput(attrs={"type": "date"}))


class PartForm(forms.Form):
    """One part of a split plot."""

    code = forms.CharField(label="Code", max_length=20)
    name = forms.CharField(label="Name", max_length=100, required=False)
    area_entered = forms.DecimalField(label="Area", max_digits=10, decimal_places=4)
    area_unit = forms.ChoiceField(label="measured in", choices=list(AREA_UNITS.items()))

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.property = property_

    def clean_code(self) -> str:
        code = printable_text(" ".join(self.cleaned_data["code"].split()))
        if Plot.objects.filter(property=self.property, code_key=code_key(code)).exists():
            raise forms.ValidationError(f"There is a plot {code} already. Give this one another code.")
        return code

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("area_entered") is not None and data.get("area_unit"):
            try:
                data["acres_entered"] = acres_of(data["area_entered"], data["area_unit"])
            except ValueError as error:
                self.add_error("area_entered", sentence_of(error))
        return data


class SplitFormSet(forms.BaseFormSet):  # type: ignore[type-arg]
    def clean(self) -> None:
        codes = [code_key(form.cleaned_data["code"]) for form in self.forms if form.cleaned_data.get("code")]
        if len(codes) != len(set(codes)):
            raise forms.ValidationError("Each part needs a code of its own.")
        if len(codes) < 2:
            raise forms.ValidationError("A split makes at least two plots.")


PartFormSet = forms.formset_factory(PartForm, formset=SplitFormSet, extra=2, min_num=0, max_num=12)


class MergeForm(PartForm):
    """The plots to merge, and what they become."""

    plots = forms.ModelMultipleChoiceField(
        label="Plots to merge", queryset=Plot.objects.none(), widget=forms.CheckboxSelectMultiple
    )
    field_order = ["plots"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        in_use = Plot.objects.on_property(self.property.pk).in_use()
        self.fields["plots"].queryset = in_use.order_by("sort_key")  # type: ignore[attr-defined]

    def clean_plots(self) -> Any:
        chosen = self.cleaned_data["plots"]
        if len(chosen) < 2:
            raise forms.ValidationError("Choose at least two plots.")
        return chosen


def plot_fields(form: forms.Form) -> Mapping[str, Any]:
    """The columns of `Plot` of a part or a merge."""
    names = ("code", "name", "area_entered", "area_unit", "acres_entered")
    return {name: form.cleaned_data[name] for name in names}
