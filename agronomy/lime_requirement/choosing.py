"""One calibration's answer, and the order in which a plot's sources of a rate are asked."""

from __future__ import annotations

from dataclasses import replace

from agronomy.findings import Finding, Step, check, note, stop
from agronomy.lime_requirement.calibrations import calibration as calibration_of
from agronomy.lime_requirement.kinds import Calibration, LimeRequirement, Rate
from agronomy.soil import WATER_METHODS, SoilFacts

SALT_SHIFT = 0.5
SAME_TARGET = 0.05
NEXT_TARGET_WITHIN = 0.5
"""How far above the plot's target a printed one may lie and still be taken, pH (our setting)."""
FAR_OFF_SHARE = 0.25
"""Our rate and the lab's own line are told apart from here on (our setting)."""


def requirement(soil: SoilFacts, *, calibration: str, target_ph: float, region: str = "warm_humid") -> LimeRequirement:
    """The lime requirement by one calibration, for a target pH of 4 to 8.

    0 at or above the target, before anything else. A buffer of another method, a missing reading, or a reading
    stronger than the table gives no amount and a stop finding. Raises `ValueError` for an unknown calibration or a
    target outside 4 to 8.
    """
    if not 4.0 <= target_ph <= 8.0:
        raise ValueError(f"target pH {target_ph} is not 4 to 8")
    found = calibration_of(calibration, region=region)
    return _by(found, *_in_water(soil), target_ph)


def _in_water(soil: SoilFacts) -> tuple[SoilFacts, tuple[Finding, ...]]:
    """The test with its pH in water. A pH by another method is converted as a labelled estimate only."""
    if soil.soil_ph is None or soil.ph_method in WATER_METHODS:
        return soil, ()
    if soil.ph_method == "cacl2":
        in_water = (soil.soil_ph + 0.9) / 1.05
        found = check("ph_estimated_from_cacl2", source="cacl2_line", soil_ph=soil.soil_ph, ph_in_water=in_water)
    else:
        in_water = soil.soil_ph + SALT_SHIFT
        found = check("ph_estimated_from_salt", source="salt_ph_shift", soil_ph=soil.soil_ph, ph_in_water=in_water)
    return replace(soil, soil_ph=in_water, ph_method="water_equivalent"), (found,)


def _by(found: Calibration, soil: SoilFacts, before: tuple[Finding, ...], target: float) -> LimeRequirement:
    return _made(found, _rate(found, soil, target), target, before)


def _rate(found: Calibration, soil: SoilFacts, target: float) -> Rate:
    if soil.soil_ph is None:
        return Rate(None, findings=(stop("ph_missing"),))
    if soil.soil_ph >= target:
        step = Step(f"pH {soil.soil_ph:.2f} is at or above the target {target:g}", "", 0.0, found.unit, found.key)
        return Rate(0.0, 0.0, 0.0, "at_target", working=(step,))
    if found.buffer_method is not None:
        if soil.buffer_ph is None:
            return Rate(None, findings=(stop("buffer_missing", source=found.key, wanted=found.buffer_method),))
        if soil.buffer_method != found.buffer_method:
            wrong = stop(
                "wrong_buffer", source=found.key, given=soil.buffer_method or "not named", wanted=found.buffer_method
            )
            return Rate(None, findings=(wrong,))
    return found.rate(soil, target)


def _made(found: Calibration, rate: Rate, target: float, before: tuple[Finding, ...]) -> LimeRequirement:
    findings = (*before, *rate.findings)
    if found.status != "published" and rate.amount:
        findings = (*findings, note("table_not_published", source=found.key, status=found.status))
    return LimeRequirement(
        amount=rate.amount,
        unit=found.unit,
        depth_in=found.depth_in,
        target_ph=target,
        method=found.key,
        reference_kind=found.reference_kind,
        reference_scheme=found.reference_scheme,
        reference_value_percent=found.reference_value_percent,
        status=found.status,
        source=found.key,
        low=rate.low,
        high=rate.high,
        range_basis=rate.range_basis,
        is_estimate=found.is_estimate,
        findings=findings,
        working=rate.working,
    )


def choose_requirement(
    soil: SoilFacts, *, target_ph: float, trigger_ph: float, calibration: str | None, region: str = "warm_humid"
) -> LimeRequirement:
    """The requirement of a plot by the first source that can give one.

    The lab's own line when its target is the plot's; else the buffer by the calibration made for that buffer; else
    CEC; else texture; else the rule of thumb. A reading weaker than the table while pH is under the trigger is not
    zero but an estimate, marked as weakly buffered. A reading stronger than the table gives no rate.
    """
    water, before = _in_water(soil)
    ph = water.soil_ph
    found = calibration_of(calibration, region=region) if calibration else None
    if ph is None:
        return _by(found or calibration_of("rule_of_thumb"), water, before, target_ph)
    if ph >= target_ph:
        return _by(found or calibration_of("cec_estimate"), water, before, target_ph)
    own = _by_own_table(found, water, before, target_ph) if found else None
    if _lab_line_fits(soil, target_ph):
        return _from_lab(soil, target_ph, (*before, *_far_off(soil, own)))
    if own is not None and own[0].amount is not None:
        return own[0]
    if own is not None and own[1]:  # weaker than the table
        return _weak(found, water, before, target_ph, trigger_ph, region)
    if own is not None and any(one.code == "reading_stronger_than_table" for one in own[0].findings):
        return own[0]
    why = _why_no_table(found, own[0] if own else None)
    return _estimate(water, (*before, *why), target_ph, region)


def _by_own_table(
    found: Calibration, soil: SoilFacts, before: tuple[Finding, ...], target: float
) -> tuple[LimeRequirement, bool]:
    """The calibration's answer, and whether its reading was weaker than the table.

    A table that prints no column for the target is read at the next one above it, if that is near.
    """
    rate = _rate(found, soil, target)
    if any(one.code == "target_not_in_table" for one in rate.findings):
        near = [one for one in found.targets if target < one <= target + NEXT_TARGET_WITHIN]
        instead = _rate(found, soil, near[0]) if near else rate
        if instead.amount is not None or instead.weakly_buffered:
            used = check("next_target_used", source=found.key, target_ph=target, printed_target_ph=near[0])
            return _made(found, instead, near[0], (*before, used)), instead.weakly_buffered
    return _made(found, rate, target, before), rate.weakly_buffered


def _weak(
    found: Calibration | None, soil: SoilFacts, before: tuple[Finding, ...], target: float, trigger: float, region: str
) -> LimeRequirement:
    assert found is not None and soil.soil_ph is not None and soil.buffer_ph is not None
    weak = check("weakly_buffered", source=found.key, buffer_ph=soil.buffer_ph)
    if soil.soil_ph < trigger:
        return _estimate(soil, (*before, weak), target, region)
    step = Step(f"buffer pH {soil.buffer_ph:.2f} is weaker than the table and pH is not under the trigger {trigger:g}",
                "", 0.0, found.unit, found.key)  # fmt: skip
    return _made(found, Rate(0.0, 0.0, 0.0, "at_target", working=(step,)), target, before)


def _why_no_table(found: Calibration | None, own: LimeRequirement | None) -> tuple[Finding, ...]:
    """Why the table gave nothing, now as something to check, since an estimate stands in."""
    if found is None or own is None:
        return (note("no_calibration_for_state"),)
    return tuple(check(one.code, source=one.source, **one.values) for one in own.findings if one.severity == "stop")


def _estimate(soil: SoilFacts, before: tuple[Finding, ...], target: float, region: str) -> LimeRequirement:
    """CEC, else texture, else the rule of thumb: always an estimate, and to be retested."""
    if soil.cec_meq_100g is not None and not soil.organic_soil:
        key = "cec_estimate"
    elif soil.texture is not None or soil.organic_soil:
        key = "texture_estimate"
    else:
        key = "rule_of_thumb"
    found = calibration_of(key, region=region)
    light = (check("light_soil_over_liming", source="practice_light_soil"),) if soil.is_sandy else ()
    return _by(found, soil, (*before, note("estimate_retest", source=key, method=found.title), *light), target)


def _lab_line_fits(soil: SoilFacts, target: float) -> bool:
    line = soil.lab_line
    return line is not None and line.target_ph is not None and abs(line.target_ph - target) < SAME_TARGET


def _from_lab(soil: SoilFacts, target: float, findings: tuple[Finding, ...]) -> LimeRequirement:
    line = soil.lab_line
    assert line is not None
    return LimeRequirement(
        amount=line.amount,
        unit=line.unit,
        depth_in=line.depth_in,
        target_ph=target,
        method="lab_line",
        reference_kind=line.reference_kind,  # type: ignore[arg-type]
        reference_scheme=line.reference_scheme,
        reference_value_percent=line.reference_value_percent,
        status="published",
        source="lab_line",
        findings=findings,
        working=(Step(f"the lab's own line, to pH {target:g}", "", line.amount, line.unit, "lab_line"),),
    )


def _far_off(soil: SoilFacts, own: tuple[LimeRequirement, bool] | None) -> tuple[Finding, ...]:
    """Our table's rate beside the lab's line, where both are of the same thing and differ by more than a quarter."""
    line = soil.lab_line
    if own is None or line is None or own[0].amount is None:
        return ()
    ours = own[0]
    same = (ours.unit, ours.depth_in, ours.reference_kind, ours.reference_value_percent) == (
        line.unit, line.depth_in, line.reference_kind, line.reference_value_percent,
    )  # fmt: skip
    larger = max(ours.amount or 0.0, line.amount)
    if not same or larger == 0 or abs((ours.amount or 0.0) - line.amount) / larger <= FAR_OFF_SHARE:
        return ()
    return (
        check("lab_lime_differs", source=ours.source, ours=ours.amount, lab=line.amount, unit=line.unit),
    )  # fmt: skip
