"""Check calculations of work in the field: units, spreaders, bags, areas and the date of the next sample."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any

from agronomy.area import ACRE_M2, area_sd_m2, coordinate_sd_m, measured
from agronomy.check_values.running import RESULT_UNIT, Calculation
from agronomy.retest import LimeEvent, RetestFacts, retest_due
from agronomy.spread_pattern import Trays, coverage, tray_target_g
from agronomy.spreading import (
    bags_needed,
    effective_swath,
    ground_speed,
    loads_needed,
    spreader_rate,
    strip_target,
    strip_target_for_nutrient,
)
from agronomy.units import FURROW_SLICE_IN, UNITS, convert, unit_name

Inputs = Mapping[str, Any]


def _number(inputs: Inputs, name: str, default: float | None = None) -> float:
    value = inputs[name] if default is None else inputs.get(name, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError(f"input {name!r} is {value!r}, not a number")
    return float(value)


def _answer(value: float, inputs: Inputs, *, quantity: str, unit: str) -> float:
    """The value in the row's own unit, where that is another unit of the quantity."""
    wanted = unit_name(str(inputs.get(RESULT_UNIT, "")))
    if wanted == unit or wanted not in UNITS[quantity]:
        return value
    return convert(value, quantity=quantity, from_unit=unit, to_unit=wanted)


def _unit_conversion(inputs: Inputs) -> float:
    density = inputs.get("bulk_density_g_cm3")
    return convert(
        _number(inputs, "value"),
        quantity=str(inputs["quantity"]),
        from_unit=str(inputs["from"]),
        to_unit=str(inputs["to"]),
        depth_in=_number(inputs, "depth_in", FURROW_SLICE_IN),
        bulk_density_g_cm3=None if density is None else _number(inputs, "bulk_density_g_cm3"),
    )


def _spreader_rate(inputs: Inputs) -> float:
    rate = spreader_rate(
        _number(inputs, "collected_lb"),
        swath_ft=_number(inputs, "swath_ft"),
        distance_ft=_number(inputs, "distance_ft"),
    )
    return _answer(rate, inputs, quantity="rate", unit="lb/acre")


def _strip_target(inputs: Inputs) -> float:
    if "nutrient_percent" in inputs:
        pounds = strip_target_for_nutrient(
            _number(inputs, "nutrient_lb_per_1000_sq_ft"),
            nutrient_percent=_number(inputs, "nutrient_percent"),
            strip_sq_ft=_number(inputs, "strip_sq_ft"),
        )
    else:
        pounds = strip_target(
            _number(inputs, "rate_lb_per_acre"),
            swath_ft=_number(inputs, "swath_ft"),
            distance_ft=_number(inputs, "distance_ft"),
        )
    return _answer(pounds, inputs, quantity="mass", unit="lb")


def _tray_target(inputs: Inputs) -> float:
    grams = tray_target_g(
        _number(inputs, "rate_lb_per_acre"),
        tray_sq_ft=_number(inputs, "tray_sq_ft", 1.0),
        passes=int(_number(inputs, "passes", 1)),
    )
    return _answer(grams, inputs, quantity="mass", unit="g")


def _effective_swath(inputs: Inputs) -> float:
    return _answer(effective_swath(_number(inputs, "half_rate_distance_ft")), inputs, quantity="length", unit="ft")


def _ground_speed(inputs: Inputs) -> float:
    mph = ground_speed(_number(inputs, "distance_ft"), seconds=_number(inputs, "seconds"))
    return _answer(mph, inputs, quantity="speed", unit="mph")


def _pattern_cv(inputs: Inputs) -> float:
    trays = Trays(
        tuple(float(position) for position in inputs["positions_ft"]),
        tuple(float(catch) for catch in inputs["catches"]),
    )
    travel = inputs.get("travel", "back_and_forth")
    if travel not in ("one_way", "back_and_forth"):
        raise ValueError(f"travel {travel!r} is neither one_way nor back_and_forth")
    return coverage(trays, pass_spacing_ft=_number(inputs, "pass_spacing_ft"), travel=travel).cv_percent


def _bags_needed(inputs: Inputs) -> float:
    return bags_needed(
        _number(inputs, "rate_lb_per_acre"), acres=_number(inputs, "acres"), bag_lb=_number(inputs, "bag_lb")
    )


def _loads_needed(inputs: Inputs) -> float:
    return loads_needed(
        _number(inputs, "rate_lb_per_acre"), acres=_number(inputs, "acres"), load_lb=_number(inputs, "load_lb")
    )


def _boundary(inputs: Inputs) -> Mapping[str, Any]:
    coordinates = inputs["coordinates"]
    if not isinstance(coordinates, list):
        raise ValueError("coordinates must be a list of [longitude, latitude]")
    is_ring = bool(coordinates) and bool(coordinates[0]) and not isinstance(coordinates[0][0], list)
    return {"type": "Polygon", "coordinates": [coordinates] if is_ring or not coordinates else coordinates}


def _polygon_acres(inputs: Inputs) -> float:
    return _answer(measured(_boundary(inputs)).acres, inputs, quantity="area", unit="acre")


def _polygon_perimeter(inputs: Inputs) -> float:
    return _answer(measured(_boundary(inputs)).perimeter_ft, inputs, quantity="length", unit="ft")


def _square_area_sd(inputs: Inputs) -> float:
    area = _number(inputs, "acres") * ACRE_M2
    if area <= 0:
        raise ValueError("acres must be over 0")
    side = math.sqrt(area)
    return 100 * area_sd_m2(4 * side, coordinate_sd=_number(inputs, "coordinate_sd_m")) / area


def _coordinate_sd(inputs: Inputs) -> float:
    return coordinate_sd_m(_number(inputs, "fix_accuracy_m"))


def _retest_due(inputs: Inputs) -> str:
    def day(name: str) -> dt.date | None:
        return dt.date.fromisoformat(inputs[name]) if inputs.get(name) else None

    limed_on = day("limed_on")
    facts = RetestFacts(
        last_sample_on=day("sampled_on"),
        lime=(LimeEvent(limed_on),) if limed_on else (),
        usual_sampling_month=inputs.get("usual_sampling_month"),
        ph_critical=bool(inputs.get("ph_critical", False)),
        staged=bool(inputs.get("staged", False)),
        floor_crossed_on=day("floor_crossed_on"),
    )
    due = retest_due(facts).due_on
    return "now" if due is None else due.isoformat()


CALCULATIONS: dict[str, Calculation] = {
    "unit_conversion": _unit_conversion,
    "spreader_rate": _spreader_rate,
    "strip_target": _strip_target,
    "tray_target": _tray_target,
    "effective_swath": _effective_swath,
    "ground_speed": _ground_speed,
    "pattern_cv": _pattern_cv,
    "bags_needed": _bags_needed,
    "loads_needed": _loads_needed,
    "polygon_acres": _polygon_acres,
    "polygon_perimeter": _polygon_perimeter,
    "square_area_sd": _square_area_sd,
    "coordinate_sd": _coordinate_sd,
    "retest_due": _retest_due,
}
