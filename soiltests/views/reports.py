"""Lab reports: labs, uploads, columns, preview, acceptance and undo."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from plots.access import MANAGE, READ, fetch, may, property_for
from plots.http import done, form_page
from plots.models import Property
from soiltests.forms.imports import ColumnsForm, LabForm, UploadForm
from soiltests.models import Lab, LabReport, SoilTest
from soiltests.services.imports import (
    NotAcceptable,
    accept_import,
    choose_columns,
    draft_report,
    preview,
    undo_import,
)

PAGE_LENGTH = 50


def reports_address(property_: Property) -> str:
    return f"{reverse('soiltests:reports')}?property={property_.code}"


@require_GET
def reports(request: HttpRequest) -> HttpResponse:
    """Reports, the newest soil tests and the laboratories of a property."""
    property_ = property_for(request)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    rows = LabReport.objects.filter(property=property_).select_related("lab", "made_by").annotate(n=Count("soil_tests"))
    tests = SoilTest.objects.filter(sample__plot__property=property_).select_related("sample__plot", "lab")
    page = Paginator(tests.order_by("-sample__sampled_on", "sample__plot__sort_key"), PAGE_LENGTH)
    context = {
        "property": property_,
        "reports": rows.defer("table", "choices", "outcome")[:50],
        "labs": property_.labs.all(),
        "page": page.get_page(request.GET.get("page")),
        "may_manage": may(request, property_.pk, MANAGE),
    }
    return render(request, "soiltests/reports.html", context)


@require_http_methods(["GET", "POST"])
def edit_lab(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add a laboratory, or change what is known of it."""
    lab = None if pk is None else fetch(request, Lab.objects.select_related("property"), pk, allowed=MANAGE)
    property_ = lab.property if lab else property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = LabForm(request.POST or None, instance=lab, property_=property_)
    if form.is_bound and form.is_valid():
        saved = form.save()
        return done(request, reports_address(property_), f"{saved} saved.")
    context = {"title": "A laboratory", "property": property_, "back": reports_address(property_)}
    return form_page(request, "plots/simple_form.html", form, context)


@require_http_methods(["GET", "POST"])
def upload(request: HttpRequest) -> HttpResponse:
    """Bring in a lab's file; it is kept as a draft until its preview is accepted."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = UploadForm(request.POST or None, request.FILES or None, property_=property_)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        name = data["file"].name if data["file"] else "pasted table"
        report = draft_report(
            property_, lab=data["lab"], table=data["table"], by=request.user, name=name, content=data["content"]
        )
        return done(request, reverse("soiltests:columns", args=[report.pk]))
    return form_page(
        request, "soiltests/upload.html", form, {"property": property_, "back": reports_address(property_)}
    )


def _report(request: HttpRequest, pk: int, allowed: frozenset[str] = MANAGE) -> LabReport:
    return fetch(request, LabReport.objects.select_related("property", "lab"), pk, allowed=allowed)


@require_http_methods(["GET", "POST"])
def columns(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what the columns mean and which plot each sample is."""
    report = _report(request, pk)
    if report.state != LabReport.State.DRAFT:
        return done(request, reverse("soiltests:report", args=[pk]))
    form = ColumnsForm(request.POST or None, report=report)
    if form.is_bound and form.is_valid():
        choose_columns(report, form.choices())
        return done(request, reverse("soiltests:preview", args=[pk]))
    return form_page(request, "soiltests/columns.html", form, {"report": report, "property": report.property})


def preview_context(request: HttpRequest, report: LabReport, problem: str = "") -> dict[str, Any]:
    """The rows with what accepting would do, problems first."""
    order = {"refused": 0, "changed": 1, "new": 2, "same": 3}
    rows = sorted(preview(report, today=timezone.localdate()), key=lambda row: (order[row.state], row.reading.number))
    counts = Counter(row.state for row in rows)
    plots = {plot.pk: plot for plot in report.property.plots.all()}
    page = Paginator(rows, 200).get_page(request.GET.get("page"))
    return {
        "report": report,
        "property": report.property,
        "page": page,
        "rows": [(row, plots.get(row.reading.plot_id)) for row in page],
        "counts": {name: counts.get(name, 0) for name in order},
        "may_accept": not counts["refused"] and not counts["changed"] and counts["new"] > 0,
        "problem": problem,
    }


@require_GET
def show_preview(request: HttpRequest, pk: int) -> HttpResponse:
    """What the report would do, row by row; nothing is stored yet."""
    report = _report(request, pk)
    if report.state != LabReport.State.DRAFT:
        return done(request, reverse("soiltests:report", args=[pk]))
    return render(request, "soiltests/preview.html", preview_context(request, report))


@require_POST
def accept(request: HttpRequest, pk: int) -> HttpResponse:
    """Store the report's new tests, all or nothing."""
    report = _report(request, pk)
    try:
        made = accept_import(report, by=request.user, today=timezone.localdate())
    except NotAcceptable as error:
        report.refresh_from_db()
        return render(request, "soiltests/preview.html", preview_context(request, report, str(error)), status=422)
    return done(request, reverse("soiltests:report", args=[pk]), f"{made} soil tests stored." if made else "")


@require_GET
def report(request: HttpRequest, pk: int) -> HttpResponse:
    """One report: its tests, its file, and the way to undo it."""
    found = _report(request, pk, READ)
    tests = SoilTest.objects.filter(report=found).select_related("sample__plot", "lab")
    context = {
        "report": found,
        "property": found.property,
        "page": Paginator(tests.order_by("sample__plot__sort_key"), PAGE_LENGTH).get_page(request.GET.get("page")),
        "attachments": found.attachments.all(),
        "may_manage": may(request, found.property_id, MANAGE),
    }
    return render(request, "soiltests/report.html", context)


@require_POST
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the report's tests back out, as long as nothing rests on them."""
    found = _report(request, pk)
    try:
        taken = undo_import(found)
    except NotAcceptable as error:
        return done(request, reverse("soiltests:report", args=[pk]), str(error))
    return done(request, reports_address(found.property), f"{taken} soil tests taken back out.")


@require_GET
def original(request: HttpRequest, pk: int) -> HttpResponse:
    """The file as it came, to members only, never shown in the browser."""
    found = _report(request, pk, READ)
    if not found.original:
        return done(request, reverse("soiltests:report", args=[pk]), "This report was pasted; there is no file.")
    answer = FileResponse(found.original.open("rb"), as_attachment=True, filename=found.original_name or "report")
    answer["Content-Type"] = "application/octet-stream"
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return answer
