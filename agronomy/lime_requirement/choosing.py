"""One calibration's answer, and the order in which a plot's sources of a rate are asked."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from agronomy.findings import Finding, Step, check, note, stop
from agronomy.lime_requirement.calibrations import calibration as calibration_of
from agronomy.lime_requirement.kinds import UNIT_LB_PER_ACRE, Calibration, LimeRequirement, Rate
from agronomy.lime_requirement.woodruff import FRESH_READING, STRONGEST_READING, neutralizable_acidity
from agronomy.soil import WATER_METHODS, LabLimeLine, SoilFacts
from agronomy.sources import load_table

SALT_SHIFT = 0.5
SAME_TARGET = 0.05
NEXT_TARGET_WITHIN = 0.5
"""How far above the plot's target a printed one may lie and still be taken, pH (our setting)."""
FAR_OFF_SHARE = 0.25
"""Our rate and the lab's own line are told apart from here on (our setting)."""
LAB_LINE_SHARE = 0.25
"""Share by which a lab's line may be off the field's need; the reading behind it is not told (our convention)."""
ENM_SCHEME, ENM_UNIT = "missouri_enm", "lb ENM/acre"


def requirement(
    soil: SoilFacts, *, calibration: str, target_ph: float, region: str = "warm_humid", own_scheme: str | None = None
) -> LimeRequirement:
    """The lime requirement by one calibration, for a target pH of 4 to 8.

    0 at or above the target, before anything else. A buffer of another method, a missing reading, or a reading
    outside the table gives no amount and a stop finding. `own_scheme` is the property's scheme of effective values.
    Raises `ValueError` for an unknown calibration, a target outside 4 to 8, or a soil figure that cannot be.
    """
    _check(soil, target_ph)
    found = calibration_of(calibration, region=region)
    water, before = _in_water(soil)
    rate = _rate(found, water, target_ph)
    if rate.amount is None and rate.weakly_buffered:
        before = (*before, stop("reading_weaker_than_table", source=found.key, reading=_reading(found, water)))
    elif rate.weakly_buffered:
        before = (*before, check("reading_weaker_than_table", source=found.key, reading=_reading(found, water)))
    return _made(found, rate, target_ph, before, own_scheme)


def _check(soil: SoilFacts, target_ph: float) -> None:
    """Raise `ValueError` for a target or a figure of the soil that no soil has."""
    if not 4.0 <= target_ph <= 8.0:
        raise ValueError(f"target pH {target_ph} is not 4 to 8")
    if soil.soil_ph is not None and not 3.0 <= soil.soil_ph <= 10.0:
        raise ValueError(f"soil pH {soil.soil_ph} is not 3 to 10")
    if soil.buffer_ph is not None and not 3.0 <= soil.buffer_ph <= 9.0:
        raise ValueError(f"buffer pH {soil.buffer_ph} is not 3 to 9")
    if soil.cec_meq_100g is not None and not 0 < soil.cec_meq_100g <= 200:
        raise ValueError(f"a CEC of {soil.cec_meq_100g} meq/100 g is not over 0 to 200")
    acidity = soil.exchangeable_acidity_meq_100g
    if acidity is not None and not 0 <= acidity <= 200:
        raise ValueError(f"an acidity of {acidity} meq/100 g is not 0 to 200")
    for capacity in (soil.lbc_30min_mg_kg_ph, soil.lbc_eq_mg_kg_ph):
        if capacity is not None and not 0 < capacity <= 20_000:
            raise ValueError(f"a lime buffer capacity of {capacity} mg CaCO3/kg/pH is not over 0 to 20,000")
    if soil.reactive_al_ppm is not None and not 0 <= soil.reactive_al_ppm <= 5000:
        raise ValueError(f"{soil.reactive_al_ppm} ppm reactive aluminum is not 0 to 5,000")


def _reading(found: Calibration, soil: SoilFacts) -> float | None:
    return soil.exchangeable_acidity_meq_100g if found.buffer_method is None else soil.buffer_ph


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


def _by(
    found: Calibration, soil: SoilFacts, before: tuple[Finding, ...], target: float, own_scheme: str | None
) -> LimeRequirement:
    return _made(found, _rate(found, soil, target), target, before, own_scheme)


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


def _made(
    found: Calibration, rate: Rate, target: float, before: tuple[Finding, ...], own_scheme: str | None
) -> LimeRequirement:
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
        own_scheme=own_scheme,
        shallowest_in=found.shallowest_in,
        depth_is_sure=found.depth_is_sure,
    )


def choose_requirement(
    soil: SoilFacts,
    *,
    target_ph: float,
    trigger_ph: float,
    calibration: str | None,
    region: str = "warm_humid",
    own_scheme: str | None = None,
) -> LimeRequirement:
    """The requirement of a plot by the first source that can give one.

    The lab's own line when its target is the plot's; else the buffer by the calibration made for that buffer; else
    CEC; else texture; else the rule of thumb. A reading weaker than the table while pH is under the trigger is not
    zero but an estimate, marked as weakly buffered. A reading stronger than the table gives no rate. `own_scheme` is
    the property's scheme of effective values (by default the calibration's), for methods that name none. Raises
    `ValueError` as `requirement` does.
    """
    _check(soil, target_ph)
    water, before = _in_water(soil)
    ph = water.soil_ph
    found = calibration_of(calibration, region=region) if calibration else None
    own_scheme = own_scheme or (found.reference_scheme if found else None)
    if ph is None:
        return _by(found or calibration_of("rule_of_thumb"), water, before, target_ph, own_scheme)
    if ph >= target_ph:
        return _by(found or calibration_of("cec_estimate"), water, before, target_ph, own_scheme)
    own = _by_own_table(found, water, before, target_ph, own_scheme) if found else None
    if _lab_line_fits(soil, target_ph):
        return _from_lab(soil, target_ph, (*before, *_far_off(soil, own)), own_scheme)
    if own is not None and found is not None and own[1]:
        return _weak(found, water, before, target_ph, trigger_ph, region, own_scheme)
    if own is not None and (own[0].amount is not None or _is_too_strong(own[0])):
        return own[0]
    why = _why_no_table(found, own[0] if own else None)
    return _estimate(water, (*before, *why, *_information(water)), target_ph, region, own_scheme)


def _is_too_strong(own: LimeRequirement) -> bool:
    """Whether the table itself says that this soil is beyond it: no estimate may stand in for that."""
    return any(one.code in ("reading_stronger_than_table", "acidity_beyond_table") for one in own.findings)


def _information(soil: SoilFacts) -> tuple[Finding, ...]:
    """A Woodruff reading tells the acidity to about pH 7, not a rate to the plot's target."""
    reading = soil.buffer_ph
    if soil.buffer_method != "woodruff" or reading is None or not STRONGEST_READING <= reading <= FRESH_READING:
        return ()
    return (note("woodruff_acidity", source="woodruff_buffer", lb_per_acre=neutralizable_acidity(reading)),)


def _by_own_table(
    found: Calibration, soil: SoilFacts, before: tuple[Finding, ...], target: float, own_scheme: str | None
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
            return _made(found, instead, near[0], (*before, used), own_scheme), instead.weakly_buffered
    return _made(found, rate, target, before, own_scheme), rate.weakly_buffered


def _weak(
    found: Calibration,
    soil: SoilFacts,
    before: tuple[Finding, ...],
    target: float,
    trigger: float,
    region: str,
    own_scheme: str | None,
) -> LimeRequirement:
    """Weaker than the table: an estimate while pH is under the trigger, else nothing yet."""
    assert soil.soil_ph is not None
    reading = _reading(found, soil)
    if soil.soil_ph < trigger:
        code = "weakly_buffered" if found.buffer_method is not None else "acidity_under_table"
        weak = check(code, source=found.key, **{"buffer_ph" if found.buffer_method else "acidity": reading})
        return _estimate(soil, (*before, weak), target, region, own_scheme)
    step = Step(f"reading {reading:.2f} is weaker than the table and pH is not under the trigger {trigger:g}",
                "", 0.0, found.unit, found.key)  # fmt: skip
    return _made(found, Rate(0.0, 0.0, 0.0, "at_target", working=(step,)), target, before, own_scheme)


def _why_no_table(found: Calibration | None, own: LimeRequirement | None) -> tuple[Finding, ...]:
    """Why the table gave nothing, now as something to check, since an estimate stands in."""
    if found is None or own is None:
        return (note("no_calibration_for_state"),)
    return tuple(check(one.code, source=one.source, **one.values) for one in own.findings if one.severity == "stop")


def _estimate(
    soil: SoilFacts, before: tuple[Finding, ...], target: float, region: str, own_scheme: str | None
) -> LimeRequirement:
    """CEC, else texture, else the rule of thumb: always an estimate, and to be retested.

    A CEC beyond what its estimate was made for gives way to the texture, where that is known.
    """
    by_texture = soil.texture is not None or soil.organic_soil
    if soil.cec_meq_100g is not None and not soil.organic_soil and not (by_texture and _cec_is_beyond(soil)):
        key = "cec_estimate"
    else:
        key = "texture_estimate" if by_texture else "rule_of_thumb"
    found = calibration_of(key, region=region)
    light = (check("light_soil_over_liming", source="practice_light_soil"),) if soil.is_sandy else ()
    rate = _rate(found, soil, target)
    if key == "rule_of_thumb":
        rate = _for_one_season(rate, found)
    told = (*before, note("estimate_retest", source=key, method=found.title), *light)
    return _made(found, rate, target, told, own_scheme)


@cache
def _estimate_limits() -> tuple[float, float]:
    """The CEC (meq/100 g) from which the estimate from CEC no longer holds, and the tons of one season by thumb."""
    return float(load_table("cec_estimate")["form"]["cec_high"]), float(load_table("rule_of_thumb")["form"]["most"])


def _cec_is_beyond(soil: SoilFacts) -> bool:
    return soil.cec_meq_100g is not None and soil.cec_meq_100g >= _estimate_limits()[0]


def _for_one_season(rate: Rate, found: Calibration) -> Rate:
    """The rule of thumb is trusted for one ton a season; what it asks beyond that waits for the retest."""
    most = _estimate_limits()[1]
    if rate.amount is None or rate.amount <= most:
        return rate
    step = Step("at most a season, then retest", "", most, found.unit, found.key)
    told = check("rule_of_thumb_capped", source=found.key, whole=rate.amount, amount=most, unit=found.unit)
    return Rate(most, min(rate.low or 0.0, most), most, "season_limit", (*rate.findings, told), (*rate.working, step))


def _lab_line_fits(soil: SoilFacts, target: float) -> bool:
    line = soil.lab_line
    return line is not None and line.target_ph is not None and abs(line.target_ph - target) < SAME_TARGET


def _from_lab(
    soil: SoilFacts, target: float, findings: tuple[Finding, ...], own_scheme: str | None
) -> LimeRequirement:
    line = soil.lab_line
    assert line is not None
    amount, unit = _lab_amount(line)
    step = Step(f"the lab's own line, to pH {target:g}", "", amount, unit, "lab_line")
    return LimeRequirement(
        amount=amount,
        unit=unit,
        depth_in=line.depth_in,
        target_ph=target,
        method="lab_line",
        reference_kind=line.reference_kind,  # type: ignore[arg-type]
        reference_scheme=line.reference_scheme,
        reference_value_percent=line.reference_value_percent,
        status="published",
        source="lab_line",
        low=amount * (1 - LAB_LINE_SHARE),
        high=amount * (1 + LAB_LINE_SHARE),
        range_basis="lab_line_quarter",
        findings=findings,
        working=(step,),
        own_scheme=own_scheme,
    )


def _lab_amount(line: LabLimeLine) -> tuple[float, str]:
    """The line's amount and unit. A line in effective neutralizing material is pounds of that, not of CaCO3."""
    if line.reference_scheme == ENM_SCHEME and line.unit != ENM_UNIT:
        return line.amount * UNIT_LB_PER_ACRE[line.unit], ENM_UNIT
    return line.amount, line.unit


def _far_off(soil: SoilFacts, own: tuple[LimeRequirement, bool] | None) -> tuple[Finding, ...]:
    """Our table's rate beside the lab's line, where both are of the same kind and differ by more than a quarter.

    Depth, unit and reference value are evened out first, and the lab's line is told in our table's terms.
    """
    line = soil.lab_line
    if own is None or line is None or own[0].amount is None or own[0].unit == ENM_UNIT:
        return ()
    ours = own[0]
    if (ours.reference_kind, ours.reference_scheme) != (line.reference_kind, line.reference_scheme):
        return ()
    pounds = line.amount * UNIT_LB_PER_ACRE[line.unit] * line.reference_value_percent / ours.reference_value_percent
    theirs = pounds * ours.depth_in / line.depth_in / UNIT_LB_PER_ACRE[ours.unit]
    larger = max(own[0].amount, theirs)
    if larger == 0 or abs(own[0].amount - theirs) / larger <= FAR_OFF_SHARE:
        return ()
    return (check("lab_lime_differs", source=ours.source, ours=own[0].amount, lab=theirs, unit=ours.unit),)
