"""A property's settings: its figures, its people, its own crops and places."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from agronomy.crops import GROUP_NAMES, crops
from plots.access import MANAGE, fetch, property_for
from plots.facts import tell_changed
from plots.forms.people import InviteForm, JoinForm, OwnCropForm, PlaceForm, RoleForm
from plots.forms.plots import NewPropertyForm, PropertyForm
from plots.http import CHANGED_MEANWHILE, done, form_page
from plots.models import OwnCrop, Person, Place, Property, Role
from plots.services.people import (
    InviteOver,
    LastManager,
    accept_invite,
    change_role,
    invite,
    open_invite,
    remove_role,
)
from plots.services.plots import Stale, change_property, create_property

LAST_MANAGER = "A property needs a land manager. Make somebody else one first."


def settings_address(property_: Property) -> str:
    return f"{reverse('plots:settings')}?property={property_.code}"


@require_http_methods(["GET", "POST"])
def new_property(request: HttpRequest) -> HttpResponse:
    """Add a property; whoever adds it manages it."""
    form = NewPropertyForm(request.POST or None)
    if form.is_bound and form.is_valid():
        made = create_property(by=request.user, **{n: form.cleaned_data[n] for n in NewPropertyForm.Meta.fields})
        address = f"{reverse('plots:new_plot')}?property={made.code}"
        return done(request, address, f"{made} is there. Now its first plot.")
    context = {"title": "Add a property", "lead": "Its state chooses the published tables; everything can be changed "
                                                  "later."}  # fmt: skip
    return form_page(request, "plots/simple_form.html", form, context)


@require_http_methods(["GET", "POST"])
def settings(request: HttpRequest) -> HttpResponse:
    """The property's figures, and the ways to its people, crops and places."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = PropertyForm(request.POST or None, instance=property_, initial={"version": property_.version})
    if form.is_bound and form.is_valid():
        try:
            change_property(form.save(commit=False), seen_version=form.cleaned_data["version"] or 0)
        except Stale:
            form.add_error(None, CHANGED_MEANWHILE)
        else:
            return done(request, settings_address(property_), "Settings saved; every plot was worked out again.")
    return form_page(request, "plots/settings.html", form, _settings_context(property_))


def _settings_context(property_: Property) -> dict[str, Any]:
    roles = property_.roles.select_related("person").order_by("kind", "person__username")
    return {
        "property": property_,
        "members": [(role, RoleForm(initial={"kind": role.kind}, prefix=f"role{role.pk}")) for role in roles],
        "invites": property_.invites.filter(used_at__isnull=True, expires_at__gte=timezone.now()),
        "invite_form": InviteForm(),
        "own_crops": property_.own_crops.all(),
        "places": property_.places.all(),
    }


@require_POST
def new_invite(request: HttpRequest) -> HttpResponse:
    """Make an invitation and show its link once."""
    property_ = property_for(request, allowed=MANAGE)
    form = InviteForm(request.POST)
    if property_ is None or not form.is_valid():
        return render(request, "plots/invite.html", {"property": property_, "form": form}, status=422)
    made, token = invite(property_, by=request.user, **form.cleaned_data)
    address = request.build_absolute_uri(reverse("plots:join", args=[token]))
    return render(request, "plots/invite.html", {"property": property_, "invite": made, "address": address})


@login_not_required
@require_http_methods(["GET", "POST"])
def join(request: HttpRequest, token: str) -> HttpResponse:
    """Follow an invitation, as somebody signed in or as a new person."""
    try:
        found = open_invite(token)
    except InviteOver:
        return render(request, "plots/invite_over.html", status=404)
    form = None if request.user.is_authenticated else JoinForm(request.POST or None)
    if request.method == "POST" and (form is None or form.is_valid()):
        person = request.user if form is None else Person.objects.create_user(**form.cleaned_data)
        accept_invite(found, person=person)
        if form is not None:
            login(request, person, backend="django.contrib.auth.backends.ModelBackend")
        address = f"{reverse('amendments:review')}?property={found.property.code}"
        return done(request, address, f"Welcome to {found.property}.")
    status = 422 if form is not None and form.is_bound else 200
    return render(request, "plots/join.html", {"invite": found, "form": form}, status=status)


def _role(request: HttpRequest, pk: int) -> Role:
    return fetch(request, Role.objects.select_related("property", "person"), pk, allowed=MANAGE)


@require_POST
def change_member(request: HttpRequest, pk: int) -> HttpResponse:
    role = _role(request, pk)
    form = RoleForm(request.POST, prefix=f"role{role.pk}")
    if not form.is_valid():
        return done(request, settings_address(role.property), "Choose one of the three roles.")
    try:
        change_role(role, kind=form.cleaned_data["kind"])
    except LastManager:
        return done(request, settings_address(role.property), LAST_MANAGER)
    return done(request, settings_address(role.property), f"{role}.")


@require_POST
def remove_member(request: HttpRequest, pk: int) -> HttpResponse:
    role = _role(request, pk)
    try:
        remove_role(role)
    except LastManager:
        return done(request, settings_address(role.property), LAST_MANAGER)
    return done(request, settings_address(role.property), f"{role.person} is no longer a member. Their entries stay.")


@require_http_methods(["GET", "POST"])
def new_crop(request: HttpRequest) -> HttpResponse:
    """Add a crop of the property's own."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = OwnCropForm(request.POST or None, property_=property_, groups=list(GROUP_NAMES.items()))
    if form.is_bound and form.is_valid():
        crop: OwnCrop = form.save(commit=False)
        crop.key = free_key(property_, crop.name)
        crop.save()
        return done(request, settings_address(property_), f"{crop.name} can be planted now.")
    context = {"title": "Add a crop", "property": property_, "back": settings_address(property_)}
    return form_page(request, "plots/simple_form.html", form, context)


def free_key(property_: Property, name: str) -> str:
    """A key that neither the catalogue nor the property has."""
    base = f"own_{slugify(name).replace('-', '_')[:30] or 'crop'}"
    taken = {*crops(), *property_.own_crops.values_list("key", flat=True)}
    return next(key for number in range(1, 1000) if (key := base if number == 1 else f"{base}_{number}") not in taken)


@require_http_methods(["GET", "POST"])
def change_crop(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an own crop; the plots it stands on are worked out again."""
    crop = fetch(request, OwnCrop.objects.select_related("property"), pk, allowed=MANAGE)
    groups = list(GROUP_NAMES.items())
    form = OwnCropForm(request.POST or None, instance=crop, property_=crop.property, groups=groups)
    if form.is_bound and form.is_valid():
        form.save()
        tell_changed(crop.property.plots.values_list("pk", flat=True))
        return done(request, settings_address(crop.property), f"{crop.name} changed.")
    context = {"title": f"Change {crop.name}", "property": crop.property, "back": settings_address(crop.property)}
    return form_page(request, "plots/simple_form.html", form, context)


@require_http_methods(["GET", "POST"])
def edit_place(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add or change an access point, a stockpile place, water or another sensitive place."""
    place = None if pk is None else fetch(request, Place.objects.select_related("property"), pk, allowed=MANAGE)
    property_ = place.property if place else property_for(request, allowed=MANAGE)
    if property_ is None:
        return render(request, "amendments/no_property.html")
    form = PlaceForm(request.POST or None, instance=place, property_=property_)
    if form.is_bound and form.is_valid():
        made = form.save()
        return done(request, settings_address(property_), f"{made} saved.")
    context = {"title": "A place that work depends on", "property": property_, "back": settings_address(property_)}
    return form_page(request, "plots/simple_form.html", form, context)


@require_GET
def choose_property(request: HttpRequest) -> HttpResponse:
    """Every property the person has a role in."""
    rows = Role.objects.filter(person=request.user).select_related("property").order_by("property__code_key")
    return render(request, "plots/choose_property.html", {"roles": rows})
