"""Places that work depends on: access points, stockpile places, water, wells."""

from __future__ import annotations

from django.db.models import ProtectedError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods

from plots.access import MANAGE, fetch, may, property_for
from plots.forms.places import PlaceForm
from plots.http import done, form_page
from plots.models import Place
from plots.services.places import keep_place, remove_place
from plots.views.common import address, no_property, property_to_change, refused


@require_GET
def places(request: HttpRequest) -> HttpResponse:
    """All places of a property; whoever works there may read them."""
    property_ = property_for(request)
    if property_ is None:
        return no_property(request)
    rows = property_.places.prefetch_related("plots_in_reach").order_by("kind", "name")
    context = {"property": property_, "places": rows, "may_manage": may(request, property_.pk, MANAGE)}
    return render(request, "plots/places.html", context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Add a place."""
    property_ = property_to_change(request)
    if property_ is None:
        return no_property(request)
    form = PlaceForm(request.POST or None, property_=property_)
    if form.is_bound and form.is_valid():
        made = keep_place(property_, form.columns(), plots=form.cleaned_data.get("plots_in_reach") or ())
        return done(request, address("plots:places", property_), f"Kept: {made}.")
    context = {"property": property_, "address": address("plots:new_place", property_),
               "back": address("plots:places", property_)}  # fmt: skip
    return form_page(request, "plots/place_form.html", form, context)


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a place."""
    place = fetch(request, Place.objects.select_related("property"), pk, allowed=MANAGE)
    form = PlaceForm(request.POST or None, property_=place.property, place=place)
    back = address("plots:places", place.property)
    if form.is_bound and form.is_valid():
        served = form.cleaned_data.get("plots_in_reach") or ()
        keep_place(place.property, form.columns(), plots=served, place=place)
        return done(request, back, f"Changed: {place}.")
    context = {"property": place.property, "place": place, "back": back}
    return form_page(request, "plots/place_form.html", form, context)


@require_http_methods(["GET", "POST"])
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a place away, unless something rests on it."""
    place = fetch(request, Place.objects.select_related("property"), pk, allowed=MANAGE)
    back = address("plots:places", place.property)
    if request.method != "POST":
        return render(request, "plots/remove_place.html", {"property": place.property, "place": place, "back": back})
    try:
        remove_place(place)
    except ProtectedError:
        return refused(request, back, f"Something rests on {place}; it stays.")
    return done(request, back, f"Taken away: {place}.")
