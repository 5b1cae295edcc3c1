"""Every published worked example that the program is held to, and the calculations that answer it.

Each subject registers its calculations in its own module as `CALCULATIONS`; here they are joined, and a name
may be given once only.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib import import_module
from types import MappingProxyType

from agronomy.check_values.rows import (
    COLUMNS,
    MalformedFile,
    Row,
    load_rows,
    package_rows,
    parse_rows,
)
from agronomy.check_values.running import (
    RESULT_UNIT,
    Calculation,
    Count,
    Outcome,
    count_by_basis,
    report_lines,
    report_object,
    run_rows,
)

__all__ = [
    "CALCULATIONS", "COLUMNS", "RESULT_UNIT", "Calculation", "Count", "MalformedFile", "Outcome", "Row",
    "count_by_basis", "load_rows", "package_rows", "parse_rows", "report_lines", "report_object", "run",
]  # fmt: skip

_SUBJECTS = ("field", "lime", "fertilizer", "forecast")


def _joined() -> Mapping[str, Calculation]:
    joined: dict[str, Calculation] = {}
    for subject in _SUBJECTS:
        name = f"{__name__}.{subject}"
        try:
            entries: Mapping[str, Calculation] = import_module(name).CALCULATIONS
        except ModuleNotFoundError as error:
            if error.name != name:
                raise
            continue
        twice = joined.keys() & entries.keys()
        if twice:
            raise ValueError(f"calculations registered twice: {', '.join(sorted(twice))}")
        joined.update(entries)
    return MappingProxyType(joined)


CALCULATIONS: Mapping[str, Calculation] = _joined()


def run(rows: Iterable[Row]) -> tuple[Outcome, ...]:
    """Run check rows against the program's calculations; no row raises."""
    return run_rows(rows, calculations=CALCULATIONS)
