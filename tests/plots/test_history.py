"""Who changed what: every change in words, of a plot and of a property, in queries that do not grow."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.apps import apps
from django.urls import reverse

from amendments.services.orders import LineWanted, draft_work_order, issue_work_order
from plots.models import Planting, Plot, Property, Role
from plots.services.plantings import change_planting
from plots.services.plots import change_plot
from plots.views.history_books import books_of_property
from tests.factories import make_lime, make_planting, make_plot, make_property, make_record, make_test
from tests.plots.pages import send, soup_of, text_of

pytestmark = pytest.mark.django_db
PAGE = "/settings/history/?property=GROUND"


@pytest.fixture
def client(client_of, manager, ground):
    return client_of(manager)


def rows_of(response) -> list[str]:
    return [" ".join(row.get_text(" ").split()) for row in soup_of(response).select("tbody tr")]


class TestOfAPlot:
    def test_a_change_is_said_field_by_field_with_who(self, client, ground) -> None:
        plot = make_plot(ground, "1", acres="1.5", texture="clay", access="tractor")
        send(client, reverse("plots:change_plot", args=[plot.pk]), area_entered="2", texture="silt_loam",
             access="on_foot", access_months=["5", "6"], near_water="on", target_ph="6.4", code="1 A")  # fmt: skip
        first, second = rows_of(client.get(reverse("plots:plot_history", args=[plot.pk])))
        assert first.startswith("Plot changed: 1 A")
        assert " manager " in first
        for said in (
            "Code: 1 to 1 A", "Area: 1.5 to 2", "Acres: 1.5 to 2", "Soil texture: clay to silt loam",
            "Access: tractor to on foot", "Reached only in: all year to May, June", "Water nearby: no to yes",
            "Target pH: nothing to 6.4",
        ):  # fmt: skip
            assert said in first, said
        assert "Sort key" not in first
        assert "ersion" not in first
        assert second.startswith("Plot added: 1 the program ")

    def test_all_that_happened_on_it_newest_first(self, client, ground, hand) -> None:
        plot = make_plot(ground, "1")
        planting = make_planting(plot, "oats", first_season=4052)
        planting.components = [{"crop": "alfalfa", "share_percent": 60.0}, {"crop": "oats", "share_percent": 40.0}]
        planting.last_season = 4055
        change_planting(planting, seen_version=1)
        test = make_test(plot, on=dt.date(2025, 9, 1), ph="5.6", buffer_ph="6.2", buffer_method="sikora")
        test.ph = Decimal("5.9")
        test.save()
        make_record(plot, make_lime(ground, "Stone"), on=dt.date(2025, 10, 2), amount="2.50", by=hand)
        rows = rows_of(client.get(reverse("plots:plot_history", args=[plot.pk])))
        assert "Spreading record added: 2.5 tons of Stone on 1, Oct 2, 2025 hand" in rows[0].replace("\u00a0", " ")
        assert "pH: 5.6 to 5.9" in next(row for row in rows if "Soil test changed: 1, Sep 1, 2025" in row)
        said = next(row for row in rows if "Planting changed: 1, from Spring 2026" in row)
        assert "Crops: Oats 100 % to Alfalfa 60 %, Oats 40 %" in said
        assert "Last season: open to Fall 2027" in said
        assert "Plot added: 1" in rows[-1]

    def test_only_some_of_it(self, client, ground) -> None:
        plot = make_plot(ground, "1")
        make_planting(plot, "oats")
        address = reverse("plots:plot_history", args=[plot.pk])
        assert len(rows_of(client.get(address, {"of": "plantings"}))) == 1
        assert len(rows_of(client.get(address, {"of": "nonsense\x00", "page": "9" * 30}))) == 2
        assert "Nothing of this kind has been changed." in text_of(client.get(address, {"of": "tests"}))

    def test_members_read_it_and_strangers_do_not(self, cast, client_of) -> None:
        plot = make_plot(cast.ground, "1")
        expected = {"manager": 200, "hand": 200, "viewer": 200, "stranger": 404, "operator": 404}
        for who, status in expected.items():
            page = client_of(cast.people()[who]).get(reverse("plots:plot_history", args=[plot.pk]))
            assert page.status_code == status, who

    def test_a_neighbour_s_changes_are_not_in_it(self, client, ground) -> None:
        plot, other = make_plot(ground, "1"), make_plot(ground, "2")
        make_planting(other, "oats")
        assert [row[:13] for row in rows_of(client.get(reverse("plots:plot_history", args=[plot.pk])))] == [
            "Plot added: 1"
        ]


def test_every_kind_of_thing_whose_versions_are_kept_is_shown(ground) -> None:
    kept = {model for model in apps.get_models() if hasattr(model, "history") and hasattr(model.history, "model")}
    shown = {book.rows.model for shelf in books_of_property(ground.pk).values() for book in shelf}
    assert {model.history.model for model in kept} <= shown


class TestOfAProperty:
    def test_settings_people_and_things_taken_away(self, client, ground, hand) -> None:
        send(client, "/settings/?property=GROUND", retest_years="5", lime_policy="staged", group_corn="tri_state_2020")
        send(client, "/settings/crops/targets/?property=GROUND", target_alfalfa="6.4")
        role = hand.roles.get()
        client.post(reverse("plots:change_member", args=[role.pk]), {f"role{role.pk}-kind": "viewer"})
        client.post(reverse("plots:remove_member", args=[role.pk]))
        said = " ".join(rows_of(client.get(PAGE)))
        assert "Sample again after (years): 3 to 5" in said
        assert "Lime policy: full rate to staged: about half now, retest in 12 months" in said
        assert "Targets by crop: nothing to Alfalfa 6.4" in said
        assert "Fertilizer by crop group: nothing to corn:" in said
        assert "Member changed: hand Role: hired hand to viewer manager" in said
        assert "Member taken away: hand manager" in said

    def test_a_list_of_plots_stands_in_it(self, client, ground) -> None:
        preview = client.post("/plots/import/?property=GROUND", {"pasted": "code,acres\n7,1\n"}, follow=True)
        client.post(preview.redirect_chain[-1][0])
        said = " ".join(rows_of(client.get(PAGE)))
        assert "List of plots added: pasted list of plots manager" in said
        assert "Plot added: 7 manager" in said

    def test_another_property_s_changes_are_not_in_it(self, client, ground) -> None:
        make_plot(make_property("OTHER"), "theirs")
        assert "theirs" not in text_of(client.get(PAGE))

    def test_an_order_and_its_lines(self, client, ground, hand, manager) -> None:
        plot, stone = make_plot(ground, "1"), make_lime(ground, "Stone")
        line = LineWanted(plot=plot, material=stone, rate_lb_per_acre=Decimal(4000), acres=plot.acres)
        order = draft_work_order(ground, hand=hand, planned_on=dt.date.today(), lines=[line], by=manager)
        issue_work_order(order, by=manager)
        rows = rows_of(client.get(f"{PAGE}&of=orders"))
        assert any(row.startswith(f"Work order changed: {order.number} State: draft to issued") for row in rows)
        assert any(row.startswith(f"Line of work order added: {order.number}, plot 1") for row in rows)

    def test_only_a_manager_reads_it(self, cast, client_of) -> None:
        for who, status in {"hand": 403, "viewer": 403, "stranger": 404, "operator": 404}.items():
            assert client_of(cast.people()[who]).get(PAGE).status_code == status

    def test_pages_of_fifty_in_a_number_of_queries_that_does_not_grow(
        self, client, ground, django_assert_max_num_queries
    ) -> None:
        def changes(count: int) -> None:
            for _ in range(count):
                plot = make_plot(ground)
                planting = make_planting(plot, "oats")
                planting.note = "changed"
                change_planting(planting, seen_version=1)
                plot.name = "changed"
                change_plot(plot, seen_version=1)
                Role.objects.get(property=ground, kind="hand").save()

        changes(2)
        client.get(PAGE)
        with django_assert_max_num_queries(25) as counted:
            assert len(rows_of(client.get(PAGE))) < 50
        changes(20)
        with django_assert_max_num_queries(len(counted)):
            page = client.get(PAGE)
        assert len(rows_of(page)) == 50
        pages = [rows_of(client.get(PAGE, {"page": number})) for number in (1, 2, 3)]
        assert [len(rows) for rows in pages] == [50, 50, sum(map(len, pages)) - 100]
        kept = Plot.history.count() + Planting.history.count() + Role.history.count() + Property.history.count()
        assert sum(map(len, pages)) == kept
