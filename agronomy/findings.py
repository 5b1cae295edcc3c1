"""What a person must know about a number, carried with the number.

A `Finding` is typed and says nothing itself: the sentence is a template named after its code, so a page, a
print-out and a mail word it alike. A `Hazard` is a class apart and is never hidden. A `Working` is the
arithmetic of one figure, line by line, as the page, the print-out and the tests show it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["stop", "check", "note"]
Signal = Literal["danger", "warning", "caution"]
Value = float | int | str | bool | None

_ORDER: Mapping[str, int] = {"stop": 0, "check": 1, "note": 2, "danger": 0, "warning": 1, "caution": 2}


@dataclass(frozen=True, slots=True)
class Finding:
    """One fact about a number. `code` is stable; `values` carry units in their names; `source` is a key of
    `agronomy.sources`."""

    severity: Severity
    code: str
    values: Mapping[str, Value] = field(default_factory=dict)
    source: str = ""


@dataclass(frozen=True, slots=True)
class Hazard:
    """One danger of a material, machine or place. Never hidden, never cleared by the program."""

    signal: Signal
    code: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a working.

    `text` is what is worked out, `formula` the arithmetic with its numbers in it, `value` and `unit` the result
    (`value` may be None for a line that only looks something up), `source` a key of `agronomy.sources`.
    """

    text: str
    formula: str = ""
    value: float | None = None
    unit: str = ""
    source: str = ""


Working = tuple[Step, ...]


def stop(code: str, *, source: str = "", **values: Value) -> Finding:
    """A finding that leaves no number to act on."""
    return Finding("stop", code, values, source)


def check(code: str, *, source: str = "", **values: Value) -> Finding:
    """A finding that a person must look at before acting."""
    return Finding("check", code, values, source)


def note(code: str, *, source: str = "", **values: Value) -> Finding:
    """A finding worth knowing."""
    return Finding("note", code, values, source)


def most_severe_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Order by severity, keeping the given order inside each; equal findings appear once."""
    unique: dict[tuple[str, str, tuple[tuple[str, Value], ...]], Finding] = {}
    for finding in findings:
        unique.setdefault((finding.severity, finding.code, tuple(finding.values.items())), finding)
    return tuple(sorted(unique.values(), key=lambda finding: _ORDER[finding.severity]))


def hazards_in_order(hazards: Iterable[Hazard]) -> tuple[Hazard, ...]:
    """Danger before warning before caution, each hazard once."""
    unique = {hazard.code: hazard for hazard in hazards}
    return tuple(sorted(unique.values(), key=lambda hazard: _ORDER[hazard.signal]))
