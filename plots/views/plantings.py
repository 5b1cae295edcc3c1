"""Plantings: planned, changed and ended."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from plots.access import MANAGE, fetch, plot_for
from plots.forms.plantings import EndForm, PlantingForm
from plots.http import CHANGED_MEANWHILE, done, form_page
from plots.models import Planting
from plots.services.plantings import change_planting, end_planting, plant
from plots.services.plots import Stale
from plots.views.plots import address_of


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a crop or mix on a plot."""
    plot = plot_for(request, pk, allowed=MANAGE)
    form = PlantingForm(request.POST or None, plot=plot, today=timezone.localdate())
    if form.is_bound and form.is_valid():
        planting = form.save(commit=False)
        names = [name for name in PlantingForm.Meta.fields if name in form.cleaned_data]
        plant(plot, {"components": planting.components, **{name: getattr(planting, name) for name in names}})
        return done(request, address_of(plot), f"Planned: {planting}.")
    context = {"property": plot.property, "plot": plot, "title": f"Plan a planting on {plot}", "back": address_of(plot)}
    return form_page(request, "plots/planting_form.html", form, context)


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a planting, unless somebody else did meanwhile."""
    rows = Planting.objects.select_related("plot__property")
    planting = fetch(request, rows, pk, allowed=MANAGE, through="plot.property_id")
    plot = planting.plot
    start = {"version": planting.version}
    form = PlantingForm(request.POST or None, instance=planting, initial=start, plot=plot, today=timezone.localdate())
    if form.is_bound and form.is_valid():
        try:
            change_planting(form.save(commit=False), seen_version=form.cleaned_data["version"] or 0)
        except Stale:
            form.add_error(None, CHANGED_MEANWHILE)
        else:
            return done(request, address_of(plot), f"Changed: {planting}.")
    context = {"property": plot.property, "plot": plot, "title": f"Change the planting on {plot}",
               "back": address_of(plot)}  # fmt: skip
    return form_page(request, "plots/planting_form.html", form, context)


@require_http_methods(["GET", "POST"])
def end(request: HttpRequest, pk: int) -> HttpResponse:
    """Close a perennial with its last season."""
    rows = Planting.objects.select_related("plot__property")
    planting = fetch(request, rows, pk, allowed=MANAGE, through="plot.property_id")
    form = EndForm(request.POST or None, planting=planting, today=timezone.localdate())
    if form.is_bound and form.is_valid():
        end_planting(planting, last_season=form.cleaned_data["last_season"])
        return done(request, address_of(planting.plot), f"Ended: {planting}.")
    context = {"property": planting.plot.property, "title": f"End the {planting}", "act": "End it",
               "back": address_of(planting.plot)}  # fmt: skip
    return form_page(request, "plots/simple_form.html", form, context)
