"""The living page of the look: every part in use, with invented figures."""

from __future__ import annotations

import datetime as dt

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from agronomy.findings import Hazard, Step, check, note, stop
from plots.pictures import ph_picture, ph_spark
from plots.templatetags.trade import STATUSES

TODAY = dt.date(2026, 9, 10)
"""The sample's own day: nothing here depends on the clock."""

SOURCE = "sikora_oregon_2025"

TESTS = [
    (dt.date(2018, 9, 12), 5.3, 0.2),
    (dt.date(2020, 9, 8), 5.9, 0.2),
    (dt.date(2022, 9, 14), 6.25, 0.2),
    (dt.date(2024, 9, 10), 6.1, 0.2),
    (dt.date(2026, 3, 3), 5.85, 0.2),
]
DRESSINGS = [
    (dt.date(2019, 3, 20), "ground limestone", 4000.0, "lime"),
    (dt.date(2021, 4, 2), "0-46-0", 120.0, "fertilizer"),
    (dt.date(2026, 4, 11), "pelletized lime", 1780.0, "lime"),
]


def _band() -> list[tuple[dt.date, float, float, float]]:
    months = [dt.date(2026 + (8 + n) // 12, (8 + n) % 12 + 1, 1) for n in range(0, 34, 3)]
    middle = (5.9, 6.05, 6.15, 6.22, 6.25, 6.26, 6.24, 6.22, 6.18, 6.15, 6.1, 6.06)
    return [
        (day, mid - 0.15 - n / 70, mid, mid + 0.15 + n / 70)
        for n, (day, mid) in enumerate(zip(months, middle, strict=True))
    ]


class SampleForm(forms.Form):
    """One field of every kind."""

    ph = forms.DecimalField(
        label="pH", min_value=3, max_value=10, decimal_places=2, help_text="In water, as the lab reports it."
    )
    amount = forms.DecimalField(label="Spread", min_value=0, help_text="What really left the spreader.")
    unit = forms.ChoiceField(label="Counted in", choices=[("bag", "bags"), ("ton", "tons"), ("lb", "pounds")])
    on = forms.DateField(label="Date", widget=forms.DateInput(attrs={"type": "date"}))
    worked_in = forms.ChoiceField(
        label="Worked in", choices=[("yes", "yes"), ("no", "no")], widget=forms.RadioSelect, required=False
    )
    windy = forms.BooleanField(label="There was wind", required=False)
    note = forms.CharField(label="Note", widget=forms.Textarea(attrs={"rows": 3}), required=False)
    report = forms.FileField(label="The lab's file", required=False)

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["amount"].unit = "bags"  # type: ignore[attr-defined]


WORKING = (
    Step("Requirement at buffer pH 6.2, to pH 6.4, of 100-score lime", "", 2.8, "ton/acre", SOURCE),
    Step("Stone of lime score 62.7", "2.8 / 0.627", 4.4657, "ton/acre"),
    Step("For the plot", "4.47 ton/acre x 1.5 acres", 6.6986, "ton"),
)
FINDINGS = (
    stop("wrong_buffer", given="mehlich", wanted="sikora", source=SOURCE),
    check("split_dressing", limit_ton_per_acre=4.0, dressings=2, ton_per_acre=2.23, months=6),
    note("samples_averaged", count=2),
    note("retest_after_lime", limed_on="2026-04-11", months=12, moved_months=0),
)
HAZARDS = (Hazard("danger", "pto"), Hazard("warning", "caustic_lime"), Hazard("caution", "lime_dust"))


@require_safe
def style(request: HttpRequest) -> HttpResponse:
    """All parts of the look on one page, for whoever builds on them."""
    bound = SampleForm({"ph": "11", "amount": ""}, prefix="wrong")
    rows = [
        ("Owl Bottom", "clover", ph_spark([t[:2] for t in TESTS], target=6.4), 5.85, 6.4, 1.38, key) for key in STATUSES
    ]
    context = {
        "statuses": list(STATUSES),
        "rows": rows,
        "form": SampleForm(),
        "wrong": bound,
        "working": WORKING,
        "findings": FINDINGS,
        "hazards": HAZARDS,
        "page": Paginator(range(500), 50).page(2),
        "picture": ph_picture(
            TESTS, DRESSINGS, _band(), target=6.4, floor=5.8, upper=7.2, today=TODAY, retest_on=dt.date(2027, 9, 1)
        ),
        "bare_picture": ph_picture(
            TESTS[:1], [], [], target=6.4, floor=5.8, upper=7.2, today=TODAY, retest_on=None, identity="bare"
        ),
    }
    return render(request, "settings/style.html", context)
