"""The search itself: progress that tells the truth, a stop that keeps the best plan, a start that is kept."""

from __future__ import annotations

import threading

import pytest

from agronomy.season_plan import Progress, Season, solve_season
from agronomy.season_plan.layout import lay_out
from agronomy.season_plan.search import search
from agronomy.season_plan.solver import gap_percent
from tests.agronomy.plan.audit import faults
from tests.agronomy.plan.cases import whole_property


def _hard() -> Season:
    return whole_property(4, plots=120, budget_share=0.03, hours_a_plot=1.0)


def test_progress_brackets_the_answer() -> None:
    heard: list[Progress] = []
    plan = solve_season(whole_property(7, plots=30), progress=heard.append)
    known = [step for step in heard if step.best is not None and step.bound is not None]
    assert known, "no progress was told"
    for step in known:
        assert step.best <= plan.bound + 1e-6
        assert step.bound >= plan.score - 1e-6
        assert step.gap_percent == pytest.approx(gap_percent(step.best, step.bound))
    assert [step.seconds for step in heard] == sorted(step.seconds for step in heard)


def test_a_stop_keeps_the_best_plan_so_far() -> None:
    season, asked = _hard(), threading.Event()

    def hear(step: Progress) -> None:
        if step.best is not None:
            asked.set()

    plan = solve_season(season, gap_percent=0.0, seconds=120, progress=hear, stop=asked.is_set)
    assert plan.status == "stopped"
    assert plan.choices
    assert faults(season, plan) == []
    assert plan.score >= max(hand.score for hand in plan.hand_plans if hand.keeps_wishes) * (1 - 1e-6)
    assert {"plan_cut_short", "plan_nothing_proven"} & {finding.code for finding in plan.findings}


def test_a_stop_from_another_thread_ends_the_search() -> None:
    season, asked, started = _hard(), threading.Event(), threading.Event()
    answer: list[object] = []

    def work() -> None:
        answer.append(
            solve_season(season, gap_percent=0.0, seconds=600, progress=lambda _: started.set(), stop=asked.is_set)
        )

    thread = threading.Thread(target=work)
    thread.start()
    assert started.wait(60)
    asked.set()
    thread.join(60)
    assert not thread.is_alive()
    assert answer[0].status in ("stopped", "optimal")


def test_a_stop_asked_before_the_start_still_answers_with_a_plan() -> None:
    season = whole_property(5)
    plan = solve_season(season, stop=lambda: True)
    assert faults(season, plan) == []
    assert plan.score >= max(hand.score for hand in plan.hand_plans if hand.keeps_wishes) * (1 - 1e-6)


def test_an_error_in_progress_is_raised_not_lost() -> None:
    def broken(_: Progress) -> None:
        raise RuntimeError("the page is gone")

    with pytest.raises(RuntimeError, match="the page is gone"):
        solve_season(whole_property(7, plots=30), progress=broken)


def test_no_time_still_gives_the_better_hand_plan() -> None:
    season = _hard()
    plan = solve_season(season, seconds=0.01)
    assert plan.score >= max(hand.score for hand in plan.hand_plans if hand.keeps_wishes) * (1 - 1e-6)
    assert faults(season, plan) == []


def test_another_plan_as_a_start_is_never_undercut() -> None:
    season = _hard()
    layout = lay_out(season)
    good = search(layout, gap=0.01, seconds=20, cheapen=False)
    again = search(layout, gap=0.5, seconds=0.05, also_start=good.ledger.lb, cheapen=False)
    assert again.ledger.score >= good.ledger.score * (1 - 1e-9)


def test_nothing_is_written_to_standard_output(capfd: pytest.CaptureFixture[str]) -> None:
    solve_season(whole_property(3, plots=5))
    assert capfd.readouterr().out == ""


def test_the_same_question_gets_the_same_answer() -> None:
    season = whole_property(6, plots=12)
    assert solve_season(season).choices == solve_season(season).choices


def test_of_equal_plans_the_cheapest() -> None:
    season = whole_property(2, plots=8, budget_share=0.9, hours_a_plot=50)
    plan = solve_season(season, gap_percent=0.0)
    layout = lay_out(season)
    dear = search(layout, gap=0.0, seconds=30, cheapen=False)
    assert plan.score == pytest.approx(dear.ledger.score, rel=1e-5)
    assert plan.costs.total <= dear.ledger.dollars + season.spent_anyway_dollars + 0.01
