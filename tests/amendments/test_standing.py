"""Standings: stored in the transaction of every change, equal to what is computed afresh, status the same in SQL."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from agronomy.months import add_months
from agronomy.status import STATUSES, StandingFacts, StatusRules, plot_status
from amendments.models import Standing
from amendments.queries.inputs import gather
from amendments.queries.review import of_property
from amendments.services.orders import (
    LineWanted,
    call_off_work_order,
    draft_work_order,
    finish_work_order,
    issue_work_order,
    start_work_order,
)
from amendments.services.records import correct_record, entry_of, void_record
from amendments.services.standing import refresh_standing, standing_fields
from plots.models import Property
from plots.seasons import season_on
from plots.services.plantings import change_planting, end_planting
from plots.services.plots import (
    bring_back_plot,
    change_plot,
    change_property,
    merge_plots,
    retire_plot,
    split_plot,
)
from soiltests.services.entry import MeasurementEntry, change_test, set_fate
from tests.factories import make_fertilizer, make_lime, make_planting, make_plot, make_record, make_test

pytestmark = pytest.mark.django_db
TODAY = dt.date.today()
LAST_MONTH = TODAY - dt.timedelta(days=30)


def stored_equals_computed(property_: Property) -> None:
    """Every plot of the property has a stored standing, and it is what its facts give now."""
    plot_ids = list(property_.plots.values_list("pk", flat=True))
    stored = Standing.objects.in_bulk(plot_ids)
    assert set(stored) == set(plot_ids)
    for inputs in gather(plot_ids):
        assert stored[inputs.plot.pk].fingerprint == standing_fields(inputs)["fingerprint"]


@pytest.fixture
def scene(ground, hand, manager):
    """A plot with a crop, a test, lime spread and an order drafted: something for every change to change."""
    plot = make_plot(ground, "1", target_ph=Decimal("6.4"))
    planting = make_planting(plot, "red_clover", inoculated=True)
    measured = [MeasurementEntry("p", "30", "ppm", "mehlich3")]
    test = make_test(plot, on=LAST_MONTH, ph="5.6", buffer_ph="6.2", buffer_method="sikora", measurements=measured)
    stone = make_lime(ground, "Stone")
    record = make_record(plot, stone, on=TODAY - dt.timedelta(days=3), amount="1", by=hand)
    line = LineWanted(plot=plot, material=stone, rate_lb_per_acre=Decimal(4000), acres=plot.acres)
    order = draft_work_order(ground, hand=hand, planned_on=TODAY, lines=[line], by=manager)
    return {"plot": plot, "planting": planting, "test": test, "stone": stone, "record": record, "order": order,
            "hand": hand, "manager": manager, "ground": ground}  # fmt: skip


def _set(row, **values):
    for name, value in values.items():
        setattr(row, name, value)
    return row


CHANGES: dict[str, Callable[[dict], object]] = {
    "change plot": lambda s: change_plot(
        _set(s["plot"], depth_limed_in=Decimal(4), target_ph=Decimal("6.8")), seen_version=s["plot"].version
    ),
    "retire plot": lambda s: retire_plot(s["plot"], on=TODAY),
    "bring back plot": lambda s: bring_back_plot(s["plot"]),
    "split plot": lambda s: split_plot(
        s["plot"], on=TODAY,
        parts=[{"code": c, "area_entered": Decimal("0.7"), "acres_entered": Decimal("0.7")} for c in ("1a", "1b")],
    ),
    "merge plots": lambda s: merge_plots(
        [s["plot"], make_plot(s["ground"], "2")], on=TODAY,
        fields={"code": "12", "area_entered": Decimal(3), "acres_entered": Decimal(3)},
    ),
    "change property": lambda s: change_property(
        _set(s["ground"], trigger_gap=Decimal("0.5"), smallest_dressing_lb=100, retest_years=2),
        seen_version=s["ground"].version,
    ),
    "plant": lambda s: make_planting(s["plot"], "alfalfa", first_season=season_on(TODAY) + 2),
    "change planting": lambda s: change_planting(
        _set(s["planting"], components=[{"crop": "oats", "share_percent": 100}]), seen_version=s["planting"].version
    ),
    "end planting": lambda s: end_planting(s["planting"], last_season=s["planting"].first_season + 1),
    "enter test": lambda s: make_test(s["plot"], on=TODAY, ph="6.0", buffer_ph="6.5", buffer_method="sikora"),
    "change test": lambda s: change_test(
        _set(s["test"], ph=Decimal("5.2")), sample=s["test"].sample, measurements=[], seen_version=s["test"].version
    ),
    "lose sample": lambda s: set_fate(s["test"].sample, "lost"),
    "record lime": lambda s: make_record(s["plot"], s["stone"], on=TODAY, amount="2"),
    "record fertilizer": lambda s: make_record(
        s["plot"], make_fertilizer(s["ground"], "0-46-0"), on=TODAY, amount="2", unit="bag", package_lb=Decimal(50)
    ),
    "correct record": lambda s: correct_record(
        s["record"], _changed(entry_of(s["record"], by=s["hand"], at=timezone.now()), amount=Decimal(3))
    ),
    "void record": lambda s: void_record(s["record"], by=s["hand"], at=timezone.now(), reason="not spread"),
    "issue order": lambda s: issue_work_order(s["order"], by=s["manager"]),
    "start order": lambda s: start_work_order(issue_work_order(s["order"], by=s["manager"]), by=s["hand"]),
    "finish order": lambda s: finish_work_order(issue_work_order(s["order"], by=s["manager"]), by=s["hand"]),
    "call off order": lambda s: call_off_work_order(issue_work_order(s["order"], by=s["manager"]), by=s["manager"]),
}  # fmt: skip


def _changed(entry, **values):
    return type(entry)(**{**{name: getattr(entry, name) for name in entry.__slots__}, **values})


@pytest.mark.parametrize("change", CHANGES)
def test_every_change_rewrites_the_standing(scene, change) -> None:
    CHANGES[change](scene)
    stored_equals_computed(scene["ground"])


@pytest.mark.parametrize("change", ["change plot", "lose sample", "record lime", "void record", "issue order"])
def test_the_change_was_one(scene, change) -> None:
    """The comparison above can fail: these changes do change the stored figures."""
    before = Standing.objects.get(plot=scene["plot"]).fingerprint
    CHANGES[change](scene)
    assert Standing.objects.get(plot=scene["plot"]).fingerprint != before


def test_a_change_that_fails_leaves_the_standing_as_it_was(scene) -> None:
    before = Standing.objects.get(plot=scene["plot"]).fingerprint

    def fails() -> None:
        with transaction.atomic():
            set_fate(scene["test"].sample, "lost")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fails()
    assert Standing.objects.get(plot=scene["plot"]).fingerprint == before


def test_refresh_rebuilds_what_was_lost(scene) -> None:
    Standing.objects.all().delete()
    refresh_standing([scene["plot"].pk])
    stored_equals_computed(scene["ground"])


def test_an_open_order_counts_until_it_is_recorded(scene) -> None:
    """4,000 lb/acre of stone at lime score 62.7 is 2,508 lb effective an acre."""
    issue_work_order(scene["order"], by=scene["manager"])
    line = scene["order"].lines.get()
    assert Standing.objects.get(plot=scene["plot"]).ordered_effective_lb == pytest.approx(2508, abs=1)
    make_record(scene["plot"], scene["stone"], on=TODAY, amount="3", order_line=line, by=scene["hand"])
    assert Standing.objects.get(plot=scene["plot"]).ordered_effective_lb == 0


numbers = st.one_of(st.none(), st.floats(4, 8))
pounds = st.one_of(st.none(), st.floats(0, 4000))
days = st.one_of(st.none(), st.integers(-700, 700))


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(
    facts=st.tuples(days, numbers, numbers, st.floats(6.5, 8), pounds, st.floats(0, 4000), days, days),
    smallest=st.sampled_from([100.0, 500.0, 1000.0]),
    cover=st.sampled_from([0.5, 0.8, 1.0]),
)
def test_status_in_sql_is_the_status_in_python(ground, facts, smallest, cover) -> None:
    plot = ground.plots.first() or make_plot(ground, "S")
    tested, ph, trigger, upper, owed, ordered, due, settling = facts
    at = {name: None if day is None else TODAY + dt.timedelta(days=day)
          for name, day in (("tested_on", tested), ("retest_due_on", due), ("settling_until", settling))}  # fmt: skip
    row = {"test_ph": ph, "trigger_ph": trigger, "upper_ph": upper, "owed_effective_lb": owed,
           "ordered_effective_lb": ordered, **at}  # fmt: skip
    Standing.objects.filter(plot=plot).update(smallest_dressing_lb=smallest, order_cover_share=cover, **row)
    rules = StatusRules(smallest_dressing_lb=smallest, order_cover_share=cover)
    expected = plot_status(StandingFacts(**row), today=TODAY, rules=rules)
    assert STATUSES[of_property(ground.pk, today=TODAY).get(plot=plot).status_rank] == expected


def test_settling_ends_twelve_months_after_lime(scene) -> None:
    standing = Standing.objects.get(plot=scene["plot"])
    assert standing.settling_until == add_months(scene["record"].spread_on, 12)
