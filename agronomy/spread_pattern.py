"""What catch trays say of a spreader: its pattern, how far apart to drive, and how even the ground is covered.

Trays stand in a row across the way of travel. Catches may be in any one unit; positions are feet from the middle
of the pass, left of it negative.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from agronomy.findings import Finding, check, note
from agronomy.units import convert

Travel = Literal["one_way", "back_and_forth"]
GOOD_CV_PERCENT = 15.0
USABLE_CV_PERCENT = 20.0
LEAST_TRAYS_A_SWATH = 10
_SAMPLES_A_FOOT = 10
_EDGE_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Trays:
    """One row of trays after the same number of passes over its middle: `positions_ft` rising, one catch each."""

    positions_ft: tuple[float, ...]
    catches: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.positions_ft) != len(self.catches):
            raise ValueError(f"{len(self.positions_ft)} tray positions but {len(self.catches)} catches")
        if not 3 <= len(self.catches) <= 400:
            raise ValueError(f"{len(self.catches)} trays are not 3 to 400")
        if not all(math.isfinite(value) for value in (*self.positions_ft, *self.catches)):
            raise ValueError("a tray position or catch is no finite number")
        if any(second <= first for first, second in pairwise(self.positions_ft)):
            raise ValueError("tray positions must rise from left to right")
        if min(self.catches) < 0 or max(self.catches) <= 0:
            raise ValueError("catches must be 0 or more, and not all 0")

    def catch_at(self, offset_ft: float) -> float:
        """The catch at a distance from the middle: straight between two trays, nothing beyond the row."""
        positions, catches = self.positions_ft, self.catches
        if not positions[0] <= offset_ft <= positions[-1]:
            return 0.0
        right = max(1, bisect_left(positions, offset_ft))
        left_ft, right_ft = positions[right - 1], positions[right]
        share = (offset_ft - left_ft) / (right_ft - left_ft)
        return catches[right - 1] + share * (catches[right] - catches[right - 1])


@dataclass(frozen=True, slots=True)
class Coverage:
    """How evenly passes so far apart cover the ground. Catches are in the trays' unit, the CV in percent."""

    pass_spacing_ft: float
    cv_percent: float
    mean_catch: float
    least_catch: float
    most_catch: float
    findings: tuple[Finding, ...] = ()


def swath_from_trays(trays: Trays) -> float:
    """The effective swath in feet: between the points left and right where the catch falls to half the middle's.

    Ohio State University Bulletin 817. Raises `ValueError` if the middle caught nothing or a side never falls to
    half, because the row was then too short.
    """
    half = trays.catch_at(0.0) / 2
    if half <= 0:
        raise ValueError("the trays in the middle caught nothing; set the row across the middle of the pass")
    left = tuple((-position, catch) for position, catch in _points(trays) if position <= 0)[::-1]
    right = tuple((position, catch) for position, catch in _points(trays) if position >= 0)
    return _half_distance(left, half) + _half_distance(right, half)


def coverage(trays: Trays, *, pass_spacing_ft: float, travel: Travel = "back_and_forth") -> Coverage:
    """How evenly the ground is covered by parallel passes so far apart, one pattern laid over the next.

    `one_way` passes all run in one direction (round and round), `back_and_forth` ones turn the pattern about at
    each pass. The CV is the standard deviation of the summed catch over its mean. Spacing over 0 to 200 ft.
    """
    if not 0 < pass_spacing_ft <= 200:
        raise ValueError(f"a pass spacing of {pass_spacing_ft} ft is not over 0 and at most 200 ft")
    period_ft = pass_spacing_ft * (1 if travel == "one_way" else 2)
    count = max(60, round(period_ft * _SAMPLES_A_FOOT))
    reach = max(abs(trays.positions_ft[0]), abs(trays.positions_ft[-1]))
    summed = [_summed_catch(trays, step * period_ft / count, pass_spacing_ft, reach, travel) for step in range(count)]
    mean = math.fsum(summed) / count
    deviation = math.sqrt(math.fsum((catch - mean) ** 2 for catch in summed) / count)
    cv = 100 * deviation / mean if mean else math.inf
    return Coverage(pass_spacing_ft, cv, mean, min(summed), max(summed), _coverage_findings(trays, pass_spacing_ft, cv))


def best_pass_spacing(
    trays: Trays,
    *,
    spacings_ft: Sequence[float],
    travel: Travel = "back_and_forth",
    limit_percent: float = GOOD_CV_PERCENT,
) -> Coverage:
    """The widest of the spacings whose CV keeps within the limit, else the most even one."""
    if not spacings_ft:
        raise ValueError("give at least one pass spacing in feet")
    covers = [coverage(trays, pass_spacing_ft=spacing, travel=travel) for spacing in spacings_ft]
    within = [cover for cover in covers if cover.cv_percent <= limit_percent]
    if within:
        return max(within, key=lambda cover: cover.pass_spacing_ft)
    return min(covers, key=lambda cover: cover.cv_percent)


def tray_target_g(rate_lb_per_acre: float, *, tray_sq_ft: float, passes: int = 1) -> float:
    """Grams that one tray should hold after the passes, at a rate in lb/acre. 200 lb/acre is 2.08 g a square foot."""
    if rate_lb_per_acre < 0:
        raise ValueError(f"a rate of {rate_lb_per_acre} lb/acre is not 0 or more")
    _over_zero(tray_sq_ft=tray_sq_ft, passes=passes)
    per_sq_ft = convert(rate_lb_per_acre, quantity="rate", from_unit="lb/acre", to_unit="g/sq ft")
    return per_sq_ft * tray_sq_ft * passes


def rate_from_catch(mean_catch_g: float, *, tray_sq_ft: float, passes: int = 1) -> float:
    """lb/acre from the mean summed catch in grams of trays of this size, after so many passes."""
    if mean_catch_g < 0:
        raise ValueError(f"a catch of {mean_catch_g} g is not 0 or more")
    _over_zero(tray_sq_ft=tray_sq_ft, passes=passes)
    return convert(mean_catch_g / tray_sq_ft / passes, quantity="rate", from_unit="g/sq ft", to_unit="lb/acre")


def _points(trays: Trays) -> tuple[tuple[float, float], ...]:
    """Positions and catches, with the middle among them."""
    points = dict(zip(trays.positions_ft, trays.catches, strict=True))
    points.setdefault(0.0, trays.catch_at(0.0))
    return tuple(sorted(points.items()))


def _half_distance(points: Sequence[tuple[float, float]], half: float) -> float:
    for (near_ft, near), (far_ft, far) in pairwise(points):
        if far <= half:
            return near_ft + (far_ft - near_ft) * (near - half) / (near - far)
    raise ValueError("the catch does not fall to half of the middle's on one side; set the trays further out")


def _summed_catch(trays: Trays, at_ft: float, spacing_ft: float, reach_ft: float, travel: Travel) -> float:
    first, last = math.ceil((at_ft - reach_ft) / spacing_ft), math.floor((at_ft + reach_ft) / spacing_ft)
    total = 0.0
    for number in range(first, last + 1):
        offset = at_ft - number * spacing_ft
        turned = travel == "back_and_forth" and number % 2
        total += trays.catch_at(-offset if turned else offset)
    return total


def _coverage_findings(trays: Trays, spacing_ft: float, cv: float) -> tuple[Finding, ...]:
    found: list[Finding] = []
    if cv > USABLE_CV_PERCENT:
        found.append(
            check("pattern_uneven", source="pattern_cv_limits", cv_percent=cv, limit_percent=USABLE_CV_PERCENT)
        )
    elif cv > GOOD_CV_PERCENT:
        found.append(note("pattern_fair", source="pattern_cv_limits", cv_percent=cv, good_percent=GOOD_CV_PERCENT))
    edge = max(trays.catches[0], trays.catches[-1])
    if edge > _EDGE_SHARE * max(trays.catches):
        found.append(check("trays_too_short", source="ohio_b817", edge_percent=100 * edge / max(trays.catches)))
    inside = sum(abs(position) <= spacing_ft / 2 for position in trays.positions_ft)
    if inside < LEAST_TRAYS_A_SWATH:
        found.append(note("trays_too_few", source="ohio_fabe_561", trays=inside, least=LEAST_TRAYS_A_SWATH))
    return tuple(found)


def _over_zero(**values: float) -> None:
    for name, value in values.items():
        if not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} of {value} is not over 0")
