"""Setting a spreader and counting what goes through it: rate, swath, speed, bags, loads, and what was achieved."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from agronomy.findings import Finding, Hazard, Step, Working, check, note
from agronomy.months import add_months
from agronomy.spread_pattern import USABLE_CV_PERCENT
from agronomy.units import convert

SQ_FT_AN_ACRE = 43_560
_ROUNDING = 1e-12  # what float arithmetic may add to a whole number of bags


@dataclass(frozen=True, slots=True)
class SpreadingRules:
    """The manager's figures, as shares of what was ordered or months. Common practice but where a source is named.

    A record under `least_share` or over `most_share` of the ordered rate is pointed out. A calibration is old after
    `calibration_months`, and fits rates within `rate_share` of its own; a catch within `catch_share` of the aim is
    accepted (University of Massachusetts).
    """

    least_share: float = 0.8
    most_share: float = 1.2
    calibration_months: int = 12
    rate_share: float = 0.25
    catch_share: float = 0.05
    wind_limit_mph: float = 5.0

    def __post_init__(self) -> None:
        if not 0 < self.least_share <= 1 <= self.most_share:
            raise ValueError(f"shares of {self.least_share} and {self.most_share} do not lie about 1")


def spreader_rate(collected_lb: float, *, swath_ft: float, distance_ft: float) -> float:
    """lb/acre: pounds that went out over a swath (the distance between passes) times the distance driven."""
    _at_least_zero(collected_lb=collected_lb)
    _over_zero(swath_ft=swath_ft, distance_ft=distance_ft)
    return collected_lb * SQ_FT_AN_ACRE / (swath_ft * distance_ft)


def spreader_rate_working(collected_lb: float, *, swath_ft: float, distance_ft: float) -> Working:
    """The arithmetic of `spreader_rate`, line by line."""
    rate = spreader_rate(collected_lb, swath_ft=swath_ft, distance_ft=distance_ft)
    area = swath_ft * distance_ft
    return (
        Step("area covered", f"{swath_ft:g} ft x {distance_ft:g} ft", area, "sq ft", "utah_spreader"),
        Step("rate", f"{collected_lb:g} lb x 43,560 / {area:g} sq ft", rate, "lb/acre", "utah_spreader"),
    )


def strip_target(rate_lb_per_acre: float, *, swath_ft: float, distance_ft: float) -> float:
    """Pounds that should go out over a strip at a rate in lb/acre."""
    _at_least_zero(rate_lb_per_acre=rate_lb_per_acre)
    _over_zero(swath_ft=swath_ft, distance_ft=distance_ft)
    return rate_lb_per_acre * swath_ft * distance_ft / SQ_FT_AN_ACRE


def strip_target_for_nutrient(
    nutrient_lb_per_1000_sq_ft: float, *, nutrient_percent: float, strip_sq_ft: float
) -> float:
    """Pounds of a fertilizer for a test strip, from the nutrient wanted and its percent in the grade (0 to 100)."""
    _at_least_zero(nutrient_lb_per_1000_sq_ft=nutrient_lb_per_1000_sq_ft)
    _over_zero(nutrient_percent=nutrient_percent, strip_sq_ft=strip_sq_ft)
    if nutrient_percent > 100:
        raise ValueError(f"a nutrient of {nutrient_percent} % is not over 0 and at most 100 %")
    return nutrient_lb_per_1000_sq_ft / nutrient_percent * 100 * strip_sq_ft / 1000


def catch_findings(
    collected_lb: float, *, target_lb: float, rules: SpreadingRules | None = None
) -> tuple[Finding, ...]:
    """Whether what went out over a test strip is near enough to what should have: within 5 % unless set otherwise."""
    _at_least_zero(collected_lb=collected_lb)
    _over_zero(target_lb=target_lb)
    off = collected_lb / target_lb - 1
    allowed = (rules or SpreadingRules()).catch_share
    if abs(off) <= allowed + _ROUNDING:
        return ()
    return (
        check(
            "calibration_off_target",
            source="umass_rotary_spreader",
            collected_lb=collected_lb,
            target_lb=target_lb,
            off_percent=100 * abs(off),
            is_over=off > 0,
            allowed_percent=100 * allowed,
        ),
    )


def effective_swath(half_rate_distance_ft: float) -> float:
    """Feet between passes: twice the distance from the middle to where the catch is half the middle's."""
    _over_zero(half_rate_distance_ft=half_rate_distance_ft)
    return 2 * half_rate_distance_ft


def ground_speed(distance_ft: float, *, seconds: float) -> float:
    """mph over a distance in feet; 88 ft in a minute is 1 mph."""
    _at_least_zero(distance_ft=distance_ft)
    _over_zero(seconds=seconds)
    return convert(distance_ft / seconds, quantity="speed", from_unit="ft/s", to_unit="mph")


def hopper_lb(hopper_cu_ft: float, *, density_lb_per_cu_ft: float) -> float:
    """Pounds in a struck-full hopper."""
    _over_zero(hopper_cu_ft=hopper_cu_ft, density_lb_per_cu_ft=density_lb_per_cu_ft)
    return hopper_cu_ft * density_lb_per_cu_ft


def loads_needed(rate_lb_per_acre: float, *, acres: float, load_lb: float) -> int:
    """Whole hopper loads that a rate over some acres takes."""
    _at_least_zero(rate_lb_per_acre=rate_lb_per_acre)
    _over_zero(acres=acres, load_lb=load_lb)
    return _whole_up(rate_lb_per_acre * acres / load_lb)


def bags_needed(rate_lb_per_acre: float, *, acres: float, bag_lb: float) -> int:
    """Whole bags that a rate over some acres takes, rounded up."""
    _over_zero(acres=acres)
    _at_least_zero(rate_lb_per_acre=rate_lb_per_acre)
    return bags_to_buy([rate_lb_per_acre * acres], bag_lb=bag_lb)


def bags_to_buy(needs_lb: Iterable[float], *, bag_lb: float) -> int:
    """Whole bags to buy for plots that share a pile: the sum of their needs in pounds, rounded up once."""
    needs = list(needs_lb)
    for need in needs:
        _at_least_zero(need_lb=need)
    _over_zero(bag_lb=bag_lb)
    return _whole_up(math.fsum(needs) / bag_lb)


@dataclass(frozen=True, slots=True)
class BagCount:
    """What to spread on one plot: whole bags, pounds out of a part bag, and the rate that this gives."""

    whole_bags: int
    part_lb: float
    lb_per_acre: float


def bags_to_spread(
    rate_lb_per_acre: float, *, acres: float, bag_lb: float, low_lb_per_acre: float, high_lb_per_acre: float
) -> BagCount:
    """The nearest whole number of bags whose rate lies in the band, else the exact rate with a part bag weighed out.

    The band is the range of the rate in lb/acre and must hold the rate itself.
    """
    _at_least_zero(rate_lb_per_acre=rate_lb_per_acre)
    _over_zero(acres=acres, bag_lb=bag_lb)
    if not low_lb_per_acre <= rate_lb_per_acre <= high_lb_per_acre:
        raise ValueError(f"{rate_lb_per_acre} lb/acre is not in {low_lb_per_acre} to {high_lb_per_acre} lb/acre")
    need = rate_lb_per_acre * acres / bag_lb
    nearest = math.floor(need + 0.5)
    achieved = nearest * bag_lb / acres
    if low_lb_per_acre <= achieved <= high_lb_per_acre and (nearest or not need):
        return BagCount(nearest, 0.0, achieved)
    whole = math.floor(need + _ROUNDING)
    return BagCount(whole, max(0.0, (need - whole) * bag_lb), rate_lb_per_acre)


@dataclass(frozen=True, slots=True)
class Achieved:
    """What a record gave: lb/acre over the acres covered, and its share of the ordered rate and of the total."""

    lb_per_acre: float
    rate_share: float
    total_share: float
    findings: tuple[Finding, ...]


def achieved_rate(
    amount_lb: float, *, acres_covered: float, ordered_lb_per_acre: float, ordered_acres: float,
    rules: SpreadingRules | None = None,
) -> Achieved:  # fmt: skip
    """What was achieved against an order. Findings warn, and never stop a record from being kept."""
    _at_least_zero(amount_lb=amount_lb)
    _over_zero(acres_covered=acres_covered, ordered_lb_per_acre=ordered_lb_per_acre, ordered_acres=ordered_acres)
    rules = rules or SpreadingRules()
    rate = amount_lb / acres_covered
    rate_share = rate / ordered_lb_per_acre
    total_share = amount_lb / (ordered_lb_per_acre * ordered_acres)
    numbers = {"lb_per_acre": rate, "ordered_lb_per_acre": ordered_lb_per_acre, "percent": 100 * rate_share}
    found: list[Finding] = []
    if rate_share < rules.least_share - _ROUNDING:
        found.append(check("rate_under_order", source="achieved_share", **numbers))
    elif rate_share > rules.most_share + _ROUNDING:
        found.append(check("rate_over_order", source="achieved_share", **numbers))
    if acres_covered < rules.least_share * ordered_acres - _ROUNDING:
        found.append(note("part_of_plot", acres_covered=acres_covered, ordered_acres=ordered_acres))
    return Achieved(rate, rate_share, total_share, tuple(found))


@dataclass(frozen=True, slots=True)
class SpreaderCalibration:
    """What a spreader was found to deliver of one material (by its key) at one setting."""

    done_on: dt.date
    material_key: str
    setting: str
    rate_lb_per_acre: float
    swath_ft: float
    ground_speed_mph: float | None = None
    cv_percent: float | None = None


@dataclass(frozen=True, slots=True)
class SpreaderSetup:
    """The calibration to go by and the setting it proposes; no setting where none was found for this material."""

    calibration: SpreaderCalibration | None
    setting: str
    findings: tuple[Finding, ...]


def spreader_setup(
    calibrations: Sequence[SpreaderCalibration], *, material_key: str, rate_lb_per_acre: float, today: dt.date,
    rules: SpreadingRules | None = None,
) -> SpreaderSetup:  # fmt: skip
    """The setting to start from, with what is doubtful about it.

    Among one spreader's calibrations for the material the one nearest in rate is taken, of those still young if
    there are any. One for another material proposes nothing: grain and density change what flows.
    """
    rules = rules or SpreadingRules()
    same = [found for found in calibrations if found.material_key == material_key]
    if not same:
        other = check("calibrated_for_another_material" if calibrations else "not_calibrated", source="ohio_fabe_561")
        return SpreaderSetup(None, "", (other,))
    young = [found for found in same if not _is_old(found, today, rules)]
    chosen = min(
        young or same,
        key=lambda found: (abs(found.rate_lb_per_acre - rate_lb_per_acre), -found.done_on.toordinal()),
    )
    return SpreaderSetup(chosen, chosen.setting, _setup_findings(chosen, rate_lb_per_acre, today, rules))


def _is_old(found: SpreaderCalibration, today: dt.date, rules: SpreadingRules) -> bool:
    return add_months(found.done_on, rules.calibration_months) < today


def _setup_findings(
    found: SpreaderCalibration, rate_lb_per_acre: float, today: dt.date, rules: SpreadingRules
) -> tuple[Finding, ...]:
    findings: list[Finding] = []
    if _is_old(found, today, rules):
        findings.append(
            check("calibration_old", source="calibration_age", done_on=found.done_on.isoformat(),
                  months=rules.calibration_months)
        )  # fmt: skip
    if abs(found.rate_lb_per_acre - rate_lb_per_acre) > rules.rate_share * found.rate_lb_per_acre:
        findings.append(
            check("calibration_other_rate", source="ohio_fabe_561", calibrated_lb_per_acre=found.rate_lb_per_acre,
                  wanted_lb_per_acre=rate_lb_per_acre)
        )  # fmt: skip
    if found.cv_percent is not None and found.cv_percent > USABLE_CV_PERCENT:
        findings.append(
            check(
                "pattern_uneven",
                source="pattern_cv_limits",
                cv_percent=found.cv_percent,
                limit_percent=USABLE_CV_PERCENT,
            )
        )
    return tuple(findings)


def wind_findings(wind_mph: float, *, rules: SpreadingRules | None = None) -> tuple[Finding, ...]:
    """A wind in mph at which a broadcast pattern is blown out of shape."""
    _at_least_zero(wind_mph=wind_mph)
    limit = (rules or SpreadingRules()).wind_limit_mph
    if wind_mph < limit:
        return ()
    return (check("wind_over_limit", source="ohio_fabe_561", wind_mph=wind_mph, limit_mph=limit),)


def machine_hazards(
    vehicle: str, *, has_pto: bool = False, on_slope: bool = False, near_water: bool = False
) -> tuple[Hazard, ...]:
    """The dangers of the machine and the place: `vehicle` is lime_truck, tractor, side_by_side or on_foot."""
    vehicles = ("lime_truck", "tractor", "side_by_side", "on_foot")
    if vehicle not in vehicles:
        raise ValueError(f"{vehicle!r} is no vehicle; allowed are {', '.join(vehicles)}")
    found: list[Hazard] = []
    if has_pto:
        found.append(Hazard("danger", "pto", "niosh_pto"))
    if vehicle == "lime_truck":
        found.append(Hazard("danger", "raised_truck_bed", "field_safety"))
    if vehicle != "on_foot":
        found += [Hazard("warning", "moving_parts", "field_safety"), Hazard("warning", "no_riders", "field_safety")]
    if vehicle == "side_by_side":
        found.append(Hazard("warning", "side_by_side_load", "field_safety"))
    if on_slope:
        found.append(Hazard("warning", "slope", "field_safety"))
    if near_water:
        found.append(Hazard("caution", "near_water", "field_safety"))
    return tuple(found)


def _whole_up(count: float) -> int:
    return math.ceil(count - _ROUNDING * max(1.0, count))


def _at_least_zero(**values: float) -> None:
    for name, value in values.items():
        if not (value >= 0 and math.isfinite(value)):
            raise ValueError(f"{name} of {value} is not 0 or more")


def _over_zero(**values: float) -> None:
    for name, value in values.items():
        if not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} of {value} is not over 0")
