"""Fertilizers and manures: what is in them, what they weigh, what lime they use up and how they can hurt.

Anhydrous ammonia takes licensed handling: it is not in the table, and no product of that name is taken.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Any, Literal, get_args

from agronomy.acidification import BASIC_MANURE, material_acidity, season_acidity, sulfur_acidity
from agronomy.findings import Hazard
from agronomy.sources import load_table, source

Form = Literal["granular", "liquid", "manure"]
FORMS: tuple[Form, ...] = get_args(Form)
NEVER_FORMS = ("anhydrous_ammonia", "anhydrous ammonia")
OTHER_NUTRIENTS = ("s", "mg", "ca", "b", "zn", "mn", "cu")
BAG_LB = 50.0
"""Weight of a bag unless its label says otherwise."""
AMMONIUM_NITRATE_PERCENT_N = 28.0
_TABLE = "fertilizer_materials"
_HANDLING = "fertilizer_handling"


@dataclass(frozen=True, slots=True)
class Fertilizer:
    """A product by its label: percent N, P2O5, K2O and others (0 to 100) of the material as spread.

    `nitrogen_source` names what its N is, for its acidity; `elemental_sulfur` tells that its S has yet to turn acid.
    `sources` names the source of a figure.
    """

    key: str
    name: str
    n_percent: float = 0.0
    p2o5_percent: float = 0.0
    k2o_percent: float = 0.0
    other_percent: Mapping[str, float] = field(default_factory=dict, compare=False)
    form: Form = "granular"
    nitrogen_source: str = ""
    elemental_sulfur: bool = False
    bulk_density_lb_per_ft3: tuple[float, float] | None = None
    lb_per_gal: float | None = None
    salt_index: float | None = None
    bag_lb: float = BAG_LB
    note: str = ""
    sources: Mapping[str, str] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        told = f"{self.key} {self.name} {self.form} {self.nitrogen_source}".casefold().replace("-", "_")
        if any(form in told for form in NEVER_FORMS):
            raise ValueError(f"{self.name or self.key}: anhydrous ammonia is never offered; it takes licensed handling")
        if self.form not in FORMS:
            raise ValueError(f"{self.key}: form {self.form!r} is none of {', '.join(FORMS)}")
        main = (self.n_percent, self.p2o5_percent, self.k2o_percent)
        for percent in (*main, *self.other_percent.values()):
            if not (math.isfinite(percent) and 0 <= percent <= 100):
                raise ValueError(f"{self.key}: {percent} percent is not 0 to 100")
        unknown = self.other_percent.keys() - set(OTHER_NUTRIENTS)
        if unknown:
            raise ValueError(f"{self.key}: {', '.join(sorted(unknown))} is none of {', '.join(OTHER_NUTRIENTS)}")
        if not 1 <= self.bag_lb <= 5000:
            raise ValueError(f"{self.key}: a bag of {self.bag_lb} lb is not 1 to 5000 lb")

    @property
    def grade(self) -> str:
        """The grade as the label prints it, such as 18-46-0 or 21-0-0-24S."""
        plain = "-".join(f"{percent:g}" for percent in (self.n_percent, self.p2o5_percent, self.k2o_percent))
        sulfur = self.other_percent.get("s", 0.0)
        return f"{plain}-{sulfur:g}S" if sulfur else plain

    def percent(self, nutrient: str) -> float:
        """Percent by label of a nutrient: `n`, `p2o5`, `k2o` or one of `OTHER_NUTRIENTS`."""
        if nutrient in ("n", "p2o5", "k2o"):
            return (self.n_percent, self.p2o5_percent, self.k2o_percent)[("n", "p2o5", "k2o").index(nutrient)]
        return self.other_percent.get(nutrient, 0.0)

    def available_share(self, nutrient: str) -> float:
        """Pounds of a nutrient in the first year for one pound of material: of manure N only half counts."""
        share = self.percent(nutrient) / 100
        if self.form == "manure":
            share *= manure_availability().get(nutrient, (100.0, 100.0))[0] / 100
        return share

    @property
    def acidity_lb_per_lb(self) -> float:
        """lb CaCO3 that one pound of the material uses up, below 0 where it sweetens."""
        found = self.n_percent / 100 * acidity_per_lb_n(self._acidity_source)[0] if self.n_percent else 0.0
        return found + (sulfur_acidity(self.percent("s") / 100) if self.elemental_sulfur else 0.0)

    @property
    def acidity_is_known(self) -> bool:
        """Whether a table gives the acidity of its N; for mixed N the figure of urea stands in."""
        return not self.n_percent or acidity_per_lb_n(self._acidity_source)[1]

    @property
    def _acidity_source(self) -> str:
        return "manure" if self.form == "manure" else self.nitrogen_source

    @property
    def is_urea(self) -> bool:
        """Whether its N is lost to the air from the surface: urea and UAN."""
        return self.nitrogen_source in ("urea", "uan")

    @property
    def is_ammonium_nitrate(self) -> bool:
        """Whether it is an oxidizer with storage rules: ammonium nitrate as such, not as a part of a blend."""
        return self.nitrogen_source == "ammonium_nitrate" and self.n_percent >= AMMONIUM_NITRATE_PERCENT_N


@cache
def materials() -> Mapping[str, Fertilizer]:
    """The materials table by key."""
    return MappingProxyType({key: _parsed(key, raw) for key, raw in load_table(_TABLE)["materials"].items()})


def material(key: str) -> Fertilizer:
    """One material of the table; raises `ValueError` for an unknown key."""
    try:
        return materials()[key]
    except KeyError:
        raise ValueError(f"no material {key!r}; there are {', '.join(materials())}") from None


def _parsed(key: str, raw: Mapping[str, Any]) -> Fertilizer:
    named: dict[str, str] = {}

    def figure(name: str) -> tuple[float, ...] | None:
        if name not in raw:
            return None
        *values, named[name] = raw[name]
        source(named[name])
        return tuple(values)

    density, gallon, salt = (figure(name) for name in ("bulk_density", "lb_per_gal", "salt_index"))
    named["grade"] = raw.get("analysis_source", "material_densities")
    n, p2o5, k2o = raw["grade"]
    return Fertilizer(
        key=key, name=raw["name"], n_percent=n, p2o5_percent=p2o5, k2o_percent=k2o,
        other_percent=MappingProxyType(raw.get("other", {})), form=raw.get("form", "granular"),
        nitrogen_source=raw.get("nitrogen_source", ""), elemental_sulfur=raw.get("elemental_sulfur", False),
        bulk_density_lb_per_ft3=(density[0], density[1]) if density else None,
        lb_per_gal=gallon[0] if gallon else None, salt_index=salt[0] if salt else None,
        bag_lb=raw.get("bag_lb", BAG_LB), note=raw.get("note", ""), sources=MappingProxyType(named),
    )  # fmt: skip


@cache
def manure_availability() -> Mapping[str, tuple[float, float]]:
    """First-year availability of manure by nutrient, low and high percent."""
    raw = load_table(_TABLE)["manure_availability"]
    return MappingProxyType({name: (pair[0], pair[1]) for name, pair in raw.items() if name != "source"})


NITROGEN_SOURCES = (
    "urea", "ammonium_nitrate", "ammonium_sulfate", "uan", "map", "dap", "calcium_ammonium_nitrate", "calcium_nitrate",
    "sodium_nitrate", "potassium_nitrate", "compound",
)  # fmt: skip
"""What the N of a product may be; `compound` is a blend whose parts are not named."""


@cache
def acidity_per_lb_n(nitrogen_source: str) -> tuple[float, bool]:
    """lb CaCO3 for 1 lb N of a source by the tables of nitrogen acidity, and whether one of them gives it.

    Manure counts nothing. Nitrogen of no known kind goes by the figure of urea, the least of the acid ones.
    """
    if nitrogen_source in BASIC_MANURE:
        return 0.0, True
    if nitrogen_source == "sodium_nitrate":  # only the table by material has it
        return material_acidity("alabama_anr_174", material="sodium_nitrate", material_lb=100 / 16), True
    found = season_acidity([(nitrogen_source, 1.0)])
    if found.bound_lb_caco3 is not None:
        return found.lb_caco3, True
    return season_acidity([("urea", 1.0)]).lb_caco3, False


_GRADE_PARTS = ("n", "p2o5", "k2o")


@cache
def grade_percent(grade: str, nutrient: str) -> float:
    """Percent of a nutrient in a grade such as `18-46-0` or `21-0-0-24S`; raises `ValueError` for no grade."""
    parts = grade.strip().upper().split("-")
    try:
        if len(parts) not in (3, 4):
            raise ValueError
        found = dict(zip(_GRADE_PARTS, (float(part) for part in parts[:3]), strict=True))
        if len(parts) == 4:
            found["s"] = float(parts[3].removesuffix("S"))
    except ValueError:
        raise ValueError(f"{grade!r} is no grade such as 18-46-0 or 21-0-0-24S") from None
    key = nutrient.strip().casefold()
    if key not in (*_GRADE_PARTS, "s"):
        raise ValueError(f"nutrient {nutrient!r} is none of N, P2O5, K2O, S")
    percent = found.get(key, 0.0)
    if not 0 <= percent <= 100 or sum(found.values()) > 100:
        raise ValueError(f"the parts of {grade!r} are not 0 to 100 percent together")
    return percent


def material_for_nutrient(grade: str, nutrient: str, *, need_lb_per_acre: float) -> float:
    """lb/acre of a grade that carry a need (0 to 2,000 lb/acre) of a nutrient; `ValueError` where it has none."""
    percent = grade_percent(grade, nutrient)
    if not 0 <= need_lb_per_acre <= 2000:
        raise ValueError(f"a need of {need_lb_per_acre} lb/acre is not 0 to 2000")
    if percent == 0:
        raise ValueError(f"{grade} carries no {nutrient}")
    return need_lb_per_acre / (percent / 100)


def nutrient_in_material(grade: str, nutrient: str, *, material_lb: float) -> float:
    """lb of a nutrient in 0 lb and more of a grade."""
    if not (math.isfinite(material_lb) and material_lb >= 0):
        raise ValueError(f"{material_lb} lb of material is not 0 and more")
    return material_lb * grade_percent(grade, nutrient) / 100


def cost_per_lb_nutrient(
    grade: str, nutrient: str, *, price_per_ton: float, credit_per_lb: Mapping[str, float] | None = None
) -> float:  # fmt: skip
    """Dollars for 1 lb of a nutrient at a price for 2,000 lb (0 and more).

    `credit_per_lb` prices the grade's other nutrients (by single-nutrient materials); the rest is charged to this one.
    """
    if not (math.isfinite(price_per_ton) and price_per_ton >= 0):
        raise ValueError(f"a price of {price_per_ton} $/ton is not 0 and more")
    percent = grade_percent(grade, nutrient)
    if percent == 0:
        raise ValueError(f"{grade} carries no {nutrient}")
    wanted = nutrient.strip().casefold()
    others = {name.strip().casefold(): dollars for name, dollars in (credit_per_lb or {}).items()}
    credit = sum(
        20 * grade_percent(grade, name) * dollars for name, dollars in others.items() if name != wanted
    )  # fmt: skip
    return (price_per_ton - credit) / (20 * percent)


def hazards_of(product: Fertilizer) -> tuple[Hazard, ...]:
    """What is dangerous in handling, storing and spreading a product, wherever it is prescribed or ordered."""
    found: list[Hazard] = []
    if product.is_ammonium_nitrate:
        found.append(Hazard("danger", "ammonium_nitrate", "osha_ammonium_nitrate"))
    if product.form == "manure":
        found.append(Hazard("warning", "manure_handling", _HANDLING))
    if product.form == "liquid":
        found.append(Hazard("caution", "liquid_fertilizer", _HANDLING))
    if product.is_urea:
        found.append(Hazard("caution", "urea_and_lime_apart", "urea_lime_apart"))
    found.append(Hazard("warning", "spills_and_wildlife", _HANDLING))
    found.append(Hazard("caution", "fertilizer_dust", _HANDLING))
    return tuple(found)


def hazards_of_spreading(*, near_water: bool = False, slope: bool = False, pto: bool = False) -> tuple[Hazard, ...]:
    """What is dangerous in spreading any fertilizer at a place and with a machine."""
    found = [
        Hazard("caution", "fertilizer_rules_first", "nrcs_590"),
        Hazard("caution", "no_spreading_weather", _HANDLING),
    ]
    if pto:
        found.append(Hazard("danger", "pto", "pto_cases"))
    if slope:
        found.append(Hazard("warning", "slope", _HANDLING))
    if near_water:
        found.append(Hazard("caution", "near_water", _HANDLING))
    return tuple(found)
