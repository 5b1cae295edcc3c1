"""Plantings: planned, changed and ended."""

from __future__ import annotations

from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from plots.access import MANAGE, fetch, plot_for
from plots.forms.plantings import EndForm, PlantingForm, start_of
from plots.http import done, form_page
from plots.models import Planting
from plots.services.plantings import change_planting, end_planting, plant_after
from plots.services.plots import Stale
from plots.views.common import plot_address, refused, say_changed

PLANTED_MEANWHILE = "Somebody put a planting of this season on the plot in the meantime. Change that one."


def _planting(request: HttpRequest, pk: int) -> Planting:
    rows = Planting.objects.select_related("plot__property")
    return fetch(request, rows, pk, allowed=MANAGE, through="plot.property_id")


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a crop or mix on a plot."""
    plot = plot_for(request, pk, allowed=MANAGE)
    form = PlantingForm(request.POST or None, plot=plot, today=timezone.localdate())
    if form.is_bound and form.is_valid():
        ending = form.still_open if form.cleaned_data.get("end_earlier") else []
        try:
            made = plant_after(plot, form.columns(), ending=ending)
        except IntegrityError:
            form.add_error("first_season", PLANTED_MEANWHILE)
        else:
            return done(request, plot_address(plot), f"Kept: {made}.")
    context = {"property": plot.property, "plot": plot, "back": plot_address(plot)}
    return form_page(request, "plots/planting_form.html", form, context)


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a planting, unless somebody else did meanwhile."""
    planting = _planting(request, pk)
    plot = planting.plot
    form = PlantingForm(request.POST or None, plot=plot, today=timezone.localdate(), planting=planting)
    if form.is_bound and form.is_valid():
        for name, value in form.columns().items():
            setattr(planting, name, value)
        try:
            change_planting(planting, seen_version=form.cleaned_data["version"])
        except Stale:
            say_changed(form, Planting.objects.get(pk=planting.pk), start_of)
        except IntegrityError:
            form.add_error("first_season", PLANTED_MEANWHILE)
        else:
            return done(request, plot_address(plot), f"Changed: {planting}.")
    context = {"property": plot.property, "plot": plot, "planting": planting, "back": plot_address(plot)}
    return form_page(request, "plots/planting_form.html", form, context)


@require_http_methods(["GET", "POST"])
def end(request: HttpRequest, pk: int) -> HttpResponse:
    """Close a perennial with its last season."""
    planting = _planting(request, pk)
    if planting.last_season is not None:
        return refused(request, plot_address(planting.plot), f"It has its last season already: {planting}.")
    form = EndForm(request.POST or None, planting=planting, today=timezone.localdate())
    if form.is_bound and form.is_valid():
        end_planting(planting, last_season=form.cleaned_data["last_season"])
        return done(request, plot_address(planting.plot), f"Ended: {planting}.")
    context = {"property": planting.plot.property, "planting": planting, "back": plot_address(planting.plot)}
    return form_page(request, "plots/end_planting.html", form, context)
