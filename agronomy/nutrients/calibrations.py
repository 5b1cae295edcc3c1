"""The publications that can be gone by, read from `tables/*.toml`: a state's table is a file, not code.

A table belongs here when it has `[fertilizer_calibration]`. Its `form` names the kind of rule; its `[ratings]` give
the class names of the publication, with rates or without.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from agronomy.crops import Crop
from agronomy.nutrients.kinds import READING_OF, Nutrient
from agronomy.nutrients.reading import Scale
from agronomy.nutrients.rules import IndexEquation, Rule
from agronomy.nutrients.rules_build import BuildUpAndMaintain, CropLevels, SquareRootBuildUp
from agronomy.nutrients.rules_class import ClassesByYield, RatesByRating
from agronomy.sources import TABLES, Status, load_table, source

HOUSE_BAND = "band_practice"


@dataclass(frozen=True, slots=True)
class RatingTable:
    """The publication's class names for one element: `upper` is what each class but the last reaches."""

    element: str
    scale: Scale
    names: tuple[str, ...]
    upper: tuple[float, ...]
    enough_from: str
    source: str


@dataclass(frozen=True, slots=True)
class NitrogenTable:
    """What a publication says of N: a range for every crop it covers, or a rate by its crop."""

    low: float | None
    high: float | None
    by_crop: Mapping[str, float]
    grazed_by_crop: Mapping[str, float]
    source: str


@dataclass(frozen=True, slots=True)
class Calibration:
    """One publication. `crops` and `groups` map our crops and crop groups to the publication's own crop names.

    `band_lb_per_acre` is the half width of the band that a rate may be met within; `band_source` says whose it is.
    """

    key: str
    title: str
    form: str
    states: tuple[str, ...]
    every_crop: bool
    crops: Mapping[str, str]
    groups: Mapping[str, str]
    band_lb_per_acre: float
    band_source: str
    rules: Mapping[Nutrient, Rule]
    nitrogen: NitrogenTable | None
    ratings: Mapping[str, RatingTable]
    status: Status

    @property
    def gives_rates(self) -> bool:
        """Whether it gives P2O5 or K2O rates; some publications here only rate a test."""
        return bool(self.rules)

    def crop_for(self, crop: Crop | None) -> str | None:
        """The publication's name for a crop; None where it has no table for it."""
        if crop is not None:
            named = self.crops.get(crop.key) or self.groups.get(crop.group)
            if named:
                return named
        return "food plot" if self.every_crop else None


@cache
def calibrations() -> Mapping[str, Calibration]:
    """Every fertilizer calibration by its key, the name of its file."""
    found: dict[str, Calibration] = {}
    for path in sorted(TABLES.glob("*.toml")):
        table = load_table(path.stem)
        if "fertilizer_calibration" in table:
            found[path.stem] = _parsed(path.stem, table)
    return MappingProxyType(found)


def calibration(key: str) -> Calibration:
    """One calibration; raises `ValueError` naming those there are."""
    try:
        return calibrations()[key]
    except KeyError:
        raise ValueError(f"no fertilizer calibration {key!r}; there are {', '.join(calibrations())}") from None


def _parsed(key: str, table: Mapping[str, Any]) -> Calibration:
    raw = table["fertilizer_calibration"]
    form = raw["form"]
    if form not in _FORMS and form != "ratings":
        raise ValueError(f"calibration {key}: form {form!r} is none of {', '.join(_FORMS)}, ratings")
    rules: dict[Nutrient, Rule] = {}
    for nutrient in READING_OF:
        if nutrient in raw:
            rules[nutrient] = _FORMS[form](nutrient, raw[nutrient], table, key)
            source(rules[nutrient].source)
    return Calibration(
        key=key,
        title=raw["title"],
        form=form,
        states=tuple(raw.get("states", ())),
        every_crop=raw.get("every_crop", False),
        crops=MappingProxyType(raw.get("crops", {})),
        groups=MappingProxyType(raw.get("groups", {})),
        band_lb_per_acre=raw.get("band_lb_per_acre", 10.0),
        band_source=raw.get("band_source", HOUSE_BAND),
        rules=MappingProxyType(rules),
        nitrogen=_nitrogen(raw.get("n"), key),
        ratings=MappingProxyType(_ratings(table.get("ratings", {}), key)),
        status=source(key).status,
    )


def _nitrogen(raw: Mapping[str, Any] | None, key: str) -> NitrogenTable | None:
    if raw is None:
        return None
    return NitrogenTable(
        raw.get("low"), raw.get("high"), MappingProxyType(raw.get("by_crop", {})),
        MappingProxyType(raw.get("grazed_by_crop", {})), raw.get("source", key),
    )  # fmt: skip


def _scale(element: str, raw: Mapping[str, Any]) -> Scale:
    if raw.get("unit") == "index" and "index_100_mg_dm3" not in raw and "index_100_ppm" not in raw:
        raise ValueError(f"a scale of {element} in an index must say what index 100 is")
    return Scale(
        element, raw.get("unit", "ppm"), tuple(raw["extractants"]), raw.get("index_100_mg_dm3"),
        raw.get("index_100_ppm"), raw.get("index_source", ""),
    )  # fmt: skip


def _ratings(raw: Mapping[str, Any], key: str) -> dict[str, RatingTable]:
    found: dict[str, RatingTable] = {}
    for element, entry in raw.items():
        if not isinstance(entry, dict):
            continue
        merged = {**{name: value for name, value in raw.items() if not isinstance(value, dict)}, **entry}
        names, upper = tuple(merged["names"]), tuple(float(value) for value in merged["upper"])
        if len(names) != len(upper) + 1 or list(upper) != sorted(upper):
            raise ValueError(f"calibration {key}: the classes of {element} do not fit their limits")
        found[element] = RatingTable(
            element, _scale(element, merged), names, upper, merged.get("enough_from", ""), merged.get("source", key)
        )
    return found


def _index_equation(nutrient: Nutrient, raw: Mapping[str, Any], table: Mapping[str, Any], key: str) -> Rule:
    equations = {int(number): (e[0], e[1], e[2]) for number, e in table["equations"].items()}
    scale = _scale(raw["reading"], {"unit": "index", **raw})
    mineral, organic = raw["equation"], raw["equation_organic"]
    return IndexEquation(nutrient, (scale,), key, mineral, equations[mineral], organic, equations[organic])


def _classes_by_yield(nutrient: Nutrient, raw: Mapping[str, Any], table: Mapping[str, Any], key: str) -> Rule:
    scales = raw["scales"]
    return ClassesByYield(
        nutrient=nutrient,
        scales=tuple(_scale(READING_OF[nutrient], scale) for scale in scales),
        source=raw.get("source", key),
        upper=tuple(tuple(float(limit) for limit in scale["upper"]) for scale in scales),
        yields=tuple(float(y) for y in raw["yields"]),
        yield_unit=raw["yield_unit"],
        rates=tuple(tuple(float(rate) for rate in row) for row in raw["rates"]),
        equation=tuple((s["equation"][0], s["equation"][1]) for s in scales if "equation" in s),
        equation_first=raw.get("equation_first", False),
        equation_source=raw.get("equation_source", ""),
    )


def _rates_by_rating(nutrient: Nutrient, raw: Mapping[str, Any], table: Mapping[str, Any], key: str) -> Rule:
    calibration_table = table["fertilizer_calibration"]
    return RatesByRating(
        nutrient=nutrient,
        scales=(_scale(READING_OF[nutrient], {"unit": "rating", **raw}),),
        source=raw.get("source", key),
        title=calibration_table["title"],
        ratings=tuple(raw["ratings"]),
        rates=MappingProxyType({crop: tuple(map(float, row)) for crop, row in raw["rates"].items()}),
        coarse=MappingProxyType({crop: tuple(map(float, row)) for crop, row in raw.get("coarse", {}).items()}),
    )


def _build_up_and_maintain(nutrient: Nutrient, raw: Mapping[str, Any], table: Mapping[str, Any], key: str) -> Rule:
    crops = {
        name: CropLevels(
            entry["critical"], entry.get("critical_cec", 0.0), entry.get("critical_light"),
            entry["removal_lb_per_unit"], entry["yield_unit"],
        )
        for name, entry in raw["crops"].items()
    }  # fmt: skip
    return BuildUpAndMaintain(
        nutrient, (_scale(READING_OF[nutrient], raw),), raw.get("source", key), MappingProxyType(crops),
        raw["build_up"], raw.get("build_up_cec", 0.0), raw.get("extra_lb", 0.0), raw["plateau"],
        raw.get("plateau_light", raw["plateau"]), raw.get("drawdown", 0.0),
    )  # fmt: skip


def _square_root_build_up(nutrient: Nutrient, raw: Mapping[str, Any], table: Mapping[str, Any], key: str) -> Rule:
    desired = {crop: (pair[0], pair[1]) for crop, pair in raw["desired"].items()}
    scale = _scale(READING_OF[nutrient], {"unit": "lb/acre", **raw})
    return SquareRootBuildUp(nutrient, (scale,), raw.get("source", key), raw["factor"], MappingProxyType(desired),
                             raw["years"])  # fmt: skip


_FORMS: Mapping[str, Callable[[Nutrient, Mapping[str, Any], Mapping[str, Any], str], Rule]] = {
    "index_equation": _index_equation,
    "classes_by_yield": _classes_by_yield,
    "rates_by_rating": _rates_by_rating,
    "build_up_and_maintain": _build_up_and_maintain,
    "square_root_build_up": _square_root_build_up,
}
