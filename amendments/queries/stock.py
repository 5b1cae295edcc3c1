"""What is on hand of each material: the last count, what came in since, less what was spread since."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal

from amendments.models import SpreadingRecord, StockCount


def on_hand_lb(material_ids: Sequence[int]) -> dict[int, Decimal]:
    """Pounds on hand by material, never under 0; a material that was never counted nor received has none.

    Of one day the count is taken first, then what came in; what was spread that day is drawn from it.
    """
    ids = list(material_ids)
    counts = StockCount.objects.filter(material_id__in=ids).order_by("counted_on", "is_receipt", "id")
    amounts: dict[int, Decimal] = {}
    since: dict[int, object] = {}
    received: dict[int, list[StockCount]] = defaultdict(list)
    for row in counts:
        if row.is_receipt:
            received[row.material_id].append(row)
        else:
            amounts[row.material_id], since[row.material_id] = row.amount_lb, row.counted_on
            received[row.material_id].clear()
    for material, rows in received.items():
        if rows:
            amounts[material] = amounts.get(material, Decimal(0)) + sum((row.amount_lb for row in rows), Decimal(0))
            since.setdefault(material, rows[0].counted_on)
    if amounts:
        spread = SpreadingRecord.objects.standing().filter(material_id__in=amounts)
        for material, day, amount in spread.values_list("material_id", "spread_on", "amount_lb"):
            if day >= since[material]:
                amounts[material] -= amount
    return {material: max(amount, Decimal(0)) for material, amount in amounts.items()}
