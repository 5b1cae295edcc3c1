"""The season review and the due list: filtered, sorted, counted and paged in SQL over the stored standings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db.models import Case, Count, F, FloatField, IntegerField, Q, QuerySet, Value, When
from django.db.models.functions import Cast

from agronomy.status import STATUSES
from amendments.models import Standing

_CALLS = Q(test_ph__isnull=False, trigger_ph__isnull=False, test_ph__lt=F("trigger_ph"))
_OWES = Q(owed_effective_lb__isnull=False, owed_effective_lb__gte=F("smallest_dressing_lb"))
_COVERED = Q(ordered_effective_lb__gt=0, ordered_effective_lb__gte=F("owed_effective_lb") * F("order_cover_share"))
_STILL_OWES = Q(owed_effective_lb__isnull=True) | Q(
    owed_effective_lb__gte=F("smallest_dressing_lb") + F("ordered_effective_lb")
)
_LITTLE_OWED = Q(owed_effective_lb__isnull=True) | Q(owed_effective_lb__lt=F("smallest_dressing_lb"))


def status_case(today: dt.date) -> Case:
    """The place of a plot's status in `agronomy.status.STATUSES`, decided in that order."""
    conditions: Mapping[str, Q] = {
        "ordered": _CALLS & _OWES & _COVERED,
        "no_test": Q(tested_on__isnull=True) | Q(test_ph__isnull=True),
        "retest_due": Q(retest_due_on__lte=today),
        "short_of_lime": _CALLS & _STILL_OWES,
        "settling": Q(settling_until__gte=today) & _LITTLE_OWED,
        "over_target": Q(test_ph__gt=F("upper_ph")),
    }
    whens = [When(condition, then=Value(STATUSES.index(name))) for name, condition in conditions.items()]
    return Case(*whens, default=Value(STATUSES.index("in_range")), output_field=IntegerField())


ACRES = Case(
    When(
        plot__acres_from="boundary", plot__acres_measured__isnull=False, then=Cast("plot__acres_measured", FloatField())
    ),
    default=Cast("plot__acres_entered", FloatField()),
    output_field=FloatField(),
)

SORTS: Mapping[str, tuple[Any, ...]] = {
    "status": (F("status_rank").asc(),),
    "plot": (F("plot__sort_key").asc(),),
    "crop": (F("crop_label").asc(),),
    "acres": (F("acres").asc(),),
    "tested": (F("tested_on").asc(nulls_first=True),),
    "ph": (F("test_ph").asc(nulls_last=True),),
    "gap": (F("gap").asc(nulls_last=True),),
    "owed": (F("owed_effective_lb").asc(nulls_last=True),),
    "p": (F("p_rating").asc(),),
    "k": (F("k_rating").asc(),),
    "spread": (F("last_spread_on").asc(nulls_first=True),),
    "due": (F("retest_due_on").asc(nulls_first=True),),
}


def of_property(property_id: int, *, today: dt.date) -> QuerySet[Standing]:
    """The standings of a property's plots in use, each with its status, acres and gap to target."""
    return (
        Standing.objects.filter(property_id=property_id, plot__retired_on__isnull=True)
        .select_related("plot")
        .annotate(status_rank=status_case(today), acres=ACRES, gap=F("test_ph") - F("target_ph"))
    )


def narrowed(rows: QuerySet[Standing], wanted: Mapping[str, Any]) -> QuerySet[Standing]:
    """Only the rows asked for: `status`, `crop`, `vehicle` and `q`, letters of the code or the name."""
    if wanted.get("status"):
        rows = rows.filter(status_rank=STATUSES.index(wanted["status"]))
    if wanted.get("crop"):
        rows = rows.filter(crop_keys__contains=f"|{wanted['crop']}|")
    if wanted.get("vehicle"):
        rows = rows.filter(plot__access=wanted["vehicle"])
    if wanted.get("q"):
        rows = rows.filter(Q(plot__code__icontains=wanted["q"]) | Q(plot__name__icontains=wanted["q"]))
    return rows


def sorted_by(rows: QuerySet[Standing], sort: str) -> QuerySet[Standing]:
    """Rows by a column of `SORTS`, falling with a leading "-"; equal plots stand in the order of their codes."""
    order = [expression.copy() for expression in SORTS[sort.removeprefix("-")]]
    if sort.startswith("-"):
        for expression in order:
            expression.reverse_ordering()
    return rows.order_by(*order, "plot__sort_key")


def status_counts(rows: QuerySet[Standing]) -> dict[str, int]:
    """How many plots have each status, the ones without any included."""
    counted = dict(rows.order_by().values_list("status_rank").annotate(plots=Count("pk")))
    return {name: counted.get(rank, 0) for rank, name in enumerate(STATUSES)}


def due(rows: QuerySet[Standing], *, until: dt.date) -> QuerySet[Standing]:
    """Plots never tested, and those whose retest falls due up to a day, soonest first."""
    return rows.filter(Q(retest_due_on__isnull=True) | Q(retest_due_on__lte=until)).order_by(
        F("retest_due_on").asc(nulls_first=True), "plot__sort_key"
    )
