"""A property's own crops."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods

from agronomy.crops import GROUP_NAMES, crops
from plots.access import MANAGE, fetch, property_for
from plots.forms.crops import OwnCropForm
from plots.http import done, form_page
from plots.models import OwnCrop
from plots.services.crops import CropInUse, add_crop, change_crop, plots_with, remove_crop
from plots.views.common import address, no_property, property_to_change, refused


@require_GET
def crops_page(request: HttpRequest) -> HttpResponse:
    """The crops there are: the property's own, and the catalogue with what each asks."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return no_property(request)
    catalogue = [(GROUP_NAMES[crop.group], crop, property_.target_by_crop.get(key)) for key, crop in crops().items()]
    context = {"property": property_, "own": property_.own_crops.all(), "catalogue": catalogue}
    return render(request, "plots/crops.html", context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Add a crop that the catalogue lacks."""
    property_ = property_to_change(request)
    if property_ is None:
        return no_property(request)
    form = OwnCropForm(request.POST or None, property_=property_)
    if form.is_bound and form.is_valid():
        made = add_crop(property_, form.cleaned_data)
        return done(request, address("plots:crops", property_), f"{made} can be planted now.")
    context = {"property": property_, "address": address("plots:new_crop", property_),
               "back": address("plots:crops", property_)}  # fmt: skip
    return form_page(request, "plots/crop_form.html", form, context)


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an own crop; the plots are worked out again."""
    crop = fetch(request, OwnCrop.objects.select_related("property"), pk, allowed=MANAGE)
    form = OwnCropForm(request.POST or None, property_=crop.property, crop=crop)
    back = address("plots:crops", crop.property)
    if form.is_bound and form.is_valid():
        change_crop(crop, form.cleaned_data)
        return done(request, back, f"{crop} changed; every plot was worked out again.")
    return form_page(request, "plots/crop_form.html", form, {"property": crop.property, "crop": crop, "back": back})


@require_http_methods(["GET", "POST"])
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an own crop away that was never planted."""
    crop = fetch(request, OwnCrop.objects.select_related("property"), pk, allowed=MANAGE)
    back = address("plots:crops", crop.property)
    if request.method != "POST":
        context = {"property": crop.property, "crop": crop, "plots": plots_with(crop), "back": back}
        return render(request, "plots/remove_crop.html", context)
    try:
        remove_crop(crop)
    except CropInUse as used:
        return refused(request, back, f"{crop} is or was planted {used}; those plantings rest on it, so it stays.")
    return done(request, back, f"{crop} is taken away.")
