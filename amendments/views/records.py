"""Entering what was spread, correcting it, and the property's book of it."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from amendments.forms.records import SeveralPlotsForm, SpreadingForm, start_of, start_of_correction
from amendments.models import SpreadingRecord
from amendments.services.hazards import spreading_hazards
from amendments.services.records import (
    AlreadyCorrected,
    OtherContent,
    correct_record,
    part_uuid,
    record_shared_load,
    record_spreading,
    shares_by_area,
    void_record,
)
from plots.access import RECORD, fetch, may, plot_for, property_for
from plots.http import done, form_page
from plots.models import Plot, Property

SENT_BEFORE = "An entry with this number is stored already, with other content. Nothing was changed; correct that one."
PAGE_LENGTH = 50


def _plot_address(plot_id: int) -> str:
    return reverse("amendments:plot", args=[plot_id])


def _context(property_: Property, plot: Plot | None = None) -> dict[str, Any]:
    return {"property": property_, "plot": plot, "hazards": spreading_hazards(plot)}


@require_http_methods(["GET", "POST"])
def record_one(request: HttpRequest, pk: int) -> HttpResponse:
    """Record what was spread on one plot."""
    plot = plot_for(request, pk, allowed=RECORD)
    form = SpreadingForm(
        request.POST or None, initial=start_of(plot, request.user), property_=plot.property, person=request.user
    )
    if form.is_bound and form.is_valid():
        try:
            record, _ = record_spreading(form.entry(plot))
        except OtherContent:
            form.add_error(None, SENT_BEFORE)
        else:
            return done(request, _plot_address(plot.pk), f"Recorded: {record}.")
    return form_page(request, "amendments/record_form.html", form, _context(plot.property, plot))


@require_http_methods(["GET", "POST"])
def record_many(request: HttpRequest) -> HttpResponse:
    """Record the same material on several plots at once."""
    property_ = property_for(request, allowed=RECORD)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = SeveralPlotsForm(
        request.POST or None, initial=start_of(None, request.user), property_=property_, person=request.user
    )
    if form.is_bound and form.is_valid():
        try:
            records = record_shared_load(_parts(form), load_uuid=form.cleaned_data["uuid"])
        except OtherContent:
            form.add_error(None, SENT_BEFORE)
        else:
            address = f"{reverse('amendments:records')}?property={property_.code}"
            return done(request, address, f"Recorded on {len(records)} plots.")
    return form_page(request, "amendments/record_form.html", form, _context(property_))


def _parts(form: SeveralPlotsForm) -> list[Any]:
    """One entry a plot, each with its share by acres and a number of its own that a repeat finds again."""
    plots = list(form.cleaned_data["plots"])
    shares = shares_by_area(form.cleaned_data["amount"], [plot.acres for plot in plots])
    return [
        form.entry(plot, amount=share, area=plot.acres, uuid=part_uuid(form.cleaned_data["uuid"], plot.pk))
        for plot, share in zip(plots, shares, strict=True)
    ]


@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a newer record in the place of one that was wrong."""
    old = fetch(request, SpreadingRecord.objects.select_related("plot__property", "material"), pk, allowed=RECORD)
    form = SpreadingForm(
        request.POST or None, initial=start_of_correction(old), property_=old.plot.property, person=request.user
    )
    if form.is_bound and form.is_valid():
        try:
            newer = correct_record(old, form.entry(old.plot, order_line=old.order_line))
        except AlreadyCorrected as error:
            form.add_error(None, f"This record was corrected already, by: {error.newer}. Correct the newer one.")
        else:
            return done(request, _plot_address(old.plot_id), f"Corrected: {newer}.")
    context = {**_context(old.plot.property, old.plot), "old": old}
    return form_page(request, "amendments/record_form.html", form, context)


@require_POST
def void(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that nothing was spread after all."""
    old = fetch(request, SpreadingRecord.objects.select_related("plot", "material"), pk, allowed=RECORD)
    try:
        void_record(old, by=request.user, at=timezone.now(), reason="Nothing was spread after all.")
        message = "Withdrawn. The first entry stays readable."
    except AlreadyCorrected as error:
        message = f"This record was corrected already, by: {error.newer}."
    return done(request, _plot_address(old.plot_id), message)


@require_GET
def records(request: HttpRequest) -> HttpResponse:
    """The property's book of what was spread, corrections visible as such."""
    property_ = property_for(request)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    book = SpreadingRecord.objects.filter(property=property_).select_related(
        "plot", "material", "entered_by", "corrected_by", "corrects"
    )
    page = Paginator(book.order_by("-spread_on", "-id"), PAGE_LENGTH).get_page(request.GET.get("page"))
    context = {"property": property_, "page": page, "may_record": may(request, property_.pk, RECORD)}
    return render(request, "amendments/records.html", context)
