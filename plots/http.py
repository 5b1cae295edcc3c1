"""How views answer: a page or its part, a form with its errors, and the way on after a change."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.forms import BaseForm, BaseFormSet
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django_htmx.http import HttpResponseClientRedirect

CHANGED_MEANWHILE = (
    "Someone else changed this after you opened it. What you typed is still here; "
    "compare it with the current values and save again."
)


def is_htmx(request: HttpRequest) -> bool:
    return bool(getattr(request, "htmx", False))


def page_or_part(request: HttpRequest, template: str, context: Mapping[str, Any], *, part: str) -> HttpResponse:
    """The whole page, or only the part that HTMX asked for by its target's id, which equals the part's name."""
    asked = is_htmx(request) and request.htmx.target == part  # type: ignore[attr-defined]
    response = render(request, f"{template}#{part}" if asked else template, dict(context))
    response["Vary"] = "HX-Request, HX-Target, Cookie"
    return response


def form_page(
    request: HttpRequest,
    template: str,
    form: BaseForm | BaseFormSet[Any],
    context: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """A page with a form: 200 as first shown, 422 when what was typed was refused."""
    refused = form.is_bound and not form.is_valid()
    return render(request, template, {"form": form, **(context or {})}, status=422 if refused else 200)


def done(request: HttpRequest, url: str, message: str = "") -> HttpResponse:
    """After a change: say so and go on. HTMX follows a redirect silently, so it is told to load the page."""
    if message:
        messages.success(request, message)
    return HttpResponseClientRedirect(url) if is_htmx(request) else HttpResponseRedirect(url)
