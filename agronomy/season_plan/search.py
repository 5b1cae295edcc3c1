"""The search for the best plan: wishes first, the hand plans as a start, the solver, then the cheapest of equals."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from agronomy.season_plan.hand import same_share, worst_plot_first
from agronomy.season_plan.layout import EDGE, Layout
from agronomy.season_plan.ledger import HALF_A_CENT, Ledger
from agronomy.season_plan.model import Program, Required, as_solution, write_program
from agronomy.season_plan.solver import Found, Progress, solve
from agronomy.season_plan.wishes import Settled, meets, settle_wishes

Tell = Callable[[Progress], None]
Ask = Callable[[], bool]
SHARE_OF_TIME_TO_CHEAPEN = 0.15


@dataclass(frozen=True)
class Searched:
    """A plan as found: its account, the proven bound on the score (None when nothing was proven) and the hand
    plans beside it."""

    layout: Layout
    ledger: Ledger
    bound: float | None
    status: str
    seconds: float
    hands: Mapping[str, Ledger]
    settled: Settled


def search(
    layout: Layout,
    *,
    gap: float,
    seconds: float,
    progress: Tell | None = None,
    stop: Ask | None = None,
    also_start: Mapping[int, float] | None = None,
    cheapen: bool = True,
) -> Searched:
    """The best plan within `seconds` to a relative `gap`. `also_start` is one more plan to start from."""
    settled = settle_wishes(layout, stop=stop)
    hands = {
        "worst_plot_first": worst_plot_first(layout, base=settled.base),
        "same_share": same_share(layout, base=settled.base),
    }
    candidates = [*hands.values(), Ledger.of(layout, settled.base)]
    if also_start is not None:
        candidates.append(Ledger.of(layout, also_start))
    start = _best(candidates, settled.required) or Ledger(layout)
    if layout.full_worth <= 0 or not layout.options:
        return Searched(layout, start, start.score, "optimal", 0.0, hands, settled)
    program = write_program(layout, goal="gain", required=settled.required)
    found = solve(
        program, gap=gap, seconds=seconds * (1 - SHARE_OF_TIME_TO_CHEAPEN), start=as_solution(program, start),
        progress=progress, stop=stop,
    )
    plan = _best([*plans_of(program, found), start], settled.required) or start
    if cheapen and found.status != "stopped":
        limit = min(max(found.seconds, 0.5), seconds * SHARE_OF_TIME_TO_CHEAPEN)
        plan = _cheaper(layout, plan, settled.required, limit, stop)
    bound = None if found.bound == -float("inf") else max(-found.bound, plan.score)
    status = found.status if found.values is not None else "by_hand"
    return Searched(layout, earlier(plan), bound, status, found.seconds, hands, settled)


def _best(plans: Sequence[Ledger], required: Sequence[Required]) -> Ledger | None:
    """The highest score, and of equal ones the cheapest, among plans that break nothing."""
    sound = [plan for plan in plans if not plan.faults() and meets(plan, required)]
    return max(sound, key=lambda plan: (plan.score, -plan.dollars), default=None)


def plans_of(program: Program, found: Found) -> list[Ledger]:
    """The solver's plan in our account; where rounding leaves it a hair over a limit, all rates a hair less."""
    if found.values is None:
        return []
    layout, amounts = program.layout, program.amounts(found.values)
    for less in (0.0, 1e-9, 1e-8, 1e-7, 1e-6, 1e-5):
        shrunk = {i: max(lb * (1 - less), layout.options[i].least_lb) for i, lb in amounts.items()}
        ledger = Ledger.of(layout, shrunk)
        if not ledger.faults():
            return [ledger]
    return []


def _cheaper(
    layout: Layout, plan: Ledger, required: Sequence[Required], seconds: float, stop: Ask | None
) -> Ledger:
    """A plan of the same score that costs less, if one is found in time."""
    score = plan.score
    program = write_program(layout, goal="cost", required=tuple(required), score_at_least=score)
    found = solve(program, gap=0.001, seconds=seconds, start=as_solution(program, plan), stop=stop)
    better = [
        other for other in plans_of(program, found)
        if meets(other, required)
        and other.score >= score - EDGE * max(1.0, abs(score))
        and other.dollars < plan.dollars - HALF_A_CENT
    ]
    return better[0] if better else plan


def earlier(plan: Ledger) -> Ledger:
    """The same plan with lime moved to an earlier dressing wherever that costs nothing and breaks no limit."""
    layout, moved = plan.layout, plan.copy()
    for index in sorted(plan.lb):
        option, lb = layout.options[index], plan.lb[index]
        taken = {other.dressing for other, _ in moved.on_plot(option.plot) if other.kind == "lime"}
        for other in layout.lime_by_plot[option.plot]:
            same = (other.offer, other.site) == (option.offer, option.site)
            if not same or other.dressing >= option.dressing or other.dressing in taken:
                continue
            if not other.least_lb <= lb <= other.most_lb:
                continue
            trial = moved.copy()
            trial.put(option, 0.0)
            trial.put(other, lb)
            if trial.dollars <= moved.dollars + HALF_A_CENT and not trial.faults():
                moved = trial
                break
    return moved
