"""A plot's page: where it stands, what it needs and how that was worked out, and all that was done on it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from agronomy.findings import Finding, hazards_in_order, note
from agronomy.status import StandingFacts, plot_status
from amendments.models import Offer, SpreadingRecord, WorkOrderLine
from amendments.queries.inputs import PlotInputs, gather
from amendments.services.acidity import nitrogen_by_season
from amendments.services.fertilizer import fertilizer_need
from amendments.services.hazards import place_hazards
from amendments.services.other_lime import OtherAnswer, other_calibrations, token_findings
from amendments.services.prescriptions import about_age, about_sowing, lime_need
from amendments.services.products import lime_products
from amendments.services.standing import standing_fields, status_rules
from amendments.views.picture import plot_picture
from plots.access import MANAGE, RECORD, may, plot_for
from plots.models import Planting
from plots.seasons import season_on
from soiltests.models import SoilTest


def chosen_planting(request: HttpRequest, inputs: PlotInputs) -> Planting | None:
    """The planting the page is asked about: the newest unless another of this plot's is named; 404 for any other."""
    wanted = request.GET.get("planting", "")
    if not wanted:
        return inputs.planting
    found = next((planting for planting in inputs.plantings if str(planting.pk) == wanted), None)
    if found is None:
        raise Http404("no such planting on this plot")
    return found


def status_of(inputs: PlotInputs, fields: dict[str, Any], today: dt.date) -> str:
    """The plot's status today, from figures computed afresh."""
    names = (
        "tested_on", "test_ph", "trigger_ph", "upper_ph", "owed_effective_lb", "ordered_effective_lb",
        "retest_due_on", "settling_until",
    )  # fmt: skip
    facts = StandingFacts(**{name: fields[name] for name in names})
    return plot_status(facts, today=today, rules=status_rules(inputs.plot.property))


def retest_reasons(fields: dict[str, Any]) -> list[Finding]:
    return [note(code, **values) for code, _, values in fields["retest_reasons"]]


def prescription_context(inputs: PlotInputs, *, today: dt.date) -> dict[str, Any]:
    """What the plot needs, in requirement and in material."""
    need = lime_need(inputs)
    offers = list(Offer.objects.open_on(inputs.plot.property_id, today))
    products = lime_products(inputs, need, offers, today=today)
    hazards = [hazard for product in products if product.reaches for hazard in product.hazards]
    pellets = token_findings(inputs, need, today=today)
    return {
        "lime": need,
        "lime_findings": (
            *need.findings, *pellets, *about_age(inputs, today=today), *about_sowing(inputs, need, today=today)
        ),
        "products": products,
        "lime_hazards": hazards_in_order((*hazards, *place_hazards(inputs.plot))),
        "fertilizer": fertilizer_need(inputs, today=today),
        "fertilizer_hazards": place_hazards(inputs.plot),
        "nitrogen": nitrogen_by_season(inputs),
        "this_season": season_on(today),
        "has_lime_offers": any(offer.material.kind == "lime" for offer in offers),
    }


def asked_calibrations(request: HttpRequest, inputs: PlotInputs) -> list[OtherAnswer] | None:
    """What other calibrations make of the test, where the page is asked for it; None where not."""
    return other_calibrations(inputs, lime_need(inputs)) if request.GET.get("calibrations") == "all" else None


def history_context(inputs: PlotInputs) -> dict[str, Any]:
    """Everything measured, spread and ordered on the plot, newest first; corrected records stay readable."""
    plot = inputs.plot
    records = SpreadingRecord.objects.filter(plot=plot).select_related("material", "corrected_by", "entered_by")
    tests = SoilTest.objects.filter(sample__plot=plot).select_related("sample", "lab").prefetch_related("measurements")
    return {
        "records": records.order_by("-spread_on", "-id"),
        "tests": tests.order_by("-sample__sampled_on", "-id"),
        "lost_samples": plot.samples.exclude(fate="taken").filter(soil_tests__isnull=True),
        "order_lines": WorkOrderLine.objects.filter(plot=plot).select_related("order", "material").order_by("-pk")[:20],
        "came_from": plot.came_from.select_related("before"),
        "became": plot.became.select_related("after"),
    }


@require_GET
def plot(request: HttpRequest, pk: int) -> HttpResponse:
    """The plot's page. It always computes afresh, whatever its stored standing says."""
    found = plot_for(request, pk)
    (inputs,) = gather([found.pk])
    planting = chosen_planting(request, inputs)
    if planting is not None and planting != inputs.planting:
        inputs = inputs.for_planting(planting)
    today = timezone.localdate()
    fields = standing_fields(inputs)
    context = {
        "plot": inputs.plot,
        "property": inputs.plot.property,
        "inputs": inputs,
        "planting": planting,
        "today": today,
        "standing": fields,
        "status": status_of(inputs, fields, today),
        "reasons": retest_reasons(fields),
        "picture": plot_picture(inputs, fields, today=today),
        "may_manage": may(request, found.property_id, MANAGE),
        "may_record": may(request, found.property_id, RECORD),
        **prescription_context(inputs, today=today),
        "other_calibrations": asked_calibrations(request, inputs),
        **history_context(inputs),
    }
    return render(request, "amendments/plot.html", context)
