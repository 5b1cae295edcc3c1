"""The status of a plot: one word decided from absolute facts and today, in a fixed order.

The season review decides the same in SQL over stored facts; a test holds the two together.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from agronomy.months import add_months

Status = Literal["ordered", "no_test", "retest_due", "short_of_lime", "settling", "over_target", "in_range"]
STATUSES: tuple[Status, ...] = (
    "ordered", "no_test", "retest_due", "short_of_lime", "settling", "over_target", "in_range",
)  # fmt: skip
"""In the order in which they are decided and sorted."""


@dataclass(frozen=True, slots=True)
class StatusRules:
    """The manager's figures, common practice unless set: pH units, lb effective CaCO3 an acre, share, months."""

    trigger_gap: float = 0.3
    smallest_dressing_lb: float = 500.0
    order_cover_share: float = 0.8
    settling_months: int = 12
    upper_ph: float = 7.3

    def __post_init__(self) -> None:
        for name, low, high in (
            ("trigger_gap", 0, 1), ("smallest_dressing_lb", 0, 4000), ("order_cover_share", 0, 1),
            ("settling_months", 0, 36), ("upper_ph", 6, 9),
        ):  # fmt: skip
            if not low <= getattr(self, name) <= high:
                raise ValueError(f"{name} of {getattr(self, name)} is not {low} to {high}")


@dataclass(frozen=True, slots=True)
class StandingFacts:
    """What a plot's status rests on: facts and dates, nothing that depends on today.

    `owed_effective_lb` (lime still owed) and `ordered_effective_lb` (open orders) are effective CaCO3 lb an acre;
    owed None means that it could not be worked out. `upper_ph` None takes the rule's.
    """

    tested_on: dt.date | None = None
    test_ph: float | None = None
    trigger_ph: float | None = None
    upper_ph: float | None = None
    owed_effective_lb: float | None = None
    ordered_effective_lb: float = 0.0
    retest_due_on: dt.date | None = None
    settling_until: dt.date | None = None


def trigger_ph(*, target_ph: float, floor_ph: float | None = None, rules: StatusRules | None = None) -> float:
    """The pH under which lime is called for: the target less the gap, never below the crop's floor.

    Rounded to the hundredth that labs report, so that 6.4 - 0.3 is 6.1 and a reading of 6.1 is not under it.
    """
    trigger = round(target_ph - (rules or StatusRules()).trigger_gap, 2)
    return trigger if floor_ph is None else max(trigger, floor_ph)


def settling_until(last_lime_on: dt.date | None, *, rules: StatusRules | None = None) -> dt.date | None:
    """The last day on which a plot counts as settling after lime; None without lime."""
    return None if last_lime_on is None else add_months(last_lime_on, (rules or StatusRules()).settling_months)


def plot_status(facts: StandingFacts, *, today: dt.date, rules: StatusRules | None = None) -> Status:
    """The status of a plot today, decided in the order of `STATUSES`.

    A plot without a pH has no test. Where lime is called for but the amount is not known, the plot is short of
    lime: an unknown need is never shown as none.
    """
    rules = rules or StatusRules()
    if _is_ordered(facts, rules):
        return "ordered"
    if facts.tested_on is None or facts.test_ph is None:
        return "no_test"
    if facts.retest_due_on is not None and facts.retest_due_on <= today:
        return "retest_due"
    if _is_short(facts, rules):
        return "short_of_lime"
    if _is_settling(facts, today, rules):
        return "settling"
    upper = rules.upper_ph if facts.upper_ph is None else facts.upper_ph
    return "over_target" if facts.test_ph > upper else "in_range"


def _calls_for_lime(facts: StandingFacts) -> bool:
    return facts.test_ph is not None and facts.trigger_ph is not None and facts.test_ph < facts.trigger_ph


def _is_ordered(facts: StandingFacts, rules: StatusRules) -> bool:
    owed = facts.owed_effective_lb
    if owed is None or not _calls_for_lime(facts) or owed < rules.smallest_dressing_lb:
        return False
    return facts.ordered_effective_lb > 0 and facts.ordered_effective_lb >= rules.order_cover_share * owed


def _is_short(facts: StandingFacts, rules: StatusRules) -> bool:
    if not _calls_for_lime(facts):
        return False
    owed = facts.owed_effective_lb
    return owed is None or owed - facts.ordered_effective_lb >= rules.smallest_dressing_lb


def _is_settling(facts: StandingFacts, today: dt.date, rules: StatusRules) -> bool:
    if facts.settling_until is None or today > facts.settling_until:
        return False
    return (facts.owed_effective_lb or 0.0) < rules.smallest_dressing_lb
