"""The limes on offer held against each other, for a plot, a group of plots or a whole property."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from agronomy.comparison import sorted_lines
from agronomy.findings import hazards_in_order
from agronomy.liming_material import scheme
from amendments.forms.compare import cleaned_comparison
from amendments.models import Offer
from amendments.queries.inputs import gather
from amendments.services.comparison import Compared, compare_offers
from plots.access import MANAGE, may, plot_for, property_for
from plots.http import page_or_part
from plots.models import Plot, Property

COLUMNS = [
    ("offer", "Material", ""), ("reach", "Reaches", ""), ("rate", "Rate", "num"), ("buy", "Buy", "num"),
    ("cost", "Cost", "num"), ("effective_ton", "A ton of effective CaCO3", "num"), ("hours", "Loads and hours", "num"),
    ("first_year", "Reacts in a year", "num"),
]  # fmt: skip


def property_asked(request: HttpRequest) -> Property | None:
    """The property of the plot that is named first, else that of the address; 404 for a plot of a stranger."""
    asked = request.GET.get("plot", "")
    if not asked:
        return property_for(request)
    if not (asked.isascii() and asked.isdigit() and len(asked) < 18):
        raise Http404("no such plot")
    return plot_for(request, int(asked)).property


def rows_of(compared: Compared, *, sort: str) -> list[dict[str, object]]:
    """One row an offer, each with its row of the database."""
    lines = sorted_lines(compared.comparison.lines, by=sort)
    return [{"line": line, "offer": compared.offers[line.offer.key]} for line in lines]


@require_GET
def compare_materials(request: HttpRequest) -> HttpResponse:
    """Rates, purchases, dollars and hours of every lime on offer, side by side."""
    property_ = property_asked(request)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    plots = list(Plot.objects.on_property(property_.pk).in_use())
    form, wanted = cleaned_comparison(request.GET, plots=plots)
    today = timezone.localdate()
    inputs = gather([int(pk) for pk in wanted["plot"]] or [plot.pk for plot in plots])
    offers = list(Offer.objects.open_on(property_.pk, today))
    compared = compare_offers(inputs, offers, today=today, schemes=wanted["scheme"])
    lines = compared.comparison.lines
    context = {
        "property": property_,
        "form": form,
        "wanted": wanted,
        "columns": COLUMNS,
        "schemes": [scheme(key) for key in wanted["scheme"]],
        "compared": compared,
        "rows": rows_of(compared, sort=wanted["sort"]),
        "one_plot": inputs[0].plot if len(wanted["plot"]) == 1 else None,
        "asked": len(inputs),
        "hazards": hazards_in_order(hazard for line in lines for hazard in line.hazards),
        "may_manage": may(request, property_.pk, MANAGE),
    }
    return page_or_part(request, "amendments/compare.html", context, part="compare_rows")
