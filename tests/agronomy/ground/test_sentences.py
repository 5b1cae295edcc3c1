"""The sentences of field work, said with the values that the calculations really give them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from agronomy.area import acres_findings, compare_walks, walked_edge
from agronomy.findings import Finding, Hazard
from agronomy.retest import LimeEvent, Reason, RetestFacts, retest_due
from agronomy.sampling import core_count_findings, sampling_advice
from agronomy.spread_pattern import Trays, coverage
from agronomy.spreading import (
    SpreaderCalibration,
    achieved_rate,
    catch_findings,
    machine_hazards,
    spreader_setup,
    wind_findings,
)
from plots.figures import NOTHING
from plots.templatetags.trade import finding_sentence, hazard_sentence, plain
from tests.agronomy.ground.test_area_walk import GROUND, fix, track, walk

TODAY = dt.date(2026, 5, 1)
SAMPLED = dt.date(2025, 9, 12)
LIMED = (LimeEvent(dt.date(2026, 6, 10)),)


def spreading() -> list[Finding]:
    cut = Trays(tuple(range(-6, 7)), tuple(12 - abs(x) for x in range(-6, 7)))
    few = Trays((-12.0, -6.0, 0.0, 6.0, 12.0), (0.0, 6.0, 12.0, 6.0, 0.0))
    old = SpreaderCalibration(dt.date(2024, 3, 1), "7", "3", 200.0, 20.0, cv_percent=22.0)
    order = {"ordered_lb_per_acre": 1000.0, "ordered_acres": 1.0}
    return [
        *coverage(cut, pass_spacing_ft=12).findings,
        *coverage(few, pass_spacing_ft=17).findings,
        *spreader_setup([], material_key="7", rate_lb_per_acre=400, today=TODAY).findings,
        *spreader_setup([old], material_key="8", rate_lb_per_acre=400, today=TODAY).findings,
        *spreader_setup([old], material_key="7", rate_lb_per_acre=400, today=TODAY).findings,
        *achieved_rate(500, acres_covered=1, **order).findings,
        *achieved_rate(900, acres_covered=0.5, **order).findings,
        *catch_findings(6, target_lb=5),
        *wind_findings(8),
    ]


def ground() -> list[Finding]:
    poor = [replace(one, accuracy_m=60.0) for one in walk(1)[10:20]]
    knot = [GROUND[0], (30.0, 0.0), (34.0, 6.0), (28.0, 6.0), (32.0, -0.1), *GROUND[1:], GROUND[0]]
    size = walked_edge(walk(2)).size
    advice = sampling_advice(1, tillage="no_till", depth_last_in=3, depth_limed_in=4)
    return [
        *walked_edge([*walk(1), *poor]).findings,
        *walked_edge([fix(x, y, n) for n, (x, y) in enumerate(track(GROUND))]).findings,
        *walked_edge([fix(x, y, n, accuracy=1.0) for n, (x, y) in enumerate(track(knot))]).findings,
        *compare_walks(size, replace(size, acres=size.acres * 1.5)),
        *acres_findings(1.2, measured_acres=1.0),
        *advice.findings,
        *core_count_findings(4, advice=advice),
    ]


def reasons() -> list[Reason]:
    plain_facts = RetestFacts(last_sample_on=SAMPLED, floor_ph=5.8, target_before=6.0, target_now=6.8)
    cases = [
        RetestFacts(),
        plain_facts,
        replace(plain_facts, lime=LIMED, usual_sampling_month=9, floor_crossed_on=dt.date(2026, 8, 1)),
        replace(plain_facts, staged=True),
        replace(plain_facts, ph_critical=True),
        replace(plain_facts, demand_rose_on=dt.date(2027, 1, 1)),
    ]
    return [reason for facts in cases for reason in retest_due(facts).reasons]


@pytest.mark.parametrize("finding", [*spreading(), *ground()], ids=lambda finding: finding.code)
def test_a_finding_is_said_in_whole_sentences_with_all_its_values(finding: Finding) -> None:
    said = plain(finding_sentence(finding))
    assert said.endswith(".")
    assert NOTHING not in said, "a value that the template asks for is not given"
    assert "{" not in said
    assert "  " not in said


@pytest.mark.parametrize("reason", reasons(), ids=lambda reason: reason.code)
def test_a_reason_for_a_retest_is_said(reason: Reason) -> None:
    said = plain(finding_sentence(Finding("note", reason.code, reason.values, reason.source)))
    assert said.endswith(".")
    assert NOTHING not in said
    if "sampled_on" in reason.values:
        assert "Sep 12, 2025" in said


def test_the_moved_date_says_so() -> None:
    facts = RetestFacts(last_sample_on=SAMPLED, lime=LIMED, usual_sampling_month=9)
    first = retest_due(facts).reasons[0]
    said = plain(finding_sentence(Finding("note", first.code, first.values)))
    assert said.replace("\u00a0", " ") == (
        "Limed on Jun 10, 2026: look at the effect 15 months later, in the month in which this plot is usually sampled."
    )


@pytest.mark.parametrize(
    "hazard",
    machine_hazards("lime_truck", has_pto=True, on_slope=True, near_water=True) + machine_hazards("side_by_side"),
    ids=lambda hazard: hazard.code,
)
def test_a_danger_is_said(hazard: Hazard) -> None:
    assert plain(hazard_sentence(hazard)).endswith(".")


def test_every_code_of_field_work_is_said_here() -> None:
    said = {finding.code for finding in (*spreading(), *ground())} | {reason.code for reason in reasons()}
    assert len(said) >= 29
