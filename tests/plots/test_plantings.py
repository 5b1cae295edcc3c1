"""Plantings through their pages: every field, mixes, seasons by name, and the end of a stand."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse

from plots.forms.plantings import PlantingForm, season_choices
from plots.models import Planting
from plots.seasons import season_name, season_of, season_on
from tests.factories import make_planting, make_plot
from tests.plots.pages import errors_of, filled, send, soup_of, text_of

pytestmark = pytest.mark.django_db
TODAY = dt.date.today()
NOW = season_on(TODAY)
GOOD = {
    "crop_1": "white_clover", "share_1": "40", "crop_2": "oats", "share_2": "60", "name": "Fall mix",
    "first_season": str(NOW), "last_season": str(NOW + 1), "planned_on": TODAY.isoformat(),
    "establishment": "frost_seeded", "no_till": "on", "inoculated": "on", "legume_share_percent": "35",
    "use": "grain_standing", "yield_goal": "60", "yield_unit": "bu", "n_chosen_lb_per_acre": "30",
    "note": "After rain.",
}  # fmt: skip


@pytest.fixture
def client(client_of, manager, ground):
    return client_of(manager)


@pytest.fixture
def plot(ground):
    return make_plot(ground, "1")


def address_of(plot) -> str:
    return reverse("plots:new_planting", args=[plot.pk])


class TestPlanning:
    def test_every_field(self, client, plot) -> None:
        response = client.post(address_of(plot), GOOD)
        assert response["Location"] == reverse("amendments:plot", args=[plot.pk])
        planting = Planting.objects.get()
        assert planting.components == [
            {"crop": "oats", "share_percent": 60.0},
            {"crop": "white_clover", "share_percent": 40.0},
        ]
        assert (planting.first_season, planting.last_season, planting.planned_on) == (NOW, NOW + 1, TODAY)
        assert (planting.establishment, planting.no_till, planting.inoculated) == ("frost_seeded", True, True)
        assert (planting.legume_share_percent, planting.use) == (35, "grain_standing")
        assert (planting.yield_goal, planting.yield_unit, planting.n_chosen_lb_per_acre) == (60, "bu", 30)
        assert (planting.name, planting.note) == ("Fall mix", "After rain.")
        assert planting.history.get().history_user.username == "manager"

    def test_one_crop_alone_is_all_of_it(self, client, plot) -> None:
        send(client, address_of(plot), crop_1="alfalfa")
        planting = Planting.objects.get()
        assert planting.components == [{"crop": "alfalfa", "share_percent": 100.0}]
        assert (planting.first_season, planting.last_season) == (NOW, None)

    def test_without_shares_all_have_the_same(self, client, plot) -> None:
        send(client, address_of(plot), crop_1="alfalfa", crop_2="oats", crop_5="chicory")
        assert [part["share_percent"] for part in Planting.objects.get().components] == [33.3, 33.3, 33.3]

    def test_seasons_by_name_and_own_crops_first(self, client, plot, ground) -> None:
        ground.own_crops.create(
            key="own_teff", name="Teff", group="millet", target_ph=Decimal("6.0"), floor_ph=Decimal("5.5"),
            upper_ph=Decimal("7.0"),
        )  # fmt: skip
        page = soup_of(client.get(address_of(plot)))
        seasons = [option.get_text() for option in page.select("#id_first_season option")]
        assert {"Spring 2026", "Fall 2026"} <= set(seasons)
        assert page.select_one("#id_crop_1 optgroup")["label"] == "your own crops"
        send(client, address_of(plot), crop_1="own_teff")
        assert Planting.objects.get().crop_keys == ("own_teff",)

    def test_what_grew_before_is_ended(self, client, plot) -> None:
        old = make_planting(plot, "red_clover", first_season=NOW - 4)
        assert f"End what has been growing here since {season_name(NOW - 4)}" in text_of(client.get(address_of(plot)))
        send(client, address_of(plot), crop_1="oats")
        old.refresh_from_db()
        assert old.last_season == NOW - 1
        assert Planting.objects.count() == 2

    def test_or_grows_on_beside_it(self, client, plot) -> None:
        old = make_planting(plot, "red_clover", first_season=NOW - 4)
        send(client, address_of(plot), crop_1="oats", end_earlier=None)
        old.refresh_from_db()
        assert old.last_season is None

    def test_one_that_begins_later_is_left_open(self, client, plot) -> None:
        later = make_planting(plot, "red_clover", first_season=NOW + 2)
        send(client, address_of(plot), crop_1="oats")
        later.refresh_from_db()
        assert later.last_season is None


TOMORROW = (TODAY + dt.timedelta(days=1)).isoformat()
BAD = [
    ({"crop_1": ""}, "Choose a crop."),
    ({"crop_1": "kudzu"}, "Crop “kudzu” is not known"),
    ({"crop_1": "oats\x00"}, "Crop “oats[U+0000]” is not known"),
    ({"crop_2": "white_clover"}, "This crop is in the mix already"),
    ({"crop_2": ""}, "A share of 60 % stands here without a crop."),
    ({"share_2": ""}, "Give the share of every crop in the mix, or of none"),
    ({"share_2": "80"}, "The shares add up to 120 %; they must make 100 %."),
    ({"share_1": "-5"}, "Share of crop 1 -5 % is not possible; allowed are 0.1 to 100 %."),
    ({"first_season": "99999"}, "First season “99999” is not known"),
    ({"first_season": ""}, "First season: choose one of the list."),
    ({"last_season": str(NOW - 1)}, f"It cannot end in {season_name(NOW - 1)}, before {season_name(NOW)}."),
    ({"planted_on": TOMORROW}, "Put a day to come under “To be planted on”."),
    ({"planned_on": "soon"}, "“soon” is no date"),
    ({"legume_share_percent": "120"}, "Legumes in the stand 120 % is not possible; allowed are 0 to 100 %."),
    ({"legume_share_percent": "35.5"}, "whole numbers only"),
    ({"yield_unit": ""}, "A yield goal of 60 needs its unit."),
    ({"yield_goal": "-1"}, "Yield goal -1 is not possible; allowed are 0.1 to 500."),
    ({"n_chosen_lb_per_acre": "900"}, "Nitrogen you have chosen 900 lb/acre is not possible; allowed are 0 to 300"),
    ({"use": "sold"}, "Use “sold” is not known"),
    ({"note": "\x07"}, "U+0007"),
]  # fmt: skip


class TestBadInput:
    @pytest.mark.parametrize(("changes", "sentence"), BAD)
    def test_it_gets_a_sentence_and_nothing_is_saved(self, client, plot, changes, sentence) -> None:
        response = client.post(address_of(plot), GOOD | changes)
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert not Planting.objects.exists()
        assert filled(response)["name"] == "Fall mix"

    def test_one_planting_a_first_season(self, client, plot) -> None:
        make_planting(plot, "oats", first_season=NOW)
        response = client.post(address_of(plot), GOOD)
        assert f"A planting of {season_name(NOW)} stands on this plot already" in errors_of(response)


class TestChanging:
    def test_what_is_not_touched_stays(self, client, plot) -> None:
        client.post(address_of(plot), GOOD)
        before = Planting.objects.get()
        address = reverse("plots:change_planting", args=[before.pk])
        assert send(client, address, planted_on=TODAY.isoformat()).status_code == 302
        after = Planting.objects.get()
        skip = {"planted_on", "version"}
        names = [field.attname for field in Planting._meta.fields if field.name not in skip]
        assert [getattr(after, name) for name in names] == [getattr(before, name) for name in names]
        assert (after.planted_on, after.version) == (TODAY, 2)

    def test_the_second_of_two_people_is_told(self, client, plot) -> None:
        client.post(address_of(plot), GOOD)
        address = reverse("plots:change_planting", args=[Planting.objects.get().pk])
        opened = filled(client.get(address))
        send(client, address, last_season="", crop_3="chicory", share_3="10", share_1="50")
        response = client.post(address, opened | {"name": "Mine"})
        assert response.status_code == 422
        said = errors_of(response)
        assert "Now set to: 10." in said
        assert "Last season : Now set to: nothing." in said
        assert Planting.objects.get().name == "Fall mix"
        assert client.post(address, filled(response)).status_code == 302
        assert Planting.objects.get().name == "Mine"

    def test_a_planting_of_long_ago_keeps_its_season(self, client, plot) -> None:
        old = make_planting(plot, "oats", first_season=season_of(1998, 1), last_season=season_of(1999, 0))
        assert send(client, reverse("plots:change_planting", args=[old.pk]), name="Trial").status_code == 302
        old.refresh_from_db()
        assert (old.first_season, old.last_season, old.name) == (season_of(1998, 1), season_of(1999, 0), "Trial")

    def test_it_is_ended_once(self, client, plot) -> None:
        planting = make_planting(plot, "alfalfa", first_season=NOW - 2)
        address = reverse("plots:end_planting", args=[planting.pk])
        assert send(client, address, last_season=str(NOW - 3)).status_code == 422
        send(client, address)
        planting.refresh_from_db()
        assert planting.last_season == NOW
        again = client.get(address, follow=True)
        assert "It has its last season already" in text_of(again)

    def test_only_a_manager_may(self, cast, client_of, plot) -> None:
        planting = make_planting(plot, "alfalfa")
        for name in ("change_planting", "end_planting"):
            for who, status in {"hand": 403, "viewer": 403, "stranger": 404, "operator": 404}.items():
                client = client_of(cast.people()[who])
                assert client.get(reverse(f"plots:{name}", args=[planting.pk])).status_code == status
                assert client.post(reverse(f"plots:{name}", args=[planting.pk]), GOOD).status_code == status


def test_seasons_offered_take_in_the_one_that_something_rests_on() -> None:
    found = dict(season_choices(dt.date(2026, 9, 10), also=season_of(1990, 0)))
    assert found[season_of(2026, 1)] == "Fall 2026"
    assert found[season_of(1990, 0)] == "Spring 1990"
    assert list(found) == sorted(found, reverse=True)


def test_a_mix_that_the_form_kept_can_be_combined(plot) -> None:
    form = PlantingForm(GOOD, plot=plot, today=TODAY)
    assert form.is_valid(), form.errors
    assert sum(part["share_percent"] for part in form.components) == 100
