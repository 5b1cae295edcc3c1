"""Who may see and do what, in one place.

Strangers to a property get 404, so that nothing tells them it exists. Members whose role does not allow an act
get 403. Every view that shows or changes something of a property goes through one of these functions.
"""

from __future__ import annotations

from typing import TypeVar

from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404

from plots.models import Person, Plot, Property, Role
from plots.text import code_key

M = TypeVar("M", bound=models.Model)

READ = frozenset({Role.Kind.MANAGER, Role.Kind.HAND, Role.Kind.VIEWER})
RECORD = frozenset({Role.Kind.MANAGER, Role.Kind.HAND})
MANAGE = frozenset({Role.Kind.MANAGER})


def role_in(person: Person, property_id: int) -> str | None:
    """The person's role on a property, or None. Read once a request."""
    roles: dict[int, str] | None = getattr(person, "_roles_by_property", None)
    if roles is None:
        roles = dict(Role.objects.filter(person_id=person.pk).values_list("property_id", "kind"))
        person._roles_by_property = roles  # type: ignore[attr-defined]
    return roles.get(property_id)


def require(person: Person, property_id: int, allowed: frozenset[str]) -> str:
    """The person's role; 404 for strangers, 403 where the role does not allow it."""
    role = role_in(person, property_id)
    if role is None:
        raise Http404("no such property for this person")
    if role not in allowed:
        raise PermissionDenied(f"a {Role.Kind(role).label} may not do this")
    return role


def may(request: HttpRequest, property_id: int, allowed: frozenset[str]) -> bool:
    """Whether the signed-in person may do this on the property; for showing or hiding a control."""
    return role_in(request.user, property_id) in allowed  # type: ignore[arg-type]


def fetch(
    request: HttpRequest,
    queryset: models.QuerySet[M],
    pk: object,
    *,
    allowed: frozenset[str] = READ,
    through: str = "property_id",
) -> M:
    """The row with this key, if the person's role on its property allows it.

    `through` is the path from the row to its property's id, for instance `plot__property_id` as `plot.property_id`.
    """
    row = get_object_or_404(queryset, pk=pk)
    owner: object = row
    for part in through.split("."):
        owner = getattr(owner, part)
    require(request.user, owner, allowed)  # type: ignore[arg-type]
    remember_property(request.user, owner)  # type: ignore[arg-type]
    return row


def plot_for(request: HttpRequest, pk: int, *, allowed: frozenset[str] = READ) -> Plot:
    """A plot with its property."""
    return fetch(request, Plot.objects.select_related("property"), pk, allowed=allowed)


def property_for(request: HttpRequest, *, allowed: frozenset[str] = READ) -> Property | None:
    """The property a list is about: the one named by `?property=CODE`, else the last one used, else the first.

    None for a person without any property. A named property that the person has no role in is 404.
    """
    person: Person = request.user  # type: ignore[assignment]
    code = request.GET.get("property", "")
    if code:
        # A NUL never names a property, and PostgreSQL refuses it in a filter.
        found = get_object_or_404(Property, code_key=code_key(code.replace("\x00", "")))
    else:
        seen = Property.objects.seen_by(person)
        found = seen.filter(pk=person.last_property_id).first() or seen.first()
        if found is None:
            return None
    require(person, found.pk, allowed)
    remember_property(person, found.pk)
    person.last_property = found  # read already, so the head of the page need not ask again
    return found


def remember_property(person: Person, property_id: int) -> None:
    """Keep the last property used: a list without a name opens on it, and the head of the page names it."""
    if person.last_property_id != property_id:
        person.last_property_id = property_id
        Person.objects.filter(pk=person.pk).update(last_property_id=property_id)
