"""Plots in a real browser: the same work with scripts and without, at a desk and on a phone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from plots.models import Person, Place, Planting, Plot, PlotImport, Property, Role
from plots.services.crops import add_crop
from plots.services.people import invite
from tests.factories import make_planting, make_plot

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BOTH_WAYS = pytest.mark.parametrize(("javascript", "phone"), [(True, False), (False, True)])


def too_wide(page: Page) -> bool:
    """Whether the page must be moved sideways to be read."""
    return bool(page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth"))


@BOTH_WAYS
def test_a_plot_and_what_grows_on_it(
    signed_in: Callable[..., Page], ground: Property, manager: Person, javascript: bool, phone: bool
) -> None:
    page = signed_in(manager, javascript=javascript, phone=phone)
    page.goto("/plots/new/?property=GROUND")
    page.get_by_label("Code", exact=True).fill("N-3")
    page.get_by_label("Area", exact=True).fill("-3")
    page.get_by_label("May", exact=True).check()
    page.get_by_role("button", name="Add the plot").click()
    said = "An area of -3 acres is not possible; allowed are 0.01 to 2,000 acres."
    expect(page.locator("#errors")).to_contain_text(said)
    if javascript:
        expect(page.locator("#errors")).to_be_focused()
    area = page.get_by_label("Area", exact=True)
    expect(area).to_have_value("-3")
    expect(area).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_label("May", exact=True)).to_be_checked()
    area.fill("1.5")
    page.get_by_role("button", name="Add the plot").click()
    expect(page.locator("#messages")).to_contain_text("Plot N-3 added.")
    plot = Plot.objects.get()
    page.goto(f"/plots/{plot.pk}/plantings/new/")
    page.get_by_label("Crop", exact=True).select_option("white_clover")
    page.get_by_role("button", name="Save the planting").click()
    expect(page.locator("#messages")).to_contain_text("Kept:")
    assert Planting.objects.get().crop_keys == ("white_clover",)


@BOTH_WAYS
def test_a_list_is_shown_and_taken_in(
    signed_in: Callable[..., Page], ground: Property, manager: Person, javascript: bool, phone: bool
) -> None:
    page = signed_in(manager, javascript=javascript, phone=phone)
    page.goto("/plots/import/?property=GROUND")
    page.get_by_label("or paste the list here").fill("code,acres\n1,2\n1,3\n")
    page.get_by_role("button", name="Show what it would add").click()
    expect(page.locator("main")).to_contain_text("Code “1” is taken: line 2 has it")
    assert not too_wide(page)
    page.get_by_role("link", name="Bring the list in again").click()
    content = b"\xef\xbb\xbfcode;acres\r\n1;2\r\n2;0,5\r\n"
    page.get_by_label("File").set_input_files({"name": "plots.csv", "mimeType": "text/csv", "buffer": content})
    page.get_by_role("button", name="Show what it would add").click()
    page.get_by_role("button", name="Add all 2 plots").click()
    expect(page.locator("#messages")).to_contain_text("2 plots added.")
    assert Plot.objects.count() == 2


@BOTH_WAYS
def test_somebody_joins_by_a_link(
    signed_in: Callable[..., Page], new_context: Callable[..., object], ground: Property, manager: Person,
    javascript: bool, phone: bool,
) -> None:  # fmt: skip
    page = signed_in(manager, javascript=javascript)
    page.goto("/settings/people/?property=GROUND")
    page.get_by_role("link", name="Invite somebody").click()
    page.get_by_label("Role").select_option("hand")
    page.get_by_role("button", name="Make the link").click()
    link = page.get_by_label("The link").input_value()
    theirs: Page = new_context(javascript=javascript, phone=phone).new_page()  # type: ignore[attr-defined]
    theirs.goto(link)
    theirs.get_by_label("Name to sign in with").fill("newhand")
    theirs.get_by_label("Password", exact=True).fill("long enough to pass")
    theirs.get_by_label("The same password again").fill("long enough to pass")
    theirs.get_by_role("button", name="Join").click()
    expect(theirs.locator("#messages")).to_contain_text("Welcome to GROUND ground.")
    assert Role.objects.get(person__username="newhand").kind == "hand"


def faults_of(page: Page) -> list[tuple[str, list[str]]]:
    """What an accessibility checker finds wrong."""
    found = Axe().run(page).response["violations"]
    return [(fault["id"], [node["html"][:160] for node in fault["nodes"]]) for fault in found]


def test_every_page_reads_on_a_phone_and_to_a_screen_reader(
    signed_in: Callable[..., Page], ground: Property, manager: Person
) -> None:
    plot = make_plot(ground, "A long code of plots", name="A name that goes on and on for a plot in the bottom")
    old = make_plot(ground, "old", retired_on=dt.date(2020, 1, 1))
    planting = make_planting(plot, "white_clover")
    Place.objects.create(property=ground, kind="stockpile", name="Barn")
    crop = add_crop(ground, {"name": "Teff", "group": "millet", "target_ph": 6, "floor_ph": 5, "upper_ph": 7})
    invite(ground, kind="hand", by=manager, email="somebody@example.org")
    table = [[1, ["code", "acres"]], [2, ["1", "2"]], [3, ["1", "-2"]]]
    draft = PlotImport.objects.create(property=ground, made_by=manager, table=table)
    page = signed_in(manager, phone=True)
    for address in (
        "/settings/", "/settings/people/", "/settings/invite/", "/settings/crops/", "/settings/crops/targets/",
        "/settings/crops/new/", f"/settings/crops/{crop.pk}/remove/", "/settings/places/", "/settings/places/new/",
        "/settings/history/", "/properties/", "/properties/new/", "/plots/new/", "/plots/import/", "/plots/merge/",
        "/plots/retired/", f"/plots/import/{draft.pk}/", f"/plots/{plot.pk}/change/", f"/plots/{plot.pk}/split/",
        f"/plots/{plot.pk}/retire/", f"/plots/{old.pk}/bring-back/", f"/plots/{plot.pk}/plantings/new/",
        f"/plantings/{planting.pk}/change/", f"/plantings/{planting.pk}/end/", f"/plots/{plot.pk}/history/",
    ):  # fmt: skip
        page.goto(f"{address}?property=GROUND")
        assert page.locator("h1").count() == 1, address
        assert not too_wide(page), address
        assert faults_of(page) == [], address
