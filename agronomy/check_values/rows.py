"""Check rows: one published (or marked) number a row, read from CSV.

The form is `id,calculation,inputs,expected,unit,tolerance,basis,source` with `inputs` a JSON object. A row
that cannot be read keeps its reason and fails when it is run; only a file that is no such table is refused.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, NoReturn

from agronomy.sources import STATUSES

COLUMNS = ("id", "calculation", "inputs", "expected", "unit", "tolerance", "basis", "source")
CHECKS = Path(__file__).parent.parent / "checks"


class MalformedFile(ValueError):
    """The file is not a table of check rows."""


@dataclass(frozen=True, slots=True)
class Row:
    """One check row. `expected` is a number or a text; `problem` says why an unreadable row cannot be run."""

    id: str
    calculation: str
    inputs: Mapping[str, Any] = field(default_factory=dict)
    expected: float | str = ""
    unit: str = ""
    tolerance: float = 0.0
    basis: str = ""
    source: str = ""
    problem: str = ""


def parse_rows(text: str) -> tuple[Row, ...]:
    """The rows of a CSV text; raises `MalformedFile` if it has no header of the eight columns or no rows.

    Columns may stand in any order, blank lines and lines that start with `#` are passed over.
    """
    try:
        rows = tuple(_rows(text))
    except csv.Error as error:
        raise MalformedFile(f"not readable as CSV: {error}") from error
    if not rows:
        raise MalformedFile("there is a header but no row")
    return rows


def load_rows(path: Path | str) -> tuple[Row, ...]:
    """The rows of a file; raises `MalformedFile` for one that is missing, unreadable or no table of rows."""
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise MalformedFile(f"not UTF-8 text: byte {error.start} is not valid") from error
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise MalformedFile(f"cannot be read: {reason}") from error
    return parse_rows(text)


def package_rows() -> tuple[Row, ...]:
    """All rows of `agronomy/checks/*.csv`, file by file in the order of their names."""
    return tuple(row for path in sorted(CHECKS.glob("*.csv")) for row in load_rows(path))


def _rows(text: str) -> Iterator[Row]:
    lines = csv.reader(io.StringIO(text, newline=""))
    header: list[str] | None = None
    for cells in lines:
        if not any(cell.strip() for cell in cells) or cells[0].startswith("#"):
            continue
        if header is None:
            header = _header(cells)
        else:
            yield _row(header, cells, line=lines.line_num)
    if header is None:
        raise MalformedFile(f"no header; the first line must be {','.join(COLUMNS)}")


def _header(cells: list[str]) -> list[str]:
    names = [cell.strip().casefold() for cell in cells]
    missing = [column for column in COLUMNS if column not in names]
    if missing:
        raise MalformedFile(f"the header lacks {', '.join(missing)}; it must be {','.join(COLUMNS)}")
    if len(set(names)) != len(names):
        raise MalformedFile("the header names a column twice")
    return names


def _row(header: list[str], cells: list[str], *, line: int) -> Row:
    raw = dict.fromkeys(COLUMNS, "") | dict(zip(header, (cell.strip() for cell in cells), strict=False))
    row = Row(
        id=raw["id"] or f"line {line}",
        calculation=raw["calculation"],
        expected=raw["expected"],
        unit=raw["unit"],
        basis=raw["basis"],
        source=raw["source"],
    )
    try:
        if len(cells) != len(header):
            raise ValueError(f"{len(cells)} cells where the header has {len(header)}")
        if row.basis not in STATUSES:
            raise ValueError(f"basis {row.basis!r} is none of {', '.join(STATUSES)}")
        return replace(
            row,
            inputs=_inputs(raw["inputs"]),
            expected=_expected(raw["expected"]),
            tolerance=_tolerance(raw["tolerance"]),
        )
    except ValueError as error:
        return replace(row, problem=str(error))


def _inputs(text: str) -> Mapping[str, Any]:
    try:
        inputs = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise ValueError(f"inputs are not JSON: {error}") from error
    if not isinstance(inputs, dict):
        raise ValueError("inputs must be a JSON object")
    return inputs


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")


def _expected(text: str) -> float | str:
    if not text:
        raise ValueError("no expected value")
    try:
        number = float(text)
    except ValueError:
        return text
    if not math.isfinite(number):
        raise ValueError(f"expected {text} is no finite number")
    return number


def _tolerance(text: str) -> float:
    try:
        tolerance = float(text or 0)
    except ValueError:
        raise ValueError(f"tolerance {text!r} is no number") from None
    if not (math.isfinite(tolerance) and tolerance >= 0):
        raise ValueError(f"tolerance {text} is not 0 or more")
    return tolerance
