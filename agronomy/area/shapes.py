"""Boundaries checked and measured: geodesic acres on WGS84, perimeter, and how far the acres may be off."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from pyproj import Geod

from agronomy.findings import Finding, check
from agronomy.units import convert

Position = tuple[float, float]
Ring = tuple[Position, ...]  # open: the first corner is not repeated
Rings = tuple[Ring, ...]  # the outer ring, then its holes

ACRE_M2 = 4046.8564224
WGS84 = Geod(ellps="WGS84")
PHONE_ACCURACY_M = 4.9
_RADIUS_OF_95_PERCENT = math.sqrt(-2 * math.log(0.05))  # in standard deviations of one coordinate
_NORMAL_95_PERCENT = 1.959963984540054
_MOST_CORNERS = 200_000
_FAULTS = {
    "Self-intersection": "the boundary crosses itself",
    "Ring Self-intersection": "the boundary touches itself",
    "Hole lies outside shell": "a hole lies outside the boundary",
    "Holes are nested": "a hole lies inside another",
    "Interior is disconnected": "holes cut the plot in two",
    "Nested shells": "one part of the plot lies inside another",
    "Duplicate Rings": "the same ring is there twice",
    "Too few points in geometry component": "the boundary has too few corners",
}


class CrossedRing(ValueError):
    """A boundary that is no shape on the ground, with the place (degrees) where it goes wrong."""

    def __init__(self, what: str, longitude: float, latitude: float) -> None:
        super().__init__(f"{what} near {latitude:.6f}, {longitude:.6f} (latitude, longitude)")
        self.what, self.longitude, self.latitude = what, longitude, latitude


@dataclass(frozen=True, slots=True)
class Measured:
    """A plot's size. `sd_acres` is one standard deviation, low and high hold 95 %; None without a fix accuracy."""

    acres: float
    area_m2: float
    perimeter_ft: float
    perimeter_m: float
    sd_acres: float | None = None
    low_acres: float | None = None
    high_acres: float | None = None


def polygon_acres(coordinates: Sequence[Sequence[float]]) -> float:
    """Acres inside one ring of (longitude, latitude), by geodesics on WGS84; international acres.

    Raises `CrossedRing` (a `ValueError`) for a ring that crosses itself, naming the place.
    """
    return measured({"type": "Polygon", "coordinates": [coordinates]}).acres


def measured(geometry: Mapping[str, Any], *, fix_accuracy_m: float | None = None) -> Measured:
    """Acres and perimeter of a GeoJSON Polygon or MultiPolygon, holes taken off.

    `fix_accuracy_m` is the radius in metres that holds 95 % of position fixes (what phones state); with it the
    standard deviation and the 95 % band are given. Raises `ValueError` for what is no such shape.
    """
    parts = checked_parts(geometry)
    area = perimeter = 0.0
    for rings in parts:
        for number, ring in enumerate(rings):
            ring_area, ring_perimeter = _ring_size(ring)
            area += ring_area if number == 0 else -ring_area
            perimeter += ring_perimeter
    acres = area / ACRE_M2
    sd = None if fix_accuracy_m is None else _sd_acres(parts, fix_accuracy_m)
    return Measured(
        acres=acres,
        area_m2=area,
        perimeter_ft=convert(perimeter, quantity="length", from_unit="m", to_unit="ft"),
        perimeter_m=perimeter,
        sd_acres=sd,
        low_acres=None if sd is None else max(0.0, acres - _NORMAL_95_PERCENT * sd),
        high_acres=None if sd is None else acres + _NORMAL_95_PERCENT * sd,
    )


def plot_geometry(geometry: Mapping[str, Any]) -> dict[str, Any]:
    """The boundary as it is kept: checked, closed, without heights, outer rings counter-clockwise (RFC 7946)."""
    parts = checked_parts(geometry)
    polygons = [
        [_closed(_turned(ring, counter_clockwise=number == 0)) for number, ring in enumerate(rings)] for rings in parts
    ]
    if len(polygons) == 1:
        return {"type": "Polygon", "coordinates": polygons[0]}
    return {"type": "MultiPolygon", "coordinates": polygons}


def coordinate_sd_m(fix_accuracy_m: float) -> float:
    """The standard deviation of one coordinate in metres, from the radius that holds 95 % of fixes."""
    if not (0 < fix_accuracy_m <= 1000):
        raise ValueError(f"a fix accuracy of {fix_accuracy_m} m is not over 0 and at most 1000 m")
    return fix_accuracy_m / _RADIUS_OF_95_PERCENT


def area_sd_m2(perimeter_m: float, *, coordinate_sd: float) -> float:
    """Standard deviation of an area in m2, from its perimeter and the standard deviation of a coordinate in metres.

    Taken as for a square whose four corners err independently: square root of 2 x SD x side. More fixes along the
    edge do not narrow it, because the errors of a phone last longer than the steps between its fixes.
    """
    if perimeter_m <= 0 or coordinate_sd <= 0:
        raise ValueError(f"a perimeter of {perimeter_m} m and an SD of {coordinate_sd} m must both be over 0")
    return math.sqrt(2) * coordinate_sd * perimeter_m / 4


def acres_findings(entered_acres: float, *, measured_acres: float, allowed_percent: float = 5.0) -> tuple[Finding, ...]:
    """Whether the acres that rates go by differ from the measured ones by more than is allowed (5 % unless set)."""
    for acres in (entered_acres, measured_acres):
        if not acres > 0:
            raise ValueError(f"{acres} acres are not over 0")
    off = 100 * (entered_acres / measured_acres - 1)
    if abs(off) <= allowed_percent + 1e-9:  # what the division may add to 5 exactly
        return ()
    return (
        check(
            "acres_differ", source="acres_compared", entered_acres=entered_acres, measured_acres=measured_acres,
            off_percent=abs(off), is_over=off > 0,
        ),
    )  # fmt: skip


def checked_parts(geometry: Mapping[str, Any]) -> tuple[Rings, ...]:
    """The polygons of a GeoJSON shape as rings of open positions; raises `ValueError` for a shape that is none."""
    parts = tuple(tuple(_ring(ring) for ring in polygon) for polygon in _polygons(geometry))
    if sum(len(ring) for rings in parts for ring in rings) > _MOST_CORNERS:
        raise ValueError(f"a boundary of more than {_MOST_CORNERS:,} corners is too much for one plot")
    _refuse_crossed(parts)
    return parts


def as_shape(parts: Iterable[Rings]) -> shapely.MultiPolygon:
    """The rings as one shape in degrees, unwrapped where it lies across the 180th meridian."""
    parts = _unwrapped(tuple(parts))
    return shapely.MultiPolygon([shapely.Polygon(rings[0], rings[1:]) for rings in parts])


def _polygons(geometry: Mapping[str, Any]) -> Sequence[Any]:
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    if kind not in ("Polygon", "MultiPolygon"):
        raise ValueError(f"a boundary is a Polygon or a MultiPolygon, not {kind!r}")
    polygons = [coordinates] if kind == "Polygon" else coordinates
    if not isinstance(polygons, (list, tuple)) or not polygons:
        raise ValueError("the boundary has no coordinates")
    if not all(isinstance(rings, (list, tuple)) and rings for rings in polygons):
        raise ValueError("a part of the boundary has no ring")
    return polygons


def _ring(raw: Any) -> Ring:
    if not isinstance(raw, (list, tuple)):
        raise ValueError("a ring is a list of positions")
    ring: list[Position] = []
    for position in map(_position, raw):
        if not ring or position != ring[-1]:
            ring.append(position)
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()
    if len(set(ring)) < 3:
        raise ValueError("a boundary needs at least three different corners")
    return tuple(ring)


def _position(raw: Any) -> Position:
    try:
        longitude, latitude = float(raw[0]), float(raw[1])
    except (TypeError, ValueError, LookupError) as error:
        raise ValueError(f"{raw!r} is no position of longitude and latitude") from error
    if not (-180 <= longitude <= 180 and -90 <= latitude <= 90):
        raise ValueError(
            f"longitude {longitude:g}, latitude {latitude:g} is not within -180 to 180 and -90 to 90 degrees"
        )
    return longitude, latitude


def _refuse_crossed(parts: tuple[Rings, ...]) -> None:
    reason = shapely.is_valid_reason(as_shape(parts))
    if reason == "Valid Geometry":
        return
    found = re.fullmatch(r"(.*?)\[(\S+) (\S+)\]", reason)
    if found is None:
        raise ValueError(f"the boundary is no shape on the ground: {reason}")
    what = _FAULTS.get(found[1], f"the boundary is no shape on the ground ({found[1].lower()})")
    longitude = (float(found[2]) + 180) % 360 - 180
    raise CrossedRing(what, longitude, float(found[3]))


def _unwrapped(parts: tuple[Rings, ...]) -> tuple[Rings, ...]:
    longitudes = [longitude for rings in parts for longitude, _ in rings[0]]
    if max(longitudes) - min(longitudes) <= 180:
        return parts
    return tuple(tuple(tuple((x % 360, y) for x, y in ring) for ring in rings) for rings in parts)


def _ring_size(ring: Ring) -> tuple[float, float]:
    """Area in m2 and perimeter in metres."""
    area, perimeter = WGS84.polygon_area_perimeter([x for x, _ in ring], [y for _, y in ring])
    return abs(area), perimeter


def _sd_acres(parts: tuple[Rings, ...], fix_accuracy_m: float) -> float:
    sd = coordinate_sd_m(fix_accuracy_m)
    variance = math.fsum(
        max(area_sd_m2(_ring_size(ring)[1], coordinate_sd=sd), _corner_sd_m2(ring, sd)) ** 2
        for rings in parts
        for ring in rings
    )
    return math.sqrt(variance) / ACRE_M2


def _corner_sd_m2(ring: Ring, coordinate_sd: float) -> float:
    """SD of the area if each corner erred by itself: wider than the perimeter's for long plots of few corners."""
    before, after = ring[-1:] + ring[:-1], ring[1:] + ring[:1]
    _, _, spans = WGS84.inv(
        [x for x, _ in before], [y for _, y in before], [x for x, _ in after], [y for _, y in after]
    )
    return coordinate_sd / 2 * math.sqrt(math.fsum(span**2 for span in spans))


def _turned(ring: Ring, *, counter_clockwise: bool) -> Ring:
    area, _ = WGS84.polygon_area_perimeter([x for x, _ in ring], [y for _, y in ring])
    return ring if (area > 0) == counter_clockwise else ring[::-1]


def _closed(ring: Ring) -> list[list[float]]:
    return [list(position) for position in (*ring, ring[0])]
