"""The plan against the two ways seasons are planned by hand, on whole properties."""

from __future__ import annotations

import statistics
from collections.abc import Callable

import pytest

from agronomy.season_plan import PlanPlot, Season, solve_season
from agronomy.season_plan.hand import same_share, worst_plot_first
from agronomy.season_plan.layout import lay_out
from tests.agronomy.plan.audit import faults, plan_gain
from tests.agronomy.plan.cases import OFFERS, SPREADERS, small_season, whole_property


def test_never_worse_than_either_hand_method(
    deep_count: Callable[[int, int], int], record_property: Callable[[str, object], None]
) -> None:
    gains = []
    for seed in range(deep_count(20, 200)):
        season = whole_property(seed, plots=15)
        plan = solve_season(season, gap_percent=0.5, seconds=10)
        for hand in plan.hand_plans:
            assert not hand.keeps_wishes or plan.score >= hand.score * (1 - 1e-6), f"seed {seed}, {hand.method}"
        best = max((hand.score for hand in plan.hand_plans if hand.keeps_wishes), default=0.0)
        gains += [100 * (plan.score / best - 1)] if best > 0 else []
        assert faults(season, plan) == [], f"seed {seed}"
        assert plan.gain == pytest.approx(plan_gain(season, plan), rel=1e-9, abs=1e-9)
    median = statistics.median(gains)
    record_property("median gain over the better hand method, percent", round(median, 1))
    print(f"median gain over the better hand method: {median:.1f} percent of {len(gains)} properties")
    assert median > 0


@pytest.mark.parametrize("method", [worst_plot_first, same_share])
def test_hand_plans_keep_every_limit(method: Callable[..., object]) -> None:
    for seed in range(40):
        season = small_season(seed) if seed % 2 else whole_property(seed)
        ledger = method(lay_out(season))
        assert ledger.faults() == [], f"seed {seed}"


def test_worst_plot_comes_first_until_the_money_is_gone() -> None:
    plots = tuple(
        PlanPlot(key, 1.0, owed_effective_lb_per_acre=1780, ph_gap=gap, heaviest_vehicle="side_by_side")
        for key, gap in (("mild", 0.4), ("worst", 1.2), ("bad", 0.9))
    )
    pellets = next(offer for offer in OFFERS if offer.key == "pellets 40")
    ledger = worst_plot_first(lay_out(Season(plots, (pellets,), SPREADERS, budget_dollars=560)))
    got = {plot.key: ledger.effective_lb(plot.key) for plot in plots}
    assert got["worst"] == pytest.approx(1780)
    assert 500 <= got["bad"] < 1780
    assert got["mild"] == 0


def test_same_share_gives_every_plot_the_same() -> None:
    plots = tuple(
        PlanPlot(f"p{i}", 1.0, owed_effective_lb_per_acre=2000 + 200 * i, ph_gap=1.0, heaviest_vehicle="side_by_side")
        for i in range(4)
    )
    pellets = next(offer for offer in OFFERS if offer.key == "pellets 40")
    ledger = same_share(lay_out(Season(plots, (pellets,), SPREADERS, budget_dollars=900)))
    shares = {round(ledger.effective_lb(p.key) / p.owed_effective_lb_per_acre, 6) for p in plots}
    assert len(shares) == 1
    (share,) = shares
    assert 0.3 < share < 1
