"""Plots: added, changed, retired and brought back."""

from __future__ import annotations

from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from amendments.models import WorkOrder, WorkOrderLine
from plots.access import MANAGE, plot_for, property_for
from plots.forms.plots import PlotForm, RetireForm, start_of
from plots.http import done, form_page
from plots.models import Plot
from plots.services.plots import Stale, bring_back_plot, change_plot, create_plot, retire_plot
from plots.views.common import address, no_property, plot_address, property_to_change, refused, say_changed

TAKEN_MEANWHILE = "Another plot got this code in the meantime. Choose another."


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Add a plot to the property named."""
    property_ = property_to_change(request)
    if property_ is None:
        return no_property(request)
    form = PlotForm(request.POST or None, property_=property_)
    if form.is_bound and form.is_valid():
        try:
            made = create_plot(property_, form.columns())
        except IntegrityError:
            form.add_error("code", TAKEN_MEANWHILE)
        else:
            if "another" in request.POST:
                return done(request, address("plots:new_plot", property_), f"Plot {made} added.")
            return done(request, plot_address(made), f"Plot {made} added. Next: what grows on it, and its soil test.")
    context = {"property": property_, "address": address("plots:new_plot", property_),
               "back": address("amendments:review", property_)}  # fmt: skip
    return form_page(request, "plots/plot_form.html", form, context)


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a plot, unless somebody else did meanwhile."""
    plot = plot_for(request, pk, allowed=MANAGE)
    form = PlotForm(request.POST or None, property_=plot.property, plot=plot)
    if form.is_bound and form.is_valid():
        for name, value in form.columns().items():
            setattr(plot, name, value)
        try:
            change_plot(plot, seen_version=form.cleaned_data["version"])
        except Stale:
            say_changed(form, Plot.objects.get(pk=plot.pk), start_of)
        except IntegrityError:
            form.add_error("code", TAKEN_MEANWHILE)
        else:
            return done(request, plot_address(plot), f"Plot {plot} changed.")
    context = {"property": plot.property, "plot": Plot.objects.get(pk=plot.pk), "back": plot_address(plot)}
    return form_page(request, "plots/plot_form.html", form, context)


@require_http_methods(["GET", "POST"])
def retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a plot out of use; its tests and records stay."""
    plot = plot_for(request, pk, allowed=MANAGE)
    if plot.retired_on is not None:
        return refused(request, plot_address(plot), f"Plot {plot} is retired already.")
    form = RetireForm(request.POST or None, initial={"on": timezone.localdate()})
    if form.is_bound and form.is_valid():
        retire_plot(plot, on=form.cleaned_data["on"])
        return done(request, plot_address(plot), f"Plot {plot} is retired. Its tests and records stay.")
    lines = WorkOrderLine.objects.filter(plot=plot, order__state__in=WorkOrder.OPEN_STATES).select_related("order")
    context = {"property": plot.property, "plot": plot, "open_lines": lines, "back": plot_address(plot)}
    return form_page(request, "plots/retire.html", form, context)


@require_http_methods(["GET", "POST"])
def bring_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a retired plot in use again, once it is said what that means for what it became."""
    plot = plot_for(request, pk, allowed=MANAGE)
    if plot.retired_on is None:
        return refused(request, plot_address(plot), f"Plot {plot} is in use.")
    if request.method == "POST":
        bring_back_plot(plot)
        return done(request, plot_address(plot), f"Plot {plot} is in use again.")
    became = [step.after for step in plot.became.select_related("after") if step.after.retired_on is None]
    context = {"property": plot.property, "plot": plot, "became": became, "back": plot_address(plot)}
    return render(request, "plots/bring_back.html", context)


@require_GET
def retired(request: HttpRequest) -> HttpResponse:
    """The plots that are out of use, so that they can be found again."""
    property_ = property_for(request)
    if property_ is None:
        return no_property(request)
    rows = property_.plots.filter(retired_on__isnull=False).prefetch_related("became__after").order_by("sort_key")
    return render(request, "plots/retired.html", {"property": property_, "plots": rows})
