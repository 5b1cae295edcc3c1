"""The two ways a season is planned by hand, under the same limits and measured alike.

Worst plot first: down the list of pH gaps, each plot in full with what is cheapest there, until the money or the
hours are gone. Same share: every plot gets the same share of what it is owed and needs, as large as the limits
allow.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from agronomy.season_plan.facts import PlanPlot
from agronomy.season_plan.layout import EDGE, LEAST_WEIGHED_LB, Layout, Option
from agronomy.season_plan.ledger import Ledger

SHARES = tuple(i / 20 for i in range(20, 0, -1))
HALVINGS = 36


def worst_plot_first(layout: Layout, *, base: Mapping[int, float] | None = None) -> Ledger:
    """Plots by pH gap, largest first. `base` holds dressings that are set already (wishes). Of the ways to do it
    (material by fewest added dollars or cheapest by the list; fertilizer with each plot or after all lime) the
    best plan."""
    plans = [
        _down_the_list(layout, base or {}, by_list, lime_first)
        for by_list in (False, True)
        for lime_first in (False, True)
    ]
    return max(plans, key=lambda plan: plan.score)


def _down_the_list(layout: Layout, base: Mapping[int, float], by_list: bool, lime_first: bool) -> Ledger:
    ledger = Ledger.of(layout, base)
    plots = sorted(layout.season.plots, key=lambda p: (-p.ph_gap, -p.owed_effective_lb_per_acre, p.key))
    for plot in plots:
        if not _has_lime(ledger, plot.key):
            for options in _by_dressing(layout.lime_by_plot[plot.key]):
                _put_cheapest(ledger, plot.key, options, by_list)
        if not lime_first:
            _fertilize(ledger, plot)
    for plot in plots if lime_first else ():
        _fertilize(ledger, plot)
    return ledger


def _has_lime(ledger: Ledger, plot: str) -> bool:
    return any(option.kind == "lime" for option, _ in ledger.on_plot(plot))


def _by_dressing(options: Sequence[Option]) -> list[list[Option]]:
    rounds = sorted({option.dressing for option in options})
    return [[option for option in options if option.dressing == number] for number in rounds]


def _put_cheapest(ledger: Ledger, plot: str, options: Iterable[Option], by_list: bool) -> None:
    """Put the option on that adds fewest dollars an effective pound in full; failing that, the most that fits."""
    room = ledger.layout.caps[plot].owed_lb - ledger.effective_lb(plot)
    best: tuple[float, float, Option] | None = None
    part: tuple[float, float, Option] | None = None
    for option in options:
        wanted = min(option.most_lb, room / option.effective_share)
        if wanted < max(option.least_lb * (1 - EDGE), LEAST_WEIGHED_LB):
            continue
        lb = largest_that_fits(ledger, option, max(wanted, option.least_lb))
        if lb is None:
            continue
        if lb < wanted * (1 - EDGE):
            if part is None or lb * option.effective_share > part[0]:
                part = lb * option.effective_share, lb, option
        else:
            price = _list_price(ledger.layout, option) if by_list else (
                _added_dollars(ledger, option, lb) / (lb * option.effective_share))
            if best is None or price < best[0]:
                best = price, lb, option
    chosen = best or part
    if chosen is not None:
        ledger.put(chosen[2], chosen[1])


def _added_dollars(ledger: Ledger, option: Option, lb: float) -> float:
    before = ledger.dollars
    ledger.put(option, lb)
    added = ledger.dollars - before
    ledger.put(option, 0.0)
    return added


def _fits(ledger: Ledger, option: Option, lb: float) -> bool:
    ledger.put(option, lb)
    fits = ledger.within_limits()
    ledger.put(option, 0.0)
    return fits


def largest_that_fits(ledger: Ledger, option: Option, most_lb: float) -> float | None:
    """The largest weight up to `most_lb` that keeps all limits, or None when not even the least does."""
    if _fits(ledger, option, most_lb):
        return most_lb
    low, high = option.least_lb, most_lb
    if not _fits(ledger, option, low):
        return None
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _fits(ledger, option, middle) else (low, middle)
    return low if low > 0 else None


def _filling(ledger: Ledger, option: Option, share: float) -> float:
    """The weight that meets `share` of the first need it fills, no nutrient over its limit."""
    cap, got = ledger.layout.caps[option.plot], ledger.nutrient_lb(option.plot)
    amounts, limits = [], []
    for i, part in enumerate(option.nutrient_share):
        if part > 0:
            limits.append((cap.most_lb[i] - got[i]) / part)
            if cap.need_worth[i]:
                amounts.append((share * cap.need_lb[i] - got[i]) / part)
    amounts = [amount for amount in amounts if amount > EDGE]
    return min(option.most_lb, min(amounts, default=0.0), min(limits, default=0.0))


def _gain_of(ledger: Ledger, option: Option, lb: float) -> float:
    before = ledger.plot_gain(option.plot)
    ledger.put(option, lb)
    gained = ledger.plot_gain(option.plot) - before
    ledger.put(option, 0.0)
    return gained


def _fertilize(ledger: Ledger, plot: PlanPlot, share: float = 1.0, *, limited: bool = True) -> None:
    """Fertilizers of a plot one after the other, each time the one that gains most for its added dollars."""
    options = [option for option in ledger.layout.by_plot[plot.key] if option.kind == "fertilizer"]
    for _ in range(ledger.layout.season.fertilizers_per_plot):
        best: tuple[float, float, Option] | None = None
        for option in options:
            wanted = _filling(ledger, option, share)
            if option.index in ledger.lb or wanted < max(option.least_lb, EDGE):
                continue
            lb = largest_that_fits(ledger, option, wanted) if limited else wanted
            if not lb:
                continue
            rate = _gain_of(ledger, option, lb) / (_added_dollars(ledger, option, lb) + 0.01)
            if best is None or rate > best[0]:
                best = rate, lb, option
        if best is None:
            return
        ledger.put(best[2], best[1])


def same_share(layout: Layout, *, base: Mapping[int, float] | None = None) -> Ledger:
    """Every plot the same share. Of the ways to do it (buying the cheapest by the pound, or pieces only; a share
    under the smallest dressing raised to it, or left out) the best."""
    fed = _Fed(layout)
    plans = [
        _largest_share(_cheapest(layout, pieces_only), base or {}, raised, fed)
        for pieces_only in (False, True)
        for raised in (True, False)
    ]
    return max(plans, key=lambda plan: plan.score)


class _Fed:
    """Fertilizer for a share of every need. It does not hang on the lime, so each share is worked out once."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._amounts: dict[float, dict[int, float]] = {}

    def at(self, share: float) -> Mapping[int, float]:
        if share not in self._amounts:
            ledger = Ledger(self.layout)
            for plot in self.layout.season.plots:
                _fertilize(ledger, plot, share, limited=False)
            self._amounts[share] = ledger.lb
        return self._amounts[share]


def _list_price(layout: Layout, option: Option) -> float:
    """Dollars an effective pound by the list, spreading included, packages not rounded."""
    offer = layout.season.offer_by_key[option.offer]
    per_lb = offer.dollars_per_lb + offer.load_dollars / layout.pools[option.pool].holds_lb + option.dollars_per_lb
    return (per_lb + option.dollars_fixed / option.most_lb) / option.effective_share


def _cheapest(layout: Layout, pieces_only: bool) -> dict[str, list[Option]]:
    """For each plot one lime option a dressing, cheapest by the list."""
    chosen: dict[str, list[Option]] = {}
    for plot, options in layout.lime_by_plot.items():
        usable = [o for o in options if not (pieces_only and layout.season.offer_by_key[o.offer].package.by_weight)]
        chosen[plot] = [min(group, key=lambda o: (_list_price(layout, o), o.index)) for group in _by_dressing(usable)]
    return chosen


def _largest_share(
    way: Mapping[str, list[Option]], base: Mapping[int, float], raised: bool, fed: _Fed
) -> Ledger:
    """The largest share at which lime and fertilizer fit; where none does, the largest lime share that fits and
    fertilizer down the list as far as the limits go."""
    layout, lime_only = fed.layout, Ledger.of(fed.layout, base)
    for share in SHARES:
        ledger = Ledger.of(layout, base)
        for plot in layout.season.plots:
            _give_lime(ledger, plot.key, way[plot.key], (share, raised))
        if not ledger.within_limits():
            continue
        if len(lime_only.lb) == len(base):
            lime_only = ledger.copy()
        for index, lb in fed.at(share).items():
            ledger.put(layout.options[index], lb)
        if ledger.within_limits():
            return ledger
    for plot in layout.season.plots:
        _fertilize(lime_only, plot)
    return lime_only


def _give_lime(ledger: Ledger, plot: str, options: Sequence[Option], aim: tuple[float, bool]) -> None:
    """Lime for a share of what is owed; a share under the smallest dressing is raised to it or left out."""
    share, raised = aim
    if _has_lime(ledger, plot):
        return
    owed = ledger.layout.caps[plot].owed_lb
    wanted = share * owed
    for option in options:
        room = (owed - ledger.effective_lb(plot)) / option.effective_share
        lb = min(wanted / option.effective_share, option.most_lb)
        lb = max(lb, option.least_lb) if raised else lb
        if wanted > LEAST_WEIGHED_LB and option.least_lb <= lb <= room * (1 + EDGE):
            ledger.put(option, lb)
            wanted -= lb * option.effective_share
