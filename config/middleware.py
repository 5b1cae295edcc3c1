"""Health addresses, the rights a page has in the browser, and answers that HTMX can follow."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.cache import patch_vary_headers
from django_htmx.http import HttpResponseClientRedirect

from config import health

Handler = Callable[[HttpRequest], HttpResponse]
RIGHTS = "camera=(), microphone=(), payment=(), usb=(), geolocation=(self)"


class Health:
    """Answers /healthz and /readyz before hosts are checked and https is asked for: a probe comes from inside."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info == "/healthz":
            return JsonResponse({"live": True})
        if request.path_info == "/readyz":
            found = health.readiness()
            return JsonResponse(found.as_dict(), status=200 if found.is_ready else 503)
        return self.get_response(request)


class BrowserRights:
    """Tells the browser what pages may ask for: the place, for walking a boundary, and nothing else."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.setdefault("Permissions-Policy", RIGHTS)
        return response


class HtmxAnswers:
    """Has HTMX load the page that a redirect names, and tells caches a page from its parts."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.htmx and response.status_code in (301, 302, 303):  # type: ignore[attr-defined]
            onward = HttpResponseClientRedirect(response["Location"])
            onward.cookies = response.cookies
            return onward
        if response.get("Content-Type", "").startswith("text/html"):
            patch_vary_headers(response, ["HX-Request", "HX-Target"])
        return response
