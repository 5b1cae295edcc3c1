"""Check calculations of lime: requirement, materials, rates, chemistry and acidity."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from agronomy.acidification import material_acidity, nitrogen_acidity, sulfur_acidity
from agronomy.check_values.running import RESULT_UNIT, Calculation
from agronomy.chemistry import caco3_per_meq_lb_per_acre, mixture_cce, pure_compound_cce
from agronomy.label_check import suspension_caco3
from agronomy.lime_rate import material_amount, residual_lime_share
from agronomy.lime_requirement import calibration, requirement
from agronomy.lime_requirement.woodruff import neutralizable_acidity
from agronomy.liming_material import effective_neutralizing_value, fineness_factor
from agronomy.soil import SoilFacts
from agronomy.sources import load_table

Inputs = Mapping[str, Any]

_READINGS = (
    "buffer_ph", "exchangeable_acidity_meq_100g", "lbc_30min_mg_kg_ph", "lbc_eq_mg_kg_ph", "reactive_al_ppm",
    "cec_meq_100g",
)  # fmt: skip
_BUFFER_OF = {
    "sikora_oregon_2025": "sikora", "sikora_kentucky": "sikora", "smp_iowa_2002": "smp", "smp_tri_state_1995": "smp",
    "smp_1961": "smp", "adams_evans_1962": "adams_evans", "adams_evans_pure": "adams_evans",
    "mehlich_north_carolina": "mehlich",
}  # fmt: skip
STRONGLY_ACID = 3.0
"""The soil pH taken where a row gives none: a buffer table asks only that the soil is below its target."""


def _number(inputs: Inputs, name: str, default: float | None = None) -> float:
    value = inputs[name] if default is None else inputs.get(name, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError(f"input {name!r} is {value!r}, not a number")
    return float(value)


def _optional(inputs: Inputs, name: str) -> float | None:
    return None if inputs.get(name) is None else _number(inputs, name)


def _key(value: object) -> str:
    """A name as the tables spell it: "Silt loam" and "silt-loam" are silt_loam."""
    return str(value).strip().lower().replace(" ", "_").replace("-", "_")


def _sieves(inputs: Inputs) -> list[tuple[float, float]]:
    return [(float(mesh), float(share)) for mesh, share in inputs["passing_percent"].items()]


def _lime_requirement(inputs: Inputs) -> float:
    method = str(inputs["method"])
    soil = SoilFacts(
        soil_ph=_number(inputs, "soil_ph", STRONGLY_ACID),
        buffer_method=_BUFFER_OF.get(method),  # type: ignore[arg-type]
        texture=None if inputs.get("texture") is None else _key(inputs["texture"]),  # type: ignore[arg-type]
        organic_soil=bool(inputs.get("organic_soil", False)),
        **{name: _optional(inputs, name) for name in _READINGS},  # type: ignore[arg-type]
    )
    default_target = _usual_target(method, organic=soil.organic_soil)
    made = requirement(
        soil,
        calibration=method,
        target_ph=_number(inputs, "target_ph", default_target),
        region=_key(inputs.get("region", "warm_humid")),
    )
    if made.amount is None:
        if not made.findings:
            raise ValueError("the reading is weaker than the table's first row")
        raise ValueError(f"{made.findings[-1].code}: {dict(made.findings[-1].values)}")
    return max(made.amount - _number(inputs, "residual_credit", 0.0), 0.0)


def _usual_target(method: str, *, organic: bool) -> float:
    """The target where a row names none: the only one that a table prints, 5.3 for organic soils, else 6.5."""
    printed = calibration(method).targets
    if len(printed) == 1:
        return printed[0]
    return 5.3 if organic else 6.5


def _mehlich_acidity(inputs: Inputs) -> float:
    form = load_table("mehlich_north_carolina")["form"]
    reading = _number(inputs, "buffer_ph")
    if not form["valid_low"] <= reading <= form["fresh_reading"]:
        raise ValueError(f"buffer_ph {reading:g} is not {form['valid_low']:g} to {form['fresh_reading']:g}")
    return float(form["acidity_per_unit"] * (form["fresh_reading"] - reading))


def _neutralizing_value(inputs: Inputs) -> float:
    made = effective_neutralizing_value(
        str(inputs["scheme"]),
        passing_percent=_sieves(inputs),
        cce_percent=_number(inputs, "cce_percent"),
        moisture_percent=_number(inputs, "moisture_percent", 0.0),
        unit=str(inputs.get("unit") or inputs.get(RESULT_UNIT) or ""),
    )
    return made.value


def _material_rate(inputs: Inputs) -> float:
    return material_amount(
        _number(inputs, "requirement"),
        reference_value_percent=_number(inputs, "reference_value_percent"),
        material_value_percent=_number(inputs, "material_value_percent"),
        moisture_percent=_number(inputs, "moisture_percent", 0.0),
        requirement_depth_in=_optional(inputs, "requirement_depth_in"),
        depth_in=_optional(inputs, "depth_in"),
    )


def _suspension(inputs: Inputs) -> float:
    return suspension_caco3(_number(inputs, "gallons"), solids_percent=_number(inputs, "solids_percent"))


def _nitrogen(inputs: Inputs) -> float:
    return nitrogen_acidity(_key(inputs["table"]), source=_key(inputs["source"]), n_lb=_number(inputs, "n_lb"))


def _material_acidity(inputs: Inputs) -> float:
    lb = _number(inputs, "material_lb")
    return material_acidity(_key(inputs["table"]), material=_key(inputs["material"]), material_lb=lb)


CALCULATIONS: dict[str, Calculation] = {
    "lime_requirement": _lime_requirement,
    "mehlich_acidity": _mehlich_acidity,
    "neutralizable_acidity": lambda inputs: neutralizable_acidity(_number(inputs, "buffer_ph")),
    "residual_lime_share": lambda inputs: residual_lime_share(
        _number(inputs, "months_since_liming"), soil_class=_key(inputs["soil_class"])
    ),
    "pure_compound_cce": lambda inputs: pure_compound_cce(str(inputs["formula"])),
    "mixture_cce": lambda inputs: mixture_cce({str(key): float(share) for key, share in inputs["parts"].items()}),
    "fineness_factor": lambda inputs: fineness_factor(str(inputs["scheme"]), passing_percent=_sieves(inputs)).value,
    "effective_neutralizing_value": _neutralizing_value,
    "material_rate": _material_rate,
    "suspension_caco3": _suspension,
    "nitrogen_acidity": _nitrogen,
    "acidity_to_caco3": lambda inputs: caco3_per_meq_lb_per_acre(
        _number(inputs, "acidity_meq_100g"), soil_lb_per_acre=_number(inputs, "soil_lb_per_acre", 2_000_000.0)
    ),
    "sulfur_acidity": lambda inputs: sulfur_acidity(_number(inputs, "s_lb")),
    "material_acidity": _material_acidity,
}
