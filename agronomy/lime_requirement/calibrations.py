"""The calibrations there are, read from their tables once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from agronomy.lime_requirement.kinds import Calibration, Rate
from agronomy.lime_requirement.methods import (
    Grid,
    adams_evans_rate,
    cec_rate,
    mehlich_acidity_rate,
    per_ph_rate,
    texture_rate,
)
from agronomy.lime_requirement.more_methods import (
    AcidityGrid,
    Plane,
    exchangeable_acidity_rate,
    factor_rate,
    lime_buffer_capacity_rate,
    lime_test_index_rate,
    reactive_aluminium_rate,
)
from agronomy.soil import SoilFacts
from agronomy.sources import STATUSES, TABLES, load_table

REGIONS = ("warm_humid", "cool_humid")
FORMS: Mapping[str, Callable[[Mapping[str, Any], str, str], Callable[[SoilFacts, float], Rate]]] = {
    "mehlich_acidity": mehlich_acidity_rate,
    "adams_evans": adams_evans_rate,
    "cec": cec_rate,
    "per_ph": per_ph_rate,
    "lime_test_index": lime_test_index_rate,
    "exchangeable_acidity": exchangeable_acidity_rate,
    "lime_buffer_capacity": lime_buffer_capacity_rate,
    "reactive_aluminium": reactive_aluminium_rate,
    "factor": factor_rate,
}


def _grid(raw: Mapping[str, Any], key: str, unit: str) -> Grid:
    rows, doubts = sorted(raw["rows"]), raw.get("doubtful", [])
    return Grid(
        source=key,
        unit=unit,
        readings=tuple(float(row[0]) for row in rows),
        columns={
            float(target): tuple(float(row[place]) for row in rows) for place, target in enumerate(raw["targets"], 1)
        },
        breaks=tuple((float(high), float(low)) for high, low in raw["breaks"]),
        doubtful={
            target: {float(reading): float(more) for reading, at, more in doubts if at == target}
            for target in {float(at) for _, at, _ in doubts}
        },
        printed=tuple(sorted(map(float, raw["targets"]))),
    )


def _acidity_grid(raw: Mapping[str, Any], key: str, unit: str) -> AcidityGrid:
    rows = sorted(raw["rows"])
    columns = {
        float(target): tuple(float(row[place]) for row in rows) for place, target in enumerate(raw["targets"], 1)
    }
    return AcidityGrid(key, unit, tuple(float(row[0]) for row in rows), columns)


def _plane(raw: Mapping[str, Any], key: str, unit: str) -> Plane:
    rows = sorted(raw["rows"])
    return Plane(
        source=key,
        unit=unit,
        target=float(raw["target"]),
        readings=tuple(map(float, raw["readings"])),
        soil_phs=tuple(float(row[0]) for row in rows),
        cells=tuple(tuple(None if cell < 0 else float(cell) for cell in row[1:-1]) for row in rows),
        unbuffered=tuple(float(row[-1]) for row in rows),
    )


def _calibration(key: str, region: str) -> Calibration:
    table = load_table(key)
    head, unit = table["calibration"], table["calibration"]["unit"]
    rate: Callable[[SoilFacts, float], Rate]
    targets: tuple[float, ...] = ()
    low, high = 3.0, 8.0
    if "grid" in table:
        grid = _grid(table["grid"], key, unit)
        rate, targets = grid, tuple(sorted(grid.columns))
        low, high = grid.readings[0], grid.readings[-1]
    elif "acidity_grid" in table:
        by_acidity = _acidity_grid(table["acidity_grid"], key, unit)
        rate, targets = by_acidity, tuple(sorted(by_acidity.columns))
        low, high = by_acidity.acidities[0], by_acidity.acidities[-1]
    elif "plane" in table:
        plane = _plane(table["plane"], key, unit)
        rate, targets, low, high = plane, (plane.target,), plane.readings[0], plane.readings[-1]
    elif table["form"]["rule"] == "texture":
        rate = texture_rate(table["form"], key, unit, region)
    else:
        form = table["form"]
        rate = FORMS[form["rule"]](form, key, unit)
        low = form.get("valid_low", low)
        high = form.get("valid_high", form.get("fresh_reading", high))
        printed = form.get("equations") or form.get("lb_per_meq") or {}
        targets = tuple(sorted({float(one) for one in printed} | {form[k] for k in ("target",) if k in form}))
    return Calibration(
        key=key,
        title=head["title"],
        states=tuple(head["states"]),
        buffer_method=head.get("buffer_method"),
        unit=unit,
        depth_in=float(head["depth_in"]),
        targets=targets,
        valid_low=low,
        valid_high=high,
        reference_kind=head["reference_kind"],
        reference_scheme=head.get("reference_scheme"),
        reference_value_percent=float(head["reference_value_percent"]),
        status=table["source"]["status"],
        rate=rate,
        is_estimate=head.get("is_estimate", False),
        shallowest_in=head.get("shallowest_in"),
        depth_is_sure=head.get("depth_is_sure", True),
    )


@cache
def _keys() -> tuple[str, ...]:
    """Every table that is a lime calibration: published ones first, estimates last, else by name.

    A new state's publication is a new file in `agronomy/tables`; nothing here names it.
    """
    found = []
    for path in TABLES.glob("*.toml"):
        table = load_table(path.stem)
        head = table.get("calibration", {})
        if "reference_kind" in head:
            rank = STATUSES.index(table["source"]["status"])
            found.append((head.get("is_estimate", False), rank, path.stem))
    return tuple(key for _, _, key in sorted(found))


@cache
def calibrations(region: str = "warm_humid") -> Mapping[str, Calibration]:
    """Every calibration by key. `region` (warm_humid or cool_humid) matters to the texture table only.

    Raises `ValueError` for another region.
    """
    if region not in REGIONS:
        raise ValueError(f"region {region!r} is none of {', '.join(REGIONS)}")
    return MappingProxyType({key: _calibration(key, region) for key in _keys()})


def calibration(key: str, *, region: str = "warm_humid") -> Calibration:
    """One calibration; raises `ValueError` naming those there are."""
    try:
        return calibrations(region)[key]
    except KeyError:
        raise ValueError(f"no calibration {key!r}; there are {', '.join(calibrations(region))}") from None


@cache
def default_calibration(state: str) -> str | None:
    """The calibration of a state's own publication (two letters), or None where none is held here."""
    return next((one.key for one in calibrations().values() if state.upper() in one.states), None)
