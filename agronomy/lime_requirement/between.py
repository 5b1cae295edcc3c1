"""A target pH that a table does not print: read in a straight line between two that it does, never beyond them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from agronomy.findings import Finding, Step, check, stop
from agronomy.lime_requirement.kinds import Rate


def refused(finding: Finding) -> Rate:
    """No rate, and why."""
    return Rate(None, findings=(finding,))


def at_target(
    target: float, *, printed: Sequence[float], source: str, unit: str, rate_at: Callable[[float], Rate]
) -> Rate:
    """The rate for a target: a printed one as it stands, one between two by a straight line, else refused.

    `printed` are rising; `rate_at` answers for each of them.
    """
    if target in printed:
        return rate_at(target)
    below = [one for one in printed if one < target]
    above = [one for one in printed if one > target]
    if not below or not above:
        known = ", ".join(f"{one:g}" for one in printed)
        return refused(stop("target_not_in_table", source=source, target_ph=target, printed=known))
    low, high = below[-1], above[0]
    first, second = rate_at(low), rate_at(high)
    if first.amount is None or second.amount is None:
        return first if first.amount is None else second
    return _between(first, second, target=target, low=low, high=high, source=source, unit=unit)


def _between(first: Rate, second: Rate, *, target: float, low: float, high: float, source: str, unit: str) -> Rate:
    assert first.amount is not None and second.amount is not None
    share = (target - low) / (high - low)
    amount = first.amount + share * (second.amount - first.amount)
    formula = f"{first.amount:g} + {share:.3g} x ({second.amount:g} - {first.amount:g})"
    step = Step(f"between the targets {low:g} and {high:g}", formula, amount, unit, source)
    lows, highs = first.low or 0.0, first.high or 0.0
    return Rate(
        amount,
        lows + share * ((second.low or 0.0) - lows),
        highs + share * ((second.high or 0.0) - highs),
        first.range_basis,
        (check("target_between_columns", source=source, target_ph=target), *first.findings, *second.findings),
        (*first.working, *second.working, step),
        weakly_buffered=amount <= 0 and first.weakly_buffered,
    )
