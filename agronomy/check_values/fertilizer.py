"""Check calculations of fertilizer: ratings, needs, removal, materials, blends and conversions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from agronomy.blend import BlendLimits, BlendPlan, FertilizerOffer, best
from agronomy.check_values.running import Calculation
from agronomy.crops import combine, crops
from agronomy.fertilizer_material import (
    Fertilizer,
    cost_per_lb_nutrient,
    grade_percent,
    material_for_nutrient,
    nutrient_in_material,
)
from agronomy.nitrogen import GRASS_N_LB_PER_TON, GRASS_N_MOST_LB, legume_credit, season_nitrogen
from agronomy.nutrients import PlantingFacts, SoilReading, calibration, need, soil_test_rating
from agronomy.nutrients.calibrations import Calibration
from agronomy.nutrients.conversions import (
    extractant_conversion,
    manganese_index,
    ph_cacl2_from_water,
    ph_water_from_cacl2,
)
from agronomy.nutrients.kinds import READING_OF, Nutrient
from agronomy.nutrients.reading import fit
from agronomy.nutrients.removal import crop_removal
from agronomy.nutrients.rules import Question, Rule, falling_parabola
from agronomy.soil import SoilFacts
from agronomy.sources import load_table

Inputs = Mapping[str, Any]
_RELATION_NAMES = {
    "mehlich3_to_bray_p1_ohio_line": "ohio_line", "mehlich3_to_bray_p1_ohio": "ohio_indiana_p",
    "mehlich3_to_ammonium_acetate_k": "ohio_indiana_k",
}  # fmt: skip
_TEXTURES = {"sand": "sand", "sandy": "sand", "coarse": "sand", "clay": "clay", "fine": "clay"}


def _number(inputs: Inputs, name: str, default: float | None = None) -> float:
    value = inputs[name] if default is None else inputs.get(name, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError(f"input {name!r} is {value!r}, not a number")
    return float(value)


def _optional(inputs: Inputs, name: str) -> float | None:
    return None if inputs.get(name) is None else _number(inputs, name)


def _nutrient(inputs: Inputs) -> Nutrient:
    key = str(inputs["nutrient"]).strip().casefold()
    if key not in ("n", *READING_OF):
        raise ValueError(f"nutrient {inputs['nutrient']!r} is none of N, P2O5, K2O")
    return key


def _soil_test_rating(inputs: Inputs) -> str:
    known = calibration(str(inputs["calibration"]))
    element = str(inputs["nutrient"]).strip().casefold()
    element = READING_OF.get(element, element)  # type: ignore[call-overload]
    table = known.ratings.get(element)
    extractant = inputs.get("extractant") or (table.scale.extractants[0] if table else "")
    reading = SoilReading(element, _number(inputs, "value"), str(inputs["unit"]), str(extractant))
    return soil_test_rating(known.key, reading=reading, volume_weight_g_cm3=_optional(inputs, "volume_weight_g_cm3"))


def _published_crop(known: Calibration, name: str) -> str:
    """The calibration's own name of a crop, from that name or from ours."""
    plain = name.strip().casefold().replace("_", " ")
    ours = crops().get(plain.replace(" ", "_"))
    if ours is not None:
        return known.crop_for(ours) or plain
    return "food plot" if known.every_crop else plain


def _soil(inputs: Inputs) -> SoilFacts:
    kind = str(inputs.get("soil_class", "mineral")).casefold()
    return SoilFacts(
        organic_soil="organic" in kind,
        texture=_TEXTURES.get(kind),  # type: ignore[arg-type]
        cec_meq_100g=_optional(inputs, "cec_meq_100g"),
    )


def _nutrient_need(inputs: Inputs) -> float:
    """One rule of one calibration, with full removal: what its own tables are worked out for."""
    key, nutrient = str(inputs["calibration"]), _nutrient(inputs)
    if key in ("minnesota_grass", "minnesota_grasses") and nutrient == "n":
        return min(GRASS_N_MOST_LB, GRASS_N_LB_PER_TON * _number(inputs, "yield_goal"))
    known = calibration(key)
    published = _published_crop(known, str(inputs.get("crop", "")))
    if nutrient == "n":
        return _nitrogen_rate(known, published, inputs)
    if "equation" in inputs:
        return _by_equation(known, inputs)
    if nutrient not in known.rules:
        raise ValueError(f"{known.title} gives no {inputs['nutrient']}")
    return _by_rule(known, known.rules[nutrient], published, inputs)


def _nitrogen_rate(known: Calibration, published: str, inputs: Inputs) -> float:
    table = known.nitrogen
    if table is None or published not in table.by_crop:
        raise ValueError(f"{known.title} gives no single N rate for {inputs.get('crop')}")
    rates = table.grazed_by_crop if inputs.get("grazed") else table.by_crop
    return rates[published]


def _by_equation(known: Calibration, inputs: Inputs) -> float:
    a, b, c = load_table(known.key)["equations"][str(int(_number(inputs, "equation")))]
    return falling_parabola((a, b, c), _number(inputs, "value"))


def _by_rule(known: Calibration, rule: Rule, published: str, inputs: Inputs) -> float:
    planting = PlantingFacts(
        use=inputs.get("use", "hayed"),
        yield_goal=_optional(inputs, "yield_goal"),
        yield_unit=str(inputs.get("yield_unit", "")).removesuffix("/acre"),
    )
    extractant = str(inputs.get("extractant", ""))
    scale = next((s for s in rule.scales if extractant in s.extractants), rule.scales[0])
    value = None
    if scale.unit != "rating":
        reading = SoilReading(scale.element, _number(inputs, "value"), str(inputs["unit"]),
                              extractant or scale.extractants[0])  # fmt: skip
        fitted = fit(reading, scale, nutrient=str(inputs["nutrient"]), calibration=known.title,
                     volume_weight_g_cm3=_optional(inputs, "volume_weight_g_cm3"))  # fmt: skip
        if fitted.value is None:
            raise ValueError(f"refused: {fitted.findings[0].code}")
        value = fitted.value
    question = Question(value, str(inputs.get("rating", "")), _soil(inputs), planting, None, published,
                        str(inputs.get("form", "")))  # fmt: skip
    try:
        made = rule.rate(question, scale)
    except KeyError:
        raise ValueError(f"{known.title} has no crop {published!r}") from None
    if made.lb_per_acre is None:
        raise ValueError(f"no rate: {made.findings[0].code}")
    return made.lb_per_acre


def _crop_removal(inputs: Inputs) -> float:
    return crop_removal(
        str(inputs["table"]), crop=str(inputs["crop"]), yield_per_acre=_number(inputs, "yield_per_acre"),
        nutrient=_nutrient(inputs), stover_fraction=_number(inputs, "stover_fraction", 0.0),
        end=inputs.get("end", "low"),
    )  # fmt: skip


def _material_for_nutrient(inputs: Inputs) -> float:
    lb = material_for_nutrient(str(inputs["grade"]), str(inputs["nutrient"]),
                               need_lb_per_acre=_number(inputs, "need_lb_per_acre"))  # fmt: skip
    return lb / _number(inputs, "bag_lb", 1.0)


def _nutrient_in_material(inputs: Inputs) -> float:
    return nutrient_in_material(
        str(inputs["grade"]), str(inputs["nutrient"]), material_lb=_number(inputs, "material_lb")
    )


def _cost_per_lb_nutrient(inputs: Inputs) -> float:
    return cost_per_lb_nutrient(
        str(inputs["grade"]), str(inputs["nutrient"]), price_per_ton=_number(inputs, "price_per_ton"),
        credit_per_lb=inputs.get("credit_per_lb"),
    )  # fmt: skip


def _extractant_conversion(inputs: Inputs) -> float:
    name = str(inputs["relation"])
    return extractant_conversion(_RELATION_NAMES.get(name, name), _number(inputs, "value"))


def _manganese_index(inputs: Inputs) -> float:
    return manganese_index(
        str(inputs["calibration"]), mn_ppm=_number(inputs, "mn_ppm"), soil_ph=_number(inputs, "soil_ph")
    )


def _season_nitrogen(inputs: Inputs) -> float:
    made = season_nitrogen(
        combine([(key, share) for key, share in inputs["crops"].items()]),
        legume_share_percent=_optional(inputs, "legume_share_percent"), inoculated=True,
        yield_goal_ton=_optional(inputs, "yield_goal_ton"),
    )  # fmt: skip
    if made.lb_per_acre is None:
        raise ValueError(made.findings[0].code)
    return made.lb_per_acre


def _legume_credit(inputs: Inputs) -> float:
    made = legume_credit(
        combine([(str(inputs["crop"]), 100)]), plantings_since=int(_number(inputs, "plantings_since", 1))
    )  # fmt: skip
    return made.high if inputs.get("end") == "high" else made.low


def _stepwise_blend(inputs: Inputs) -> float:
    """lb/acre of one of several grades, each sized on the nutrient named for it after crediting those before it."""
    left = {str(key).casefold(): float(value) for key, value in inputs["need"].items()}
    for grade, nutrient in inputs["steps"]:
        key = str(nutrient).casefold()
        lb = material_for_nutrient(grade, key, need_lb_per_acre=max(0.0, left[key]))
        left = {name: value - lb * grade_percent(grade, name) / 100 for name, value in left.items()}
        if grade == inputs["grade"]:
            return lb
    raise ValueError(f"{inputs['grade']} is in none of the steps")


def _blend(inputs: Inputs) -> BlendPlan:
    """Best whole bags for one plot by North Carolina's index: `offers` are grades with the price of a bag."""
    demand = combine([(str(inputs["crop"]), 100)])
    readings = [
        SoilReading("p", _number(inputs, "p_index"), "index"), SoilReading("k", _number(inputs, "k_index"), "index")
    ]  # fmt: skip
    planting = PlantingFacts(inoculated=True, n_chosen_lb_per_acre=_optional(inputs, "n_lb_per_acre"))
    offers = [
        FertilizerOffer(grade, _product(grade), package_lb=_number(inputs, "bag_lb", 50.0), price_dollars=float(price))
        for grade, price in inputs["offers"].items()
    ]
    limits = BlendLimits(near_water=bool(inputs.get("near_water", False)))
    return best(need(demand, readings, planting=planting), offers, acres=_number(inputs, "acres"), limits=limits)


def _product(grade: str) -> Fertilizer:
    n, p2o5, k2o = (grade_percent(grade, nutrient) for nutrient in ("n", "p2o5", "k2o"))
    return Fertilizer(grade, grade, n, p2o5, k2o)


def _blend_bags(inputs: Inputs) -> float:
    plan = _blend(inputs)
    return sum(line.packages for line in plan.lines if line.offer == inputs["grade"])


def _blend_delivered(inputs: Inputs) -> float:
    return _blend(inputs).of(_nutrient(inputs)).delivered


def _blend_refusal(inputs: Inputs) -> str:
    return next((r.finding.code for r in _blend(inputs).refused if r.offer == inputs["grade"]), "not refused")


CALCULATIONS: dict[str, Calculation] = {
    "soil_test_rating": _soil_test_rating,
    "nutrient_need": _nutrient_need,
    "crop_removal": _crop_removal,
    "material_for_nutrient": _material_for_nutrient,
    "nutrient_in_material": _nutrient_in_material,
    "cost_per_lb_nutrient": _cost_per_lb_nutrient,
    "extractant_conversion": _extractant_conversion,
    "manganese_index": _manganese_index,
    "ph_cacl2_from_water": lambda inputs: ph_cacl2_from_water(_number(inputs, "soil_ph")),
    "ph_water_from_cacl2": lambda inputs: ph_water_from_cacl2(_number(inputs, "soil_ph")),
    "season_nitrogen": _season_nitrogen,
    "legume_credit": _legume_credit,
    "stepwise_blend": _stepwise_blend,
    "blend_bags": _blend_bags,
    "blend_delivered": _blend_delivered,
    "blend_refusal": _blend_refusal,
}
