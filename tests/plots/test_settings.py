"""A property from its first day: added, set, with its own crops, targets and places."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from amendments.models import Standing
from plots.models import OwnCrop, Place, Property
from tests.factories import make_person, make_planting, make_plot, make_property, make_test
from tests.plots.pages import errors_of, filled, send, soup_of, text_of

pytestmark = pytest.mark.django_db
SETTINGS = "/settings/?property=GROUND"
NEW = {"name": "Long Meadow", "code": "MEADOW", "state": "NC", "region": "warm_humid", "time_zone": "America/New_York"}


@pytest.fixture
def client(client_of, manager, ground):
    return client_of(manager)


class TestFirstDay:
    def test_from_nothing_to_the_first_plot(self, client_of, db) -> None:
        client = client_of(make_person("first"))
        begin = client.get("/", follow=True)
        assert soup_of(begin).select_one("main a.act")["href"] == "/properties/new/"
        assert "Everything else hangs on it" in text_of(client.get("/properties/new/"))
        made = send(client, "/properties/new/", name="Long Meadow", code="MEADOW", state="NC")
        assert made["Location"] == "/?property=MEADOW"
        review = client.get(made["Location"])
        assert soup_of(review).select_one("main .empty a.act")["href"].startswith("/plots/new/")
        assert Property.objects.get().roles.get().kind == "manager"
        assert client.post("/plots/new/?property=MEADOW", {
            "code": "1", "area_entered": "1", "area_unit": "acre", "tillage": "tilled", "depth_limed_in": "6",
            "access": "tractor",
        }).status_code == 302  # fmt: skip

    @pytest.mark.parametrize(
        ("changes", "sentence"),
        [
            ({"code": "ground"}, "Code “ground” is taken by another property"),
            ({"code": ""}, "Code is missing."),
            ({"code": "A\x00B"}, "U+0000"),
            ({"name": "   "}, "Name of the property is missing."),
            ({"state": "ZZ"}, "State “ZZ” is not known"),
            ({"time_zone": "Mars/Olympus"}, "Time zone “Mars/Olympus” is not known"),
            ({"region": "polar"}, "“polar” is not known"),
        ],
    )
    def test_what_cannot_be(self, client, changes, sentence) -> None:
        response = client.post("/properties/new/", NEW | changes)
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert Property.objects.count() == 1
        assert filled(response)["region"] in ("warm_humid", "polar")

    def test_the_list_of_properties_names_roles(self, client, manager) -> None:
        make_property("OTHER", manager=manager)
        page = text_of(client.get("/properties/"))
        assert "GROUND ground" in page
        assert "OTHER ground" in page
        assert "land manager" in page


class TestFigures:
    def test_kept_and_every_plot_worked_out_again(self, client, ground) -> None:
        plot = make_plot(ground, "1", target_ph=Decimal("6.5"))
        make_planting(plot, "oats")
        make_test(
            plot, on=timezone.localdate() - dt.timedelta(days=30), ph="6.1", buffer_ph="6.6", buffer_method="sikora"
        )
        before = Standing.objects.get(plot=plot).fingerprint
        response = send(client, SETTINGS, trigger_gap="0.5", smallest_dressing_lb="250", retest_years="2",
                        lime_calibration="smp_iowa_2002", group_corn="tri_state_2020")  # fmt: skip
        assert response["Location"] == SETTINGS
        ground.refresh_from_db()
        assert (ground.trigger_gap, ground.smallest_dressing_lb, ground.retest_years) == (Decimal("0.5"), 250, 2)
        assert (ground.lime_calibration, ground.calibration_by_crop_group) == (
            "smp_iowa_2002",
            {"corn": "tri_state_2020"},
        )
        assert Standing.objects.get(plot=plot).fingerprint != before

    def test_saved_untouched_nothing_changes(self, client, ground) -> None:
        before = Property.objects.values().get()
        assert send(client, SETTINGS).status_code == 302
        assert Property.objects.values().get() == before | {"version": 2}

    @pytest.mark.parametrize(
        ("field", "value", "sentence"),
        [
            ("trigger_gap", "3", "3 pH is not possible; allowed are 0 to 1 pH."),
            ("smallest_dressing_lb", "-1", "allowed are 0 to 4,000 lb/acre"),
            ("smallest_dressing_lb", "12.5", "whole numbers only"),
            ("order_cover_percent", "0", "allowed are 1 to 100 %"),
            ("settling_months", "99", "allowed are 0 to 36 months"),
            ("upper_ph", "12", "allowed are 6 to 9 pH"),
            ("retest_years", "", "is missing"),
            ("retest_after_lime_months", "2", "allowed are 6 to 36 months"),
            ("lime_calibration", "grandfather", "“grandfather” is not known"),
            ("group_corn", "grandfather", "“grandfather” is not known"),
        ],
    )
    def test_what_cannot_be(self, client, ground, field, value, sentence) -> None:
        response = send(client, SETTINGS, **{field: value})
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert Property.objects.get().version == 1

    def test_the_second_of_two_people_is_told(self, client, ground) -> None:
        opened = filled(client.get(SETTINGS))
        send(client, SETTINGS, retest_years="5", lime_policy="staged")
        response = client.post(SETTINGS, opened | {"name": "Mine"})
        assert response.status_code == 422
        assert "Sample again after : Now set to: 5." in errors_of(response)
        assert "Now set to: staged: about half now, retest in 12 months." in errors_of(response)
        assert client.post(SETTINGS, filled(response)).status_code == 302
        assert Property.objects.get().name == "Mine"

    def test_only_a_manager_sets(self, cast, client_of) -> None:
        for address in (SETTINGS, "/settings/crops/?property=GROUND", "/settings/crops/targets/?property=GROUND",
                        "/settings/crops/new/?property=GROUND", "/settings/places/new/?property=GROUND"):  # fmt: skip
            for who, status in {"hand": 403, "viewer": 403, "stranger": 404, "operator": 404}.items():
                client = client_of(cast.people()[who])
                assert client.get(address).status_code == status, (who, address)
                assert client.post(address, {}).status_code in (status, 405), (who, address)

    def test_an_operator_without_a_property_is_told_where_to_begin(self, operator, client_of) -> None:
        assert "/properties/new/" in client_of(operator).get("/settings/").content.decode()


class TestTargets:
    ADDRESS = "/settings/crops/targets/?property=GROUND"

    def test_set_and_taken_back(self, client, ground) -> None:
        plot = make_plot(ground, "1")
        make_planting(plot, "alfalfa")
        send(client, self.ADDRESS, target_alfalfa="6.4")
        ground.refresh_from_db()
        assert ground.target_by_crop == {"alfalfa": 6.4}
        assert Standing.objects.get(plot=plot).target_ph == 6.4
        assert filled(client.get(self.ADDRESS))["target_alfalfa"] == "6.4"
        send(client, self.ADDRESS, target_alfalfa="")
        ground.refresh_from_db()
        assert ground.target_by_crop == {}

    def test_what_cannot_be(self, client, ground) -> None:
        response = send(client, self.ADDRESS, target_alfalfa="9", target_oats="x")
        assert response.status_code == 422
        assert "Target pH for Alfalfa 9 is not possible; allowed are 4 to 8." in errors_of(response)
        assert "Target pH for Oats “x” is no number." in errors_of(response)

    def test_the_second_of_two_people_is_told(self, client, ground) -> None:
        opened = filled(client.get(self.ADDRESS))
        send(client, self.ADDRESS, target_oats="6.0")
        response = client.post(self.ADDRESS, opened | {"target_alfalfa": "6.6"})
        assert "Target pH for Oats : Now set to: 6." in errors_of(response)
        assert "Alfalfa" not in errors_of(response), "nobody else touched it"


CROP = {
    "name": "Teff",
    "group": "millet",
    "target_ph": "6.0",
    "floor_ph": "5.5",
    "upper_ph": "7",
    "n_lb_per_acre": "50",
}


class TestOwnCrops:
    NEW = "/settings/crops/new/?property=GROUND"

    def test_from_first_to_last(self, client, ground) -> None:
        assert client.post(self.NEW, CROP).status_code == 302
        crop = OwnCrop.objects.get()
        assert (crop.key, crop.target_ph, crop.legume) == ("own_teff", 6, False)
        plot = make_plot(ground, "1")
        planting = make_planting(plot, crop.key)
        send(client, reverse("plots:change_crop", args=[crop.pk]), target_ph="6.4")
        assert Standing.objects.get(plot=plot).target_ph == 6.4
        away = reverse("plots:remove_crop", args=[crop.pk])
        assert "is or was planted on 1" in text_of(client.get(away))
        assert "Not done: Teff is or was planted on 1" in text_of(client.post(away, follow=True))
        planting.delete()
        client.post(away)
        assert not OwnCrop.objects.exists()

    def test_two_names_that_come_to_one_key(self, client, ground) -> None:
        client.post(self.NEW, CROP)
        client.post(self.NEW, CROP | {"name": "Teff!"})
        assert set(OwnCrop.objects.values_list("key", flat=True)) == {"own_teff", "own_teff_2"}

    @pytest.mark.parametrize(
        ("changes", "sentence"),
        [
            ({"name": "ALFALFA"}, "There is a crop named “ALFALFA” already."),
            ({"name": ""}, "Name is missing."),
            ({"floor_ph": "6.5"}, "The floor of pH 6.5 is above the target of pH 6.0"),
            ({"upper_ph": "5.5"}, "The limit of pH 5.5 is under the target of pH 6.0"),
            ({"target_ph": "3"}, "Target pH 3 is not possible; allowed are 4 to 8."),
            ({"n_lb_per_acre": "1000"}, "allowed are 0 to 300 lb/acre"),
            ({"group": "weeds"}, "“weeds” is not known"),
        ],
    )
    def test_what_cannot_be(self, client, ground, changes, sentence) -> None:
        response = client.post(self.NEW, CROP | changes)
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert not OwnCrop.objects.exists()


class TestPlaces:
    NEW = "/settings/places/new/?property=GROUND"
    PAGE = "/settings/places/?property=GROUND"

    def test_a_stockpile_place_serves_plots(self, client, ground) -> None:
        plots = [make_plot(ground, "1"), make_plot(ground, "2")]
        send(client, self.NEW, kind="stockpile", name="Barn", plots_in_reach=[plots[0].pk])
        place = Place.objects.get()
        assert list(place.plots_in_reach.all()) == plots[:1]
        address = reverse("plots:change_place", args=[place.pk])
        assert filled(client.get(address))["plots_in_reach"] == [str(plots[0].pk)]
        send(client, address, kind="water", name="Pond", plots_in_reach=None, setback_ft="100", setback_rule="county")
        place.refresh_from_db()
        assert (place.kind, place.setback_ft, place.plots_in_reach.count()) == ("water", 100, 0)
        client.post(reverse("plots:remove_place", args=[place.pk]))
        assert not Place.objects.exists()

    def test_members_read_them(self, client, client_of, hand, ground) -> None:
        assert "Add a place" in text_of(client.get(self.PAGE))
        send(client, self.NEW, kind="well", name="House well", setback_ft="150", setback_rule="state code")
        page = client_of(hand).get(self.PAGE)
        assert "House well" in text_of(page)
        assert "150 ft" in text_of(page).replace("\u00a0", " ")
        assert "/settings/places/new/" not in page.content.decode()

    @pytest.mark.parametrize(
        ("changes", "sentence"),
        [
            ({"setback_ft": "-5"}, "-5 ft is not possible; allowed are 0 to 5,000 ft."),
            ({"setback_ft": "9" * 30}, "is no number"),
            ({"kind": "moon"}, "Kind “moon” is not known"),
            ({"name": "x\x00"}, "U+0000"),
            ({"kind": "water"}, "Only a stockpile place serves plots."),
            ({"plots_in_reach": ["9" * 30]}, "is not in use on this property"),
        ],
    )
    def test_what_cannot_be(self, client, ground, changes, sentence) -> None:
        plot = make_plot(ground, "1")
        good = {"kind": "stockpile", "name": "Barn", "setback_ft": "0", "plots_in_reach": [plot.pk]}
        response = client.post(self.NEW, good | changes)
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert not Place.objects.exists()
