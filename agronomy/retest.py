"""When a plot must be sampled again, and why.

The figures are common practice and each may be set by the manager: lime wants about a year before its effect can
be read, and published cycles without lime run from one to four years.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from agronomy.findings import Value
from agronomy.months import add_months, months_apart


@dataclass(frozen=True, slots=True)
class RetestRules:
    """The manager's figures, all in whole months and at least 0. Defaults are common practice.

    `sampling_month_reach` is how far a date after lime may be moved to meet the plot's usual sampling month. A
    test is too old to prescribe on after `too_old_months`, or the cycle if that is longer. A test younger than
    `fresh_months` still serves when a more demanding crop is planted.
    """

    months_after_lime: int = 12
    sampling_month_reach: int = 3
    yearly_months: int = 12
    cycle_months: int = 36
    too_old_months: int = 48
    soonest_after_lime_months: int = 6
    fresh_months: int = 12

    def __post_init__(self) -> None:
        for name in self.__slots__:
            if getattr(self, name) < 0:
                raise ValueError(f"{name} of {getattr(self, name)} is not 0 or more months")
        if self.sampling_month_reach > 6:
            raise ValueError(f"a sampling month reach of {self.sampling_month_reach} is not 0 to 6 months")


@dataclass(frozen=True, slots=True)
class LimeEvent:
    """Lime spread on a day."""

    spread_on: dt.date


@dataclass(frozen=True, slots=True)
class RetestFacts:
    """What a plot's retest date rests on.

    `last_sample_on` is the newest sample that a pH was measured on. `staged` says that lime is being built up in
    part rates, `ph_critical` that the crop stands or falls with pH. `demand_rose_on` is the day from which a more
    demanding crop than the tested-for one stands, `floor_crossed_on` when the forecast band's lower edge falls
    below the crop's floor. Months are 1 to 12.
    """

    last_sample_on: dt.date | None = None
    lime: tuple[LimeEvent, ...] = ()
    usual_sampling_month: int | None = None
    ph_critical: bool = False
    staged: bool = False
    demand_rose_on: dt.date | None = None
    target_before: float | None = None
    target_now: float | None = None
    floor_crossed_on: dt.date | None = None
    floor_ph: float | None = None


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason for a retest and the date it gives; None is now. The sentence is the template of its code."""

    code: str
    date: dt.date | None
    values: Mapping[str, Value] = field(default_factory=dict)
    source: str = "retest_practice"


@dataclass(frozen=True, slots=True)
class RetestDue:
    """`due_on` None is now, because the plot was never tested. The first reason is the one that sets the date."""

    due_on: dt.date | None
    reasons: tuple[Reason, ...]


def retest_due(facts: RetestFacts, *, rules: RetestRules | None = None) -> RetestDue:
    """The earliest date that the rules give, but never sooner after lime than they allow.

    Rule: a year after lime that no later sample has seen, in the usual sampling month if that is near; else
    yearly for pH-critical crops and staged lime; else once a cycle. A sample sees lime once the shortest wait is
    over. Earlier if the forecast crosses the floor, a more demanding crop comes or the test grows too old. Raises
    `ValueError` for a sampling month that is not 1 to 12.
    """
    rules = rules or RetestRules()
    last_lime_on = max((event.spread_on for event in facts.lime), default=None)
    sample = facts.last_sample_on
    if sample is None:
        return _never_tested(last_lime_on, rules)
    reasons = [_rule(facts, sample, last_lime_on, rules)]
    reasons += _floor(facts, sample)
    reasons += _more_demanding(facts, sample, rules)
    reasons += [_too_old(sample, rules)]
    return _not_too_soon(reasons, sample, last_lime_on, rules)


def _never_tested(last_lime_on: dt.date | None, rules: RetestRules) -> RetestDue:
    if last_lime_on is None:
        return RetestDue(None, (Reason("retest_never_tested", None),))
    waits = _waits_for_lime(last_lime_on, rules)
    return RetestDue(waits.date, (waits, Reason("retest_never_tested", None)))


def _rule(facts: RetestFacts, sample: dt.date, last_lime_on: dt.date | None, rules: RetestRules) -> Reason:
    if last_lime_on is not None and sample < add_months(last_lime_on, rules.soonest_after_lime_months):
        return _after_lime(last_lime_on, facts.usual_sampling_month, rules)
    return _yearly(facts, sample, rules) or Reason(
        "retest_cycle", add_months(sample, rules.cycle_months), {"months": rules.cycle_months, **_iso(sample)}
    )


def _after_lime(limed_on: dt.date, usual_month: int | None, rules: RetestRules) -> Reason:
    due = add_months(limed_on, rules.months_after_lime)
    moved = 0
    if usual_month is not None:
        apart = months_apart(due.month, usual_month)
        if abs(apart) <= rules.sampling_month_reach:
            moved = apart
    values: dict[str, Value] = {
        "limed_on": limed_on.isoformat(),
        "months": rules.months_after_lime + moved,
        "moved_months": moved,
    }
    return Reason("retest_after_lime", add_months(limed_on, rules.months_after_lime + moved), values)


def _yearly(facts: RetestFacts, sample: dt.date, rules: RetestRules) -> Reason | None:
    if not (facts.ph_critical or facts.staged):
        return None
    values: dict[str, Value] = {"months": rules.yearly_months, **_iso(sample)}
    due = add_months(sample, rules.yearly_months)
    return Reason("retest_staged" if facts.staged else "retest_ph_critical", due, values)


def _floor(facts: RetestFacts, sample: dt.date) -> list[Reason]:
    if facts.floor_crossed_on is None or facts.floor_crossed_on <= sample:
        return []
    return [Reason("retest_forecast_floor", facts.floor_crossed_on, {"floor_ph": facts.floor_ph})]


def _more_demanding(facts: RetestFacts, sample: dt.date, rules: RetestRules) -> list[Reason]:
    rose_on = facts.demand_rose_on
    if rose_on is None or rose_on <= sample:
        return []
    values: dict[str, Value] = {"target_before": facts.target_before, "target_now": facts.target_now}
    due = max(rose_on, add_months(sample, rules.fresh_months))
    return [Reason("retest_more_demanding", due, values | _iso(sample))]


def _too_old(sample: dt.date, rules: RetestRules) -> Reason:
    months = max(rules.too_old_months, rules.cycle_months)
    return Reason("retest_too_old", add_months(sample, months), {"months": months, **_iso(sample)})


def _not_too_soon(
    reasons: list[Reason], sample: dt.date, last_lime_on: dt.date | None, rules: RetestRules
) -> RetestDue:
    ordered = sorted(reasons, key=lambda reason: reason.date or dt.date.min)
    due_on = ordered[0].date
    if last_lime_on is not None and due_on is not None:
        waits = _waits_for_lime(last_lime_on, rules)
        if waits.date is not None and due_on < waits.date:
            return RetestDue(waits.date, (waits, *ordered))
    return RetestDue(due_on, tuple(ordered))


def _waits_for_lime(limed_on: dt.date, rules: RetestRules) -> Reason:
    values: dict[str, Value] = {"limed_on": limed_on.isoformat(), "months": rules.soonest_after_lime_months}
    return Reason("retest_waits_for_lime", add_months(limed_on, rules.soonest_after_lime_months), values)


def _iso(sample: dt.date) -> dict[str, Value]:
    return {"sampled_on": sample.isoformat()}
