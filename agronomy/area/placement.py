"""Where things lie: sampling points inside a plot, distances and setbacks, and outlines thinned for drawing."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import shapely
import shapely.errors
import shapely.geometry
from shapely.geometry.base import BaseGeometry

from agronomy.area.frame import Frame
from agronomy.area.shapes import Position, checked_parts
from agronomy.units import convert

FEWEST_POINTS, MOST_POINTS = 1, 60
_LEAST_LEGS, _MOST_LEGS = 3, 12


def sampling_points(geometry: Mapping[str, Any], *, count: int = 18, edge_ft: float = 10.0) -> tuple[Position, ...]:
    """Places to pull cores: evenly along a zigzag over the plot, in walking order, (longitude, latitude).

    They keep `edge_ft` off the edge; where the plot is too narrow for that, as far off it as half the ground still
    allows. A plot of several parts gets points in each by its size. Count 1 to 60, edge 0 to 300 ft.
    """
    if not FEWEST_POINTS <= count <= MOST_POINTS:
        raise ValueError(f"{count} sampling points are not {FEWEST_POINTS} to {MOST_POINTS}")
    if not 0 <= edge_ft <= 300:
        raise ValueError(f"a distance of {edge_ft} ft from the edge is not 0 to 300 ft")
    parts = checked_parts(geometry)
    frame = Frame.about(position for rings in parts for position in rings[0])
    shapes = [_in_metres(rings, frame) for rings in parts]
    edge_m = convert(edge_ft, quantity="length", from_unit="ft", to_unit="m")
    points: list[Position] = []
    for shape, share in zip(shapes, _shared_out(count, [shape.area for shape in shapes]), strict=True):
        points += [frame.to_degrees(point) for point in _zigzag(_inside(shape, edge_m), share)]
    return tuple(points)


def distance_ft(geometry: Mapping[str, Any], other: Mapping[str, Any]) -> float:
    """The shortest distance in feet between two GeoJSON shapes; 0 where they meet. Meant for up to a few miles."""
    one, another = _shape(geometry), _shape(other)
    frame = _frame(one)
    gap = _moved(one, frame).distance(_moved(another, frame))
    return convert(gap, quantity="length", from_unit="m", to_unit="ft")


def setback_ring(geometry: Mapping[str, Any], *, setback_ft: float) -> dict[str, Any]:
    """The ground within a setback of a GeoJSON shape, as GeoJSON. Over 0 to 5,000 ft."""
    if not 0 < setback_ft <= 5000:
        raise ValueError(f"a setback of {setback_ft} ft is not over 0 and at most 5000 ft")
    shape = _shape(geometry)
    frame = _frame(shape)
    reach = convert(setback_ft, quantity="length", from_unit="ft", to_unit="m")
    return _as_geojson(_moved(shape, frame).buffer(reach, quad_segs=24), frame)


def simplified(geometry: Mapping[str, Any], *, tolerance_m: float) -> dict[str, Any]:
    """The shape with corners left out that stand off by less than the tolerance: for drawing, never for area.

    No edge moves by more than twice the tolerance: once for the corners, once more where the ring is joined.
    """
    if not tolerance_m >= 0:
        raise ValueError(f"a tolerance of {tolerance_m} m is not 0 or more")
    shape = _shape(geometry)
    frame = _frame(shape)
    return _as_geojson(_moved(shape, frame).simplify(tolerance_m, preserve_topology=True), frame)


def _in_metres(rings: Sequence[Sequence[Position]], frame: Frame) -> shapely.Polygon:
    flat = [[frame.to_m(position) for position in ring] for ring in rings]
    return shapely.Polygon(flat[0], flat[1:])


def _inside(shape: shapely.Polygon, edge_m: float) -> BaseGeometry:
    """The ground at least so far from the edge, drawing nearer the edge until half of the ground is left."""
    for _ in range(8):
        inner = shape.buffer(-edge_m)
        if inner.area >= shape.area / 2:
            return inner
        edge_m /= 2
    return shape.buffer(-edge_m) if not shape.buffer(-edge_m).is_empty else shape


def _zigzag(ground: BaseGeometry, count: int) -> list[Position]:
    if count == 0:
        return []
    pieces = _walked_pieces(ground, count)
    total = math.fsum(piece.length for piece in pieces)
    if total == 0 or count == 1:
        middle = ground.representative_point()
        return [(middle.x, middle.y)] * count
    points: list[Position] = []
    before = 0.0
    steps = iter([(number + 0.5) * total / count for number in range(count)])
    step = next(steps, None)
    for piece in pieces:
        while step is not None and step <= before + piece.length:
            point = piece.interpolate(step - before)
            points.append((point.x, point.y))
            step = next(steps, None)
        before += piece.length
    if step is not None:  # the last step fell behind the end by rounding
        points.append((pieces[-1].coords[-1][0], pieces[-1].coords[-1][1]))
    return points


def _walked_pieces(ground: BaseGeometry, count: int) -> list[shapely.LineString]:
    """The parts of a zigzag over the ground's longest way that lie on it, in walking order."""
    box = ground.minimum_rotated_rectangle
    corners = list(box.exterior.coords) if isinstance(box, shapely.Polygon) else []
    if not corners:
        return []
    first, second, third = corners[:3]
    long_side, short_side = math.dist(first, second), math.dist(second, third)
    origin, along, across = first, _less(second, first), _less(third, second)
    if short_side > long_side:
        origin, along, across = second, _less(third, second), _less(first, second)
        long_side, short_side = short_side, long_side
    legs = max(_LEAST_LEGS, min(_MOST_LEGS, count // 3, round(2 * long_side / max(short_side, 1e-9))))
    turns = [
        (
            origin[0] + along[0] * number / legs + across[0] * (number % 2),
            origin[1] + along[1] * number / legs + across[1] * (number % 2),
        )
        for number in range(legs + 1)
    ]
    pieces: list[shapely.LineString] = []
    for start, end in pairwise(turns):
        leg = shapely.get_parts(shapely.LineString([start, end]).intersection(ground))
        lines = [part for part in leg if isinstance(part, shapely.LineString) and part.length > 0]
        pieces += sorted(lines, key=lambda line: math.dist(start, line.coords[0]))
    return pieces


def _less(one: Sequence[float], other: Sequence[float]) -> Position:
    return one[0] - other[0], one[1] - other[1]


def _shared_out(count: int, areas: list[float]) -> list[int]:
    """So many points over parts by their area, by largest remainder."""
    exact = [count * area / math.fsum(areas) for area in areas]
    shares = [math.floor(share) for share in exact]
    by_rest = sorted(range(len(areas)), key=lambda number: shares[number] - exact[number])
    for number in by_rest[: count - sum(shares)]:
        shares[number] += 1
    return shares


def _shape(geometry: Mapping[str, Any]) -> BaseGeometry:
    try:
        shape = shapely.force_2d(_built(geometry))
    except (ValueError, TypeError, LookupError, AttributeError, shapely.errors.ShapelyError) as error:
        raise ValueError(f"no GeoJSON shape: {error}") from error
    if not all(map(math.isfinite, shape.bounds)):
        raise ValueError("no GeoJSON shape: it has no position")
    return shape


def _built(geometry: Mapping[str, Any]) -> BaseGeometry:
    """Polygons from whole rings at a time, which over many corners is several times quicker; the rest as it comes."""
    coordinates = geometry.get("coordinates")
    if geometry.get("type") == "Polygon" and coordinates:
        return _polygon(coordinates)
    if geometry.get("type") == "MultiPolygon" and coordinates:
        return shapely.multipolygons([_polygon(rings) for rings in coordinates])
    return shapely.geometry.shape(dict(geometry))


def _polygon(rings: Sequence[Any]) -> shapely.Polygon:
    outer, *holes = [shapely.linearrings(ring) for ring in rings]
    polygon: shapely.Polygon = shapely.polygons(outer, holes=holes or None)
    return polygon


def _frame(shape: BaseGeometry) -> Frame:
    west, south, east, north = shape.bounds
    return Frame.about([(west, south), (east, north)])


def _moved(shape: BaseGeometry, frame: Frame) -> BaseGeometry:
    """The shape in metres. Whole arrays at a time: a map holds many corners."""
    middle, scale = (frame.longitude, frame.latitude), (frame.m_a_degree_east, frame.m_a_degree_north)

    def to_m(corners: Any) -> Any:
        off = corners - middle
        off[:, 0] = (off[:, 0] + 180) % 360 - 180
        return off * scale

    return shapely.transform(shape, to_m)


def _as_geojson(shape: BaseGeometry, frame: Frame) -> dict[str, Any]:
    middle, scale = (frame.longitude, frame.latitude), (frame.m_a_degree_east, frame.m_a_degree_north)

    def to_degrees(corners: Any) -> Any:
        places = corners / scale + middle
        places[:, 0] = (places[:, 0] + 180) % 360 - 180
        return places

    places = shapely.transform(shape, to_degrees)
    if isinstance(places, shapely.Polygon):
        return {"type": "Polygon", "coordinates": _rings(places)}
    if isinstance(places, shapely.MultiPolygon):
        return {"type": "MultiPolygon", "coordinates": [_rings(part) for part in places.geoms]}
    found: dict[str, Any] = json.loads(shapely.to_geojson(places))
    return found


def _rings(polygon: shapely.Polygon) -> list[Any]:
    return [shapely.get_coordinates(ring).tolist() for ring in (polygon.exterior, *polygon.interiors)]
