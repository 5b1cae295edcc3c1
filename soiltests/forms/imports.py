"""Lab reports: the upload, and what its columns mean."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

from django import forms
from django.utils import timezone

from plots.models import Plot, Property
from plots.tables import Unreadable
from soiltests.analytes import ANALYTES, EXTRACTANTS
from soiltests.lab_lines import LAB_LIME_REFERENCES, LAB_LIME_UNITS
from soiltests.methods import BUFFER_METHOD_NAMES, PH_METHOD_NAMES
from soiltests.models import Lab, LabReport
from soiltests.services.columns import ROLES
from soiltests.services.imports import matches
from soiltests.services.rows import DATE_ORDERS
from soiltests.services.uploads import table_of

ALL_UNITS = tuple(dict.fromkeys(unit for analyte in ANALYTES.values() for unit in analyte.units))


class LabForm(forms.ModelForm):  # type: ignore[type-arg]
    """A laboratory with its usual methods."""

    class Meta:
        model = Lab
        fields = ["name", "ph_method", "buffer_method", "extractant", "fee"]

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.property = property_
        self.fields["ph_method"] = forms.ChoiceField(label="Measures pH", choices=list(PH_METHOD_NAMES.items()))
        self.fields["buffer_method"] = forms.ChoiceField(
            label="Buffer", required=False, choices=[("", "none"), *BUFFER_METHOD_NAMES.items()]
        )
        self.fields["extractant"] = forms.ChoiceField(
            label="Extractant of P and K", required=False, choices=[("", "not known"), *EXTRACTANTS.items()]
        )
        self.fields["fee"].label = "Fee a sample"
        self.fields["fee"].unit = "dollars"  # type: ignore[attr-defined]

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"].strip()
        if Lab.objects.filter(property=self.instance.property, name=name).exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError(f"There is a laboratory named {name} already.")
        return name


class UploadForm(forms.Form):
    """A file, or the table pasted."""

    lab = forms.ModelChoiceField(label="Laboratory", queryset=Lab.objects.none())
    file = forms.FileField(
        label="File", required=False, help_text="CSV, TSV or XLSX, its first row naming the columns."
    )
    pasted = forms.CharField(
        label="or paste the table here", required=False, strip=False, widget=forms.Textarea(attrs={"rows": 8})
    )

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lab"].queryset = property_.labs.all()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        file = data.get("file")
        content = file.read() if file else (data.get("pasted") or "").encode("utf-8", "surrogatepass")
        try:
            data["table"] = table_of(content, name=file.name if file else "")
            if len(data["table"]) < 2:
                raise Unreadable("The table has only one row; the first names the columns, the samples follow.")
        except Unreadable as error:
            self.add_error("file" if file else "pasted", str(error))
        data["content"] = content if file else b""
        return data


class ColumnsForm(forms.Form):
    """What each column means, how dates and numbers are written, and which plot each sample name is."""

    date_order = forms.ChoiceField(label="Dates are written", choices=list(DATE_ORDERS.items()))
    decimal = forms.ChoiceField(label="Decimals are written", choices=[(".", "5.6"), (",", "5,6")])
    sampled_on = forms.DateField(
        label="Sampled on, where no column says", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    depth_bottom_in = forms.DecimalField(
        label="Depth, where no column says", min_value=1, max_value=48, max_digits=4, decimal_places=1
    )
    ph_method = forms.ChoiceField(label="pH measured", choices=list(PH_METHOD_NAMES.items()))
    buffer_method = forms.ChoiceField(
        label="Buffer", required=False, choices=[("", "none"), *BUFFER_METHOD_NAMES.items()]
    )
    lab_lime_unit = forms.ChoiceField(
        label="The lab's lime is in",
        required=False,
        choices=[("", "no such column"), *((u, u) for u in LAB_LIME_UNITS)],
    )
    lab_lime_reference = forms.ChoiceField(
        label="as an amount of", required=False,
        choices=[("", "not said"), *((key, ref.label) for key, ref in LAB_LIME_REFERENCES.items())],
    )  # fmt: skip
    lab_lime_target_ph = forms.DecimalField(
        label="for a target pH of", required=False, min_value=4, max_value=8, max_digits=3, decimal_places=1
    )
    lab_lime_depth_in = forms.DecimalField(
        label="over a depth of", required=False, min_value=1, max_value=12, max_digits=4, decimal_places=1
    )

    def __init__(self, *args: Any, report: LabReport, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {name: report.choices.get(name) for name in self.base_fields})
        super().__init__(*args, **kwargs)
        self.report = report
        self.fields["depth_bottom_in"].unit = self.fields["lab_lime_depth_in"].unit = "inches"  # type: ignore[attr-defined]
        self.names = matches(report)
        self._add_columns()
        self._add_names()

    def _add_columns(self) -> None:
        for number, heading in enumerate(self.report.table[0]):
            chosen = self.report.choices["columns"].get(str(number), {})
            self.fields[f"role_{number}"] = forms.ChoiceField(
                label=f"{heading}: means", required=False, choices=list(ROLES.items()), initial=chosen.get("role", "")
            )
            units = [("", "no unit"), ("in", "inches"), ("cm", "cm"), *((u, u) for u in ALL_UNITS)]
            self.fields[f"unit_{number}"] = forms.ChoiceField(
                label=f"{heading}: unit", required=False, choices=units, initial=chosen.get("unit", "")
            )
            self.fields[f"extractant_{number}"] = forms.ChoiceField(
                label=f"{heading}: extractant", required=False, choices=[("", "none"), *EXTRACTANTS.items()],
                initial=chosen.get("extractant", ""),
            )  # fmt: skip

    def _add_names(self) -> None:
        """Only the names that are not surely a plot are asked for; a suggestion is named, never chosen."""
        plots = list(Plot.objects.on_property(self.report.property_id).in_use().order_by("sort_key"))
        codes = {plot.pk: str(plot) for plot in plots}
        asked = [match for match in self.names.values() if match.plot_id is None]
        self.asked = asked[:200]
        for number, match in enumerate(self.asked):
            near = f"perhaps {codes[match.suggested_id]}" if match.suggested_id else ""
            self.fields[f"name_{number}"] = forms.ChoiceField(
                label=match.name, required=False, help_text=near,
                choices=[("", "not matched"), ("skip", "leave these rows out"),
                         *((str(pk), name) for pk, name in codes.items())],
                initial=str(self.report.choices.get("matches", {}).get(match.name, "")),
            )  # fmt: skip

    def column_rows(self) -> Iterator[tuple[str, str, forms.BoundField, forms.BoundField, forms.BoundField]]:
        """Each column with its heading, its first value and its three fields."""
        first = self.report.table[1]
        for number, heading in enumerate(self.report.table[0]):
            example = first[number] if number < len(first) else ""
            yield (heading, example, self[f"role_{number}"], self[f"unit_{number}"], self[f"extractant_{number}"])

    def name_fields(self) -> list[forms.BoundField]:
        return [self[f"name_{number}"] for number in range(len(self.asked))]

    def clean_sampled_on(self) -> dt.date | None:
        day: dt.date | None = self.cleaned_data["sampled_on"]
        if day and day > timezone.localdate():
            raise forms.ValidationError(f"{day:%B %-d, %Y} is in the future.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        roles = [data.get(f"role_{number}") for number in range(len(self.report.table[0]))]
        if "plot" not in roles:
            self.add_error(None, "Say which column names the plot or sample.")
        twice = {role for role in roles if role and roles.count(role) > 1}
        if twice:
            named = ", ".join(ROLES[role] for role in sorted(twice))
            self.add_error(None, f"Only one column can be each of: {named}.")
        if "sampled_on" not in roles and not data.get("sampled_on"):
            self.add_error("sampled_on", "No column says when the samples were taken; give the date here.")
        self._check_units(data, roles)
        return data

    def _check_units(self, data: Mapping[str, Any], roles: list[str | None]) -> None:
        for number, role in enumerate(roles):
            analyte = ANALYTES.get(role or "")
            unit = data.get(f"unit_{number}")
            if analyte is not None and unit not in analyte.units:
                named = f"{unit!r} is not a unit of it" if unit else "its unit is missing"
                self.add_error(f"unit_{number}", f"{analyte.name}: {named}; allowed are {', '.join(analyte.units)}.")

    def choices(self) -> dict[str, Any]:
        """What is stored with the report."""
        data = self.cleaned_data
        columns = {
            str(number): {
                "role": data[f"role_{number}"], "unit": data[f"unit_{number}"],
                "extractant": data[f"extractant_{number}"],
            }
            for number in range(len(self.report.table[0]))
        }  # fmt: skip
        plain = {name: "" if data[name] is None else str(data[name]) for name in self.base_fields}
        chosen = {match.name: data.get(f"name_{number}", "") for number, match in enumerate(self.asked)}
        kept = {**self.report.choices.get("matches", {}), **chosen}
        return {**plain, "columns": columns, "matches": {name: value for name, value in kept.items() if value}}
