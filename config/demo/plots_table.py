"""The invented ground of the demo: twenty plots, forty acres, nothing of it on any map."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ground:
    """One invented plot. `crops` with seed shares; `years_ago` of its tests, each with pH, buffer pH, P and K index."""

    code: str
    name: str
    acres: str
    texture: str
    access: str
    tillage: str
    depth_in: str
    crops: tuple[tuple[str, int], ...]
    tests: tuple[tuple[int, str, str, int, int], ...]
    establishment: str = "new_seeding"
    perennial: bool = False
    near_water: bool = False
    slope: bool = False
    note: str = ""


def _tilled(code, name, acres, texture, access, crops, tests, **more) -> Ground:  # type: ignore[no-untyped-def]
    return Ground(code, name, acres, texture, access, "tilled", "6.0", crops, tests, **more)


PLOTS: tuple[Ground, ...] = (
    _tilled("1", "Creek Flat", "6.0", "silt_loam", "lime_truck", (("corn", 100),),
            ((3, "5.9", "6.40", 38, 55), (2, "5.7", "6.36", 36, 52), (1, "5.6", "6.33", 35, 50), (0, "5.4", "6.28", 33, 47)),
            near_water=True, note="The creek runs along the whole north side; keep the field edge unspread."),
    _tilled("2", "Long Bottom", "5.0", "silt_loam", "lime_truck", (("soybean", 100),),
            ((3, "5.5", "6.28", 41, 48), (2, "5.4", "6.26", 40, 46), (1, "5.4", "6.25", 39, 45), (0, "5.8", "6.36", 42, 47))),
    _tilled("3", "Gate Field", "4.1", "loam", "lime_truck", (("alfalfa", 100),),
            ((3, "6.1", "6.42", 52, 60), (2, "6.5", "6.52", 50, 55), (1, "6.4", "6.50", 47, 48)),
            establishment="established", perennial=True),
    _tilled("4", "Cedar Bench", "3.6", "loam", "tractor", (("winter_wheat", 70), ("crimson_clover", 30)),
            ((3, "5.8", "6.40", 30, 36), (2, "5.7", "6.38", 29, 35), (1, "5.6", "6.34", 28, 33), (0, "5.4", "6.30", 27, 31)),
            slope=True),
    _tilled("5", "Persimmon Strip", "2.8", "sandy_loam", "tractor", (("white_clover", 60), ("chicory", 40)),
            ((3, "5.6", "6.42", 44, 50), (2, "6.0", "6.48", 45, 51), (1, "6.1", "6.50", 46, 50), (0, "6.1", "6.50", 44, 47)),
            establishment="established", perennial=True),
    _tilled("6", "Old Orchard", "2.4", "loam", "tractor", (("red_clover", 100),),
            ((2, "5.5", "6.30", 24, 44), (1, "5.5", "6.30", 25, 42), (0, "5.6", "6.33", 25, 41)),
            establishment="established", perennial=True),
    _tilled("7", "Two Oaks", "2.2", "sandy_loam", "tractor", (("oats", 60), ("winter_pea", 40)),
            ((3, "6.2", "6.50", 58, 62),)),
    _tilled("8", "Powerline East", "2.0", "sandy_loam", "side_by_side", (("turnip", 50), ("rape", 50)),
            ((3, "5.9", "6.44", 33, 40), (2, "5.8", "6.42", 31, 38), (1, "5.6", "6.38", 30, 36), (0, "5.3", "6.33", 30, 34))),
    _tilled("9", "Powerline West", "1.9", "sandy_loam", "side_by_side", (("forage_radish", 60), ("oats", 40)),
            ((2, "6.0", "6.48", 35, 41), (1, "6.1", "6.50", 36, 42), (0, "6.1", "6.50", 35, 40))),
    _tilled("10", "Dogleg", "1.6", "clay_loam", "tractor", (("cereal_rye", 60), ("crimson_clover", 40)),
            ((2, "5.4", "6.22", 22, 30), (1, "5.3", "6.20", 22, 29), (0, "5.2", "6.17", 21, 27))),
    _tilled("11", "Saddle", "1.4", "loam", "side_by_side", (("white_clover", 100),),
            ((2, "5.6", "6.36", 29, 37), (1, "5.5", "6.34", 28, 35), (0, "5.7", "6.38", 30, 36)),
            establishment="established", perennial=True, slope=True),
    _tilled("12", "Beech Corner", "1.2", "loam", "side_by_side", (("sunflower", 60), ("buckwheat", 40)),
            ((2, "6.2", "6.50", 47, 53), (1, "6.2", "6.50", 47, 52), (0, "6.1", "6.49", 46, 50))),
    _tilled("13", "Spring Head", "1.1", "silt_loam", "tractor", (("white_clover", 70), ("chicory", 30)),
            ((2, "6.1", "6.47", 88, 60), (1, "6.2", "6.48", 90, 61), (0, "6.2", "6.48", 91, 60)),
            establishment="established", perennial=True, near_water=True, note="A spring rises at the upper end."),
    _tilled("14", "Fox Den", "0.9", "loam", "side_by_side", (("grain_sorghum", 100),),
            ((2, "5.9", "6.42", 40, 44), (1, "5.8", "6.40", 39, 42), (0, "5.7", "6.38", 38, 41))),
    _tilled("15", "Sand Hump", "0.8", "loamy_sand", "side_by_side", (("cereal_rye", 60), ("cowpea", 40)),
            ((2, "5.6", "6.54", 49, 21), (1, "5.5", "6.54", 48, 20), (0, "5.4", "6.53", 47, 18))),
    _tilled("16", "Hidden Acre", "1.0", "sandy_loam", "side_by_side", (("winter_wheat", 100),),
            ((2, "6.4", "6.54", 60, 58), (1, "7.4", "6.60", 61, 58), (0, "7.8", "6.60", 62, 57)),
            note="Limed twice in one year by mistake; no more lime here."),
    Ground("17", "Stand Four", "0.6", "loam", "on_foot", "no_till", "3.0", (("white_clover", 100),),
           ((2, "5.8", "6.42", 31, 40), (1, "6.0", "6.46", 32, 41), (0, "6.1", "6.49", 33, 41)),
           establishment="frost_seeded", perennial=True),
    Ground("18", "Stand Nine", "0.4", "loam", "on_foot", "no_till", "3.0", (("white_clover", 80), ("chicory", 20)),
           ((2, "5.6", "6.38", 20, 30), (1, "5.5", "6.36", 19, 29), (0, "5.4", "6.34", 19, 27)),
           establishment="frost_seeded", perennial=True),
    Ground("19", "Notch", "0.25", "loam", "on_foot", "no_till", "3.0", (("cereal_rye", 100),), ()),
    Ground("20", "Back Door", "0.15", "sandy_loam", "on_foot", "no_till", "3.0", (("oats", 100),),
           ((2, "6.0", "6.47", 37, 43), (0, "6.0", "6.47", 36, 42))),
)  # fmt: skip
