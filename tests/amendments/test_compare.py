"""The material comparison and the label check through their pages."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse

from amendments.models import StockCount
from amendments.queries.stock import on_hand_lb
from tests.factories import (
    make_fertilizer,
    make_lime,
    make_offer,
    make_plot,
    make_record,
    make_spreader,
    make_test,
)

pytestmark = pytest.mark.django_db

TODAY = dt.date.today()
LAST_MONTH = TODAY - dt.timedelta(days=30)
COMPARE, LABEL = reverse("amendments:compare"), reverse("amendments:label_check")


def owing(ground, code: str, *, acres: str = "1.5", **fields):
    """2.8 ton/acre of 100-score lime owed: Sikora 6.2, target 6.4."""
    plot = make_plot(ground, code, acres=acres, target_ph=Decimal("6.4"), texture="silt_loam", **fields)
    make_test(plot, on=LAST_MONTH, ph="5.6", buffer_ph="6.2", buffer_method="sikora")
    return plot


@pytest.fixture
def truck(ground):
    """22 tons at $660, score 62.7."""
    return make_offer(make_lime(ground, "Quarry stone"), price="660", package="truckload")


@pytest.fixture
def pellets(ground):
    """50-lb bags at $6, all through 40 mesh and CCE 90: score 90."""
    material = make_lime(ground, "Pellets", form="pelletized", cce_percent=Decimal(90), moisture_percent=Decimal(0),
                         passing_percent={"10": 100, "20": 100, "40": 100})  # fmt: skip
    return make_offer(material, price="6", package="bag")


def soup_of(client, address: str, **query) -> BeautifulSoup:
    response = client.get(address, query)
    assert response.status_code == 200
    return BeautifulSoup(response.content, "html.parser")


def text_of(soup) -> str:
    return " ".join(soup.get_text(" ").split())


def row(soup, name: str) -> str:
    return next(text_of(tr) for tr in soup.select("tbody tr") if tr.th.get_text().strip().startswith(name))


class TestComparison:
    def test_rates_purchases_and_dollars_for_a_plot(self, cast, client_of, truck, pellets) -> None:
        plot = owing(cast.ground, "Owl", access="lime_truck")
        soup = soup_of(client_of(cast.viewer), COMPARE, plot=plot.pk)
        stone, bags = row(soup, "Quarry stone"), row(soup, "Pellets")
        assert "4.47 ton/acre" in stone and "1 truckload of 22 tons" in stone and "$660.00" in stone
        # 2.8 x 2000 / 0.9 = 6,222 lb/acre x 1.5 = 9,333 lb = 187 bags x $6
        assert "6,222 lb/acre" in bags and "187 bags of 50 lb" in bags and "$1,122.00" in bags
        # $30 a ton / 0.627 and $240 a ton / 0.9
        assert "$47.85/ton" in stone and "$266.67/ton" in bags
        assert "Quarry stone (picked up) is the cheapest that can be spread on 1 plot: $660.00" in text_of(soup)

    def test_a_plot_that_the_truck_does_not_reach_gets_its_own_cheapest(self, cast, client_of, truck, pellets) -> None:
        owing(cast.ground, "Near", access="lime_truck")
        owing(cast.ground, "Far", acres="0.25", access="on_foot")
        text = text_of(soup_of(client_of(cast.manager), COMPARE, property="GROUND"))
        assert "Quarry stone (picked up) is the cheapest that can be spread on 1 plot" in text
        assert "Pellets (picked up) is the only lime on offer that can be spread on 1 plot: $192.00" in text
        assert "1 of 2 plots" in text

    def test_what_is_on_hand_is_used_first(self, cast, client_of, pellets) -> None:
        plot = owing(cast.ground, "Owl")
        StockCount.objects.create(material=pellets.material, counted_on=LAST_MONTH, amount_entered=100,
                                  unit_entered="bag", package_lb=50, amount_lb=5000)  # fmt: skip
        text = text_of(soup_of(client_of(cast.manager), COMPARE, plot=plot.pk))
        assert "87 bags of 50 lb" in text and "5,000 lb on hand" in text

    def test_schemes_side_by_side_and_each_column_sorts(self, cast, client_of, truck, pellets) -> None:
        owing(cast.ground, "Owl", access="lime_truck")
        client = client_of(cast.manager)
        soup = soup_of(client, COMPARE, scheme=["ohio_enp", "iowa_ecce", "nonsense"])
        heads = [text_of(head) for head in soup.select("thead th")]
        assert "Iowa ECCE" in heads and "Ohio ENP" in heads
        first = {}
        for sort in ("cost", "-cost", "offer", "-offer", "rate", "buy", "effective_ton", "hours", "reach"):
            names = [tr.th.get_text().split()[0] for tr in soup_of(client, COMPARE, sort=sort).select("tbody tr")]
            assert sorted(names) == ["Pellets", "Quarry"]
            first[sort] = names[0]
        assert (first["cost"], first["-cost"], first["offer"], first["-offer"]) == (
            "Quarry", "Pellets", "Pellets", "Quarry",
        )  # fmt: skip

    def test_loads_and_hours_of_the_own_spreader(self, cast, client_of, pellets) -> None:
        plot = owing(cast.ground, "Owl")
        make_spreader(cast.ground, hopper_lb=Decimal(1000), minutes_per_load=15, acres_per_hour=Decimal(3))
        # 9,333 lb: 10 loads, 2.5 h and 1.5 ac at 3 ac/h
        assert "10 loads, 3 hours" in row(soup_of(client_of(cast.manager), COMPARE, plot=plot.pk), "Pellets")

    def test_strangers_learn_nothing(self, cast, client_of, truck) -> None:
        plot = owing(cast.ground, "Owl")
        client = client_of(cast.stranger)
        assert client.get(COMPARE, {"plot": plot.pk}).status_code == 404
        assert client.get(COMPARE, {"property": "GROUND"}).status_code == 404

    @pytest.mark.parametrize("query", ["plot=%00", "plot=9999999999999999999999", "plot=-1", "plot=x", "plot=%C2%B2"])
    def test_nonsense_in_the_address(self, cast, client_of, query: str) -> None:
        assert client_of(cast.manager).get(f"{COMPARE}?{query}").status_code == 404

    @pytest.mark.parametrize("query", ["sort=%00", "sort=price", "scheme=%00", "plot="])
    def test_what_is_not_in_the_lists_is_left_out(self, cast, client_of, query: str) -> None:
        assert client_of(cast.manager).get(f"{COMPARE}?{query}").status_code == 200

    def test_no_more_queries_for_more_plots_and_offers(
        self, cast, client_of, truck, django_assert_max_num_queries
    ) -> None:
        client = client_of(cast.manager)
        owing(cast.ground, "A", access="lime_truck")
        client.get(COMPARE)
        counts = []
        for size in (1, 5):
            with django_assert_max_num_queries(40) as seen:
                client.get(COMPARE)
            counts.append(len(seen))
            for place in range(4 * (size == 1)):
                owing(cast.ground, f"B{place}")
                make_offer(make_lime(cast.ground, f"Stone {place}"), price="30")
        assert counts[0] == counts[1]

    def test_nothing_to_compare_says_the_next_step(self, cast, client_of) -> None:
        client = client_of(cast.manager)
        assert "No plot is entered yet" in text_of(soup_of(client, COMPARE))
        owing(cast.ground, "Owl")
        assert "Add a material and its price" in text_of(soup_of(client, COMPARE))


def test_stock_is_the_last_count_and_what_came_since_less_what_was_spread(ground) -> None:
    material, plot = make_lime(ground), make_plot(ground)
    never, received = make_lime(ground), make_fertilizer(ground, "0-46-0")
    day = LAST_MONTH

    def count(of, when, pounds: int, **fields) -> None:
        StockCount.objects.create(material=of, counted_on=when, amount_entered=pounds, unit_entered="lb",
                                  amount_lb=pounds, **fields)  # fmt: skip

    count(material, day - dt.timedelta(days=9), 9999)
    make_record(plot, material, on=day - dt.timedelta(days=3), amount="500", unit="lb")
    count(material, day, 4000)
    count(material, day + dt.timedelta(days=2), 1000, is_receipt=True)
    make_record(plot, material, on=day + dt.timedelta(days=4), amount="700", unit="lb")
    count(received, day, 300, is_receipt=True)
    make_record(plot, received, on=day + dt.timedelta(days=1), amount="800", unit="lb")
    found = on_hand_lb([material.pk, never.pk, received.pk])
    assert found == {material.pk: Decimal(4300), received.pk: Decimal(0)}


JUG = {"formula": "CaCO3", "percent": "50", "contents": "2.5", "unit": "gal", "claims_lb_lime": "2000", "price": "40"}


class TestLabelCheck:
    def test_an_impossible_claim_is_called_so(self, cast, client_of) -> None:
        """A 2.5-gallon jug of half limestone holds 15.2 lb CaCO3, not a ton."""
        text = text_of(soup_of(client_of(cast.viewer), LABEL, **JUG))
        assert "The claim on the label is impossible" in text and "15.2 lb" in text
        assert "the claim is 131.2 times what chemistry allows" in text

    def test_packages_and_dollars_for_a_plot(self, cast, client_of) -> None:
        plot = owing(cast.ground, "Owl")
        text = text_of(soup_of(client_of(cast.manager), LABEL, **JUG, plot=plot.pk, use_packages_per_acre="2"))
        # 5,600 lb/acre x 1.5 acres = 8,400 lb / 15.245 lb
        assert "It would take 552 packages" in text and "$22,080.00" in text
        assert "brings 0.5% of the need" in text

    @pytest.mark.parametrize(("formula", "anion"), [("CaCl2", "chloride"), ("CaSO4(H2O)2", "sulfate")])
    def test_salts_are_worth_nothing_and_the_reason_is_given(self, cast, client_of, formula: str, anion: str) -> None:
        query = {**JUG, "formula": formula, "unit": "lb", "need_lb_per_acre": "4000", "acres": "1"}
        text = text_of(soup_of(client_of(cast.manager), LABEL, **query))
        assert "supplies no lime at all" in text and anion in text and "strong acid" in text
        assert "No number of packages would do it" in text

    def test_a_true_claim_is_called_possible_and_caustic_lime_warned_of(self, cast, client_of) -> None:
        query = {"formula": "Ca(OH)2", "percent": "95", "contents": "50", "unit": "lb", "claims_lb_lime": "60"}
        text = text_of(soup_of(client_of(cast.manager), LABEL, **query))
        assert "The claim is possible" in text and "Danger" in text

    @pytest.mark.parametrize(
        ("change", "field"),
        [({"percent": "101"}, "percent"), ({"contents": "0"}, "contents"), ({"formula": "H2O"}, "formula"),
         ({"density_lb_per_gal": "40"}, "density_lb_per_gal"), ({"plot": "99999"}, "plot"),
         ({"plot": "\x00"}, "plot"), ({"percent": "NaN"}, "percent"), ({"acres": "2"}, "need_lb_per_acre")],
    )  # fmt: skip
    def test_what_cannot_be_is_refused_and_kept(self, cast, client_of, change: dict[str, str], field: str) -> None:
        response = client_of(cast.manager).get(LABEL, {**JUG, **change})
        assert response.status_code == 422
        assert field in response.context["form"].errors
        assert b'value="2.5"' in response.content or "contents" in change

    def test_another_property_s_plot_is_no_choice(self, cast, client_of) -> None:
        theirs = make_plot(cast.stranger.roles.get().property, "Theirs")
        assert client_of(cast.manager).get(LABEL, {**JUG, "plot": theirs.pk}).status_code == 422
