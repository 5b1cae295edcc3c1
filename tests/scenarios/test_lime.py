"""Lime on an invented property, followed through the pages. The arithmetic of each step is worked in its docstring."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse

from amendments.models import SpreadingRecord, Standing
from amendments.queries.inputs import gather
from amendments.services.prescriptions import lime_need
from amendments.services.products import lime_products
from soiltests.services.entry import MeasurementEntry
from tests.factories import make_lime, make_offer, make_planting, make_plot, make_property, make_record, make_test

pytestmark = pytest.mark.django_db

TODAY = dt.date.today()
LAST_MONTH = TODAY - dt.timedelta(days=30)


def page_of(client, plot) -> BeautifulSoup:
    response = client.get(reverse("amendments:plot", args=[plot.pk]))
    assert response.status_code == 200
    return BeautifulSoup(response.content, "html.parser")


def text_of(soup: BeautifulSoup) -> str:
    return " ".join(soup.get_text(" ").split())


@pytest.fixture
def owl_bottom(ground):
    """1.5 acres tilled 6 inches, Sikora 6.2, pH 5.6, target 6.4."""
    plot = make_plot(ground, "Owl Bottom", acres="1.5", target_ph=Decimal("6.4"), texture="silt_loam",
                     access="lime_truck")  # fmt: skip
    make_test(plot, on=LAST_MONTH, ph="5.6", buffer_ph="6.2", buffer_method="sikora")
    return plot


@pytest.fixture
def stone(ground):
    """CCE 88, passing 10/20/40 mesh = 95/75/60 %, 5 % water: (20 x .3 + 15 x .6 + 60) x .88 x .95 = 62.7."""
    material = make_lime(ground, "Quarry stone")
    make_offer(material, price="30.00", price_per="ton", package="truckload")
    return material


class TestReferenceAndMoisture:
    """2.8 ton/acre of 100-score lime / 0.627 = 4.47 ton/acre = 6.70 tons for 1.5 acres, split in two of 2.23."""

    def test_the_rate_is_divided_once_by_the_score(self, owl_bottom, stone) -> None:
        (inputs,) = gather([owl_bottom.pk])
        need = lime_need(inputs)
        (product,) = lime_products(inputs, need, [stone.offers.get()], today=TODAY)
        assert need.requirement.amount == pytest.approx(2.8)
        assert product.value_percent == pytest.approx(62.7, abs=0.01)
        assert product.rate == pytest.approx(4.466, abs=0.005)
        assert product.plot_amount == pytest.approx(6.70, abs=0.005)
        assert [round(part.lb_per_acre / 2000, 2) for part in product.dressings] == [2.23, 2.23]
        assert [part.months_after for part in product.dressings] == [0, 6]

    def test_the_page_says_it(self, owl_bottom, stone, manager, client_of) -> None:
        text = text_of(page_of(client_of(manager), owl_bottom))
        assert "2.8 ton/acre" in text
        assert "62.7%" in text
        assert "6.7 tons" in text
        assert "put on 2 times" in text


class TestNetOfWhatWasSpread:
    """3.4 tons on 1.5 acres = 2.267 ton/acre x .627 = 1.42; 2.8 - 1.42 = 1.38 = 2.20 ton/acre of stone."""

    def test_the_test_is_not_used_again(self, owl_bottom, stone) -> None:
        make_record(owl_bottom, stone, on=TODAY, amount="3.4")
        (inputs,) = gather([owl_bottom.pk])
        need = lime_need(inputs)
        (product,) = lime_products(inputs, need, [stone.offers.get()], today=TODAY)
        assert need.owed.amount == pytest.approx(1.38, abs=0.005)
        assert product.rate == pytest.approx(2.20, abs=0.005)

    def test_recorded_through_the_page(self, owl_bottom, stone, hand, client_of) -> None:
        client = client_of(hand)
        address = reverse("amendments:record_one", args=[owl_bottom.pk])
        form = client.get(address)
        uuid = BeautifulSoup(form.content, "html.parser").find("input", {"name": "uuid"})["value"]
        sent = {
            "uuid": uuid, "spread_on": TODAY.isoformat(), "material": stone.pk, "amount": "3.4", "unit": "ton",
            "area": "1.5", "area_unit": "acre", "applicator": "hand",
        }  # fmt: skip
        assert client.post(address, sent).status_code == 302
        assert client.post(address, sent).status_code == 302, "sent twice, stored once"
        assert SpreadingRecord.objects.count() == 1
        assert Standing.objects.get(plot=owl_bottom).owed_amount == pytest.approx(1.38, abs=0.005)
        assert client.post(address, {**sent, "amount": "9"}).status_code == 422, "the same number, other content"
        assert SpreadingRecord.objects.count() == 1


class TestWrongBuffer:
    """Mehlich 6.2 on a Sikora property: no table rate, 1,000 x 8 x (0.5256 - 0.2600) = 2,124 lb from CEC."""

    def test_estimate_from_cec_and_both_buffers_named(self, ground, manager, client_of) -> None:
        plot = make_plot(ground, "Wrong", target_ph=Decimal("6.5"))
        make_test(plot, on=LAST_MONTH, ph="5.5", buffer_ph="6.2", buffer_method="mehlich",
                  measurements=[MeasurementEntry("cec", "8", "meq/100 g")])  # fmt: skip
        (inputs,) = gather([plot.pk])
        need = lime_need(inputs)
        assert need.owed_effective_lb * 6.667 / 6 == pytest.approx(2124, abs=2)
        assert need.requirement.is_estimate
        text = text_of(page_of(client_of(manager), plot))
        assert "Mehlich buffer" in text
        assert "Sikora buffer" in text
        assert "estimate" in text


class TestSand:
    """CEC 3, pH 5.4, Sikora 7.1 is weaker than the table: 527 lb effective from CEC, not 0 and not a ton."""

    def test_weakly_buffered(self, ground) -> None:
        plot = make_plot(ground, "Sand", texture="loamy_sand", target_ph=Decimal("6.0"), depth_limed_in=Decimal("6.7"))
        make_test(plot, on=LAST_MONTH, ph="5.4", buffer_ph="7.1", buffer_method="sikora", depth_in="6.7",
                  measurements=[MeasurementEntry("cec", "3", "meq/100 g")])  # fmt: skip
        (inputs,) = gather([plot.pk])
        need = lime_need(inputs)
        assert need.requirement.amount == pytest.approx(527, abs=1)
        codes = {finding.code for finding in need.findings}
        assert {"weakly_buffered", "light_soil_over_liming"} <= codes

    def test_a_high_target_is_warned_of(self, ground) -> None:
        plot = make_plot(ground, "Sand", texture="loamy_sand", target_ph=Decimal("7.0"))
        make_test(plot, on=LAST_MONTH, ph="5.4", buffer_ph="7.1", buffer_method="sikora",
                  measurements=[MeasurementEntry("cec", "3", "meq/100 g")])  # fmt: skip
        (inputs,) = gather([plot.pk])
        assert "sand_target_high" in {finding.code for finding in lime_need(inputs).findings}


class TestNoTillOnFoot:
    """3,500 lb ECCE x 3/6 = 1,750; / 0.89 = 1,966 lb pellets; 0.2 acre = 393 lb = 10 bags of 40 lb."""

    def test_bags_for_a_foot_plot(self, manager) -> None:
        iowa = make_property("IOWA", manager=manager, state="IA", region="cool_humid")
        plot = make_plot(iowa, "Foot", acres="0.2", tillage="no_till", access="on_foot", depth_limed_in=Decimal("3"),
                         target_ph=Decimal("6.5"))  # fmt: skip
        make_test(plot, on=LAST_MONTH, depth_in="3", ph="5.8", buffer_ph="6.4", buffer_method="smp")
        pellets = make_lime(iowa, "Pellets", form="pelletized", cce_percent=None, passing_percent={},
                            moisture_percent=Decimal(0), declared_values={"iowa_ecce": 89})  # fmt: skip
        bag = make_offer(pellets, price="5", package="bag", package_size=Decimal(40))
        truck = make_offer(make_lime(iowa, "Stone", declared_values={"iowa_ecce": 60}), package="truckload")
        (inputs,) = gather([plot.pk])
        need = lime_need(inputs)
        in_bags, by_truck = lime_products(inputs, need, [bag, truck], today=TODAY)
        assert need.owed.amount == pytest.approx(1750)
        assert in_bags.rate == pytest.approx(1966, abs=1)
        assert in_bags.plot_amount == pytest.approx(393, abs=1)
        assert in_bags.packages == 10
        assert pytest.approx(1780) == 10 * 40 / 0.2 * 0.89
        assert not by_truck.reaches


class TestNoise:
    """Target 6.5: pH 6.4 in range; 6.1 short of lime under the trigger 6.2."""

    @pytest.mark.parametrize(("ph", "status"), [("6.4", "in_range"), ("6.1", "short_of_lime"), ("6.2", "in_range")])
    def test_status(self, manager, client_of, ph, status) -> None:
        iowa = make_property("IOWA", manager=manager, state="IA", region="cool_humid")
        plot = make_plot(iowa, "Noise", acres="0.4", target_ph=Decimal("6.5"))
        make_planting(plot, "oats")
        make_test(plot, on=LAST_MONTH, ph=ph, buffer_ph="6.6", buffer_method="smp")
        response = client_of(manager).get(reverse("amendments:review"), {"property": "IOWA"})
        assert [row["status"] for row in response.context["rows"]] == [status]
        assert response.context["rows"][0]["plot"] == plot

    def test_limed_then_settling(self, manager, client_of) -> None:
        """2,100 lb owed, 22 bags of 40 lb at ECCE 89 on 0.4 acre give 1,958 lb, 142 are left."""
        iowa = make_property("IOWA", manager=manager, state="IA", region="cool_humid")
        plot = make_plot(iowa, "Noise", acres="0.4", target_ph=Decimal("6.5"))
        make_test(plot, on=LAST_MONTH, ph="6.1", buffer_ph="6.6", buffer_method="smp")
        pellets = make_lime(iowa, "Pellets", form="pelletized", cce_percent=None, passing_percent={},
                            moisture_percent=Decimal(0), declared_values={"iowa_ecce": 89})  # fmt: skip
        assert Standing.objects.get(plot=plot).owed_effective_lb == pytest.approx(2100)
        make_record(plot, pellets, on=TODAY, amount="22", unit="bag", package_lb=Decimal(40))
        assert Standing.objects.get(plot=plot).owed_effective_lb == pytest.approx(142, abs=0.5)
        response = client_of(manager).get(reverse("amendments:review"), {"property": "IOWA"})
        assert [row["status"] for row in response.context["rows"]] == ["settling"]


class TestRetestDate:
    @pytest.mark.parametrize(
        ("limed", "due"),
        [((3, 20), (1, 3, 20)), ((6, 10), (1, 9, 10))],
    )
    def test_moved_to_the_usual_month_if_near(self, ground, limed, due) -> None:
        """Limed 20 March: 12 months, September is too far; 10 June: September next year, 15 months."""
        year = TODAY.year - 1
        plot = make_plot(ground, "R", usual_sampling_month=9)
        make_test(plot, on=dt.date(year - 1, 9, 10), ph="5.6", buffer_ph="6.2", buffer_method="sikora")
        make_record(plot, make_lime(ground), on=dt.date(year, *limed), amount="3")
        expected = dt.date(year + due[0], due[1], due[2])
        assert Standing.objects.get(plot=plot).retest_due_on == expected

    def test_a_frozen_analysis_does_not_move(self, owl_bottom, stone) -> None:
        record = make_record(owl_bottom, stone, on=TODAY, amount="3.4")
        before = Standing.objects.get(plot=owl_bottom).owed_amount
        stone.analyses.update(cce_percent=Decimal(40))
        record.refresh_from_db()
        (inputs,) = gather([owl_bottom.pk])
        assert record.frozen["cce_percent"] == 88
        assert lime_need(inputs).owed.amount == pytest.approx(before)
