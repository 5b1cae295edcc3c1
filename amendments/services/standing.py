"""Where each plot stands, rewritten by one function whenever a fact of it changes.

`refresh_standing` is called inside the transaction of the change, by the signal `plots.facts.changed`. The row holds
facts and absolute dates; what depends on today is decided where it is read.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import transaction

from agronomy.liming_material import material_value
from agronomy.retest import LimeEvent, RetestDue, RetestFacts, RetestRules, retest_due
from agronomy.status import StatusRules, settling_until
from agronomy.version import VERSION
from amendments.models import Standing, WorkOrderLine
from amendments.queries.inputs import PlotInputs, gather
from amendments.services.fertilizer import ratings
from amendments.services.materials import liming_material
from amendments.services.prescriptions import LimeNeed, Targets, lime_need, targets_for
from plots.models import Property
from plots.seasons import season_days, season_on

BATCH = 500
TRACE_LENGTH = 12


def status_rules(property_: Property) -> StatusRules:
    """The figures a property's manager has settled on."""
    return StatusRules(
        trigger_gap=float(property_.trigger_gap),
        smallest_dressing_lb=float(property_.smallest_dressing_lb),
        order_cover_share=property_.order_cover_percent / 100,
        settling_months=property_.settling_months,
        upper_ph=float(property_.upper_ph),
    )


def ordered_effective_lb(inputs: PlotInputs, need: LimeNeed) -> float:
    """What open orders still have to bring of lime, as effective CaCO3 lb/acre of the plot.

    A line counts for what has not been recorded against it yet, in the same kind of value as the requirement.
    """
    if need.requirement is None:
        return 0.0
    return sum(_line_effective(line, inputs, need) for line in inputs.lines if _is_lime(line))


def _is_lime(line: WorkOrderLine) -> bool:
    return line.frozen.get("material", {}).get("kind") == "lime"


def _line_effective(line: WorkOrderLine, inputs: PlotInputs, need: LimeNeed) -> float:
    done = {record.pk: record for record in line.records.all()}
    corrected = {record.corrects_id for record in done.values()}
    recorded = sum(float(record.amount_lb) for key, record in done.items() if key not in corrected)
    left = max(float(line.total_lb) - recorded, 0.0)
    asked = need.requirement
    assert asked is not None
    try:
        value = material_value(
            liming_material(line.frozen["material"]),
            reference_kind=asked.reference_kind,
            reference_scheme=asked.reference_scheme,
            own_scheme=asked.own_scheme,
        )
    except ValueError:  # an order whose material has no value of the requirement's kind covers nothing of it
        return 0.0
    return left / float(inputs.plot.acres) * value.value_percent / 100


def retest(inputs: PlotInputs, goal: Targets) -> RetestDue:
    """When the plot must be sampled again, by the rule and by the stored forecast."""
    plot, property_ = inputs.plot, inputs.plot.property
    test = inputs.test_used
    rose_on, before = _demand_rise(inputs, goal)
    facts = RetestFacts(
        last_sample_on=test.sampled_on if test else None,
        lime=tuple(LimeEvent(record.spread_on) for record in inputs.lime_records),
        usual_sampling_month=plot.usual_sampling_month or _usual_month(inputs),
        ph_critical=inputs.demand.ph_critical,
        staged=_is_staging(inputs, goal),
        demand_rose_on=rose_on,
        target_before=before,
        target_now=goal.target,
        floor_crossed_on=inputs.forecast.floor_crossed_on if inputs.forecast else None,
        floor_ph=goal.floor,
    )
    rules = RetestRules(
        months_after_lime=property_.retest_after_lime_months,
        cycle_months=12 * property_.retest_years,
    )
    return retest_due(facts, rules=rules)


def _usual_month(inputs: PlotInputs) -> int | None:
    """The month of the plot's two newest samplings if they agree: a habit, where none was entered."""
    months = [test.sampled_on.month for test in inputs.tests[:2]]
    return months[0] if len(months) == 2 and len(set(months)) == 1 else None


def _is_staging(inputs: PlotInputs, goal: Targets) -> bool:
    test = inputs.test_used
    if inputs.plot.property.lime_policy != Property.Policy.STAGED or test is None:
        return False
    return test.soil.soil_ph is not None and test.soil.soil_ph < goal.trigger


def _demand_rise(inputs: PlotInputs, goal: Targets) -> tuple[dt.date | None, float | None]:
    """From when on a crop stands that asks a higher pH than the one the test was taken for, and that one's target."""
    test, planting = inputs.test_used, inputs.planting
    if test is None or planting is None:
        return None, None
    tested_in = season_on(test.sampled_on)
    stood = next((p for p in inputs.plantings if p.first_season <= tested_in), None)
    if stood is None or stood.pk == planting.pk:
        return None, None
    before = targets_for(inputs, stood).target
    if goal.target <= before:
        return None, None
    return season_days(planting.first_season)[0], before


def standing_fields(inputs: PlotInputs) -> dict[str, Any]:
    """Every stored figure of a plot, computed afresh from its facts. Nothing here knows what day it is."""
    need = lime_need(inputs)
    goal, test, property_ = need.targets, inputs.test_used, inputs.plot.property
    due = retest(inputs, goal)
    p_rating, k_rating = ratings(inputs)
    lime = inputs.lime_records
    spread = [record.spread_on for record in inputs.records if record.amount_lb]
    last_lime = max((record.spread_on for record in lime), default=None)
    fields: dict[str, Any] = {
        "property_id": property_.pk,
        "crop_label": crop_label(inputs),
        "crop_keys": "".join(f"|{key}" for key in inputs.demand.crop_keys) + "|" if inputs.demand.crop_keys else "",
        "tested_on": test.sampled_on if test else None,
        "test_count": test.count if test else 0,
        "test_ph": test.soil.soil_ph if test else None,
        "ph_method": test.soil.ph_method if test else "",
        "target_ph": goal.target,
        "trigger_ph": goal.trigger,
        "floor_ph": goal.floor,
        "upper_ph": goal.upper,
        "owed_effective_lb": need.owed_effective_lb,
        "owed_amount": need.owed.amount if need.owed else None,
        "owed_unit": need.owed.unit if need.owed else "",
        "lime_method": need.requirement.method if need.requirement else "",
        "lime_is_estimate": bool(need.requirement and need.requirement.is_estimate),
        "ordered_effective_lb": ordered_effective_lb(inputs, need),
        "smallest_dressing_lb": float(property_.smallest_dressing_lb),
        "order_cover_share": property_.order_cover_percent / 100,
        "p_rating": p_rating,
        "k_rating": k_rating,
        "last_spread_on": max(spread, default=None),
        "last_lime_on": last_lime,
        "settling_until": settling_until(last_lime, rules=status_rules(property_)),
        "retest_due_on": due.due_on,
        "retest_reasons": [
            [reason.code, reason.date.isoformat() if reason.date else None, dict(reason.values)]
            for reason in due.reasons
        ],
        "ph_trace": ph_trace(inputs),
        "finding_codes": [f"{finding.severity}:{finding.code}" for finding in need.findings],
    }
    return fields | {"fingerprint": fingerprint(fields), "program_version": VERSION}


def ph_trace(inputs: PlotInputs) -> list[list[Any]]:
    """The newest pH figures of one method, oldest first, for the small picture of the review."""
    used = inputs.test_used
    alike = [test for test in inputs.tests if used and test.soil.ph_method == used.soil.ph_method]
    trace = [[t.sampled_on.isoformat(), round(t.soil.soil_ph, 2)] for t in alike if t.soil.soil_ph is not None]
    return list(reversed(trace[:TRACE_LENGTH]))


def crop_label(inputs: PlotInputs) -> str:
    """What the review calls the planting: its own name, else its crops."""
    planting = inputs.planting
    if planting is None:
        return ""
    return (planting.name or ", ".join(crop.name for crop, _ in inputs.demand.components))[:120]


def fingerprint(fields: dict[str, Any]) -> str:
    """A digest of the stored figures: equal figures, equal digest, on both databases."""
    plain = json.dumps(fields, sort_keys=True, default=str)
    return hashlib.sha256(plain.encode()).hexdigest()


def _write(inputs: Sequence[PlotInputs]) -> None:
    rows = [Standing(plot_id=one.plot.pk, **standing_fields(one)) for one in inputs]
    if not rows:
        return
    columns = [f.name for f in Standing._meta.concrete_fields if f.name != "plot"]
    Standing.objects.bulk_create(rows, update_conflicts=True, unique_fields=["plot"], update_fields=columns)


@transaction.atomic
def refresh_standing(plot_ids: Iterable[int]) -> int:
    """Recompute and store the standing of these plots; returns how many. Safe to call again."""
    ids = sorted(set(plot_ids))
    for start in range(0, len(ids), BATCH):
        _write(gather(ids[start : start + BATCH]))
    return len(ids)
