"""The page of sources and checks."""

from __future__ import annotations

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse

from agronomy.check_values import package_rows
from agronomy.formulas import FORMULAS
from agronomy.lime_requirement import calibrations
from agronomy.sources import sources
from config.views.sources import body

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def page() -> BeautifulSoup:
    return BeautifulSoup(body(), "html.parser")


@pytest.mark.parametrize("who", ["manager", "hand", "viewer", "operator", "stranger"])
def test_everybody_who_is_signed_in_may_read_it(cast, client_of, who: str) -> None:
    response = client_of(getattr(cast, who)).get(reverse("sources"))
    assert response.status_code == 200
    assert "Sources and checks" in response.content.decode()


def test_who_is_not_signed_in_is_asked_to(client) -> None:
    response = client.get(reverse("sources"))
    assert response.status_code == 302 and "sign-in" in response["Location"]


def test_the_page_costs_no_query_of_its_own(cast, client_of, django_assert_max_num_queries) -> None:
    client = client_of(cast.manager)
    client.get(reverse("sources"))
    with django_assert_max_num_queries(8):
        client.get(reverse("sources"))


def test_every_source_has_its_place_once(page: BeautifulSoup) -> None:
    ids = [tag["id"] for tag in page.select("[id]")]
    assert len(ids) == len(set(ids))
    assert set(sources()) <= set(ids)


def test_every_link_on_the_page_leads_somewhere(page: BeautifulSoup) -> None:
    ids = {tag["id"] for tag in page.select("[id]")}
    assert {link["href"].split("#")[1] for link in page.select("a[href*='#']")} - ids == set()


def test_every_check_row_stands_there_with_its_verdict(page: BeautifulSoup) -> None:
    rows = page.select("section[aria-labelledby=checks-head] details tbody tr")
    assert sorted(row.th.get_text() for row in rows) == sorted(row.id for row in package_rows())
    verdicts = [row.find_all("td")[4].get_text() for row in rows]
    assert all(one == "passed" or one.startswith("failed: ") for one in verdicts)
    told = page.select_one("section[aria-labelledby=checks-head] header p").get_text()
    failed = sum(one != "passed" for one in verdicts)
    assert told == f"{len(rows) - failed:,} passed, {failed} failed"


def test_formulas_and_calibrations_name_a_source_that_is_there(page: BeautifulSoup) -> None:
    assert [one.name for one in FORMULAS if one.source not in sources()] == []
    heads = [th.get_text() for th in page.select("section[aria-labelledby=calibrations-head] tbody th")]
    assert heads == [one.title for one in calibrations().values()]


def test_what_is_from_memory_is_marked(page: BeautifulSoup) -> None:
    for key, one in sources().items():
        place = page.find(id=key)
        assert f"({one.status})" in place.get_text()
        assert bool(place.select(".unsure")) == (one.status in ("from memory", "second-hand"))
