"""Every finding, reason and hazard of a plan has its sentence, and the sentence has its figures."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

from django.template.loader import render_to_string

from agronomy.findings import Finding
from agronomy.season_plan import (
    DumpSite,
    LeastCost,
    Must,
    NutrientNeed,
    PlanDressing,
    PlanPlot,
    Progress,
    Season,
    SeasonPlan,
    SpentAnyway,
    Wishes,
    cost_of_full_correction,
    least_money_to_keep_floors,
    solve_season,
)
from agronomy.season_plan.wishes import BARRIERS
from agronomy.sources import source
from tests.agronomy.plan.cases import OFFERS, SPREADERS, small_season, whole_property
from tests.agronomy.plan.test_wishes import BAGS, GOOD, POOR, SIDE, TRUCK

PACKAGE = Path(__file__).parents[3] / "agronomy" / "season_plan"
FINDINGS = Path(__file__).parents[3] / "templates" / "findings"


def _codes() -> set[str]:
    text = "\n".join(path.read_text() for path in PACKAGE.glob("*.py"))
    return set(re.findall(r'"(plan_[a-z_]+)"', text)) - {"plan_dressing_limits"}  # the key of a source


def test_every_code_has_a_sentence_and_every_sentence_a_code() -> None:
    assert {path.stem for path in FINDINGS.glob("plan_*.txt")} == _codes()


@cache
def _plans() -> tuple[SeasonPlan, ...]:
    plans = [solve_season(small_season(seed)) for seed in range(30)]
    plans += [solve_season(whole_property(seed, plots=10), gap_percent=3) for seed in range(8)]
    musts = Wishes(must=(Must("good"), Must("poor")))
    plans.append(solve_season(Season((GOOD, POOR), (BAGS,), (SIDE,), budget_dollars=400, wishes=musts)))
    plans.append(solve_season(Season((POOR,), (BAGS,), (SIDE,), hours=1.0, wishes=Wishes(must=(Must("poor"),)))))
    plans.append(solve_season(Season((POOR,), (TRUCK,), (SIDE,), wishes=Wishes(must=(Must("poor", offer="quarry"),)))))
    short = (SpentAnyway("lab fees", 80.0),)
    plans.append(solve_season(Season((GOOD,), (BAGS,), (SIDE,), budget_dollars=10, spent_anyway=short)))
    plans.append(solve_season(Season((GOOD,), (BAGS,), (SIDE,), wishes=Wishes(skip=frozenset({"good"})))))
    plans.append(solve_season(whole_property(4, plots=20), stop=lambda: True))
    tipped = replace(OFFERS[0], on_hand_lb={})
    rounds = (PlanDressing("spring", frozenset({4})), PlanDressing("fall", frozenset({10}), 6))
    sour = replace(GOOD, owed_effective_lb_per_acre=9000, acres=4.0, heaviest_vehicle="lime_truck")
    plans.append(solve_season(Season((sour,), (tipped,), SPREADERS, (DumpSite("gate", {"good": 50}),), rounds)))
    plans += _rare_plans(musts)
    return tuple(plans)


def _rare_plans(musts: Wishes) -> list[SeasonPlan]:
    """Those that a made-up property seldom comes to."""
    stock = replace(BAGS, price_dollars=None, on_hand_lb={"": 2500.0})
    wet = PlanPlot("wet", 1.0, near_water=True, needs=(NutrientNeed("p2o5", 40, 50),))
    feeds = tuple(offer for offer in OFFERS if offer.kind == "fertilizer")
    thin = replace(GOOD, largest_dressing_effective_lb_per_acre=900.0)
    fine = PlanPlot("good", 1.0)
    questions = [
        Season((GOOD, POOR), (stock,), (SIDE,), wishes=musts),
        Season((wet,), feeds, SPREADERS),
        Season((thin,), (BAGS,), (SIDE,)),
        Season((fine, POOR), (BAGS,), (SIDE,), wishes=musts),
    ]
    heard: list[Progress] = []
    cut = solve_season(
        whole_property(4, plots=120, budget_share=0.03, hours_a_plot=1.0), gap_percent=0.0, progress=heard.append,
        stop=lambda: any(step.bound is not None and step.best is not None for step in heard),
    )
    return [*(solve_season(question) for question in questions), cut]


def _findings() -> list[Finding]:
    found: list[Finding] = []
    floor = replace(POOR, floor_gap_effective_lb_per_acre=1500.0, largest_dressing_effective_lb_per_acre=900.0)
    answers: list[LeastCost] = [
        least_money_to_keep_floors(Season((floor,), (BAGS,), (SIDE,))),
        cost_of_full_correction(Season((GOOD, POOR), (BAGS,), (SIDE,))),
    ]
    for plan in [*_plans(), *(answer.plan for answer in answers)]:
        found += [*plan.findings, *(outcome.reason for outcome in plan.plots)]
        found += [wish.reason for wish in plan.unmet]
    return found + [wish.reason for answer in answers for wish in answer.left]


def test_sentences_are_whole() -> None:
    said = set()
    for finding in _findings():
        text = render_to_string(f"findings/{finding.code}.txt", dict(finding.values)).strip()
        assert text.endswith("."), text
        assert "None" not in text, text
        assert "not known" not in text, (finding, text)
        assert "  " not in text, text
        assert source(finding.source), finding
        said.add(finding.code)
    assert said == _codes()


def test_every_barrier_has_its_own_words() -> None:
    words = {
        barrier: render_to_string("findings/plan_why_out_of_reach.txt", {"plot": "the plot", "barrier": barrier})
        for barrier in (*BARRIERS, "no_material")
    }
    assert len(set(words.values())) == len(words)


def test_hazards_have_their_sentences_and_are_in_order() -> None:
    order = ["danger", "warning", "caution"]
    seen = set()
    for plan in _plans():
        signals = [order.index(hazard.signal) for hazard in plan.hazards]
        assert signals == sorted(signals)
        for hazard in plan.hazards:
            assert render_to_string(f"hazards/{hazard.code}.txt").strip()
            seen.add(hazard.code)
        if any(choice.kind == "lime" for choice in plan.choices):
            assert "lime_dust" in {hazard.code for hazard in plan.hazards}
        if any(purchase.tipped_in for purchase in plan.purchases):
            assert {"raised_truck_bed", "stockpile_runoff"} <= {hazard.code for hazard in plan.hazards}
    assert {"raised_truck_bed", "pto", "side_by_side_load", "set_up_in_full"} <= seen
