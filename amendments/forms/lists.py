"""Query strings of the lists, cleaned: every name and value from a closed list, anything else ignored."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import QueryDict

from agronomy.status import STATUSES
from amendments.queries.review import SORTS
from plots.models import Vehicle

STATUS_WORDS = {name: name.replace("_", " ") for name in STATUSES}


def printable(text: str) -> str:
    """Text without control characters and lone surrogates, which no stored word contains."""
    return "".join(c for c in text if unicodedata.category(c) not in ("Cc", "Cs")).strip()


class ReviewFilter(forms.Form):
    """What the season review is narrowed to and sorted by."""

    q = forms.CharField(required=False, max_length=60, label="Plot", widget=forms.SearchInput)
    status = forms.ChoiceField(required=False, label="Status", choices=[("", "every status"), *STATUS_WORDS.items()])
    crop = forms.ChoiceField(required=False, label="Crop")
    vehicle = forms.ChoiceField(required=False, label="Reached by", choices=[("", "every vehicle"), *Vehicle.choices])
    sort = forms.ChoiceField(
        required=False,
        choices=[(sign + key, key) for key in SORTS for sign in ("", "-")],
        widget=forms.HiddenInput,
    )
    page = forms.IntegerField(required=False, min_value=1, max_value=100_000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, crops: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["crop"].choices = [("", "every crop"), *crops.items()]  # type: ignore[attr-defined]


def cleaned(query: QueryDict, *, crops: Mapping[str, str]) -> dict[str, Any]:
    """The values that are allowed; a value that is not is left out, as an old or mistyped address may carry one."""
    plain = {name: printable(value) for name, value in query.items()}
    form = ReviewFilter(plain, crops=crops)
    form.is_valid()
    wanted = {name: value for name, value in form.cleaned_data.items() if value}
    return {"sort": "status", "page": 1, **wanted}
