"""Checking what a lime label claims against chemistry: the most a package can supply, and what would really do."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from agronomy.chemistry import pure_compound
from agronomy.findings import Finding, Step, Working, check, note, stop

WATER_LB_PER_GAL = 8.345
CALCITE_G_PER_CM3 = 2.71
LB_PER_GAL_PER_G_CM3 = WATER_LB_PER_GAL
MOST_SOLIDS_PERCENT = 75.0
"""A suspension of more cannot be pumped (derived)."""
TOKEN_SHARE = 0.05


def suspension_density(solids_percent: float) -> float:
    """lb/gal of a suspension of calcite in water, from its solids by weight (0 to 100 %)."""
    if not 0 <= solids_percent <= 100:
        raise ValueError(f"{solids_percent:g} % solids is not 0 to 100 %")
    share = solids_percent / 100
    return LB_PER_GAL_PER_G_CM3 / (share / CALCITE_G_PER_CM3 + (1 - share))


def suspension_caco3(gallons: float, *, solids_percent: float) -> float:
    """lb CaCO3 in a suspension of pure calcite in water. Gallons 0 and more, solids 0 to 100 % by weight.

    Raises `ValueError` outside those ranges.
    """
    if gallons < 0:
        raise ValueError(f"{gallons:g} gallons is not 0 or more")
    return gallons * suspension_density(solids_percent) * solids_percent / 100


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says. `formula` is its active ingredient, `percent` of it by weight; contents in `unit` (lb or gal).

    `density_lb_per_gal` where the label gives it. `claims_lb_lime` is what one package is said to equal, lb of ag lime
    or CaCO3; `use_packages_per_acre` what it recommends; `price` dollars a package.
    """

    formula: str
    percent: float
    contents: float
    unit: str = "lb"
    density_lb_per_gal: float | None = None
    claims_lb_lime: float | None = None
    use_packages_per_acre: float | None = None
    price: float | None = None


@dataclass(frozen=True, slots=True)
class LabelCheck:
    """What chemistry answers. `caco3_lb` is the most one package can supply; shares are of the plot's need."""

    caco3_lb: float
    cce_percent: float
    verdict: str  # impossible | possible | no_value | no_claim
    claim_ratio: float | None
    share_of_need_percent: float | None
    recommended_share_percent: float | None
    packages_needed: int | None
    cost_of_need: float | None
    findings: tuple[Finding, ...] = ()
    working: Working = ()


def check_label(label: Label, *, need_lb_per_acre: float | None, acres: float) -> LabelCheck:
    """Hold a label to chemistry for a plot that needs `need_lb_per_acre` of effective CaCO3.

    Raises `ValueError` for percent outside 0 to 100, contents or acres not over 0, an unknown unit or formula, or a
    liquid heavier than its own solids allow.
    """
    weight = _weight_lb(label)
    compound = pure_compound(label.formula)
    active = weight * label.percent / 100
    caco3 = active * compound.cce_percent / 100
    working = (
        Step("weight of one package", _weight_formula(label), weight, "lb", ""),
        Step("active ingredient", f"{weight:.4g} x {label.percent:g} %", active, "lb", ""),
        Step("as CaCO3", f"{active:.4g} x {compound.cce_percent:.4g} %", caco3, "lb", "atomic_weights"),
    )
    verdict, ratio, found = _verdict(label, caco3)
    need = None if need_lb_per_acre is None else need_lb_per_acre * acres
    packages = ceil(need / caco3 - 1e-9) if need and caco3 > 0 else None
    recommended = (
        None if not need_lb_per_acre or label.use_packages_per_acre is None
        else 100 * label.use_packages_per_acre * caco3 / need_lb_per_acre
    )  # fmt: skip
    if recommended is not None and 0 < recommended < 100 * TOKEN_SHARE:
        found.append(check("label_token_rate", share_percent=recommended))
    return LabelCheck(
        caco3_lb=caco3,
        cce_percent=compound.cce_percent,
        verdict=verdict,
        claim_ratio=ratio,
        share_of_need_percent=100 * caco3 / need if need else None,
        recommended_share_percent=recommended,
        packages_needed=packages,
        cost_of_need=None if packages is None or label.price is None else packages * label.price,
        findings=(*compound.findings, *found),
        working=working,
    )


def _weight_lb(label: Label) -> float:
    if not 0 <= label.percent <= 100:
        raise ValueError(f"{label.percent:g} % active ingredient is not 0 to 100 %")
    if label.contents <= 0:
        raise ValueError(f"contents of {label.contents:g} are not over 0")
    if label.unit == "lb":
        return label.contents
    if label.unit != "gal":
        raise ValueError(f"unit {label.unit!r} is none of lb, gal")
    density = label.density_lb_per_gal or suspension_density(label.percent)
    if not WATER_LB_PER_GAL * 0.9 <= density <= WATER_LB_PER_GAL * CALCITE_G_PER_CM3:
        raise ValueError(f"{density:g} lb/gal is not {WATER_LB_PER_GAL * 0.9:.1f} to {22.6:g} lb/gal")
    return label.contents * density


def _weight_formula(label: Label) -> str:
    if label.unit == "lb":
        return f"{label.contents:g} lb"
    density = label.density_lb_per_gal or suspension_density(label.percent)
    return f"{label.contents:g} gal x {density:.4g} lb/gal"


def _verdict(label: Label, caco3: float) -> tuple[str, float | None, list[Finding]]:
    if caco3 <= 0:
        return "no_value", None, []
    if label.claims_lb_lime is None:
        return "no_claim", None, []
    ratio = label.claims_lb_lime / caco3
    if ratio > 1.0:
        found = stop("label_claim_impossible", source="atomic_weights", claimed_lb=label.claims_lb_lime,
                     ceiling_lb=caco3, times=ratio)  # fmt: skip
        return "impossible", ratio, [found]
    found_note = note(
        "label_claim_possible", source="atomic_weights", claimed_lb=label.claims_lb_lime, ceiling_lb=caco3
    )
    return "possible", ratio, [found_note]
