"""Lists of plots in and out."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from plots.access import MANAGE, fetch, property_for
from plots.forms.lists import ListForm
from plots.http import done, form_page
from plots.models import Plot, PlotImport
from plots.services.plot_export import plots_as_csv
from plots.services.plot_import import COLUMNS, ListRefused, accept, keep_draft, understand
from plots.views.common import address, no_property, property_to_change, refused

PAGE_LENGTH = 100


@require_http_methods(["GET", "POST"])
def import_plots(request: HttpRequest) -> HttpResponse:
    """Take a list of plots as a draft and show what it would add."""
    property_ = property_to_change(request)
    if property_ is None:
        return no_property(request)
    form = ListForm(request.POST or None, request.FILES or None)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        draft = keep_draft(
            property_,
            data["table"],
            by=request.user,
            name=data["name"],
            encoding=data["encoding"],  # type: ignore[arg-type]
        )
        return done(request, reverse("plots:import_preview", args=[draft.pk]))
    context = {"property": property_, "columns": COLUMNS, "address": address("plots:import_plots", property_),
               "back": address("amendments:review", property_)}  # fmt: skip
    return form_page(request, "plots/import.html", form, context)


@require_http_methods(["GET", "POST"])
def import_preview(request: HttpRequest, pk: int) -> HttpResponse:
    """What a list would add, every problem row explained; on acceptance all of it, or nothing."""
    draft = fetch(request, PlotImport.objects.select_related("property"), pk, allowed=MANAGE)
    onward = address("amendments:review", draft.property)
    if request.method == "POST":
        try:
            count = accept(draft, by=request.user)  # type: ignore[arg-type]
        except ListRefused as error:
            return _preview(request, draft, refusal=str(error))
        return done(request, onward, f"{count} plots added." if count else "This list was added already.")
    if draft.state == PlotImport.State.ACCEPTED:
        return refused(request, onward, "This list was added already.")
    return _preview(request, draft)


def _preview(request: HttpRequest, draft: PlotImport, *, refusal: str = "") -> HttpResponse:
    found = understand(draft)
    wrong_first = [*found.wrong, *(row for row in found.rows if not row.problems)]
    page = Paginator(wrong_first, PAGE_LENGTH).get_page(request.GET.get("page"))
    context = {
        "property": draft.property,
        "draft": draft,
        "found": found,
        "page": page,
        "problems": [row for row in page if row.problems],
        "rows": [(row, Plot(**row.fields)) for row in page if not row.problems],
        "count": len(found.rows),
        "wrong": len(found.wrong),
        "refusal": refusal,
        "back": address("plots:import_plots", draft.property),
    }
    return render(request, "plots/import_preview.html", context, status=422 if refusal else 200)


@require_GET
def export_plots(request: HttpRequest) -> HttpResponse:
    """The plots of a property as CSV, in the form that the import reads."""
    property_ = property_for(request)
    if property_ is None:
        return no_property(request)
    response = HttpResponse(plots_as_csv(property_.plots.order_by("sort_key")), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="plots.csv"'
    return response
