"""A small mixed-integer model and its solution by HiGHS, which is told to print nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import highspy
import numpy as np

SMALL_COLUMNS = 200
"""Models under this are solved sooner than the search for clever starts takes."""
_STATUS_SOLVED = highspy.HighsModelStatus.kOptimal
_STATUS_STOPPED = (
    highspy.HighsModelStatus.kTimeLimit,
    highspy.HighsModelStatus.kSolutionLimit,
    highspy.HighsModelStatus.kObjectiveTarget,
)


@dataclass(slots=True)
class Model:
    """Columns with cost and bounds, rows as sparse sums with bounds. Columns and rows are numbered as they come."""

    costs: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_lower: list[float] = field(default_factory=list)
    row_upper: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    indices: list[int] = field(default_factory=list)
    values: list[float] = field(default_factory=list)

    def column(self, *, cost: float = 0.0, lower: float = 0.0, upper: float = math.inf, whole: bool = False) -> int:
        """Add a column and give its number."""
        self.costs.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.costs) - 1

    def row(self, terms: Sequence[tuple[int, float]], *, least: float = -math.inf, most: float = math.inf) -> None:
        """Add least <= sum of column x factor <= most."""
        for column, factor in terms:
            if factor:
                self.indices.append(column)
                self.values.append(factor)
        self.starts.append(len(self.indices))
        self.row_lower.append(least)
        self.row_upper.append(most)


@dataclass(frozen=True, slots=True)
class Answer:
    """The values of the columns, what they cost, and the bound that no answer can be below."""

    values: tuple[float, ...]
    cost: float
    bound: float


class _Quiet(highspy.Highs):
    """HiGHS writes its banner when it sets up its callbacks; none are needed here, and it is silent before."""

    def enableCallbacks(self) -> None:  # noqa: N802 (the library's name)
        self.silent()


def solve(
    model: Model, *, gap: float, seconds: float, start: Sequence[tuple[int, float]] = (), enough: float = -math.inf
) -> Answer | None:  # fmt: skip
    """The least-cost answer within a relative `gap` (0 to 1); None where no answer exists or none was found in time.

    `start` gives values of some columns to begin the search with; an answer that costs no more than `enough` ends it.
    """
    if not model.costs:  # nothing to decide: the solver would call that no model at all
        fits = all(least <= 0 <= most for least, most in zip(model.row_lower, model.row_upper, strict=True))
        return Answer((), 0.0, 0.0) if fits else None
    highs = _loaded(model, whole=True)
    highs.setOptionValue("mip_rel_gap", gap)
    highs.setOptionValue("mip_abs_gap", 1e-6)
    highs.setOptionValue("time_limit", seconds)
    if enough > -math.inf:
        highs.setOptionValue("objective_target", enough)
    if start:
        columns, values = zip(*start, strict=True)
        highs.setSolution(len(columns), np.array(columns, dtype=np.int32), np.array(values, dtype=np.float64))
    highs.run()
    info = highs.getInfo()
    status = highs.getModelStatus()
    found = status == _STATUS_SOLVED or (status in _STATUS_STOPPED and math.isfinite(info.objective_function_value))
    if not found or info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None
    raw = highs.getSolution().col_value
    values = tuple(float(round(v)) if whole else v for v, whole in zip(raw, model.whole, strict=True))
    bound = info.mip_dual_bound if any(model.whole) else info.objective_function_value
    return Answer(values, info.objective_function_value, bound)


def relaxed(model: Model) -> tuple[float, tuple[float, ...]] | None:
    """The least cost with every column free to be a fraction, and the dual value of each row; None without an
    answer."""
    highs = _loaded(model, whole=False)
    highs.run()
    if highs.getModelStatus() != _STATUS_SOLVED:
        return None
    return highs.getInfo().objective_function_value, tuple(highs.getSolution().row_dual)


def _loaded(model: Model, *, whole: bool) -> _Quiet:
    highs = _Quiet()  # type: ignore[no-untyped-call]
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("mip_feasibility_tolerance", 1e-7)
    highs.setOptionValue("primal_feasibility_tolerance", 1e-8)
    if len(model.costs) < SMALL_COLUMNS:
        for name in ("mip_heuristic_run_feasibility_jump", "mip_allow_restart", "mip_detect_symmetry"):
            highs.setOptionValue(name, False)
    highs.passModel(_as_lp(model, whole=whole))
    return highs


def _as_lp(model: Model, *, whole: bool) -> highspy.HighsLp:
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(model.costs), len(model.row_lower)
    lp.col_cost_ = np.array(model.costs)
    lp.col_lower_, lp.col_upper_ = _limits(model.lower), _limits(model.upper)
    lp.row_lower_, lp.row_upper_ = _limits(model.row_lower), _limits(model.row_upper)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.array(model.starts, dtype=np.int32)
    lp.a_matrix_.index_ = np.array(model.indices, dtype=np.int32)
    lp.a_matrix_.value_ = np.array(model.values)
    kinds = highspy.HighsVarType
    if whole:
        lp.integrality_ = [kinds.kInteger if one else kinds.kContinuous for one in model.whole]
    return lp


def _limits(values: Sequence[float]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    limits = np.array(values, dtype=np.float64)
    limits[limits == math.inf] = highspy.kHighsInf
    limits[limits == -math.inf] = -highspy.kHighsInf
    return limits
