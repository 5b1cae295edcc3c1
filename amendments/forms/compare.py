"""The query string of the material comparison, cleaned."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict

from agronomy.comparison import SORTS
from agronomy.liming_material import schemes
from amendments.forms.lists import printable
from plots.models import Plot

SORT_WORDS = [(sign + key, key) for key in SORTS for sign in ("", "-")]


class CompareFilter(forms.Form):
    """Which plots are compared for, by which schemes beside, and in which order."""

    plot = forms.MultipleChoiceField(
        required=False, label="Plots", widget=forms.CheckboxSelectMultiple,
        help_text="Mark none to compare for every plot that owes lime.",
    )  # fmt: skip
    scheme = forms.MultipleChoiceField(
        required=False, label="Also show the value by", widget=forms.CheckboxSelectMultiple,
        help_text="The same stone has another value in each state. The rate follows from the plot's own only.",
    )  # fmt: skip
    sort = forms.ChoiceField(required=False, choices=SORT_WORDS, widget=forms.HiddenInput)

    def __init__(self, *args: Any, plots: Sequence[Plot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["plot"].choices = [(str(plot.pk), str(plot.code)) for plot in plots]  # type: ignore[attr-defined]
        named = sorted((one.name, key) for key, one in schemes().items())
        self.fields["scheme"].choices = [(key, name) for name, key in named]  # type: ignore[attr-defined]


def cleaned_comparison(query: QueryDict, *, plots: Sequence[Plot]) -> tuple[CompareFilter, dict[str, Any]]:
    """The form as asked and its allowed values; what is not in the closed lists is left out."""
    known = {str(plot.pk) for plot in plots}
    wanted = {
        "plot": [pk for pk in query.getlist("plot") if pk in known],
        "scheme": [key for key in dict.fromkeys(query.getlist("scheme")) if key in schemes()],
    }
    sort = printable(query.get("sort", ""))
    chosen = sort if sort in dict(SORT_WORDS) else "cost"
    form = CompareFilter(initial={**wanted, "sort": chosen}, plots=plots)
    return form, {**wanted, "sort": chosen}
