"""Soil tests typed in by hand, changed, and samples marked as lost."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from plots.access import MANAGE, fetch, property_for
from plots.http import CHANGED_MEANWHILE, done, form_page
from plots.models import Property
from plots.services.plots import Stale
from soiltests.forms.entry import SoilTestForm, start_of_test
from soiltests.models import Lab, Sample, SoilTest
from soiltests.services.entry import change_test, enter_test, set_fate

STORED_BEFORE = "This sample was tested by this laboratory already; another entry of it was stored meanwhile."


def _start(request: HttpRequest, property_: Property) -> dict[str, Any]:
    """What an empty form opens with: the plot asked for and the methods of the lab used last."""
    newest = SoilTest.objects.filter(sample__plot__property=property_).order_by("-pk").select_related("lab").first()
    lab: Lab | None = newest.lab if newest else property_.labs.first()
    start: dict[str, Any] = {"depth_top": 0, "depth_unit": "in", "lab": lab, "depth_bottom": 6}
    if request.GET.get("plot", "").isdigit():
        start["plot"] = request.GET["plot"][:18]
    if lab is not None:
        start |= {"ph_method": lab.ph_method, "buffer_method": lab.buffer_method}
        start |= {f"x_{key}": lab.extractant for key in ("p", "k", "mg", "ca")}
    return start


def _after(request: HttpRequest, test: SoilTest, message: str) -> HttpResponse:
    if "another" in request.POST:
        address = f"{reverse('soiltests:new_test')}?property={test.sample.plot.property.code}"
        return done(request, address, message)
    return done(request, reverse("amendments:plot", args=[test.sample.plot_id]), message)


@require_http_methods(["GET", "POST"])
def new_test(request: HttpRequest) -> HttpResponse:
    """Enter a soil test by hand."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = SoilTestForm(request.POST or None, initial=_start(request, property_), property_=property_)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        try:
            test = enter_test(
                data["plot"], lab=data["lab"], sample=form.sample_fields(), test=form.test_fields(),
                measurements=form.measurements,
            )  # fmt: skip
        except IntegrityError:
            form.add_error("sampled_on", STORED_BEFORE)
        else:
            return _after(request, test, f"Entered: soil test of {test.sample}.")
    return form_page(request, "soiltests/test_form.html", form, {"property": property_})


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a soil test; the history keeps what it said before."""
    tests = SoilTest.objects.select_related("sample__plot__property", "lab").prefetch_related("measurements")
    test = fetch(request, tests, pk, allowed=MANAGE, through="sample.plot.property_id")
    property_ = test.sample.plot.property
    form = SoilTestForm(request.POST or None, initial=start_of_test(test), property_=property_, test=test)
    if form.is_bound and form.is_valid():
        try:
            _store(test, form)
        except Stale:
            form.add_error(None, CHANGED_MEANWHILE)
        except IntegrityError:
            form.add_error("sampled_on", STORED_BEFORE)
        else:
            return _after(request, test, f"Changed: soil test of {test.sample}.")
    return form_page(request, "soiltests/test_form.html", form, {"property": property_, "test": test})


def _store(test: SoilTest, form: SoilTestForm) -> None:
    sample: Sample = test.sample
    for name, value in form.sample_fields().items():
        setattr(sample, name, value)
    for name, value in form.test_fields().items():
        setattr(test, name, value)
    test.lab = form.cleaned_data["lab"]
    seen = form.cleaned_data["version"] or 0
    change_test(test, sample=sample, measurements=form.measurements, seen_version=seen)


@require_POST
def fate(request: HttpRequest, pk: int) -> HttpResponse:
    """Mark a sample as lost or repeated, or as taken after all."""
    samples = Sample.objects.select_related("plot__property")
    sample = fetch(request, samples, pk, allowed=MANAGE, through="plot.property_id")
    wanted = request.POST.get("fate", "")
    if wanted not in Sample.Fate.values:
        return done(request, reverse("amendments:plot", args=[sample.plot_id]))
    set_fate(sample, wanted)
    return done(
        request, reverse("amendments:plot", args=[sample.plot_id]), f"Sample {sample}: {sample.get_fate_display()}."
    )
