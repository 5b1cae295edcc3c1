"""Work orders: made, issued, begun, done, called off. Each change of state is one function here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from agronomy.version import VERSION
from amendments.models import Material, Spreader, WorkOrder, WorkOrderLine
from amendments.services.materials import analysis_on, freeze
from plots.facts import tell_changed
from plots.models import Person, Plot, Property


class WrongState(Exception):
    """The order is not in a state from which this can be done; `order` is as it now stands."""

    def __init__(self, order: WorkOrder) -> None:
        super().__init__(f"{order} is {order.get_state_display()}")
        self.order = order


@dataclass(frozen=True, slots=True)
class LineWanted:
    """One plot and material of an order: one rate, one total, in packages where there are any."""

    plot: Plot
    material: Material
    rate_lb_per_acre: Decimal
    acres: Decimal
    package_lb: Decimal | None = None
    package_name: str = ""
    work_in_depth_in: Decimal | None = None
    work_in_within_days: int | None = None
    dressing: int = 1
    dressings: int = 1
    not_before: dt.date | None = None
    prescription: dict[str, Any] = field(default_factory=dict)  # inputs, result and findings, to be frozen

    @property
    def total_lb(self) -> Decimal:
        return (self.rate_lb_per_acre * self.acres).quantize(Decimal("0.01"))

    @property
    def packages(self) -> Decimal | None:
        return (self.total_lb / self.package_lb).quantize(Decimal("0.01")) if self.package_lb else None


def _next_number(property_: Property) -> int:
    newest = property_.work_orders.aggregate(newest=Max("number"))["newest"]
    return (newest or 0) + 1


def _line(order: WorkOrder, position: int, wanted: LineWanted) -> WorkOrderLine:
    line = WorkOrderLine(
        order=order,
        position=position,
        plot=wanted.plot,
        material=wanted.material,
        rate_lb_per_acre=wanted.rate_lb_per_acre,
        acres=wanted.acres,
        total_lb=wanted.total_lb,
        package_lb=wanted.package_lb,
        package_name=wanted.package_name,
        packages=wanted.packages,
        work_in_depth_in=wanted.work_in_depth_in,
        work_in_within_days=wanted.work_in_within_days,
        dressing=wanted.dressing,
        dressings=wanted.dressings,
        not_before=wanted.not_before,
        frozen={"prescription": wanted.prescription} if wanted.prescription else {},
    )
    line.save()
    return line


@transaction.atomic
def draft_work_order(
    property_: Property,
    *,
    hand: Person,
    planned_on: dt.date,
    lines: Sequence[LineWanted],
    by: Person,
    spreader: Spreader | None = None,
    note: str = "",
) -> WorkOrder:
    """Make a draft with its lines in the order given. Raises `ValueError` without a line.

    Two drafts made at once may want the same number; the second takes the next one.
    """
    if not lines:
        raise ValueError("a work order needs at least one plot to spread on")
    fields = {"hand": hand, "planned_on": planned_on, "made_by": by, "spreader": spreader, "note": note}
    for _ in range(5):
        try:
            with transaction.atomic():
                order = WorkOrder(property=property_, number=_next_number(property_), **fields)
                order.save()
            break
        except IntegrityError:
            continue
    else:
        raise RuntimeError("no free order number after five tries")
    for position, wanted in enumerate(lines, start=1):
        _line(order, position, wanted)
    return order


def _move(order: WorkOrder, *, allowed: Iterable[str], to: str, **fields: Any) -> WorkOrder:
    """Change the state by one conditional update, so that of two people only one does it, then tell the history."""
    taken = WorkOrder.objects.filter(pk=order.pk, state__in=list(allowed)).update(state=to)
    order.refresh_from_db()
    if not taken:
        raise WrongState(order)
    for name, value in fields.items():
        setattr(order, name, value)
    order.version += 1
    order.save()
    tell_changed(order.lines.values_list("plot_id", flat=True))
    return order


@transaction.atomic
def issue_work_order(order: WorkOrder, *, by: Person) -> WorkOrder:
    """Hand the order out: each line freezes its material's analysis and prescription, and the program's version."""
    for line in order.lines.select_related("material"):
        frozen = freeze(line.material, analysis_on(line.material, order.planned_on))
        line.frozen = {**line.frozen, "material": frozen, "program_version": VERSION}
        line.save()
    states = WorkOrder.State
    return _move(order, allowed=[states.DRAFT], to=states.ISSUED, issued_by=by, issued_at=timezone.now())


@transaction.atomic
def start_work_order(order: WorkOrder, *, by: Person) -> WorkOrder:
    """Say that work on it has begun."""
    states = WorkOrder.State
    return _move(order, allowed=[states.ISSUED], to=states.STARTED, started_by=by, started_at=timezone.now())


@transaction.atomic
def finish_work_order(order: WorkOrder, *, by: Person) -> WorkOrder:
    """Say that it is done. What was not spread is owed again."""
    states = WorkOrder.State
    open_states = [states.ISSUED, states.STARTED]
    return _move(order, allowed=open_states, to=states.DONE, ended_by=by, ended_at=timezone.now())


@transaction.atomic
def call_off_work_order(order: WorkOrder, *, by: Person) -> WorkOrder:
    """Take it back, wherever it stands. Entries that arrive later are still taken, marked late."""
    states = WorkOrder.State
    open_states = [states.DRAFT, states.ISSUED, states.STARTED]
    return _move(order, allowed=open_states, to=states.CALLED_OFF, ended_by=by, ended_at=timezone.now())
