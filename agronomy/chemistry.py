"""What a compound can neutralize, by atomic weights alone.

Only an anion that takes up acid limes: carbonate, bicarbonate, hydroxide, oxide and silicate. Calcium is not the
active part: as chloride or sulfate it is the salt of a strong acid and neutralizes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from molmass import Formula, FormulaError

from agronomy.findings import Finding, stop

# Acid that one group of each kind takes up, in equivalents: its own charge.
LIMING_ANIONS: Mapping[str, int] = {"CO3": 2, "HCO3": 1, "OH": 1, "O": 2, "SiO3": 2, "SiO4": 4}
SALT_ANIONS: Mapping[str, int] = {"SO4": 2, "Cl": 1, "NO3": 1}
ANION_NAMES: Mapping[str, str] = {"SO4": "sulfate", "Cl": "chloride", "NO3": "nitrate"}
BASE_CATIONS: Mapping[str, int] = {"Ca": 2, "Mg": 2, "K": 1, "Na": 1}
_PART = re.compile(
    r"(?:\((?P<inside>HCO3|CO3|OH|SiO4|SiO3|SO4|NO3|H2O)\)"
    r"|(?P<plain>HCO3|CO3|OH|SiO4|SiO3|SO4|NO3|H2O|Cl|Ca|Mg|Na|K|O))(?P<count>\d*)"
)
_HYDRATE = re.compile(r"[·.*](\d*)H2O$")
INERT = "inert"


@dataclass(frozen=True, slots=True)
class CompoundValue:
    """The CCE of a compound (percent) and, where it is 0, the reason as a finding."""

    cce_percent: float
    findings: tuple[Finding, ...] = ()


def _spelled(formula: str) -> str:
    """Water of crystals as a group, double compounds in one: CaSO4·2H2O as CaSO4(H2O)2, CaCO3·MgCO3 as CaCO3MgCO3."""
    return _HYDRATE.sub(r"(H2O)\1", formula).replace("·", "")


@cache
def molar_mass(formula: str) -> float:
    """Grams per mole. Raises `ValueError` for a formula that is none."""
    try:
        return float(Formula(_spelled(formula)).mass)
    except FormulaError as error:
        raise ValueError(f"{formula!r} is not a chemical formula: {str(error).splitlines()[0]}") from None


def _parts(formula: str) -> Mapping[str, int]:
    """How many of each cation, anion and water a formula holds; raises `ValueError` for anything else in it."""
    written, place = _spelled(formula), 0
    counts: dict[str, int] = {}
    while place < len(written):
        found = _PART.match(written, place)
        if found is None:
            known = ", ".join((*BASE_CATIONS, *LIMING_ANIONS, *SALT_ANIONS))
            raise ValueError(f"what {formula} does to acid is not known here; allowed are compounds of {known}")
        group = found["inside"] or found["plain"]
        counts[group] = counts.get(group, 0) + int(found["count"] or 1)
        place = found.end()
    return counts


@cache
def pure_compound(formula: str) -> CompoundValue:
    """CCE of a pure compound: acid it takes up against CaCO3 of the same weight, in percent.

    Zero, with the reason, for a salt without a liming anion. Raises `ValueError` for a formula that is none, whose
    charges do not balance, or that holds anything but bases and salts of Ca, Mg, K and Na.
    """
    mass, parts = molar_mass(formula), _parts(formula)
    charge = sum(BASE_CATIONS[one] * count for one, count in parts.items() if one in BASE_CATIONS)
    takes_up = sum(LIMING_ANIONS[one] * count for one, count in parts.items() if one in LIMING_ANIONS)
    salt = sum(SALT_ANIONS[one] * count for one, count in parts.items() if one in SALT_ANIONS)
    if charge == 0 or charge != takes_up + salt:
        raise ValueError(
            f"what {formula} does to acid is not known here: {charge} charges of metal against {takes_up + salt} others"
        )
    if takes_up == 0:
        named = " and ".join(ANION_NAMES[one] for one in parts if one in ANION_NAMES)
        return CompoundValue(0.0, (stop("no_liming_anion", source="atomic_weights", formula=formula, anion=named),))
    return CompoundValue(molar_mass("CaCO3") / 2 * takes_up / mass * 100)


COMMON_BASES = (
    "CaCO3", "MgCO3", "CaMg(CO3)2", "Ca(OH)2", "Mg(OH)2", "CaO", "MgO", "CaSiO3", "MgSiO3", "K2CO3", "Na2CO3",
    "KHCO3", "NaHCO3", "KOH", "NaOH",
)  # fmt: skip
COMMON_SALTS = (
    "CaSO4", "CaSO4(H2O)2", "CaSO4·2H2O", "MgSO4", "MgSO4(H2O)7", "CaCl2", "MgCl2", "KCl", "NaCl", "K2SO4",
    "Ca(NO3)2", "KNO3",
)  # fmt: skip
ACID_TAKEN_UP: Mapping[str, int] = {
    one: sum(LIMING_ANIONS.get(part, 0) * count for part, count in _parts(one).items()) for one in COMMON_BASES
}
"""Equivalents of acid that one formula unit of the usual liming compounds takes up."""
WITHOUT_LIMING_ANION: Mapping[str, str] = {
    one: next(ANION_NAMES[part] for part in _parts(one) if part in ANION_NAMES) for one in COMMON_SALTS
}
"""The salts that are sold beside lime or as lime, with the anion that makes them worth nothing."""


def pure_compound_cce(formula: str) -> float:
    """CCE of a pure compound, percent; see `pure_compound`."""
    return pure_compound(formula).cce_percent


@cache
def element_share(formula: str, element: str) -> float:
    """Share (0 to 1) of a compound's weight that is one element, as labels state "calcium (Ca)".

    Raises `ValueError` for a formula that is none, or an element that is not in it.
    """
    molar_mass(formula)
    composition = Formula(_spelled(formula)).composition()
    if element not in composition:
        raise ValueError(f"{element!r} is not in {formula}; it holds {', '.join(composition)}")
    return float(composition[element].fraction)


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
