"""Acres against another geodesic library and the published square; shapes that are none; how far acres may be off."""

from __future__ import annotations

import math
import random

import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from agronomy.area import (
    ACRE_M2,
    CrossedRing,
    acres_findings,
    area_sd_m2,
    coordinate_sd_m,
    measured,
    plot_geometry,
    polygon_acres,
)

SQUARE = [[-95.0, 38.0], [-94.999, 38.0], [-94.999, 38.001], [-95.0, 38.001]]
M_NORTH = 110_900.0  # a degree, near enough to lay out test ground


def star(seed: int, *, corners: int, longitude: float, latitude: float, radius_m: float = 60.0) -> list[list[float]]:
    """A ring that never crosses itself: corners about a middle, each at its own distance."""
    draw = random.Random(seed)
    east = M_NORTH * math.cos(math.radians(latitude))
    ring = []
    for number in range(corners):
        angle, reach = 2 * math.pi * number / corners, radius_m * draw.uniform(0.4, 1.0)
        ring.append([longitude + reach * math.cos(angle) / east, latitude + reach * math.sin(angle) / M_NORTH])
    return ring


def other_library(ring: list[list[float]]) -> tuple[float, float]:
    polygon = Geodesic.WGS84.Polygon()
    for longitude, latitude in ring:
        polygon.AddPoint(latitude, longitude)
    _, perimeter, area = polygon.Compute()
    return abs(area), perimeter


def test_the_published_square() -> None:
    size = measured({"type": "Polygon", "coordinates": [SQUARE]})
    assert size.acres == pytest.approx(2.409037, abs=5e-7)
    assert size.area_m2 == pytest.approx(9749.028, abs=5e-4)
    assert size.perimeter_m == pytest.approx(397.657, abs=5e-4)
    assert size.perimeter_ft == pytest.approx(397.657 / 0.3048, abs=2e-3)
    assert ACRE_M2 == 43560 * 0.3048**2


@given(
    seed=st.integers(0, 10**6), corners=st.integers(3, 60), longitude=st.floats(-179, 179), latitude=st.floats(-70, 70),
    radius=st.floats(5, 2000),
)  # fmt: skip
def test_acres_agree_with_another_geodesic_library(
    seed: int, corners: int, longitude: float, latitude: float, radius: float
) -> None:
    ring = star(seed, corners=corners, longitude=longitude, latitude=latitude, radius_m=radius)
    area, perimeter = other_library(ring)
    size = measured({"type": "Polygon", "coordinates": [ring]})
    assert size.area_m2 == pytest.approx(area, rel=1e-9, abs=1e-4)
    assert size.perimeter_m == pytest.approx(perimeter, rel=1e-9)


@given(seed=st.integers(0, 10**6), corners=st.integers(3, 40), turn=st.integers(0, 39))
def test_acres_do_not_hang_on_where_or_which_way_a_ring_is_drawn(seed: int, corners: int, turn: int) -> None:
    ring = star(seed, corners=corners, longitude=-90, latitude=35)
    plain = polygon_acres(ring)
    start = turn % corners
    turned = ring[start:] + ring[:start]
    assert polygon_acres(turned[::-1]) == pytest.approx(plain, rel=1e-9)
    assert polygon_acres([*turned, turned[0]]) == pytest.approx(plain, rel=1e-9)
    assert polygon_acres([[*corner, 123.0] for corner in ring]) == plain


def test_holes_are_taken_off_and_parts_added() -> None:
    outer = [[-95.0, 38.0], [-94.99, 38.0], [-94.99, 38.01], [-95.0, 38.01]]
    hole = [[-94.998, 38.002], [-94.997, 38.002], [-94.997, 38.003], [-94.998, 38.003]]
    whole, off = polygon_acres(outer), polygon_acres(hole)
    assert measured({"type": "Polygon", "coordinates": [outer, hole]}).acres == pytest.approx(whole - off)
    apart = [[x + 0.1, y] for x, y in hole]
    parts = {"type": "MultiPolygon", "coordinates": [[outer, hole], [apart]]}
    assert measured(parts).acres == pytest.approx(whole - off + polygon_acres(apart))


def test_a_plot_across_the_180th_meridian() -> None:
    ring = [[179.9995, -16.0], [-179.9995, -16.0], [-179.9995, -15.999], [179.9995, -15.999]]
    assert polygon_acres(ring) == pytest.approx(other_library(ring)[0] / ACRE_M2)
    with pytest.raises(CrossedRing) as refused:
        polygon_acres([ring[0], ring[2], ring[1], ring[3]])
    assert abs(refused.value.longitude) == pytest.approx(180)


def test_a_ring_that_crosses_itself_is_refused_with_the_place() -> None:
    with pytest.raises(CrossedRing, match=r"crosses itself near 38.000500, -94.999500") as refused:
        polygon_acres([SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]])
    assert (refused.value.longitude, refused.value.latitude) == pytest.approx((-94.9995, 38.0005))


@pytest.mark.parametrize(
    ("coordinates", "said"),
    [
        ([SQUARE, [[x + 1, y] for x, y in SQUARE]], "a hole lies outside the boundary"),
        ([SQUARE[:2]], "at least three different corners"),
        ([[SQUARE[0]] * 5], "at least three different corners"),
        ([[[-95, 38], [-94.5, 38], [-94, 38]]], "near"),
        ([], "has no ring"),
        ([[[-95, 38], [-94, 91], [-94, 38]]], "not within -180 to 180"),
        ([[[-195, 38], [-94, 38.1], [-94, 38]]], "not within -180 to 180"),
        ([[[-95, 38], [math.nan, 38], [-94, 38.1]]], "not within -180 to 180"),
        ([[[-95, 38], ["east", 38], [-94, 38.1]]], "no position of longitude and latitude"),
        ([[[-95, 38], [-94], [-94, 38.1]]], "no position"),
        ([5], "a ring is a list of positions"),
        ([[5, 6, 7]], "no position"),
    ],
)
def test_what_is_no_shape_on_the_ground_is_refused(coordinates: list[object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        measured({"type": "Polygon", "coordinates": coordinates})


def test_lines_and_points_are_no_boundary() -> None:
    with pytest.raises(ValueError, match="a Polygon or a MultiPolygon, not 'LineString'"):
        measured({"type": "LineString", "coordinates": SQUARE})
    for empty in (None, [], "x"):
        with pytest.raises(ValueError, match="no coordinates"):
            measured({"type": "MultiPolygon", "coordinates": empty})


@given(seed=st.integers(0, 10**6), corners=st.integers(3, 40), reverse=st.booleans())
def test_a_kept_boundary_is_closed_turned_as_the_standard_asks_and_otherwise_exact(
    seed: int, corners: int, reverse: bool
) -> None:
    ring = star(seed, corners=corners, longitude=-90, latitude=35)
    kept = plot_geometry({"type": "Polygon", "coordinates": [ring[::-1] if reverse else ring]})
    (outer,) = kept["coordinates"]
    assert outer[0] == outer[-1]
    assert sorted(outer[:-1]) == sorted(ring)
    assert shapely.Polygon(outer).exterior.is_ccw
    assert plot_geometry(kept) == kept


def test_a_hole_turns_the_other_way() -> None:
    hole = [[-94.9998, 38.0002], [-94.9996, 38.0002], [-94.9996, 38.0004], [-94.9998, 38.0004]]
    outer, inner = plot_geometry({"type": "Polygon", "coordinates": [SQUARE, hole]})["coordinates"]
    assert shapely.LinearRing(outer).is_ccw
    assert not shapely.LinearRing(inner).is_ccw


@pytest.mark.parametrize(("acres", "percent"), [(0.25, 13.3), (0.5, 9.4), (1, 6.7), (2, 4.7), (5, 3.0)])
def test_the_band_of_a_square_is_as_published(acres: float, percent: float) -> None:
    side = math.sqrt(acres * ACRE_M2)
    assert 100 * area_sd_m2(4 * side, coordinate_sd=3) / side**2 == pytest.approx(percent, abs=0.06)


@pytest.mark.parametrize(("wide_m", "long_m"), [(64, 64), (20, 200), (30, 300)])
def test_the_band_is_what_corners_that_err_by_themselves_give(wide_m: float, long_m: float) -> None:
    draw, sd = random.Random(7), 2.0
    corners = [(0, 0), (long_m, 0), (long_m, wide_m), (0, wide_m)]
    areas = [
        shapely.Polygon([(x + draw.gauss(0, sd), y + draw.gauss(0, sd)) for x, y in corners]).area for _ in range(4000)
    ]
    mean = math.fsum(areas) / len(areas)
    seen = math.sqrt(math.fsum((area - mean) ** 2 for area in areas) / len(areas))
    east = 111_319.49 * math.cos(math.radians(38)) / (1 - 0.00669438 * math.sin(math.radians(38)) ** 2) ** 0.5
    ring = [[-95 + x / east, 38 + y / 111_001.0] for x, y in corners]
    size = measured({"type": "Polygon", "coordinates": [ring]}, fix_accuracy_m=sd * 2.4477)
    assert size.sd_acres is not None
    assert size.sd_acres * ACRE_M2 == pytest.approx(seen, rel=0.05)
    assert size.low_acres == pytest.approx(size.acres - 1.96 * size.sd_acres, rel=1e-4)
    assert size.high_acres == pytest.approx(size.acres + 1.96 * size.sd_acres, rel=1e-4)


def test_a_stated_accuracy_is_the_radius_of_95_percent() -> None:
    assert coordinate_sd_m(4.9) == pytest.approx(2.0, abs=0.01)
    draw = random.Random(3)
    sd = coordinate_sd_m(5.0)
    inside = sum(math.hypot(draw.gauss(0, sd), draw.gauss(0, sd)) <= 5.0 for _ in range(20_000))
    assert inside / 20_000 == pytest.approx(0.95, abs=0.006)
    with pytest.raises(ValueError, match="not over 0"):
        coordinate_sd_m(0)


def test_entered_acres_are_compared_with_measured_ones() -> None:
    assert acres_findings(1.05, measured_acres=1.0) == ()
    (finding,) = acres_findings(1.2, measured_acres=1.0)
    assert (finding.severity, finding.code) == ("check", "acres_differ")
    assert finding.values["off_percent"] == pytest.approx(20)
    assert finding.values["is_over"] is True
    assert acres_findings(0.9, measured_acres=1.0)[0].values["is_over"] is False
    with pytest.raises(ValueError, match="not over 0"):
        acres_findings(0, measured_acres=1)
