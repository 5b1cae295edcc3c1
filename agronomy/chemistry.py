"""What a compound can neutralize, by atomic weights alone.

Only an anion that takes up acid limes: carbonate, bicarbonate, hydroxide, oxide and silicate. Calcium is not the
active part: as chloride or sulfate it is the salt of a strong acid and neutralizes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from molmass import Formula, FormulaError

from agronomy.findings import Finding, stop

# Equivalents of acid that one formula unit takes up, by its liming part. Each carbonate and silicate takes two, each
# bicarbonate and hydroxide one, each oxide two.
ACID_TAKEN_UP: Mapping[str, int] = {
    "CaCO3": 2,
    "MgCO3": 2,
    "CaMg(CO3)2": 4,
    "Ca(OH)2": 2,
    "Mg(OH)2": 2,
    "CaO": 2,
    "MgO": 2,
    "CaSiO3": 2,
    "MgSiO3": 2,
    "K2CO3": 2,
    "Na2CO3": 2,
    "KHCO3": 1,
    "NaHCO3": 1,
    "KOH": 1,
    "NaOH": 1,
}
WITHOUT_LIMING_ANION: Mapping[str, str] = {
    "CaSO4": "sulfate",
    "CaSO4(H2O)2": "sulfate",
    "CaSO4·2H2O": "sulfate",
    "MgSO4": "sulfate",
    "MgSO4(H2O)7": "sulfate",
    "CaCl2": "chloride",
    "MgCl2": "chloride",
    "KCl": "chloride",
    "NaCl": "chloride",
    "K2SO4": "sulfate",
    "Ca(NO3)2": "nitrate",
    "KNO3": "nitrate",
}
_SPELLINGS = {"CaSO4·2H2O": "CaSO4(H2O)2", "CaSO4.2H2O": "CaSO4(H2O)2"}
INERT = "inert"


@dataclass(frozen=True, slots=True)
class CompoundValue:
    """The CCE of a compound (percent) and, where it is 0, the reason as a finding."""

    cce_percent: float
    findings: tuple[Finding, ...] = ()


@cache
def molar_mass(formula: str) -> float:
    """Grams per mole. Raises `ValueError` for a formula that is none."""
    try:
        return float(Formula(_SPELLINGS.get(formula, formula)).mass)
    except FormulaError as error:
        raise ValueError(f"{formula!r} is not a chemical formula: {str(error).splitlines()[0]}") from None


@cache
def pure_compound(formula: str) -> CompoundValue:
    """CCE of a pure compound: acid it takes up against CaCO3 of the same weight, in percent.

    Zero, with the reason, for a salt without a liming anion. Raises `ValueError` for a formula that is not known here.
    """
    mass = molar_mass(formula)
    if formula in WITHOUT_LIMING_ANION:
        why = stop("no_liming_anion", source="atomic_weights", formula=formula, anion=WITHOUT_LIMING_ANION[formula])
        return CompoundValue(0.0, (why,))
    if formula not in ACID_TAKEN_UP:
        known = ", ".join((*ACID_TAKEN_UP, *WITHOUT_LIMING_ANION))
        raise ValueError(f"what {formula} does to acid is not known here; known are {known}")
    per_equivalent = mass / ACID_TAKEN_UP[formula]
    return CompoundValue(molar_mass("CaCO3") / 2 / per_equivalent * 100)


def pure_compound_cce(formula: str) -> float:
    """CCE of a pure compound, percent; see `pure_compound`."""
    return pure_compound(formula).cce_percent


def mixture_cce(parts: Mapping[str, float]) -> float:
    """CCE of a mixture given as percent by weight of each formula; what is left to 100 (or "inert") counts nothing.

    Raises `ValueError` for a negative part, parts over 100 % together, or an unknown formula.
    """
    for formula, percent in parts.items():
        if not 0 <= percent <= 100:
            raise ValueError(f"{percent:g} % of {formula} is not 0 to 100 %")
    total = sum(parts.values())
    if total > 100 + 1e-9:
        raise ValueError(f"the parts add up to {total:g} %, allowed are 100 % and less")
    return sum(percent / 100 * pure_compound_cce(formula) for formula, percent in parts.items() if formula != INERT)


def caco3_per_meq_lb_per_acre(meq_100g: float, *, soil_lb_per_acre: float = 2_000_000.0) -> float:
    """Pounds of CaCO3 that neutralize an acidity: 50 mg for each milliequivalent of 100 g of soil (exact identity).

    Raises `ValueError` for a negative acidity.
    """
    if meq_100g < 0:
        raise ValueError(f"an acidity of {meq_100g:g} meq/100 g is not 0 or more")
    return meq_100g * 50 / 100_000 * soil_lb_per_acre


def caco3_per_n() -> float:
    """Pounds of CaCO3 that one acid equivalent per N asks for, per pound of N: the step to full nitrification."""
    return molar_mass("CaCO3") / 2 / molar_mass("N")


def caco3_per_s() -> float:
    """Pounds of CaCO3 that 1 lb of elemental sulfur uses up once it is sulfate: two equivalents."""
    return molar_mass("CaCO3") / molar_mass("S")
