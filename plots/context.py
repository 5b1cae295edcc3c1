"""What every page's head needs: the property it is about and the ways onward, by role."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from django.http import HttpRequest
from django.urls import NoReverseMatch, get_script_prefix, reverse
from django.utils.functional import SimpleLazyObject

from plots.access import role_in
from plots.models import Person, Property, Role

ALL = frozenset({Role.Kind.MANAGER, Role.Kind.HAND, Role.Kind.VIEWER})
MANAGER, HAND, VIEWER = Role.Kind.MANAGER, Role.Kind.HAND, Role.Kind.VIEWER
OPERATOR = "operator"


@dataclass(frozen=True, slots=True)
class Way:
    """A place in the head's list: its words, its URL name, and whose work it belongs to."""

    label: str
    name: str
    roles: frozenset[str]


@dataclass(frozen=True, slots=True)
class NavItem:
    """A way as the page shows it; `current` is "page" on the place itself, "true" below it, else empty."""

    label: str
    address: str
    current: str


WAYS: tuple[Way, ...] = (
    Way("Today", "amendments:field", frozenset({HAND})),
    Way("Review", "amendments:review", ALL),
    Way("Map", "plots:map", ALL),
    Way("Tests", "soiltests:reports", frozenset({MANAGER, VIEWER})),
    Way("Due", "amendments:due", frozenset({MANAGER, VIEWER})),
    Way("Plan", "amendments:plan", frozenset({MANAGER, VIEWER})),
    Way("Orders", "amendments:orders", ALL),
    Way("Records", "amendments:records", ALL),
    Way("Sources", "sources", ALL | {OPERATOR}),
    Way("Settings", "plots:settings", frozenset({MANAGER, OPERATOR})),
)


@cache
def _address(name: str, prefix: str) -> str | None:
    """The address of a URL name, or None while no such page exists. Kept per script prefix."""
    try:
        return reverse(name)
    except NoReverseMatch:
        return None


def _current(path: str, address: str) -> str:
    if path == address:
        return "page"
    return "true" if address != get_script_prefix() and path.startswith(address) else ""


def ways_for(roles: Iterable[str], path: str) -> list[NavItem]:
    """The ways of these roles, in the year's order, those without a page left out."""
    held = frozenset(roles)
    found: list[NavItem] = []
    for way in WAYS:
        address = _address(way.name, get_script_prefix()) if held & way.roles else None
        if address is not None:
            found.append(NavItem(way.label, address, _current(path, address)))
    return found


def _person(request: HttpRequest) -> Person | None:
    """Who is signed in; an error page may be written before anybody could be."""
    person = getattr(request, "user", None)
    return person if isinstance(person, Person) else None


def _role(person: Person) -> str | None:
    """The person's role on the property last used: it is the page's own, since access keeps it."""
    return None if person.last_property_id is None else role_in(person, person.last_property_id)


def _property(request: HttpRequest) -> Property | None:
    person = _person(request)
    return person.last_property if person is not None and _role(person) else None


def _others(request: HttpRequest) -> list[Property]:
    """The person's other properties; asked of the database only if there is more than one."""
    person = _person(request)
    if person is None or person.last_property_id is None:
        return []
    _role(person)  # reads all roles of the person at once
    ids = set(getattr(person, "_roles_by_property", {})) - {person.last_property_id}
    return list(Property.objects.filter(pk__in=ids)) if ids else []


def _ways(request: HttpRequest) -> list[NavItem]:
    person = _person(request)
    if person is None:
        return []
    role = _role(person)
    roles = ({OPERATOR} if person.is_operator else set()) | ({role} if role else set())
    return ways_for(roles, request.path)


def nav(request: HttpRequest) -> dict[str, object]:
    """For the head of a page: `nav` (list of `NavItem`), `nav_property`, `nav_others` (further properties), and the
    addresses to sign out and to one's own account. Nothing is read from the database before it is shown."""
    prefix = get_script_prefix()
    return {
        "nav": SimpleLazyObject(lambda: _ways(request)),
        "nav_property": SimpleLazyObject(lambda: _property(request)),
        "nav_others": SimpleLazyObject(lambda: _others(request)),
        "sign_out_address": _address("sign_out", prefix) or "",
        "account_address": _address("change_password", prefix) or "",
    }
