"""System checks: what an operator should hear of before people use the installation, each with what to do."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register

from config.serving.ports import is_loopback


@register(Tags.security, deploy=True)
def https_behind_a_proxy(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """An https address without a trusted proxy sends every page round in a circle."""
    if not settings.PUBLIC_URL.startswith("https://") or settings.TRUST_PROXY:
        return []
    return [
        Error(
            "PUBLIC_URL is an https address, but TRUST_PROXY is off: every page would ask for https for ever.",
            hint="Leave TRUST_PROXY unset, and have the proxy set X-Forwarded-Proto and X-Forwarded-For itself.",
            id="sweetground.E001",
        )
    ]


@register(Tags.security, deploy=True)
def public_address(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Labels, mails and feeds name the public address; passwords must not travel in the open."""
    if not settings.PUBLIC_URL:
        return [
            Warning(
                "PUBLIC_URL is not set: only this machine is answered, and labels, mails and feeds have no address.",
                hint="Set PUBLIC_URL to the address people type, as https://plots.example.org.",
                id="sweetground.W001",
            )
        ]
    host = settings.ALLOWED_HOSTS[0].strip("[]")
    if settings.PUBLIC_URL.startswith("http://") and not is_loopback(host):
        return [
            Warning(
                "PUBLIC_URL is a plain http address: passwords travel readable, and phones cannot work without signal.",
                hint="Put a proxy with a certificate in front and give PUBLIC_URL its https address.",
                id="sweetground.W002",
            )
        ]
    return []


@register(Tags.files, deploy=True)
def data_folder(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Data inside the code's own folder are easily lost with it."""
    data = Path(settings.DATA)
    inside = settings.BASE_DIR in data.parents and data != settings.BASE_DIR / "data"
    if not inside:
        return []
    return [
        Warning(
            f"The data folder {data} lies inside the program's own folder.",
            hint="Choose one outside by SWEETGROUND_DATA, so that replacing the program cannot take the data along.",
            id="sweetground.W003",
        )
    ]


@register(Tags.security)
def trusted_proxy(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """A trusted proxy that is not there lets anybody choose the address that sign-ins are counted by."""
    if not settings.TRUST_PROXY or settings.PUBLIC_URL:
        return []
    return [
        Warning(
            "TRUST_PROXY is on without a PUBLIC_URL: anybody who reaches the program can pretend to any address.",
            hint="Unset TRUST_PROXY, or set PUBLIC_URL to the address the proxy serves.",
            id="sweetground.W004",
        )
    ]


@register(Tags.compatibility)
def mail_for_reminders(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """A mail server without a sender's address has its mails refused."""
    has_server = settings.EMAIL_BACKEND.endswith("smtp.EmailBackend")
    if not has_server or not settings.DEFAULT_FROM_EMAIL.endswith("@localhost"):
        return []
    return [
        Warning(
            "MAIL_URL is set, but MAIL_FROM is not: most servers refuse mail from sweetground@localhost.",
            hint="Set MAIL_FROM to an address that the mail server may send for; try it with `sendtestemail`.",
            id="sweetground.W005",
        )
    ]
