"""The season review: every plot of a property, as a table that can be read like a page."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from agronomy.crops import crop_name
from agronomy.status import STATUSES
from amendments.forms.lists import ReviewFilter, cleaned
from amendments.models import Standing
from amendments.queries import review as queries
from amendments.queries.inputs import own_crops_of
from plots.access import MANAGE, RECORD, may, property_for
from plots.http import page_or_part
from plots.models import Property

PAGE_LENGTH = 50
COLUMNS = (
    ("status", "Status", ""),
    ("plot", "Plot", ""),
    ("crop", "Crop", ""),
    ("acres", "Acres", "num"),
    ("tested", "Last test", ""),
    ("ph", "pH", "num"),
    ("gap", "Target pH", "num"),
    ("owed", "Lime owed", "num"),
    ("p", "P", ""),
    ("k", "K", ""),
    ("spread", "Last spread", ""),
    ("due", "Retest due", ""),
)


def crops_on(property_: Property) -> dict[str, str]:
    """The crops that stand on a property's plots, by key, for the filter."""
    own = own_crops_of([property_.pk]).get(property_.pk, {})
    stored = Standing.objects.filter(property=property_).order_by().values_list("crop_keys", flat=True).distinct()
    keys = {key for keys in stored for key in keys.split("|") if key}
    return dict(sorted(((key, crop_name(key, extra=own)) for key in keys), key=lambda pair: pair[1]))


def _rows_of(page: Any, property_: Property) -> list[dict[str, Any]]:
    return [{"standing": row, "plot": row.plot, "status": STATUSES[row.status_rank]} for row in page]


def review_context(request: HttpRequest, property_: Property) -> dict[str, Any]:
    """Everything the review shows, in a fixed number of queries."""
    today = timezone.localdate()
    crops = crops_on(property_)
    wanted = cleaned(request.GET, crops=crops)
    every = queries.of_property(property_.pk, today=today)
    matching = queries.sorted_by(queries.narrowed(every, wanted), wanted["sort"])
    page = Paginator(matching, PAGE_LENGTH).get_page(wanted["page"])
    return {
        "property": property_,
        "today": today,
        "form": ReviewFilter(wanted, crops=crops, auto_id="review-%s"),
        "wanted": wanted,
        "page": page,
        "rows": _rows_of(page, property_),
        "counts": queries.status_counts(queries.narrowed(every, {**wanted, "status": ""})),
        "columns": COLUMNS,
        "narrowed": any(wanted.get(name) for name in ("q", "status", "crop", "vehicle")),
        "may_manage": may(request, property_.pk, MANAGE),
        "may_record": may(request, property_.pk, RECORD),
    }


@require_GET
def review(request: HttpRequest) -> HttpResponse:
    """All plots of a property with their standing today."""
    property_ = property_for(request)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    context = review_context(request, property_)
    return page_or_part(request, "amendments/review.html", context, part="review_rows")


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """The way in: the review."""
    return redirect("amendments:review")
