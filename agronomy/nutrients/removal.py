"""What a crop carries off the field, by published tables. Uptake is not removal: only what leaves counts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from agronomy.nutrients.calibrations import calibrations
from agronomy.nutrients.rules_build import BuildUpAndMaintain
from agronomy.sources import load_table

End = Literal["low", "middle", "high"]
_PLACE: Mapping[str, float] = {"low": 0.0, "middle": 0.5, "high": 1.0}


def removal_tables() -> tuple[str, ...]:
    """The names of the tables that can be asked."""
    by_rule = (key for key, known in calibrations().items() if known.form == "build_up_and_maintain")
    return (*load_table("crop_removal")["tables"], *by_rule)


def crop_removal(
    table: str, *, crop: str, yield_per_acre: float, nutrient: str, stover_fraction: float = 0.0, end: End = "low"
) -> float:  # fmt: skip
    """lb/acre of `n`, `p2o5` or `k2o` in a yield (0 to 500 units) that is carried off.

    `stover_fraction` (0 to 1) is the part of the stover taken too; `end` which end of a published range. Raises
    `ValueError` for a table, crop or nutrient that is not there.
    """
    if not 0 <= yield_per_acre <= 500:
        raise ValueError(f"a yield of {yield_per_acre} is not 0 to 500 an acre")
    if not 0 <= stover_fraction <= 1:
        raise ValueError(f"a stover fraction of {stover_fraction} is not 0 to 1")
    if end not in _PLACE:
        raise ValueError(f"end {end!r} is none of {', '.join(_PLACE)}")
    found = _row(table, crop)
    if nutrient not in found:
        raise ValueError(f"{table} gives no {nutrient} of {crop}")
    low, high = found[nutrient]
    stover = found.get(f"stover_{nutrient}", 0.0) if stover_fraction else 0.0
    if stover_fraction and not stover:
        raise ValueError(f"{table} gives no {nutrient} in the stover of {crop}")
    return float(yield_per_acre * (low + (high - low) * _PLACE[end] + stover * stover_fraction))


def _row(table: str, crop: str) -> Mapping[str, Any]:
    tables = load_table("crop_removal")["tables"]
    if table in tables:
        rows: Mapping[str, Any] = tables[table]["crops"]
    elif table in removal_tables():
        rows = _of_calibration(table)
    else:
        raise ValueError(f"no removal table {table!r}; there are {', '.join(removal_tables())}")
    key = crop.strip().casefold().replace(" ", "_")
    if key not in rows:
        raise ValueError(f"{table} has no {crop}; it has {', '.join(rows)}")
    found: Mapping[str, Any] = rows[key]
    return found


def _of_calibration(table: str) -> Mapping[str, Any]:
    rows: dict[str, dict[str, Any]] = {}
    for nutrient, rule in calibrations()[table].rules.items():
        if isinstance(rule, BuildUpAndMaintain):
            for crop, levels in rule.crops.items():
                pair = (levels.removal_lb_per_unit, levels.removal_lb_per_unit)
                rows.setdefault(crop, {"unit": levels.yield_unit})[nutrient] = pair
    return rows
