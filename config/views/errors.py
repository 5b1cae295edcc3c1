"""Pages for what went wrong."""

from __future__ import annotations

from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form was refused. Behind a proxy the addresses usually differ, so the page shows both."""
    origin = request.headers.get("Origin") or request.headers.get("Referer", "")
    parts = urlsplit(origin)
    seen = f"{request.scheme}://{request.get_host()}"
    sent_from = f"{parts.scheme}://{parts.netloc}" if parts.netloc else ""
    context = {
        "sent_from": sent_from,
        "seen": seen,
        "differ": bool(sent_from) and sent_from not in (seen, settings.PUBLIC_URL),
        "expected": settings.PUBLIC_URL,
        "seen_is_plain": not request.is_secure() and settings.CSRF_COOKIE_SECURE,
        "no_cookie": settings.CSRF_COOKIE_NAME not in request.COOKIES,
    }
    return render(request, "403_csrf.html", context, status=403)
