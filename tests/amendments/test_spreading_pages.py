"""Pages that lead to spreading show what is dangerous there, and amounts as they were typed."""

from __future__ import annotations

import datetime as dt
import io

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse
from openpyxl import Workbook

from soiltests.services.uploads import table_of
from tests.factories import make_lime, make_plot, make_record

pytestmark = pytest.mark.django_db


def hazards_on(client, address: str) -> str:
    soup = BeautifulSoup(client.get(address).content, "html.parser")
    return " ".join(found.get_text(" ") for found in soup.select(".hazards"))


def test_the_record_form_shows_the_place_s_hazards(ground, hand, client_of) -> None:
    wet = make_plot(ground, "1", near_water=True, slope=True)
    dry = make_plot(ground, "2", access="on_foot")
    client = client_of(hand)
    on_wet = hazards_on(client, reverse("amendments:record_one", args=[wet.pk]))
    on_dry = hazards_on(client, reverse("amendments:record_one", args=[dry.pk]))
    assert "Water is near" in on_wet
    assert "Water is near" not in on_dry
    assert "Guards on, PTO off" in on_wet
    assert "Guards on, PTO off" not in on_dry
    assert "dust mask" in on_dry
    assert "Guards on, PTO off" in hazards_on(client, reverse("amendments:record_many"))


def test_a_plot_without_lime_on_offer_still_shows_hazards(ground, viewer, client_of) -> None:
    plot = make_plot(ground, "1")
    assert "Guards on, PTO off" in hazards_on(client_of(viewer), reverse("amendments:plot", args=[plot.pk]))


def test_amounts_are_shown_as_they_were_typed(ground, viewer, client_of) -> None:
    plot = make_plot(ground, "1", acres="12.375")
    make_record(plot, make_lime(ground), on=dt.date(2026, 9, 1), amount="24.75")
    for address in (reverse("amendments:plot", args=[plot.pk]), reverse("amendments:records")):
        assert "24.75 tons" in " ".join(
            BeautifulSoup(client_of(viewer).get(address).content, "html.parser").text.split()
        )


def test_a_sample_named_by_a_hash_is_not_taken_for_a_remark() -> None:
    book = Workbook()
    for row in (["# from the lab"], ["plot", "ph"], ["#7", "5.6"], ["8", "6.1"]):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    assert [row[0] for row in table_of(out.getvalue())] == ["plot", "#7", "8"]
