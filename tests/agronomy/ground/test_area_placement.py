"""Sampling points, setbacks, outlines for drawing, and the order of driving."""

from __future__ import annotations

import itertools
import math
import random
from functools import cache

import highspy
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from agronomy.area import (
    distance_ft,
    driving_order,
    measured,
    plot_geometry,
    sampling_points,
    setback_ring,
    simplified,
)
from tests.agronomy.ground.test_area_shapes import SQUARE, star

PLOT = plot_geometry({"type": "Polygon", "coordinates": [SQUARE]})
FEET = 0.3048


def gap_to_edge_ft(point: tuple[float, float], geometry: dict[str, object]) -> float:
    edge = {"type": "MultiLineString", "coordinates": geometry["coordinates"]}
    return distance_ft({"type": "Point", "coordinates": list(point)}, edge)


@cache
def metres(one: tuple[float, float], other: tuple[float, float]) -> float:
    return Geodesic.WGS84.Inverse(one[1], one[0], other[1], other[0])["s12"]


@given(seed=st.integers(0, 10**6), corners=st.integers(5, 30), count=st.integers(1, 40))
@settings(max_examples=60)
def test_every_point_lies_in_the_plot_and_off_its_edge(seed: int, corners: int, count: int) -> None:
    plot = plot_geometry(
        {"type": "Polygon", "coordinates": [star(seed, corners=corners, longitude=-90, latitude=35, radius_m=80)]}
    )
    points = sampling_points(plot, count=count)
    assert len(points) == count
    shape = shapely.Polygon(plot["coordinates"][0])
    for point in points:
        assert shape.contains(shapely.Point(point))
        assert gap_to_edge_ft(point, plot) > 0.5


def test_points_keep_the_distance_where_there_is_room_and_spread_over_the_plot() -> None:
    points = sampling_points(PLOT, count=18, edge_ft=20)
    assert min(gap_to_edge_ft(point, PLOT) for point in points) >= 19.99
    quarters = {(x > -94.9995, y > 38.0005) for x, y in points}
    assert len(quarters) == 4
    gaps = [metres(one, other) for one, other in itertools.combinations(points, 2)]
    assert min(gaps) > 3
    way = math.fsum(metres(one, other) for one, other in itertools.pairwise(points))
    assert way < 700  # a walk, not a run to and fro over a plot of 88 by 111 m


def test_a_hole_gets_no_core_and_every_part_gets_some() -> None:
    hole = [[-94.9997, 38.0003], [-94.9997, 38.0007], [-94.9993, 38.0007], [-94.9993, 38.0003]]
    ringed = plot_geometry({"type": "Polygon", "coordinates": [SQUARE, hole]})
    shape = shapely.Polygon(SQUARE, [hole])
    assert all(shape.contains(shapely.Point(point)) for point in sampling_points(ringed, count=20))
    apart = [[x + 0.01, y] for x, y in SQUARE]
    parts = plot_geometry({"type": "MultiPolygon", "coordinates": [[SQUARE], [apart]]})
    points = sampling_points(parts, count=20)
    assert sum(x > -94.995 for x, _ in points) == 10


def test_a_strip_narrower_than_twice_the_distance_still_gets_its_points() -> None:
    strip = plot_geometry(
        {"type": "Polygon", "coordinates": [[[-95, 38], [-94.998, 38], [-94.998, 38.00004], [-95, 38.00004]]]}
    )
    points = sampling_points(strip, count=15, edge_ft=30)
    assert len(points) == 15
    assert all(38 < y < 38.00004 for _, y in points)


def test_points_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="not 1 to 60"):
        sampling_points(PLOT, count=0)
    with pytest.raises(ValueError, match="not 0 to 300 ft"):
        sampling_points(PLOT, edge_ft=-1)


@given(bearing=st.floats(0, 360), metres_off=st.floats(1, 3000))
def test_distances_agree_with_a_geodesic_library(bearing: float, metres_off: float) -> None:
    there = Geodesic.WGS84.Direct(38.0, -95.0, bearing, metres_off)
    one = {"type": "Point", "coordinates": [-95.0, 38.0]}
    other = {"type": "Point", "coordinates": [there["lon2"], there["lat2"]]}
    assert distance_ft(one, other) * FEET == pytest.approx(metres_off, rel=1e-3)


def test_a_setback_ring_stands_off_by_its_distance() -> None:
    ring = setback_ring(PLOT, setback_ft=100)
    shape = shapely.Polygon(ring["coordinates"][0])
    assert shape.contains(shapely.Polygon(SQUARE))
    assert distance_ft({"type": "LineString", "coordinates": ring["coordinates"][0]}, PLOT) == pytest.approx(
        100, rel=1e-3
    )
    water = {"type": "LineString", "coordinates": [[-95.001, 38.0], [-95.001, 38.002]]}
    assert distance_ft(PLOT, water) == pytest.approx(metres((-95, 38), (-95.001, 38)) / FEET, rel=1e-4)
    assert distance_ft(PLOT, {"type": "Point", "coordinates": [-94.9995, 38.0005]}) == 0
    for setback in (0, 5001):
        with pytest.raises(ValueError, match="not over 0 and at most 5000 ft"):
            setback_ring(PLOT, setback_ft=setback)


@pytest.mark.parametrize(
    "shape",
    [
        {}, {"type": "Blob"}, {"type": "Polygon"}, {"type": "Polygon", "coordinates": "x"},
        {"type": "Polygon", "coordinates": [[[1, 2]]]},
        {"type": "Polygon", "coordinates": [[[1, 2], [2, "y"], [3, 3]]]},
        {"type": "MultiPolygon", "coordinates": [5]}, {"type": "Point", "coordinates": []},
        {"type": "Point", "coordinates": [math.nan, 1]},
    ],
)  # fmt: skip
def test_what_is_no_shape_is_refused(shape: dict[str, object]) -> None:
    for use in (
        lambda: distance_ft(shape, PLOT),
        lambda: distance_ft(PLOT, shape),
        lambda: setback_ring(shape, setback_ft=50),
        lambda: simplified(shape, tolerance_m=1),
    ):
        with pytest.raises(ValueError, match="no GeoJSON shape"):
            use()


@given(seed=st.integers(0, 10**6), tolerance=st.floats(0, 5))
@settings(max_examples=40)
def test_drawing_leaves_corners_out_and_stays_near_the_edge(seed: int, tolerance: float) -> None:
    ring = star(seed, corners=200, longitude=-90, latitude=35)
    plot = plot_geometry({"type": "Polygon", "coordinates": [ring]})
    thin = simplified(plot, tolerance_m=tolerance)
    assert len(thin["coordinates"][0]) <= len(plot["coordinates"][0])
    for corner in ring:
        edge = {"type": "LineString", "coordinates": thin["coordinates"][0]}
        assert distance_ft({"type": "Point", "coordinates": corner}, edge) * FEET <= 2 * tolerance + 0.01
    with pytest.raises(ValueError, match="not 0 or more"):
        simplified(plot, tolerance_m=-1)


def test_a_shape_survives_the_flat_frame() -> None:
    same = simplified(PLOT, tolerance_m=0)
    assert measured(same).acres == pytest.approx(measured(PLOT).acres, rel=1e-9)
    over = plot_geometry(
        {"type": "Polygon", "coordinates": [[[179.9995, 0], [-179.9995, 0], [-179.9995, 0.001], [179.9995, 0.001]]]}
    )
    assert measured(simplified(over, tolerance_m=0)).acres == pytest.approx(measured(over).acres, rel=1e-9)


def scattered(seed: int, count: int) -> list[tuple[float, float]]:
    draw = random.Random(seed)
    return [(-95 + draw.uniform(0, 0.05), 38 + draw.uniform(0, 0.04)) for _ in range(count)]


def way(
    order: tuple[int, ...], stops: list[tuple[float, float]], start: tuple[float, float] | None, back: bool
) -> float:
    places = ([start] if start else []) + [stops[number] for number in order] + ([start] if back and start else [])
    return math.fsum(metres(one, other) for one, other in itertools.pairwise(places)) / 1609.344


@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_a_small_round_is_the_shortest_there_is(seed: int, back: bool) -> None:
    stops, start = scattered(seed, 7), (-95.0, 38.0)
    found = driving_order(stops, starts=[start], back_to_start=back)
    assert sorted(found.order) == list(range(7))
    assert found.miles == pytest.approx(way(found.order, stops, start, back))
    best = min(way(order, stops, start, back) for order in itertools.permutations(range(7)))
    assert found.miles == pytest.approx(best)


def shortest_round(stops: list[tuple[float, float]], start: tuple[float, float]) -> float:
    """Miles of the shortest way from the start over all stops and back, proved by a mixed-integer solver."""
    places = [start, *stops]
    pairs = list(itertools.combinations(range(len(places)), 2))
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    legs = {pair: solver.addBinary() for pair in pairs}
    for place in range(len(places)):
        solver.addConstr(sum(legs[pair] for pair in pairs if place in pair) == 2)
    goal = sum(metres(places[a], places[b]) * legs[a, b] for a, b in pairs)
    while True:
        solver.minimize(goal)
        driven = [pair for pair in pairs if solver.val(legs[pair]) > 0.5]
        rounds = connected(driven, len(places))
        if len(rounds) == 1:
            return math.fsum(metres(places[a], places[b]) for a, b in driven) / 1609.344
        for part in rounds:
            inner = [legs[pair] for pair in pairs if pair[0] in part and pair[1] in part]
            solver.addConstr(sum(inner) <= len(part) - 1)


def connected(pairs: list[tuple[int, int]], count: int) -> list[set[int]]:
    parts = [{place} for place in range(count)]
    for one, other in pairs:
        joined = [part for part in parts if one in part or other in part]
        parts = [part for part in parts if part not in joined] + [set().union(*joined)]
    return parts


@pytest.mark.parametrize("seed", range(4))
def test_a_round_of_thirty_comes_within_a_hundredth_of_the_proved_shortest(seed: int) -> None:
    stops, start = scattered(seed, 30), (-95.0, 38.0)
    found = driving_order(stops, starts=[start], back_to_start=True)
    best = shortest_round(stops, start)
    assert best - 1e-6 <= found.miles <= 1.01 * best


@pytest.mark.parametrize("seed", range(3))
def test_improving_shortens_the_way_of_going_to_the_nearest(seed: int) -> None:
    stops, start = scattered(seed, 60), (-95.0, 38.0)
    found = driving_order(stops, starts=[start])
    place, left, nearest = start, set(range(60)), []
    while left:
        nearest.append(min(left, key=lambda number: metres(place, stops[number])))
        left.remove(nearest[-1])
        place = stops[nearest[-1]]
    assert sorted(found.order) == list(range(60))
    assert found.miles < 0.95 * way(tuple(nearest), stops, start, False)
    # no single stop can be moved and no stretch turned about to any gain
    order = list(found.order)
    for first, last in itertools.combinations(range(60), 2):
        turned = (*order[:first], *order[first : last + 1][::-1], *order[last + 1 :])
        assert way(turned, stops, start, False) >= found.miles - 1e-5


def test_the_best_access_is_chosen_and_no_start_is_needed() -> None:
    stops = [(-95 + 0.001 * number, 38.0) for number in range(10)]
    found = driving_order(stops, starts=[(-94.9955, 38.01), (-94.99, 38.0)])
    assert found.start == 1
    assert found.order == tuple(range(9, -1, -1))
    free = driving_order(stops)
    assert free.start is None
    assert free.order in (tuple(range(10)), tuple(range(9, -1, -1)))
    assert free.miles == pytest.approx(way(free.order, stops, None, False))


def test_none_one_and_too_many_stops() -> None:
    assert driving_order([]).order == ()
    assert driving_order([(-95, 38)], starts=[(-95, 38.01)]).order == (0,)
    many = driving_order(scattered(1, 120), starts=[(-95, 38)])
    assert sorted(many.order) == list(range(120))
    with pytest.raises(ValueError, match="more than 600"):
        driving_order([(-95.0, 38.0)] * 601)


def test_stops_on_one_spot_all_appear() -> None:
    assert sorted(driving_order([(-95.0, 38.0)] * 5).order) == [0, 1, 2, 3, 4]
