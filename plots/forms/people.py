"""People of a property, as forms."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from plots import entering
from plots.forms.fields import Choice, Number, Words
from plots.models import Person, Role

DAYS_OPEN = [(1, "1 day"), (7, "7 days"), (30, "30 days")]


class InviteForm(forms.Form):
    kind = Choice(label="Role", choices=Role.Kind.choices, initial=Role.Kind.HAND)
    days = Number(label="The link works for", choices=DAYS_OPEN, initial=7)
    email = forms.EmailField(
        label="For whom", required=False, max_length=254, help_text="A mail address, to tell open links apart. "
        "Nothing is sent: you hand the link over yourself.",
    )  # fmt: skip


class RoleForm(forms.Form):
    kind = Choice(label="Role", choices=Role.Kind.choices)


class JoinForm(forms.Form):
    """A new person who follows an invitation."""

    username = Words(
        label="Name to sign in with", longest=150, help_text="Letters, digits and @ . + - _ only.", invisible=False
    )
    password = forms.CharField(
        label="Password", strip=False, help_text="At least 10 characters.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )  # fmt: skip
    again = forms.CharField(
        label="The same password again", strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )  # fmt: skip

    def clean_username(self) -> str:
        name: str = self.cleaned_data["username"]
        try:
            Person.username_validator(name)
        except ValidationError:
            raise forms.ValidationError(
                f"The name {entering.shown(name)} has a sign or a blank that no name may have; allowed are letters, "
                "digits and @ . + - _."
            ) from None
        if Person.objects.filter(username__iexact=name).exists():
            raise forms.ValidationError("This name is taken. Choose another, or sign in and open the link again.")
        return name

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        password = data.get("password")
        if password and data.get("again") and password != data["again"]:
            self.add_error("again", "The two passwords differ. Type both again.")
        if password:
            try:
                validate_password(password, Person(username=data.get("username", "")))
            except ValidationError as error:
                self.add_error("password", error)
        return data
