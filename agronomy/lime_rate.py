"""From a requirement to pounds of a product: reference, depth and moisture each once, less what was spread."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor

from agronomy.findings import Finding, Hazard, Step, Working, check, note, stop
from agronomy.lime_requirement import LimeRequirement
from agronomy.lime_requirement.kinds import ENM_LB, UNIT_LB_PER_ACRE
from agronomy.liming_material import CAUSTIC, NO_LIMING_VALUE, LimingMaterial, MaterialValue, material_value

INCORPORATED_LIMIT_LB = 8000.0
"""Lime worked in is split from here on (4 ton/acre, Penn State)."""
SURFACE_LIMIT_LB = 4000.0
"""Lime left on the surface, sod or no-till, is limited to this a dressing (2 ton/acre, Oregon)."""
MONTHS_BETWEEN = 6
RESIDUAL_SHARE_A_MONTH = {"mineral": 0.08, "mineral_organic": 0.16, "organic": 0.16}
TOKEN_SHARE = 0.2
"""Pellets under this share of what is owed are a token rate (trials: about a tenth does nothing)."""
DAYS_A_MONTH = 365.25 / 12


@dataclass(frozen=True, slots=True)
class SpreadLime:
    """One dressing to be credited: pounds of material as spread, an acre of the plot."""

    key: str
    spread_on: dt.date
    lb_per_acre: float
    material: LimingMaterial
    depth_in: float | None = None


@dataclass(frozen=True, slots=True)
class Owed:
    """What is still owed of a requirement, in its own unit and reference material, for the plot's depth.

    All amounts are None where the requirement gives none. `effective_lb_per_acre` is derived, to add plots together.
    """

    amount: float | None
    unit: str
    requirement_amount: float | None
    credited_after: float
    credited_before: float
    effective_lb_per_acre: float | None
    reference_kind: str
    reference_scheme: str | None
    reference_value_percent: float
    low: float | None = None
    high: float | None = None
    findings: tuple[Finding, ...] = ()
    working: Working = ()
    own_scheme: str | None = None

    @property
    def credited(self) -> float:
        """What lime spread after the sample, and lime still reacting at it, together count for."""
        return self.credited_after + self.credited_before


@dataclass(frozen=True, slots=True)
class Dressing:
    """One of the dressings a rate is split into: pounds of material an acre, months after the first."""

    lb_per_acre: float
    months_after: int


@dataclass(frozen=True, slots=True)
class MaterialRate:
    """A rate of one material as spread: pounds an acre, its range, and how it is divided."""

    lb_per_acre: float
    low_lb_per_acre: float
    high_lb_per_acre: float
    value_percent: float
    dressings: tuple[Dressing, ...]
    findings: tuple[Finding, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    working: Working = ()

    @property
    def ton_per_acre(self) -> float:
        return self.lb_per_acre / 2000


def residual_lime_share(months_since_liming: float, *, soil_class: str) -> float:
    """Percent of a dressing still to react, by North Carolina's rule: 8 % a month on mineral, 16 % on organic soils.

    Raises `ValueError` for negative months or another soil class than mineral, mineral_organic, organic.
    """
    if months_since_liming < 0:
        raise ValueError(f"{months_since_liming} months since liming is not 0 or more")
    if soil_class not in RESIDUAL_SHARE_A_MONTH:
        raise ValueError(f"soil class {soil_class!r} is none of {', '.join(RESIDUAL_SHARE_A_MONTH)}")
    return max(0.0, 100 * (1 - RESIDUAL_SHARE_A_MONTH[soil_class] * months_since_liming))


def material_amount(
    requirement: float,
    *,
    reference_value_percent: float,
    material_value_percent: float,
    moisture_percent: float = 0.0,
    requirement_depth_in: float | None = None,
    depth_in: float | None = None,
) -> float:
    """Amount of material, in the unit of `requirement`, for an amount of reference material.

    `moisture_percent` only where the material's value is on a dry basis. Depths in inches, both or neither. Raises
    `ValueError` for a value that is not over 0, moisture outside 0 to 100, a depth not over 0 or one without the other.
    """
    if requirement < 0:
        raise ValueError(f"a requirement of {requirement:g} is not 0 or more")
    if reference_value_percent <= 0 or material_value_percent <= 0:
        raise ValueError("reference and material values must be over 0 %: a material without a value cannot lime")
    if not 0 <= moisture_percent < 100:
        raise ValueError(f"moisture of {moisture_percent:g} % is not 0 to under 100 %")
    share = _depth_share(requirement_depth_in, depth_in)
    return requirement * share * reference_value_percent / material_value_percent * 100 / (100 - moisture_percent)


def _depth_share(basis_in: float | None, depth_in: float | None) -> float:
    if basis_in is None and depth_in is None:
        return 1.0
    if basis_in is None or depth_in is None or basis_in <= 0 or depth_in <= 0:
        raise ValueError("depth and the depth of the requirement are given together, both over 0 inches")
    return depth_in / basis_in


@lru_cache(maxsize=4096)
def value_for(
    material: LimingMaterial, kind: str, scheme: str | None, own_scheme: str | None = None
) -> MaterialValue:
    """The material's value against a requirement, remembered: the same few materials stand in every comparison."""
    return material_value(material, reference_kind=kind, reference_scheme=scheme, own_scheme=own_scheme)


def owed(
    requirement: LimeRequirement,
    *,
    spread: Sequence[SpreadLime],
    sample_date: dt.date,
    depth_in: float,
    soil_class: str = "mineral",
) -> Owed:
    """Lime owed: the requirement for the plot's depth, less lime spread after the sample in full, and of lime spread
    before it only the share still unreacted on the sampling date. Never under 0, never the same dressing twice.
    """
    scaled, working = _for_depth(requirement, depth_in)
    if scaled is None:
        return _nothing_known(requirement)
    after = before = 0.0
    found: list[Finding] = []
    for dressing in {one.key: one for one in spread}.values():
        credit, share, finding = _credit(requirement, dressing, sample_date, soil_class)
        if finding is not None:
            found.append(finding)
        if credit <= 0:
            continue
        if dressing.spread_on > sample_date:
            after += credit
        else:
            before += credit
        working.append(_credit_step(requirement, dressing, credit, share))
    left = max(scaled - after - before, 0.0)
    working.append(Step("still owed", f"{scaled:.4g} - {after + before:.4g}, not under 0", left, requirement.unit))
    basis = requirement.basis_in(depth_in)
    share = _depth_share(basis, depth_in)
    if requirement.amount and not requirement.depth_is_sure and basis != depth_in:
        found.append(check("table_depth_not_sure", source=requirement.source, table_depth_in=basis, depth_in=depth_in))
    low = None if requirement.low is None else max(requirement.low * share - after - before, 0.0)
    high = None if requirement.high is None else max(requirement.high * share - after - before, 0.0)
    return Owed(
        amount=left,
        unit=requirement.unit,
        requirement_amount=scaled,
        credited_after=after,
        credited_before=before,
        effective_lb_per_acre=_effective(requirement, left),
        reference_kind=requirement.reference_kind,
        reference_scheme=requirement.reference_scheme,
        reference_value_percent=requirement.reference_value_percent,
        low=low,
        high=high,
        findings=tuple(found),
        working=tuple(working),
        own_scheme=requirement.own_scheme,
    )


def _nothing_known(requirement: LimeRequirement) -> Owed:
    return Owed(
        None, requirement.unit, None, 0.0, 0.0, None, requirement.reference_kind, requirement.reference_scheme,
        requirement.reference_value_percent, own_scheme=requirement.own_scheme,
    )  # fmt: skip


def _for_depth(requirement: LimeRequirement, depth_in: float) -> tuple[float | None, list[Step]]:
    if requirement.amount is None:
        return None, []
    if depth_in <= 0:
        raise ValueError(f"a depth of {depth_in:g} inches is not over 0")
    basis = requirement.basis_in(depth_in)
    scaled = requirement.amount * depth_in / basis
    formula = f"{requirement.amount:.4g} x {depth_in:g}/{basis:.4g} in"
    return scaled, [Step("requirement for the depth limed", formula, scaled, requirement.unit, requirement.source)]


def _credit(
    requirement: LimeRequirement, dressing: SpreadLime, sample_date: dt.date, soil_class: str
) -> tuple[float, float, Finding | None]:
    """What a dressing counts for in the requirement's unit, the share of it that counts, and what is wrong."""
    if dressing.material.form in NO_LIMING_VALUE:
        return 0.0, 0.0, None
    share = 1.0
    if dressing.spread_on <= sample_date:
        months = (sample_date - dressing.spread_on).days / DAYS_A_MONTH
        share = residual_lime_share(months, soil_class=soil_class) / 100
        if share == 0:
            return 0.0, 0.0, None
    try:
        value = _value_against(requirement, dressing.material)
    except ValueError:
        return 0.0, 0.0, check("dressing_not_credited", spread_on=dressing.spread_on.isoformat(),
                               material=dressing.material.name)  # fmt: skip
    pounds = dressing.lb_per_acre * share * value.value_percent / requirement.reference_value_percent
    if requirement.unit == "lb ENM/acre":
        pounds /= ENM_LB
    return pounds / UNIT_LB_PER_ACRE[requirement.unit], share, None


def _value_against(asked: LimeRequirement | Owed, material: LimingMaterial) -> MaterialValue:
    return value_for(material, asked.reference_kind, asked.reference_scheme, asked.own_scheme)


def _credit_step(requirement: LimeRequirement, dressing: SpreadLime, credit: float, share: float) -> Step:
    value = _value_against(requirement, dressing.material)
    part = f" x {share:.0%} still reacting at the sample" if share < 1 else ""
    formula = (
        f"{dressing.lb_per_acre:,.0f} lb/acre x {value.value_percent:.4g}/{requirement.reference_value_percent:g}{part}"
    )
    source = "residual_north_carolina" if share < 1 else "lime_reference_kinds"
    text = f"{dressing.material.name}, spread {dressing.spread_on.isoformat()}"
    return Step(text, formula, credit, requirement.unit, source)


def _effective(requirement: LimeRequirement, amount: float) -> float:
    pounds = amount * UNIT_LB_PER_ACRE[requirement.unit]
    if requirement.unit == "lb ENM/acre":
        return pounds * ENM_LB
    return pounds * requirement.reference_value_percent / 100


def material_rate(
    still_owed: Owed,
    *,
    material: LimingMaterial,
    incorporated: bool,
    policy: str = "full",
    establishing_perennial: bool = False,
) -> MaterialRate | None:
    """The rate of a material that brings what is owed; None where nothing is known or the material has no value.

    `policy` is full or staged (about half now); staging is not advised just before a perennial stand is established
    by tillage, the last chance to mix lime in. Raises `ValueError` for a wrong pairing, a figure that is missing or
    another policy.
    """
    if policy not in ("full", "staged"):
        raise ValueError(f"policy {policy!r} is none of full, staged")
    if still_owed.amount is None:
        return None
    value = _value_against(still_owed, material)
    if value.value_percent <= 0:
        return None
    staged = policy == "staged" and not (establishing_perennial and incorporated)
    findings = [*value.findings, *_policy_findings(policy, staged)]
    per_unit = UNIT_LB_PER_ACRE[still_owed.unit] * still_owed.reference_value_percent / value.value_percent
    if still_owed.unit == "lb ENM/acre":
        per_unit *= ENM_LB
    part = 0.5 if staged else 1.0
    pounds = still_owed.amount * per_unit * part
    parts, split = dressings(pounds, incorporated=incorporated)
    formula = (
        f"{still_owed.amount:.4g} {still_owed.unit} x {still_owed.reference_value_percent:g}/{value.value_percent:.4g}"
        f"{' x 1/2' if staged else ''}"
    )
    step = Step("rate of the material as spread", formula, pounds, "lb/acre", "lime_reference_kinds")
    return MaterialRate(
        lb_per_acre=pounds,
        low_lb_per_acre=(still_owed.low if still_owed.low is not None else still_owed.amount) * per_unit * part,
        high_lb_per_acre=(still_owed.high if still_owed.high is not None else still_owed.amount) * per_unit * part,
        value_percent=value.value_percent,
        dressings=parts,
        findings=(*findings, *split),
        hazards=hazards_of(material),
        working=(*value.working, step),
    )


def _policy_findings(policy: str, staged: bool) -> list[Finding]:
    if policy != "staged":
        return []
    code = "staged_half_now" if staged else "staging_not_before_perennial"
    return [note(code, source="staging_practice")]


def dressings(lb_per_acre: float, *, incorporated: bool) -> tuple[tuple[Dressing, ...], tuple[Finding, ...]]:
    """Equal dressings at least 6 months apart, each under the single-dressing limit, and the finding that says so.

    Worked-in lime is split from 4 ton/acre (Penn State); on the surface no dressing is over 2 ton/acre (Oregon).
    """
    if lb_per_acre <= 0:
        return (), ()
    if incorporated:
        parts = 1 if lb_per_acre < INCORPORATED_LIMIT_LB else floor(lb_per_acre / INCORPORATED_LIMIT_LB) + 1
        source, limit = "split_penn_state", INCORPORATED_LIMIT_LB
    else:
        parts, source, limit = ceil(lb_per_acre / SURFACE_LIMIT_LB), "surface_oregon", SURFACE_LIMIT_LB
    each = lb_per_acre / parts
    made = tuple(Dressing(each, MONTHS_BETWEEN * place) for place in range(parts))
    if parts == 1:
        return made, ()
    found = check("split_dressing", source=source, dressings=parts, lb_per_acre=each, ton_per_acre=each / 2000,
                  limit_ton_per_acre=limit / 2000, months=MONTHS_BETWEEN)  # fmt: skip
    return made, (found,)


def token_rate(lb_per_acre: float, *, full_lb_per_acre: float, form: str) -> Finding | None:
    """A finding for pellets at a small part of what is owed: trials saw no effect of about a tenth."""
    if form != "pelletized" or full_lb_per_acre <= 0 or lb_per_acre >= TOKEN_SHARE * full_lb_per_acre:
        return None
    share = 100 * lb_per_acre / full_lb_per_acre
    return check(
        "token_rate_of_pellets", source="pellet_trials", share_percent=share, full_lb_per_acre=full_lb_per_acre
    )


def round_bulk(ton_per_acre: float) -> float:
    """Bulk lime in quarter-ton steps an acre, nearest; what a truck can be set to."""
    return floor(ton_per_acre * 4 + 0.5) / 4


def hazards_of(material: LimingMaterial) -> tuple[Hazard, ...]:
    """What handling this lime can do to a person."""
    found = [Hazard("caution", "lime_dust", "lime_safety")]
    if material.form in CAUSTIC:
        found.append(Hazard("danger", "caustic_lime", "lime_safety"))
    if material.form == "burnt":
        found.append(Hazard("danger", "quicklime_and_water", "lime_safety"))
    if material.form in ("quarry", "dolomitic", "marl", "slag", "shells", "wood_ash"):
        found.append(Hazard("warning", "tipping_truck", "lime_safety"))
    return tuple(found)


def no_value_finding(material: LimingMaterial) -> Finding:
    """Why a salt or gypsum is no lime."""
    return stop("no_liming_value", source="atomic_weights", material=material.name)
