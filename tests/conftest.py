"""What every test may ask for: the standing cast, clients signed in, and counts that --deep raises."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from django.conf import settings
from django.test import Client

from plots.models import Person, Property, Role
from tests.factories import give_role, make_person, make_property

pytest_plugins = ["tests.browser", "tests.running"]


def pytest_configure(config: pytest.Config) -> None:
    # Hashing a password well takes a tenth of a second, which thousands of tests do not need.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def deep_count(request: pytest.FixtureRequest) -> Callable[[int, int], int]:
    """`deep_count(default, deep)`: how often to do a thing; the same code at any count."""
    is_deep = request.config.getoption("--deep")
    return lambda default, deep: deep if is_deep else default


@pytest.fixture
def manager(db: None) -> Person:
    return make_person("manager")


@pytest.fixture
def hand(db: None) -> Person:
    return make_person("hand")


@pytest.fixture
def viewer(db: None) -> Person:
    return make_person("viewer")


@pytest.fixture
def operator(db: None) -> Person:
    return make_person("operator", is_operator=True)


@pytest.fixture
def stranger(db: None) -> Person:
    """Someone with a property of their own, and no role in ours."""
    person = make_person("stranger")
    make_property("ELSEWHERE", manager=person)
    return person


@pytest.fixture
def ground(manager: Person, hand: Person, viewer: Person) -> Property:
    """A property with a manager, a hand and a viewer, in Oregon for its published Sikora table."""
    made = make_property("GROUND", manager=manager, state="OR", region="cool_humid")
    give_role(hand, made, Role.Kind.HAND)
    give_role(viewer, made, Role.Kind.VIEWER)
    return made


@dataclass(frozen=True, slots=True)
class Cast:
    """One property and everybody around it."""

    ground: Property
    manager: Person
    hand: Person
    viewer: Person
    operator: Person
    stranger: Person

    def people(self) -> dict[str, Person]:
        """Everybody, by what they are to the property."""
        return {name: getattr(self, name) for name in ("manager", "hand", "viewer", "operator", "stranger")}


@pytest.fixture
def cast(
    ground: Property, manager: Person, hand: Person, viewer: Person, operator: Person, stranger: Person
) -> Cast:
    return Cast(ground, manager, hand, viewer, operator, stranger)


@pytest.fixture
def client_of() -> Callable[[Person], Client]:
    """A signed-in client of a person."""

    def signed_in(person: Person) -> Client:
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return signed_in
