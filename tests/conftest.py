"""The standing cast of every test that has people in it, and the browser."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator

import pytest
from django.test import Client

from plots.models import Person, Property, Role
from tests.factories import give_role, make_person, make_property


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


@pytest.fixture
def client_of() -> Callable[[Person], Client]:
    """A signed-in client of a person."""

    def signed_in(person: Person) -> Client:
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return signed_in


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """One Chromium for the session; pages are made in contexts of their own."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415  (only browser tests need it)

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield browser
        browser.close()
