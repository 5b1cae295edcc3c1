"""Plots as forms: one plot, its retirement, its parts, and the plot that several became."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from plots import entering
from plots.forms.fields import Area, Choice, Code, Day, Figure, Number, Version, Words, refuse
from plots.models import Plot, Property, Tillage, Vehicle
from plots.services.plot_import import TEXTURE_NAMES
from plots.text import code_key

MONTHS = list(enumerate(entering.MONTHS, start=1))
PARTS = 6
AREA_TOLERANCE = Decimal("0.05")
"""Parts of a split, or a merged plot, may differ by a twentieth from what there was before it is asked about."""


def _free_code(property_: Property, code: str, *, besides: Plot | None = None) -> str:
    """The code, if no other plot of the property has it."""
    same = Plot.objects.filter(property=property_, code_key=code_key(code))
    found = same.exclude(pk=besides.pk if besides else None).first()
    if found is not None:
        retired = ", which is retired" if found.retired_on else ""
        raise forms.ValidationError(
            f"Code {entering.shown(code)} is taken: there is a plot {found.code}{retired}. "
            "Capital and small letters count as the same."
        )
    return code


class PlotForm(forms.Form):
    """One plot. The area is kept as entered, beside acres."""

    code = Code(label="Code", help_text="Short, as you write it on a sample bag: 7 or N-3.")
    name = Words(label="Name", longest=entering.LONGEST_NAME, required=False)
    area_entered = Area(label="Area", help_text="A tenth off in area is a tenth off in lime.")
    area_unit = Choice(label="measured in", choices=list(entering.AREA_UNITS.items()), initial="acre")
    acres_from = Choice(label="Rates go by the area", choices=Plot.AcresFrom.choices, widget=forms.RadioSelect)
    texture = Choice(label="Soil texture", required=False, choices=[("", "not known"), *TEXTURE_NAMES.items()])
    organic_soil = forms.BooleanField(label="Organic soil (muck or peat)", required=False)
    tillage = Choice(label="Ground", choices=Tillage.choices, initial=Tillage.TILLED)
    depth_limed_in = Figure(
        label="Depth limed", low=entering.DEPTH_IN[0], high=entering.DEPTH_IN[1], unit="inches", places=1,
        initial=entering.USUAL_DEPTH_IN,
        help_text="Disk or till depth. For sod, no-till and foot plots the surface depth of the table you go by, "
                  "usually 3 or 4 inches; never 0.",
    )  # fmt: skip
    access = Choice(label="Heaviest vehicle that reaches it", choices=Vehicle.choices, initial=Vehicle.TRACTOR)
    access_months = forms.TypedMultipleChoiceField(
        label="Reached only in", required=False, coerce=int, choices=MONTHS, widget=forms.CheckboxSelectMultiple,
        help_text="The months in which that vehicle gets there. None ticked: all year.",
        error_messages={"invalid_choice": "A month ticked is not known; choose from the list."},
    )  # fmt: skip
    near_water = forms.BooleanField(label="Water nearby", required=False)
    slope = forms.BooleanField(label="Sloping", required=False)
    usual_sampling_month = Number(label="Usually sampled in", required=False, choices=[("", "no habit yet"), *MONTHS])
    target_ph = Figure(
        label="Target pH of its own", low=entering.TARGET_PH[0], high=entering.TARGET_PH[1], places=1, required=False,
        help_text="Leave empty to go by the crop.",
    )  # fmt: skip
    note = Words(
        label="Note", longest=entering.LONGEST_NOTE, lines=True, required=False,
        help_text="What the next person must know: a gate code, a wet corner, the creek.",
    )  # fmt: skip
    version = Version()

    def __init__(self, *args: Any, property_: Property, plot: Plot | None = None, **kwargs: Any) -> None:
        if plot is not None:
            kwargs.setdefault("initial", start_of(plot))
        super().__init__(*args, **kwargs)
        self.property, self.plot = property_, plot
        if plot is None or plot.acres_measured is None:
            del self.fields["acres_from"]

    def clean_code(self) -> str:
        return _free_code(self.property, self.cleaned_data["code"], besides=self.plot)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        _read_area(self, data)
        return data

    def columns(self) -> dict[str, Any]:
        """The columns of `Plot` that the form has filled."""
        return {name: value for name, value in self.cleaned_data.items() if name != "version"}


def _read_area(form: forms.Form, data: dict[str, Any], *, name: str = "area_entered", unit: str = "area_unit") -> None:
    """Read an area by its unit; what is not possible is said at the area."""
    if data.get(name) in (None, ""):
        data[name] = None
        return
    try:
        if not data.get(unit):  # the unit has its own complaint
            entering.number(data[name], label="An area of")
        else:
            data[name], data[name.replace("area", "acres")] = entering.area(data[name], data[unit])
    except ValueError as error:
        form.add_error(name, refuse(error))


def start_of(plot: Plot) -> dict[str, Any]:
    """What the form of a plot opens with."""
    names = (
        "code", "name", "area_entered", "area_unit", "acres_from", "texture", "organic_soil", "tillage",
        "depth_limed_in", "access", "access_months", "near_water", "slope", "usual_sampling_month", "target_ph", "note",
        "version",
    )  # fmt: skip
    return {name: getattr(plot, name) for name in names}


class RetireForm(forms.Form):
    on = Day(
        label="Retired on", earliest=entering.FIRST_DAY, latest=timezone.localdate,
        why="A plot is retired when it is given up, not before.",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class PartFields:
    """The fields of one part, side by side."""

    number: int
    code: forms.BoundField
    name: forms.BoundField
    area: forms.BoundField


class SplitForm(forms.Form):
    """The parts a plot is split into, all measured in one unit. Lines left empty make no part."""

    on = Day(label="Split on", earliest=entering.FIRST_DAY, latest=timezone.localdate)
    area_unit = Choice(label="Areas measured in", choices=list(entering.AREA_UNITS.items()))
    keep_crop = forms.BooleanField(label="What grows here grows on in every part", required=False, initial=True)
    area_is_meant = forms.BooleanField(
        label="The parts together differ from the plot, and that is meant", required=False
    )

    def __init__(self, *args: Any, plot: Plot, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"on": timezone.localdate(), "area_unit": plot.area_unit})
        super().__init__(*args, **kwargs)
        self.plot = plot
        for number in range(1, PARTS + 1):
            needed = number <= 2
            self.fields[f"code_{number}"] = Code(label=f"Code of part {number}", required=needed)
            self.fields[f"name_{number}"] = Words(
                label=f"Name of part {number}", longest=entering.LONGEST_NAME, required=False
            )
            self.fields[f"area_{number}"] = Area(label=f"Area of part {number}", required=needed)

    def rows(self) -> Iterator[PartFields]:
        for number in range(1, PARTS + 1):
            yield PartFields(number, *(self[f"{name}_{number}"] for name in ("code", "name", "area")))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self.parts: list[dict[str, Any]] = []
        for number in range(1, PARTS + 1):
            self._read_part(number, data)
        if not self.errors:
            self._compare_areas(data)
        return data

    def _read_part(self, number: int, data: dict[str, Any]) -> None:
        _read_area(self, data, name=f"area_{number}")
        code, area = data.get(f"code_{number}"), data.get(f"area_{number}")
        if number > 2 and not code and (area is not None or data.get(f"name_{number}")):
            self.add_error(f"code_{number}", f"Part {number} has no code; give it one or empty its line.")
        if number > 2 and code and area is None and f"area_{number}" not in self.errors:
            self.add_error(f"area_{number}", f"Part {number} has no area; allowed are 0.01 to 2,000 acres.")
        if not code or area is None:
            return
        try:
            # The plot that is split keeps its code: its tests and records stand under it.
            _free_code(self.plot.property, code)
        except forms.ValidationError as error:
            self.add_error(f"code_{number}", error)
        if code_key(code) in {code_key(part["code"]) for part in self.parts}:
            self.add_error(f"code_{number}", f"Code {entering.shown(code)} stands in two lines; each part has its own.")
        self.parts.append(
            {"code": code, "name": data[f"name_{number}"], "area_entered": area, "area_unit": data.get("area_unit"),
             "acres_entered": data.get(f"acres_{number}")}
        )  # fmt: skip

    def _compare_areas(self, data: dict[str, Any]) -> None:
        total = sum((part["acres_entered"] for part in self.parts), Decimal(0))
        if _differs(total, self.plot.acres) and not data["area_is_meant"]:
            self.add_error(
                "area_is_meant",
                f"The parts have {_acres(total)} together and the plot has {_acres(self.plot.acres)}. "
                "Correct the areas, or tick this if it is meant.",
            )


def _differs(area: Decimal, before: Decimal) -> bool:
    return abs(area - before) > before * AREA_TOLERANCE


def _acres(area: Decimal) -> str:
    return f"{area.normalize():,f} acres"


class PlotsField(forms.ModelMultipleChoiceField):
    """Plots by their keys; one that is no plot here, or no key at all, is refused before the database is asked."""

    def clean(self, value: Any) -> Any:
        known = {str(pk) for pk in self.queryset.values_list("pk", flat=True)}
        if any(str(key) not in known for key in value or ()):
            raise forms.ValidationError("One of the plots ticked is not in use on this property any more.")
        return super().clean(value)


class MergeForm(forms.Form):
    """The plots to merge, and what they become."""

    plots = PlotsField(
        label="Plots to merge", queryset=Plot.objects.none(), widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick the plots to merge, at least two."},
    )  # fmt: skip
    on = Day(label="Merged on", earliest=entering.FIRST_DAY, latest=timezone.localdate)
    code = Code(label="Code of the new plot")
    name = Words(label="Name of the new plot", longest=entering.LONGEST_NAME, required=False)
    area_entered = Area(label="Area", required=False, help_text="Leave empty for the sum of the plots, in acres.")
    area_unit = Choice(label="measured in", choices=list(entering.AREA_UNITS.items()), initial="acre")
    keep_crop = forms.BooleanField(label="What grows on the largest of them grows on", required=False, initial=True)
    area_is_meant = forms.BooleanField(label="The area differs from the sum, and that is meant", required=False)

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.property = property_
        self.fields["plots"].queryset = Plot.objects.on_property(property_.pk).in_use().order_by("sort_key")  # type: ignore[attr-defined]

    def clean_plots(self) -> list[Plot]:
        chosen = list(self.cleaned_data["plots"])
        if len(chosen) < 2:
            raise forms.ValidationError(f"Only plot {chosen[0].code} is ticked; a merge takes at least two.")
        return chosen

    def clean_code(self) -> str:
        return _free_code(self.property, self.cleaned_data["code"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not data.get("area_entered") and "area_entered" not in self.errors:
            data["area_entered"] = sum((plot.acres for plot in data.get("plots") or ()), Decimal(0)) or None
            data["area_unit"] = "acre"
        _read_area(self, data)
        if not self.errors:
            self._compare_areas(data)
        return data

    def _compare_areas(self, data: dict[str, Any]) -> None:
        total = sum((plot.acres for plot in data["plots"]), Decimal(0))
        if _differs(data["acres_entered"], total) and not data["area_is_meant"]:
            self.add_error(
                "area_is_meant",
                f"The plots have {_acres(total)} together and the new one has {_acres(data['acres_entered'])}. "
                "Correct the area, or tick this if it is meant.",
            )

    def columns(self) -> Mapping[str, Any]:
        """The columns of the new plot."""
        names = ("code", "name", "area_entered", "area_unit", "acres_entered")
        return {name: self.cleaned_data[name] for name in names}
