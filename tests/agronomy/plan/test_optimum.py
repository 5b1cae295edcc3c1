"""The plan found is the best there is: every way of a small season is tried."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from agronomy.season_plan import solve_season
from tests.agronomy.plan.audit import faults, plan_gain
from tests.agronomy.plan.brute import best_gain
from tests.agronomy.plan.cases import small_season


def test_the_optimum_is_the_best_of_all_ways(deep_count: Callable[[int, int], int]) -> None:
    gained = 0
    for seed in range(deep_count(150, 500)):
        season = small_season(seed)
        plan, best = solve_season(season, gap_percent=0.0), best_gain(season)
        assert plan.gain == pytest.approx(best, rel=1e-5, abs=1e-6), f"seed {seed}"
        assert plan.gain == pytest.approx(plan_gain(season, plan), rel=1e-9, abs=1e-9)
        assert faults(season, plan) == [], f"seed {seed}"
        gained += best > 0
    assert gained > 100
