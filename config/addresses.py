"""Where a request comes from."""

from __future__ import annotations

import ipaddress

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str | None:
    """The address of whoever asks; behind a trusted proxy the last one it reports, which it wrote itself."""
    found = request.META.get("REMOTE_ADDR", "")
    if settings.TRUST_PROXY:
        found = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")[-1].strip() or found
    try:
        return str(ipaddress.ip_address(found))
    except ValueError:
        return None
