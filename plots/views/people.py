"""The people of a property: roles, invitations by link, and leaving."""

from __future__ import annotations

from django.conf import settings as conf
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from plots.access import MANAGE, READ, fetch, property_for
from plots.forms.people import InviteForm, JoinForm, RoleForm
from plots.http import done, form_page
from plots.models import Invite, Role
from plots.services.people import (
    InviteOver,
    LastManager,
    NameTaken,
    accept_invite,
    change_role,
    invite,
    join_as_new,
    open_invite,
    remove_role,
    withdraw_invite,
)
from plots.views.common import address, no_property, property_to_change, refused

LAST_MANAGER = "A property needs a land manager. Make somebody else one first."
BACKEND = "django.contrib.auth.backends.ModelBackend"


def _role(request: HttpRequest, pk: int, *, allowed: frozenset[str] = MANAGE) -> Role:
    return fetch(request, Role.objects.select_related("property", "person"), pk, allowed=allowed)


@require_GET
def people(request: HttpRequest) -> HttpResponse:
    """Who may do what on the property, and which links are still open."""
    property_ = property_for(request, allowed=MANAGE)
    if property_ is None:
        return no_property(request)
    roles = property_.roles.select_related("person").order_by("kind", "person__username")
    invites = property_.invites.filter(used_at__isnull=True, expires_at__gte=timezone.now()).order_by("expires_at")
    context = {
        "property": property_,
        "members": [(role, RoleForm(initial={"kind": role.kind}, prefix=f"role{role.pk}")) for role in roles],
        "invites": invites,
    }
    return render(request, "plots/people.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
def new_invite(request: HttpRequest) -> HttpResponse:
    """Make an invitation and show its link, this once."""
    property_ = property_to_change(request)
    if property_ is None:
        return no_property(request)
    form = InviteForm(request.POST or None)
    context: dict[str, object] = {"property": property_, "back": address("plots:people", property_),
                                  "address": address("plots:invite", property_)}  # fmt: skip
    if form.is_bound and form.is_valid():
        made, token = invite(property_, by=request.user, **form.cleaned_data)  # type: ignore[arg-type]
        context |= {"invite": made, "link": _link(request, token)}
    return form_page(request, "plots/invite.html", form, context)


def _link(request: HttpRequest, token: str) -> str:
    """The link by the address that people outside come in by, if there is one."""
    path = reverse("plots:join", args=[token])
    public = conf.PUBLIC_URL.rstrip("/")
    return f"{public}{path}" if public else request.build_absolute_uri(path)


@require_POST
def end_invite(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a link worthless before its time."""
    found = fetch(request, Invite.objects.select_related("property"), pk, allowed=MANAGE)
    back = address("plots:people", found.property)
    if not withdraw_invite(found):
        return refused(request, back, "This invitation was used in the meantime; the person stands in the list now.")
    return done(request, back, "The link is worthless now.")


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def join(request: HttpRequest, token: str) -> HttpResponse:
    """Follow an invitation, as somebody signed in or as a new person."""
    try:
        found = open_invite(token)
        return _join_signed_in(request, found) if request.user.is_authenticated else _join_new(request, found)
    except InviteOver:
        return render(request, "plots/invite_over.html", status=404)


def _join_signed_in(request: HttpRequest, found: Invite) -> HttpResponse:
    held = Role.objects.filter(property=found.property, person=request.user.pk).first()
    if held is not None:
        return render(request, "plots/join.html", {"invite": found, "held": held})
    if request.method == "POST":
        accept_invite(found, person=request.user)  # type: ignore[arg-type]
        return done(request, address("amendments:review", found.property), f"Welcome to {found.property}.")
    return render(request, "plots/join.html", {"invite": found})


def _join_new(request: HttpRequest, found: Invite) -> HttpResponse:
    form = JoinForm(request.POST or None)
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        try:
            person = join_as_new(found, username=data["username"], password=data["password"])
        except NameTaken:
            form.add_error("username", "This name was taken in the meantime. Choose another.")
        else:
            login(request, person, backend=BACKEND)
            return done(request, address("amendments:review", found.property), f"Welcome to {found.property}.")
    return form_page(request, "plots/join.html", form, {"invite": found})


@require_POST
def change_member(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a member another role."""
    role = _role(request, pk)
    back = address("plots:people", role.property)
    form = RoleForm(request.POST, prefix=f"role{role.pk}")
    if not form.is_valid():
        return refused(request, back, "Choose one of the three roles.")
    try:
        change_role(role, kind=form.cleaned_data["kind"])
    except LastManager:
        return refused(request, back, LAST_MANAGER)
    return done(request, back, f"{role}.")


@require_http_methods(["GET", "POST"])
def remove_member(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a member's role away, once it is said what stays."""
    role = _role(request, pk)
    return _part(request, role, back=address("plots:people", role.property))


@require_http_methods(["GET", "POST"])
def leave(request: HttpRequest, pk: int) -> HttpResponse:
    """Give one's own role up."""
    role = _role(request, pk, allowed=READ)
    if role.person_id != request.user.pk:
        raise PermissionDenied("only the land manager takes somebody else's role away")
    return _part(request, role, back=reverse("plots:choose_property"))


def _part(request: HttpRequest, role: Role, *, back: str) -> HttpResponse:
    is_self = role.person_id == request.user.pk
    if request.method != "POST":
        context = {"property": role.property, "role": role, "back": back, "is_self": is_self}
        return render(request, "plots/remove_member.html", context)
    try:
        remove_role(role)
    except LastManager:
        return refused(request, back, LAST_MANAGER)
    if is_self:
        return done(request, reverse("plots:choose_property"), f"You have left {role.property}.")
    return done(request, back, f"{role.person} is no longer a member. What they entered stays.")
