"""Plots: added, changed, retired, split and merged."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from plots.access import MANAGE, plot_for, property_for
from plots.forms.plots import MergeForm, PartFormSet, PlotForm, RetireForm, plot_fields
from plots.http import CHANGED_MEANWHILE, done, form_page
from plots.models import Plot
from plots.services.plots import (
    Stale,
    bring_back_plot,
    change_plot,
    create_plot,
    merge_plots,
    retire_plot,
    split_plot,
)


def address_of(plot: Plot) -> str:
    return reverse("amendments:plot", args=[plot.pk])


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Add a plot to the property named."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = PlotForm(request.POST or None, property_=property_)
    if form.is_bound and form.is_valid():
        plot = form.save(commit=False)
        fields = {name: getattr(plot, name) for name in (*form.cleaned_data, "acres_entered") if name != "version"}
        made = create_plot(property_, fields)
        return done(request, address_of(made), f"Plot {made} added.")
    context = {"property": property_, "title": "Add a plot", "back": reverse("amendments:review")}
    return form_page(request, "plots/plot_form.html", form, context)


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a plot, unless somebody else did meanwhile."""
    plot = plot_for(request, pk, allowed=MANAGE)
    form = PlotForm(request.POST or None, instance=plot, initial={"version": plot.version}, property_=plot.property)
    if form.is_bound and form.is_valid():
        try:
            change_plot(form.save(commit=False), seen_version=form.cleaned_data["version"] or 0)
        except Stale:
            form.add_error(None, CHANGED_MEANWHILE)
        else:
            return done(request, address_of(plot), f"Plot {plot} changed.")
    context = {"property": plot.property, "plot": plot, "title": f"Change plot {plot.code}", "back": address_of(plot)}
    return form_page(request, "plots/plot_form.html", form, context)


@require_http_methods(["GET", "POST"])
def retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a plot out of use; its tests and records stay."""
    plot = plot_for(request, pk, allowed=MANAGE)
    form = RetireForm(request.POST or None, initial={"on": timezone.localdate()})
    if form.is_bound and form.is_valid():
        retire_plot(plot, on=form.cleaned_data["on"])
        return done(request, address_of(plot), f"Plot {plot} is retired. Its tests and records stay.")
    return _simple(request, form, plot, f"Retire plot {plot.code}", "Retire it")


@require_POST
def bring_back(request: HttpRequest, pk: int) -> HttpResponse:
    plot = plot_for(request, pk, allowed=MANAGE)
    bring_back_plot(plot)
    return done(request, address_of(plot), f"Plot {plot} is in use again.")


def _simple(request: HttpRequest, form: Any, plot: Plot, title: str, act: str) -> HttpResponse:
    context = {"property": plot.property, "plot": plot, "title": title, "act": act, "back": address_of(plot)}
    return form_page(request, "plots/simple_form.html", form, context)


@require_http_methods(["GET", "POST"])
def split(request: HttpRequest, pk: int) -> HttpResponse:
    """Make several plots out of one, which is retired and remembered as where they came from."""
    plot = plot_for(request, pk, allowed=MANAGE)
    forms = PartFormSet(request.POST or None, prefix="part", form_kwargs={"property_": plot.property})
    if forms.is_bound and forms.is_valid():
        parts = [plot_fields(form) for form in forms if form.cleaned_data.get("code")]
        made = split_plot(plot, parts=parts, on=timezone.localdate())
        codes = ", ".join(part.code for part in made)
        return done(request, address_of(made[0]), f"Plot {plot.code} was split into {codes}.")
    status = 422 if forms.is_bound else 200
    context = {"property": plot.property, "plot": plot, "forms": forms, "back": address_of(plot)}
    return render(request, "plots/split.html", context, status=status)


@require_http_methods(["GET", "POST"])
def merge(request: HttpRequest) -> HttpResponse:
    """Make one plot out of several, which are retired and remembered."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = MergeForm(request.POST or None, property_=property_)
    if form.is_bound and form.is_valid():
        merged = merge_plots(list(form.cleaned_data["plots"]), fields=plot_fields(form), on=timezone.localdate())
        return done(request, address_of(merged), f"Merged into plot {merged}.")
    context = {"property": property_, "title": "Merge plots", "act": "Merge them", "back": reverse("amendments:review")}
    return form_page(request, "plots/simple_form.html", form, context)
