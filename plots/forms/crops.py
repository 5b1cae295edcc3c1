"""A crop of a property's own, as a form."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from agronomy.crops import GROUP_NAMES, crops
from plots import entering
from plots.forms.fields import Choice, Figure, Words
from plots.models import OwnCrop, Property

_NAMES = (
    "name", "group", "perennial", "legume", "ph_critical", "target_ph", "floor_ph", "upper_ph", "n_lb_per_acre",
    "source_note",
)  # fmt: skip


class OwnCropForm(forms.Form):
    """A crop that the catalogue lacks."""

    name = Words(label="Name", longest=60)
    group = Choice(label="Kind of crop", choices=list(GROUP_NAMES.items()))
    perennial = forms.BooleanField(label="Perennial: stands for years", required=False)
    legume = forms.BooleanField(label="Legume: makes its own nitrogen", required=False)
    ph_critical = forms.BooleanField(label="Fails first when lime is short: sample every year", required=False)
    target_ph = Figure(label="Target pH", low=4, high=8, places=1)
    floor_ph = Figure(label="Floor", low=4, high=8, unit="pH", places=1, help_text="The lowest pH it does well at.")
    upper_ph = Figure(label="Upper limit", low=5, high=9, unit="pH", places=1, initial=Decimal("7.3"))
    n_lb_per_acre = Figure(
        label="Nitrogen a season", low=0, high=300, unit="lb/acre", places=1, initial=Decimal(0),
        help_text="0 for a legume.",
    )  # fmt: skip
    source_note = Words(
        label="Where these figures are from", longest=200, required=False, help_text="The bulletin and its page."
    )

    def __init__(self, *args: Any, property_: Property, crop: OwnCrop | None = None, **kwargs: Any) -> None:
        if crop is not None:
            kwargs.setdefault("initial", {name: getattr(crop, name) for name in _NAMES})
        super().__init__(*args, **kwargs)
        self.property, self.crop = property_, crop

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        others = self.property.own_crops.exclude(pk=self.crop.pk if self.crop else None)
        taken = {one.name.casefold() for one in (*crops().values(), *others)}
        if name.casefold() in taken:
            raise forms.ValidationError(f"There is a crop named {entering.shown(name)} already.")
        return name

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        target, floor, upper = data.get("target_ph"), data.get("floor_ph"), data.get("upper_ph")
        if target is not None and floor is not None and floor > target:
            self.add_error("floor_ph", f"The floor of pH {floor} is above the target of pH {target}; lower it.")
        if target is not None and upper is not None and upper < target:
            self.add_error(
                "upper_ph", f"The limit of pH {upper} is under the target of pH {target}; it must be higher."
            )
        return data
