"""HiGHS on a program: a start, progress, a stop, and the gap to the proven optimum.

Solving runs inside the call; `stop` is asked from the solver's own thread of control several times a second and
the best plan so far is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import highspy
import numpy as np

from agronomy.season_plan.model import Floats, Program

FEASIBILITY = 1e-7


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the search is: seconds so far, best score, proven bound (None before there is one) and the gap
    between them in percent of the best score."""

    seconds: float
    best: float | None
    bound: float | None
    gap_percent: float | None


@dataclass(frozen=True, slots=True)
class Found:
    """The answer of one solve. `objective` and `bound` are of the minimised program; `status` is `optimal` (within
    the gap asked for), `stopped`, `time`, `infeasible` or `failed`."""

    values: Floats | None
    objective: float
    bound: float
    status: str
    seconds: float


def gap_percent(best: float, bound: float) -> float | None:
    """Distance of a score to its bound in percent of the score (both as maxima); None of a score of 0."""
    if bound - best <= 1e-9 * max(1.0, abs(best)):
        return 0.0
    return 100 * (bound - best) / abs(best) if best else None


class _Quiet(highspy.Highs):
    """A solver that never writes to standard output; its banner comes as early as callbacks are set up."""

    def enableCallbacks(self) -> None:  # noqa: N802 (the library's name)
        self.silent()
        super().enableCallbacks()  # type: ignore[no-untyped-call]


def _loaded(program: Program) -> highspy.Highs:
    highs = _Quiet()  # type: ignore[no-untyped-call]
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(program.cost), len(program.row_lower)
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = program.cost, program.lower, program.upper
    lp.row_lower_, lp.row_upper_ = program.row_lower, program.row_upper
    lp.integrality_ = [
        highspy.HighsVarType.kInteger if integer else highspy.HighsVarType.kContinuous for integer in program.integer
    ]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_, lp.a_matrix_.index_ = program.starts, program.indices
    lp.a_matrix_.value_ = program.values
    highs.passModel(lp)
    return highs


class _Watch:
    """Hears the solver: passes progress on and carries the stop in."""

    def __init__(self, progress: Callable[[Progress], None] | None, stop: Callable[[], bool] | None) -> None:
        self.progress, self.stop, self.stopped = progress, stop, False
        self.error: BaseException | None = None

    def listen(self, highs: highspy.Highs) -> None:
        if self.progress is not None:
            highs.cbMipLogging += self._tell
            highs.cbMipImprovingSolution += self._tell
        if self.stop is not None:
            highs.cbMipInterrupt += self._ask
            highs.cbSimplexInterrupt += self._ask

    def _tell(self, event: Any) -> None:
        out = event.data_out
        best, bound = -out.mip_primal_bound, -out.mip_dual_bound
        known = np.isfinite(best) and abs(best) < 1e200
        proven = np.isfinite(bound) and abs(bound) < 1e200
        self._guard(
            lambda: self.progress
            and self.progress(
                Progress(
                    float(out.running_time), float(best) if known else None, float(bound) if proven else None,
                    gap_percent(float(best), float(bound)) if known and proven else None,
                )
            )
        )

    def _ask(self, event: Any) -> None:
        if not self.stopped and self.error is None:
            self.stopped = bool(self._guard(lambda: self.stop and self.stop()))
        if self.stopped or self.error is not None:
            event.interrupt()

    def _guard(self, call: Callable[[], Any]) -> Any:
        """An error in a caller's function must not run through the solver; it is kept and raised after."""
        try:
            return call()
        except BaseException as error:
            self.error = error
            return None


def solve(
    program: Program,
    *,
    gap: float = 0.0,
    seconds: float = 60.0,
    start: Floats | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    relaxed: bool = False,
) -> Found:
    """Solve a program to a relative `gap` (0.005 = 0.5 %) in at most `seconds`; `relaxed` drops whole numbers."""
    watch = _Watch(progress, stop)
    found = _run(program, watch, (gap, seconds, relaxed), start)
    if start is not None and found.values is not None and not _same(program, found.values, found.objective):
        # A program that presolve settles alone comes back with the start's values beside the optimum's objective.
        found = _run(program, watch, (gap, seconds, relaxed), None)
    return found


def _same(program: Program, values: Floats, objective: float) -> bool:
    """Whether the values returned are those of the objective returned."""
    value = float(program.cost @ values)
    return abs(value - objective) <= 1e-6 * max(1.0, abs(value))


def _run(program: Program, watch: _Watch, limits: tuple[float, float, bool], start: Floats | None) -> Found:
    gap, seconds, relaxed = limits
    highs = _loaded(program)
    highs.setOptionValue("mip_rel_gap", gap)
    highs.setOptionValue("time_limit", float(seconds))
    highs.setOptionValue("mip_feasibility_tolerance", FEASIBILITY)
    highs.setOptionValue("primal_feasibility_tolerance", FEASIBILITY)
    highs.setOptionValue("solve_relaxation", relaxed)
    watch.listen(highs)
    if start is not None:
        solution = highspy.HighsSolution()
        solution.col_value = list(start)
        highs.setSolution(solution)
    highs.run()
    if watch.error is not None:
        raise watch.error
    return _answer(highs, watch, relaxed)


_STATUS = {
    highspy.HighsModelStatus.kOptimal: "optimal",
    highspy.HighsModelStatus.kInterrupt: "stopped",
    highspy.HighsModelStatus.kTimeLimit: "time",
    highspy.HighsModelStatus.kInfeasible: "infeasible",
    highspy.HighsModelStatus.kUnboundedOrInfeasible: "infeasible",
    highspy.HighsModelStatus.kModelEmpty: "optimal",
}


def _answer(highs: highspy.Highs, watch: _Watch, relaxed: bool) -> Found:
    info = highs.getInfo()
    status = _STATUS.get(highs.getModelStatus(), "failed")
    has = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    values = np.array(highs.getSolution().col_value) if has else None
    objective = float(info.objective_function_value) if has else float("inf")
    bound = objective if relaxed else float(info.mip_dual_bound)
    if not np.isfinite(bound) or abs(bound) > 1e200:
        bound = -float("inf")
    return Found(values, objective, bound, "stopped" if watch.stopped else status, float(highs.getRunTime()))
