"""Run check rows and say of each whether the program still gives the number."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from agronomy.check_values.rows import Row

Calculation = Callable[[Mapping[str, Any]], float | str]
RESULT_UNIT = "result_unit"  # the row's own unit, handed to a calculation that can answer in several
ROUNDING = 1e-9  # relative; what float arithmetic may lose of an exact expectation


@dataclass(frozen=True, slots=True)
class Outcome:
    """One row with what the program computed. `reason` says why a failed row failed."""

    id: str
    calculation: str
    expected: float | str
    computed: float | str | None
    unit: str
    tolerance: float
    basis: str
    source: str
    passed: bool
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Count:
    """How many rows of one basis passed and failed."""

    basis: str
    passed: int
    failed: int


def run_rows(rows: Iterable[Row], *, calculations: Mapping[str, Calculation]) -> tuple[Outcome, ...]:
    """Run every row. No row raises: one that cannot be run is a failure with its reason."""
    return tuple(_outcome(row, calculations) for row in rows)


def count_by_basis(outcomes: Iterable[Outcome]) -> tuple[Count, ...]:
    """Passed and failed of each basis, in the order in which the bases first appear."""
    tally: dict[str, list[int]] = {}
    for outcome in outcomes:
        tally.setdefault(outcome.basis or "no basis given", [0, 0])[0 if outcome.passed else 1] += 1
    return tuple(Count(basis, passed, failed) for basis, (passed, failed) in tally.items())


def report_lines(outcomes: Iterable[Outcome]) -> tuple[str, ...]:
    """The report as text: a line a row, a line a basis, and last `N passed, N failed`."""
    outcomes = tuple(outcomes)
    lines = [_line(outcome) for outcome in outcomes]
    lines += [f"{count.basis}: {count.passed} passed, {count.failed} failed" for count in count_by_basis(outcomes)]
    passed = sum(outcome.passed for outcome in outcomes)
    return (*lines, f"{passed} passed, {len(outcomes) - passed} failed")


def report_object(outcomes: Iterable[Outcome]) -> dict[str, Any]:
    """The report as plain objects that are fit for JSON."""
    outcomes = tuple(outcomes)
    passed = sum(outcome.passed for outcome in outcomes)
    return {
        "rows": [asdict(outcome) for outcome in outcomes],
        "by_basis": [asdict(count) for count in count_by_basis(outcomes)],
        "passed": passed,
        "failed": len(outcomes) - passed,
    }


def _outcome(row: Row, calculations: Mapping[str, Calculation]) -> Outcome:
    computed, reason = _compute(row, calculations)
    if not reason:
        reason = _difference(row, computed)
    return Outcome(
        row.id, row.calculation, row.expected, computed, row.unit, row.tolerance, row.basis, row.source,
        passed=not reason, reason=reason,
    )  # fmt: skip


def _compute(row: Row, calculations: Mapping[str, Calculation]) -> tuple[float | str | None, str]:
    if row.problem:
        return None, row.problem
    calculation = calculations.get(row.calculation)
    if calculation is None:
        return None, f"no calculation is called {row.calculation!r}"
    try:
        result = calculation({**row.inputs, RESULT_UNIT: row.unit})
    except KeyError as error:
        return None, f"the inputs lack {error.args[0]!r}" if error.args else "an input is missing"
    except Exception as error:  # whatever a row's inputs set off, it is that row's failure and no other's
        return None, str(error) or type(error).__name__
    if isinstance(result, str):
        return result, ""
    if isinstance(result, bool) or not isinstance(result, (int, float)):
        return None, f"the calculation gave {result!r}, neither a number nor a text"
    if not math.isfinite(result):
        return None, f"the calculation gave {result}"
    return float(result), ""


def _difference(row: Row, computed: float | str | None) -> str:
    if isinstance(computed, str):
        same = computed.strip().casefold() == _text(row.expected).casefold()
        return "" if same else "another text than expected"
    if computed is None or isinstance(row.expected, str):
        return "a number where a text is expected"
    allowed = row.tolerance + ROUNDING * max(1.0, abs(row.expected))
    off = abs(computed - row.expected)
    return "" if off <= allowed else f"off by {off:.6g}, allowed {row.tolerance:.6g}"


def _line(outcome: Outcome) -> str:
    verdict = "passed" if outcome.passed else f"FAILED: {outcome.reason}"
    tolerance = f" +/- {outcome.tolerance:.6g}" if outcome.tolerance else ""
    unit = f" {outcome.unit}" if outcome.unit else ""
    line = (
        f"{outcome.id}  {outcome.calculation}  expected {_text(outcome.expected)}{tolerance}{unit}"
        f"  computed {_text(outcome.computed)}  {verdict}"
    )
    return " ".join(line.splitlines())  # a row stays one line whatever stands in its cells


def _text(value: float | str | None) -> str:
    if value is None:
        return "nothing"
    return value.strip() if isinstance(value, str) else f"{value:.10g}"
