"""A liming material as analysed, and the ranges that its figures can have."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from agronomy.chemistry import pure_compound_cce
from agronomy.findings import Finding, Working

FORMS = (
    "quarry", "pelletized", "fluid", "hydrated", "burnt", "dolomitic", "wood_ash", "marl", "slag", "shells", "gypsum",
    "salt", "other",
)  # fmt: skip
NO_LIMING_VALUE = ("gypsum", "salt")
CAUSTIC = ("hydrated", "burnt", "wood_ash")
DUST_FINE = ("hydrated", "burnt", "fluid")
"""Forms that are finer than every sieve of every scheme, so that an analysis without sieves is complete."""
LARGEST_CCE = 250.0  # magnesium oxide, the strongest base there is by weight, is 248.3
STRONGEST_PART: Mapping[str, str] = MappingProxyType(
    {
        "quarry": "CaMg(CO3)2", "pelletized": "CaMg(CO3)2", "dolomitic": "CaMg(CO3)2", "marl": "CaMg(CO3)2",
        "shells": "CaMg(CO3)2", "fluid": "Mg(OH)2", "hydrated": "Mg(OH)2", "burnt": "MgO", "slag": "CaO",
        "wood_ash": "CaO",
    }
)  # fmt: skip
"""The strongest compound each form can consist of; its own CCE is the most that an analysis can honestly give."""
LAB_ROUNDING = 0.5
"""CCE percent that a laboratory's rounding may add to a pure compound."""


@dataclass(frozen=True, slots=True)
class LimingMaterial:
    """A product as analysed: percent by weight. `passing_percent` pairs a US mesh with the percent that passes it.

    `declared` pairs a scheme with the value a label states, as is. `moisture_percent` is of the material as spread.
    `solids_percent` and `density_lb_per_gal` are a suspension's; its CCE is that of the solids.
    """

    key: str
    name: str
    form: str
    cce_percent: float | None = None
    passing_percent: tuple[tuple[float, float], ...] = ()
    moisture_percent: float = 0.0
    declared: tuple[tuple[str, float], ...] = ()
    solids_percent: float | None = None
    density_lb_per_gal: float | None = None
    mg_percent: float | None = None


@dataclass(frozen=True, slots=True)
class SchemeValue:
    """A fineness factor or effective value; `unit` is percent or lb/ton."""

    value: float
    unit: str
    findings: tuple[Finding, ...] = ()
    working: Working = ()


@dataclass(frozen=True, slots=True)
class MaterialValue:
    """What a material is worth against a requirement, percent of the material as spread."""

    value_percent: float
    findings: tuple[Finding, ...] = ()
    working: Working = ()


def most_cce_percent(form: str | None) -> float:
    """The largest CCE (percent) that a form can have, by the strongest compound it may consist of; 250 unnamed."""
    part = STRONGEST_PART.get(form or "")
    return LARGEST_CCE if part is None else pure_compound_cce(part) + LAB_ROUNDING


def checked_cce(cce_percent: float, *, form: str | None = None) -> float:
    """The CCE; raises `ValueError` outside 0 to what the pure compound of its form has (250 % for no named form)."""
    most = most_cce_percent(form)
    if not 0 <= cce_percent <= most:
        kind = f" for {form.replace('_', ' ')}" if form in STRONGEST_PART and form else ""
        raise ValueError(f"a CCE of {cce_percent:g} % is not 0 to {most:.4g} %{kind}: no pure base is stronger")
    return cce_percent


def checked_moisture(moisture_percent: float) -> float:
    """The moisture; raises `ValueError` outside 0 to 100 %."""
    if not 0 <= moisture_percent < 100:
        raise ValueError(f"moisture of {moisture_percent:g} % is not 0 to under 100 %")
    return moisture_percent


def checked_solids(solids_percent: float) -> float:
    """The solids of a suspension; raises `ValueError` outside 0 to 100 %."""
    if not 0 < solids_percent <= 100:
        raise ValueError(f"{solids_percent:g} % solids is not over 0 to 100 %")
    return solids_percent
