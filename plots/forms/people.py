"""People of a property, as forms."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password

from plots.forms.plots import printable_text
from plots.models import OwnCrop, Person, Place, Property, Role


class InviteForm(forms.Form):
    kind = forms.ChoiceField(label="Role", choices=Role.Kind.choices)
    email = forms.EmailField(
        label="For whom", required=False, help_text="Only for your own memory; the link is not sent by this page."
    )


class RoleForm(forms.Form):
    kind = forms.ChoiceField(label="Role", choices=Role.Kind.choices)


class JoinForm(forms.Form):
    """A new person who follows an invitation."""

    username = forms.CharField(label="Name to sign in with", max_length=150)
    password = forms.CharField(
        label="Password", widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 10 characters.",
    )  # fmt: skip

    def clean_username(self) -> str:
        name = printable_text(self.cleaned_data["username"].strip())
        if Person.objects.filter(username__iexact=name).exists():
            raise forms.ValidationError("This name is taken. Choose another, or sign in and open the link again.")
        return name

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        validate_password(password, Person(username=self.cleaned_data.get("username", "")))
        return password


class OwnCropForm(forms.ModelForm):  # type: ignore[type-arg]
    """A crop that the catalogue lacks."""

    class Meta:
        model = OwnCrop
        fields = [
            "name", "group", "perennial", "legume", "ph_critical", "target_ph", "floor_ph", "upper_ph",
            "n_lb_per_acre", "source_note",
        ]  # fmt: skip
        labels = {
            "ph_critical": "Stands or falls with pH: sample every year", "target_ph": "Target pH",
            "floor_ph": "Floor: the least pH it does well at", "upper_ph": "Upper limit of pH",
            "n_lb_per_acre": "Nitrogen a season", "source_note": "Where these figures are from",
        }  # fmt: skip

    def __init__(self, *args: Any, property_: Property, groups: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.property = property_
        self.fields["group"] = forms.ChoiceField(label="Kind of crop", choices=groups)
        self.fields["n_lb_per_acre"].unit = "lb/acre"  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        target, floor, upper = data.get("target_ph"), data.get("floor_ph"), data.get("upper_ph")
        if target and floor and floor > target:
            self.add_error("floor_ph", f"The floor {floor} is above the target {target}.")
        if target and upper and upper < target:
            self.add_error("upper_ph", f"The upper limit {upper} is under the target {target}.")
        return data


class PlaceForm(forms.ModelForm):  # type: ignore[type-arg]
    class Meta:
        model = Place
        fields = ["kind", "name", "setback_ft", "setback_rule", "plots_in_reach"]
        labels = {
            "setback_ft": "Keep this far off", "setback_rule": "Whose rule that is",
            "plots_in_reach": "Plots served from this stockpile place",
        }  # fmt: skip
        help_texts = {"setback_ft": "Setbacks are state and local rules; 0 where none is known."}
        widgets = {"plots_in_reach": forms.CheckboxSelectMultiple}

    def __init__(self, *args: Any, property_: Property, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.property = property_
        self.fields["setback_ft"].unit = "ft"  # type: ignore[attr-defined]
        self.fields["plots_in_reach"].queryset = property_.plots.filter(retired_on__isnull=True)  # type: ignore[attr-defined]
