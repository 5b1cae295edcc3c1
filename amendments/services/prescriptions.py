"""What a plot needs this season, in requirement and in material, computed from the current data.

Everything here is read-only: a prescription is never stored but in the frozen lines of an issued order.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from agronomy.crops import CropDemand
from agronomy.findings import Finding, check, most_severe_first, note
from agronomy.lime_policy import lead_time, target_on_soil
from agronomy.lime_rate import Owed, SpreadLime, owed
from agronomy.lime_requirement import (
    LimeRequirement,
    choose_requirement,
    default_calibration,
    effective_lb_per_acre,
    requirement,
)
from agronomy.liming_material import default_scheme
from agronomy.status import StatusRules, trigger_ph
from amendments.queries.inputs import PlotInputs, demand_of
from amendments.services.materials import liming_material
from plots.models import Planting

TEST_OLD_YEARS = 3  # a test older than this is too old to prescribe on without a word (common practice)


@dataclass(frozen=True, slots=True)
class Targets:
    """The pH figures a plot is judged by, and where the target comes from (`plot`, `property`, `crop`, `default`)."""

    target: float
    trigger: float
    floor: float
    upper: float
    origin: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class LimeNeed:
    """A plot's lime: what the test asks, and what of it is still owed. Both None where nothing can be said."""

    targets: Targets
    requirement: LimeRequirement | None
    owed: Owed | None
    findings: tuple[Finding, ...]

    @property
    def owed_effective_lb(self) -> float | None:
        """Lime owed as effective CaCO3 lb/acre, a derived figure used only to add plots together."""
        return None if self.owed is None else self.owed.effective_lb_per_acre


def targets(inputs: PlotInputs) -> Targets:
    """Target, trigger, floor and upper limit of the plot's newest planting; see `targets_of_demand`."""
    return targets_of_demand(inputs, inputs.demand)


def targets_for(inputs: PlotInputs, planting: Planting) -> Targets:
    """The same for another of the plot's plantings."""
    return targets_of_demand(inputs, demand_of(planting, inputs.own_crops))


def targets_of_demand(inputs: PlotInputs, demand: CropDemand) -> Targets:
    """The plot's own target, else the property's for the crop, else the crop's, with trigger, floor and upper limit.

    The trigger is the target less the property's gap, never below the crop's floor.
    """
    plot = inputs.plot
    own_of_crop = [
        float(plot.property.target_by_crop[key]) for key in demand.crop_keys if key in plot.property.target_by_crop
    ]
    if plot.target_ph is not None:
        target, origin = float(plot.target_ph), "plot"
    elif own_of_crop:
        target, origin = max(own_of_crop), "property"
    else:
        target, origin = demand.target_ph, "crop" if demand.crop_keys else "default"
    target, findings = _for_light_soil(inputs, target, origin)
    # A lower target than the crop's own moves the floor with it; the trigger is never below the floor.
    floor = min(demand.floor_ph, target)
    rules = StatusRules(trigger_gap=float(plot.property.trigger_gap))
    trigger = trigger_ph(target_ph=target, floor_ph=floor, rules=rules)
    upper = demand.upper_ph if demand.upper_ph is not None else float(plot.property.upper_ph)
    return Targets(target, trigger, floor, max(upper, target), origin, findings)


def _for_light_soil(inputs: PlotInputs, target: float, origin: str) -> tuple[float, tuple[Finding, ...]]:
    """On sand a default target is 6.0; a chosen one above 6.5 stands, with a warning."""
    soil = inputs.test_used.soil if inputs.test_used else None
    texture = inputs.plot.texture
    light = soil.is_sandy if soil else texture in ("sand", "loamy_sand")
    return target_on_soil(target, is_light=light, is_default=origin == "default")


def calibration_of(inputs: PlotInputs) -> str | None:
    """The property's lime calibration: the one chosen, else its state's."""
    property_ = inputs.plot.property
    return property_.lime_calibration or default_calibration(property_.state)


def credited_lime(inputs: PlotInputs) -> tuple[SpreadLime, ...]:
    """Every dressing as lb per acre OF THE PLOT: a record that covered a part of it counts for that part."""
    acres = float(inputs.plot.acres)
    return tuple(
        SpreadLime(
            key=str(record.uuid),
            spread_on=record.spread_on,
            lb_per_acre=float(record.amount_lb) / acres,
            material=liming_material(record.frozen),
            depth_in=None if record.worked_in_depth_in is None else float(record.worked_in_depth_in),
        )
        for record in inputs.lime_records
    )


def lime_need(inputs: PlotInputs, *, calibration: str | None = None, target_ph: float | None = None) -> LimeNeed:
    """What a plot's test used asks for, less the lime spread. Without a test there is nothing to say.

    `calibration` asks one other calibration for comparison; `target_ph` another target.
    """
    goal = targets(inputs)
    test = inputs.test_used
    if test is None:
        return LimeNeed(goal, None, None, goal.findings)
    target = goal.target if target_ph is None else target_ph
    region = inputs.plot.property.region
    own_scheme = default_scheme(inputs.plot.property.state)
    if calibration is None:
        asked = choose_requirement(
            test.soil,
            target_ph=target,
            trigger_ph=goal.trigger,
            calibration=calibration_of(inputs),
            region=region,
            own_scheme=own_scheme,
        )
    else:
        asked = requirement(
            test.soil, calibration=calibration, target_ph=target, region=region, own_scheme=own_scheme
        )
    remaining = owed(
        asked,
        spread=credited_lime(inputs),
        sample_date=test.sampled_on,
        depth_in=float(inputs.plot.depth_limed_in),
        soil_class="organic" if inputs.plot.organic_soil else "mineral",
    )
    findings = (*goal.findings, *asked.findings, *remaining.findings, *_about_the_test(inputs))
    return LimeNeed(goal, asked, remaining, most_severe_first(findings))


def _about_the_test(inputs: PlotInputs) -> list[Finding]:
    test = inputs.test_used
    found: list[Finding] = []
    if test is None:
        return found
    if test.count > 1:
        found.append(note("samples_averaged", count=test.count))
    if test.is_shared:
        found.append(note("sample_shared"))
    if test.mixed_ph_methods:
        found.append(check("ph_methods_not_mixed"))
    depth = float(inputs.plot.depth_limed_in)
    if abs(test.soil.depth_in - depth) > 2:
        found.append(check("sample_depth_differs", sample_depth_in=test.soil.depth_in, depth_limed_in=depth))
    return found


def about_age(inputs: PlotInputs, *, today: dt.date) -> tuple[Finding, ...]:
    """What the age of the test used asks a person to know; the only part of a prescription that depends on today."""
    test = inputs.test_used
    if test is None:
        return (note("never_tested"),)
    if (today - test.sampled_on).days > TEST_OLD_YEARS * 365.25:
        return (
            check("test_old", source="practice_retest", sampled_on=test.sampled_on.isoformat(), years=TEST_OLD_YEARS),
        )
    return ()


def about_sowing(inputs: PlotInputs, need: LimeNeed, *, today: dt.date) -> tuple[Finding, ...]:
    """Whether lime spread today would be in time for a crop that is still to be sown; nothing where none is owed."""
    planting = inputs.planting
    if need.owed is None or not need.owed.amount or planting is None:
        return ()
    if planting.planted_on is not None or planting.planned_on is None or planting.planned_on < today:
        return ()
    alfalfa = "alfalfa" in inputs.demand.crop_keys
    return lead_time(planting.planned_on, spread_on=today, alfalfa=alfalfa).findings


__all__ = [
    "LimeNeed",
    "Targets",
    "about_age",
    "about_sowing",
    "calibration_of",
    "credited_lime",
    "effective_lb_per_acre",
    "lime_need",
    "targets",
]
