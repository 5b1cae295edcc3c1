"""Who changed what, on a plot and on a property."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from plots.access import MANAGE, plot_for, property_for
from plots.queries.changes import Book, page_of_changes
from plots.views.common import address, no_property
from plots.views.history_books import books_of_plot, books_of_property

PAGE_LENGTH = 50


def _answer(
    request: HttpRequest, shelves: Mapping[str, Sequence[Book]], template: str, context: dict[str, Any]
) -> HttpResponse:
    """One page of the changes, all or of one shelf; an unknown name in the address shows all."""
    wanted = request.GET.get("of", "")
    chosen = wanted if wanted in shelves else ""
    books = [book for name, shelf in shelves.items() if chosen in ("", name) for book in shelf]
    page, changes = page_of_changes(books, number=request.GET.get("page"), length=PAGE_LENGTH)
    return render(request, template, {**context, "page": page, "changes": changes, "of": chosen, "shelves": shelves})


@require_GET
def plot_history(request: HttpRequest, pk: int) -> HttpResponse:
    """Who changed what on a plot."""
    plot = plot_for(request, pk)
    context = {"property": plot.property, "plot": plot, "here": reverse("plots:plot_history", args=[plot.pk])}
    return _answer(request, books_of_plot(plot), "plots/history.html", context)


@require_GET
def history(request: HttpRequest) -> HttpResponse:
    """Who changed what on a property."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return no_property(request)
    context = {"property": property_, "here": address("plots:history", property_)}
    return _answer(request, books_of_property(property_.pk), "plots/history.html", context)
