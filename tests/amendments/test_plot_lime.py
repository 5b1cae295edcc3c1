"""The lime part of a plot's page: other calibrations, lime that nitrogen uses up, pellets at a token rate."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse

from agronomy.lime_requirement import calibrations
from plots.seasons import season_days, season_name, season_on
from tests.factories import make_fertilizer, make_lime, make_plot, make_record, make_test

pytestmark = pytest.mark.django_db

TODAY = dt.date.today()
LAST_MONTH = TODAY - dt.timedelta(days=30)


@pytest.fixture
def owl(ground):
    plot = make_plot(ground, "Owl", acres="2", target_ph=Decimal("6.4"), texture="silt_loam")
    make_test(plot, on=LAST_MONTH, ph="5.6", buffer_ph="6.2", buffer_method="sikora")
    return plot


def page(client, plot, **query) -> BeautifulSoup:
    response = client.get(reverse("amendments:plot", args=[plot.pk]), query)
    assert response.status_code == 200
    return BeautifulSoup(response.content, "html.parser")


def text_of(soup) -> str:
    return " ".join(soup.get_text(" ").split())


class TestOtherCalibrations:
    def test_only_the_state_s_own_unless_asked(self, cast, client_of, owl) -> None:
        soup = page(client_of(cast.viewer), owl)
        titles = [one.title for one in calibrations("cool_humid").values() if one.key != "sikora_oregon_2025"]
        assert soup.find("a", href=lambda to: to and "calibrations=all" in to) is not None
        assert soup.find(attrs={"aria-label": "Other calibrations"}) is None
        assert not any(title in text_of(soup) for title in titles)

    def test_asked_for_every_other_one_answers_or_says_why_not(self, cast, client_of, owl) -> None:
        soup = page(client_of(cast.viewer), owl, calibrations="all")
        rows = soup.find(attrs={"aria-label": "Other calibrations"}).select("tbody tr")
        held = {one.title: one for key, one in calibrations("cool_humid").items() if key != "sikora_oregon_2025"}
        assert {row.th.get_text().strip() for row in rows} == set(held)
        for row in rows:
            one, said = held[row.th.get_text().strip()], text_of(row)
            assert one.status in said
            assert one.unit in said.replace("tons/acre", "ton/acre") or "No rate." in said or "No rate:" in said
        by_title = {row.th.get_text().strip(): text_of(row) for row in rows}
        # The test's buffer is Sikora: Kentucky's reads it, Iowa's SMP must not.
        assert "SMP" in by_title[held_title("smp_iowa_2002")] and "No rate" in by_title[held_title("smp_iowa_2002")]
        assert "ton/acre" in by_title[held_title("sikora_kentucky")]

    def test_no_test_no_table(self, cast, client_of, ground) -> None:
        soup = page(client_of(cast.manager), make_plot(ground, "New"), calibrations="all")
        assert soup.find(attrs={"aria-label": "Other calibrations"}) is None or not soup.select(
            "[aria-label='Other calibrations'] tbody tr"
        )


def held_title(key: str) -> str:
    return calibrations("cool_humid")[key].title


class TestNitrogen:
    def test_this_season_s_nitrogen_is_told_per_acre_of_the_plot(self, cast, client_of, owl) -> None:
        """400 lb of ammonium sulfate 21-0-0 on 1 of 2 acres: 42 lb N an acre x 5.4 = 226.8 lb of lime."""
        sulfate = make_fertilizer(cast.ground, "21-0-0", nitrogen_source="ammonium_sulfate")
        make_record(owl, sulfate, on=TODAY, amount="400", unit="lb", area="1", by=cast.hand)
        text = text_of(page(client_of(cast.viewer), owl))
        assert "This season's nitrogen, 42 lb/acre, uses up 227 lb of lime per acre" in text

    def test_earlier_seasons_by_name_and_corrections_as_corrected(self, cast, client_of, owl) -> None:
        urea = make_fertilizer(cast.ground, "46-0-0", nitrogen_source="urea")
        last, _ = season_days(season_on(TODAY) - 1)
        make_record(owl, urea, on=last, amount="200", unit="lb", by=cast.hand)
        text = text_of(page(client_of(cast.viewer), owl))
        # 92 lb N on 2 acres: 46 x 1.8 = 82.8
        assert (
            f"The nitrogen of {season_name(season_on(TODAY) - 1)}, 46 lb/acre, uses up 82.8 lb of lime per acre" in text
        )

    def test_a_source_that_is_not_named_is_told_and_not_guessed(self, cast, client_of, owl) -> None:
        make_record(owl, make_fertilizer(cast.ground, "10-10-10"), on=TODAY, amount="200", unit="lb", by=cast.hand)
        text = text_of(page(client_of(cast.viewer), owl))
        assert "uses up an amount of lime that is not known" in text and "that is not named" in text

    def test_the_book_tells_it_by_record(self, cast, client_of, owl) -> None:
        urea = make_fertilizer(cast.ground, "46-0-0", nitrogen_source="urea")
        make_record(owl, urea, on=TODAY, amount="100", unit="lb", area="1", by=cast.hand)
        response = client_of(cast.viewer).get(reverse("amendments:records"))
        assert "its nitrogen uses up 82.8 lb/acre of lime" in text_of(BeautifulSoup(response.content, "html.parser"))


class TestTokenRate:
    @pytest.mark.parametrize(("bags", "told"), [("10", True), ("100", False)])
    def test_a_few_bags_of_pellets_are_called_a_token(self, cast, client_of, owl, bags: str, told: bool) -> None:
        """2.8 ton/acre of score 100 is over 6,000 lb of pellets an acre; 10 bags on 2 acres are 250."""
        pellets = make_lime(cast.ground, "Pellets", form="pelletized", cce_percent=Decimal(90),
                            moisture_percent=Decimal(0), passing_percent={"10": 100, "20": 100, "40": 100})  # fmt: skip
        make_record(owl, pellets, on=TODAY, amount=bags, unit="bag", package_lb=Decimal(50), by=cast.hand)
        assert ("such small rates of pellets did nothing" in text_of(page(client_of(cast.viewer), owl))) == told
