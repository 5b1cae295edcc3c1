"""Every lime on offer held against the others, for a plot, a group of plots or a whole property.

Each offer is worked out for each plot that it reaches, in that plot's own requirement and reference; what must be
bought is rounded up once over all of them, after what is already on hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from agronomy.comparison.cheapest import Choice, cheapest
from agronomy.comparison.facts import ComparedOffer, ComparedPlot, ComparedSpreader
from agronomy.comparison.lines import ComparedLine, PlotLine, Purchase, barrier, buy, line_of

__all__ = [
    "SORTS", "Choice", "ComparedLine", "ComparedOffer", "ComparedPlot", "ComparedSpreader", "Comparison", "PlotLine",
    "Purchase", "barrier", "buy", "compare", "sorted_lines",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Comparison:
    """All offers in the order given, the cheapest for what each can reach, and plots that none reaches."""

    lines: tuple[ComparedLine, ...]
    cheapest: tuple[Choice, ...]
    unreached: tuple[str, ...]


def compare(
    plots: Sequence[ComparedPlot],
    offers: Iterable[ComparedOffer],
    *,
    spreaders: Sequence[ComparedSpreader] = (),
    schemes: Sequence[str] = (),
) -> Comparison:
    """Every offer for the plots that owe lime, with the cheapest for what can be reached and why.

    `schemes` asks for the material's value by other states' schemes, to be seen side by side; the rate never
    follows from those. Raises `ValueError` for an unknown scheme.
    """
    owing = [plot for plot in plots if plot.owed.amount]
    lines = tuple(line_of(offer, owing, spreaders, schemes) for offer in offers)
    reached = {part.plot for line in lines for part in line.served}
    return Comparison(lines, cheapest(lines, reached), tuple(p.key for p in owing if p.key not in reached))


SORTS = ("offer", "rate", "buy", "cost", "effective_ton", "hours", "reach", "first_year")


def sorted_lines(lines: Iterable[ComparedLine], *, by: str) -> tuple[ComparedLine, ...]:
    """Lines by one of `SORTS` ("-" before it: falling); what is not known stands last either way.

    Raises `ValueError` for another name.
    """
    name, falling = by.removeprefix("-"), by.startswith("-")
    if name not in SORTS:
        raise ValueError(f"sort {name!r} is none of {', '.join(SORTS)}")
    keyed = [(_sort_key(line, name), line) for line in lines]
    known = sorted(((key, line) for key, line in keyed if key is not None), key=lambda pair: pair[0], reverse=falling)
    return tuple(line for _, line in known) + tuple(line for key, line in keyed if key is None)


def _sort_key(line: ComparedLine, name: str) -> tuple[float, str] | None:
    """What a line is sorted by: its figure, its name where the figures are equal; None where it is not known."""
    called = line.offer.material.name.casefold()
    number: float | Decimal | None
    if name == "offer":
        number = 0
    elif name == "reach":
        number = -len(line.served)
    elif name == "rate":
        number = line.lb_per_acre
    elif name == "buy":
        number = line.purchase.bought_lb if line.purchase else None
    elif name == "cost":
        number = line.cost
    elif name == "effective_ton":
        number = line.cost_per_effective_ton
    elif name == "hours":
        number = line.hours
    else:
        number = line.first_year_percent
    return None if number is None else (float(number), called)
