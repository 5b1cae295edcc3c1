"""Why each plot gets what it gets, and what it would take to do what stays undone."""

from __future__ import annotations

from dataclasses import dataclass

from agronomy.findings import Finding, Value, note
from agronomy.season_plan.layout import EDGE, Layout, Option
from agronomy.season_plan.ledger import HALF_A_CENT, LIMIT_EDGE, Ledger
from agronomy.season_plan.results import Undone
from agronomy.season_plan.wishes import SOURCE, barrier, reachable_effective_lb

ALL = 1 - 1e-4
SMALLEST_REST_LB_PER_ACRE = 1.0


@dataclass(frozen=True, slots=True)
class Completion:
    """Bringing a plot as far as its limits allow, on top of the plan: what it adds."""

    effective_lb: float
    dollars: float
    hours: float


def completion(ledger: Ledger, plot: str) -> Completion:
    """The cheapest way, dressing by dressing, to bring a plot as far as possible. The ledger is left as it was."""
    layout, cap = ledger.layout, ledger.layout.caps[plot].owed_lb
    before = [(option, lb) for option, lb in ledger.on_plot(plot) if option.kind == "lime"]
    dollars, hours = ledger.dollars, ledger.hours
    for option, _ in before:
        ledger.put(option, 0.0)
    put: list[Option] = []
    for number in range(len(layout.season.dressings)):
        room = cap - ledger.effective_lb(plot)
        choice = _fullest(ledger, [o for o in layout.lime_by_plot[plot] if o.dressing == number], room)
        if choice is not None:
            ledger.put(*choice)
            put.append(choice[0])
    done = Completion(ledger.effective_lb(plot), ledger.dollars - dollars, ledger.hours - hours)
    for option in put:
        ledger.put(option, 0.0)
    for option, lb in before:
        ledger.put(option, lb)
    return done


def _fullest(ledger: Ledger, options: list[Option], room: float) -> tuple[Option, float] | None:
    """Of the options that bring most in one dressing the one that adds fewest dollars."""
    best: tuple[float, float, Option, float] | None = None
    for option in options:
        lb = min(option.most_lb, room / option.effective_share)
        if lb < option.least_lb * (1 - EDGE) or lb <= 0:
            continue
        before = ledger.dollars
        ledger.put(option, lb)
        key = (-round(lb * option.effective_share, 3), ledger.dollars - before)
        ledger.put(option, 0.0)
        if best is None or key < (best[0], best[1]):
            best = (*key, option, lb)
    return None if best is None else (best[2], best[3])


def undone_on(ledger: Ledger, plot_key: str) -> Undone | None:
    """What stays owed on a plot and what it would take; None where nothing does."""
    layout, plot = ledger.layout, ledger.layout.season.plot_by_key[plot_key]
    got = ledger.effective_lb(plot_key)
    rest = (layout.caps[plot_key].owed_lb - got) / plot.acres
    if rest < SMALLEST_REST_LB_PER_ACRE:
        return None
    if not layout.lime_by_plot[plot_key]:
        return Undone(plot_key, rest, barrier(layout, plot_key), None, None)
    if got >= reachable_effective_lb(layout, plot_key) * (1 - EDGE):
        return Undone(plot_key, rest, "dressing_limit", None, None)
    more = completion(ledger, plot_key)
    return Undone(plot_key, rest, _cause(ledger, more), more.dollars, more.hours)


def money_left(ledger: Ledger) -> float | None:
    """Dollars of the budget that the plan leaves; None without a budget."""
    money = ledger.layout.money_dollars
    return None if money is None else max(0.0, money - ledger.dollars)


def hours_left(ledger: Ledger) -> float | None:
    """Hours that the plan leaves; None without a limit."""
    limits = [dressing.hours for dressing in ledger.layout.season.dressings]
    used = ledger.dressing_hours
    rounds = [limit - hours for limit, hours in zip(limits, used, strict=True) if limit is not None]
    whole = ledger.layout.season.hours
    left = ([] if whole is None else [whole - ledger.hours]) + ([sum(rounds)] if len(rounds) == len(used) else [])
    return max(0.0, min(left)) if left else None


def _cause(ledger: Ledger, more: Completion) -> str:
    money, hours = money_left(ledger), hours_left(ledger)
    short_money = money is not None and more.dollars > money + HALF_A_CENT
    short_hours = hours is not None and more.hours > hours + LIMIT_EDGE
    if short_money and short_hours:
        return "budget_and_hours"
    if short_money or short_hours:
        return "budget" if short_money else "hours"
    return "within_gap"


def reason_for(ledger: Ledger, plot_key: str, undone: Undone | None) -> Finding:
    """The one sentence of a plot: the most telling of what made its choice."""
    layout = ledger.layout
    plot = layout.season.plot_by_key[plot_key]
    limed = [(option, lb) for option, lb in ledger.on_plot(plot_key) if option.kind == "lime"]
    if plot_key in layout.season.wishes.skip:
        return note("plan_why_skipped", source=SOURCE, plot=plot.label)
    if plot.owed_effective_lb_per_acre <= 0:
        fed = bool(ledger.on_plot(plot_key))
        return note("plan_why_fertilizer_only" if fed else "plan_why_nothing_owed", source=SOURCE, plot=plot.label)
    if not limed:
        return _why_not(ledger, plot_key, undone)
    share = ledger.effective_lb(plot_key) / layout.caps[plot_key].owed_lb
    values: dict[str, Value] = {
        "plot": plot.label, "share_percent": 100 * share,
        "material": " and ".join(dict.fromkeys(layout.season.offer_by_key[o.offer].label for o, _ in limed)),
    }
    if any(must.plot == plot_key for must in layout.season.wishes.must):
        return note("plan_why_wish", source=SOURCE, **values)
    if undone is not None and share < ALL:
        return _why_part(plot_key, undone, values, layout)
    return _why_full(ledger, plot_key, limed, values)


def _why_not(ledger: Ledger, plot_key: str, undone: Undone | None) -> Finding:
    layout = ledger.layout
    plot = layout.season.plot_by_key[plot_key]
    if undone is None or not layout.lime_by_plot[plot_key]:
        code = undone.cause if undone else "below_smallest_dressing"
        return note("plan_why_out_of_reach", source=SOURCE, plot=plot.label, barrier=code)
    more = {"dollars_more": undone.dollars_more, "hours_more": undone.hours_more}
    left = {"dollars_left": money_left(ledger), "hours_left": hours_left(ledger)}
    code = {"hours": "plan_why_hours", "within_gap": "plan_why_within_gap"}.get(undone.cause, "plan_why_money")
    return note(code, source=SOURCE, plot=plot.label, **more, **left)


def _why_part(plot_key: str, undone: Undone, values: dict[str, Value], layout: Layout) -> Finding:
    rest: dict[str, Value] = {**values, "rest_effective_lb_per_acre": undone.effective_lb_per_acre}
    if undone.cause == "dressing_limit":
        return note("plan_why_dressing_limit", source="plan_dressing_limits", **rest)
    share = float(values["share_percent"] or 0)
    if 45 <= share <= 55:
        return note("plan_why_first_half", source=SOURCE, **rest)
    return note("plan_why_part", source=SOURCE, **rest, cause=undone.cause)


def _why_full(
    ledger: Ledger, plot_key: str, limed: list[tuple[Option, float]], values: dict[str, Value]
) -> Finding:
    layout = ledger.layout
    shared = sharing(ledger, limed[0][0])
    if shared:
        return note("plan_why_shared_load", source=SOURCE, **values, others=len(shared))
    if all(ledger.bought(option.pool).packages == 0 for option, _ in limed):
        return note("plan_why_stock", source=SOURCE, **values)
    if len({option.offer for option in layout.lime_by_plot[plot_key]}) == 1:
        return note("plan_why_only_material", source=SOURCE, **values)
    return note("plan_why_full", source=SOURCE, **values)


def sharing(ledger: Ledger, option: Option) -> tuple[str, ...]:
    """The other plots on the same truckloads as an option; empty for what is not bought by the truck."""
    layout, pool = ledger.layout, option.pool
    if layout.season.offer_by_key[option.offer].package.kind != "truckload":
        return ()
    plots = {layout.options[i].plot for i in ledger.lb if layout.options[i].pool == pool}
    return tuple(plot.key for plot in layout.season.plots if plot.key in plots - {option.plot})
