"""Checking what a lime label claims against chemistry: the most a package can supply, and what would really do."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from agronomy.chemistry import element_share, pure_compound
from agronomy.findings import Finding, Step, Working, check, most_severe_first, note, stop

WATER_LB_PER_GAL = 8.345
CALCITE_G_PER_CM3 = 2.71
LIGHTEST_LB_PER_GAL = 7.5
"""Lighter than any water-borne product that a label can mean (our bound)."""
HEAVIEST_LB_PER_GAL = WATER_LB_PER_GAL * 3.65
"""A solid block of the densest liming compound, magnesium oxide; no jug of anything weighs more."""
MOST_SOLIDS_PERCENT = 75.0
"""A suspension of more cannot be pumped (derived)."""
TOKEN_SHARE = 0.05
NEGLIGIBLE_LB = 1e-6
"""Half a milligram of CaCO3 in a package: no number of packages is worth counting."""
INSOLUBLE = ("CaCO3", "MgCO3", "CaMg(CO3)2", "Ca(OH)2", "Mg(OH)2", "CaSiO3", "MgSiO3")
"""What stays a suspension in water, so that its weight a gallon follows from its solids."""


def suspension_density(solids_percent: float) -> float:
    """lb/gal of a suspension of calcite in water, from its solids by weight (0 to 100 %)."""
    if not 0 <= solids_percent <= 100:
        raise ValueError(f"{solids_percent:g} % solids is not 0 to 100 %")
    share = solids_percent / 100
    return WATER_LB_PER_GAL / (share / CALCITE_G_PER_CM3 + (1 - share))


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

    `percent_of` names the element that the percent is of ("Ca"), where the label states that instead of the
    ingredient. `density_lb_per_gal` where the label gives it. `claims_lb_lime` is what one package is said to equal,
    lb of ag lime or CaCO3; `use_packages_per_acre` what it recommends; `price` dollars a package.
    """

    formula: str
    percent: float
    contents: float
    unit: str = "lb"
    density_lb_per_gal: float | None = None
    claims_lb_lime: float | None = None
    use_packages_per_acre: float | None = None
    price: float | None = None
    percent_of: str | None = None


@dataclass(frozen=True, slots=True)
class LabelCheck:
    """What chemistry answers. `caco3_lb` is the most one package can supply; shares are of the plot's need.

    `claim_ratio` is the claim over that most: over 1 impossible, and the smaller the more modest. `packages_needed`
    is for the whole plot, `packages_per_acre` for one acre of it.
    """

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
    packages_per_acre: float | None = None


def check_label(label: Label, *, need_lb_per_acre: float | None, acres: float) -> LabelCheck:
    """Hold a label to chemistry for a plot that needs `need_lb_per_acre` of effective CaCO3.

    Raises `ValueError` for percent outside 0 to 100 (or over what the pure ingredient holds of an element), contents
    or acres not over 0, an unknown unit or formula, or a weight per gallon that no product has.
    """
    _check(label, need_lb_per_acre, acres)
    compound = pure_compound(label.formula)
    percent, of_element = _percent_of_compound(label)
    density, found = _density(label, percent)
    weight = label.contents if density is None else label.contents * density
    active = weight * percent / 100
    caco3 = active * compound.cce_percent / 100
    written = f"{label.contents:g} lb" if density is None else f"{label.contents:g} gal x {density:.4g} lb/gal"
    working = (
        *of_element,
        Step("weight of one package", written, weight, "lb", ""),
        Step("active ingredient", f"{weight:.4g} x {percent:.4g} %", active, "lb", ""),
        Step("as CaCO3, if all of it is pure and reacts", f"{active:.4g} x {compound.cce_percent:.4g} %", caco3, "lb",
             "atomic_weights"),
    )  # fmt: skip
    verdict, ratio, judged = _verdict(label, caco3)
    need = need_lb_per_acre * acres if need_lb_per_acre else None
    packages = ceil(need / caco3 - 1e-9) if need and caco3 > NEGLIGIBLE_LB else None
    share = _recommended_share(label, caco3, need_lb_per_acre)
    if share is not None and 0 < share < 100 * TOKEN_SHARE:
        judged.append(check("label_token_rate", share_percent=share))
    return LabelCheck(
        caco3_lb=caco3,
        cce_percent=compound.cce_percent,
        verdict=verdict,
        claim_ratio=ratio,
        share_of_need_percent=100 * caco3 / need if need else None,
        recommended_share_percent=share,
        packages_needed=packages,
        cost_of_need=None if packages is None or label.price is None else packages * label.price,
        findings=most_severe_first((*compound.findings, *judged, *found, *_about_nitrate(label))),
        working=working,
        packages_per_acre=need_lb_per_acre / caco3 if need_lb_per_acre and packages else None,
    )


def _check(label: Label, need_lb_per_acre: float | None, acres: float) -> None:
    if not 0 <= label.percent <= 100:
        raise ValueError(f"{label.percent:g} % active ingredient is not 0 to 100 %")
    if not label.contents > 0:
        raise ValueError(f"contents of {label.contents:g} are not over 0")
    if label.unit not in ("lb", "gal"):
        raise ValueError(f"unit {label.unit!r} is none of lb, gal")
    if not acres > 0:
        raise ValueError(f"{acres:g} acres are not over 0")
    if need_lb_per_acre is not None and not 0 <= need_lb_per_acre <= 100_000:
        raise ValueError(f"a need of {need_lb_per_acre:g} lb/acre is not 0 to 100,000 lb/acre")
    for name in ("claims_lb_lime", "use_packages_per_acre", "price"):
        value = getattr(label, name)
        if value is not None and not value >= 0:
            raise ValueError(f"{name} of {value:g} is not 0 or more")


def _percent_of_compound(label: Label) -> tuple[float, Working]:
    """The percent of the ingredient itself, where the label states only an element of it."""
    if label.percent_of is None:
        return label.percent, ()
    share = element_share(label.formula, label.percent_of)
    percent = label.percent / share
    if percent > 100:
        most = 100 * share
        raise ValueError(
            f"{label.percent:g} % {label.percent_of} is not 0 to {most:.3g} %, which pure {label.formula} holds"
        )
    formula = f"{label.percent:g} % {label.percent_of} / {share:.4g}"
    return percent, (Step(f"{label.formula} from its {label.percent_of}", formula, percent, "%", "atomic_weights"),)


def _density(label: Label, percent: float) -> tuple[float | None, list[Finding]]:
    """Pounds a gallon (None for a dry product), as stated or as a suspension of that strength weighs."""
    if label.unit == "lb":
        return None, []
    found: list[Finding] = []
    if percent > MOST_SOLIDS_PERCENT and label.formula in INSOLUBLE:
        found.append(check("label_unpumpable", source="ordinary_suspension", percent=percent))
    stated = label.density_lb_per_gal
    if stated is None:
        density = suspension_density(percent)
        if pure_compound(label.formula).cce_percent > 0:
            found.append(note("label_density_assumed", source="atomic_weights", density_lb_per_gal=density))
        return density, found
    if not LIGHTEST_LB_PER_GAL <= stated <= HEAVIEST_LB_PER_GAL:
        raise ValueError(f"{stated:g} lb/gal is not {LIGHTEST_LB_PER_GAL:g} to {HEAVIEST_LB_PER_GAL:.4g} lb/gal")
    return stated, found


def _recommended_share(label: Label, caco3: float, need_lb_per_acre: float | None) -> float | None:
    if not need_lb_per_acre or label.use_packages_per_acre is None:
        return None
    return 100 * label.use_packages_per_acre * caco3 / need_lb_per_acre


def _about_nitrate(label: Label) -> tuple[Finding, ...]:
    return (note("label_calcium_nitrate", source="calcium_nitrate_acidity"),) if label.formula == "Ca(NO3)2" else ()


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
    found_note = note("label_claim_possible", source="atomic_weights", claimed_lb=label.claims_lb_lime,
                      ceiling_lb=caco3, share_percent=100 * ratio)  # fmt: skip
    return "possible", ratio, [found_note]
