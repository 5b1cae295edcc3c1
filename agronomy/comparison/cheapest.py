"""Which offer costs least for what it reaches, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import fsum

from agronomy.comparison.lines import CENT, ComparedLine, buy
from agronomy.findings import Finding, Value, note


@dataclass(frozen=True, slots=True)
class Choice:
    """An offer, the plots it is cheapest for, what it costs for those, and the sentence that says why."""

    offer: str
    plots: tuple[str, ...]
    cost: Decimal
    why: Finding


def cheapest(lines: Sequence[ComparedLine], reached: set[str]) -> tuple[Choice, ...]:
    """The offer that costs least for each effective pound among what it reaches; the rest of the plots again, by
    what is left, until every plot that can be reached has one. What is bought for fewer plots is reckoned anew.
    """
    choices: list[Choice] = []
    left, open_lines = set(reached), [line for line in lines if line.purchase is not None]
    while left:
        ranked = sorted(
            (entry for line in open_lines if (entry := _for_plots(line, left)) is not None),
            key=lambda entry: (entry[1], -len(entry[2]), entry[0].offer.key),
        )
        if not ranked:
            break
        choices.append(_choice(ranked))
        left -= set(ranked[0][2])
    return tuple(choices)


def _for_plots(line: ComparedLine, keys: set[str]) -> tuple[ComparedLine, Decimal, tuple[str, ...], Decimal] | None:
    """An offer for some plots: dollars per effective ton really paid, the plots it serves, and its cost."""
    parts = [part for part in line.served if part.plot in keys]
    effective = fsum(part.effective_lb for part in parts)
    if not parts or effective <= 0:
        return None
    cost = buy(line.offer, [part.lb for part in parts]).cost
    paid = (cost * 2000 / Decimal(repr(effective))).quantize(CENT)
    return line, paid, tuple(part.plot for part in parts), cost


def _choice(ranked: Sequence[tuple[ComparedLine, Decimal, tuple[str, ...], Decimal]]) -> Choice:
    line, paid, served, cost = ranked[0]
    values: dict[str, Value] = {
        "material": line.offer.label,
        "plots": len(served),
        "cost": float(cost),
        "paid": float(paid),
    }
    if len(ranked) == 1:
        return Choice(line.offer.key, served, cost, note("cheapest_only_one", source="", **values))
    other, other_paid = ranked[1][0], ranked[1][1]
    rival: dict[str, Value] = {
        "rival": other.offer.label,
        "rival_paid": float(other_paid),
        "rival_plots": len(ranked[1][2]),
    }
    code = "cheapest_material"
    if line.purchase is not None and line.purchase.from_stock_lb and not cost:
        code = "cheapest_from_stock"
    elif _by_package(other) < _by_package(line):
        code = "cheapest_for_this_amount"
    elif _by_pound(other) < _by_pound(line):
        code = "cheapest_by_value"
    return Choice(line.offer.key, served, cost, note(code, source="", **values, **rival))


def _by_package(line: ComparedLine) -> Decimal:
    """Price of the effective ton before minimums and whole packages."""
    return line.cost_per_effective_ton if line.cost_per_effective_ton is not None else Decimal("Infinity")


def _by_pound(line: ComparedLine) -> Decimal:
    return line.offer.price_per_package / line.offer.package_lb
