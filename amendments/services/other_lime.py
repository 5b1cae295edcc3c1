"""What else can be said of a plot's lime: other calibrations' answers, and pellets planned at a token rate."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from agronomy.findings import Finding
from agronomy.lime_rate import material_rate, token_rate
from agronomy.lime_requirement import Calibration, calibrations, effective_lb_per_acre
from amendments.models import Material
from amendments.queries.inputs import PlotInputs
from amendments.services.materials import FrozenMaterial, analysis_on, freeze, liming_material
from amendments.services.prescriptions import LimeNeed, lime_need


@dataclass(frozen=True, slots=True)
class OtherAnswer:
    """One calibration's answer for the plot's test. `why_not` where it has none; empty if its table is too strong."""

    calibration: Calibration
    need: LimeNeed
    why_not: tuple[Finding, ...]

    @property
    def effective_lb(self) -> float | None:
        """The whole requirement for the plot's depth as effective CaCO3 lb/acre, to compare them."""
        owed, asked = self.need.owed, self.need.requirement
        if owed is None or asked is None or not asked.amount or owed.requirement_amount is None:
            return None if asked is None or asked.amount is None else 0.0
        return effective_lb_per_acre(asked) * owed.requirement_amount / asked.amount

    @property
    def too_weak(self) -> bool:
        """No amount and nothing to say: the reading is weaker than the table's first row."""
        requirement = self.need.requirement
        return requirement is not None and requirement.amount is None and not self.why_not


def other_calibrations(inputs: PlotInputs, need: LimeNeed) -> list[OtherAnswer]:
    """Every calibration but the one in use, asked for the same test and target; those with an answer first."""
    if need.requirement is None:
        return []
    answers = []
    for key, found in calibrations(inputs.plot.property.region).items():
        if key == need.requirement.method:
            continue
        asked = lime_need(inputs, calibration=key)
        stops = () if asked.requirement is None else asked.requirement.findings
        answers.append(OtherAnswer(found, asked, tuple(one for one in stops if one.severity == "stop")))
    return sorted(answers, key=lambda one: one.need.requirement is None or one.need.requirement.amount is None)


def token_findings(inputs: PlotInputs, need: LimeNeed, *, today: dt.date) -> tuple[Finding, ...]:
    """Pellets recorded since the test, or on an open order, at a small part of what the test asks for."""
    test = inputs.test_used
    if test is None or need.owed is None or not need.owed.requirement_amount:
        return ()
    acres = float(inputs.plot.acres)
    planned: list[tuple[FrozenMaterial, float]] = [
        (record.frozen, float(record.amount_lb) / acres)
        for record in inputs.lime_records
        if record.spread_on > test.sampled_on
    ]
    for line in inputs.lines:
        if line.material.kind == Material.Kind.LIME:
            frozen = freeze(line.material, analysis_on(line.material, today))
            planned.append((frozen, float(line.rate_lb_per_acre)))
    found = (_token(inputs, need, frozen, pounds) for frozen, pounds in planned if frozen["form"] == "pelletized")
    return tuple(one for one in found if one is not None)


def _token(inputs: PlotInputs, need: LimeNeed, frozen: FrozenMaterial, lb_per_acre: float) -> Finding | None:
    assert need.owed is not None
    whole = replace(need.owed, amount=need.owed.requirement_amount, low=None, high=None)
    material = liming_material(frozen)
    try:
        full = material_rate(whole, material=material, incorporated=inputs.plot.is_incorporated)
    except ValueError:
        return None
    if full is None:
        return None
    return token_rate(lb_per_acre, full_lb_per_acre=full.lb_per_acre, form=material.form)
