"""How the model of plots and offers is put to the solver: one plot alone, or many that share a purchase."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import replace

from agronomy.blend.offers import BlendLimits, BlendPlot, FertilizerOffer
from agronomy.blend.patterns import by_patterns
from agronomy.blend.purchase import Mode, Solution, has_minimum, joined, solved

ONE_PLOT_SECONDS, LEAST_SECONDS, POLISH_SECONDS = 5.0, 0.5, 2.0


def _modes(limits: BlendLimits) -> tuple[Mode, ...]:
    """Whole bags first, then split ones, then what leaves least short."""
    whole = (Mode(whole=True),) if limits.whole_bags else ()
    split = (Mode(whole=False),) if limits.part_bags or not limits.whole_bags else ()
    return (*whole, *split, Mode(whole=not split, elastic=True))


def alone(plot: BlendPlot, offers: Sequence[FertilizerOffer]) -> Solution:
    """The least-cost purchase of one plot, in the first mode in which its needs can be met."""
    for mode in _modes(plot.limits):
        found = solved([plot], offers, {plot.key: mode}, gap=0.0, seconds=ONE_PLOT_SECONDS)
        if found is not None:
            return found
    raise ValueError(f"the solver gave no answer for plot {plot.key!r}")


def together(
    plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer], *, whole_bags: bool, gap: float, seconds: float
) -> Solution:
    """The purchase of several plots. In whole bags they share nothing but stock and least orders: without those each
    is solved alone."""
    ends = time.monotonic() + seconds
    asked = [replace(plot, limits=replace(plot.limits, whole_bags=whole_bags, part_bags=True)) for plot in plots]
    shares = any(offer.on_hand_lb or has_minimum(offer) for offer in offers)
    apart = {plot.key: alone(plot, _without_stock(offers)) for plot in asked}
    modes = {key: found.modes[key] for key, found in apart.items()}
    if shares:
        return _coupled(asked, offers, modes, apart, gap=gap, ends=ends)
    split = [plot for plot in asked if not modes[plot.key].whole]
    whole = [apart[plot.key] for plot in asked if modes[plot.key].whole]
    if not split:
        return joined(whole)
    shared = solved(split, offers, {plot.key: modes[plot.key] for plot in split}, gap=gap, seconds=_left(ends))
    return joined([*whole, _certain(shared)])


def _without_stock(offers: Sequence[FertilizerOffer]) -> list[FertilizerOffer]:
    """The offers as if all were bought, package by package; what is not for sale stays as it is."""
    return [
        offer if offer.price_dollars is None else replace(offer, on_hand_lb=0.0, minimum_packages=0.0)
        for offer in offers
    ]


def _left(ends: float) -> float:
    return max(LEAST_SECONDS, ends - time.monotonic())


def _coupled(
    plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer], modes: Mapping[str, Mode],
    apart: Mapping[str, Solution], *, gap: float, ends: float,
) -> Solution:  # fmt: skip
    """Plots that share stock or least orders: by patterns where bags are whole, else all in one model. Where the stock
    does not go round, every plot leaves as little short as can be."""
    if any(mode.whole for mode in modes.values()):
        found = by_patterns(plots, offers, modes, apart, gap=gap, ends=ends - POLISH_SECONDS)
        if found is not None:
            return _polished(found, plots, offers, modes, gap=gap, ends=ends)
    start = [spread for found in apart.values() for spread in found.spreads]
    found = solved(plots, offers, modes, gap=gap, seconds=_left(ends), start=start)
    if found is None:
        modes = {key: Mode(mode.whole, elastic=True) for key, mode in modes.items()}
        found = solved(plots, offers, modes, gap=gap, seconds=_left(ends))
    return _certain(found)


def _polished(
    found: Solution, plots: Sequence[BlendPlot], offers: Sequence[FertilizerOffer], modes: Mapping[str, Mode], *,
    gap: float, ends: float,
) -> Solution:  # fmt: skip
    """The purchase found, bettered in the time that is left where it is not yet near enough to the cheapest."""
    if found.dollars - found.least_dollars <= gap * found.dollars:
        return found
    again = solved(plots, offers, modes, gap=gap, seconds=_left(ends), start=found.spreads,
                   least_dollars=found.least_dollars)  # fmt: skip
    if again is None or again.dollars > found.dollars:
        return found
    return again


def _certain(found: Solution | None) -> Solution:
    if found is None:
        raise ValueError("the solver found no purchase in the time it was given")
    return found
