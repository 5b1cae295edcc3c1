"""Plots through their pages: added, changed, retired, brought back, split and merged."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from plots.forms.plots import PlotForm
from plots.models import Plot, PlotLineage
from tests.factories import make_planting, make_plot, make_property
from tests.plots.pages import errors_of, filled, send, soup_of, text_of

pytestmark = pytest.mark.django_db
NEW = "/plots/new/?property=GROUND"
GOOD = {
    "code": "N-3", "name": "Owl Bottom", "area_entered": "1.5", "area_unit": "acre", "texture": "silt_loam",
    "tillage": "tilled", "depth_limed_in": "6", "access": "lime_truck", "access_months": ["5", "6"],
    "near_water": "on", "usual_sampling_month": "9", "target_ph": "6.4", "note": "Gate code with the neighbour.",
}  # fmt: skip


@pytest.fixture
def client(client_of, manager, ground):
    return client_of(manager)


class TestAdding:
    def test_a_plot_with_everything(self, client, ground) -> None:
        response = client.post(NEW, GOOD)
        plot = Plot.objects.get()
        assert response.status_code == 302
        assert response["Location"] == reverse("amendments:plot", args=[plot.pk])
        assert (plot.property, plot.code, plot.name, plot.acres) == (ground, "N-3", "Owl Bottom", Decimal("1.5"))
        assert (plot.access_months, plot.near_water, plot.slope) == ([5, 6], True, False)
        assert (plot.usual_sampling_month, plot.target_ph, plot.depth_limed_in) == (9, Decimal("6.4"), Decimal(6))
        assert plot.history.get().history_user.username == "manager"

    @pytest.mark.parametrize(
        ("typed", "entered", "unit", "acres"),
        [
            ("0.5", "0.5", "ha", "1.2355"),
            ("10,890", "10890", "sq ft", "0.2500"),  # 10.89 sq ft is no plot
            ("4046.8564", "4046.8564", "m2", "1.0000"),
            ("0,75", "0.75", "acre", "0.75"),
            ("12,125", "12.125", "ha", "29.9615"),  # 12,125 ha is none either
            (" 1.5 ", "1.5", "acre", "1.5"),
        ],
    )
    def test_an_area_is_kept_as_entered_beside_its_acres(self, client, typed, entered, unit, acres) -> None:
        client.post(NEW, GOOD | {"area_entered": typed, "area_unit": unit})
        plot = Plot.objects.get()
        assert (plot.area_entered, plot.area_unit) == (Decimal(entered), unit)
        assert plot.acres_entered == Decimal(acres)

    def test_the_form_opens_with_what_is_usual(self, client) -> None:
        start = filled(client.get(NEW))
        assert (start["area_unit"], start["tillage"], start["depth_limed_in"]) == ("acre", "tilled", "6")

    def test_one_after_another(self, client, ground) -> None:
        response = client.post(NEW, GOOD | {"another": "1"})
        assert response["Location"] == NEW
        assert "N-3" in text_of(client.get(NEW))

    def test_it_needs_no_script(self, client) -> None:
        form = soup_of(client.get(NEW)).select_one("main form")
        assert form["method"] == "post"
        assert form["action"] == NEW


BAD = [
    ("area_entered", "-3", "An area of -3 acres is not possible; allowed are 0.01 to 2,000 acres."),
    ("area_entered", "0", "An area of 0 acres is not possible; allowed are 0.01 to 2,000 acres."),
    ("area_entered", "4000", "An area of 4,000 acres is not possible; allowed are 0.01 to 2,000 acres."),
    ("area_entered", "9" * 40, "is no number"),
    ("area_entered", "1e5", "“1e5” is no number"),
    ("area_entered", "NaN", "“NaN” is no number"),
    ("area_entered", "1,500", "can be read as 1.5 or as 1,500"),
    ("area_entered", "1.5 acres", "“1.5 acres” is no number"),
    ("area_entered", "1.23456", "too many decimals"),
    ("area_entered", "", "The area is missing; allowed are 0.01 to 2,000 acres."),
    ("area_unit", "rood", "“rood” is not known"),
    ("area_unit", "", "measured in: choose one of the list."),
    ("code", "", "Code is missing."),
    ("code", "   ", "Code is missing."),
    ("code", "N\x003", "Code “N[U+0000]3” holds a character that cannot be written, U+0000 at place 2"),
    ("code", "N\u200b3", "U+200B at place 2"),
    ("code", "N" * 21, "has 21 characters; allowed are up to 20"),
    ("name", "Owl\x1bBottom", "U+001B at place 4"),
    ("note", "Gate\x00", "U+0000 at place 5"),
    ("note", "x" * 2001, "has 2,001 characters; allowed are up to 2,000"),
    ("depth_limed_in", "0", "Depth limed 0 inches is not possible; allowed are 1 to 12 inches."),
    ("depth_limed_in", "40", "Depth limed 40 inches is not possible; allowed are 1 to 12 inches."),
    ("target_ph", "9.5", "Target pH of its own 9.5 is not possible; allowed are 4 to 8."),
    ("target_ph", "six", "“six” is no number"),
    ("texture", "gumbo", "Soil texture “gumbo” is not known"),
    ("access", "helicopter", "“helicopter” is not known"),
    ("access_months", ["13"], "A month ticked is not known"),
    ("usual_sampling_month", "Fall", "“Fall” is not known"),
    ("usual_sampling_month", "99999999999999999999999", "is not known"),
]  # fmt: skip


class TestBadInput:
    @pytest.mark.parametrize(("field", "value", "sentence"), BAD)
    def test_it_gets_a_sentence_and_stays_in_the_form(self, client, field, value, sentence) -> None:
        response = client.post(NEW, GOOD | {field: value})
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert not Plot.objects.exists()
        kept = filled(response)
        for name, typed in (GOOD | {field: value}).items():
            if field != name or not isinstance(value, str):
                continue
            element = soup_of(response).select_one(f"[name={name}]")
            assert element["aria-invalid"] == "true"
            if element.name != "select" and "\x00" not in value and "\x1b" not in value:
                assert kept[name].strip() == typed.strip()
        assert kept["target_ph"] == (value if field == "target_ph" else "6.4")

    def test_half_a_character_is_refused(self, ground) -> None:
        from_form = make_form(ground, code="N\ud8003")
        assert "U+D800 at place 2" in from_form.errors["code"][0]

    def test_bytes_that_are_no_text_are_refused(self, client) -> None:
        body = "&".join(f"{name}={value}" for name, value in GOOD.items() if isinstance(value, str) and name != "name")
        response = client.post(
            NEW, f"{body}&name=Owl%ED%A0%80".encode(), content_type="application/x-www-form-urlencoded"
        )
        assert response.status_code == 422
        assert "U+FFFD" in errors_of(response)

    @pytest.mark.parametrize("code", ["n-3", " N-3 ", "N-3"])
    def test_a_code_is_taken_whatever_its_case(self, client, ground, code) -> None:
        make_plot(ground, "N-3")
        response = client.post(NEW, GOOD | {"code": code})
        assert response.status_code == 422
        assert "is taken: there is a plot N-3" in errors_of(response)

    def test_a_code_is_the_same_however_its_accents_are_put_together(self, client, ground) -> None:
        make_plot(ground, "Étang")
        response = client.post(NEW, GOOD | {"code": "E\u0301TANG"})
        assert response.status_code == 422

    def test_a_retired_plot_keeps_its_code(self, client, ground) -> None:
        make_plot(ground, "N-3", retired_on=dt.date(2020, 1, 1))
        assert "which is retired" in errors_of(client.post(NEW, GOOD))

    def test_another_property_may_use_the_code(self, client, stranger) -> None:
        make_plot(stranger.roles.get().property, "N-3")
        assert client.post(NEW, GOOD).status_code == 302

    def test_with_two_properties_what_is_sent_must_name_one(self, client, manager) -> None:
        make_property("OTHER", manager=manager)
        assert client.post("/plots/new/", GOOD).status_code == 404
        assert not Plot.objects.exists()


def make_form(property_, **changes):
    from_form = PlotForm(GOOD | changes, property_=property_)
    assert not from_form.is_valid()
    return from_form


class TestChanging:
    def test_what_is_not_touched_stays(self, client, ground) -> None:
        client.post(NEW, GOOD | {"area_entered": "0.5", "area_unit": "ha"})
        plot = Plot.objects.get()
        send(client, reverse("plots:change_plot", args=[plot.pk]), name="Hawk Hill")
        changed = Plot.objects.get()
        assert (changed.name, changed.version) == ("Hawk Hill", 2)
        skip = {"name", "version"}
        fields = [field.attname for field in Plot._meta.fields if field.name not in skip]
        assert [getattr(changed, name) for name in fields] == [getattr(plot, name) for name in fields]

    def test_the_second_of_two_people_is_told_what_the_first_set(self, client, client_of, ground, manager) -> None:
        plot = make_plot(ground, "1", name="Owl", depth_limed_in=Decimal(6))
        address = reverse("plots:change_plot", args=[plot.pk])
        opened = filled(client.get(address))
        send(client, address, depth_limed_in="4", access_months=["7"])
        response = client.post(address, opened | {"name": "Hawk"})
        assert response.status_code == 422
        said = errors_of(response)
        assert "Someone else changed this" in said
        assert "It was manager" in said
        assert "Now set to: 4." in said
        assert "Now set to: July." in said
        assert said.count("Now set to") == 2, "only what the other changed"
        assert filled(response)["name"] == "Hawk"
        assert Plot.objects.get().name == "Owl"
        # Saved again with open eyes, it holds.
        again = client.post(address, filled(response))
        assert again.status_code == 302
        assert (Plot.objects.get().name, Plot.objects.get().depth_limed_in) == ("Hawk", Decimal(6))

    @pytest.mark.parametrize("version", ["", "x", "-1", "9" * 30])
    def test_a_version_that_is_none_saves_nothing(self, client, ground, version) -> None:
        plot = make_plot(ground, "1")
        response = send(client, reverse("plots:change_plot", args=[plot.pk]), version=version, name="Hawk")
        assert response.status_code == 422
        assert Plot.objects.get().name == ""

    def test_the_measured_acres_may_be_chosen(self, client, ground) -> None:
        plot = make_plot(ground, "1", acres="1.5", acres_measured=Decimal("1.62"))
        send(client, reverse("plots:change_plot", args=[plot.pk]), acres_from="boundary")
        assert Plot.objects.get().acres == Decimal("1.62")


class TestRetiring:
    def test_there_and_back(self, client, ground) -> None:
        plot = make_plot(ground, "1")
        send(client, reverse("plots:retire_plot", args=[plot.pk]))
        assert Plot.objects.get().retired_on == timezone.localdate()
        assert "1" in text_of(client.get("/plots/retired/?property=GROUND"))
        page = client.get(reverse("plots:bring_back_plot", args=[plot.pk]))
        assert "Put it in use again?" in text_of(page)
        client.post(reverse("plots:bring_back_plot", args=[plot.pk]))
        assert Plot.objects.get().retired_on is None

    @pytest.mark.parametrize("day", ["2999-01-01", "1850-01-01", "31.12.2020", "2020-02-30", ""])
    def test_a_day_that_cannot_be(self, client, ground, day) -> None:
        plot = make_plot(ground, "1")
        response = send(client, reverse("plots:retire_plot", args=[plot.pk]), on=day)
        assert response.status_code == 422
        assert "Retired on" in errors_of(response)
        assert Plot.objects.get().retired_on is None


def split(client, plot, **fields):
    return send(client, reverse("plots:split_plot", args=[plot.pk]), **fields)


PARTS = {"code_1": "1a", "area_1": "1", "code_2": "1b", "area_2": "2", "name_2": "Wet end"}


class TestSplitting:
    def test_parts_take_over_the_ground_and_what_grows(self, client, ground) -> None:
        plot = make_plot(ground, "1", acres="3", texture="clay", near_water=True)
        make_planting(plot, "red_clover", first_season=4040, last_season=4041)
        make_planting(plot, "alfalfa", first_season=4042, inoculated=True)
        assert split(client, plot, **PARTS).status_code == 302
        first, second = Plot.objects.exclude(pk=plot.pk)
        assert (first.code, first.acres, first.texture, first.near_water) == ("1a", 1, "clay", True)
        assert (second.code, second.name) == ("1b", "Wet end")
        assert [one.crop_keys for one in first.plantings.all()] == [("alfalfa",)]
        assert first.plantings.get().inoculated
        plot.refresh_from_db()
        assert plot.retired_on == timezone.localdate()
        assert PlotLineage.objects.filter(before=plot, kind="split").count() == 2

    def test_without_the_crop(self, client, ground) -> None:
        plot = make_plot(ground, "1", acres="3")
        make_planting(plot, "alfalfa")
        split(client, plot, **PARTS, keep_crop=None)
        assert not Plot.objects.get(code="1a").plantings.exists()

    @pytest.mark.parametrize(
        ("changes", "sentence"),
        [
            ({"code_2": ""}, "Code of part 2 is missing."),
            ({"code_2": "1A"}, "stands in two lines"),
            ({"code_1": "1"}, "is taken: there is a plot 1"),
            ({"area_1": "-1"}, "An area of -1 acres is not possible"),
            ({"area_1": "x"}, "“x” is no number"),
            ({"code_3": "1c"}, "Part 3 has no area"),
            ({"area_3": "1"}, "Part 3 has no code"),
            ({"area_2": "9"}, "The parts have 10 acres together and the plot has 3 acres."),
            ({"on": "2999-01-01"}, "2999-01-01 is not allowed"),
        ],
    )
    def test_what_cannot_be_is_refused_whole(self, client, ground, changes, sentence) -> None:
        plot = make_plot(ground, "1", acres="3")
        response = split(client, plot, **(PARTS | changes))
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert filled(response)["name_2"] == "Wet end"
        assert list(Plot.objects.all()) == [plot]

    def test_other_areas_if_they_are_meant(self, client, ground) -> None:
        plot = make_plot(ground, "1", acres="3")
        assert split(client, plot, **(PARTS | {"area_2": "9"}), area_is_meant="on").status_code == 302

    def test_brought_back_it_is_said_that_the_parts_are_in_use(self, client, ground) -> None:
        plot = make_plot(ground, "1", acres="3")
        split(client, plot, **PARTS)
        page = client.get(reverse("plots:bring_back_plot", args=[plot.pk]))
        assert "in use under another code: 1a , 1b Wet end" in text_of(page)

    def test_a_retired_plot_is_not_split(self, client, ground) -> None:
        plot = make_plot(ground, "1", retired_on=dt.date(2020, 1, 1))
        assert client.get(reverse("plots:split_plot", args=[plot.pk])).status_code == 302


class TestMerging:
    ADDRESS = "/plots/merge/?property=GROUND"

    def test_the_sum_of_the_areas_and_the_crop_of_the_largest(self, client, ground) -> None:
        small, large = make_plot(ground, "1", acres="0.5"), make_plot(ground, "2", acres="2", texture="clay")
        make_planting(small, "oats"), make_planting(large, "alfalfa")
        send(client, self.ADDRESS, plots=[small.pk, large.pk], code="12")
        merged = Plot.objects.get(code="12")
        assert (merged.acres, merged.texture) == (Decimal("2.5"), "clay")
        assert [one.crop_keys for one in merged.plantings.all()] == [("alfalfa",)]
        assert not Plot.objects.in_use().exclude(pk=merged.pk).exists()

    def test_plots_named_in_the_address_are_ticked(self, client, ground) -> None:
        plot = make_plot(ground, "1")
        make_plot(ground, "2")
        assert filled(client.get(f"{self.ADDRESS}&plot={plot.pk}"))["plots"] == [str(plot.pk)]
        assert client.get(f"{self.ADDRESS}&plot={'9' * 30}&plot=x").status_code == 200

    def test_what_cannot_be_is_refused_whole(self, client, ground, stranger) -> None:
        one, two = make_plot(ground, "1"), make_plot(ground, "2")
        foreign = make_plot(stranger.roles.get().property, "3")
        for chosen in ([one.pk], [one.pk, foreign.pk], [one.pk, "9" * 30], [one.pk, "x"], []):
            response = send(client, self.ADDRESS, plots=chosen, code="12")
            assert response.status_code == 422, chosen
            assert "plot" in errors_of(response).lower()
        assert send(client, self.ADDRESS, plots=[one.pk, two.pk], code="1").status_code == 422
        wide = send(client, self.ADDRESS, plots=[one.pk, two.pk], code="12", area_entered="30")
        assert "The plots have 3 acres together and the new one has 30 acres." in errors_of(wide)
        assert Plot.objects.in_use().count() == 3


ADDRESSES = (
    "plots:change_plot",
    "plots:retire_plot",
    "plots:bring_back_plot",
    "plots:split_plot",
    "plots:new_planting",
)


class TestAccess:
    @pytest.mark.parametrize("name", ADDRESSES)
    def test_only_a_manager_changes_plots(self, cast, client_of, name) -> None:
        plot = make_plot(cast.ground, "1")
        address = reverse(name, args=[plot.pk])
        expected = {"hand": 403, "viewer": 403, "stranger": 404, "operator": 404}
        for who, status in expected.items():
            client = client_of(cast.people()[who])
            assert client.get(address).status_code == status, who
            assert client.post(address, GOOD).status_code == status, who
        assert Plot.objects.get(pk=plot.pk).version == 1

    @pytest.mark.parametrize("address", [NEW, "/plots/merge/?property=GROUND", "/plots/import/?property=GROUND"])
    def test_only_a_manager_adds_plots(self, cast, client_of, address) -> None:
        for who, status in {"hand": 403, "viewer": 403, "stranger": 404, "operator": 404}.items():
            assert client_of(cast.people()[who]).post(address, GOOD).status_code == status, who

    def test_numbers_that_no_plot_can_have(self, client) -> None:
        for pk in (0, 2**63, 10**40):
            assert client.get(f"/plots/{pk}/change/").status_code == 404

    @pytest.mark.parametrize("code", ["NOWHERE", "%00", "G%00ROUND%ED%A0%80", "x" * 500])
    def test_a_property_that_is_none(self, client, code) -> None:
        assert client.get(f"/plots/new/?property={code}").status_code == 404

    def test_nobody_is_sent_to_sign_in(self, ground) -> None:
        assert Client().get(NEW)["Location"].startswith("/sign-in/")
