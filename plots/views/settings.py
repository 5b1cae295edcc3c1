"""A property: the first one, which one, its figures, and its targets by crop."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from plots.forms.properties import (
    NewPropertyForm,
    PropertyForm,
    TargetsForm,
    start_of_property,
    start_of_targets,
    tables_in_force,
)
from plots.http import done, form_page
from plots.models import Property, Role
from plots.services.plots import Stale, change_property, create_property
from plots.views.common import address, no_property, property_to_change, say_changed

WORKED_OUT = "Settings saved; every plot was worked out again."
TAKEN_MEANWHILE = "Another property got this code in the meantime. Choose another."


@require_http_methods(["GET", "POST"])
def new_property(request: HttpRequest) -> HttpResponse:
    """Add a property; whoever adds it manages it."""
    form = NewPropertyForm(request.POST or None)
    if form.is_bound and form.is_valid():
        try:
            made = create_property(by=request.user, **form.columns())
        except IntegrityError:
            form.add_error("code", TAKEN_MEANWHILE)
        else:
            return done(request, address("amendments:review", made), f"{made} is there, and you manage it.")
    is_first = not Role.objects.filter(person=request.user.pk).exists()
    return form_page(request, "plots/new_property.html", form, {"is_first": is_first})


@require_GET
def choose_property(request: HttpRequest) -> HttpResponse:
    """Every property the person has a role in, with the way out of it."""
    rows = Role.objects.filter(person=request.user.pk).select_related("property").order_by("property__code_key")
    return render(request, "plots/choose_property.html", {"roles": rows})


@require_http_methods(["GET", "POST"])
def settings(request: HttpRequest) -> HttpResponse:
    """The property's figures, and the ways to its people, crops, places and lists."""
    property_ = property_to_change(request)
    if property_ is None:
        return no_property(request)
    form = PropertyForm(request.POST or None, property_=property_)
    if form.is_bound and form.is_valid():
        for name, value in form.columns().items():
            setattr(property_, name, value)
        try:
            change_property(property_, seen_version=form.cleaned_data["version"])
        except Stale:
            say_changed(form, Property.objects.get(pk=property_.pk), start_of_property)
        except IntegrityError:
            form.add_error("code", TAKEN_MEANWHILE)
        else:
            return done(request, address("plots:settings", property_), WORKED_OUT)
    return form_page(request, "plots/settings.html", form, _settings_context(property_.pk))


def _settings_context(pk: int) -> dict[str, Any]:
    stored = Property.objects.get(pk=pk)
    open_invites = stored.invites.filter(used_at__isnull=True, expires_at__gte=timezone.now())
    return {
        "property": stored,
        "address": address("plots:settings", stored),
        "in_force": tables_in_force(stored),
        "counts": {
            "people": stored.roles.count(),
            "invites": open_invites.count(),
            "crops": stored.own_crops.count(),
            "targets": len(stored.target_by_crop),
            "places": stored.places.count(),
            "retired": stored.plots.filter(retired_on__isnull=False).count(),
        },
    }


@require_http_methods(["GET", "POST"])
def targets(request: HttpRequest) -> HttpResponse:
    """Targets of the property's own, crop by crop."""
    property_ = property_to_change(request)
    if property_ is None:
        return no_property(request)
    form = TargetsForm(request.POST or None, property_=property_)
    if form.is_bound and form.is_valid():
        property_.target_by_crop = form.targets()
        try:
            change_property(property_, seen_version=form.cleaned_data["version"])
        except Stale:
            say_changed(form, Property.objects.get(pk=property_.pk), start_of_targets)
        else:
            return done(request, address("plots:crops", property_), "Targets saved; every plot was worked out again.")
    context = {"property": property_, "address": address("plots:targets", property_),
               "back": address("plots:crops", property_)}  # fmt: skip
    return form_page(request, "plots/targets.html", form, context)
