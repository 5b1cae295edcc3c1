"""Holding what a lime label claims against chemistry."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from agronomy.findings import Hazard, hazards_in_order
from agronomy.label_check import Label, LabelCheck, check_label
from amendments.forms.label import LabelForm
from amendments.queries.inputs import gather
from amendments.services.prescriptions import lime_need
from plots.access import property_for
from plots.http import form_page
from plots.models import Plot

CAUSTIC_INGREDIENTS = ("CaO", "Ca(OH)2", "KOH", "MgO", "Mg(OH)2")


def need_of(form: LabelForm) -> tuple[float | None, float, Plot | None]:
    """Effective CaCO3 that is needed (lb an acre), the acres, and the plot; no need where nothing can be said."""
    plot, typed = form.cleaned_data["plot"], form.cleaned_data["need_lb_per_acre"]
    if plot is not None:
        (inputs,) = gather([plot.pk])
        return lime_need(inputs).owed_effective_lb, float(plot.acres), plot
    return None if typed is None else float(typed), float(form.cleaned_data["acres"] or 1), None


def label_hazards(label: Label) -> tuple[Hazard, ...]:
    """What handling the ingredient can do to a person."""
    found = [Hazard("caution", "lime_dust", "lime_safety")]
    if label.formula in CAUSTIC_INGREDIENTS:
        found.append(Hazard("danger", "caustic_lime", "lime_safety"))
    if label.formula == "CaO":
        found.append(Hazard("danger", "quicklime_and_water", "lime_safety"))
    return hazards_in_order(found)


def answer_of(form: LabelForm) -> dict[str, Any]:
    """The check of what was typed; a refusal of the arithmetic becomes an error of the form."""
    label = form.label()
    need, acres, plot = need_of(form)
    try:
        made: LabelCheck = check_label(label, need_lb_per_acre=need, acres=acres)
    except ValueError as error:
        form.add_error(None, f"{str(error)[0].upper()}{str(error)[1:]}.")
        return {}
    return {"answer": made, "label": label, "need": need, "acres": acres, "plot": plot, "hazards": label_hazards(label)}


@require_GET
def check_a_label(request: HttpRequest) -> HttpResponse:
    """The most that a package can supply, and what share of a plot's need that is. Nothing is stored."""
    property_ = property_for(request)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    plots = Plot.objects.on_property(property_.pk).in_use()
    asked = request.GET if "formula" in request.GET else None
    form = LabelForm(asked, plots=plots, initial={"formula": "CaCO3", "plot": request.GET.get("plot", "")[:12]})
    context = answer_of(form) if form.is_bound and form.is_valid() else {}
    return form_page(request, "amendments/label_check.html", form, {"property": property_, **context})
