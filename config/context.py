"""What a page may say about the installation it comes from."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def installation(request: HttpRequest) -> dict[str, object]:
    """`is_demo` (invented data throughout) and `public_url` (empty if nobody but this machine comes in)."""
    return {"is_demo": settings.IS_DEMO, "public_url": settings.PUBLIC_URL}
