"""Which machine spreads a material on a plot, and the hours it takes.

Hours are counted so that they never press a hand: set-up in full on every dressing, and a part load or a part
pass as a whole one (one more than the even share when a dressing takes several).
"""

from __future__ import annotations

from dataclasses import dataclass

from agronomy.season_plan.facts import PlanOffer, PlanPlot, PlanSpreader

FEET_PER_MILE = 5280


@dataclass(frozen=True, slots=True)
class Pass:
    """One machine's work on one plot: hours = `hours_fixed` + `hours_per_lb` x lb spread."""

    spreader: str | None
    hopper_lb: float | None
    smallest_lb_per_acre: float
    hours_fixed: float
    hours_per_lb: float
    dollars_per_hour: float
    months: frozenset[int]


def counted(*, per_lb: float, most: float, each: float | None) -> tuple[float, float]:
    """(fixed, per lb) number of loads or passes, never under the true whole number.

    `per_lb` is what a pound adds to the measure, `most` the largest measure that may come, `each` what one load
    or pass holds (None: always one). Where one is enough it is one, else one more than the even share.
    """
    if each is None or most <= each:
        return 1.0, 0.0
    return 1.0, per_lb / each


def _work(spreader: PlanSpreader, plot: PlanPlot, feet: float, most_rate: float) -> tuple[float, float]:
    """Hours fixed and hours per lb of one machine on one plot."""
    one_pass = plot.acres / spreader.acres_per_hour
    one_load = spreader.hours_per_load + 2 * feet / FEET_PER_MILE / spreader.travel_mph
    passes, passes_per_lb = counted(
        per_lb=1 / plot.acres, most=most_rate, each=spreader.largest_lb_per_acre_per_pass
    )
    loads, loads_per_lb = counted(per_lb=1.0, most=most_rate * plot.acres, each=spreader.hopper_lb)
    fixed = spreader.setup_hours + passes * one_pass + loads * one_load
    return fixed, passes_per_lb * one_pass + loads_per_lb * one_load


def best_pass(
    spreaders: tuple[PlanSpreader, ...],
    *,
    plot: PlanPlot,
    offer: PlanOffer,
    months: frozenset[int],
    feet: float,
    band: tuple[float, float],
) -> Pass | str:
    """The machine that needs the fewest hours at the highest rate of `band` (lb/acre), or the barrier's code.

    An offer that the supplier spreads takes no hours, only a plot that its vehicle reaches in these months.
    """
    if offer.basis == "spread":
        reached = plot.months_reached(offer.spread_vehicle)
        if not reached & months:
            return "season_closed" if reached else "no_vehicle"
        return Pass(None, None, 0.0, 0.0, 0.0, 0.0, reached & months)
    taking = [spreader for spreader in spreaders if offer.form in spreader.forms]
    if not taking:
        return "no_spreader"
    reaching = [spreader for spreader in taking if plot.months_reached(spreader.vehicle)]
    if not reaching:
        return "no_vehicle"
    in_season = [spreader for spreader in reaching if plot.months_reached(spreader.vehicle) & months]
    if not in_season:
        return "season_closed"
    able = [spreader for spreader in in_season if spreader.smallest_lb_per_acre <= band[1]]
    if not able:
        return "rate_limits"
    works = [(_work(spreader, plot, feet, band[1]), spreader) for spreader in able]
    (fixed, per_lb), chosen = min(
        works, key=lambda work: (work[0][0] + work[0][1] * band[1] * plot.acres, work[1].dollars_per_hour)
    )
    return Pass(
        chosen.key, chosen.hopper_lb, chosen.smallest_lb_per_acre, fixed, per_lb, chosen.dollars_per_hour,
        plot.months_reached(chosen.vehicle) & months,
    )
