"""What every answer carries, and what answers before anybody is known."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import OperationalError, connection
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.loader import render_to_string
from django.test import Client, RequestFactory, override_settings

from config import addresses, health
from config.health import LEAST_FREE_MB
from config.middleware import HtmxAnswers

HASHED = {"staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"}}


def directives(header: str) -> dict[str, list[str]]:
    parts = (part.split() for part in header.split(";") if part.strip())
    return {name: sources for name, *sources in parts}


@pytest.mark.django_db
def test_the_policy_allows_nothing_but_our_own(client: Client):
    found = directives(client.get("/sign-in/")["Content-Security-Policy"])
    assert found["default-src"] == ["'none'"]
    assert found["frame-ancestors"] == found["base-uri"] == ["'none'"]
    own = {name for name, sources in found.items() if sources == ["'self'"]}
    assert own >= {"script-src", "style-src", "img-src", "connect-src", "form-action"}
    assert "unsafe" not in str(found)


@pytest.mark.django_db
def test_every_answer_has_its_guards(client: Client):
    answer = client.get("/sign-in/")
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert "geolocation=(self)" in answer["Permissions-Policy"]
    assert {"HX-Request", "HX-Target", "Cookie"} <= {part.strip() for part in answer["Vary"].split(",")}


@pytest.mark.django_db
def test_a_stranger_is_sent_to_sign_in_and_back(client: Client):
    answer = client.get("/settings/password/?x=1")
    assert answer.status_code == 302
    assert answer["Location"] == "/sign-in/?next=/settings/password/%3Fx%3D1"


@pytest.mark.django_db
def test_htmx_is_told_to_load_the_sign_in_page(client: Client):
    answer = client.get("/settings/password/", headers={"HX-Request": "true", "HX-Target": "results"})
    assert answer.status_code == 200
    assert answer["HX-Redirect"] == "/sign-in/?next=/settings/password/"


def test_a_redirect_keeps_its_cookies_for_htmx(rf: RequestFactory):
    request = rf.get("/")
    request.htmx = True

    def answer(_: HttpRequest) -> HttpResponse:
        made = HttpResponseRedirect("/there/")
        made.set_cookie("said", "yes")
        return made

    found = HtmxAnswers(answer)(request)
    assert found["HX-Redirect"] == "/there/"
    assert found.cookies["said"].value == "yes"


def test_health_needs_neither_host_nor_database(client: Client):
    answer = client.get("/healthz", headers={"Host": "10.1.2.3:8000"})
    assert (answer.status_code, answer.json()) == (200, {"live": True})


@pytest.mark.django_db
def test_ready_when_everything_is_there(client: Client):
    answer = client.get("/readyz", headers={"Host": "10.1.2.3:8000"})
    assert answer.status_code == 200
    assert answer.json() == {"ready": True, "database": "ok", "migrations": "ok", "disk": "ok"}


@pytest.mark.django_db
@override_settings(SECURE_SSL_REDIRECT=True)
def test_health_is_not_sent_to_https(client: Client):
    assert client.get("/readyz").status_code == 200
    assert client.get("/sign-in/").status_code == 301


@pytest.mark.django_db
def test_not_ready_without_the_database(client: Client, monkeypatch: pytest.MonkeyPatch):
    def gone() -> None:
        raise OperationalError("connection refused by 10.0.0.7")

    monkeypatch.setattr(connection, "cursor", gone)
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["database"] == "cannot be reached"
    assert "10.0.0.7" not in answer.content.decode()


@pytest.mark.django_db
def test_not_ready_while_a_migration_waits(client: Client):
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'config'")
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert "not applied" in answer.json()["migrations"]


@pytest.mark.django_db
def test_not_ready_on_a_full_disk(client: Client, monkeypatch: pytest.MonkeyPatch):
    total, used, _ = shutil.disk_usage("/")
    usage = type("usage", (), {"total": total, "used": used, "free": (LEAST_FREE_MB - 1) * 1_000_000})
    monkeypatch.setattr(health.shutil, "disk_usage", lambda path: usage)
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["disk"].startswith(f"{LEAST_FREE_MB - 1} MB free")


@pytest.mark.parametrize(
    ("trusted", "reported", "found"),
    [
        (False, "203.0.113.9", "192.0.2.1"),
        (True, "203.0.113.9", "203.0.113.9"),
        (True, "6.6.6.6, 203.0.113.9", "203.0.113.9"),
        (True, "", "192.0.2.1"),
        (True, "nonsense", None),
    ],
)
def test_the_address_is_the_one_the_proxy_wrote_itself(
    rf: RequestFactory, trusted: bool, reported: str, found: str | None
):
    request = rf.get("/", REMOTE_ADDR="192.0.2.1", headers={"X-Forwarded-For": reported} if reported else {})
    with override_settings(TRUST_PROXY=trusted):
        assert addresses.client_address(request) == found


@pytest.mark.django_db
def test_a_refused_form_says_what_differs():
    client = Client(enforce_csrf_checks=True)
    fields = {"username": "boss", "password": "x"}
    answer = client.post("/sign-in/", fields, headers={"Origin": "https://plots.example.org"})
    page = answer.content.decode()
    assert answer.status_code == 403
    assert "https://plots.example.org" in page
    assert "http://testserver" in page
    assert "PUBLIC_URL=https://plots.example.org" in page


@pytest.mark.django_db
def test_a_form_without_a_cookie_says_so():
    answer = Client(enforce_csrf_checks=True).post("/sign-in/", {}, headers={"Origin": "http://testserver"})
    assert answer.status_code == 403
    assert "sent no cookie" in answer.content.decode()


@pytest.mark.parametrize("template", ["400.html", "403.html", "404.html", "500.html"])
def test_pages_of_faults_need_nothing(template: str):
    page = render_to_string(template)
    assert "<h1>" in page
    assert 'href="/"' in page


def test_static_files_are_collected_and_named_by_content(tmp_path: Path, settings: object):
    settings.STATIC_ROOT = tmp_path  # type: ignore[attr-defined]
    settings.STORAGES = {**settings.STORAGES, **HASHED}  # type: ignore[attr-defined]
    call_command("collectstatic", interactive=False, verbosity=0)
    page = render_to_string("base.html")
    assert 'href="/static/css/sweetground.' in page
    named = page.split('href="/static/css/')[1].split('"')[0]
    assert named != "sweetground.css"
    assert (tmp_path / "css" / named).exists()


def test_the_installation_has_a_data_folder_of_its_own_in_tests():
    assert "sweetground-tests-" in str(settings.DATA)
