"""Keeps standings true to their facts: whoever changes a fact says so, and here it is heard."""

from __future__ import annotations

from django.dispatch import receiver

from amendments.models import WorkOrderLine
from amendments.services.standing import refresh_standing
from plots import facts
from soiltests.models import LabReport
from soiltests.services.imports import RESTS_ON


@receiver(facts.changed, dispatch_uid="refresh standing")
def refresh(sender: object, plot_ids: frozenset[int], **kwargs: object) -> None:
    """Rewrite the standings in the transaction of the change: with it or not at all."""
    refresh_standing(plot_ids)


def order_rests_on(report: LabReport, plot_ids: set[int]) -> str:
    """A work order that was issued since a report came in was worked out from its tests."""
    lines = WorkOrderLine.objects.filter(plot_id__in=plot_ids, order__issued_at__gte=report.accepted_at)
    line = lines.select_related("order", "plot").first()
    return f"{line.order} was issued on plot {line.plot} since, worked out from this report." if line else ""


RESTS_ON.append(order_rests_on)
