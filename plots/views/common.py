"""What the pages of plots and properties share: where they lead, and what they say when they cannot do a thing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.db import models
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from plots.access import MANAGE, property_for
from plots.http import CHANGED_MEANWHILE, done
from plots.models import Person, Plot, Property, Role


def address(name: str, property_: Property, *args: object) -> str:
    """The address of a page of one property, which names it."""
    return f"{reverse(name, args=args)}?{urlencode({'property': property_.code})}"


def plot_address(plot: Plot) -> str:
    return reverse("amendments:plot", args=[plot.pk])


def property_to_change(request: HttpRequest, *, allowed: frozenset[str] = MANAGE) -> Property | None:
    """The property a page adds something to; None for a person without any.

    What is sent must say which one it is for, if there is more than one: the last one used may have changed in
    another window since the form was opened.
    """
    unnamed = request.method == "POST" and not request.GET.get("property")
    if unnamed and Role.objects.filter(person=request.user.pk).count() > 1:
        raise Http404("say which property this is for")
    return property_for(request, allowed=allowed)


def no_property(request: HttpRequest) -> HttpResponse:
    """Where a person without any property begins."""
    return render(request, "amendments/no_property.html")


def refused(request: HttpRequest, url: str, message: str) -> HttpResponse:
    """Nothing was done: say why and go on."""
    messages.error(request, message)
    return done(request, url)


def say_changed(form: forms.Form, row: models.Model, start: Callable[[Any], Mapping[str, Any]]) -> None:
    """Tell in a form that somebody else changed the row: who, when, and what each field is set to now.

    `row` is as stored now; `start` gives what the form of a row, or of a version of it, opens with. The form then
    carries the row's new version, so that saving again is a decision made with open eyes.
    """
    versions = row.history.select_related("history_user")  # type: ignore[attr-defined]
    newest, opened = versions.first(), versions.filter(version=form.cleaned_data["version"]).first()
    who = ""
    if newest is not None and isinstance(newest.history_user, Person):
        who = f" It was {newest.history_user}, at {timezone.localtime(newest.history_date):%H:%M on %b %-d}."
    form.add_error(None, CHANGED_MEANWHILE + who)
    now, before = start(row), start(opened) if opened is not None else {}
    for name, field in form.fields.items():
        if name in now and not isinstance(field.widget, forms.HiddenInput) and now[name] != before.get(name):
            form.add_error(name, f"Now set to: {_set_to(field, now[name])}.")
    data = form.data.copy()  # type: ignore[attr-defined]
    data[form.add_prefix("version")] = str(now["version"])
    form.data = data


def _set_to(field: forms.Field, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(field, forms.ChoiceField):
        named = {str(key): str(words) for key, words in _flat(field.choices)}
        chosen = value if isinstance(value, list) else [value]
        return ", ".join(named.get(str(one), str(one)) for one in chosen if one not in (None, "")) or "nothing"
    return str(value) if value not in (None, "") else "nothing"


def _flat(choices: Any) -> list[tuple[Any, Any]]:
    """Choices without their groups."""
    found: list[tuple[Any, Any]] = []
    for key, words in choices:
        found += list(words) if isinstance(words, (list, tuple)) else [(key, words)]
    return found
