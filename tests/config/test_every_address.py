"""Every address of the program, walked by each of the standing cast."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import URLPattern, URLResolver, get_resolver

from plots.models import OwnCrop, Place, PlotImport
from plots.services.people import invite
from soiltests.models import LabReport
from tests.factories import (
    make_lime,
    make_offer,
    make_planting,
    make_plot,
    make_record,
    make_spreader,
    make_test,
)

pytestmark = pytest.mark.django_db
APPS = ("plots.", "soiltests.", "amendments.")


def routes(resolver: URLResolver | None = None, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    for entry in (resolver or get_resolver()).url_patterns:
        path = before + str(entry.pattern)
        if isinstance(entry, URLResolver):
            yield from routes(entry, path)
        elif entry.lookup_str.startswith(APPS):
            yield path, entry


ROUTES = dict(routes())
OF_ONE_ROW = sorted(path for path in ROUTES if "<int:pk>" in path)
LISTS = sorted(path for path in ROUTES if "<" not in path)


@pytest.fixture
def rows(ground, manager) -> dict[str, Any]:
    """One row of each kind, by the beginning of its addresses, the longest first."""
    plot = make_plot(ground, "1")
    test = make_test(plot, on=dt.date(2025, 9, 1), ph="5.6", buffer_ph="6.2", buffer_method="sikora")
    stone = make_lime(ground, "Stone")
    crop = OwnCrop.objects.create(property=ground, key="own_x", name="X", group="forb", target_ph=6, floor_ph=5,
                                  upper_ph=7)  # fmt: skip
    return {
        "plots/": plot, "plantings/": make_planting(plot), "tests/samples/": test.sample, "tests/labs/": test.lab,
        "tests/reports/": LabReport.objects.create(property=ground, lab=test.lab, made_by=manager,
                                                   table=[["plot", "ph"], ["1", "6"]],
                                                   choices={"columns": {}, "matches": {}}),
        "tests/": test, "records/": make_record(plot, stone, on=dt.date(2025, 9, 2), amount="1"),
        "materials/": stone, "offers/": make_offer(stone), "spreaders/": make_spreader(ground),
        "settings/people/": ground.roles.get(kind="viewer"), "settings/crops/": crop,
        "settings/invite/": invite(ground, kind="viewer", by=manager)[0],
        "properties/": ground.roles.get(kind="manager"),
        "plots/import/": PlotImport.objects.create(property=ground, made_by=manager,
                                                   table=[[1, ["code", "acres"]], [2, ["9", "1"]]]),
        "settings/places/": Place.objects.create(property=ground, kind="water", name="Pond"),
    }  # fmt: skip


def address(path: str, rows: dict[str, Any]) -> str:
    row = next(row for start, row in sorted(rows.items(), key=lambda pair: -len(pair[0])) if path.startswith(start))
    return "/" + path.replace("<int:pk>", str(row.pk))


@pytest.mark.parametrize("path", OF_ONE_ROW)
def test_strangers_never_see_a_row(path, rows, stranger, operator, client_of) -> None:
    """404 by reading and by writing, for somebody of another property and for an operator without a role."""
    for person in (stranger, operator):
        client = client_of(person)
        assert client.get(address(path, rows)).status_code in (404, 405)
        assert client.post(address(path, rows), {}).status_code in (404, 405)


@pytest.mark.parametrize("path", OF_ONE_ROW)
def test_members_get_an_answer(path, rows, manager, hand, viewer, client_of) -> None:
    """The manager reads everything; others read it or are told that they may not."""
    assert client_of(manager).get(address(path, rows)).status_code in (200, 302, 405)
    for person in (hand, viewer):
        assert client_of(person).get(address(path, rows)).status_code in (200, 302, 403, 405)


@pytest.mark.parametrize("path", OF_ONE_ROW)
def test_a_viewer_changes_nothing(path, rows, viewer, client_of) -> None:
    assert client_of(viewer).post(address(path, rows), {}).status_code in (403, 405)


@pytest.mark.parametrize("path", LISTS)
def test_lists(path, rows, ground, manager, viewer, stranger, client_of) -> None:
    """A list of a property answers its members and is not there for strangers; without sign-in it asks for it."""
    client = client_of(manager)
    assert client.get(f"/{path}").status_code in (200, 302, 405)
    assert client_of(viewer).get(f"/{path}?property=ground").status_code in (200, 302, 403, 405)
    if path not in ("properties/", "properties/new/", "settings/style/"):
        assert client_of(stranger).get(f"/{path}?property=GROUND").status_code in (404, 405)
    assert client_of(manager).get(f"/{path}?property=GROUND%00&page=9x&q=%00&sort=person__password").status_code < 500


@pytest.mark.parametrize("path", [*LISTS, *OF_ONE_ROW])
def test_nobody_without_signing_in(path, client) -> None:
    assert client.get("/" + path.replace("<int:pk>", "1")).status_code in (302, 405)
