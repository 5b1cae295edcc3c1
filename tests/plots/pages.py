"""Helps for tests of pages: reading them, and filling the form that stands on them."""

from __future__ import annotations

from typing import Any

from bs4 import BeautifulSoup, Tag
from django.http import HttpResponse
from django.test import Client


def soup_of(response: HttpResponse) -> BeautifulSoup:
    return BeautifulSoup(response.content, "html.parser")


def text_of(response: HttpResponse) -> str:
    """The page's words, blanks squeezed."""
    return " ".join(soup_of(response).get_text(" ").split())


def filled(response: HttpResponse) -> dict[str, Any]:
    """What the page's form would send if it were sent as it stands."""
    form = soup_of(response).select_one("main form#form") or soup_of(response).select_one("main form")
    assert form is not None, "no form on the page"
    sent: dict[str, Any] = {}
    for field in form.select("input, select, textarea"):
        name = field.get("name")
        value = _value(field)
        if name and name != "csrfmiddlewaretoken" and value is not None:
            sent.setdefault(str(name), []).append(value) if _is_many(form, str(name)) else sent.update(
                {str(name): value}
            )
    return sent


def _is_many(form: Tag, name: str) -> bool:
    return len(form.select(f'input[type=checkbox][name="{name}"]')) > 1


def _value(field: Tag) -> str | None:
    kind = field.get("type", "")
    if kind in ("checkbox", "radio"):
        return str(field.get("value", "on")) if field.has_attr("checked") else None
    if kind in ("file", "submit"):
        return None
    if field.name == "select":
        chosen = field.select_one("option[selected]") or field.select_one("option")
        return str(chosen.get("value", "")) if chosen else ""
    if field.name == "textarea":
        return field.get_text().removeprefix("\n")
    return str(field.get("value", ""))


def send(client: Client, address: str, **changes: Any) -> HttpResponse:
    """Open a form, change some of its fields, and send it."""
    opened = client.get(address)
    assert opened.status_code == 200, opened.status_code
    data = {name: value for name, value in {**filled(opened), **changes}.items() if value is not None}
    return client.post(address, data)  # type: ignore[return-value]


def errors_of(response: HttpResponse) -> str:
    """What the summary of errors says."""
    found = soup_of(response).select_one("#errors")
    return " ".join(found.get_text(" ").split()) if found else ""
