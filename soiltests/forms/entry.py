"""One soil test typed in from a lab's report."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from plots.models import Plot, Property
from soiltests.analytes import ANALYTES, EXTRACTANTS, Analyte
from soiltests.lab_lines import LAB_LIME_REFERENCES, LAB_LIME_UNITS
from soiltests.methods import BUFFER_METHOD_NAMES, LARGEST_PH, PH_METHOD_NAMES, SMALLEST_PH, check_buffer
from soiltests.models import Lab, Sample, SoilTest
from soiltests.services.entry import MeasurementEntry, read_measurement

EARLIEST = dt.date(1840, 1, 1)
INCH_CM = Decimal("2.54")
_OXIDE_UNITS = {"p": ("ppm P2O5", "lb/acre P2O5"), "k": ("ppm K2O", "lb/acre K2O")}
_ELEMENT = {"p": ("P2O5", "phosphorus (P)"), "k": ("K2O", "potassium (K)")}


@dataclass(frozen=True, slots=True)
class AnalyteFields:
    """The form's fields of one analyte, side by side."""

    analyte: Analyte
    value: forms.BoundField
    unit: forms.BoundField
    extractant: forms.BoundField | None


class SoilTestForm(forms.Form):
    """A sample, what the lab measured of it, and what the lab itself printed as advice."""

    plot = forms.ModelChoiceField(label="Plot", queryset=Plot.objects.none())
    sampled_on = forms.DateField(label="Sampled on", widget=forms.DateInput(attrs={"type": "date"}))
    depth_top = forms.DecimalField(
        label="Depth from", min_value=0, max_value=Decimal(60), max_digits=5, decimal_places=1, initial=0
    )
    depth_bottom = forms.DecimalField(
        label="Depth to", min_value=Decimal("0.5"), max_value=Decimal(100), max_digits=5, decimal_places=1
    )
    depth_unit = forms.ChoiceField(label="Depth in", choices=[("in", "inches"), ("cm", "centimetres")])
    label = forms.CharField(label="Name on the bag", required=False, max_length=60)
    cores = forms.IntegerField(label="Cores in the composite", required=False, min_value=1, max_value=200)
    lab = forms.ModelChoiceField(label="Laboratory", queryset=Lab.objects.none())
    lab_number = forms.CharField(label="The lab's number", required=False, max_length=40)
    reported_on = forms.DateField(label="Reported on", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    ph = forms.DecimalField(
        label="Soil pH", required=False, min_value=SMALLEST_PH, max_value=LARGEST_PH, max_digits=4, decimal_places=2
    )
    ph_method = forms.ChoiceField(label="pH measured", choices=list(PH_METHOD_NAMES.items()))
    buffer_ph = forms.DecimalField(label="Buffer pH", required=False, max_digits=4, decimal_places=2)
    buffer_method = forms.ChoiceField(
        label="Buffer", required=False, choices=[("", "none given"), *BUFFER_METHOD_NAMES.items()]
    )
    lab_lime_amount = forms.DecimalField(
        label="Lime, as the lab printed it", required=False, min_value=0, max_value=Decimal(60000), max_digits=9,
        decimal_places=3,
    )  # fmt: skip
    lab_lime_unit = forms.ChoiceField(
        label="in", required=False, choices=[("", "choose"), *((u, u) for u in LAB_LIME_UNITS)]
    )
    lab_lime_target_ph = forms.DecimalField(
        label="for a target pH of", required=False, min_value=4, max_value=8, max_digits=3, decimal_places=1
    )
    lab_lime_depth_in = forms.DecimalField(
        label="over a depth of", required=False, min_value=1, max_value=12, max_digits=4, decimal_places=1
    )
    lab_lime_reference = forms.ChoiceField(
        label="as an amount of", required=False,
        choices=[("", "not said"), *((key, ref.label) for key, ref in LAB_LIME_REFERENCES.items())],
        help_text="Without it the line cannot be turned into a product and is only shown.",
    )  # fmt: skip
    lab_n = forms.DecimalField(label="N", required=False, min_value=0, max_value=500, max_digits=6, decimal_places=1)
    lab_p2o5 = forms.DecimalField(
        label="P2O5", required=False, min_value=0, max_value=800, max_digits=6, decimal_places=1
    )
    lab_k2o = forms.DecimalField(
        label="K2O", required=False, min_value=0, max_value=800, max_digits=6, decimal_places=1
    )
    lab_crop = forms.CharField(label="for the crop", required=False, max_length=60)
    note = forms.CharField(label="Note", required=False, max_length=300)
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, property_: Property, test: SoilTest | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.test = test
        self.fields["plot"].queryset = Plot.objects.on_property(property_.pk).in_use().order_by("sort_key")  # type: ignore[attr-defined]
        self.fields["lab"].queryset = property_.labs.all()  # type: ignore[attr-defined]
        self.fields["lab_lime_depth_in"].unit = "inches"  # type: ignore[attr-defined]
        for name in ("lab_n", "lab_p2o5", "lab_k2o"):
            self.fields[name].unit = "lb/acre"  # type: ignore[attr-defined]
        for analyte in ANALYTES.values():
            self._add_analyte(analyte)

    def _add_analyte(self, analyte: Analyte) -> None:
        units = [*analyte.units, *_OXIDE_UNITS.get(analyte.key, ())]
        self.fields[f"m_{analyte.key}"] = forms.CharField(label=analyte.name, required=False, max_length=30)
        self.fields[f"u_{analyte.key}"] = forms.ChoiceField(
            label=f"{analyte.name}: unit", required=False, choices=[("", "unit"), *((u, u) for u in units)]
        )
        if analyte.extracted:
            self.fields[f"x_{analyte.key}"] = forms.ChoiceField(
                label=f"{analyte.name}: extractant", required=False,
                choices=[("", "extractant not given"), *EXTRACTANTS.items()],
            )  # fmt: skip

    def analyte_rows(self) -> Iterator[AnalyteFields]:
        """The analytes with their fields, for the page's table."""
        for key, analyte in ANALYTES.items():
            extractant = self[f"x_{key}"] if analyte.extracted else None
            yield AnalyteFields(analyte, self[f"m_{key}"], self[f"u_{key}"], extractant)

    def clean_sampled_on(self) -> dt.date:
        return _past(self.cleaned_data["sampled_on"], "A sample")

    def clean_reported_on(self) -> dt.date | None:
        day = self.cleaned_data["reported_on"]
        return None if day is None else _past(day, "A report")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._check_depth(data)
        self._check_buffer(data)
        self._check_lab_line(data)
        self.measurements = [entry for key in ANALYTES if (entry := self._measurement(key, data))]
        if data.get("ph") is None and not self.measurements and not self.errors:
            self.add_error("ph", "Give a pH or at least one measured figure; a soil test without either says nothing.")
        if not self.errors:
            self._check_duplicate(data)
        return data

    def _check_depth(self, data: dict[str, Any]) -> None:
        top, bottom = data.get("depth_top"), data.get("depth_bottom")
        if top is not None and bottom is not None and bottom <= top:
            self.add_error("depth_bottom", f"The depth ends at {bottom} and begins at {top}; it must end deeper.")

    def _check_buffer(self, data: dict[str, Any]) -> None:
        value = data.get("buffer_ph")
        if value is None:
            return
        try:
            check_buffer(value, data.get("buffer_method", ""))
        except ValueError as error:
            self.add_error("buffer_ph" if data.get("buffer_method") else "buffer_method", _sentence(error))

    def _check_lab_line(self, data: dict[str, Any]) -> None:
        if data.get("lab_lime_amount") is not None and not data.get("lab_lime_unit"):
            self.add_error("lab_lime_unit", f"The lab's lime needs its unit; allowed are {', '.join(LAB_LIME_UNITS)}.")

    def _measurement(self, key: str, data: dict[str, Any]) -> MeasurementEntry | None:
        text = (data.get(f"m_{key}") or "").strip()
        if not text:
            return None
        unit = data.get(f"u_{key}") or ""
        if unit in _OXIDE_UNITS.get(key, ()):
            oxide, element = _ELEMENT[key]
            self.add_error(
                f"u_{key}",
                f"{text} is given as {oxide}. Rates are worked out from {element}; a soil figure in {oxide} must not "
                f"be put into a rate table. Ask the lab for the figure as {element}.",
            )
            return None
        entry = MeasurementEntry(key, text, unit, data.get(f"x_{key}") or "")
        try:
            read_measurement(entry)
        except ValueError as error:
            self.add_error(f"m_{key}" if unit else f"u_{key}", _sentence(error))
            return None
        return entry

    def _check_duplicate(self, data: dict[str, Any]) -> None:
        top, bottom = self.depth_in()
        same = SoilTest.objects.filter(
            lab=data["lab"], sample__plot=data["plot"], sample__sampled_on=data["sampled_on"],
            sample__depth_top_in=top, sample__depth_bottom_in=bottom, sample__label=data["label"],
        ).exclude(pk=self.test.pk if self.test else None)  # fmt: skip
        if same.exists():
            self.add_error(
                "sampled_on",
                f"{data['lab']} has a test of {data['plot']} sampled on {data['sampled_on']:%B %-d, %Y} at this depth "
                "already. Give the sample another name on the bag if it is a second one, or change the test there is.",
            )

    def depth_in(self) -> tuple[Decimal, Decimal]:
        """Top and bottom in inches, to the tenth that a sample's depth is kept in."""
        factor = INCH_CM if self.cleaned_data["depth_unit"] == "cm" else Decimal(1)
        tenth = Decimal("0.1")
        top, bottom = self.cleaned_data["depth_top"] / factor, self.cleaned_data["depth_bottom"] / factor
        return top.quantize(tenth), bottom.quantize(tenth)

    def sample_fields(self) -> dict[str, Any]:
        """The columns of `Sample`."""
        data = self.cleaned_data
        top, bottom = self.depth_in()
        entered = f"{data['depth_top'].normalize():f}-{data['depth_bottom'].normalize():f} {data['depth_unit']}"
        return {
            "sampled_on": data["sampled_on"], "depth_top_in": top, "depth_bottom_in": bottom, "label": data["label"],
            "depth_entered": entered, "cores": data["cores"],
        }  # fmt: skip

    def test_fields(self) -> dict[str, Any]:
        """The columns of `SoilTest`."""
        names = [f.name for f in SoilTest._meta.concrete_fields if f.name in self.cleaned_data]
        return {name: self.cleaned_data[name] for name in names if name not in ("lab", "version")}


def _past(day: dt.date, what: str) -> dt.date:
    if day > timezone.localdate():
        raise forms.ValidationError(f"{day:%B %-d, %Y} is in the future. {what} cannot be dated after today.")
    if day < EARLIEST:
        raise forms.ValidationError(f"{day.isoformat()} is too long ago; allowed are dates from {EARLIEST.year} on.")
    return day


def _sentence(error: ValueError) -> str:
    text = str(error)
    return f"{text[0].upper()}{text[1:]}."


def start_of_test(test: SoilTest) -> dict[str, Any]:
    """What the form opens with when a test is changed."""
    sample: Sample = test.sample
    start = {f.name: f.value_from_object(test) for f in SoilTest._meta.concrete_fields}
    start |= {
        "plot": sample.plot_id, "sampled_on": sample.sampled_on, "depth_top": sample.depth_top_in,
        "depth_bottom": sample.depth_bottom_in, "depth_unit": "in", "label": sample.label, "cores": sample.cores,
    }  # fmt: skip
    for row in test.measurements.all():
        start |= {f"m_{row.analyte}": row.value_entered, f"u_{row.analyte}": row.unit_entered}
        start[f"x_{row.analyte}"] = row.extractant
    return start
