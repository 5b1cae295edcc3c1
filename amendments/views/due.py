"""The list of retests due, with its reasons."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from agronomy.findings import Finding, note
from agronomy.months import add_months
from agronomy.status import STATUSES
from amendments.models import Standing
from amendments.queries import review as queries
from plots.access import MANAGE, may, property_for
from plots.templatetags.trade import sentence

PAGE_LENGTH = 50
SPANS = (0, 3, 6, 12)  # months ahead
USUAL_SPAN = 3


def span_of(text: str) -> int:
    """Months ahead, from the closed list."""
    return int(text) if text in {str(span) for span in SPANS} else USUAL_SPAN


def first_reason(standing: Standing) -> Finding:
    """The reason that set the date, as a finding whose sentence says it."""
    code, _, values = standing.retest_reasons[0] if standing.retest_reasons else ("retest_never_tested", None, {})
    return note(code, **values)


def due_rows(page: Any) -> list[dict[str, Any]]:
    return [
        {"standing": row, "status": STATUSES[row.status_rank], "reason": sentence(first_reason(row))} for row in page
    ]


@require_GET
def due(request: HttpRequest) -> HttpResponse:
    """Plots that must be sampled again by a day, soonest first."""
    property_ = property_for(request)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    today: dt.date = timezone.localdate()
    span = span_of(request.GET.get("months", ""))
    until = add_months(today, span)
    rows = queries.due(queries.of_property(property_.pk, today=today), until=until)
    page = Paginator(rows, PAGE_LENGTH).get_page(request.GET.get("page"))
    context = {
        "property": property_,
        "today": today,
        "until": until,
        "span": span,
        "spans": SPANS,
        "page": page,
        "rows": due_rows(page),
        "may_manage": may(request, property_.pk, MANAGE),
    }
    return render(request, "amendments/due.html", context)
