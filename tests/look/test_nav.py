"""The ways onward in the head of a page, by role."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from bs4 import BeautifulSoup
from django.contrib.auth.models import AnonymousUser
from django.shortcuts import render
from django.test import RequestFactory
from django.urls import path
from pytest_django import DjangoAssertNumQueries, Settings

from plots import context
from plots.models import Person, Property
from tests.factories import give_role, make_property

urlpatterns = [path("", lambda request: None, name="sources"), path("due/", lambda request: None, name="sign_out")]


@pytest.fixture(autouse=True)
def _forget_addresses() -> object:
    clear = context._address.cache_clear
    clear()
    yield
    clear()


@pytest.fixture
def all_exist(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if every page existed, each under its URL name."""
    monkeypatch.setattr(context, "_address", lambda name, prefix: f"/{name.split(':')[-1]}/")


def labels(*roles: str, at: str = "/") -> list[str]:
    return [item.label for item in context.ways_for(roles, at)]


@pytest.mark.usefixtures("all_exist")
def test_ways_by_role() -> None:
    everything = ["Review", "Map", "Tests", "Due", "Plan", "Orders", "Records", "Sources", "Settings"]
    assert labels("manager") == everything
    assert labels("viewer") == everything[:-1]
    assert labels("hand") == ["Today", "Review", "Map", "Orders", "Records", "Sources"]
    assert labels("operator") == ["Sources", "Settings"]
    assert labels("operator", "viewer") == everything
    assert labels() == []


@pytest.mark.usefixtures("all_exist")
def test_the_current_way_is_marked() -> None:
    def current(at: str) -> dict[str, str]:
        return {item.label: item.current for item in context.ways_for(["manager"], at) if item.current}

    assert current("/due/") == {"Due": "page"}
    assert current("/due/feed/") == {"Due": "true"}
    assert current("/elsewhere/") == {}


def test_the_front_page_is_current_only_on_itself() -> None:
    assert context._current("/", "/") == "page"
    assert context._current("/plots/1/", "/") == ""


def test_ways_without_a_page_are_left_out(settings: Settings) -> None:
    settings.ROOT_URLCONF = __name__
    assert labels("manager") == ["Sources"]


def page_for(person: object, address: str = "/") -> BeautifulSoup:
    request = RequestFactory().get(address)
    request.user = person
    return BeautifulSoup(render(request, "base.html").content, "html.parser")


@pytest.mark.django_db
@pytest.mark.usefixtures("all_exist")
def test_the_head_names_the_property_and_the_person(manager: Person, ground: Property) -> None:
    manager.last_property = ground
    page = page_for(manager)
    assert page.select_one(".masthead .property").text == ground.name
    assert page.title.text == f"Sweetground · {ground.name}"
    assert "manager" in page.select_one(".who").text
    assert page.select_one("form[method=post] [name=csrfmiddlewaretoken]") is not None
    assert page.select_one(".others") is None


@pytest.mark.django_db
def test_a_property_without_a_role_is_not_named(manager: Person, stranger: Person) -> None:
    manager.last_property = Property.objects.get(code="ELSEWHERE")
    assert "ELSEWHERE" not in page_for(manager).text


@pytest.mark.django_db
def test_other_properties_are_offered(manager: Person, ground: Property) -> None:
    other = make_property("OTHER & CO")
    give_role(manager, other, "viewer")
    manager.last_property = ground
    page = page_for(manager)
    assert [link["href"] for link in page.select(".others a")] == ["/?property=OTHER%20%26%20CO"]


@pytest.mark.django_db
def test_the_head_costs_two_queries(
    manager: Person, ground: Property, django_assert_max_num_queries: Callable[[int], DjangoAssertNumQueries]
) -> None:
    Person.objects.filter(pk=manager.pk).update(last_property=ground)
    fresh = Person.objects.get(pk=manager.pk)
    with django_assert_max_num_queries(2):
        page_for(fresh)


def test_nobody_signed_in_and_no_user_at_all() -> None:
    assert page_for(AnonymousUser()).select_one("nav") is None
    request = RequestFactory().get("/")
    assert b"Sweetground" in render(request, "base.html").content


def test_a_page_has_one_main_a_skip_link_and_a_live_region() -> None:
    page = page_for(AnonymousUser())
    assert page.html["lang"] == "en-US"
    assert page.select_one("a.skip")["href"] == f"#{page.main['id']}"
    assert len(page.select("main")) == 1
    assert page.select_one("#messages")["role"] == "status"
    assert page.select_one("script[src]") is not None
