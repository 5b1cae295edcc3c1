"""A plot's edge walked with a phone: poor fixes dropped, the track smoothed within its accuracy, the ring closed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Any

import shapely

from agronomy.area.frame import Frame
from agronomy.area.shapes import CrossedRing, Measured, Position, measured, plot_geometry
from agronomy.findings import Finding, check, note
from agronomy.units import convert

_FEWEST_FIXES = 4
_MOST_FIXES = 20_000
_INWARD, _OUTWARD = 0.5, -0.53  # a pass that smooths and one that gives back what the first took off the corners


@dataclass(frozen=True, slots=True)
class Fix:
    """One position of a phone: degrees on WGS84, `accuracy_m` the radius that holds 95 %, `seconds` from any start."""

    longitude: float
    latitude: float
    accuracy_m: float
    seconds: float


@dataclass(frozen=True, slots=True)
class WalkRules:
    """What a walk is held to. Common practice: metres, metres a second, shares."""

    worst_accuracy_m: float = 15.0
    fastest_m_s: float = 3.0
    smoothing_rounds: int = 5
    loop_share: float = 0.03
    gap_share: float = 0.1
    tail_share: float = 0.25


@dataclass(frozen=True, slots=True)
class WalkedEdge:
    """The ring made of a walk as GeoJSON, its size with the band that the fixes allow, and what was left out."""

    geometry: dict[str, Any]
    size: Measured
    accuracy_m: float
    fixes_used: int
    fixes_dropped: int
    gap_ft: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Spot:
    """Fixes too close together to tell apart, as one point in metres with the accuracy it moves within."""

    point: Position
    accuracy_m: float


def walked_edge(fixes: Sequence[Fix], *, rules: WalkRules | None = None) -> WalkedEdge:
    """The ring of a walk around a plot, in the order of time.

    Raises `ValueError` where too few fixes are good enough to make a ring, and `CrossedRing` with the place where
    the walk crosses itself by more than its own accuracy explains.
    """
    rules = rules or WalkRules()
    if len(fixes) > _MOST_FIXES:
        raise ValueError(f"{len(fixes)} fixes are more than a walk of at most {_MOST_FIXES:,}")
    good = _good_fixes(fixes, rules)
    frame = Frame.about((fix.longitude, fix.latitude) for fix in good)
    points = [frame.to_m((fix.longitude, fix.latitude)) for fix in good]
    kept, points = _without_jumps(good, points, rules)
    accuracy = median(fix.accuracy_m for fix in kept)
    end = _where_it_closes(points, accuracy, rules)
    kept, points = kept[:end], points[:end]
    spots = _spots(kept, points, reach=max(0.5, accuracy / 2))
    if len(spots) < _FEWEST_FIXES:
        raise ValueError(f"{len(spots)} places that can be told apart are too few for a ring; walk the whole edge")
    ring = _smoothed(spots, rules.smoothing_rounds)
    ring, loops_share = _without_loops(ring, frame, rules)
    geometry = plot_geometry({"type": "Polygon", "coordinates": [[frame.to_degrees(point) for point in ring]]})
    gap_ft = convert(math.dist(points[0], points[-1]), quantity="length", from_unit="m", to_unit="ft")
    size = measured(geometry, fix_accuracy_m=accuracy)
    return WalkedEdge(
        geometry=geometry,
        size=size,
        accuracy_m=accuracy,
        fixes_used=len(kept),
        fixes_dropped=len(fixes) - len(kept),
        gap_ft=gap_ft,
        findings=_findings(gap_ft, size, len(fixes) - len(good), accuracy, loops_share, rules),
    )


def compare_walks(first: Measured, second: Measured) -> tuple[Finding, ...]:
    """Whether two walks of one edge differ by more than their own bands allow."""
    off = abs(first.acres - second.acres)
    allowed = 1.96 * math.hypot(first.sd_acres or 0.0, second.sd_acres or 0.0)
    if off <= allowed:
        return ()
    return (
        check(
            "walks_differ", source="area_error", first_acres=first.acres, second_acres=second.acres,
            off_percent=100 * off / max(first.acres, second.acres),
        ),
    )  # fmt: skip


def _good_fixes(fixes: Sequence[Fix], rules: WalkRules) -> list[Fix]:
    good: list[Fix] = []
    for fix in sorted(fixes, key=lambda fix: fix.seconds):
        numbers = (fix.longitude, fix.latitude, fix.accuracy_m, fix.seconds)
        if not all(map(math.isfinite, numbers)) or not 0 < fix.accuracy_m <= rules.worst_accuracy_m:
            continue
        if abs(fix.longitude) > 180 or abs(fix.latitude) > 90 or (good and fix.seconds == good[-1].seconds):
            continue
        good.append(fix)
    if len(good) < _FEWEST_FIXES:
        raise ValueError(
            f"{len(good)} of {len(fixes)} fixes are within {rules.worst_accuracy_m:g} m; at least {_FEWEST_FIXES} "
            "are needed, so wait for a clear view of the sky and walk again"
        )
    return good


def _without_jumps(fixes: list[Fix], points: list[Position], rules: WalkRules) -> tuple[list[Fix], list[Position]]:
    """Leave out fixes that nobody on foot could have reached from the one before and left for the one after."""

    def is_jump(one: int, other: int) -> bool:
        walked = rules.fastest_m_s * (fixes[other].seconds - fixes[one].seconds)
        blur = (fixes[one].accuracy_m + fixes[other].accuracy_m) / 2
        return math.dist(points[one], points[other]) > walked + blur

    last = len(fixes) - 1
    kept = [
        number
        for number in range(len(fixes))
        if not ((number == 0 or is_jump(number - 1, number)) and (number == last or is_jump(number, number + 1)))
    ]
    if len(kept) < _FEWEST_FIXES:
        raise ValueError("the fixes jump about too much to make a ring; walk the edge again, slowly")
    return [fixes[number] for number in kept], [points[number] for number in kept]


def _where_it_closes(points: list[Position], accuracy: float, rules: WalkRules) -> int:
    """How many points make the ring, where the walker went on past the start."""
    along = [0.0]
    for one, other in pairwise(points):
        along.append(along[-1] + math.dist(one, other))
    last_part = [number for number, way in enumerate(along) if way >= (1 - rules.tail_share) * along[-1]]
    nearest = min(last_part, key=lambda number: math.dist(points[number], points[0]))
    is_back = math.dist(points[nearest], points[0]) <= 2 * accuracy
    return nearest + 1 if is_back and nearest + 1 >= _FEWEST_FIXES else len(points)


def _spots(fixes: list[Fix], points: list[Position], *, reach: float) -> list[_Spot]:
    groups: list[list[int]] = [[0]]
    for number in range(1, len(points)):
        middle = _weighted_middle(groups[-1], fixes, points)
        if math.dist(middle, points[number]) <= reach:
            groups[-1].append(number)
        else:
            groups.append([number])
    return [
        _Spot(_weighted_middle(group, fixes, points), min(fixes[number].accuracy_m for number in group))
        for group in groups
    ]


def _weighted_middle(group: list[int], fixes: list[Fix], points: list[Position]) -> Position:
    weights = [fixes[number].accuracy_m ** -2 for number in group]
    total = math.fsum(weights)
    east = math.fsum(weight * points[number][0] for weight, number in zip(weights, group, strict=True))
    north = math.fsum(weight * points[number][1] for weight, number in zip(weights, group, strict=True))
    return east / total, north / total


def _smoothed(spots: list[_Spot], rounds: int) -> list[Position]:
    """Smooth a closed ring without shrinking it; no point leaves the circle of its own accuracy."""
    ring = [spot.point for spot in spots]
    for _ in range(rounds):
        for share in (_INWARD, _OUTWARD):
            ring = [
                _toward_neighbours(ring[number - 1], point, ring[(number + 1) % len(ring)], share)
                for number, point in enumerate(ring)
            ]
    return [_held(spot, point) for spot, point in zip(spots, ring, strict=True)]


def _toward_neighbours(before: Position, point: Position, after: Position, share: float) -> Position:
    middle = (before[0] + after[0]) / 2, (before[1] + after[1]) / 2
    return point[0] + share * (middle[0] - point[0]), point[1] + share * (middle[1] - point[1])


def _held(spot: _Spot, point: Position) -> Position:
    moved = math.dist(spot.point, point)
    if moved <= spot.accuracy_m:
        return point
    share = spot.accuracy_m / moved
    return (
        spot.point[0] + share * (point[0] - spot.point[0]),
        spot.point[1] + share * (point[1] - spot.point[1]),
    )


def _without_loops(ring: list[Position], frame: Frame, rules: WalkRules) -> tuple[list[Position], float]:
    """The ring without the small loops that poor fixes tie into it, and the share of its area they held."""
    polygon = shapely.Polygon(ring)
    if polygon.is_valid:
        return ring, 0.0
    lines = shapely.unary_union(shapely.LineString([*ring, ring[0]]))
    faces = shapely.get_parts(shapely.polygonize([lines]))
    if len(faces) == 0:
        raise ValueError("the walk encloses no ground; walk around the plot")
    largest = max(faces, key=lambda face: face.area)
    share = 1 - largest.area / math.fsum(face.area for face in faces)
    if share > rules.loop_share:
        raise _crossed(polygon, frame)
    return [(east, north) for east, north in largest.exterior.coords[:-1]], share


def _crossed(polygon: shapely.Polygon, frame: Frame) -> CrossedRing:
    reason = shapely.is_valid_reason(polygon)
    place = reason[reason.index("[") + 1 : reason.index("]")].split()
    longitude, latitude = frame.to_degrees((float(place[0]), float(place[1])))
    return CrossedRing("the walk crosses itself", longitude, latitude)


def _findings(
    gap_ft: float, size: Measured, poor: int, accuracy: float, loops_share: float, rules: WalkRules
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    accuracy_ft = convert(accuracy, quantity="length", from_unit="m", to_unit="ft")
    if gap_ft > max(2 * accuracy_ft, rules.gap_share * size.perimeter_ft):
        found.append(check("walk_not_closed", gap_ft=gap_ft, perimeter_ft=size.perimeter_ft))
    if loops_share:
        found.append(note("walk_loops_dropped", percent=100 * loops_share))
    if poor:
        found.append(note("walk_fixes_dropped", fixes=poor, worst_accuracy_m=rules.worst_accuracy_m))
    return tuple(found)
